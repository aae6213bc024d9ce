"""One reach: what is done in it, in which order, how long it takes, and in whose hours."""

from __future__ import annotations

import itertools
import math
from datetime import datetime

import pytest

from scheduler.errors import BadInput
from scheduler.network.kind import Kind
from scheduler.site.work_rates import WorkRates
from scheduler.trench.earth import excavator_bcy_per_hour
from scheduler.trench.quantities import quantities
from scheduler.trench.section import sections
from tests.derived import Records, changed, link, network, record, waits


def _reach(records: Records, **more: object) -> None:
    record(records, "reaches", "R2").update(more)


def test_work_of_a_reach_goes_from_the_dig_to_the_surface() -> None:
    net = network()
    chain = ["R2/dig", "R2/bed", "R2/L0/lay-P1", "R2/L0/shade", "R2/L0/fill", "R2/L1/lay-C1", "R2/L1/shade"]
    chain += ["R2/ribbon", "R2/lifts", "R2/restore"]
    for before, after in itertools.pairwise(chain):
        assert waits(net, after, before), f"{after} does not wait for {before}"


def test_every_line_of_a_layer_is_laid_before_any_of_it_is_shaded_or_the_next_layer_laid() -> None:
    net = network()
    for shade in ("R1:1/L0/shade", "R1:2/L0/shade"):
        assert waits(net, shade, "R1/L0/lay-P1")
        assert waits(net, shade, "R1/L0/lay-W1")
    assert waits(net, "R2/L1/lay-L1", "R2/L0/lay-P1")
    assert not waits(net, "R2/L1/lay-L1", "R2/L1/lay-C1"), "lines of one layer have no fixed order"


def test_pavement_is_cut_before_the_dig_and_only_where_there_is_pavement() -> None:
    paved = network(lambda r: _reach(r, surface="asphalt"))
    assert waits(paved, "R2/dig", "R2/cut")
    assert paved.by_id["R2/cut"].work == 4 * 60 / 60, "60 ft at 60 ft per hour"
    assert "R1/cut" not in paved.by_id
    assert "R2/cut" not in network().by_id


def test_marked_lines_are_exposed_by_hand_before_the_machine_digs_there() -> None:
    def gas(r: Records) -> None:
        r["existing"] = [{"id": "g", "kind": "gas", "owner": "Sample Gas", "alignment": "M", "station": "1+20"}]

    net = network(gas)
    assert waits(net, "R2/dig", "R2/pothole")
    paved = network(lambda r: (gas(r), _reach(r, surface="asphalt")))
    assert waits(paved, "R2/pothole", "R2/cut")
    assert "R1/pothole" not in net.by_id
    site = changed(gas)
    amounts = quantities(site, sections(site)["R2"], length_ft=60, marked_crossings=1)
    assert net.by_id["R2/pothole"].work == math.ceil(4 * amounts.hand_bank_cy / 0.6)
    left = amounts.bank_cy - amounts.hand_bank_cy
    assert f"{left:.1f} cu yd" in net.by_id["R2/dig"].because, "the machine digs what is left"


def test_shields_go_in_after_a_deep_dig_and_before_anyone_enters() -> None:
    net = network(lambda r: _reach(r, depth_in=96, soil="C", surface="asphalt"))
    assert waits(net, "R2/protect", "R2/dig")
    assert waits(net, "R2/bed", "R2/protect")
    assert "1926.652" in net.by_id["R2/protect"].source
    assert "R1/protect" not in net.by_id


def test_groundwater_calls_for_pumps() -> None:
    assert "pumps" in network(lambda r: _reach(r, groundwater=True)).by_id["R2/protect"].name


def test_dig_takes_the_bank_volume_over_the_production_of_the_excavator() -> None:
    site = changed()
    amounts = quantities(site, sections(site)["R2"], length_ft=60)
    rate = excavator_bcy_per_hour(site.equipment[0], "common_earth")
    assert network().by_id["R2/dig"].work == math.ceil(4 * amounts.bank_cy / rate)


def test_without_an_excavator_the_dig_is_by_hand_and_no_machine_is_in_the_reach() -> None:
    net = network(lambda r: r.update(equipment=[]))
    assert net.by_id["R2/dig"].work > 5 * network().by_id["R2/dig"].work
    assert net.by_id["R2/dig"].needs == (("crew/gc", 1),)


@pytest.mark.parametrize(
    ("line", "trade", "hours", "source"),
    [
        ({"feet_per_hour": 12}, {}, 60 / 12, "lines"),
        ({}, {"lays": [{"kind": "power", "feet_per_hour": 15}]}, 60 / 15, "trades"),
        ({}, {"lays": []}, 60 / WorkRates().lay_power_ft_per_hour, "common practice"),
        ({"count": 3}, {"lays": [{"kind": "power", "feet_per_hour": 15}]}, 2 * 60 / 15, "trades"),
    ],
)
def test_laying_takes_the_rate_of_the_line_then_of_the_trade_then_of_common_practice(
    line: Records, trade: Records, hours: float, source: str
) -> None:
    def rates(r: Records) -> None:
        record(r, "lines", "P1").update(line)
        record(r, "trades", "elec").update(trade)

    lay = network(rates).by_id["R2/L0/lay-P1"]
    assert lay.work == math.ceil(4 * hours)
    assert source in lay.source


def test_a_duration_given_by_id_wins_and_says_so() -> None:
    dig = network(lambda r: r.update(durations={"R2/dig": 3.1})).by_id["R2/dig"]
    assert dig.work == 13, "3.1 h is 12.4 quarters of an hour"
    assert "durations" in dig.source


def test_a_duration_for_an_activity_that_does_not_exist_names_the_nearest_one() -> None:
    with pytest.raises(BadInput) as caught:
        network(lambda r: r.update(durations={"R2/digg": 3, "R1/bed": 1, "nonsense": 2}))
    found = {f.found: f.required for f in caught.value.findings}
    assert set(found) == {"R2/digg", "nonsense"}
    assert "R2/dig" in found["R2/digg"]


def test_no_activity_takes_less_than_a_tick() -> None:
    assert all(a.work >= 1 for a in network().activities if a.kind is not Kind.MILESTONE)


def test_bare_ground_is_left_and_compaction_is_tested_where_asked() -> None:
    net = network(lambda r: (_reach(r, surface="bare"), r.update(backfill={"compaction_test": True})))
    assert "R2/restore" not in net.by_id
    assert waits(net, "R3/compaction", "R3/lifts")
    assert waits(net, "R3/restore", "R3/compaction")
    assert net.by_id["R3/compaction"].one_window
    assert "R2/compaction" not in network().by_id


def test_a_test_waits_for_the_cure_and_cover_waits_for_the_hold_both_in_elapsed_time() -> None:
    def slow(r: Records) -> None:
        record(r, "lines", "W1").update(
            joint_cure_hours=24, test={"kind": "pressure", "hold_hours": 2, "over": "reach"}
        )

    net = network(slow)
    cure = link(net, "R3/L0/lay-W1", "R3/L0/test-W1")
    held = link(net, "R3/L0/test-W1", "R3/L0/shade")
    assert (cure.lag, cure.lag_calendar) == (24 * 4, None)
    assert (held.lag, held.lag_calendar) == (2 * 4, None)
    assert net.by_id["R3/L0/test-W1"].one_window


def test_joints_cure_before_cover_even_without_a_test() -> None:
    net = network(lambda r: record(r, "lines", "P1").update(joint_cure_hours=6))
    assert link(net, "R2/L0/lay-P1", "R2/L0/shade").lag == 24


def test_a_stub_is_capped_and_labelled_where_it_ends_before_its_test_and_cover() -> None:
    net = network(lambda r: record(r, "lines", "W1").update(stub=True))
    assert "R1/L0/cap-W1" not in net.by_id, "it ends in R3"
    assert waits(net, "R3/L0/cap-W1", "R3/L0/lay-W1")
    assert waits(net, "R3/L0/test-W1", "R3/L0/cap-W1")
    assert waits(net, "look/I1/R3/L0", "R3/L0/cap-W1")
    assert waits(net, "R3/L0/shade", "R3/L0/cap-W1")
    assert "label" in net.by_id["R3/L0/cap-W1"].name


def _structure(kind: str, **more: object) -> Records:
    place = {"alignment": "M", "station": "1+30", "trade": "elec", "lines": ["P1"]}
    return {"id": "X", "kind": kind, "name": "Sample thing", **place, **more}


@pytest.mark.parametrize(
    ("kind", "order"),
    [
        ("vault", ["R2/bed", "R2/set-X", "R2/L0/lay-P1"]),
        ("pull_box", ["R2/L0/lay-P1", "R2/set-X", "R2/L0/shade"]),
        ("pedestal", ["R2/L0/lay-P1", "R2/set-X"]),
    ],
)
def test_structures_are_set_when_the_trench_is_ready_for_them(kind: str, order: list[str]) -> None:
    net = network(lambda r: r["structures"].append(_structure(kind)))
    for before, after in itertools.pairwise(order):
        assert waits(net, after, before)
    if kind == "pedestal":
        assert not waits(net, "R2/lifts", "R2/set-X"), "what stands beside the trench does not hold its cover"


def test_a_structure_without_lines_still_stands_before_the_fill_goes_round_it() -> None:
    net = network(lambda r: r["structures"].append(_structure("handhole", lines=[])))
    assert waits(net, "R2/set-X", "R2/dig")
    assert waits(net, "R2/lifts", "R2/set-X")


def test_a_reach_without_lines_is_dug_and_filled_round_what_stands_in_it() -> None:
    def empty(r: Records) -> None:
        record(r, "lines", "W1")["route"].pop()
        record(r, "lines", "L1")["route"].pop()
        record(r, "reaches", "R3")["depth_in"] = 40
        r["structures"].append(_structure("handhole", lines=[]) | {"alignment": "B", "station": 20})

    net = network(empty)
    assert waits(net, "R3/set-X", "R3/dig")
    assert waits(net, "R3/lifts", "R3/set-X")
    assert net.by_id["R3/lifts"].work > 1
    assert not any(a.id.startswith("R3/L") or a.id == "R3/ribbon" for a in net.activities)


def test_heavy_structures_are_set_with_the_rented_lift_in_one_go() -> None:
    lift = {"id": "crane", "name": "Truck crane", "kind": "lift", "calendar": "crew", "trade": "gc"}
    net = network(lambda r: (r["structures"].append(_structure("vault")), r["equipment"].append(lift)))
    activity = net.by_id["R2/set-X"]
    assert dict(activity.needs) == {"crew/elec": 1, "crew/gc": 1, "machine/crane": 1}
    assert activity.one_window


def test_work_too_long_for_any_window_of_the_trade_may_span_windows() -> None:
    lift = {"id": "crane", "name": "Truck crane", "kind": "lift", "calendar": "crew"}
    change = _structure("vault", set_hours=12)
    net = network(lambda r: (r["structures"].append(change), r["equipment"].append(lift)))
    assert not net.by_id["R2/set-X"].one_window


@pytest.mark.parametrize(
    ("at_night", "expected"),
    # Three plates of 20 ft over 60 ft of way, six of them in an hour: half an hour to lift them and half to set them.
    [("fenced", {"09:00", "15:00"}), ("filled", {"09:00", "15:00"}), ("plated", {"09:30", "14:30"})],
)
def test_work_in_a_drive_keeps_to_the_hours_in_which_it_may_be_closed(at_night: str, expected: set[str]) -> None:
    access = {"what": "Sample drive", "closed_only": "09:00-15:00", "at_night": at_night}
    net = network(lambda r: _reach(r, access=access))
    for activity in net.activities:
        hours = {net.clock.when(t).strftime("%H:%M") for w in net.calendars[activity.calendar].windows for t in w}
        if activity.reach == "R2" and activity.kind not in (Kind.INSPECT, Kind.SITE):
            assert hours == expected, activity.id
        elif activity.kind is Kind.SITE or (activity.reach == "R3" and activity.kind is not Kind.INSPECT):
            assert hours == {"07:00", "15:30"}, activity.id


def test_nobody_works_in_the_trench_on_rain_days() -> None:
    net = network()
    tick = net.clock.tick(datetime(2026, 6, 11, 9))
    for activity in net.activities:
        in_trench = bool(activity.reach) and activity.kind is not Kind.OUTSIDE
        assert (net.calendar_of(activity.id).window_at(tick) is None) or not in_trench, activity.id
    assert net.calendars["crew"].window_at(tick), "work outside the trench goes on"


def test_ids_names_reasons_and_sources_are_there_and_unique() -> None:
    net = network()
    assert len({a.id for a in net.activities}) == len(net.activities)
    assert len({k.id for k in net.links}) == len(net.links)
    for thing in (*net.activities, *net.links, *net.dates, *net.resources, *net.spaces, *net.tickets, *net.holds):
        assert thing.because.endswith("."), thing.id
        assert thing.source, thing.id
    for activity in net.activities:
        assert activity.name
        assert activity.id not in activity.because
