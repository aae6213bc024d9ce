"""Floats against a brute-force oracle: push one activity tick by tick, the sequence kept.

The oracle shares no arithmetic with the passes it checks: it steps every start one tick at a
time until each rule, read literally off the record, holds.
"""

from __future__ import annotations

from dataclasses import replace
from random import Random

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from scheduler.audit import audit
from scheduler.explain.chain import chains
from scheduler.explain.driving import drivers
from scheduler.explain.floats import floats
from scheduler.explain.sequence import Sequence, sequence_of
from scheduler.network.kind import Kind
from scheduler.network.model import (
    Activity,
    DateRule,
    Link,
    LinkType,
    Network,
    Opening,
    OpenLimit,
    Renewal,
    Resource,
    ResourceKind,
    Space,
    Ticket,
    VisitRule,
)
from scheduler.schedule import Schedule, Visit
from scheduler.worktime.calendar import Calendar
from tests.networks import plain_network

pytestmark = pytest.mark.property

HORIZON = 110
ORACLE = settings(max_examples=120, deadline=None, derandomize=True, suppress_health_check=[HealthCheck.too_slow])
SOME = settings(ORACLE, max_examples=40)


def random_case(seed: int) -> tuple[Network, Schedule]:
    """Return a small random site and a schedule that keeps its rules; not its best one."""
    rng = Random(seed)
    for _ in range(50):
        network = random_network(rng)
        schedule = random_schedule(network, rng)
        if schedule is not None:
            return network, schedule
    raise AssertionError("fifty networks without a schedule")


def random_network(rng: Random) -> Network:
    count = rng.randint(3, 8)
    calendars = {
        "always": Calendar("always", "always", ((0, HORIZON),)),
        "crew": random_calendar(rng, "crew", longest=9),
        "narrow": random_calendar(rng, "narrow", longest=5),
    }
    activities = [random_activity(rng, i) for i in range(count)]
    looks = tuple(a.id for a in activities if a.kind is Kind.INSPECT)
    amounts = [(f"o{i}", rng.randint(1, 2)) for i in range(min(count // 2, 2))]
    openings = tuple(Opening(f"o{i}", "R", 10.0, str(2 * i), str(2 * i + 1)) for i, _ in enumerate(amounts))
    return replace(
        plain_network([], []),
        data_date=rng.randint(0, 5),
        horizon=HORIZON,
        calendars=calendars,
        activities=tuple(activities),
        links=tuple(random_links(rng, count)),
        dates=(DateRule("date", str(rng.randrange(count)), rng.randint(0, 20), rng.choice(("start", "finish"))),),
        resources=(
            Resource("crew", "crew", ResourceKind.CREW, 1),
            Resource("gang", "gang", ResourceKind.CREW, rng.randint(2, 3)),
        ),
        spaces=(Space("room", "R", tuple((a.id, rng.choice("ab")) for a in activities if rng.random() < 0.5)),),
        openings=openings,
        open_limits=(OpenLimit("open", 3, tuple(amounts)),) if rng.random() < 0.6 else (),
        tickets=(Ticket("ticket", "ticket", 4, 60, ("0",), (Renewal("renewal", 50, 100),)),),
        visit_rules=(VisitRule("look", "look", "city", "narrow", looks, max_looks=2),),
    )


def random_calendar(rng: Random, name: str, *, longest: int) -> Calendar:
    windows, at = [], rng.randint(0, 4)
    while at < HORIZON:
        length = rng.randint(2, longest)
        windows.append((at, min(at + length, HORIZON)))
        at += length + rng.randint(1, 6)
    return Calendar(name, name, tuple(windows))


def random_activity(rng: Random, i: int) -> Activity:
    if rng.random() < 0.2:
        return Activity(str(i), f"look {i}", Kind.INSPECT, rng.randint(1, 2), "narrow", one_window=True)
    work = rng.choice((0, 1, 1, 2, 3, 4, 6) if i > 3 else (1, 2, 3, 5))
    calendar = rng.choice(("always", "crew", "crew", "narrow"))
    needs = rng.choice(((), (("crew", 1),), (("gang", 1),), (("gang", 2),)))
    return Activity(
        str(i), f"work {i}", Kind.PLAIN, work, calendar, one_window=work <= 2 and rng.random() < 0.3, needs=needs
    )


def random_links(rng: Random, count: int) -> list[Link]:
    links = [Link(f"opened {a}", str(a), str(a + 1)) for a in range(0, count - 1, 2)]
    for a in range(count):
        for b in range(a + 1, count):
            if rng.random() < 0.3:
                kind = rng.choice((LinkType.FS, LinkType.FS, LinkType.SS, LinkType.FF, LinkType.SF))
                links.append(
                    Link(f"{a}-{b}", str(a), str(b), kind, rng.randint(0, 4), rng.choice((None, None, "crew")))
                )
                if rng.random() < 0.3:
                    links.append(
                        Link(f"{a}-{b} expires", str(a), str(b), LinkType.FS, rng.randint(8, 20), at_most=True)
                    )
    return links


def random_schedule(network: Network, rng: Random) -> Schedule | None:
    """Place the activities one after another where the audit finds nothing new, some a little late."""
    dates: dict[str, tuple[int, int]] = {}
    for a in network.activities:
        wait = rng.choice((0, 0, 0, rng.randint(0, 8)))
        for start in range(network.data_date, HORIZON):
            finish = network.calendars[a.calendar].advance(start, a.work)
            if finish is None:
                return None
            trial = Schedule({**dates, a.id: (start, finish)}, visits(network, {**dates, a.id: (start, finish)}))
            if all(f.rule.startswith(("missing/", "look")) or f.rule == "look" for f in audit(network, trial)):
                if wait > 0:
                    wait -= 1
                    continue
                dates = dict(trial.dates)
                break
        else:
            return None
    schedule = Schedule(dates, visits(network, dates))
    return None if audit(network, schedule) else schedule


def visits(network: Network, dates: dict[str, tuple[int, int]]) -> tuple[Visit, ...]:
    (rule,) = network.visit_rules
    by_window: dict[tuple[int, int], list[str]] = {}
    for look in rule.looks:
        window = look in dates and network.calendars[rule.calendar].window_at(dates[look][0])
        if window:
            by_window.setdefault(window, []).append(look)
    return tuple(
        Visit(f"v{w[0]}", rule.id, min(dates[k][0] for k in looks), max(dates[k][1] for k in looks), tuple(looks))
        for w, looks in sorted(by_window.items())
    )


class Oracle:
    """A network with a kept sequence, solved again from scratch by stepping starts up one tick at a time."""

    def __init__(self, network: Network, sequence: Sequence, renewals: tuple[str, ...]) -> None:
        self.network = network
        self.links = (*network.links, *(a.link for a in sequence.arcs))
        self.rules = (*network.dates, *sequence.kept)
        self.expiry = 100 if renewals else 60
        self.open = {
            c.id: [any(a <= t < b for a, b in c.windows) for t in range(HORIZON)] for c in network.calendars.values()
        }

    def solve(self, floors: dict[str, int]) -> dict[str, tuple[int, int]] | None:
        starts = {a.id: max(self.network.data_date, floors.get(a.id, 0)) for a in self.network.activities}
        moved = True
        while moved:
            moved = False
            for a in self.network.activities:
                while not self.may_stand(a, starts[a.id]):
                    starts[a.id] += 1
                    moved = True
                    if starts[a.id] > HORIZON:
                        return None
            spans = {a.id: (starts[a.id], self.end(a, starts[a.id])) for a in self.network.activities}
            for late in {k.before if k.at_most else k.after for k in self.links if not self.holds(k, spans)}:
                starts[late] += 1
                moved = True
        return {k: (s, f) for k, (s, f) in spans.items() if f is not None}

    def end(self, a: Activity, start: int) -> int | None:
        return self.walk(a.calendar, start, a.work)

    def walk(self, calendar: str | None, tick: int, work: int) -> int | None:
        if calendar is None:
            return tick + work
        while work > 0:
            if tick >= HORIZON:
                return None
            work -= self.open[calendar][tick]
            tick += 1
        return tick

    def may_stand(self, a: Activity, start: int) -> bool:
        """Say whether it may stand here or, if not, only because it is still too early."""
        end = self.end(a, start)
        if end is None or start >= HORIZON:
            return False
        if a.work and not self.open[a.calendar][start]:
            return False
        if a.one_window and not all(self.open[a.calendar][start:end]):
            return False
        if a.id == "0" and not (start >= 4 and end <= self.expiry):
            return False
        for rule in self.rules:
            at = start if rule.edge == "start" else end
            if rule.activity == a.id and (at < rule.at if rule.sense == "min" else at > rule.at):
                return False
        return True

    def holds(self, link: Link, spans: dict[str, tuple[int, int | None]]) -> bool:
        before, after = spans[link.before], spans[link.after]
        since = before[1] if link.type in (LinkType.FS, LinkType.FF) else before[0]
        at = after[0] if link.type in (LinkType.FS, LinkType.SS) else after[1]
        assert since is not None
        assert at is not None
        limit = self.walk(link.lag_calendar, since, link.lag)
        if link.at_most:
            return limit is None or at <= limit
        return limit is not None and at >= limit


def finish_of(dates: dict[str, tuple[int, int]]) -> int:
    return max(f for _, f in dates.values())


@ORACLE
@given(st.integers(0, 10**6))
def test_total_float_is_exactly_what_the_finish_can_bear(seed: int) -> None:
    network, schedule = random_case(seed)
    oracle = Oracle(network, sequence_of(network, schedule), schedule.renewals)
    for name, room in floats(network, schedule).items():
        start = schedule.dates[name][0]
        pushed = oracle.solve({name: room.late_start})
        assert pushed is not None
        assert pushed[name][0] == room.late_start
        assert finish_of(pushed) <= schedule.finish
        assert not audit(network, Schedule(pushed, visits(network, pushed)))
        further = oracle.solve({name: room.late_start + 1})
        assert further is None or finish_of(further) > schedule.finish
        assert room.total == sum(oracle.open[network.by_id[name].calendar][start : room.late_start])


@SOME
@given(st.integers(0, 10**6))
def test_free_float_is_exactly_what_the_others_can_bear(seed: int) -> None:
    network, schedule = random_case(seed)
    oracle = Oracle(network, sequence_of(network, schedule), schedule.renewals)
    for name, room in floats(network, schedule).items():
        activity, start = network.by_id[name], schedule.dates[name][0]
        stands = [
            t
            for t in range(start, HORIZON)
            if oracle.may_stand(activity, t)
            and (end := oracle.end(activity, t)) is not None
            and end <= schedule.finish
            and all(oracle.holds(k, {**schedule.dates, name: (t, end)}) for k in oracle.links)
        ]
        assert room.free == sum(oracle.open[activity.calendar][start : stands[-1]])
        assert 0 <= room.free <= room.total


@SOME
@given(st.integers(0, 10**6))
def test_early_dates_are_the_sequence_solved_from_scratch(seed: int) -> None:
    network, schedule = random_case(seed)
    oracle = Oracle(network, sequence_of(network, schedule), schedule.renewals)
    assert {k: (f.early_start, f.early_finish) for k, f in floats(network, schedule).items()} == oracle.solve({})


@SOME
@given(st.integers(0, 10**6))
def test_every_start_has_a_reason_and_chains_lead_from_a_date_to_the_finish(seed: int) -> None:
    network, schedule = random_case(seed)
    assert all(drivers(network, schedule)[a.id] for a in network.activities)
    found = chains(network, schedule, limit=30)
    assert {s.activity for c in found for s in c.steps} == set(schedule.dates)
    assert schedule.dates[found[0].steps[-1].activity][1] == schedule.finish
    for chain in found:
        assert chain.steps[0].tie.other is None
        for before, after in zip(chain.steps, chain.steps[1:], strict=False):
            assert after.tie.other == before.activity
