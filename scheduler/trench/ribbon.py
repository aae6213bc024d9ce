"""Warning ribbon: which lines want one, and how deep it lies."""

from __future__ import annotations

from collections.abc import Sequence

from scheduler.site.ground import Line, Reach
from scheduler.site.model import Site
from scheduler.trench.book import Book
from scheduler.trench.levels import Run

SERVICE_RIBBON_FROM_IN = 18.0
"""NFPA 70 300.5(D)(3): service conductors buried this deep or deeper."""


def ribbon_asked(book: Book, run: Run, reach: Reach) -> bool:
    """Tell whether a rule asks for a ribbon over a run: service conductors, or what a sheet names."""
    line = run.line
    service = line.kind in ("power", "lighting") and line.use == "service" and run.top_in >= SERVICE_RIBBON_FROM_IN
    asked = book.find("ribbon", reach=reach, lines=[line], built_in=1.0 if service else 0.0)
    return asked is not None and asked.value > 0


def has_ribbon(book: Book, run: Run, reach: Reach) -> bool:
    """Tell whether the run gets a ribbon: as the site says, else as the rules ask."""
    line: Line = run.line
    return ribbon_asked(book, run, reach) if line.warning_ribbon is None else line.warning_ribbon


def ribbon_depths(site: Site, book: Book, reach: Reach, runs: Sequence[Run]) -> tuple[float, ...]:
    """Return the depths of the ribbons of a reach below grade [in], the lowest first.

    A depth written in the site file is kept; the default rises where a line lies too near.
    """
    ribboned = [r for r in runs if has_ribbon(book, r, reach)]
    if not ribboned:
        return ()
    depth = site.backfill.ribbon_below_grade_in
    if "ribbon_below_grade_in" not in site.backfill.model_fields_set:
        above = book.get("ribbon-height", reach=reach, lines=[r.line for r in ribboned]).value
        depth = max(0.0, min(depth, min(r.top_in for r in ribboned) - above))
    count = book.find("ribbon-count", reach=reach, lines=[r.line for r in ribboned], built_in=1.0)
    number = max(1, round(count.value)) if count else 1
    return tuple(depth * (number - k) / number for k in range(number))
