"""Where people stand who work at the ends of a run or a line, and not in one reach."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from scheduler.site.ground import Branch, Line
from scheduler.units import TOUCH_FT

Part = tuple[str, float, float]
"""Part of a route: alignment, and its lower and higher station [ft]."""
Stand = tuple[str, float]
"""A place on the ground: alignment and station [ft]."""


def line_ends(line: Line, branches: Mapping[str, Branch]) -> tuple[Stand, ...]:
    """Return where a line ends: at the ends of its route, and of each arm of it."""
    parts = [(s.alignment, min(s.from_, s.to), max(s.from_, s.to)) for s in line.route]
    return loose_ends(parts, branches)


def loose_ends(parts: Sequence[Part], branches: Mapping[str, Branch]) -> tuple[Stand, ...]:
    """Return the ends of parts that join no other of them, in order; all ends where they form a ring.

    `branches` says where each branch alignment leaves another.
    """
    ends = [(n, (on, station)) for n, (on, lo, hi) in enumerate(parts) for station in (lo, hi)]
    loose = [end for n, end in ends if not any(_meets(end, p, branches) for k, p in enumerate(parts) if k != n)]
    return tuple(dict.fromkeys(loose or [end for _, end in ends]))


def _meets(end: Stand, part: Part, branches: Mapping[str, Branch]) -> bool:
    """Tell whether an end lies on another part: on its alignment, or where one of the two branches off the other."""
    (on, station), (other, lo, hi) = end, part
    if on == other:
        return lo - TOUCH_FT <= station <= hi + TOUCH_FT
    leaves, left = branches.get(on), branches.get(other)
    if leaves and leaves.alignment == other and station <= TOUCH_FT:
        return lo - TOUCH_FT <= leaves.station <= hi + TOUCH_FT
    return bool(left and left.alignment == on and lo <= TOUCH_FT and abs(left.station - station) <= TOUCH_FT)
