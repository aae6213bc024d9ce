"""How far one pressure or leak test goes: over a whole line where all of it can stand open, else over sections."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from functools import cached_property
from itertools import pairwise
from math import inf

from scheduler.network.pieces import Ground
from scheduler.site.ground import Line, Reach
from scheduler.site.site_record import Site
from scheduler.trench.junctions import junctions
from scheduler.units import TOUCH_FT, format_feet

BEFORE_COVER = ("pressure", "leak")
"""Tests made while the joints can be seen."""


@dataclass(frozen=True, slots=True)
class Tested:
    """Consecutive reaches of a line that are tested in one go, by their ids in the order of its route."""

    line: str
    reaches: tuple[str, ...]
    whole: bool
    """All of the line."""


@dataclass(frozen=True, slots=True)
class Untested:
    """A joint between two reaches of a line that no test takes in."""

    line: str
    before: str
    after: str
    """The reaches that meet there, in the order of its route."""
    stations: tuple[float, float]
    """Where it lies, on the alignment of each of the two [ft]."""
    why: str
    """What parts the test there."""
    laid_in_order: tuple[str, str] = ("", "")
    """The two reaches in the order in which they are laid, the same for all lines across this joint of the trench."""


class LineSections:
    """Cuts the lines of a site into what is tested in one go.

    Reaches are put together along the lines that are tested, in order of the file, as long as they fit in the limits on
    open trench, with what joins them and beside all that is kept open for others. One partition serves all lines: with
    one for each line, tests that overlap would hold ever more trench open, each until the next is made.
    """

    def __init__(self, site: Site, ground: Ground, falling: Sequence[Sequence[str]] = ()) -> None:
        """Take also the reaches of each pipe that falls, from its low end up."""
        self._site, self._ground, self._falling = site, ground, falling
        self._tested = {r.id: r.id for r in site.reaches}
        """Sets of reaches that are tested in one go, as a union-find: each reach names another of its set, the last
        one itself."""
        self._coupled = dict(self._tested)
        """Sets of reaches that have to stand open at once, in the same form."""
        self._leaves = {a.id: a.leaves for a in site.alignments}
        for junction in junctions(site):
            at = [r.id for s in (junction.at, junction.end) for r in ground.along(s.alignment, s.station, s.station)]
            held = [r for r in at if junction.line in ground.spans[r] or junction.into in ground.spans[r]]
            for reach in held[1:]:
                _join(self._coupled, held[0], reach)
        for line in site.lines:
            for one, two in self._joints(line):
                if line.test and line.test.over == "line":
                    self._join(one, two)
        for line in site.lines:
            for one, two in self._joints(line) if self._over_line(line) else ():
                if not self._parted(one, two):
                    self._join(one, two)

    def _over_line(self, line: Line) -> bool:
        return line.test is not None and line.test.kind in BEFORE_COVER and line.test.over != "reach"

    def _joints(self, line: Line) -> Iterator[tuple[str, str]]:
        return pairwise(self._ground.route(line.id))

    def _join(self, one: str, two: str) -> None:
        _join(self._tested, one, two)
        _join(self._coupled, one, two)

    def _together(self, one: str, two: str) -> bool:
        return _find(self._tested, one) == _find(self._tested, two)

    def _open_with(self, *reaches: str) -> list[Reach]:
        """Return all that may have to stand open at once with some reaches: by a test, or where lines join or cross."""
        roots = {_find(self._coupled, r) for r in reaches}
        return [r for r in self._site.reaches if _find(self._coupled, r.id) in roots]

    def _parted(self, one: str, two: str) -> str:
        """Return why two reaches cannot stand open for one test; '' where they can."""
        if self._together(one, two):
            return ""
        for reach in (self._ground.reaches[one], self._ground.reaches[two]):
            if reach.access is not None and reach.access.at_night == "filled":
                return f"{reach.access.what} is dug and filled the same day"
        members, limits = self._open_with(one, two), self._site.limits
        feet = sum(r.to - r.from_ for r in members) + self._kept_ft({r.id for r in members})
        most = limits.open_trench_ft or inf
        if feet > most + TOUCH_FT:
            return f"{format_feet(feet)} would stand open at once, of {format_feet(most)} that may"
        count = len({r.id for r in members} | self._kept)
        if count > (limits.reaches_open or inf):
            return f"{count} reaches would stand open at once, of {limits.reaches_open} that may"
        return ""

    @cached_property
    def _kept(self) -> frozenset[str]:
        """The reaches of which a part stays open for others."""
        return frozenset(r for r, pieces in self._ground.pieces.items() if any(p.keeps for p in pieces))

    def _kept_ft(self, beside: set[str]) -> float:
        """Return the feet that stay open for others in all other reaches."""
        pieces = (p for r, all_ in self._ground.pieces.items() if r not in beside for p in all_)
        return sum(p.length_ft for p in pieces if p.keeps)

    @cached_property
    def of_line(self) -> Mapping[str, tuple[Tested, ...]]:
        """What is tested in one go of each line that is tested before cover, in the order of its route."""
        return {
            line.id: tuple(self._cut(line)) for line in self._site.lines if line.test and line.test.kind in BEFORE_COVER
        }

    def _cut(self, line: Line) -> Iterator[Tested]:
        route = self._ground.route(line.id)
        if self._over_line(line) and all(self._together(route[0], r) for r in route):
            yield Tested(line.id, tuple(route), whole=True)
            return
        section: list[str] = []
        for reach in route:
            if section and not (self._over_line(line) and self._goes_on(section[-1], reach)):
                yield Tested(line.id, tuple(section), whole=False)
                section = []
            section.append(reach)
        if section:
            yield Tested(line.id, tuple(section), whole=len(route) == len(section))

    def _goes_on(self, one: str, two: str) -> bool:
        same = self._ground.reaches[one].alignment == self._ground.reaches[two].alignment
        return same and self._together(one, two)

    def alone(self, line: Line, reach: str) -> bool:
        """Tell whether a line is tested in one reach by itself."""
        at_once = line.test is not None and line.test.over == "line"
        return not at_once and any(t.reaches == (reach,) for t in self.of_line.get(line.id, ()))

    @cached_property
    def untested(self) -> tuple[Untested, ...]:
        """Every joint between two reaches of a line tested before cover that none of its tests takes in."""
        found = []
        for line in self._site.lines:
            for one, two in pairwise(self.of_line.get(line.id, ())):
                before, after = self._ground.reaches[one.reaches[-1]], self._ground.reaches[two.reaches[0]]
                order = self._laid_in_order(before, after)
                why = self._why(line, before, after)
                found.append(Untested(line.id, before.id, after.id, self._meet(before, after), why, order))
        return tuple(found)

    def _meet(self, before: Reach, after: Reach) -> tuple[float, float]:
        """Return where two reaches meet, on the alignment of each."""
        for branch, main, turned in ((after, before, False), (before, after, True)):
            leaves = self._leaves[branch.alignment]
            if leaves is not None and leaves.alignment == main.alignment:
                return (branch.from_, leaves.station) if turned else (leaves.station, branch.from_)
        at = after.from_ if abs(after.from_ - before.to) <= abs(after.to - before.from_) else after.to
        return at, at

    def _laid_in_order(self, before: Reach, after: Reach) -> tuple[str, str]:
        """Return two reaches as they are laid: branch before main, falling pipe from its low end, else by station."""
        if before.alignment != after.alignment:
            leaves = self._leaves[after.alignment]
            out_of = leaves is not None and leaves.alignment == before.alignment
            return (after.id, before.id) if out_of else (before.id, after.id)
        for falling in self._falling:
            if before.id in falling and after.id in falling:
                low, high = sorted((before.id, after.id), key=falling.index)
                return low, high
        if before.alignment == after.alignment and before.from_ > after.from_:
            return after.id, before.id
        return before.id, after.id

    def _why(self, line: Line, before: Reach, after: Reach) -> str:
        if line.test and line.test.over == "reach":
            return "the file asks for a test of each reach by itself"
        if before.alignment != after.alignment:
            return self._parted(before.id, after.id) or "the line turns into another trench there"
        return self._parted(before.id, after.id)


def _find(group: Mapping[str, str], reach: str) -> str:
    while group[reach] != reach:
        reach = group[reach]
    return reach


def _join(group: dict[str, str], one: str, two: str) -> None:
    group[_find(group, two)] = _find(group, one)
