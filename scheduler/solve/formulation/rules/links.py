"""Links: which end of one activity waits for which end of another.

On the work-time axis a working-time lag is often, and an elapsed lag nearly never, a plain
shift. Its map is cut into pieces, each a shift or a fixed tick, with one literal each; or,
where that takes fewer literals, into the shifts that occur.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from ortools.sat.python import cp_model

from scheduler.network.lowering import lower
from scheduler.network.model import Link
from scheduler.solve.formulation.time_windows import AFTER_EDGE, BEFORE_EDGE, TimeWindows
from scheduler.solve.formulation.variables import Expr, Search, domain_of, only_if
from scheduler.worktime.axis import Ticks

FAR_TICK = 1 << 30


@dataclass(frozen=True, slots=True)
class LagPiece:
    """Where `before` is at one of `values`: after >= before + by, or after >= by when not `shifts`."""

    values: Ticks
    by: int
    shifts: bool


def add_links(search: Search) -> None:
    """Add every link; of those that say no more than that one activity follows another, one for each pair."""
    followed: set[tuple[str, str]] = set()
    for link in lower(search.frame.network).links:
        if search.frame.is_plain(link):
            if (link.before, link.after) in followed:
                continue
            followed.add((link.before, link.after))
        add_link(search, link)


def add_link(search: Search, link: Link) -> None:
    """Add one link."""
    before, after = search.placed[link.before], search.placed[link.after]
    if before.fixed and after.fixed and search.frame.is_part:
        return
    a, b = before.edge(BEFORE_EDGE[link.type]), after.edge(AFTER_EDGE[link.type])
    guard = search.guard(link.id, link.because)
    if search.frame.is_plain(link):
        only_if(search.model.add(b >= a), guard)
        return
    values, low, high = right_hand_sides(search.frame, link, loose=search.guarded)
    shift = _common(low - values, high - values)
    if shift is not None:
        only_if(_add_bound(search, a + shift, b, link), guard)
        return
    pieces = fewest_pieces(values, low, high)
    nearest = min(int(np.min(high - values)), FAR_TICK)
    if not link.at_most and not guard:
        search.model.add(b >= a + nearest)
    chosen = [search.model.new_bool_var(f"{link.id} piece {i}") for i in range(len(pieces))]
    only_if(search.model.add_exactly_one(chosen) if not guard else search.model.add_bool_or(chosen), guard)
    for piece, literal in zip(pieces, chosen, strict=True):
        search.model.add_linear_expression_in_domain(a, domain_of(piece.values)).only_enforce_if(literal)
        bound = a + piece.by if piece.shifts else piece.by
        _add_bound(search, bound, b, link).only_enforce_if(literal)


def _add_bound(search: Search, limit: Expr, after: Expr, link: Link) -> cp_model.Constraint:
    return search.model.add(after <= limit if link.at_most else after >= limit)


def right_hand_sides(frame: TimeWindows, link: Link, *, loose: bool = False) -> tuple[Ticks, Ticks, Ticks]:
    """Return, for each tick the `before` end may take, the least and greatest bound on `after` that say the same.

    Bounds between two ticks that `after` may take all cut off the same ones. With `loose`
    both ends may take any tick of the axis.
    """
    anywhere = np.arange(len(frame.axis) + 1, dtype=np.int64)
    values = anywhere if loose else np.unique(frame.edge_ticks(link.before, BEFORE_EDGE[link.type]))
    targets = anywhere if loose else np.unique(frame.edge_ticks(link.after, AFTER_EDGE[link.type]))
    due = frame.lag_map(link)[values]
    padded = np.concatenate(([-FAR_TICK], targets, [FAR_TICK]))
    if link.at_most:
        at = np.searchsorted(targets, due, side="right")
        return values, padded[at], padded[at + 1] - 1
    at = np.searchsorted(targets, due)
    return values, padded[at] + 1, padded[at + 1]


def _common(low: Ticks, high: Ticks) -> int | None:
    least, most = int(low.max()), int(high.min())
    return most if least <= most and abs(most) < FAR_TICK // 2 else (least if least <= most else None)


def fewest_pieces(values: Ticks, low: Ticks, high: Ticks) -> list[LagPiece]:
    """Cut a lag's map into runs that are a shift or a fixed tick; or into shifts if those are far fewer."""
    runs: list[LagPiece] = []
    first = 0
    while first < len(values):
        moved = _run(low - values, high - values, first)
        still = _run(low, high, first)
        count, by = max(moved, still)
        runs.append(LagPiece(values[first : first + count], by, shifts=(count, by) == moved))
        first += count
    shifts = _shifts(values, low - values, high - values)
    return shifts if 3 * len(shifts) <= len(runs) else runs


def _run(low: Ticks, high: Ticks, first: int, look: int = 256) -> tuple[int, int]:
    """Return how many intervals from `first` on share a point, and that point."""
    least = np.maximum.accumulate(low[first : first + look])
    most = np.minimum.accumulate(high[first : first + look])
    if (least > most).any():
        count = int(np.argmin(least <= most))
    elif first + look < len(low):
        return _run(low, high, first, 4 * look)
    else:
        count = len(least)
    return count, int(most[count - 1]) if most[count - 1] < FAR_TICK // 2 else int(least[count - 1])


def _shifts(values: Ticks, low: Ticks, high: Ticks) -> list[LagPiece]:
    """Cover all intervals of shifts with the fewest points."""
    pieces: list[LagPiece] = []
    left = np.ones(len(values), dtype=bool)
    while left.any():
        by = int(high[left].min())
        covered = left & (low <= by) & (by <= high)
        pieces.append(LagPiece(values[covered], by, shifts=True))
        left &= ~covered
    return pieces
