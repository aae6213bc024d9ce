"""Reasons, chains and stories on small invented networks whose answers can be seen by eye."""

from __future__ import annotations

from dataclasses import replace

import pytest

from scheduler.explain.chain import chain_to
from scheduler.explain.driving import Driver, drivers
from scheduler.explain.floats import floats
from scheduler.explain.sequence import sequence_of
from scheduler.explain.story import story, why_not_earlier
from scheduler.network.dates import Propagation
from scheduler.network.kind import Kind
from scheduler.network.model import (
    Activity,
    Booking,
    DateRole,
    DateRule,
    Hold,
    Link,
    Network,
    Opening,
    OpenLimit,
    Resource,
    ResourceKind,
    Space,
    Ticket,
    VisitRule,
)
from scheduler.schedule import Schedule
from scheduler.shared_visits import visits_of
from scheduler.worktime.calendar import Calendar
from tests.networks import plain_network

DAY = 96


def held(network: Network, **starts: int) -> Schedule:
    """Return a schedule with the given starts; activity 'a3' is '3'."""
    dates = {}
    for name, start in starts.items():
        a = network.by_id[name.removeprefix("a")]
        finish = network.calendars[a.calendar].advance(start, a.work)
        assert finish is not None
        dates[a.id] = (start, finish)
    return Schedule(dates, visits_of(network, dates))


def with_needs(network: Network, needs: tuple[tuple[str, int], ...]) -> Network:
    return replace(network, activities=tuple(replace(a, needs=needs) for a in network.activities))


def kinds(found: tuple[Driver, ...]) -> list[str]:
    return [d.kind for d in found]


def days(name: str, *hours: tuple[int, int]) -> Calendar:
    """Return a calendar with the given hours, counted from the origin."""
    return Calendar(name, name, tuple((4 * a, 4 * b) for a, b in hours))


def test_one_crew_keeps_its_order_and_the_second_waits_for_the_first() -> None:
    network = with_needs(
        plain_network([4, 3], [], resources=(Resource("r", "Electrician", ResourceKind.CREW),)), (("r", 1),)
    )
    schedule = held(network, a0=0, a1=4)
    assert [(a.kind, a.link.before, a.link.after) for a in sequence_of(network, schedule).arcs] == [("crew", "0", "1")]
    (reason,) = drivers(network, schedule)["1"]
    assert (reason.kind, reason.other) == ("crew", "0")
    assert "Electrician" in reason.because
    assert "activity 0" in reason.because


def test_the_first_reason_leads_through_the_longest_chain_though_none_begins_at_a_date() -> None:
    network = plain_network([4, 4, 4, 1], [(1, 3), (0, 2), (2, 3)])
    schedule = held(network, a0=1, a1=5, a2=5, a3=9)
    assert [d.other for d in drivers(network, schedule)["3"]] == ["2", "1"]
    assert [s.activity for s in chain_to(network, schedule, "3")] == ["0", "2", "3"]


def test_of_two_crews_only_the_one_taken_over_is_waited_for() -> None:
    network = with_needs(plain_network([2, 5, 2, 2], [], resources=(Resource("r", "crews", capacity=2),)), (("r", 1),))
    schedule = held(network, a0=0, a1=0, a2=2, a3=4)
    pairs = {(a.link.before, a.link.after) for a in sequence_of(network, schedule).arcs}
    assert pairs == {("0", "2"), ("2", "3")}
    assert floats(network, schedule)["0"].total == 0
    assert floats(network, schedule)["1"].total == 1


def test_room_in_a_reach_orders_only_different_groups() -> None:
    space = Space("s", "R", (("0", "power"), ("1", "power"), ("2", "machine")))
    network = plain_network([4, 3, 2], [], spaces=(space,))
    schedule = held(network, a0=0, a1=0, a2=4)
    assert {(a.link.before, a.link.after) for a in sequence_of(network, schedule).arcs} == {("0", "2"), ("1", "2")}
    assert kinds(drivers(network, schedule)["2"]) == ["space"]
    assert "machine" in drivers(network, schedule)["2"][0].because


def test_an_open_limit_makes_a_dig_wait_for_the_fill_that_makes_room() -> None:
    openings = (Opening("o0", "R0", 60.0, "0", "1"), Opening("o1", "R1", 60.0, "2", "3"))
    limit = OpenLimit("limit", 100, (("o0", 60), ("o1", 60)))
    network = plain_network([2, 2, 2, 2], [(0, 1), (2, 3)], openings=openings, open_limits=(limit,))
    schedule = held(network, a0=0, a1=5, a2=7, a3=9)
    (reason,) = drivers(network, schedule)["2"]
    assert (reason.kind, reason.other) == ("open limit", "1")
    assert "100 ft" in reason.because


def test_each_date_of_its_own_is_named() -> None:
    network = plain_network([1, 1, 1, 1], [])
    network = replace(
        network,
        tickets=(Ticket("t", "ticket", 8, 90, ("0",)),),
        bookings=(Booking("b", "crane", ("1",), 5, 6, firm=True), Booking("c", "meter", ("2",), 7, 9, firm=False)),
        dates=(DateRule("notice/x", "3", 4, role=DateRole.NOTICE, because="the crew wants notice"),),
    )
    found = drivers(network, held(network, a0=8, a1=5, a2=7, a3=4))
    assert [kinds(found[str(i)]) for i in range(4)] == [["ticket"], ["booking"], ["booking"], ["notice"]]
    assert found["3"][0].because == "It may not start before Mon 3 Mar 01:00. The crew wants notice."


def test_a_hold_point_and_a_closed_night_are_told_apart() -> None:
    network = replace(
        plain_network([32, 2], []),
        calendars={"always": days("day hours", (8, 16), (32, 40))},
        holds=(Hold("h", "hold", "look before cover", "0", ("1",)),),
    )
    schedule = held(network, a0=32, a1=128)
    found = drivers(network, schedule)["1"]
    assert kinds(found) == ["hold", "closed"]
    assert "day hours" in found[1].because


def test_a_look_waits_for_the_inspectors_window_and_says_so() -> None:
    look = Activity("1", "look", Kind.INSPECT, 2, "mornings", one_window=True)
    network = plain_network([7, 1], [(0, 1)])
    network = replace(
        network,
        activities=(network.activities[0], look),
        calendars={**network.calendars, "mornings": days("inspector's mornings", (0, 2), (24, 26))},
        visit_rules=(VisitRule("v", "trench look", "the city", "mornings", ("1",)),),
    )
    found = drivers(network, held(network, a0=0, a1=DAY))["1"]
    assert kinds(found) == ["logic", "window"]
    assert "no longer fits" in found[1].because
    assert floats(network, held(network, a0=0, a1=DAY))["1"].total == 0


def test_a_shared_visit_and_a_free_choice_are_no_constraints() -> None:
    looks = tuple(Activity(i, f"look {i}", Kind.INSPECT, 1, "always", one_window=True) for i in ("0", "1"))
    network = replace(
        plain_network([], []),
        activities=(*looks, Activity("2", "late work", Kind.PLAIN, 1, "always")),
        visit_rules=(VisitRule("v", "trench look", "the city", "always", ("0", "1")),),
    )
    found = drivers(network, held(network, a0=5, a1=6, a2=20))
    assert kinds(found["0"]) == ["visit"]
    assert '"look 1"' in found["0"][0].because
    assert kinds(found["2"]) == ["choice"]


def test_a_pass_that_expires_holds_the_look_back() -> None:
    network = plain_network([1, 10, 1], [(1, 2)])
    stale = Link("stale", "0", "2", lag=3, at_most=True, because="a pass goes stale")
    network = replace(network, links=(*network.links, stale))
    dates = Propagation(network).forward()
    assert dates is not None
    assert dates["0"] == (6, 7)
    (reason,) = drivers(network, Schedule(dates))["0"]
    assert (reason.kind, reason.other) == ("expiry", "2")


def test_what_is_held_back_by_choice_is_late_and_may_be_critical() -> None:
    network = plain_network([2, 6, 1], [(0, 2), (1, 2)])
    room = floats(network, held(network, a0=4, a1=0, a2=6))["0"]
    assert (room.early_start, room.late_start, room.total, room.critical) == (0, 4, 0, True)


def test_before_closed_hours_a_chain_may_have_float_and_is_critical_all_the_same() -> None:
    network = replace(plain_network([7, 2], [(0, 1)]), calendars={"always": days("hours", (0, 2), (24, 30))})
    network = replace(network, activities=(network.activities[0], replace(network.activities[1], one_window=True)))
    found = floats(network, held(network, a0=0, a1=DAY))
    assert found["0"].total == 1
    assert found["0"].critical


def test_dates_that_break_a_rule_have_no_float() -> None:
    network = plain_network([2, 2], [(0, 1)])
    with pytest.raises(ValueError, match="break rules"):
        floats(network, held(network, a0=5, a1=0))


def story_network() -> tuple[Network, Schedule]:
    network = with_needs(plain_network([3, 4, 2], [(0, 1)]), ())
    names = ("Dig the north reach", "Lay the conduit", "Pull the cable")
    network = replace(
        network,
        activities=tuple(replace(a, name=n) for a, n in zip(network.activities, names, strict=True)),
        links=(replace(network.links[0], because="Lines are laid on a finished bed"), Link("k", "1", "2", lag=DAY)),
    )
    dates = Propagation(network).forward()
    assert dates is not None
    return network, Schedule(dates)


def test_a_story_leads_from_the_finish_to_the_data_date_without_ids() -> None:
    network, schedule = story_network()
    assert story(network, schedule, "2") == [
        "Pull the cable ends the job, Tue 4 Mar 02:15. Here is why it is not sooner.",
        'Pull the cable, Tue 4 Mar 01:45-02:15. "Lay the conduit" is done Mon 3 Mar 01:45, and 1 day must pass.',
        "Lay the conduit, Mon 3 Mar 00:45-01:45. Lines are laid on a finished bed.",
        "Dig the north reach, Mon 3 Mar 00:00-00:45. The plan starts Mon 3 Mar 00:00.",
    ]
    assert [s.activity for s in chain_to(network, schedule, "1")] == ["0", "1"]


def test_an_earlier_start_is_answered_with_the_rule_it_breaks() -> None:
    network, schedule = story_network()
    broken = why_not_earlier(network, schedule, "2", 60)
    assert broken is not None
    assert broken.rule == "k"
    assert why_not_earlier(network, schedule, "2", schedule.dates["2"][0] + 4) is None


def test_a_look_may_move_to_a_window_of_its_own() -> None:
    look = Activity("1", "look", Kind.INSPECT, 2, "mornings", one_window=True)
    network = replace(
        plain_network([4], []),
        calendars={"always": days("always", (0, 60)), "mornings": days("mornings", (0, 2), (24, 26))},
    )
    network = replace(
        network,
        activities=(*network.activities, look),
        visit_rules=(VisitRule("v", "trench look", "the city", "mornings", ("1",)),),
    )
    schedule = held(network, a0=0, a1=DAY)
    assert why_not_earlier(network, schedule, "1", 2) is None
    closed = why_not_earlier(network, schedule, "1", 20)
    assert closed is not None
    assert closed.rule == "calendar/1"
