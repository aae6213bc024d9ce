"""What `check_network` finds in networks that cannot be planned."""

from __future__ import annotations

from dataclasses import replace
from random import Random

import pytest

from scheduler.network.derive import derive
from scheduler.network.model import (
    Booking,
    DateRule,
    Hold,
    Link,
    Network,
    Opening,
    OpenLimit,
    Space,
    Ticket,
    VisitRule,
)
from scheduler.network.network_check import check_network
from scheduler.network.prices import Mobilisation
from tests.benchmarks.site_generator import make_site, random_small_site
from tests.derived import Records, network, record

WORK = "R2/dig"


def _with(net: Network, part: str, thing: object) -> Network:
    return replace(net, **{part: (*getattr(net, part), thing)})


@pytest.mark.parametrize(
    ("part", "thing", "rule"),
    [
        ("links", Link("k", WORK, "ghost"), "activity"),
        ("links", Link("k", WORK, "R2/bed", lag=1, lag_calendar="ghost"), "calendar"),
        ("dates", DateRule("d", "ghost", 0), "activity"),
        ("holds", Hold("h", "hold", "", "ghost", (WORK,)), "activity"),
        ("holds", Hold("h", "hold", "", WORK, ("ghost",)), "activity"),
        ("spaces", Space("s", "R2", (("ghost", "gc"),)), "activity"),
        ("openings", Opening("o", "R2", 1.0, WORK, "ghost"), "activity"),
        ("open_limits", OpenLimit("l", 5, (("ghost", 1),)), "opening"),
        ("tickets", Ticket("t", "", 0, 9, ("ghost",)), "activity"),
        ("visit_rules", VisitRule("v", "", "", "crew", ("ghost",)), "activity"),
        ("visit_rules", VisitRule("v", "", "", "ghost", ()), "calendar"),
        ("bookings", Booking("b", "", ("ghost",), 0, 1, firm=True), "activity"),
        ("mobilisations", Mobilisation("m", "", ("ghost",), 1.0), "activity"),
    ],
)
def test_every_reference_to_something_unknown_is_named(part: str, thing: object, rule: str) -> None:
    (found,) = check_network(_with(network(), part, thing))
    assert (found.rule, found.found) == (f"network.unknown-{rule}", "ghost")


@pytest.mark.parametrize(
    ("change", "rule"), [({"calendar": "ghost"}, "calendar"), ({"needs": (("ghost", 1),)}, "resource")]
)
def test_what_an_activity_needs_must_exist(change: Records, rule: str) -> None:
    net = network()
    activities = tuple(replace(a, **change) if a.id == WORK else a for a in net.activities)
    (found,) = check_network(replace(net, activities=activities))
    assert found.rule == f"network.unknown-{rule}"


def test_an_id_used_twice_is_found() -> None:
    net = network()
    assert [f.rule for f in check_network(_with(net, "activities", net.by_id[WORK]))] == ["network.twice"]


def test_a_circle_is_told_by_the_names_of_those_in_it() -> None:
    (found,) = check_network(_with(network(), "links", Link("k", "R2/restore", WORK)))
    assert found.rule == "network.circle"
    assert "Dig Main run" in found.text
    assert "Put back the turf" in found.text
    assert check_network(_with(network(), "links", Link("k", "R2/restore", WORK, at_most=True))) == []


def test_outside_work_that_waits_for_itself_is_a_circle() -> None:
    net = network(lambda r: record(r, "outside_work", "U1").update(after=["U1"]))
    assert "network.circle" in {f.rule for f in check_network(net)}


def test_hours_that_never_open_and_a_reach_longer_than_the_limit_are_found() -> None:
    def never(r: Records) -> None:
        record(r, "calendars", "utility").update(weekly=[], open=[])
        r["limits"]["open_trench_ft"] = 70

    found = {f.rule: f for f in check_network(network(never))}
    assert set(found) == {"network.never-open", "network.reach-too-long"}
    assert found["network.never-open"].where == "Tie-in at the pole"
    assert found["network.reach-too-long"].found == "100 ft"


def test_networks_of_generated_sites_have_no_fault_and_are_the_same_twice() -> None:
    rng = Random(7)
    for site in [*(random_small_site(rng) for _ in range(12)), make_site(40, 3)]:
        net = derive(site)
        assert check_network(net) == []
        assert derive(site) == net
        assert {o.reach for o in net.openings} == {r.id for r in site.reaches}
        for reach in site.reaches:
            feet = sum(o.length_ft for o in net.openings if o.reach == reach.id)
            assert feet == pytest.approx(reach.to - reach.from_)
