"""Every family comes down to date bounds, links, uses and groups of looks, as its own words have it."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path
from random import Random

import pytest

import scenarios
from scheduler.network.derive import derive
from scheduler.network.lowering import lower
from scheduler.network.model import (
    Booking,
    DateRule,
    Hold,
    LinkType,
    Network,
    Opening,
    OpenLimit,
    Renewal,
    Resource,
    Space,
    Target,
    Ticket,
    VisitRule,
)
from scheduler.network.normal import DateBound, LaterLimit, Use
from scheduler.site.files import load_site
from tests.networks import plain_network, tiny_network


def three(**families: object) -> Network:
    """Return three activities of 4 ticks, with some families of rules."""
    return plain_network([4, 4, 4], (), **families)


def test_rules_are_worked_out_once_for_each_network():
    network = three(dates=(DateRule("late", "0", 9),))
    assert lower(network) is lower(network)
    assert lower(replace(network, dates=())).bounds == ()
    assert lower(network).bounds == (DateBound("0", 9, family="dates", record="late"),)


def test_what_a_hold_gates_waits_for_its_look():
    network = three(holds=(Hold("H", "hold", "cover", "0", ("1", "2"), because="It must be seen.", source="code"),))
    first, second = lower(network).links
    assert (first.before, first.after, first.type, first.lag) == ("0", "1", LinkType.FS, 0)
    assert (first.family, first.record, first.because, first.source) == ("holds", "H", "It must be seen.", "code")
    assert second.after == "2"
    assert first.keeps_apart
    assert lower(network).finished_first == {("0", "1"), ("0", "2")}


def test_a_ticket_bounds_its_digs_and_only_renewals_still_in_time_put_its_expiry_off():
    renewals = (Renewal("T/1", 5, 40), Renewal("T/2", 1, 60), Renewal("T/3", 30, 80))
    network = replace(three(tickets=(Ticket("T", "ticket", 2, 20, ("0",), renewals, 25.0),)), data_date=3)
    clear, expiry = lower(network).bounds
    assert (clear.activity, clear.edge, clear.sense, clear.at, clear.later) == ("0", "start", "min", 2, ())
    assert (expiry.edge, expiry.sense, expiry.at) == ("finish", "max", 20)
    assert expiry.later == (LaterLimit("T/1", 40, 25.0),), "the second is too late, and with it the third"
    assert (expiry.at_with(), expiry.at_with(()), expiry.at_with({"T/1"})) == (40, 20, 40)
    assert lower(network).renewable == {"T": (expiry,)}


@pytest.mark.parametrize("firm", [True, False])
def test_an_appointment_bounds_starts_and_a_soft_one_has_a_price(firm: bool):
    booking = Booking("B", "the pole", ("0", "1"), 10, 14, firm, move_cost=80.0)
    normal = lower(three(bookings=(booking,)))
    assert [(b.activity, b.sense, b.at) for b in normal.bounds] == [
        ("0", "min", 10),
        ("0", "max", 13),
        ("1", "min", 10),
        ("1", "max", 13),
    ]
    assert {b.price for b in normal.bounds} == {None if firm else 80.0}
    assert len(normal.firm) == (4 if firm else 0)
    assert set(normal.priced) == (set() if firm else {"B"})


def test_the_target_bounds_every_finish():
    bounds = lower(three(target=Target("by", 50, "It is promised."))).bounds
    assert {(b.activity, b.edge, b.sense, b.at, b.because) for b in bounds} == {
        (a, "finish", "max", 50, "It is promised.") for a in "012"
    }


def test_work_uses_what_it_needs_and_no_work_uses_nothing():
    network = three(resources=(Resource("crew", "the crew", capacity=2),))
    first, second, third = network.activities
    needs = (("crew", 1), ("crew", 1))
    activities = (
        replace(first, needs=needs),
        replace(second, needs=needs, work=0),
        replace(third, needs=(("crew", 0),)),
    )
    (crew,) = lower(replace(network, activities=activities)).capacities
    assert (crew.units, crew.uses, crew.words) == (2, (Use("0", "0", 2),), "all the work of the crew")
    assert crew.is_party
    assert lower(replace(network, activities=activities)).held_by == {"0": ((crew, 2),)}


def test_a_space_has_one_unit_that_each_group_shares():
    network = three(spaces=(Space("room", "A", (("0", "power"), ("1", "power"), ("2", "machine"))),))
    (room,) = lower(network).capacities
    assert [(u.first, u.last, u.units, u.shared) for u in room.uses] == [
        ("0", "0", 1, "power"),
        ("1", "1", 1, "power"),
        ("2", "2", 1, "machine"),
    ]
    assert room.units == 1
    assert room.is_room
    assert not room.is_party
    assert lower(network).held_by == {}
    bare = replace(network, activities=tuple(replace(a, work=0) for a in network.activities))
    assert lower(bare).capacities == (), "work of no ticks is in nobody's way"


def test_a_stretch_takes_its_feet_from_what_opens_it_to_what_closes_it():
    openings = (Opening("one", "A", 40.0, "0", "1"), Opening("two", "A", 10.0, "0", "2"))
    (limit,) = lower(
        three(openings=openings, open_limits=(OpenLimit("feet", 60, (("two", 10), ("one", 40))),))
    ).capacities
    assert limit.uses == (Use("0", "1", 40, name="one"), Use("0", "2", 10, name="two"))
    assert limit.has_stretches
    assert not limit.is_party


def test_a_visit_rule_is_a_group_of_looks_with_a_price():
    rule = VisitRule("V", "cover", "city", "always", ("0", "2"), {"0": 12.0}, 3, 90.0, 75.0, "They say so.", "city")
    (group,) = lower(three(visit_rules=(rule,))).look_groups
    assert (group.family, group.record, group.looks, group.price) == ("visit_rules", "V", ("0", "2"), 75.0)
    assert (group.most_looks, group.most_ft, group.ft["0"], group.because) == (3, 90.0, 12.0, "They say so.")


def _every(network: Network) -> list[tuple[str, str]]:
    normal = lower(network)
    return [
        *((b.family, b.record) for b in normal.bounds),
        *((k.family, k.record or k.id) for k in normal.links),
        *((c.family, c.record) for c in normal.capacities),
        *((g.family, g.record) for g in normal.look_groups),
    ]


@pytest.mark.parametrize("site", ["orchard-lane", "lantern-street"])
def test_every_rule_names_a_record_of_its_family_and_no_record_is_lost(site: str):
    network = derive(load_site(Path(scenarios.__file__).parent / f"{site}.yaml"))
    named = set(_every(network))
    for family in ("links", "dates", "tickets", "bookings", "resources", "spaces", "open_limits", "visit_rules"):
        assert {r for f, r in named if f == family} == {record.id for record in getattr(network, family)}
    assert {r for f, r in named if f == "holds"} == {h.id for h in network.holds if h.gates}
    normal = lower(network)
    assert all(rule.because or rule.family == "bookings" for rule in (*normal.bounds, *normal.capacities))


@pytest.mark.parametrize("seed", range(20))
def test_rules_speak_of_activities_that_there_are(seed: int):
    network = tiny_network(Random(seed))
    normal = lower(network)
    for capacity in normal.capacities:
        assert {a for u in capacity.uses for a in (u.first, u.last)} <= network.by_id.keys()
        assert all(network.by_id[u.first].work > 0 for u in capacity.uses if u.is_work)
