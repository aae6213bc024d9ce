"""Why each activity starts when it does: every rule and every neighbour that holds it there."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass
from functools import cached_property

from scheduler.explain.families import not_before
from scheduler.explain.sequence import Sequence, sequence_of
from scheduler.network.dates import Precedence, Propagation, first_start, reached
from scheduler.network.lowering import lower
from scheduler.network.model import Activity, Link, LinkType, Network
from scheduler.network.normal import DateBound
from scheduler.schedule import Schedule
from scheduler.spoken import length, working

RANK = (
    "hold",
    "logic",
    "expiry",
    "crew",
    "member",
    "machine",
    "inspector",
    "outside party",
    "resource",
    "space",
    "open limit",
)
"""Of several reasons with one other activity, the first of these is told."""

NO_DATE = ("closed", "window", "visit", "choice")
"""Reasons that are no date from which a chain can begin."""


@dataclass(frozen=True, slots=True)
class Driver:
    """One thing that holds a start where it is.

    `kind` is one of RANK, or 'data date', 'date', 'notice', 'ticket', 'booking', 'window' (the hours of an
    inspector or an outside party), 'closed' (any other hours), 'visit' (a look that shares a
    visit), 'choice' (nothing holds it: other aims of the plan put it there).
    `other` is the activity waited for; `since` the tick at which this reason alone gives way.
    """

    kind: str
    ref: str
    because: str
    other: str | None = None
    since: int = 0
    rule: str = ""
    """The rule's own sentence, without names and times."""


@dataclass(frozen=True)
class SequencedPlan:
    """A schedule with the decisions it took, worked out once for all questions about it."""

    network: Network
    schedule: Schedule
    sequence: Sequence
    propagation: Propagation
    kinds: dict[str, str]
    """What sort of decision an arc is, by the id of its link."""

    @classmethod
    def of(cls, network: Network, schedule: Schedule) -> SequencedPlan:
        """Return a schedule with the decisions it took."""
        sequence = sequence_of(network, schedule)
        kinds = {a.link.id: a.kind for a in sequence.arcs}
        return cls(network, schedule, sequence, sequence.propagation(network), kinds)

    @cached_property
    def not_before(self) -> dict[str, list[DateBound]]:
        """The bounds by which each activity may not start (or finish) before a fixed date."""
        table: dict[str, list[DateBound]] = {}
        for bound in (*lower(self.network).firm, *(b for b in self.sequence.kept if b.price is not None)):
            if bound.sense != "max":
                table.setdefault(bound.activity, []).append(bound)
        return table

    @cached_property
    def releases(self) -> frozenset[tuple[str, str]]:
        """Pairs of activities of which the first releases a hold point that the second waits at."""
        return frozenset((k.before, k.after) for k in lower(self.network).links if k.family == "holds")

    def name(self, activity_id: str) -> str:
        """Return an activity's name in quotes."""
        return f'"{self.network.by_id[activity_id].name}"'

    def when(self, tick: int) -> str:
        """Return a tick as people say it."""
        return self.network.clock.spoken(tick)


def drivers(network: Network, schedule: Schedule) -> dict[str, tuple[Driver, ...]]:
    """Return, for every activity, the reasons why it does not start earlier; never none.

    A reason counts when without the others it would still hold the start where it is. The first
    leads back to a date, where any does, and through the longest chain; closed hours are told last.
    """
    return drivers_in(SequencedPlan.of(network, schedule))


def drivers_in(plan: SequencedPlan) -> dict[str, tuple[Driver, ...]]:
    """Return the reasons of every start in a plan; see `drivers`."""
    found = {a.id: drivers_of(plan, a.id) for a in plan.network.activities}
    grounded, begins = led_to_from_dates(found), beginnings(found, plan.schedule)

    def place(driver: Driver) -> tuple[int, int]:
        if driver.kind in ("closed", "window"):
            return 2, 0
        if driver.other is None:
            return 0, 0
        return int(driver.other not in grounded), begins[driver.other]

    return {a: tuple(sorted(reasons, key=place)) for a, reasons in found.items()}


def beginnings(found: Mapping[str, Iterable[Driver]], schedule: Schedule) -> dict[str, int]:
    """Return how early a chain to each activity may begin [clock tick]; its own start if it waits for nothing."""
    begins: dict[str, int] = {}
    dates = schedule.dates
    for activity in sorted(found, key=lambda a: (dates[a], a)):
        before = (begins.get(d.other, dates[activity][0]) for d in found[activity] if d.other)
        begins[activity] = min(before, default=dates[activity][0])
    return begins


def led_to_from_dates(found: Mapping[str, Iterable[Driver]]) -> set[str]:
    """Return the activities to which reasons lead from a date, not only from a choice of the plan."""
    onward: dict[str, list[str]] = {}
    for a, reasons in found.items():
        for d in reasons:
            if d.other:
                onward.setdefault(d.other, []).append(a)
    dated = [a for a, reasons in found.items() if any(not d.other and d.kind not in NO_DATE for d in reasons)]
    return reached(dated, lambda a: onward.get(a, ()))


def drivers_of(plan: SequencedPlan, activity_id: str) -> list[Driver]:
    """Return the reasons why one activity does not start earlier, the latest to give way first."""
    network = plan.network
    activity = network.by_id[activity_id]
    start, _ = plan.schedule.dates[activity_id]
    by_others = (driver_by(plan, precedence) for precedence in plan.propagation.into[activity_id])
    bounds = [*_own_bounds(plan, activity), *(d for d in by_others if d is not None)]
    binding = [b for b in bounds if first_start(network, activity, b.since) == start]
    if not binding:
        since = max(b.since for b in bounds)
        return [_chosen(plan, activity, first_start(network, activity, since) or since)]
    waited_for = [b for b in binding if b.kind != "data date"]
    binding = _one_each(waited_for or binding)
    latest = max(b.since for b in binding)
    return [*binding, *([_shut(plan, activity, latest)] if latest < start else [])]


def _own_bounds(plan: SequencedPlan, activity: Activity) -> Iterator[Driver]:
    """Yield the dates before which an activity may not start, whatever the others do."""
    network, when = plan.network, plan.when
    data_date = network.data_date
    yield Driver("data date", "data date", f"The plan starts {when(data_date)}.", since=data_date)
    for bound in plan.not_before.get(activity.id, ()):
        since, _ = plan.propagation.range_of(bound)
        if (told := not_before(network, bound)) is not None:
            yield Driver(told[0], bound.record, told[1], since=since)
        else:
            text = f"It may not {bound.edge} before {when(bound.at)}{_reason(bound.because)}"
            kind = "notice" if bound.role.is_notice else "date"
            yield Driver(kind, bound.record, text, since=since, rule=bound.because)


def driver_by(plan: SequencedPlan, precedence: Precedence) -> Driver | None:
    """Return what one activity does to hold back another; None when its own hours end first."""
    since = plan.propagation.floor(precedence, plan.schedule.dates[precedence.predecessor])
    if since is None:
        return None
    kind, because = _told(plan, precedence)
    return Driver(kind, precedence.link.id, because, precedence.predecessor, since, precedence.link.because)


def _told(plan: SequencedPlan, precedence: Precedence) -> tuple[str, str]:
    """Return what sort of reason a predecessor is, and its sentence."""
    link, name = precedence.link, plan.name(precedence.predecessor)
    start, finish = plan.schedule.dates[precedence.predecessor]
    if (kind := plan.kinds.get(link.id)) is not None:
        return kind, f"{link.because.rstrip('.')} until {plan.when(finish)}."
    if link.at_most:
        return "expiry", f"{name} follows only {plan.when(start)}{_reason(link.because)}"
    if link.type in (LinkType.FS, LinkType.FF):
        event = f"{name} is done {plan.when(finish)}"
    else:
        event = f"{name} starts {plan.when(start)}"
    kind = "hold" if (precedence.predecessor, precedence.successor) in plan.releases else "logic"
    return kind, f"{event}{_lag(plan.network, link)}{_reason(link.because)}"


def _lag(network: Network, link: Link) -> str:
    if link.lag <= 0:
        return ""
    minutes = link.lag * network.clock.tick_minutes
    if link.lag_calendar is None:
        return f", and {length(minutes)} must pass"
    return f", and {working(minutes)} of {network.calendars[link.lag_calendar].name} must pass"


def _reason(because: str) -> str:
    """Return the end of a sentence, and a rule's own sentence after it."""
    text = because.strip()
    return f". {text[0].upper()}{text[1:].rstrip('.')}." if text else "."


def _one_each(bound: list[Driver]) -> list[Driver]:
    """Keep one reason for each other activity, the latest to give way first."""
    order = {kind: i for i, kind in enumerate(RANK)}
    kept: dict[str, Driver] = {}
    for driver in sorted(bound, key=lambda d: (order.get(d.kind, -1), d.ref)):
        kept.setdefault(driver.other or driver.ref, driver)
    return sorted(kept.values(), key=lambda d: (-d.since, order.get(d.kind, -1), d.ref))


def _shut(plan: SequencedPlan, activity: Activity, since: int) -> Driver:
    """Return the reason that the hours it goes by are closed from `since` to its start."""
    network, start = plan.network, plan.schedule.dates[activity.id][0]
    calendar = network.calendars[activity.calendar]
    window = calendar.window_at(since)
    if window is None:
        text = f"Its hours ({calendar.name}) next open {plan.when(start)}."
    else:
        text = f"It no longer fits into the hours that end {plan.when(window[1])}; the next are {calendar.name}, "
        text += f"{plan.when(start)}."
    return Driver("window" if activity.kind.by_others else "closed", calendar.id, text, since=since)


def _chosen(plan: SequencedPlan, activity: Activity, since: int) -> Driver:
    start, _ = plan.schedule.dates[activity.id]
    mates = [v for v in plan.schedule.visits if activity.id in v.looks and len(v.looks) > 1]
    if mates:
        others = [plan.name(look) for look in mates[0].looks if look != activity.id]
        text = f"It shares a visit with {', '.join(others[:3])}, {plan.when(mates[0].start)}."
        return Driver("visit", mates[0].id, text, since=since)
    text = (
        f"Nothing holds it back after {plan.when(since)}; it is put at {plan.when(start)} "
        "for the plan's other aims: less open trench, fewer visits."
    )
    return Driver("choice", activity.id, text, since=since)
