"""The site from above, to scale along its alignments: the one picture that every page shows.

What the record says is drawn with full strokes, earth and hatch; what is only planned with thin lines.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from functools import cached_property
from xml.etree.ElementTree import Element

from app.figures.alignment_paths import Point, along, at_station, direction, laid_out
from app.figures.free_spots import BOLD_PX, LETTER_PX, LINE_PX, Anchor, FreeSpots, Spot
from app.figures.palette import MARKS
from app.figures.svg_parts import CROSS, EYE, HAND, LAMP, part, polyline, ring, sign, titled, words, written
from app.once import once
from app.short_names import trenches_in_short
from scheduler.site import Alignment, Line, Reach, Site, Surrounding
from scheduler.situation import LayerState
from scheduler.units import METRES_PER_FOOT, format_feet, format_station, metric

_LAID = (LayerState.LAID, LayerState.TESTED, LayerState.SEEN, LayerState.COVERED)
_BESIDE_PX, _MARGIN_PX = 26.0, 40.0
"""Room for words to the left and right of the trenches, and above and below them."""
_DISC_PX = 9.0
"""Radius of the disc behind a sign."""
_SHARES = (0.5, 0.35, 0.65, 0.2, 0.8)
"""Where the name of a trench may stand along it."""
_WIDE_PX = 640.0
"""From such a width on a drawing has room for wide trenches and large signs."""


@dataclass(frozen=True, slots=True)
class _Sizes:
    """How large things are drawn, in pixels: a trench for each line in it, at least and at most, and a sign."""

    lane: float
    least: float
    most: float
    sign: float


_SMALL, _LARGE = _Sizes(4.5, 12.0, 22.0, 0.72), _Sizes(7.0, 16.0, 34.0, 1.0)


@dataclass(frozen=True, slots=True)
class LayerDrawn:
    """One layer of a stretch: what is on record of it, and its lines by id."""

    state: LayerState
    lines: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class StretchDrawn:
    """A stretch of trench as the picture shows it. Stations in feet."""

    key: str
    """What is told when it is touched."""
    alignment: str
    from_ft: float
    to_ft: float
    said: str
    """All that is shown of it, in words, for those who do not see it."""
    layers: tuple[LayerDrawn, ...]
    """The lowest first."""
    is_open: bool = False
    """Whether it is dug, or its dig has begun, and it is not filled again."""
    digging: bool = False
    """Whether its dig has begun and is not finished."""
    filled: bool = False
    """Whether all of it is filled, not only its layers shaded."""
    here: str = ""
    """Who is there now."""
    holds: int = 0
    """How many of its hold points are not released."""
    failed: bool = False
    unreported: bool = False
    """Whether the plan has it further by now than the record."""
    picked: bool = False
    at_night: bool = False
    """Whether it stands open this night."""

    @property
    def outline(self) -> str:
        """How its edge is drawn, by what is recorded."""
        return "filled" if self.filled else "digging" if self.digging else "open" if self.is_open else "not-dug"


def site_from_above(
    site: Site, stretches: Sequence[StretchDrawn], *, wide: float, tallest: float, planned: bool = False
) -> str:
    """Return the site as a drawing in SVG, so many pixels wide and at most so many high.

    Its root says for a scale how many pixels a foot takes, or a metre on a site in metres.

    `planned` draws what the plan has by a day, all of it in thin open lines.
    """
    return _drawing(site, tuple(stretches), wide, tallest, planned)


@once(1)
def _drawing(site: Site, stretches: tuple[StretchDrawn, ...], wide: float, tallest: float, planned: bool) -> str:
    return _SiteDrawing(site, wide, tallest, planned=planned).drawn(stretches)


class _SiteDrawing:
    def __init__(self, site: Site, wide: float, tallest: float, *, planned: bool) -> None:
        self._site, self._planned = site, planned
        self._size = _LARGE if wide >= _WIDE_PX else _SMALL
        self._paths = {a.id: laid_out(site, a) for a in site.alignments}
        things = [_face(thing, self._paths[thing.alignment]) for thing in site.surroundings]
        seen = [p for points in [*self._paths.values(), *things] for p in points]
        self._left, right = min(x for x, _ in seen), max(x for x, _ in seen)
        low, self._top = min(y for _, y in seen), max(y for _, y in seen)
        across, up = max(right - self._left, 1.0), max(self._top - low, 1.0)
        room = 2 * _MARGIN_PX + self._size.most
        self._scale = min((wide - 2 * _BESIDE_PX) / across, max(40.0, tallest - room) / up)
        self._wide, self._tall = wide, min(tallest, up * self._scale + room + LINE_PX)
        self._aside = (wide - across * self._scale) / 2
        self._called = {a.id: a.name for a in site.alignments} if wide >= _WIDE_PX else trenches_in_short(site)
        self._told: list[tuple[str, Point]] = []
        self._spots = FreeSpots((2.0, wide - 2.0), (1.0, self._tall - 1.0))
        for alignment in site.alignments:
            if alignment.leaves is not None:  # drawn from the edge of the trench that it leaves
                self._paths[alignment.id] = self._moved_out(alignment)

    def _moved_out(self, alignment: Alignment) -> list[Point]:
        assert alignment.leaves is not None
        path = self._paths[alignment.id]
        (ux, uy), by = direction(path, 0.0), self._across_px(alignment.leaves.alignment) / 2 / self._scale
        return [(x + by * ux, y + by * uy) for x, y in path]

    def drawn(self, stretches: Sequence[StretchDrawn]) -> str:
        """Return the drawing as text."""
        unit = 1.0 / METRES_PER_FOOT if metric() else 1.0
        fields = {
            "class": "from-above",
            "role": "group",
            "aria-label": "Site from above",
            "data-unit-px": f"{unit * self._scale:.4f}",
            "data-unit": "m" if metric() else "ft",
        }
        root = Element("svg", fields)
        for thing in self._site.surroundings:
            self._beside(root, thing)
        order = sorted(stretches, key=lambda s: self._parent[s.alignment] is None)
        for stretch in order:
            self._stretch(root, stretch)
        for alignment in self._site.alignments:
            self._keep_free(alignment)
        self._names(root)
        for stretch in order:
            if stretch.here:
                middle = self._run(stretch.alignment, (stretch.from_ft + stretch.to_ft) / 2, stretch.to_ft)[0]
                self._write(root, stretch.here, middle, "here", self._round(stretch.alignment), needed=True)
        for reach in self._site.reaches:
            self._way_across(root, reach, stretches)
        self._things(root)
        for stretch in order:
            self._marks(root, stretch)
        self._stations(root)
        root.set("viewBox", self._cropped())
        return written(root)

    def _cropped(self) -> str:
        """Return the box of the drawing without what is empty above and below."""
        edges = [y for _, top, _, bottom in self._spots.taken for y in (top, bottom)] or [0.0, self._tall]
        edges += [self._at(p)[1] for t in self._site.surroundings for p in _face(t, self._paths[t.alignment])]
        top, bottom = max(0.0, min(edges) - 4.0), min(self._tall, max(edges) + 4.0)
        return f"0 {top:.0f} {self._wide:.0f} {bottom - top:.0f}"

    @cached_property
    def _parent(self) -> Mapping[str, str | None]:
        return {a.id: a.leaves.alignment if a.leaves else None for a in self._site.alignments}

    def _at(self, point: Point) -> Point:
        right, down = (point[0] - self._left) * self._scale, (self._top - point[1]) * self._scale
        return self._aside + right, _MARGIN_PX + self._size.most / 2 + down

    def _run(self, alignment: str, from_ft: float, to_ft: float, aside_px: float = 0.0) -> list[Point]:
        """Return a part of an alignment on the drawing, moved to its right."""
        points = along(self._paths[alignment], from_ft, to_ft, aside_px / self._scale)
        return [self._at(p) for p in points]

    def _across_px(self, alignment: str) -> float:
        """Return how wide the trench of an alignment is drawn."""
        count = sum(any(s.alignment == alignment for s in line.route) for line in self._site.lines)
        return min(self._size.most, max(self._size.least, self._size.lane * count))

    def _round(self, alignment: str, *, least: float = 0.0, rows: int = 3) -> tuple[Spot, ...]:
        """Return the places for words about a point of a trench, clear of it, in so many rows on each side."""
        clear = max(self._across_px(alignment) / 2, least) + LINE_PX / 2 + 2.0
        beside_it = [up for n in range(rows) for up in (clear + n * LINE_PX, -clear - n * LINE_PX)]
        anchors: tuple[Anchor, ...] = ("center", "left", "right")
        beside = [(anchor, 0.0, up) for up in beside_it for anchor in anchors]
        return (*beside, ("left", clear, 0.0), ("right", -clear, 0.0))

    def _keep_free(self, alignment: Alignment) -> None:
        """Keep words off a trench."""
        half = self._across_px(alignment.id) / 2
        count = max(2, int(alignment.length_ft * self._scale / half))
        for n in range(count + 1):
            at = self._at(at_station(self._paths[alignment.id], n * alignment.length_ft / count))
            self._block(at, half)

    def _stretch(self, root: Element, stretch: StretchDrawn) -> None:
        fields = {"data-stretch": stretch.key, "tabindex": "0", "role": "button", "aria-label": stretch.said}
        group = part(root, "g", "stretch picked" if stretch.picked else "stretch", **fields)
        half, start = self._across_px(stretch.alignment) / 2, stretch.from_ft
        middle = self._run(stretch.alignment, start, stretch.to_ft)
        polyline(group, middle, "touch", stroke_width=max(44.0, 2 * half))
        edge = self._run(stretch.alignment, start, stretch.to_ft, -half)
        edge += self._run(stretch.alignment, start, stretch.to_ft, half)[::-1]
        part(group, "path", f"trench {self._outline(stretch)}", d=ring(edge))
        tall = 2 * half / len(stretch.layers)
        for n, layer in enumerate(stretch.layers):
            self._layer(group, stretch, layer, (half - (n + 0.5) * tall, tall))

    def _outline(self, stretch: StretchDrawn) -> str:
        if not self._planned:
            return stretch.outline
        dug = any(layer.state is not LayerState.NOT_DUG for layer in stretch.layers)
        return "planned planned-open" if dug else "planned"

    def _layer(self, group: Element, stretch: StretchDrawn, layer: LayerDrawn, lane: tuple[float, float]) -> None:
        """Draw a layer in its lane, given by its middle and its width in pixels: its earth, its lines, its signs."""
        (aside, tall), start, end = lane, stretch.from_ft, stretch.to_ft
        if layer.state is LayerState.COVERED and self._planned:
            for by in (-0.25, 0.0, 0.25):
                polyline(group, self._run(stretch.alignment, start, end, aside + by * tall), "planned-earth")
        elif layer.state is LayerState.COVERED and not stretch.filled:
            polyline(group, self._run(stretch.alignment, start, end, aside), "earth", stroke_width=tall)
        lines = [line for line in self._site.lines if line.id in layer.lines]
        for n, line in enumerate(lines):
            by = aside + (n - (len(lines) - 1) / 2) * tall / max(len(lines), 1) * 0.9
            self._line(group, stretch, layer, line, by)
        if layer.state is LayerState.SEEN:
            middle = self._run(stretch.alignment, (start + end) / 2, end, aside)[0]
            sign(group, EYE, middle, "planned-eye" if self._planned else "eye")

    def _line(self, group: Element, stretch: StretchDrawn, layer: LayerDrawn, line: Line, by: float) -> None:
        """Draw a line: thick where it is laid, thin where it is to be; of a plan only what it has laid by then."""
        laid, mark = layer.state in _LAID, MARKS[line.kind]
        if self._planned and not laid:
            return
        how = "planned-line" if self._planned else "laid" if laid else "to-lay"
        for low, high in _within(line, stretch):
            points = self._run(stretch.alignment, low, high, by)
            titled(polyline(group, points, f"line {how} {mark.dash}", stroke=mark.colour), f"{mark.label} {line.name}")
            if layer.state in (LayerState.TESTED, LayerState.SEEN):
                self._ticks(group, stretch, (low, high), by)

    def _ticks(self, group: Element, stretch: StretchDrawn, run: tuple[float, float], by: float) -> None:
        """Draw small ticks across a laid line: it is tested."""
        for n in range(1, 6):
            station = run[0] + n * (run[1] - run[0]) / 6
            ends = [self._run(stretch.alignment, station, station, by + side)[0] for side in (-3.0, 3.0)]
            polyline(group, ends, "planned-tick" if self._planned else "tick")

    def _marks(self, root: Element, stretch: StretchDrawn) -> None:
        """Draw, on top of all stretches, what needs somebody's eye, the gravest first: as many as have room."""
        found = [(CROSS, "failed")] if stretch.failed else []
        found += [(HAND, "hand")] if stretch.holds else []
        found += [("?", "question")] if stretch.unreported and not stretch.failed else []
        found += [(LAMP, "lamp")] if stretch.at_night else []
        long_ft = stretch.to_ft - stretch.from_ft
        room = max(1, int(long_ft * self._scale / (2 * _DISC_PX * self._size.sign)))
        for n, (what, name) in enumerate(found[:room]):
            station = stretch.from_ft + (n + 0.5) * long_ft / len(found[:room])
            at = self._run(stretch.alignment, station, stretch.to_ft)[0]
            if name == "question":
                self._badge(root, what, at)
            else:
                self._sign(root, what, at, name)

    def _sign(self, root: Element, path: str, at: Point, name: str) -> None:
        self._disc(root, at)
        sign(root, path, at, name, size=self._size.sign)

    def _badge(self, root: Element, text: str, at: Point) -> None:
        self._disc(root, at)
        words(root, text, at, "question")

    def _disc(self, root: Element, at: Point) -> None:
        part(root, "circle", "behind", cx=at[0], cy=at[1], r=_DISC_PX * self._size.sign)
        self._block(at, _DISC_PX * self._size.sign)

    def _block(self, at: Point, half: float) -> None:
        self._spots.taken.append((at[0] - half, at[1] - half, at[0] + half, at[1] + half))

    def _way_across(self, root: Element, reach: Reach, stretches: Sequence[StretchDrawn]) -> None:
        """Draw a way over the trench: a bar across it at each side, thick where open trench lies in the way."""
        if reach.access is None:
            return
        half = self._across_px(reach.alignment) / 2 + 7.0
        middle, wide = (reach.from_ + reach.to) / 2, reach.access.width_ft or abs(reach.to - reach.from_)
        here = [s for s in stretches if s.alignment == reach.alignment and s.from_ft < middle < s.to_ft]
        shut = any(s.is_open for s in here)
        for station in (middle - wide / 2, middle + wide / 2):
            ends = [self._run(reach.alignment, station, station, by)[0] for by in (-half, half)]
            bar = polyline(root, ends, "way shut" if shut else "way")
            titled(bar, f"{reach.access.what}: the trench may block it only {reach.access.closed_only}")
        at = self._run(reach.alignment, middle, middle)[0]
        self._write(root, reach.access.what, at, "note", self._round(reach.alignment))

    def _things(self, root: Element) -> None:
        for existing in self._site.existing:
            at, mark = self._at(at_station(self._paths[existing.alignment], existing.station)), MARKS[existing.kind]
            sign(root, CROSS, at, "crossing", size=self._size.sign, turn=45.0).set("stroke", mark.colour)
            self._write(root, f"{mark.label} crosses", at, "note", self._round(existing.alignment))
        for structure in self._site.structures:
            x, y = self._at(at_station(self._paths[structure.alignment], structure.station))
            square = part(root, "rect", "structure", x=x - 4.0, y=y - 4.0, width=8.0, height=8.0)
            titled(square, structure.name)
            self._block((x, y), 4.0)
            self._write(root, structure.kind.replace("_", " "), (x, y), "note", self._round(structure.alignment))
        for kept in self._site.keep_open:
            low, high = min(kept.from_, kept.to), max(kept.from_, kept.to)
            half = self._across_px(kept.alignment) / 2 + 4.0
            for by in (-half, half):
                polyline(root, self._run(kept.alignment, low, high, by), "keep-open")
            at = self._run(kept.alignment, (low + high) / 2, high)[0]
            self._write(root, "keep open", at, "note", self._round(kept.alignment, least=half))

    def _beside(self, root: Element, thing: Surrounding) -> None:
        face = [self._at(p) for p in _face(thing, self._paths[thing.alignment])]
        drawn = polyline(root, face, "beside overhead" if thing.what == "overhead_line" else "beside")
        titled(drawn, f"{thing.said}, {format_feet(thing.distance_ft)} from the centreline")
        self._told.append((thing.said.removeprefix("the "), face[0]))

    def _names(self, root: Element) -> None:
        """Write the name of each trench: beside the end of one that leaves another, else where there is room.

        Where there is none, it stands in a corner; on a small drawing not at all.
        """
        for alignment in sorted(self._site.alignments, key=lambda a: a.leaves is None):
            path, first = self._paths[alignment.id], alignment.leaves is None
            places = [self._at(at_station(path, s * alignment.length_ft)) for s in (_SHARES if first else (1.0,))]
            name, spots = self._called[alignment.id], self._round(alignment.id)
            if not any(self._write(root, name, at, "name", spots) for at in places) and first and self._size is _LARGE:
                top, bottom = LINE_PX / 2 + 2.0, self._tall - LINE_PX / 2 - 2.0
                corners: tuple[Spot, ...] = (("left", 0.0, -top), ("left", 0.0, -bottom))
                self._write(root, name, (4.0, 0.0), "name", corners, needed=True)

    def _stations(self, root: Element) -> None:
        for alignment in self._site.alignments:
            for station in _stops(alignment.length_ft, after=alignment.leaves is not None):
                at = self._at(at_station(self._paths[alignment.id], station))
                self._write(root, format_station(station), at, "station", self._round(alignment.id, rows=1))
        for text, at in self._told:
            self._write(root, text, at, "note", (("center", 0.0, 9.0), ("left", 0.0, -9.0), ("right", 0.0, -9.0)))

    def _write(
        self, root: Element, text: str, at: Point, name: str, places: tuple[Spot, ...], *, needed: bool = False
    ) -> bool:
        """Write words beside a point where they have room; tell whether they were."""
        letter = BOLD_PX if name in ("name", "here") else LETTER_PX
        spot = self._spots.place(text, at, places, needed=needed, letter_px=letter)
        if spot is not None:
            anchor, right, up = spot
            ends = {"left": "start", "center": "middle", "right": "end"}[anchor]
            words(root, text, (at[0] + right, at[1] - up), name, anchor=ends)
        return spot is not None


def _within(line: Line, stretch: StretchDrawn) -> list[tuple[float, float]]:
    """Return where a line runs in a stretch, from station to station."""
    spans = [(min(s.from_, s.to), max(s.from_, s.to)) for s in line.route if s.alignment == stretch.alignment]
    met = [(max(low, stretch.from_ft), min(high, stretch.to_ft)) for low, high in spans]
    return [(low, high) for low, high in met if low < high]


def _face(thing: Surrounding, path: list[Point]) -> list[Point]:
    """Return the face of a thing beside the trench, as plan coordinates [ft]."""
    return along(path, *thing.span, thing.distance_ft if thing.side == "right" else -thing.distance_ft)


def _stops(length_ft: float, *, after: bool) -> list[float]:
    """Return the even stations to write along an alignment, without the first one where it leaves another."""
    step = 50.0 if not metric() else 20.0 / METRES_PER_FOOT
    stops = [k * step for k in range(int(length_ft // step) + 1)]
    return stops[1:] if after else stops
