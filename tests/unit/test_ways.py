"""Ways that others use across a trench: plated, fenced, or dug and filled inside the hours of one day."""

from __future__ import annotations

import itertools
from collections.abc import Callable
from dataclasses import replace

import pytest

import scheduler
from scheduler import Options
from scheduler.audit import audit
from scheduler.cli import printed
from scheduler.costs.billing import money
from scheduler.explain import conflicts
from scheduler.explain.possible import OPEN
from scheduler.measures import nights_open
from scheduler.network.derive import derive
from scheduler.network.kind import Kind
from scheduler.network.model import Network
from scheduler.network.one_day import LeastTime, least_time
from scheduler.solve.goals import Money
from scheduler.solve.run import solve
from tests.derived import Records, link, network, record
from tests.derived import changed as changed_site
from tests.small_site import damaged, faults_in

NOBODY_LOOKS = ("inspections", "outside_work", "keep_open", "bookings")


def drive(at_night: str, hours: str = "09:00-15:00", *ends: float, looks: bool = True, **more: object) -> Network:
    """Return the small site with a drive over R2, cut at `ends`."""
    return derive(changed_site(_drive(at_night, hours, *ends, looks=looks, **more)))


def _drive(at_night: str, hours: str, *ends: float, looks: bool = True, **more: object) -> Callable[[Records], None]:
    def change(r: Records) -> None:
        whole = record(r, "reaches", "R2")
        r["reaches"].remove(whole)
        access = {"what": "Shed drive", "closed_only": hours, "at_night": at_night, **more}
        parts = itertools.pairwise((100, *ends, 160))
        names = ["R2"] if not ends else [f"R2{letter}" for letter in "abc"]
        for (a, b), id_ in zip(parts, names, strict=False):
            r["reaches"].append(whole | {"id": id_, "from": a, "to": b, "access": access})
        if not looks:
            r.update({part: [] for part in NOBODY_LOOKS})

    return change


def test_plates_are_brought_before_the_dig_and_taken_away_when_all_is_filled() -> None:
    net = drive("plated")
    brought, taken = net.by_id["R2/plates"], net.by_id["R2/plates-away"]
    assert brought.name == "Bring 3 steel plates for Shed drive, Main run 1+00 to 1+60"
    # Half an hour to unload, and three plates at six an hour.
    assert {a.work * net.clock.tick_minutes for a in (brought, taken)} == {60}
    assert {a.kind for a in (brought, taken)} == {Kind.SITE}
    assert link(net, "R2/plates", "R2/dig")
    assert link(net, "R2/lifts", "R2/plates-away")
    for at_night in ("fenced", "filled"):
        assert not any("plates" in a.id for a in drive(at_night).activities)


@pytest.mark.parametrize(
    ("at_night", "more", "price"),
    # Three plates of 20 ft at 12 dollars; a way of 16 ft needs one; 60 ft fenced on both sides at 0.30.
    [("plated", {}, 36.0), ("plated", {"width_ft": 16}, 12.0), ("fenced", {}, 36.0), ("filled", {}, 0.0)],
)
def test_each_night_over_a_way_costs_its_plates_or_its_fence(
    at_night: str, more: dict[str, float], price: float
) -> None:
    net = drive(at_night, "07:00-15:30", *([130] if at_night == "filled" else []), looks=at_night != "filled", **more)
    found = solve(net, Options(exposure_effort=0.2, money_effort=0.2))
    assert found.schedule is not None
    assert audit(net, found.schedule) == []
    nights = nights_open(net, found.schedule.dates).get("R2", 0)
    if at_night == "plated":  # rented from the day they are brought to the day they go
        brought, gone = found.schedule.dates["R2/plates"][0], found.schedule.dates["R2/plates-away"][1]
        nights = (net.clock.when(gone).date() - net.clock.when(brought).date()).days
    assert (nights == 0) is (price == 0)
    free = replace(net, ways=())
    assert money(net, found.schedule) - money(free, found.schedule) == pytest.approx(price * nights)
    stage = next(s for s in found.stages if s.name == Money.name)
    assert stage.value == pytest.approx(money(net, found.schedule))
    assert stage.bound <= stage.value


def test_a_drive_that_is_filled_the_same_day_is_dug_and_filled_on_one() -> None:
    net = drive("filled", "07:00-15:30", 130, looks=False)
    found = solve(net, Options(only_finish=True))
    assert found.schedule is not None
    assert audit(net, found.schedule) == []
    for piece in ("R2a", "R2b"):
        dug, filled = found.schedule.dates[f"{piece}/dig"][0], found.schedule.dates[f"{piece}/lifts"][1]
        assert net.clock.when(dug).date() == net.clock.when(filled - 1).date()
    free = replace(net, kept_shut=())
    later = solve(free, Options(only_finish=True)).schedule
    assert later is not None
    assert {f.rule for f in audit(net, later)} >= {"way/R2a"}
    assert "Trench stands open when it may not" in audit(net, later)[0].text


def test_the_least_time_from_dig_to_fill_is_the_longest_chain_of_work_and_waits() -> None:
    net = drive("filled", looks=False)
    chain = ["dig", "bed", "L0/lay-P1", "L0/shade", "L0/fill", "L1/lay-C1", "L1/shade", "ribbon", "lifts"]
    along = sum(net.by_id[f"R2/{step}"].work for step in chain)
    found = least_time(net, "R2/dig", "R2/lifts")
    assert found.ticks >= along
    assert found.ticks == 44
    assert found.lasting == 0
    assert LeastTime(4, (10, 1, 5)).in_one_of(2) == 4 + 5 + 1 + 3


@pytest.mark.parametrize(
    ("hours", "said"),
    [
        (
            "07:00-15:30",
            "By the order of the work alone it takes 11 h from the dig to the last lift; its longest day has 8 h 30 "
            "min. Each of 2 pieces would take a day: split the reach at 1+30.",
        ),
        ("09:00-10:00", "No shorter piece would fit either: agree longer hours, or plates or a fence for the nights."),
    ],
)
def test_a_drive_that_cannot_be_filled_the_same_day_says_so_with_ways_out(hours: str, said: str) -> None:
    case = scheduler.load(changed_site(_drive("filled", hours, looks=False)))
    planned = scheduler.plan(case, Options(only_finish=True, finish_effort=0.2))
    assert planned.plan.status == "infeasible"
    (conflict,) = planned.plan.conflicts
    assert conflict.minimal
    (member,) = conflict.members
    assert member.because.startswith(
        f"Shed drive is passable outside {hours}: what is dug in it is filled the same day."
    )
    assert said in member.because
    assert conflict.repairs[0].text == (
        "Let the trench across Shed drive stay open at night, under plates or a bridge or behind a fence: agree it "
        "with whoever needs the way, and write `at_night: plated` or `at_night: fenced` under `access` of R2."
    )


def test_where_it_is_proved_that_there_is_no_plan_reasons_and_ways_out_are_told_though_no_small_set_is_shown(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    monkeypatch.setattr(conflicts, "possible", lambda *_, **__: OPEN)
    case = scheduler.load(changed_site(_drive("filled", "09:00-10:00", looks=False)))
    planned = scheduler.plan(case, Options(only_finish=True, finish_effort=0.2, conflict_effort=0.0))
    assert planned.plan.status == "infeasible"
    (conflict,) = planned.plan.conflicts
    assert not conflict.minimal
    (way,) = conflict.members
    assert way.because.startswith("Shed drive is passable outside 09:00-10:00")
    assert any(r.text.startswith("Let the trench across Shed drive stay open at night") for r in conflict.repairs)
    more = conflict.model_copy(update={"members": [way, way]})
    assert "perhaps not all of them are needed for that:" in printed.conflicts([more])


def test_visits_that_come_too_seldom_are_part_of_the_reason() -> None:
    case = scheduler.load(changed_site(_drive("filled", "07:00-15:30", 130)))
    planned = scheduler.plan(case, Options(only_finish=True, finish_effort=0.2))
    assert planned.plan.status == "infeasible"
    said = {m.because for c in planned.plan.conflicts for m in c.members}
    assert "Working hours: city inspection mornings, no rain days." in said


def test_a_trench_too_wide_for_plates_asks_for_a_design() -> None:
    def wide(r: Records) -> None:
        record(r, "reaches", "R2").update(
            access={"what": "Shed drive", "closed_only": "09:00-15:00"}, bottom_width_in=70
        )

    (way,) = network(wide).ways
    assert way.designed
    assert not drive("plated").ways[0].designed


def test_what_becomes_of_a_way_at_night_is_one_of_three() -> None:
    text = damaged(("soil: B}", "soil: B, access: {what: Drive, closed_only: 09:00-15:00, at_night: ramped}}"))
    (fault,) = faults_in(text)
    assert "at_night" in fault.where
    assert "ramped" in fault.found
