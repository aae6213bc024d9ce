"""The audit, rule by rule: what keeps a rule passes, one tick beyond it is caught by the rule's id."""

from __future__ import annotations

import time
from dataclasses import replace

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from scheduler.audit import audit
from scheduler.findings import Severity
from scheduler.network.kind import Kind
from scheduler.network.model import (
    Booking,
    DateRule,
    Hold,
    Link,
    LinkType,
    Network,
    Opening,
    OpenLimit,
    Renewal,
    Resource,
    Space,
    Target,
    Ticket,
)
from scheduler.schedule import Schedule, Span, Visit
from tests.jobs import at, broken, job, task
from tests.networks import trench_network

# ---- one activity ---------------------------------------------------------------------------------------------


def test_every_activity_has_dates_and_every_date_an_activity():
    network = job(task("a"))
    assert broken(network, a=(at(0, 8), at(0, 10))) == []
    assert broken(network) == ["missing/a"]
    assert broken(network, a=(at(0, 8), at(0, 10)), z=(0, 1)) == ["unknown/z"]


@pytest.mark.parametrize(
    ("span", "rules"),
    [
        ((at(0, 8), at(0, 10)), []),
        ((at(0, 10), at(0, 12)), []),  # up to the end of a window
        ((at(0, 11), at(0, 14)), []),  # over the noon break
        ((at(4, 16), at(4, 18)), ["work/a"]),  # into the evening
        ((at(0, 11), at(0, 13)), ["work/a"]),  # through the noon break
        ((at(0, 12), at(0, 14)), ["calendar/a"]),  # starts as the window ends
        ((at(5, 9), at(5, 11)), ["calendar/a"]),  # on Saturday
        ((at(0, 12), at(0, 15)), ["calendar/a"]),  # starts closed, although it ends right
        ((at(0, 8), at(0, 9.75)), ["work/a"]),  # too short
        ((at(0, 8), at(0, 10.25)), ["work/a"]),  # too long
        ((at(0, 10), at(0, 8)), ["work/a"]),  # backwards
        ((at(5, 9), at(5, 10)), ["calendar/a", "work/a"]),  # on Saturday and too short
    ],
)
def test_an_activity_takes_exactly_its_work_in_open_hours(span: Span, rules: list[str]):
    assert broken(job(task("a")), a=span) == rules


def test_a_quarter_of_an_hour_is_work_too():
    network = job(task("a", 0.25))
    assert broken(network, a=(at(0, 12) - 1, at(0, 12))) == []
    assert broken(network, a=(at(0, 12), at(0, 12.25))) == ["calendar/a"]
    assert broken(network, a=(at(0, 13), at(0, 13))) == ["work/a"]


def test_an_event_without_work_may_stand_at_any_tick_but_takes_no_time():
    network = job(task("a", 0))
    assert broken(network, a=(at(5, 3), at(5, 3))) == []
    assert broken(network, a=(at(0, 9), at(0, 10))) == ["work/a"]


def test_work_that_must_be_done_in_one_go_is_not_broken_off():
    span = (at(0, 11), at(0, 14))
    assert broken(job(task("a")), a=span) == []
    assert broken(job(task("a", one_window=True)), a=span) == ["one window/a"]
    assert broken(job(task("a", one_window=True)), a=(at(0, 10), at(0, 12))) == []
    assert broken(job(task("a", one_window=True)), a=(at(0, 12), at(0, 15))) == ["calendar/a"]


def test_work_that_goes_on_later_is_not_begun_for_minutes():
    work = job(task("a", least_start=2))
    assert broken(work, a=(at(0, 11.5), at(0, 14.5))) == []
    assert broken(work, a=(at(0, 11.75), at(0, 14.75))) == ["least start/a"]
    assert broken(job(task("a", 0.25, least_start=2)), a=(at(0, 11.75), at(0, 12))) == []  # done by then


def test_nothing_starts_before_the_data_date():
    span = (at(0, 9), at(0, 11))
    assert broken(job(task("a"), data_date=at(0, 9)), a=span) == []
    assert broken(job(task("a"), data_date=at(0, 9) + 1), a=span) == ["data date/a"]


def test_everything_finishes_by_the_horizon():
    span = (at(0, 9), at(0, 11))
    assert broken(job(task("a"), horizon=at(0, 11)), a=span) == []
    assert broken(job(task("a"), horizon=at(0, 11) - 1), a=span) == ["horizon/a"]


def test_everything_finishes_by_the_target_and_all_that_is_late_is_named_once():
    network = job(task("a"), task("b"), target=Target("target", at(0, 11)))
    assert broken(network, a=(at(0, 9), at(0, 11)), b=(at(0, 8), at(0, 10))) == []
    found = audit(network, Schedule({"a": (at(1, 8), at(1, 10)), "b": (at(1, 9), at(1, 11))}))
    assert [f.rule for f in found] == ["target"]
    assert found[0].text == '"task b", "task a" finish after the target.'
    longer = audit(network, Schedule({"a": (at(1, 8), at(1, 13)), "b": (at(1, 9), at(1, 11))}))
    assert '"task a", "task b" finish after the target.' in {f.text for f in longer}
    assert found[0].found == "Tue 9 Mar 11:00"
    assert found[0].required == "Mon 8 Mar 11:00 or earlier"


@pytest.mark.parametrize("edge", ["start", "finish"])
@pytest.mark.parametrize(
    ("sense", "early", "late"), [("min", True, False), ("max", False, True), ("fixed", True, True)]
)
def test_date_rules_bind_the_named_edge(edge: str, sense: str, early: bool, late: bool):
    span = (at(0, 9), at(0, 11))
    tick = span[0] if edge == "start" else span[1]
    for shift, bad in ((0, False), (1, early), (-1, late)):  # a later rule makes the same date early
        network = job(task("a"), dates=(DateRule("rule", "a", tick + shift, edge, sense),))
        assert broken(network, a=span) == ["rule"] * bad


def test_a_firm_appointment_is_kept_and_a_soft_one_may_move():
    booking = Booking("appointment", "tie-in", ("a",), at(0, 9), at(0, 10), firm=True)
    for start, rules in ((8.75, ["appointment"]), (9, []), (9.75, []), (10, ["appointment"])):
        span = (at(0, start), at(0, start + 2))
        assert broken(job(task("a"), bookings=(booking,)), a=span) == rules
        assert broken(job(task("a"), bookings=(replace(booking, firm=False),)), a=span) == []


# ---- order ----------------------------------------------------------------------------------------------------

BEFORE = (at(0, 8), at(0, 10))


def linked(link: Link) -> Network:
    return job(task("a", 2, "always"), task("b", 1, "always"), links=(link,))


@pytest.mark.parametrize("at_most", [False, True])
@pytest.mark.parametrize("lag", [-3, 0, 5])
@pytest.mark.parametrize(
    ("type_", "since", "start_bound"),
    [
        (LinkType.FS, BEFORE[1], True),
        (LinkType.SS, BEFORE[0], True),
        (LinkType.FF, BEFORE[1], False),
        (LinkType.SF, BEFORE[0], False),
    ],
)
def test_links_join_the_ends_they_name(type_: LinkType, since: int, start_bound: bool, lag: int, at_most: bool):
    network = linked(Link("link", "a", "b", type_, lag, at_most=at_most))
    for shift in (-1, 0, 1):
        edge = since + lag + shift
        span = (edge, edge + 4) if start_bound else (edge - 4, edge)
        bad = shift > 0 if at_most else shift < 0
        assert broken(network, a=BEFORE, b=span) == ["link"] * bad


@pytest.mark.parametrize("at_most", [False, True])
def test_a_lag_in_working_hours_counts_only_those(at_most: bool):
    network = linked(Link("link", "a", "b", lag=at(0, 4), lag_calendar="crew", at_most=at_most))
    due = at(0, 15)  # two hours to noon, then two more from 13:00
    for shift in (-1, 0, 1):
        bad = shift > 0 if at_most else shift < 0
        assert broken(network, a=BEFORE, b=(due + shift, due + shift + 4)) == ["link"] * bad


@pytest.mark.parametrize(("at_most", "rules"), [(False, ["link"]), (True, [])])
def test_a_lag_beyond_the_hours_known_never_ends(at_most: bool, rules: list[str]):
    network = linked(Link("link", "a", "b", lag=at(9, 0), lag_calendar="crew", at_most=at_most))
    assert broken(network, a=BEFORE, b=(at(6, 0), at(6, 1))) == rules


def test_a_rule_on_an_activity_without_dates_is_left_to_the_finding_that_it_has_none():
    network = job(
        *(task(i, 2, "always") for i in "abc"),
        links=(Link("l", "a", "b"), Link("m", "b", "c")),
        holds=(Hold("h", "hold", "h", "b", ("c",)), Hold("k", "hold", "k", "a", ("b",))),
        dates=(DateRule("d", "b", at(1, 0)),),
        bookings=(Booking("x", "x", ("b",), at(1, 0), at(2, 0), firm=True),),
        tickets=(Ticket("t", "t", at(1, 0), at(2, 0), ("b",)),),
        openings=(Opening("o", "R1", 10.0, "a", "b"), Opening("p", "R1", 10.0, "b", "c")),
        open_limits=(OpenLimit("q", 1, (("o", 2), ("p", 2))),),
        resources=(Resource("r", "R"),),
        spaces=(Space("s", "R1", (("a", "x"), ("b", "y"))),),
    )
    assert broken(network, a=BEFORE, c=BEFORE) == ["missing/b"]


def test_nothing_waits_less_than_its_hold_point_asks():
    hold = Hold("hold", "hold", "power before cover", "look", ("cover", "tie"))
    network = job(task("look"), task("cover", kind=Kind.FILL), task("tie", kind=Kind.OUTSIDE), holds=(hold,))
    look, after, soon = (at(0, 8), at(0, 10)), (at(0, 10), at(0, 12)), (at(0, 9.75), at(0, 11.75))
    assert broken(network, look=look, cover=after, tie=after) == []
    (found,) = audit(network, Schedule({"look": look, "cover": soon, "tie": after}))
    assert (found.rule, found.severity) == ("hold", Severity.STOP)
    assert found.text == (
        'Covered before release: "task cover" starts before the hold point "power before cover" '
        'is released by "task look".'
    )
    assert (found.found, found.required) == ("Mon 8 Mar 09:45", "Mon 8 Mar 10:00 or later")
    (found,) = audit(network, Schedule({"look": look, "cover": after, "tie": soon}))
    assert found.rule == "hold"
    assert found.text.startswith('Started before release: "task tie"')


# ---- locate tickets -------------------------------------------------------------------------------------------

TICKET = Ticket(
    "ticket",
    "locates",
    clear=at(0, 8),
    expiry=at(0, 10),
    digs=("dig",),
    renewals=(Renewal("first", at(0, 9), at(1, 10)), Renewal("second", at(1, 9), at(2, 10))),
)


@pytest.mark.parametrize(
    ("span", "renewals", "rules"),
    [
        ((at(0, 8), at(0, 10)), (), []),
        ((at(0, 7.75), at(0, 9.75)), (), ["ticket"]),  # before all owners have answered
        ((at(0, 8.25), at(0, 10.25)), (), ["ticket"]),  # runs over the expiry
        ((at(0, 8.25), at(0, 10.25)), ("first",), []),
        ((at(1, 8), at(1, 10)), ("first",), []),
        ((at(1, 8.25), at(1, 10.25)), ("first",), ["ticket"]),
        ((at(2, 8), at(2, 10)), ("first", "second"), []),
        ((at(2, 8), at(2, 10)), ("second", "first"), []),
        ((at(2, 8), at(2, 10)), ("second",), ["ticket", "ticket"]),  # no first, and so expired as well
        ((at(0, 8), at(0, 10)), ("second",), ["ticket"]),
        ((at(0, 8), at(0, 10)), ("third",), ["unknown/third"]),
    ],
)
def test_digging_stays_within_the_ticket_in_force(span: Span, renewals: tuple[str, ...], rules: list[str]):
    network = job(task("dig", calendar="always", kind=Kind.DIG), tickets=(TICKET,))
    assert broken(network, renewals=renewals, dig=span) == rules


def test_a_renewal_that_could_no_longer_be_called_for_renews_nothing():
    late = job(task("dig"), tickets=(TICKET,), data_date=at(0, 9) + 1)
    in_time = job(task("dig"), tickets=(TICKET,), data_date=at(0, 9))
    span = (at(1, 8), at(1, 10))
    assert broken(in_time, renewals=("first",), dig=span) == []
    found = audit(late, Schedule({"dig": span}, renewals=("first",)))
    assert [f.rule for f in found] == ["ticket", "ticket"]
    assert found[0].text == '"task dig" is still digging after locate ticket "locates" has expired.'
    assert found[1].text == 'It is too late to call for renewal "first" of locate ticket "locates".'


# ---- garbage and speed -------------------------------------------------------------------------------------------


ANY_TICK = st.one_of(st.integers(-200, 3000), st.integers(-(10**15), 10**15))
IDS = st.sampled_from(["dig0", "look0", "look1", "shade0", "fill1", "nobody", "", "trench look", "renewal 2"])
GARBAGE = st.builds(
    Schedule,
    st.dictionaries(IDS, st.tuples(ANY_TICK, ANY_TICK)),
    st.lists(st.builds(Visit, IDS, IDS, ANY_TICK, ANY_TICK, st.lists(IDS, max_size=3).map(tuple)), max_size=4).map(
        tuple
    ),
    st.lists(IDS, max_size=3).map(tuple),
)


@pytest.mark.property
@settings(deadline=None, max_examples=300)
@given(GARBAGE)
def test_garbage_is_reported_and_never_raised(schedule: Schedule):
    network = trench_network(2)
    found = audit(network, schedule)
    missing = {f"missing/{a.id}" for a in network.activities if a.id not in schedule.dates}
    assert missing <= {f.rule for f in found}
    assert all(f.where or f.rule.startswith("unknown/") for f in found)
    assert all(f.text and f.found and f.required and f.remedy for f in found)


def test_five_thousand_activities_take_less_than_a_second():
    network = trench_network(625)
    dates, tick = {}, at(3, 0)
    for activity in network.activities:
        calendar = network.calendars[activity.calendar]
        start = calendar.next_open(tick) or 0
        tick = calendar.advance(start, activity.work) or start
        dates[activity.id] = (start, tick)
    assert len(dates) == 5000
    began = time.process_time()
    found = audit(network, Schedule(dates))
    assert time.process_time() - began < 1.0
    assert found  # no visit was given


# ---- one finding hides no other -------------------------------------------------------------------------------


def test_a_rule_about_what_has_no_dates_hides_no_rule_after_it():
    late, early = (at(1, 8), at(1, 10)), (at(0, 8), at(0, 10))
    network = job(
        *(task(i) for i in ("ghost", "a", "b")),
        dates=(DateRule("d0", "ghost", at(2, 8)), DateRule("d1", "b", at(0, 9))),
        links=(Link("k0", "ghost", "b"), Link("k1", "a", "b")),
        holds=(
            Hold("h0", "hold", "h0", "ghost", ("b",)),
            Hold("h1", "hold", "h1", "a", ("ghost", "b")),
        ),
        tickets=(Ticket("t", "t", at(0, 9), at(4, 0), ("ghost", "b")),),
        bookings=(
            Booking("soft", "soft", ("a",), at(3, 8), at(3, 9), firm=False),
            Booking("firm", "firm", ("ghost", "b"), at(3, 8), at(3, 9), firm=True),
        ),
    )
    assert broken(network, a=late, b=early) == ["missing/ghost", "d1", "firm", "k1", "h1", "t"]


@pytest.mark.parametrize("wrong", [(at(0, 10), at(0, 8)), (at(5, 9), at(5, 11)), (at(0, 8), at(0, 9))])
def test_one_activity_with_wrong_dates_hides_no_other(wrong: Span):
    found = broken(job(task("a"), task("b")), a=wrong, b=(at(0, 8), at(0, 9)))
    assert len(found) == 2
    assert found[1] == "work/b"


def test_a_visit_of_no_inspection_and_a_renewal_without_the_one_before_hide_nothing():
    renewals = tuple(Renewal(f"r{n}", at(n, 0), at(n + 1, 0)) for n in (1, 2, 3))
    ticket = Ticket("t", "t", 0, at(1, 0), ("a",), renewals)
    network = job(
        task("a"), tickets=(ticket, replace(ticket, id="u", renewals=(Renewal("s", 0, at(1, 0)),))), data_date=1
    )
    unknown = Visit("v", "nobody", at(0, 8), at(0, 9), ())
    found = broken(network, unknown, replace(unknown, id="w"), renewals=("r2", "r3", "s"), a=(at(0, 8), at(0, 10)))
    assert found == ["t", "t", "u", "unknown/v", "unknown/w"]
