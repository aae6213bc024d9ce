"""The least that neighbouring stretches can stand open together: a reach and the branches that leave it.

Each such block is searched as a job of its own, of nothing but the work that lies between the digging and the covering
of its stretches, in the days that the whole job leaves it. What is proved of the blocks is then added up so that no
stretch counts twice: the least nights of all stretches, each block open for as long as it must be.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Mapping, Sequence
from concurrent.futures import ThreadPoolExecutor

from ortools.sat.python import cp_model

from scheduler.measures import nights_open
from scheduler.network.dates import reached
from scheduler.network.lowering import among, lower
from scheduler.network.model import Network, Opening
from scheduler.schedule import Schedule
from scheduler.solve.bounds.least_exposure import nights_alone
from scheduler.solve.formulation.constraint_model import build
from scheduler.solve.formulation.engine import Engine
from scheduler.solve.formulation.nights import Nights, feet, nights_of
from scheduler.solve.formulation.precedence import PrecedenceOrder
from scheduler.solve.formulation.time_windows import TimeWindows

MOST_BLOCKS = 12
"""Blocks looked at, those first whose stretches stand open for longest beyond what each must alone: a choice."""
LEAST_EFFORT = 0.3
"""For one block; with less nothing is proved, and making its model alone takes time: a choice."""
SUM_TIME = 0.2
"""Of the solver's own units of work, for adding up the blocks: a choice, far more than a street takes."""


def blocks_of(network: Network) -> list[list[Opening]]:
    """Return the stretches of each reach of a street with those of the branches that leave it, and all others alone."""
    stretches: dict[str, list[Opening]] = {}
    for opening in (o for o in network.openings if feet(o) > 0):
        stretches.setdefault(opening.reach, []).append(opening)
    along = {a.reach: a.alignment for a in network.activities}
    runs = Counter(along[reach] for reach in stretches)
    rooms = [Counter(network.by_id[use.first].reach for use in c.uses) for c in lower(network).capacities if c.is_room]
    blocks = {}
    for reach in (r for r in stretches if runs[along[r]] > 1):
        own = max(rooms, key=lambda room: room[reach], default=Counter[str]())  # the room of the reach itself
        others = own.keys() & stretches.keys() if own[reach] else set()
        blocks[reach] = {reach} | {r for r in others if along[r] != along[reach]}
    held = set().union(*blocks.values())
    blocks |= {reach: {reach} for reach in stretches if reach not in held}
    return [[o for reach in stretches if reach in block for o in stretches[reach]] for block in blocks.values()]


def least_of_blocks(engine: Engine, frame: TimeWindows, plan: Schedule, effort: float) -> int:
    """Return an exposure that no plan of a frame goes below, found within an effort [tenths of ft nights].

    `plan` only tells which blocks are worth a look. A search that is broken off leaves what it has proved by then.
    """
    alone = nights_alone(frame)
    worth = [b for b in blocks_of(frame.network) if _beyond(frame.network, plan, b, alone) > 0]
    worth = sorted(worth, key=lambda block: -_beyond(frame.network, plan, block, alone))[:MOST_BLOCKS]
    if effort < LEAST_EFFORT * len(worth) or not worth:
        return sum_of_blocks(frame.network, alone, {})
    with ThreadPoolExecutor(max(1, engine.options.workers)) as pool:
        found = list(pool.map(lambda block: least_of_block(engine, frame, block, alone, effort / len(worth)), worth))
    proved = {frozenset(o.id for o in block): least for block, least in zip(worth, found, strict=True)}
    return sum_of_blocks(frame.network, alone, proved)


def sum_of_blocks(network: Network, alone: Mapping[str, int], proved: Mapping[frozenset[str], int]) -> int:
    """Return the least exposure of all stretches, each block as long open as proved [tenths of ft nights].

    `alone` has by opening the nights that it must stand open; `proved` by the openings of a block what they must
    amount to together. Whole nights are sought, so a solver of whole numbers adds up more than linear sums would.
    """
    stretches = [o for o in network.openings if o.id in alone]
    model, most = cp_model.CpModel(), max(proved.values(), default=0)
    nights = {o.id: model.new_int_var(alone[o.id], alone[o.id] + most, o.id) for o in stretches}
    for block, least in proved.items():
        model.add(cp_model.LinearExpr.sum([feet(o) * nights[o.id] for o in stretches if o.id in block]) >= least)
    model.minimize(cp_model.LinearExpr.sum([0, *(feet(o) * nights[o.id] for o in stretches)]))
    solver = cp_model.CpSolver()
    solver.parameters.num_workers = 1
    solver.parameters.max_deterministic_time = SUM_TIME
    status = solver.solve(model)
    bound = round(solver.best_objective_bound) if status in (cp_model.OPTIMAL, cp_model.FEASIBLE) else 0
    return max(bound, sum(feet(o) * alone[o.id] for o in stretches))


def _beyond(network: Network, plan: Schedule, block: Iterable[Opening], alone: Mapping[str, int]) -> int:
    """Return by how much the stretches of a block stand open longer in a plan than each must alone."""
    nights = nights_open(network, plan.dates)
    return sum(feet(o) * (nights[o.id] - alone[o.id]) for o in block)


def least_of_block(
    engine: Engine, frame: TimeWindows, block: Sequence[Opening], alone: Mapping[str, int], effort: float
) -> int:
    """Return what the stretches of a block must stand open together, as far as proved [tenths of ft nights]."""
    if engine.stopped:
        return 0
    part = frame.of(among(frame.network, work_between(frame.network, block)))
    search = build(part, PrecedenceOrder(part.network))
    nights = Nights(search)
    least = sum(feet(o) * alone[o.id] for o in block)
    amount = cp_model.LinearExpr.sum([feet(o) * nights_of(search, nights, o, alone[o.id]) for o in block])
    nights.chain()
    search.model.add(amount >= least)
    search.model.minimize(amount)
    found = engine.run(search, effort=effort, from_below=True)
    return max(least, round(found.bound)) if found.sound else least


def work_between(network: Network, block: Iterable[Opening]) -> set[str]:
    """Return the work that links put between the digging and the covering of some stretches."""
    after: dict[str, list[str]] = {}
    before: dict[str, list[str]] = {}
    for link in lower(network).links:
        ends = (link.after, link.before) if link.at_most else (link.before, link.after)
        after.setdefault(ends[0], []).append(ends[1])
        before.setdefault(ends[1], []).append(ends[0])
    kept: set[str] = set()
    for o in block:
        later, sooner = reached([o.opens], lambda a: after.get(a, ())), reached([o.closes], lambda a: before.get(a, ()))
        kept |= {o.opens, o.closes} | (later & sooner)
    return kept
