"""The job as it stands on the small invented site, worked out by hand: its past in whole ticks, its locate ticket."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import datetime
from functools import cache
from zoneinfo import ZoneInfo

import pytest

from scheduler.ledger.events import Event, Finished, Started
from scheduler.ledger.state import fold
from scheduler.network.kind import Kind
from scheduler.network.model import (
    Booking,
    DateRole,
    DateRule,
    Hold,
    Link,
    LinkType,
    Network,
    Opening,
    OpenLimit,
    Space,
    Ticket,
    VisitRule,
)
from scheduler.network.prices import Mobilisation
from scheduler.schedule import Span
from scheduler.site.site_record import Site
from scheduler.situation.facts_records import Begun, DoneWork, JobFacts
from scheduler.situation.job_facts import facts_at
from scheduler.situation.standing import past_of, standing
from tests.derived import changed, network
from tests.happenings import entries
from tests.jobs import CLOCK, at, job, task


def june(day: int, hour: int = 0, minute: int = 0) -> datetime:
    return datetime(2026, 6, day, hour, minute, tzinfo=ZoneInfo("America/Denver"))


@cache
def site() -> Site:
    return changed()


def facts(as_of: datetime, *happened: Event) -> JobFacts:
    return facts_at(site(), network(), fold(entries((as_of, e) for e in happened)), as_of)


@pytest.mark.parametrize(
    ("minute", "follows"),
    # A tick is 15 minutes: the tick in which work ended is over before anything else begins.
    [(0, june(11, 12)), (1, june(11, 12, 15)), (14, june(11, 12, 15)), (15, june(11, 12, 15)), (16, june(11, 12, 30))],
)
def test_work_that_follows_never_starts_before_what_it_follows_was_reported_finished(
    minute: int, follows: datetime
) -> None:
    dug = Started(activity="R1/dig", when=june(11, 7, 8)), Finished(activity="R1/dig", when=june(11, 12, minute))
    known = facts(june(11, 13), *dug)
    clock = network().clock
    span = clock.tick(june(11, 7)), clock.tick(follows)
    assert past_of(known)["R1/dig"] == span
    stands = standing(known, ())
    assert stands.by_id["R1/dig"].happened
    assert stands.calendar_of("R1/dig").windows == (span,)
    assert stands.by_id["R1/dig"].work == span[1] - span[0]


def test_a_renewal_that_the_plan_in_force_uses_counts_as_called_once_its_day_has_passed() -> None:
    (ticket,) = network().tickets
    first, second, *_ = ticket.renewals
    clock = network().clock
    before, after = clock.when(first.call_by), clock.when(first.call_by + 1)

    def left(as_of: datetime, *used: str) -> tuple[str, ...]:
        (stands,) = standing(facts(as_of), used).tickets
        return tuple(r.id for r in stands.renewals)

    every = tuple(r.id for r in ticket.renewals)
    assert left(before) == every, "it can still be called"
    assert left(after) == (), "it was never called, and those after it presume it"
    assert left(after, first.id) == every
    assert left(clock.when(second.call_by + 1), first.id) == (first.id,)


# ---- rule by rule, on a job of four tasks at Tuesday 9:00 ----------------------------------------------------------

NOW = at(1, 9)
"""a is done on Monday from 8:00 to 10:00, b began on Tuesday at 8:00 and takes an hour more, c and d are to come."""


def stands(
    network: Network, *, now: int = NOW, done: Mapping[str, Span] | None = None, left: Mapping[str, int] | None = None
) -> tuple[Network, JobFacts]:
    when = CLOCK.when
    past = {"a": (at(0, 8), at(0, 10))} if done is None else done
    known = JobFacts(
        site(),
        network,
        fold(()),
        when(now),
        done={a: DoneWork(when(s), when(f), "It was reported finished.") for a, (s, f) in past.items()},
        begun={"b": Begun(when(at(1, 8)), 4)} if done is None else {},
        left=dict(left or {}),
    )
    return standing(known, ()), known


def four(**rules: object) -> Network:
    return job(*(task(i) for i in "abcd"), **rules)


def test_what_happened_keeps_its_time_and_work_in_progress_is_its_beginning_and_its_rest() -> None:
    network, _ = stands(four())
    assert [x.id for x in network.activities] == ["a", "b/begun", "b", "c", "d"]
    a, begun, rest, c, _ = network.activities
    assert (a.happened, a.work, network.calendar_of("a").windows) == (True, 8, ((at(0, 8), at(0, 10)),))
    assert a.one_window
    assert (begun.happened, begun.begun_part_of) == (True, "b")
    assert network.calendar_of("b/begun").windows == ((at(1, 8) - 1, at(1, 8)),)  # a tick that ends as it began
    assert (rest.happened, rest.work, rest.calendar, rest.needs) == (False, 4, "crew", ())
    assert c == four().by_id["c"]
    assert network.data_date == 0


@pytest.mark.parametrize("type_", list(LinkType))
@pytest.mark.parametrize("at_most", [False, True])
def test_links_to_what_is_done_or_began_are_dropped_and_those_to_what_is_open_stay(
    type_: LinkType, at_most: bool
) -> None:
    def left(before: str, after: str) -> str | None:
        network, _ = stands(four(links=(Link("k", before, after, type_, lag=2, at_most=at_most),)))
        assert all((k.id, k.after, k.lag, k.at_most) == ("k", after, 2, at_most) for k in network.links)
        return network.links[0].before if network.links else None

    of_start, of_finish = type_ in (LinkType.SS, LinkType.SF), type_ in (LinkType.FF, LinkType.SF)
    assert left("c", "a") is None
    assert left("b", "a") is None
    assert left("a", "c") == "a"
    assert left("c", "d") == "c"
    assert left("b", "c") == ("b/begun" if of_start else "b")
    assert left("a", "b") == ("a" if of_finish and not at_most else None)
    assert left("c", "b") == (None if at_most else "c")


def test_two_pieces_of_work_in_progress_bind_each_other_no_more() -> None:
    network = four(links=(Link("k", "b", "c", LinkType.FF),))
    known = JobFacts(site(), network, fold(()), CLOCK.when(NOW))
    known.begun = {i: Begun(CLOCK.when(at(1, 8)), 4) for i in "bc"}
    assert standing(known, ()).links == ()


def test_work_reported_as_less_or_more_takes_so_long_and_in_one_go_only_where_a_window_holds_it() -> None:
    whole = job(task("a"), task("b"), task("c", 2, one_window=True), task("d", 0))
    for left, in_one_go in ((16, True), (17, False)):  # the crew's longest hours are four, 16 ticks
        network, _ = stands(whole, left={"c": left, "d": 8})
        assert (network.by_id["c"].work, network.by_id["c"].one_window) == (left, in_one_go)
        assert network.by_id["d"].work == 0, "what takes no time is not work"
    network, _ = stands(job(task("a"), task("b"), task("c")), left={"c": 4})
    assert not network.by_id["c"].one_window


def test_dates_bind_what_is_to_come_and_the_finish_of_what_has_begun() -> None:
    rules = [DateRule(f"{i} {edge}", i, at(2, 8), edge) for i in "abc" for edge in ("start", "finish")]
    network, _ = stands(four(dates=tuple(rules)))
    kept = [d.id for d in network.dates if d in rules]
    assert kept == ["b finish", "c start", "c finish"]
    since = {d.activity: d.at for d in network.dates if d not in rules}
    assert since == {"b": NOW, "c": NOW, "d": NOW}


def test_notice_is_worked_out_anew_for_who_is_called_and_kept_for_others() -> None:
    network = job(
        task("a"), task("b"), task("c", kind=Kind.OUTSIDE), task("d", kind=Kind.INSPECT, one_window=True), task("e"),
        dates=tuple(DateRule(f"notice/{i}", i, at(2, 8), role=DateRole.NOTICE) for i in "cde"),
        visit_rules=(VisitRule("v", "v", "city", "crew", ("d",)),),
    )  # fmt: skip
    known, _ = stands(network)
    assert [d.id for d in known.dates if d.role is DateRole.NOTICE] == ["notice/e"]


def test_a_milestone_waits_for_what_it_marks_and_not_for_now() -> None:
    network, _ = stands(job(task("a"), task("b"), task("c"), task("done", 0)))
    assert [d.activity for d in network.dates] == ["b", "c"]


def test_nothing_waits_for_now_before_the_job_has_begun() -> None:
    network = four(data_date=at(1, 8))
    assert stands(network, now=at(1, 8), done={})[0].dates == ()
    assert len(stands(network, now=at(1, 8) + 1, done={})[0].dates) == 4
    early = stands(network, now=at(1, 8), done={"a": (at(0, 8), at(0, 10))})[0]
    assert [d.activity for d in early.dates] == ["b", "c", "d"]
    assert early.data_date == at(0, 8)


def test_a_limit_on_open_trench_counts_what_is_left_and_allows_what_stands_open_already() -> None:
    openings = tuple(Opening(f"o{i}", f"R{i}", 50.0, i, c) for i, c in (("a", "c"), ("b", "d"), ("c", "a")))
    for capacity, allowed in ((100, 100), (99, 100), (120, 120)):
        limit = OpenLimit("limit", capacity, tuple((o.id, 50) for o in openings), "ft")
        network, facts = stands(four(openings=openings, open_limits=(limit,)))
        (left,) = network.open_limits
        assert [o.id for o in network.openings] == ["oa", "ob"]
        assert [o.opens for o in network.openings] == ["a", "b/begun"]
        assert (left.amounts, left.capacity) == ((("oa", 50), ("ob", 50)), allowed)
        assert bool(facts.notes) is (capacity < 100)
        assert all(n.startswith("100 ft of trench stand open, more than the 99 ft allowed") for n in facts.notes)


def test_what_is_done_takes_no_room_no_look_no_hold_and_no_ticket() -> None:
    network, _ = stands(
        four(
            spaces=(Space("s", "R", (("a", "x"), ("b", "y"), ("c", "z"))),),
            visit_rules=(
                VisitRule("v", "v", "city", "city", ("a", "c")),
                VisitRule("w", "w", "city", "city", ("a",)),
            ),
            holds=(Hold("h", "hold", "h", "c", ("a", "b", "d")),),
            tickets=(Ticket("t", "t", 0, at(4, 0), ("a", "b", "c")),),
            mobilisations=(Mobilisation("m", "m", ("a", "b", "c"), 10.0),),
            bookings=(Booking("k", "k", ("c",), at(2, 8), at(2, 9), firm=True),),
        )
    )
    assert network.spaces[0].occupants == (("b", "y"), ("c", "z"))
    assert [(r.id, r.looks) for r in network.visit_rules] == [("v", ("c",))]
    assert network.holds[0].gates == ("b", "d")
    assert network.tickets[0].digs == ("b", "c")
    assert network.mobilisations[0].activities == ("a", "b", "c", "b/begun")
    assert network.bookings == ()


@pytest.mark.parametrize(
    ("happened", "span"),
    [
        ((at(0, 8), at(0, 10)), (at(0, 8), at(0, 10))),
        ((at(0, 8), at(1, 12)), (at(0, 8), NOW)),  # a finish after now is not known yet
        ((at(1, 12), at(1, 13)), (NOW - 1, NOW)),
        ((at(0, 8), at(0, 8)), (at(0, 8) - 1, at(0, 8))),  # a tick at least, and nothing that follows is later for it
        ((-40, -8), (0, 1)),  # before the clock's first day
        ((-40, at(0, 8)), (0, at(0, 8))),
    ],
)
def test_the_past_lies_between_the_first_day_and_now_and_takes_a_tick_at_least(happened: Span, span: Span) -> None:
    _, facts = stands(four(), done={"a": happened})
    assert past_of(facts)["a"] == span
