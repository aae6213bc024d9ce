"""Work that every site has: made where the site file asks for it, with its rates; else its absence is told."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path
from random import Random

import pytest

from scheduler.audit import audit
from scheduler.cli import main
from scheduler.costs.billing import money
from scheduler.network.derive import derive
from scheduler.network.kind import Kind
from scheduler.network.model import Network
from scheduler.schedule import Schedule
from scheduler.site.files import read_site
from scheduler.site.site_record import Site
from scheduler.site.site_work import SiteWork
from scheduler.solve.outcome import Options
from scheduler.solve.run import solve
from scheduler.trench.looked_at import look
from scheduler.trench.ordered import materials
from tests.benchmarks.site_generator import random_small_site
from tests.small_site import SMALL_SITE, damaged

FULL = Options(workers=1, start_effort=0.1, exposure_effort=0.2, money_effort=0.3, finish_effort=0.2)
QUICK = Options(workers=1, only_finish=True, start_effort=0.01, finish_effort=0.02)


def site(*changes: tuple[str, str], work: str = "{hauling: true}", rates: str = "{}") -> Site:
    return read_site(damaged(*changes) + f"\nsite_work: {work}\nrates: {rates}\n", file="job.yaml")


def street(surface: str, **given: str) -> Network:
    """Return the network of the small site with its second reach in a street of some surface."""
    change = ("{id: R2, alignment: M,", f"{{id: R2, place: street, surface: {surface}, alignment: M,")
    test = ("limits:", "backfill: {compaction_test: true}\nlimits:")
    return derive(site(change, test, **given))


def before(net: Network, id_: str) -> set[str]:
    return {k.before for k in net.links if k.after == id_}


def after(net: Network, id_: str) -> set[str]:
    return {k.after for k in net.links if k.before == id_}


def lag(net: Network, first: str, then: str) -> float:
    """Return the hours that pass between two activities at the least."""
    return next(k.lag for k in net.links if (k.before, k.after) == (first, then)) * net.clock.tick_minutes / 60


def planned(net: Network) -> Schedule:
    schedule = solve(net, QUICK).schedule
    assert schedule is not None, net.name
    assert [str(f) for f in audit(net, schedule)] == []
    return schedule


def test_without_the_part_nothing_is_made_and_the_silence_is_told() -> None:
    plain = read_site(SMALL_SITE, file="job.yaml")
    assert not [a for a in derive(plain).activities if a.kind in (Kind.SITE, Kind.CHECK)]
    (told,) = (q for q in look(plain).uncovered if "site_work" in q.fill_in)
    assert told.text.startswith("Nothing in the file says: machine delivered and taken away, spoil hauled")
    assert "traffic control" not in told.text
    assert "connections at both ends of wet lines, disinfection" in told.text
    assert not [q for q in look(site()).uncovered if "site_work" in q.fill_in]


def test_each_kind_of_work_can_be_left_out() -> None:
    whole = {a.id for a in street("asphalt").activities}
    for field in SiteWork.model_fields:
        less = {a.id for a in street("asphalt", work=f"{{{field}: false}}").activities}
        here = field not in ("hauling", "protection_out", "concrete_cure", "density_result", "tracer_check")
        assert less < whole if here else less == whole, field


def test_traffic_control_stands_from_before_the_cut_until_the_street_can_be_driven_on() -> None:
    net = street("asphalt")
    assert before(net, "R2/cut") >= {"R2/traffic-on"}
    assert before(net, "R2/traffic-off") == {"R2/pave"}
    assert "MUTCD" in net.by_id["R2/traffic-on"].source
    assert not [a.id for a in net.activities if a.id.startswith(("R1/traffic", "R3/traffic"))]
    dates = planned(net).dates
    assert dates["R2/traffic-on"][1] <= dates["R2/cut"][0]
    assert dates["R2/traffic-off"][0] >= dates["R2/pave"][1]


def test_asphalt_is_put_back_twice_after_the_laboratory_and_a_while() -> None:
    net = street("asphalt", rates="{temporary_paving_days: 2, density_result_hours: 30}")
    assert lag(net, "R2/compaction", "R2/restore") == 30
    assert lag(net, "R2/restore", "R2/pave") == 48
    assert net.by_id["R2/restore"].name.startswith("Put back temporary asphalt")
    assert "laboratory" in next(k for k in net.links if k.after == "R2/restore").because
    planned(net)


def test_concrete_cures_before_traffic() -> None:
    net = street("concrete", rates="{concrete_cure_hours: 100}")
    assert lag(net, "R2/restore", "R2/cured") == 100
    assert before(net, "R2/traffic-off") == {"R2/cured"}
    schedule = planned(net)
    hours = (schedule.dates["R2/traffic-off"][0] - schedule.dates["R2/restore"][1]) * net.clock.tick_minutes / 60
    assert hours >= 100


def test_the_machine_comes_before_its_first_work_and_leaves_after_its_last() -> None:
    net = derive(site())
    dates = planned(net).dates
    using = [a.id for a in net.activities if "machine/digger" in dict(a.needs)]
    assert dates["site/bring-digger"][1] <= min(dates[a][0] for a in using)
    assert dates["site/remove-digger"][0] >= max(dates[a][1] for a in using)
    (rental,) = net.rentals
    assert (rental.opens, rental.closes, rental.price) == ("site/bring-digger", "site/remove-digger", 350)


def test_signs_are_paid_for_by_the_night_and_so_not_set_up_days_before_the_dig() -> None:
    net = street("asphalt", rates="{traffic_cost_per_night: 400}")
    (signs,) = [r for r in net.rentals if r.opens == "R2/traffic-on"]
    assert (signs.closes, signs.price) == ("R2/traffic-off", 400)
    found = solve(net, FULL).schedule
    assert found is not None
    assert [str(f) for f in audit(net, found)] == []
    stands, dug = found.dates["R2/traffic-on"][1], found.dates["R2/cut"][0]
    assert net.calendar_of("R2/traffic-on").open_ticks(stands, dug) <= net.clock.ticks(hours=8.5)


def test_a_machine_is_paid_for_by_the_night_from_delivery_to_removal() -> None:
    net = derive(site())
    schedule = planned(net)
    free = replace(net, rentals=tuple(replace(r, price=0.0) for r in net.rentals))
    start, finish = schedule.dates["site/bring-digger"][0], schedule.dates["site/remove-digger"][1]
    nights = (net.clock.when(finish).date() - net.clock.when(start).date()).days
    assert money(net, schedule) - money(free, schedule) == pytest.approx(350 * nights)
    paid = solve(net, FULL).schedule
    assert paid is not None
    assert [str(f) for f in audit(net, paid)] == []


def test_shields_and_pumps_come_out_between_the_shading_and_the_lifts() -> None:
    wet = ("{id: R3, alignment: B,", "{id: R3, groundwater: true, alignment: B,")
    net = derive(site(wet))
    out = net.by_id["R3/protect-out"]
    assert "pumps" in out.name
    assert {net.by_id[k].kind for k in before(net, out.id)} == {Kind.SHADE}
    assert {net.by_id[k].kind for k in after(net, out.id)} <= {Kind.RIBBON, Kind.FILL}
    planned(net)


def test_every_layer_is_photographed_and_measured_before_it_is_shaded() -> None:
    net = derive(site())
    for shade in (a for a in net.activities if a.kind is Kind.SHADE):
        (record,) = (k for k in before(net, shade.id) if k.endswith("/record"))
        assert net.by_id[record].layer == shade.layer
        assert set(net.by_id[record].lines) >= set(shade.lines)


def test_a_wet_line_is_connected_at_both_ends_tested_before_and_flushed_after() -> None:
    net = derive(site(rates="{disinfect_contact_hours: 20, connection_hours: 3}"))
    start, end = "line/W1/connect-start", "line/W1/connect-end"
    assert net.by_id[start].work * net.clock.tick_minutes == 180
    assert net.by_id[start].reach == "R1"
    assert net.by_id[end].reach == "R3"
    assert any("/test-W1" in k for k in before(net, end))
    assert any(net.by_id[k].kind is Kind.SHADE for k in after(net, end))
    assert before(net, "line/W1/disinfect") >= {start, end}
    assert lag(net, "line/W1/disinfect", "line/W1/flush") == 20
    planned(net)


def test_a_line_that_meets_another_of_its_kind_or_others_tie_in_is_not_connected_there() -> None:
    yard = "      - {alignment: M, from: 0+00, to: 1+00}\n      - {alignment: B, from: 0+00, to: 0+40}\n"
    alone = "      - {alignment: B, from: 0+00, to: 0+40}\n"
    extra = (
        "  - {id: W2, name: Yard main, kind: water, trade: gc, material: pe, size_in: 1, cover_in: 38, offset_in: 12, "
    )
    extra += "route: [{alignment: M, from: 0+00, to: 1+60}]}\nstructures:"
    net = derive(site((yard, alone), ("structures:", extra)))
    assert "line/W1/connect-start" not in net.by_id
    assert {"line/W1/connect-end", "line/W2/connect-start", "line/W2/connect-end"} <= set(net.by_id)
    main = {a.id for a in net.activities if a.kind is Kind.LAY and a.lines == ("W2",)}
    assert before(net, "line/W1/disinfect") & main, "a branch is joined to its main before chlorine is put into it"
    assert "line/W2/flush" in before(net, "line/W1/flush"), "a branch is sampled once its main is clean"


def test_a_line_that_begins_a_few_feet_up_its_branch_is_joined_there_once() -> None:
    yard = "      - {alignment: M, from: 0+00, to: 1+00}\n      - {alignment: B, from: 0+00, to: 0+40}\n"
    extra = (
        "  - {id: W2, name: Yard main, kind: water, trade: gc, material: pe, size_in: 1, cover_in: 38, offset_in: 12, "
    )
    extra += "route: [{alignment: M, from: 0+00, to: 1+60}]}\nstructures:"
    net = derive(site((yard, "      - {alignment: B, from: 0+03, to: 0+40}\n"), ("structures:", extra)))
    assert "line/W1/connect-start" not in net.by_id


def test_a_tracer_wire_is_traced_once_all_is_covered() -> None:
    net = derive(site(("    cover_in: 38\n    test:", "    cover_in: 38\n    tracer_wire_awg: 14\n    test:")))
    assert before(net, "line/W1/tracer") >= {"R3/lifts", "R1:2/lifts"}
    planned(net)


def test_the_dig_goes_no_faster_than_the_trucks() -> None:
    haul = ("{id: R2, alignment: M,", "{id: R2, spoil: haul, alignment: M,")
    fast = derive(site(haul, rates="{haul_trucks: 50}")).by_id["R2/dig"]
    slow = derive(site(haul, rates="{haul_trucks: 1, haul_round_trip_minutes: 120}")).by_id["R2/dig"]
    assert "truck loads of spoil" in fast.because
    assert "slower than the machine" in slow.because
    loads = int(slow.because.split(" truck loads")[0].split()[-1])
    assert slow.work * 15 == loads * 120
    assert slow.work > fast.work


def test_amounts_tons_and_loads_are_told_with_the_plan_and_the_papers(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.setenv("JOINTTRENCH_HOME", str(tmp_path / "home"))
    file = tmp_path / "job.yaml"
    street = damaged(("{id: R2, alignment: M,", "{id: R2, place: street, alignment: M,"))
    file.write_text(street + "\nsite_work: {hauling: true}\n", encoding="utf-8")
    assert main(["plan", str(file), "--out", str(tmp_path / "out")]) == 0
    said = capsys.readouterr().out
    assert "truck loads" in said
    assert "water: 1 in pe" in said
    assert "Excavator is rented for" in said
    assert "Traffic control stands in 1 reach, " in said
    papers = tmp_path / "papers"
    assert main(["export", str(tmp_path / "out" / "plan.json"), "--site", str(file), "--out", str(papers)]) == 0
    table = (papers / "table of materials.csv").read_text(encoding="utf-8-sig").splitlines()
    assert len(table) == 1 + len(materials(read_site(SMALL_SITE, file="job.yaml")))


@pytest.mark.parametrize("seed", range(8))
def test_generated_sites_with_site_work_have_plans_that_break_no_rule(seed: int) -> None:
    drawn = random_small_site(Random(seed))
    planned(derive(drawn.model_copy(update={"site_work": SiteWork()})))
