"""What an inspector sees in the trench: how each line lies in each reach, and what stands at single stations.

Names, trades and owners are no part of it: changing them changes nothing that was seen. Neither are the ids of
reaches: what counts is the alignment and the stations.
"""

from __future__ import annotations

import hashlib
import json
from collections import defaultdict
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from typing import Any

from scheduler.units import TOUCH_FT

TRENCH = ""
"""Stands for the trench itself where the id of a line would stand."""


@dataclass(frozen=True, slots=True)
class Lying:
    """A line in one stretch where nothing about it changes, or the trench itself there (`line` is TRENCH)."""

    alignment: str
    from_ft: float
    to_ft: float
    line: str
    layer: int | None
    design: str
    """How it lies, in words a program can compare."""
    points: tuple[tuple[float, str], ...] = ()
    """What stands at single stations of it, such as a bend or a box."""


def as_text(value: Any) -> str:
    """Write plain data in the one form that is compared and hashed."""
    return json.dumps(value, sort_keys=True, separators=(",", ":"))


class Designs:
    """Looks up how lines lie, and gives the digest of what is to be seen of one in a stretch."""

    def __init__(self, lying: Iterable[Lying]) -> None:
        parts: dict[tuple[str, str], list[Lying]] = defaultdict(list)
        for part in lying:
            parts[part.alignment, part.line].append(part)
        self._parts: Mapping[tuple[str, str], list[Lying]] = {
            k: sorted(v, key=lambda p: (p.from_ft, p.to_ft, p.design)) for k, v in parts.items()
        }
        self._digests: dict[tuple[str, str, float, float], str] = {}

    def of(self, line: str) -> list[Lying]:
        """Return every part of a line, by alignment and station."""
        return [part for (_, id_), parts in self._parts.items() if id_ == line for part in parts]

    def within(self, alignment: str, line: str, from_ft: float, to_ft: float) -> list[Lying]:
        """Return the parts of a line that share length with a stretch."""
        parts = self._parts.get((alignment, line), ())
        return [p for p in parts if min(p.to_ft, to_ft) - max(p.from_ft, from_ft) > TOUCH_FT]

    def digest(self, alignment: str, line: str, from_ft: float, to_ft: float) -> str:
        """Return the SHA-256 of what is to be seen of a line in a stretch; the same wherever reaches are cut."""
        key = (alignment, line, from_ft, to_ft)
        if key not in self._digests:
            said = as_text(
                [self._runs(alignment, line, from_ft, to_ft), self._seen_at(alignment, line, from_ft, to_ft)]
            )
            self._digests[key] = hashlib.sha256(said.encode()).hexdigest()
        return self._digests[key]

    def _runs(self, alignment: str, line: str, from_ft: float, to_ft: float) -> list[list[Any]]:
        """Return how it lies from station to station, parts that lie alike joined."""
        runs: list[list[Any]] = []
        for part in self.within(alignment, line, from_ft, to_ft):
            lo, hi = max(part.from_ft, from_ft), min(part.to_ft, to_ft)
            if runs and runs[-1][2] == part.design and abs(runs[-1][1] - lo) <= TOUCH_FT:
                runs[-1][1] = hi
            else:
                runs.append([lo, hi, part.design])
        return [[round(lo, 2), round(hi, 2), design] for lo, hi, design in runs]

    def _seen_at(self, alignment: str, line: str, from_ft: float, to_ft: float) -> list[list[Any]]:
        """Return what stands at single stations; an end of the line at the edge of the stretch is not seen from it."""
        found = {
            (round(at, 2), said)
            for part in self.within(alignment, line, from_ft, to_ft)
            for at, said in part.points
            if from_ft - TOUCH_FT <= at <= to_ft + TOUCH_FT
            and not (said == '"end"' and (at - from_ft <= TOUCH_FT or to_ft - at <= TOUCH_FT))
        }
        return [list(pair) for pair in sorted(found)]
