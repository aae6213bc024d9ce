"""What every layout check looks at, and what it reports before places are merged."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from itertools import combinations

from scheduler.findings import Severity
from scheduler.site.faults import Path
from scheduler.site.ground import Line, Reach, Structure
from scheduler.site.site_record import Site
from scheduler.trench.along import stretch_within
from scheduler.trench.book import Book
from scheduler.trench.rule import Value
from scheduler.trench.section import sections_by
from scheduler.trench.section_records import PlacedLine, Section
from scheduler.trench.sheets import SheetEntry


@dataclass(frozen=True, slots=True)
class Spot:
    """One place where one rule is not kept. Spots of one rule and subject with the same words become one finding."""

    rule: str
    subject: tuple[str, ...]
    """What it is about: line ids, or a structure's or reach's id."""
    alignment: str
    """Empty: not at a place on the ground."""
    from_ft: float
    to_ft: float
    text: str
    found: str
    required: str
    source: str
    gap: float = 0.0
    """How far it misses, to put the worst of several places first."""
    remedy: str = ""
    severity: Severity | None = None
    """None: the rule's own."""
    place: str = ""
    """Said instead of stations where there are none."""
    path: Path = ()
    """The value of the site file that it is about, where there is one to point at."""
    entry: SheetEntry | None = None
    """The entry of a rule sheet that it is about."""


@dataclass(frozen=True)
class View:
    """A site with its rules, its sections, and records by id."""

    site: Site
    book: Book
    sections: dict[str, Section]
    lines: dict[str, Line]

    @classmethod
    def of(cls, site: Site, book: Book | None = None) -> View:
        """Work out the sections of a site, by a given book or its own; raises BadInput as `Book` does."""
        book = book or Book(site)
        return cls(
            site=site,
            book=book,
            sections=sections_by(site, book),
            lines={line.id: line for line in site.lines},
        )

    def placed(self) -> Iterator[tuple[Reach, Line, PlacedLine]]:
        """Yield every line of every reach, as it lies there."""
        for reach in self.site.reaches:
            for placed in self.sections[reach.id].placed:
                yield reach, self.lines[placed.line], placed

    def pairs(self) -> Iterator[tuple[Reach, tuple[Line, PlacedLine], tuple[Line, PlacedLine]]]:
        """Yield every two lines that share a part of a reach."""
        for reach in self.site.reaches:
            for first, second in combinations(self.sections[reach.id].placed, 2):
                a, b = self.lines[first.line], self.lines[second.line]
                if shared_stretch(a, b, reach):
                    yield reach, (a, first), (b, second)

    def reach_at(self, alignment: str, station_ft: float) -> Reach | None:
        """Return a reach that holds a station; at a joint, the one that begins there."""
        holding = [
            r
            for r in self.site.reaches
            if r.alignment == alignment and min(r.from_, r.to) - 1e-6 <= station_ft <= max(r.from_, r.to) + 1e-6
        ]
        return max(holding, key=lambda r: min(r.from_, r.to), default=None)

    def lines_of(self, structure: Structure) -> list[Line]:
        """Return the lines of a structure that the site knows."""
        return [self.lines[i] for i in structure.lines if i in self.lines]


def shared_stretch(first: Line, second: Line, reach: Reach) -> tuple[float, float] | None:
    """Return the span of a reach in which two lines lie side by side [ft], or None."""
    spans = [
        (max(a, c), min(b, d))
        for a, b in stretch_within(first, reach)
        for c, d in stretch_within(second, reach)
        if min(b, d) - max(a, c) > 1e-6
    ]
    return (min(s for s, _ in spans), max(t for _, t in spans)) if spans else None


def span_in(line: Line, reach: Reach) -> tuple[float, float]:
    """Return the span of a reach that a line passes [ft]."""
    parts = stretch_within(line, reach)
    return min(a for a, _ in parts), max(b for _, b in parts)


def line_spot(
    line: Line,
    reach: Reach,
    asked: Value,
    words: str,
    *,
    found: str,
    required: str,
    gap: float = 0.0,
    remedy: str = "",
    span: tuple[float, float] | None = None,
) -> Spot:
    """Return where a line in a reach, or in a span of it [ft], does not keep what is asked; `words` follow its name."""
    start, end = span or span_in(line, reach)
    return Spot(
        rule=asked.rule,
        subject=(line.id,),
        alignment=reach.alignment,
        from_ft=start,
        to_ft=end,
        text=f"{line.name} {words}",
        found=found,
        required=required,
        source=asked.source,
        gap=gap,
        remedy=remedy,
    )


def span_of(reach: Reach) -> tuple[float, float]:
    """Return a reach's own span [ft], the lower station first."""
    return min(reach.from_, reach.to), max(reach.from_, reach.to)
