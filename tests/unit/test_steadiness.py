"""How steadily parties work: who takes which piece, moves between stretches, and starts with enough time left."""

from __future__ import annotations

from dataclasses import replace
from random import Random

import pytest

from scheduler.audit import audit
from scheduler.network.dates import first_start, last_start
from scheduler.network.derive import derive
from scheduler.network.kind import Kind
from scheduler.network.model import Activity, Resource, ResourceKind
from scheduler.schedule import Span
from scheduler.solve.formulation.dated import dated
from scheduler.solve.goals import Exposure, Money, VisitsAndTrips
from scheduler.solve.improvement.steady_work import SteadyWork
from scheduler.solve.outcome import Options
from scheduler.solve.run import solve
from scheduler.steadiness import Steadiness, cut_pieces, moves_between_stretches, who_takes
from tests.benchmarks.cost_aims import priced
from tests.benchmarks.site_generator import make_site
from tests.jobs import at, job, task

CREWS = Resource("gang", "Gang", ResourceKind.CREW, 2)
ONE_CREW = replace(CREWS, capacity=1)
QUICK = Options(workers=1, start_effort=0.01, finish_effort=0.02, exposure_effort=0.05, money_effort=0.05)


def in_reach(id_: str, reach: str, hours: float = 1) -> Activity:
    return replace(task(id_, hours, kind=Kind.LAY, needs=(("gang", 1),)), reach=reach)


def one_after_another(ids: tuple[str, ...]) -> dict[str, Span]:
    return {i: (at(0, 8 + k / 2), at(0, 8.5 + k / 2)) for k, i in enumerate(ids)}


def test_a_piece_goes_to_the_crew_that_is_in_its_stretch() -> None:
    """By hand: two crews, each stays where it is; taken as one row the work would change its stretch five times."""
    ids = ("a", "b", "c", "d", "e", "f")
    network = job(*(in_reach(i, "R1" if k % 2 == 0 else "R2") for k, i in enumerate(ids)), resources=(CREWS,))
    dates = {i: (at(0, 8 + k // 2), at(0, 9 + k // 2)) for k, i in enumerate(ids)}
    taken = who_takes(network, CREWS, dates)
    assert [taken[i] for i in ids] == [(0,), (1,)] * 3
    assert moves_between_stretches(network, dates) == 0
    assert moves_between_stretches(replace(network, resources=(ONE_CREW,)), one_after_another(ids)) == 5


def test_work_that_closing_hours_cut_into_minutes_is_counted() -> None:
    """By hand: three hours from 11:30 on are half an hour before noon and two and a half after it; an hour is whole."""
    work = replace(task("a", 3), trade="gang")
    network = job(work)
    assert cut_pieces(network, work, (at(0, 11.5), at(0, 15.5))) == 1
    assert cut_pieces(network, work, (at(0, 8), at(0, 11))) == 0
    assert cut_pieces(network, work, (at(0, 10), at(0, 14))) == 0
    short = replace(task("b", 0.5), trade="gang")
    assert cut_pieces(job(short), short, (at(0, 11.75), at(0, 13.25))) == 0, "no longer than such a piece itself"


def test_bit_by_bit_the_same_is_counted_as_anew() -> None:
    ids = ("a", "b", "c", "d")
    network = job(*(in_reach(i, "R1" if k % 2 == 0 else "R2") for k, i in enumerate(ids)), resources=(ONE_CREW,))
    dates = one_after_another(ids)
    steady = Steadiness(network, dates)
    assert (steady.total, steady.least) == (3, 1)
    swapped = {**dates, "b": dates["c"], "c": dates["b"]}
    assert steady.worse(swapped, ["b", "c"]) == -2
    steady.keep()
    assert steady.total == Steadiness(network, swapped).total == 1


def test_a_party_stays_in_its_stretch_where_that_costs_nothing() -> None:
    """By hand: four pieces of one crew in two stretches, in any order; three moves become one, the finish stays."""
    ids = ("a", "b", "c", "d")
    network = job(*(in_reach(i, "R1" if k % 2 == 0 else "R2", 0.5) for k, i in enumerate(ids)), resources=(ONE_CREW,))
    before = dated(network, one_after_another(ids))
    search = SteadyWork(network, before, keeps=lambda _: True, seed=1)
    search.run(200, lambda: False, lambda _: None)
    after = dated(network, search.dates)
    assert not audit(network, after)
    assert after.finish == before.finish
    assert moves_between_stretches(network, after.dates) == 1


@pytest.mark.parametrize("seed", [1, 3])
def test_steadier_work_costs_nothing_that_is_weighed_before(seed: int) -> None:
    """On random sites: never less steady, nor a later finish, more open trench, money, visits or trips; kept rules."""
    network = derive(priced(Random(seed)))
    plain = solve(network, replace(QUICK, steady_effort=0.0)).schedule
    made, again = (solve(network, replace(QUICK, steady_effort=0.2)).schedule for _ in range(2))
    assert plain is not None
    assert made is not None
    assert made == again, "the same in two runs"
    assert not audit(network, made)
    assert made.finish <= plain.finish
    for goal in (Exposure(), Money(), VisitsAndTrips()):
        assert goal.amount(network, made) <= goal.amount(network, plain), goal.name
    assert Steadiness(network, made.dates).total <= Steadiness(network, plain.dates).total


def test_what_is_told_of_steadiness_is_that_of_the_plan_handed_out() -> None:
    """Moving work early afterwards brings some of it together as well: what the search reached is not what is told."""
    network = derive(make_site(4, 3, "labour"))
    made = solve(network, replace(QUICK, steady_effort=0.5))
    assert made.schedule is not None
    (stage,) = (s for s in made.stages if s.name == "steadiness")
    total = Steadiness(network, made.schedule.dates).total
    assert (stage.value, stage.proved) == (total, total <= stage.bound)


@pytest.mark.parametrize(("hours", "least", "first", "last"), [
    (2, 2, at(0, 13), at(0, 11.5)),  # half an hour before noon at the latest, else after noon
    (2, 0, at(0, 11.75), at(0, 11.75)),
    (0.25, 2, at(0, 11.75), at(0, 11.75)),  # done by noon
])  # fmt: skip
def test_long_work_starts_with_enough_left_of_its_hours(hours: float, least: int, first: int, last: int) -> None:
    activity = task("a", hours, least_start=least)
    network = job(activity)
    assert first_start(network, activity, at(0, 11.75)) == first
    assert last_start(network, activity, at(0, 11.75)) == last
