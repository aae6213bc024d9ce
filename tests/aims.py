"""What the aims of a plan to choose come to on tiny jobs, against trying every combination of starts."""

from __future__ import annotations

from dataclasses import replace
from random import Random

from scheduler.audit import audit
from scheduler.network.contingency import with_contingency
from scheduler.network.model import Network, ResourceKind
from scheduler.solve.goals import Cost, Exposure, Goal, VisitsAndTrips
from scheduler.solve.margin import LIMIT, STEP, most_margin, never_longer
from scheduler.solve.outcome import Options
from scheduler.solve.run import pursue_from, solve
from tests.unit.test_solve_random import DAY, every_plan, tiny_trench

GOALS: tuple[Goal, ...] = (VisitsAndTrips(), Cost(), Exposure())
OPTIONS = Options(workers=1)


def priced(network: Network, rng: Random) -> Network:
    """Return a tiny job whose crew is paid by the day, by the day without work, and at least so much a coming."""
    day, standing = rng.choice((0.0, 6.0)), rng.choice((0.0, 4.0))
    machine, crew = network.resources
    crew = replace(crew, kind=ResourceKind.CREW, day_rate=day, standing_rate=standing, stay_days=1)
    (party,) = network.mobilisations
    paid = replace(party, cost=rng.choice((None, party.cost)), crew="crew", least=rng.choice((None, 0.0, 15.0, 25.0)))
    soft = tuple(replace(b, move_cost=rng.choice((None, b.move_cost))) for b in network.bookings)
    return replace(network, resources=(machine, crew), mobilisations=(paid,), bookings=soft)


def aims_differ(seed: int) -> list[str]:
    """Return, of one tiny job, each aim for which the search and trying everything differ; one word: nothing to try."""
    rng = Random(seed)
    network = priced(tiny_trench(rng), Random(seed))
    plans = every_plan(network)
    begun = solve(network, replace(OPTIONS, only_finish=True))
    if not plans or begun.schedule is None:
        return ["no plan"] if not plans and begun.schedule is None else [f"{seed}: only one of them finds a plan"]
    days, found = rng.choice((0.0, 1.0, 2.0)), []
    last = min(p.finish for p in plans) + days * DAY
    for goal in GOALS:
        reached = pursue_from(network, begun, begun.schedule, [(goal, 8.0)], days=days, options=OPTIONS)
        assert reached.schedule is not None
        best = min(goal.amount(network, p) for p in plans if p.finish <= last)
        stage = next(s for s in reached.stages if s.name == goal.name)
        amount = goal.amount(network, reached.schedule)
        if audit(network, reached.schedule) or amount != best or not stage.proved or reached.schedule.finish > last:
            found.append(f"{seed}: {goal.name} {amount} of {best}, {stage.proved}")
    return found


def margin_differs(seed: int) -> list[str]:
    """Return, of one tiny job, what the most margin under a finish and trying every step differ in."""
    rng = Random(seed)
    network = replace(tiny_trench(rng), target=None)
    begun = solve(network, replace(OPTIONS, only_finish=True))
    if begun.schedule is None:
        return ["no plan"]
    by = begun.schedule.finish + rng.choice((0, 1, DAY, 2 * DAY))
    most = most_margin(network, begun, by, OPTIONS)
    steps = range(STEP, LIMIT + 1, STEP)
    kept = [p for p in steps if any(s.finish <= by for s in every_plan(with_contingency(network, p)))]
    assert most.outcome.schedule is not None
    if audit(with_contingency(network, most.percent), most.outcome.schedule) or most.outcome.schedule.finish > by:
        return [f"{seed}: no plan with {most.percent} %"]
    if most.beyond is not None and most.proved != (most.beyond not in kept and never_longer(network)):
        return [f"{seed}: {most.beyond} % is proved impossible: {most.proved}; plans with {kept}"]
    if never_longer(network) and most.percent != max(kept, default=0):
        return [f"{seed}: {most.percent} % of {kept}"]
    return []
