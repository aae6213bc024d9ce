"""What may not come before what it rests on: risers on their poles, energising after loose ends are covered."""

from __future__ import annotations

import pytest

from scheduler.audit import audit
from scheduler.network.kind import Kind
from scheduler.network.network_check import check_network
from scheduler.schedule import Schedule
from tests.derived import Records, link, network, record, waits


def _pole(r: Records, *, trade: str | None = "gc", at: bool = False, others: bool = True) -> None:
    """Let a riser stand on the pole at the beginning of the main run, set by the site or by the utility."""
    record(r, "structures", "S1").update(trade=trade, lines=["P1"])
    riser = {"id": "RI", "kind": "riser", "name": "Riser", "alignment": "M", "station": 0, "trade": "elec"}
    r["structures"].append(riser | {"lines": ["P1"], "riser_material": "pvc80"})
    if others:
        base = record(r, "outside_work", "U1")
        for n, lines in (("1", []), ("2", [])):
            work = {k: v for k, v in base.items() if k in ("by", "calendar")}
            work |= {"id": f"SP{n}", "name": f"Set pole {n}", "kind": "set_pole", "lines": lines, "lines_state": "none"}
            r["outside_work"].append(work)
        base["after"] = ["SP2"]
        if at:
            record(r, "outside_work", "SP1")["at"] = {"alignment": "M", "from": 0, "to": 1}


def test_a_riser_waits_for_a_pole_that_the_site_sets() -> None:
    net = network(lambda r: _pole(r, others=False))
    set_first = link(net, "R1/set-S1", "R1/set-RI")
    assert set_first.because == "Riser is fixed to Utility pole, which stands first."
    assert check_network(net) == []


def test_a_riser_waits_for_the_pole_that_comes_before_work_on_its_line() -> None:
    net = network(lambda r: _pole(r, trade=None))
    assert waits(net, "R1/set-RI", "outside/SP2"), "the tie-in of its line comes after it"
    assert not waits(net, "R1/set-RI", "outside/SP1"), "another pole"
    placed = network(lambda r: _pole(r, trade=None, at=True))
    assert waits(placed, "R1/set-RI", "outside/SP1"), "the pole set at its station"
    assert not waits(placed, "R1/set-RI", "outside/SP2")


def test_where_nobody_can_tell_which_pole_is_set_a_riser_waits_for_all() -> None:
    def not_in_order(r: Records) -> None:
        _pole(r, trade=None)
        record(r, "outside_work", "U1")["after"] = []

    net = network(not_in_order)
    assert waits(net, "R1/set-RI", "outside/SP1")
    assert waits(net, "R1/set-RI", "outside/SP2")


def _live(r: Records, **more: object) -> None:
    """Let the utility energise once it has tied in, and the inspector look at the shading."""
    work = {k: v for k, v in record(r, "outside_work", "U1").items() if k in ("by", "calendar")}
    r["outside_work"].append(work | {"id": "EN", "name": "Energise", "kind": "energise", "after": ["U1"]})
    record(r, "outside_work", "U1")["lines_state"] = "laid"
    look = record(r, "inspections", "I1")
    r["inspections"].append(look | {"id": "I9", "name": "Shading", "stage": "shaded", "kinds": ["power"]})
    record(r, "keep_open", "K1").update(more)


def test_a_service_is_not_energised_before_its_loose_end_is_covered_and_its_shading_seen() -> None:
    net = network(_live)
    covered = link(net, "R1:1/lifts", "outside/EN")
    assert covered.because.startswith("Energise waits until the end kept open for ")
    looks = [a.id for a in net.activities if a.kind is Kind.INSPECT and a.id.startswith("look/I9/")]
    assert looks
    assert all(waits(net, "outside/EN", look) for look in looks)
    assert check_network(net) == []


def test_a_loose_end_that_is_guarded_may_be_live_before_it_is_covered() -> None:
    net = network(lambda r: _live(r, guarded="boxed in and locked"))
    assert not any((k.before, k.after) == ("R1:1/lifts", "outside/EN") for k in net.links)


def test_a_stretch_that_is_kept_open_for_energising_itself_does_not_hold_it() -> None:
    def until_live(r: Records) -> None:
        _live(r)
        record(r, "keep_open", "K1")["until"] = "EN"

    net = network(until_live)
    assert not waits(net, "outside/EN", "R1:1/lifts")
    assert check_network(net) == []


@pytest.mark.parametrize("rule", ["R1/set-S1 > R1/set-RI", "R1:1/lifts > outside/EN"])
def test_the_audit_names_dates_that_turn_the_order_round(rule: str) -> None:
    net = network(lambda r: (_pole(r, others=False), _live(r)))
    first, then = rule.split(" > ")
    dates = {first: (10, 20), then: (19, 25)}
    assert rule in {f.rule for f in audit(net, Schedule(dates=dates))}


def test_what_is_left_for_later_is_capped_marked_and_recorded_before_cover() -> None:
    def later(r: Records) -> None:
        record(r, "lines", "C1")["use"] = "spare"
        record(r, "lines", "W1")["stub"] = True

    net = network(later)
    caps = {a.id: a.name for a in net.activities if "/cap-" in a.id}
    assert set(caps) == {"R1:1:later/L1/cap-C1", "R2/L1/cap-C1", "R3/L0/cap-W1"}, "a spare conduit at both ends"
    assert caps["R3/L0/cap-W1"].startswith("Cap, label, mark and record the stub of Water to shed")
    assert waits(net, "R2/L1/shade", "R2/L1/cap-C1")
