"""Placing lines across a trench with the least width: positions in whole inches, proved by CP-SAT."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from functools import lru_cache
from itertools import combinations
from typing import get_args

from ortools.sat.python import cp_model

from scheduler.site.ground import LineKind, Reach
from scheduler.trench.book import Book
from scheduler.trench.levels import Levels, Run, room_beside, room_in
from scheduler.trench.separations import horizontal_gap_in, separation
from scheduler.units import format_inches

_UNIT = 100
"""Model units to the inch: diameters and gaps are kept to a hundredth, positions to the inch."""
_TIME_LIMIT_S = 5.0
_LEFT_TO_RIGHT: tuple[LineKind, ...] = get_args(LineKind)
"""Only to break ties the same way every time: power first, gas last."""


@dataclass(frozen=True, slots=True)
class Body:
    """A line to be placed. `beyond_in` is how far past half the bottom width its side may reach.

    Negative: it stays clear of the wall. Positive: the sides slope outwards at its level.
    """

    width_in: float
    beyond_in: float
    fixed_x_in: float | None = None
    home_x_in: float = 0.0
    """Where it would best lie, if the width is the same: in line with the next reach."""
    shoulder_in: float = 0.0
    """Solid ground beside a body on a shelf."""
    beside_in: float = 0.0
    """Least width of the deeper trench beside a body on a shelf."""


@dataclass(frozen=True, slots=True)
class Gap:
    """Two bodies, by index, that keep a sideways gap; with `ordered` the first lies left."""

    first: int
    second: int
    gap_in: float
    ordered: bool = False
    side: int | None = None
    """Gaps with one number put their first body on one and the same side of their second bodies."""


@dataclass(frozen=True, slots=True)
class Packing:
    """Where the bodies lie, and whether the width is proved least."""

    x_in: tuple[float, ...]
    width_in: float
    proved: bool


def _units(inches: float) -> int:
    return math.ceil(inches * _UNIT - 1e-6)


@lru_cache(maxsize=4096)
def pack(bodies: tuple[Body, ...], gaps: tuple[Gap, ...], floor_in: float) -> Packing | None:
    """Place bodies symmetrically about the centreline with the least bottom width [in].

    Bodies with `fixed_x_in` stay where they are. Among layouts of that width the one with
    bodies nearest their homes is taken. None when the fixed bodies leave no room.
    """
    model = cp_model.CpModel()
    far = math.ceil(
        floor_in
        + sum(b.width_in + 2 * (abs(b.beyond_in) + abs(b.fixed_x_in or 0.0) + abs(b.home_x_in)) + 2 for b in bodies)
        + sum(g.gap_in for g in gaps)
    )
    width = model.new_int_var(math.ceil(floor_in - 1e-9), 2 * far, "bottom width")
    x: list[cp_model.IntVar | float] = []
    astray: list[cp_model.IntVar] = []
    for i, body in enumerate(bodies):
        if body.fixed_x_in is not None:
            x.append(body.fixed_x_in)
            least = 2 * (abs(body.fixed_x_in) + body.width_in / 2 - body.beyond_in)
            model.add(width >= math.ceil(least - 1e-9))
            continue
        position = model.new_int_var(-far, far, f"x{i}")
        from_home = model.new_int_var(0, 2 * far, f"astray{i}")
        model.add_abs_equality(from_home, position - round(body.home_x_in))
        reach_out = _units(body.width_in - 2 * body.beyond_in)
        model.add(width * _UNIT >= 2 * _UNIT * position + reach_out)
        model.add(width * _UNIT >= -2 * _UNIT * position + reach_out)
        x.append(position)
        astray.append(from_home)
    sides: dict[int, cp_model.IntVar] = {}
    for gap in gaps:
        if gap.side is not None and gap.side not in sides:
            sides[gap.side] = model.new_bool_var(f"left{gap.side}")
        _keep_apart(model, bodies, x, gap, None if gap.side is None else sides[gap.side])
    for index, on_left in sides.items():
        ledge = _units(bodies[index].width_in + 2.0 * bodies[index].shoulder_in + 2.0 * bodies[index].beside_in)
        model.add(width * _UNIT - 2 * _scaled(x[index]) >= ledge).only_enforce_if(on_left)
        model.add(width * _UNIT + 2 * _scaled(x[index]) >= ledge).only_enforce_if(on_left.negated())
    model.minimize(width * (2 * len(bodies) * far + 1) + sum(astray))
    solver = cp_model.CpSolver()
    solver.parameters.num_workers = 1
    solver.parameters.random_seed = 1
    solver.parameters.max_time_in_seconds = _TIME_LIMIT_S
    status = solver.solve(model)
    if status not in (cp_model.OPTIMAL, cp_model.FEASIBLE):
        return None
    places = tuple(float(p) if isinstance(p, (int, float)) else float(solver.value(p)) for p in x)
    return Packing(x_in=places, width_in=float(solver.value(width)), proved=status == cp_model.OPTIMAL)


def _keep_apart(
    model: cp_model.CpModel,
    bodies: tuple[Body, ...],
    x: list[cp_model.IntVar | float],
    gap: Gap,
    first_left: cp_model.IntVar | None,
) -> None:
    """Add one gap. Two fixed bodies stay as they are: the check speaks about them."""
    a, b = x[gap.first], x[gap.second]
    need = gap.gap_in + (bodies[gap.first].width_in + bodies[gap.second].width_in) / 2
    if isinstance(a, float) and isinstance(b, float):
        return
    right = -_scaled(a) + _scaled(b) >= _units(need)
    if gap.ordered:
        model.add(right)
        return
    left = _scaled(a) - _scaled(b) >= _units(need)
    if first_left is None:
        first_left = model.new_bool_var("")
    model.add(right).only_enforce_if(first_left)
    model.add(left).only_enforce_if(first_left.negated())


def _scaled(position: cp_model.IntVar | float) -> cp_model.LinearExpr | int:
    return round(position * _UNIT) if isinstance(position, float) else position * _UNIT


@dataclass(frozen=True, slots=True)
class Suggestion:
    """A layout for one reach: where lines without an offset go, and what sets the width."""

    reach: str
    x_in: dict[str, float]
    """Centre of every line from the centreline, given or suggested [in]."""
    width_in: float
    """Least bottom width that holds them, people and bucket."""
    governed_by: str
    proved: bool
    suggested: tuple[str, ...]


def layouts(book: Book, levels: Mapping[str, Levels]) -> dict[str, Suggestion]:
    """Return the layout of least bottom width for every reach by id; lines stay where the site puts them.

    Others lie in line with the fullest reach of their alignment, where the width is the same.
    """
    along: dict[str, list[Levels]] = {}
    for one in levels.values():
        along.setdefault(one.reach.alignment, []).append(one)
    in_line = {alignment: _homes(book, reaches) for alignment, reaches in along.items()}
    return {key: _place(book, one, homes=in_line[one.reach.alignment]) for key, one in levels.items()}


def _homes(book: Book, along: Sequence[Levels]) -> dict[str, float]:
    """Return where lines lie in the fullest reach of an alignment, for the others to stay in line with [in]."""
    fullest = max(along, key=lambda levels: sum(r.line.offset_in is None for r in levels.runs))
    if all(r.line.offset_in is not None for r in fullest.runs):
        return {}
    return _place(book, fullest, homes={}).x_in


def _place(book: Book, levels: Levels, *, homes: Mapping[str, float]) -> Suggestion:
    """Place the runs of a reach across it with the least width."""
    runs = sorted(levels.runs, key=lambda r: (_LEFT_TO_RIGHT.index(r.line.kind), r.line.id))
    bodies = tuple(_body(book, levels, r, homes) for r in runs)
    gaps = _gaps(book, levels, runs)
    packing = pack(bodies, tuple(g for g, _ in gaps), levels.floor_in)
    if packing is None:
        packing = Packing(x_in=tuple(b.fixed_x_in or 0.0 for b in bodies), width_in=levels.floor_in, proved=False)
    return Suggestion(
        reach=levels.reach.id,
        x_in={r.line.id: x for r, x in zip(runs, packing.x_in, strict=True)},
        width_in=packing.width_in,
        governed_by=_governed_by(book, levels, runs, bodies, gaps, packing),
        proved=packing.proved,
        suggested=tuple(r.line.id for r in levels.runs if r.line.offset_in is None),
    )


def stands_on_shelf(levels: Levels, run: Run) -> bool:
    """Tell whether a run needs a ledge: it is to lie on a shelf and something lies lower."""
    return run.line.shelf and any(_below_ledge(levels, run, other) for other in levels.runs)


def _below_ledge(levels: Levels, shelved: Run, other: Run) -> bool:
    return not other.line.shelf and other.bottom_in > shelved.bottom_in + levels.bed_in


def _body(book: Book, levels: Levels, run: Run, homes: Mapping[str, float]) -> Body:
    outwards = levels.slope * max(0.0, levels.depth_in - run.bottom_in)
    room = room_in(book, run, levels.reach) + levels.room_beside_in
    fixed = run.line.offset_in
    home = homes.get(run.line.id, 0.0)
    body = Body(width_in=run.width_in, beyond_in=outwards - room, fixed_x_in=fixed, home_x_in=home)
    if not run.line.shelf:
        return body
    shoulder = book.get("shelf-shoulder", reach=levels.reach, lines=[run.line]).value
    people = book.get("width-people", reach=levels.reach).value
    return replace(body, shoulder_in=shoulder, beside_in=people)


def _gaps(book: Book, levels: Levels, runs: list[Run]) -> list[tuple[Gap, str]]:
    reach = levels.reach
    order = book.find("line-order", reach=reach, lines=[r.line for r in runs])
    rank = {kind: i for i, kind in enumerate(order.items)} if order else {}
    gaps = []
    for (i, a), (j, b) in combinations(enumerate(runs), 2):
        asked = separation(book, a.line, b.line, reach)
        high = vertical_gap_in(a, b)
        aside = horizontal_gap_in(asked.value, a.line, b.line, vertical_gap_in=high)
        why = f"{format_inches(asked.value)} ({asked.source})"
        before = rank.get(a.line.kind, 0) - rank.get(b.line.kind, 0) if {a.line.kind, b.line.kind} <= set(rank) else 0
        for k, on_shelf, other in ((i, a, b), (j, b, a)):
            if on_shelf.line.shelf and _below_ledge(levels, on_shelf, other):
                clear, why = _beside_ledge(book, reach, on_shelf, other)
                beside = j if k == i else i
                gaps.append((Gap(first=k, second=beside, gap_in=max(clear, aside), side=k), why))
                break
        else:
            side_by_side = aside > 0.0 or high <= 0.0
            if side_by_side or before:
                gap_in = aside if side_by_side else -(a.width_in + b.width_in) / 2.0
                first, second = (i, j) if before <= 0 else (j, i)
                gaps.append((Gap(first=first, second=second, gap_in=gap_in, ordered=before != 0), why))
    return gaps


def _beside_ledge(book: Book, reach: Reach, on_shelf: Run, lower: Run) -> tuple[float, str]:
    """Return the gap between a pipe on a shelf and a line in the deeper trench beside it [in], and why."""
    shoulder = book.get("shelf-shoulder", reach=reach, lines=[on_shelf.line]).value
    room = room_in(book, lower, reach)
    return shoulder + room, f"{format_inches(shoulder)} of shelf and {format_inches(room)} of room"


def vertical_gap_in(first: Run, second: Run) -> float:
    """Return the clear height between two runs [in]; none where they overlap in height."""
    return max(0.0, first.top_in - second.bottom_in, second.top_in - first.bottom_in)


def _governed_by(
    book: Book,
    levels: Levels,
    runs: list[Run],
    bodies: tuple[Body, ...],
    gaps: list[tuple[Gap, str]],
    packing: Packing,
) -> str:
    """Say what sets the width: the chain of lines and gaps from wall to wall, or what else is wider."""
    if not runs or packing.width_in <= math.ceil(levels.floor_in - 1e-9):
        return levels.floor_because
    at_wall = max(range(len(runs)), key=lambda i: abs(packing.x_in[i]) + bodies[i].width_in / 2.0 - bodies[i].beyond_in)
    outermost = runs[at_wall]
    room = room_beside(book, outermost, levels.reach)
    wall = f"the wall, with {room.inches()} of room ({room.source})," if room.local else "the wall"
    chain = _tight_chain(at_wall, bodies, gaps, packing)
    if len(chain) > 1:
        steps = [f"{why} to {runs[i].line.name}" for i, why in chain[1:]]
        return f"from {wall} inwards: {', '.join([outermost.line.name, *steps])}"
    if bodies[at_wall].beside_in > 0.0:
        return f"{outermost.line.name} on its shelf, and room for people in the deeper trench beside it"
    return f"{outermost.line.name}, {format_inches(abs(packing.x_in[at_wall]))} from the centreline"


def _tight_chain(
    start: int, bodies: tuple[Body, ...], gaps: list[tuple[Gap, str]], packing: Packing
) -> list[tuple[int, str]]:
    """Follow gaps without slack (less than an inch) inwards from the body at the wall."""
    inwards = -1.0 if packing.x_in[start] >= 0 else 1.0
    chain = [(start, "")]
    while True:
        here = chain[-1][0]
        steps = []
        for gap, why in gaps:
            if here not in (gap.first, gap.second):
                continue
            other = gap.second if gap.first == here else gap.first
            clear = inwards * (packing.x_in[other] - packing.x_in[here])
            clear -= (bodies[here].width_in + bodies[other].width_in) / 2.0
            if gap.gap_in - 1e-6 <= clear < gap.gap_in + 1.0:
                steps.append((clear, other, why))
        if not steps:
            return chain
        _, other, why = min(steps)
        chain.append((other, why))
