"""The trench cut up: which lines lie in which reach, and reaches split at keep-open ends."""

from __future__ import annotations

import itertools
from bisect import bisect_left, bisect_right
from collections import defaultdict
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from functools import cached_property

from scheduler.network.network_draft import Place
from scheduler.site.ground import KeepOpen, Line, Reach
from scheduler.site.site_record import Site
from scheduler.units import TOUCH_FT, format_station

Interval = tuple[float, float]


@dataclass(frozen=True, slots=True)
class Piece:
    """A reach, or the part of one that is covered on its own.

    `id` is the reach's id, with `:1`, `:2` … in order of stations when the reach is split.
    """

    id: str
    reach: str
    alignment: str
    from_ft: float
    to_ft: float
    keeps: tuple[KeepOpen, ...] = ()
    """The keep-open stretches that this piece belongs to."""

    @property
    def events(self) -> frozenset[str]:
        """The outside work that must be done before this piece is covered."""
        return frozenset(k.until for k in self.keeps)

    @property
    def length_ft(self) -> float:
        """Length along the alignment [ft]."""
        return self.to_ft - self.from_ft

    @property
    def place(self) -> Place:
        """Where its activities stand."""
        return Place(self.reach, self.alignment, self.from_ft, self.to_ft)

    @property
    def stations(self) -> str:
        """Its stations as a person writes them."""
        return f"{format_station(self.from_ft)} to {format_station(self.to_ft)}"


def overlap(a: Interval, b: Interval) -> Interval | None:
    """Return the common part of two intervals of stations, None when they only touch."""
    lo, hi = max(a[0], b[0]), min(a[1], b[1])
    return (lo, hi) if hi - lo > TOUCH_FT else None


class Ground:
    """Where things lie along the alignments, found without scanning the whole site."""

    def __init__(self, site: Site) -> None:
        self.reaches: Mapping[str, Reach] = {r.id: r for r in site.reaches}
        self.lines: Mapping[str, Line] = {line.id: line for line in site.lines}
        self._on: dict[str, list[Reach]] = defaultdict(list)
        for reach in sorted(site.reaches, key=lambda r: (r.alignment, r.from_, r.to)):
            self._on[reach.alignment].append(reach)
        self._starts = {a: [r.from_ for r in reaches] for a, reaches in self._on.items()}
        self._longest = {a: max(r.to - r.from_ for r in reaches) for a, reaches in self._on.items()}
        self._keeps: dict[str, list[KeepOpen]] = defaultdict(list)
        for keep in sorted(site.keep_open, key=lambda k: (k.alignment, k.from_)):
            self._keeps[keep.alignment].append(keep)
        self._site = site

    def along(self, alignment: str, lo: float, hi: float) -> list[Reach]:
        """Return the reaches of an alignment that touch or overlap [lo, hi], in order of stations."""
        reaches = self._on.get(alignment, [])
        if not reaches:
            return []
        starts = self._starts[alignment]
        i = bisect_left(starts, lo - self._longest[alignment] - TOUCH_FT)
        j = bisect_right(starts, hi + TOUCH_FT)
        return [r for r in reaches[i:j] if r.to >= lo - TOUCH_FT]

    def reach_at(self, alignment: str, station: float) -> Reach | None:
        """Return the reach that holds a station; where two meet, the one that begins there."""
        found = self.along(alignment, station, station)
        inside = [r for r in found if r.from_ <= station + TOUCH_FT]
        return inside[-1] if inside else (found[0] if found else None)

    @cached_property
    def spans(self) -> Mapping[str, Mapping[str, tuple[Interval, ...]]]:
        """Stations that each line takes in each reach: reach id, then line id, in file order."""
        out: dict[str, dict[str, list[Interval]]] = {r: {} for r in self.reaches}
        for line in self.lines.values():
            for stretch in line.route:
                lo, hi = sorted((stretch.from_, stretch.to))
                for reach in self.along(stretch.alignment, lo, hi):
                    part = overlap((lo, hi), (reach.from_, reach.to))
                    if part:
                        out[reach.id].setdefault(line.id, []).append(part)
        return {r: {k: tuple(v) for k, v in lines.items()} for r, lines in out.items()}

    def route(self, line: str) -> list[str]:
        """Return the reaches of a line in the order of its route."""
        out: dict[str, None] = {}
        for stretch in self.lines[line].route:
            lo, hi = sorted((stretch.from_, stretch.to))
            found = [r.id for r in self.along(stretch.alignment, lo, hi) if overlap((lo, hi), (r.from_, r.to))]
            out.update(dict.fromkeys(found if stretch.from_ <= stretch.to else reversed(found)))
        return list(out)

    def feet(self, line: str, pieces: Sequence[Piece]) -> float:
        """Return how many feet of a line lie in pieces of one reach."""
        total = 0.0
        for piece in pieces:
            for span in self.spans[piece.reach].get(line, ()):
                part = overlap(span, (piece.from_ft, piece.to_ft))
                total += part[1] - part[0] if part else 0.0
        return total

    @cached_property
    def pieces(self) -> Mapping[str, tuple[Piece, ...]]:
        """The pieces of each reach, in order of stations."""
        return {reach.id: self._split(reach) for reach in self._site.reaches}

    def _split(self, reach: Reach) -> tuple[Piece, ...]:
        whole = (reach.from_, reach.to)
        keeps = [(part, k) for k in self._keeps.get(reach.alignment, ()) if (part := overlap(whole, _ends(k)))]
        cuts = sorted({*whole, *(end for part, _ in keeps for end in part)})
        cuts = [c for i, c in enumerate(cuts) if i == 0 or c - cuts[i - 1] > TOUCH_FT]
        bounds = list(itertools.pairwise(cuts))
        out = []
        for n, (lo, hi) in enumerate(bounds, 1):
            kept = tuple(k for part, k in keeps if overlap(part, (lo, hi)))
            id_ = reach.id if len(bounds) == 1 else f"{reach.id}:{n}"
            out.append(Piece(id_, reach.id, reach.alignment, lo, hi, kept))
        return tuple(out)


def _ends(keep: KeepOpen) -> Interval:
    return (min(keep.from_, keep.to), max(keep.from_, keep.to))
