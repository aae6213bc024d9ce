"""What a new record begins with: filled on from the one before it, so that nobody types the same thing twice."""

from __future__ import annotations

from typing import Any

from app.components.form_state import blank
from scheduler.site.editor import Data, SitePart, known_ids, rows_at, value_at
from scheduler.units import format_station, parse_amount, parse_station


def begun(part: SitePart, data: Data) -> dict[str, Any]:
    """Return a new record of a part: an id of its own, names of which there is but one, and what the last one says."""
    rows = [row for row in rows_at(data, (part.key,)) if isinstance(row, dict)]
    new: dict[str, Any] = blank(part.fields, data)
    if any(f.key == "id" for f in part.fields):
        new = {"id": _free_id(part, rows)} | new
    for field in part.fields:
        last = rows[-1].get(field.key) if rows and field.required and field.names_in else None
        if last in known_ids(data, field.names_in):
            new[field.key] = last
    if part.key == "reaches":
        new |= _next_reach(rows, data)
    if part.key == "lines":
        new |= {"route": rows[-1]["route"]} if rows and rows[-1].get("route") else _whole_run(data)
    return new


def _free_id(part: SitePart, rows: list[dict[str, Any]]) -> str:
    """Return an id that no record of a part has."""
    taken = {row.get("id") for row in rows}
    word = part.noun.replace(" ", "-")
    return next(i for n in range(1, len(taken) + 2) if (i := f"{word}-{n}") not in taken)


def _next_reach(rows: list[dict[str, Any]], data: Data) -> dict[str, Any]:
    """Return the stretch after the last reach, as far as its alignment goes."""
    alignment = rows[-1].get("alignment") if rows else next(iter(known_ids(data, ("alignments",))), None)
    if alignment is None:
        return {}
    ends = [s for row in rows if row.get("alignment") == alignment for s in (_feet(row.get("to")),) if s is not None]
    start, end = max(ends, default=0.0), _length_ft(alignment, data)
    new = {"alignment": alignment, "from": format_station(start)}
    return new if end is None or end <= start else new | {"to": format_station(end)}


def _whole_run(data: Data) -> dict[str, Any]:
    """Return a route along all reaches of the first alignment that has any."""
    reaches = [row for row in rows_at(data, ("reaches",)) if isinstance(row, dict)]
    alignment = next((row.get("alignment") for row in reaches), None)
    mine = [row for row in reaches if row.get("alignment") == alignment]
    stations = [s for row in mine for s in (_feet(row.get("from")), _feet(row.get("to"))) if s is not None]
    if alignment is None or not stations:
        return {}
    ends = {"from": format_station(min(stations)), "to": format_station(max(stations))}
    return {"route": [{"alignment": alignment} | ends]}


def _feet(station: object) -> float | None:
    try:
        return parse_station(station)
    except ValueError:
        return None


def _length_ft(alignment: str, data: Data) -> float | None:
    rows = [row for row in rows_at(data, ("alignments",)) if isinstance(row, dict)]
    given = next((value_at(row, ("length_ft",)) for row in rows if row.get("id") == alignment), None)
    try:
        return parse_amount(str(given), "ft")
    except ValueError:
        return None
