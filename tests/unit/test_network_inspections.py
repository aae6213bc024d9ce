"""Inspections: what is looked at when, what waits for it, what may share a visit, how long a pass lasts."""

from __future__ import annotations

from datetime import datetime

import pytest

from scheduler.network.kind import Kind
from scheduler.network.model import LinkType
from tests.derived import Records, date_rules, hold, link, network, record, waits

LAYERS = {"R1/L0", "R1/L1", "R1:1:later/L1", "R2/L0", "R2/L1", "R3/L0", "R3/L1"}


def _stage(stage: str, **more: object):  # type: ignore[no-untyped-def]
    def change(r: Records) -> None:
        record(r, "inspections", "I1").update(stage=stage, **more)
        record(r, "outside_work", "U1").update(needs_inspections=[], lines_state="laid")
        r["backfill"] = {"compaction_test": True}

    return change


def _scopes(net, inspection: str = "I1") -> set[str]:  # type: ignore[no-untyped-def]
    prefix = f"look/{inspection}/"
    return {a.id.removeprefix(prefix) for a in net.activities if a.id.startswith(prefix)}


def test_laid_lines_are_seen_once_per_reach_and_layer_before_any_piece_is_shaded() -> None:
    net = network()
    assert _scopes(net) == LAYERS
    assert waits(net, "look/I1/R1/L0", "R1/L0/lay-W1")
    assert set(hold(net, "hold/I1/R1/L0").gates) == {"R1:1/L0/shade", "R1:2/L0/shade"}
    found = hold(net, "hold/I1/R1/L0")
    assert (found.look, found.kind, found.released_by, found.reaches) == ("look/I1/R1/L0", "hold", "eye", ("R1",))
    assert found.lines == ("P1", "W1")


def test_only_the_lines_an_inspection_covers_are_waited_for() -> None:
    net = network(lambda r: record(r, "inspections", "I1").update(kinds=["water"]))
    assert _scopes(net) == {"R1/L0", "R3/L0"}
    assert net.by_id["look/I1/R1/L0"].lines == ("W1",)
    assert not waits(net, "look/I1/R1/L0", "R1/L0/lay-P1")
    assert _scopes(network(lambda r: record(r, "inspections", "I1").update(lines=["L1"]))) == {"R2/L1", "R3/L1"}
    assert _scopes(network(lambda r: record(r, "inspections", "I1").update(alignments=["B"]))) == {"R3/L0", "R3/L1"}


def test_the_open_trench_is_seen_after_the_bed_and_before_any_line_or_vault() -> None:
    def change(r: Records) -> None:
        _stage("open_trench")(r)
        vault = {"id": "V", "kind": "vault", "name": "Vault", "alignment": "M", "station": 130, "trade": "elec"}
        r["structures"].append(vault | {"lines": ["P1"]})

    net = network(change)
    assert _scopes(net) == {"R1", "R2", "R3"}
    assert waits(net, "look/I1/R1", "R1/bed")
    assert set(hold(net, "hold/I1/R1").gates) == {"R1/L0/lay-P1", "R1/L0/lay-W1"}
    assert set(hold(net, "hold/I1/R2").gates) == {"R2/set-V"}


def test_shading_is_seen_before_it_is_buried_and_apart_where_it_is_kept_open() -> None:
    net = network(_stage("shaded"))
    assert _scopes(net) == {"R1/L0", "R1:1/L0", "R1/L1", "R1:1/L1", "R2/L0", "R2/L1", "R3/L0", "R3/L1"}
    assert hold(net, "hold/I1/R1/L0").gates == ("R1:2/L0/fill",)
    assert hold(net, "hold/I1/R2/L1").gates == ("R2/ribbon",)
    assert hold(net, "hold/I1/R3/L1").gates == ("R3/lifts",), "no ribbon there"
    assert waits(net, "look/I1/R1:1/L0", "outside/U1"), "the kept-open piece is shaded after its event"
    assert not waits(net, "look/I1/R1/L0", "outside/U1")


def test_shading_with_no_fill_on_it_is_buried_by_the_next_lines() -> None:
    net = network(lambda r: (_stage("shaded")(r), record(r, "lines", "C1").update(cover_in=31)))
    assert "R1:2/L0/fill" not in net.by_id
    assert "R1/L1/lay-C1" in hold(net, "hold/I1/R1/L0").gates


def test_a_test_is_seen_after_its_hold_and_gates_the_shading() -> None:
    net = network(_stage("pressure_test", kinds=["water"]))
    assert _scopes(net) == {"R1/L0", "R3/L0"}
    seen = link(net, "R3/L0/test-W1", "look/I1/R3/L0")
    assert (seen.lag, seen.lag_calendar) == (1, None)
    assert hold(net, "hold/I1/R3/L0").gates == ("R3/L0/shade",)


def test_compaction_is_seen_before_the_surface_goes_back() -> None:
    net = network(_stage("compaction"))
    assert _scopes(net) == {"R1", "R1:1", "R2", "R3"}
    assert waits(net, "look/I1/R2", "R2/compaction")
    assert hold(net, "hold/I1/R1").gates == ("R1:2/restore",)
    assert hold(net, "hold/I1/R1:1").gates == ("R1:1/restore",)


def test_a_final_inspection_sees_everything_of_its_lines_finished_and_releases_outside_work() -> None:
    def change(r: Records) -> None:
        record(r, "inspections", "I1").update(stage="final", lines=["L1"])
        r["outside_work"].append(
            record(r, "outside_work", "U1") | {"id": "U2", "lines": [], "needs_inspections": ["I1"]}
        )
        del r["outside_work"][-1]["at"]
        record(r, "outside_work", "U1").update(needs_inspections=[])

    net = network(change)
    for done in ("R2/restore", "R3/restore", "line/L1/prove"):
        assert waits(net, "look/I1/all", done)
    assert not waits(net, "look/I1/all", "R1:2/restore")
    assert hold(net, "hold/I1/all").gates == ("outside/U2",)


def test_a_final_inspection_does_not_wait_for_cover_that_waits_for_it() -> None:
    def change(r: Records) -> None:
        record(r, "inspections", "I1").update(stage="final")

    net = network(change)
    assert waits(net, "outside/U1", "look/I1/all")
    assert waits(net, "R1:1/L0/shade", "outside/U1")
    assert waits(net, "look/I1/all", "R1/L0/lay-P1"), "yet the loose end is laid"
    assert not waits(net, "look/I1/all", "R1:1:later/L1/lay-C1")


def test_compaction_passes_before_the_final_inspection_even_on_bare_ground() -> None:
    def change(r: Records) -> None:
        _stage("compaction")(r)
        record(r, "reaches", "R2")["surface"] = "bare"
        r["inspections"].append(record(r, "inspections", "I1") | {"id": "I2", "stage": "final", "lines": ["L1"]})

    net = network(change)
    assert hold(net, "hold/I1/R2").gates == ()
    assert waits(net, "look/I2/all", "look/I1/R2")
    assert not waits(net, "look/I2/all", "look/I1/R1")


def test_boxes_are_in_when_the_inspector_looks() -> None:
    box = {"id": "X", "kind": "pull_box", "name": "Box", "alignment": "M", "station": 130, "trade": "elec"}
    assert waits(network(lambda r: r["structures"].append(box | {"lines": ["P1"]})), "look/I1/R2/L0", "R2/set-X")


def test_a_pass_expires_where_nobody_keeps_the_stretch_open() -> None:
    net = network(lambda r: record(r, "inspections", "I1").update(pass_valid_days=2.5))
    found = link(net, "look/I1/R1/L0", "R1:2/L0/shade", at_most=True)
    assert (found.type, found.lag, found.lag_calendar) == (LinkType.FS, 240, None)
    assert {k.after for k in net.links if k.at_most and k.before == "look/I1/R1/L0"} == {"R1:2/L0/shade"}
    assert not any(k.at_most for k in network().links)


def test_looks_of_one_inspection_may_share_visits_within_its_limits() -> None:
    net = network(lambda r: record(r, "inspections", "I1").update(looks_per_visit=3, feet_per_visit=120))
    (rule,) = net.visit_rules
    assert set(rule.looks) == {f"look/I1/{s}" for s in LAYERS}
    assert (rule.max_looks, rule.max_ft, rule.fee) == (3, 120, 120)
    assert rule.look_ft["look/I1/R2/L0"] == 60
    for look in rule.looks:
        activity = net.by_id[look]
        assert (activity.kind, activity.one_window, activity.calendar) == (Kind.INSPECT, True, rule.calendar)
        assert activity.work == 2, "30 minutes"
        assert [r.split("/")[0] for r, _ in activity.needs] == ["inspector"]


@pytest.mark.parametrize(
    ("days", "first"),
    [(0, None), (1, datetime(2026, 6, 10, 8)), (2, datetime(2026, 6, 12, 8)), (3, datetime(2026, 6, 15, 8))],
)
def test_a_look_keeps_the_notice_counted_in_open_days_of_the_inspector(days: int, first: datetime | None) -> None:
    net = network(lambda r: record(r, "inspections", "I1").update(notice_days=days))
    rules = date_rules(net, "look/I1/R2/L0")
    assert [net.clock.when(r.at).replace(tzinfo=None) for r in rules] == ([first] if first else [])


def test_one_person_of_an_authority_is_one_inspector_and_two_are_two() -> None:
    def two(r: Records, by: str) -> None:
        r["people"].append(record(r, "people", "eye") | {"id": "ear"})
        r["inspections"].append(record(r, "inspections", "I1") | {"id": "I2", "released_by": by})

    def inspectors(by: str) -> int:
        return sum(r.kind == "inspector" for r in network(lambda r: two(r, by)).resources)

    assert (inspectors("eye"), inspectors("ear")) == (1, 2)


def test_witness_points_and_criteria_are_passed_on() -> None:
    net = network(lambda r: record(r, "inspections", "I1").update(hold="witness", criteria="Depth and joints."))
    assert {(h.kind, h.criteria) for h in net.holds if h.id.startswith("hold/I1")} == {("witness", "Depth and joints.")}


def test_inspectors_are_in_the_reach_and_so_never_under_the_machine() -> None:
    (space,) = [s for s in network().spaces if s.reach == "R2"]
    assert ("look/I1/R2/L0", "inspector") in space.occupants


def test_a_pass_for_a_kept_open_stretch_expires_too_where_the_site_says_so() -> None:
    def strict(r: Records) -> None:
        record(r, "inspections", "I1").update(pass_valid_days=20, pass_stands_while_kept_open=False)

    found = {k.after for k in network(strict).links if k.at_most and k.before == "look/I1/R1/L0"}
    assert found == {"R1:1/L0/shade", "R1:2/L0/shade"}


def test_shading_seen_after_the_event_of_a_kept_open_stretch_is_buried_in_time_like_any_other() -> None:
    net = network(_stage("shaded", pass_valid_days=2))
    seen = {k.before: k.after for k in net.links if k.at_most}
    assert seen["look/I1/R1:1/L0"].startswith("R1:1")


def test_the_pass_of_an_open_trench_expires_for_the_first_lines() -> None:
    net = network(_stage("open_trench", pass_valid_days=2))
    found = link(net, "look/I1/R2", "R2/L0/lay-P1", at_most=True)
    assert found.lag == 192
    assert "first lines must follow" in found.because
