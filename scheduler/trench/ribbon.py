"""Warning ribbon: which lines want one, and how deep it lies."""

from __future__ import annotations

from collections.abc import Sequence

from scheduler.site.ground import Line, Reach
from scheduler.site.site_record import Site
from scheduler.trench.book import Book
from scheduler.trench.levels import Run
from scheduler.trench.rule import Value

SERVICE_RIBBON_FROM_IN = 18.0
"""NFPA 70 300.5(D)(3): service conductors buried this deep or deeper."""


def ribbon_asked(book: Book, line: Line, reach: Reach, *, top_in: float) -> Value | None:
    """Return the rule that asks for a ribbon over a line: for service conductors, or from a sheet."""
    service = line.kind in ("power", "lighting") and line.use == "service" and top_in >= SERVICE_RIBBON_FROM_IN
    return book.asks("ribbon", reach=reach, lines=[line], built_in=service)


def has_ribbon(book: Book, run: Run, reach: Reach) -> bool:
    """Tell whether the run gets a ribbon: as the site says, else as the rules ask."""
    if run.line.warning_ribbon is None:
        return ribbon_asked(book, run.line, reach, top_in=run.top_in) is not None
    return run.line.warning_ribbon


def ribbon_depths(site: Site, book: Book, reach: Reach, runs: Sequence[Run]) -> tuple[float, ...]:
    """Return the depths of the ribbons of a reach below grade [in], the lowest first.

    A depth written in the site file is kept, with further ribbons evenly above it. Else a
    sheet's depths hold, else the usual depth, raised where a line lies too near.
    """
    ribboned = [r for r in runs if has_ribbon(book, r, reach)]
    if not ribboned:
        return ()
    lines = [r.line for r in ribboned]
    depth = site.backfill.ribbon_below_grade_in
    if "ribbon_below_grade_in" not in site.backfill.model_fields_set:
        asked = book.find("ribbon-depths", reach=reach, lines=lines)
        if asked is not None:
            return tuple(sorted((float(d) for d in asked.items), reverse=True))
        heights = book.find("ribbon-heights", reach=reach, lines=lines)
        if heights is not None:
            top = min(r.top_in for r in ribboned)
            return tuple(sorted((max(0.0, top - float(h)) for h in heights.items), reverse=True))
        above = book.get("ribbon-height", reach=reach, lines=lines).value
        depth = max(0.0, min(depth, min(r.top_in for r in ribboned) - above))
    count = book.find("ribbon-count", reach=reach, lines=lines)
    number = max(1, round(count.value)) if count else 1
    return tuple(depth * (number - k) / number for k in range(number))
