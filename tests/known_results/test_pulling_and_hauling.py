"""Pulling forces, test allowances, pipe-zone volume and truck loads against published values and hand calculation."""

from __future__ import annotations

import math

import pytest

from scheduler.site.site_record import Site
from scheduler.site.work_rates import WorkRates
from scheduler.trench.conduit import pulls_of
from scheduler.trench.earth import bank_to_loose
from scheduler.trench.ordered import haul_hours, loads_of, materials
from scheduler.trench.pulling import after_bend, after_straight, pull_forces, sidewall, tension_borne, weight_correction
from scheduler.trench.quantities import quantities
from scheduler.trench.rules.proof_rules import make_up_gph
from scheduler.trench.section import sections
from tests.trenches import broken, line, trench

pytestmark = pytest.mark.known

# CommScope, ConQuest Conduit Construction manual, pages 68, 69 and 71: cable QR 715 of 0.144 lb/ft, friction 0.5, bends
# of 10 ft radius. The manual rounds to whole pounds after every step, so each step is compared from its own start.
CABLE = {"lb_per_ft": 0.144, "friction": 0.5}


@pytest.mark.parametrize(("before", "feet", "after"), [
    (0, 500, 36), (0, 100, 7), (10, 80, 16), (35, 75, 40), (59, 70, 64),
    (0, 70, 5), (7, 75, 12), (26, 80, 32), (47, 100, 54),
])  # fmt: skip
def test_tension_after_a_straight_run(before: float, feet: float, after: float) -> None:
    assert after_straight(before, feet=feet, **CABLE) == pytest.approx(after, abs=0.9)


@pytest.mark.parametrize(("before", "degrees", "after"), [
    (36, 90, 79), (7, 45, 10), (16, 90, 35), (40, 45, 59), (5, 45, 7), (12, 90, 26), (32, 45, 47),
])  # fmt: skip
def test_tension_after_a_bend(before: float, degrees: float, after: float) -> None:
    assert after_bend(before, degrees=degrees) == pytest.approx(after, abs=0.9)


@pytest.mark.parametrize(("degrees", "friction", "factor"), [
    (15, 0.5, 1.14), (30, 0.5, 1.30), (45, 0.5, 1.48), (60, 0.5, 1.68), (75, 0.5, 1.92), (90, 0.5, 2.19),
    (90, 0.3, 1.60), (90, 0.7, 3.00), (45, 0.4, 1.37), (60, 0.15, 1.17),
])  # fmt: skip
def test_the_factor_of_a_bend(degrees: float, friction: float, factor: float) -> None:
    """The table of page 69, which cuts off after two places."""
    assert after_bend(1.0, degrees=degrees, friction=friction) == pytest.approx(factor, abs=0.0099)


@pytest.mark.parametrize(("tension", "pressure"), [(10, 1.0), (35, 3.5), (59, 5.9), (7, 0.7), (26, 2.6), (47, 4.7)])
def test_pressure_against_a_bend(tension: float, pressure: float) -> None:
    assert sidewall(tension, radius_ft=10) == pytest.approx(pressure, abs=0.05)


def test_conductors_bear_so_much() -> None:
    """Southwire, wire and cable pulling tensions: N S A for three or fewer, 0.8 of it for more; S of copper 0.008."""
    conductors = trench(conduit(3, "4/0")).lines[0].conductors
    assert tension_borne(conductors) == pytest.approx(3 * 0.008 * 211600)
    assert tension_borne(trench(conduit(4, "4/0")).lines[0].conductors) == pytest.approx(0.8 * 4 * 0.008 * 211600)


def conduit(count: int, size: str, *bends: tuple[float, float], trade_in: float = 2) -> dict[str, object]:
    """Return a conduit 100 ft long with conductors and level bends of 90 degrees at (station, radius in inches)."""
    curves = [{"alignment": "main", "station": at, "degrees": 90, "radius_in": radius} for at, radius in bends]
    held = [{"count": count, "size": size}]
    return line("p", "power", "pvc40", trade_in, conductors=held, bends=curves, cover_in=36, voltage_v=240)


def forces(site: Site):
    (pull,) = pulls_of(site.lines[0], site.structures)
    taken = pull_forces(site.lines[0], pull)
    assert taken is not None
    return taken


def test_a_run_is_pulled_from_the_end_where_it_takes_less() -> None:
    """By hand, one 4/0 of 0.717 lb/ft: 10 ft, a bend, 90 ft; or 90 ft, the bend, 10 ft."""
    taken = forces(trench(conduit(1, "4/0", (10, 24))))
    factor = math.exp(0.5 * math.pi / 2)
    assert taken.from_start
    assert taken.tension_lb == pytest.approx(10 * 0.717 * 0.5 * factor + 90 * 0.717 * 0.5)  # 40.1 lb
    assert taken.sidewall_lb_per_ft == pytest.approx(10 * 0.717 * 0.5 * factor / 2.0)
    other = forces(trench(conduit(1, "4/0", (90, 24))))
    assert not other.from_start
    assert other.tension_lb == pytest.approx(taken.tension_lb)


def test_three_conductors_weigh_heavier_as_they_wedge() -> None:
    """By hand: 4/0 is 0.642 in across, 2 in of Schedule 40 is 2.047 in inside: 1 + 4/3 (0.642/1.405)^2 = 1.278."""
    assert weight_correction(trench(conduit(3, "4/0")).lines[0]) == pytest.approx(1.278, abs=0.001)
    assert weight_correction(trench(conduit(1, "4/0")).lines[0]) == 1.0


def test_too_hard_a_pull_is_found_with_its_number() -> None:
    """Three 500 kcmil round three tight bends press far over 300 lb/ft, from whichever end they are pulled."""
    heavy = [(10, 14), (50, 14), (90, 14)]
    found = broken(trench(conduit(3, "500", *heavy, trade_in=3), rules=[
        {"rule": "sweep-radius", "value": 10, "source": "test"},
    ]))  # fmt: skip
    assert found["sidewall-pressure"].required == "at most 300 lb/ft"
    light = broken(trench(conduit(3, "4/0", (50, 24)), rules=[{"rule": "pull-tension", "value": 60, "source": "test"}]))
    taken = forces(trench(conduit(3, "4/0", (50, 24))))
    assert light["pull-tension"].found == f"{taken.tension_lb:.0f} lb"
    assert light["pull-tension"].required == "at most 60 lb"
    assert "pull-tension" not in broken(trench(conduit(3, "4/0", (50, 24))))


@pytest.mark.parametrize(("inches", "psi", "gph"), [(10, 100, 0.68), (10, 150, 0.83), (12, 100, 0.81), (12, 150, 0.99)])
def test_make_up_water_of_pvc_pipe(inches: float, psi: float, gph: float) -> None:
    """AWWA C605-05, allowable leakage per 1,000 ft, as reprinted in a specification filed with the Colorado DNR."""
    assert make_up_gph(length_ft=1000, diameter_in=inches, pressure_psi=psi) == pytest.approx(gph, abs=0.0055)


def test_pipe_zone_volume_by_hand() -> None:
    """100 ft of vertical trench 36 in wide, a 6 in PVC sewer of 6.275 in outside (ASTM D3034), 4 in under, 6 in over.

    Bedding 3 x 4/12 x 100 / 27 = 3.70 cu yd. Shading 3 x 12.275/12 x 100/27 less the pipe,
    pi/4 (6.275/12)^2 x 100/27 = 0.795: 11.366 - 0.795 = 10.57 cu yd.
    """
    pipe = line("s", "sewer", "pvc_sewer", 6, cover_in=36)
    site = trench(pipe, reach={"bottom_width_in": 36}, backfill={"bedding_in": 4, "shading_in": 6})
    (section,) = sections(site).values()
    amounts = quantities(site, section, length_ft=100)
    assert section.slope == 0
    assert amounts.bedding_cy == pytest.approx(3.70, abs=0.005)
    assert sum(amounts.shading_cy) == pytest.approx(10.57, abs=0.005)


def test_truck_loads_by_hand() -> None:
    """100 cu yd in the bank of common earth are 125 loose (FM 5-434 table 1-2): 12.5 trucks of 10 cu yd, 13 loads.

    By weight 125 x 1.25 = 156.25 tons, 11.2 trucks of 14 tons: the volume decides. A truck every 45 minutes, two of
    them: 13 x 45 / 60 / 2 = 4.875 h. With trucks of 20 cu yd the weight decides: 12 loads.
    """
    rates = WorkRates()
    loose = bank_to_loose(100, "common_earth")
    assert loose == 125
    loads = loads_of(loose_cy=loose, tons=loose * rates.spoil_tons_per_cy, rates=rates)
    assert loads == 13
    assert haul_hours(loads, rates) == pytest.approx(4.875)
    assert loads_of(loose_cy=loose, tons=156.25, rates=WorkRates(truck_cy=20)) == 12


def test_asphalt_by_hand() -> None:
    """3 ft wide, 100 ft long, 4 in thick: 100 cu ft, 3.70 cu yd, 7.25 tons at 145 lb/cu ft."""
    site = trench(line("s", "sewer", "pvc_sewer", 6, cover_in=36), reach={"bottom_width_in": 36, "surface": "asphalt"})
    (asphalt,) = (m for m in materials(site) if m.name == "asphalt")
    assert asphalt.amount == pytest.approx(100 / 27)
    assert asphalt.tons == pytest.approx(7.25)
    assert asphalt.loads == 1
