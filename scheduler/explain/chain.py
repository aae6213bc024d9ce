"""Chains from the data date to the finish: the critical ones, and those that nearly are."""

from __future__ import annotations

from dataclasses import dataclass, replace

from scheduler.explain.driving import Driver, SequencedPlan, beginnings, driver_by, drivers_in, led_to_from_dates
from scheduler.explain.floats import Float, floats_in
from scheduler.network.model import Network
from scheduler.schedule import Schedule


@dataclass(frozen=True, slots=True)
class ChainStep:
    """One activity of a chain, and what ties its start to the step before (or to a date)."""

    activity: str
    start: int
    finish: int
    tie: Driver


@dataclass(frozen=True, slots=True)
class Chain:
    """Steps in order of time; `slack` is how far it may slip as a whole [working ticks].

    Single steps may have more room than that where closed hours lie between two of them.
    """

    steps: tuple[ChainStep, ...]
    slack: int

    @property
    def critical(self) -> bool:
        """Whether a slip of it as a whole moves the finish, or misses a visit or a date."""
        return self.slack == 0


def critical_chain(network: Network, schedule: Schedule) -> list[ChainStep]:
    """Return the steps from the data date to the finish, each with what ties it to the one before."""
    tracer = _Tracer(network, schedule)
    return list(tracer.chain_through(tracer.last_activity()).steps) if network.activities else []


def chain_to(network: Network, schedule: Schedule, activity_id: str) -> list[ChainStep]:
    """Return the steps from a date to one activity, each with what ties it to the one before."""
    return _Tracer(network, schedule).back_from(activity_id)


def chains(network: Network, schedule: Schedule, limit: int = 12) -> list[Chain]:
    """Return the chains of the plan, the one to the finish first, then the tightest, at most `limit`.

    Every tie between two critical activities is on one of the critical chains, and every other
    activity on one of the near-critical ones, as far as the limit allows.
    """
    tracer = _Tracer(network, schedule)
    found = [tracer.chain_through(tracer.last_activity())] if network.activities else []
    for before, after in tracer.critical_ties():
        if len(found) < limit and (before, after) not in tracer.seen_ties:
            found.append(tracer.chain_through(after, before))
    loose = sorted((f.total, a) for a, f in tracer.floats.items())
    for _, activity in loose:
        if len(found) < limit and activity not in tracer.seen:
            found.append(tracer.chain_through(activity))
    return found[:1] + sorted(found[1:], key=lambda c: c.slack)


class _Tracer:
    """Walks the ties of a schedule, each tie in a chain once before any is used again."""

    def __init__(self, network: Network, schedule: Schedule) -> None:
        self._network, self._schedule = network, schedule
        self._plan = SequencedPlan.of(network, schedule)
        self._drivers = drivers_in(self._plan)
        self.floats: dict[str, Float] = floats_in(self._plan, self._drivers)
        self._grounded = led_to_from_dates(self._drivers)
        self._begins = beginnings(self._drivers, schedule)
        self.seen: set[str] = set()
        self.seen_ties: set[tuple[str, str]] = set()

    def last_activity(self) -> str:
        """Return the activity that finishes last; of several, one that a chain from a date leads to."""
        dates = self._schedule.dates
        return max(self.floats, key=lambda a: (dates[a][1], a in self._grounded, dates[a][0]))

    def critical_ties(self) -> list[tuple[str, str]]:
        """Return the ties between critical activities, latest first."""
        ties = [
            (d.other, a)
            for a, found in self._drivers.items()
            for d in found
            if d.other and self.floats[a].critical and self.floats[d.other].critical
        ]
        return sorted(ties, key=lambda tie: (-self._schedule.dates[tie[1]][0], tie))

    def chain_through(self, activity: str, before: str | None = None) -> Chain:
        """Return the tightest chain through an activity, or through the tie of `before` to it."""
        steps = self.back_from(activity, before) + self._onward(activity)
        self.seen.update(s.activity for s in steps)
        self.seen_ties.update((s.tie.other, s.activity) for s in steps if s.tie.other)
        return Chain(tuple(steps), self.floats[activity].total)

    def back_from(self, activity: str, before: str | None = None) -> list[ChainStep]:
        """Return the steps from a date to `activity`, the last of them."""
        steps: list[ChainStep] = []
        at: str | None = activity
        while at is not None:
            tie = self._tie(at, {s.activity for s in steps}, before if at == activity else None)
            steps.append(self._step(at, tie))
            at = tie.other
        return steps[::-1]

    def _tie(self, activity: str, passed: set[str], before: str | None) -> Driver:
        """Return the tie to follow back: a new one, to where a chain from a date leads, the longest chain first."""
        options = [d for d in self._drivers[activity] if d.other and d.other not in passed]
        if before is not None:
            options = [d for d in options if d.other == before]
        if options:
            return min(options, key=lambda d: (*self._preference(activity, d), d.ref))
        own = [replace(d, other=None) for d in sorted(self._drivers[activity], key=lambda d: d.other is not None)]
        return own[0]

    def _preference(self, activity: str, driver: Driver) -> tuple[bool, bool, int, int]:
        other = driver.other or ""
        seen = (other, activity) in self.seen_ties
        return other not in self._grounded, seen, self._begins[other], self.floats[other].total

    def _onward(self, activity: str) -> list[ChainStep]:
        """Return the steps after `activity` along what leaves it the least room, to the finish or a last date."""
        steps: list[ChainStep] = []
        passed = {activity}
        while self._schedule.dates[activity][1] < self._schedule.finish and (following := self._next(activity, passed)):
            activity, tie = following
            passed.add(activity)
            steps.append(self._step(activity, tie))
        return steps

    def _next(self, activity: str, passed: set[str]) -> tuple[str, Driver] | None:
        """Return what follows closest: the activity whose late dates leave this one no later start."""
        propagation = self._plan.propagation
        room = self.floats[activity]
        options = []
        for precedence in propagation.out_of[activity]:
            after = precedence.successor
            late = self.floats[after]
            ceiling = propagation.ceiling(precedence, (late.late_start, late.late_finish))
            tie = driver_by(self._plan, precedence)
            if precedence.link.at_most or after in passed or ceiling is None or tie is None:
                continue
            if propagation.allowed_to(activity, ceiling) == room.late_start:
                options.append((late.total, (activity, after) in self.seen_ties, after, tie))
        if not options:
            return None
        _, _, following, tie = min(options, key=lambda o: o[:3])
        return following, tie

    def _step(self, activity: str, tie: Driver) -> ChainStep:
        return ChainStep(activity, *self._schedule.dates[activity], tie)
