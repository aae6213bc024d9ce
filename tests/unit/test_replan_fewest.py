"""The fewest appointments that must move, against trying every choice of them."""

from __future__ import annotations

from dataclasses import replace
from itertools import combinations
from random import Random

import pytest

from scheduler.network.kind import Kind
from scheduler.network.model import Link, Network, Resource
from scheduler.network.parties import Party
from scheduler.replan.fewest import fewest_moved
from scheduler.situation.appointments import Appointment
from scheduler.solve.formulation.engine import Engine
from scheduler.solve.outcome import Options, Status
from scheduler.solve.run import solve
from tests.jobs import ALWAYS, at, job, task

TIGHT = (1, 5, 8)
"""Seeds of jobs in which some appointments can be kept, but not all."""


def crowded(rng: Random) -> tuple[Network, list[Appointment], list[int]]:
    """One crew must do every piece of work before its own appointment; the days are too few for all."""
    party = Party("v", "visit", "City", "City", 1, ALWAYS, ())
    work = [task(f"w{i}", rng.choice((4, 6, 8)), needs=(("crew", 1),)) for i in range(4)]
    visits = [task(f"v{i}", 1, "always", kind=Kind.OUTSIDE) for i in range(4)]
    links = tuple(Link(f"w{i} > v{i}", f"w{i}", f"v{i}") for i in range(4))
    net = job(*work, *visits, links=links, resources=(Resource("crew", "the crew"),))
    made = []
    for i in range(4):
        tick = at(rng.randint(0, 2), rng.choice((12, 17)))
        made.append(Appointment(f"a{i}", party, (f"v{i}",), tick, tick + 1, tick, True, False, False))
    return net, made, [rng.randint(1, 3) for _ in made]


def possible(net: Network, kept: list[Appointment]) -> bool:
    """Whether a plan keeps these, asked of the solver with each as a firm booking."""
    fixed = replace(net, bookings=tuple(a.booking(net, firm=True) for a in kept))
    outcome = solve(fixed, Options(only_finish=True))
    assert outcome.status in (Status.OPTIMAL, Status.FEASIBLE, Status.INFEASIBLE)
    return outcome.schedule is not None


@pytest.mark.parametrize("seed", TIGHT)
def test_no_choice_of_appointments_moves_less(seed: int) -> None:
    net, made, weights = crowded(Random(seed))
    found = fewest_moved(Engine(Options()), net, made, weights, effort=2.0)
    assert found is not None
    assert found.proved
    assert 0 < len(found.moved) < len(made)
    assert sum(w for a, w in zip(made, weights, strict=True) if a in found.moved) == found.weight
    assert possible(net, list(found.kept))
    for moved in (c for n in range(4) for c in combinations(range(4), n)):
        if sum(weights[i] for i in moved) < found.weight:
            assert not possible(net, [made[i] for i in range(4) if i not in moved])
