"""New sites: a template with a name, a place, a first day and a length put in, as a draft with its comments."""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass, replace
from datetime import date, timedelta
from functools import cache
from pathlib import Path as File
from typing import Any

import scenarios
from scheduler.site.draft import Draft
from scheduler.site.draft_paths import Data, put, scalars, value_at
from scheduler.site.fields import bare_name, unit_in_name, write_station
from scheduler.site.files import opened
from scheduler.site.job_id import EDITOR_LINE, new_job_id
from scheduler.site.yamlwriting import inline
from scheduler.units import (
    Units,
    counted_length,
    counted_unit,
    format_amount,
    format_counted,
    near_station,
    parse_amount,
    parse_station,
    to_millimetre,
    told_in,
)

STATIONS = ("from", "to", "station")
NAMES = {"house-service": "A service to a building", "bare": "From the beginning"}
SHORTEST_FT, LONGEST_FT = 1.0, 20_000.0
"""Of the main trench of a new site."""
_DAY = re.compile(r"(\d{4}-\d\d-\d\d)(.*)")


@dataclass(frozen=True, slots=True)
class Start:
    """What is asked before a new site is begun."""

    name: str
    first_day: date
    length_ft: float = 100.0
    """Of the main trench."""
    time_zone: str = "America/Denver"
    country: str = "US"
    state: str = ""
    """Empty: none."""
    units: Units = "feet"
    """In which the site is written and told."""


@cache
def template_text(template: str) -> str:
    """Return the text of a template by its name, one of `NAMES`."""
    text = (File(scenarios.__file__).parent / "templates" / f"{template}.yaml").read_text(encoding="utf-8")
    return _without_editor_line(text)


def _without_editor_line(text: str) -> str:
    """Leave out where an editor finds the schema: that does not lie beside the new file."""
    return EDITOR_LINE.sub(b"", text.encode()).decode()


def about(template: str) -> str:
    """Return the first line of what a template says of itself."""
    return template_text(template).split("\n", 1)[0].removeprefix("# ")


def new_site(template: str, start: Start) -> Draft:
    """Return a draft of a new site; nothing in it has been saved anywhere.

    Dates move with the first day. Stations at the end of the template's first alignment move
    to the new length, and those between move in proportion, to a whole foot or a tenth of a metre.
    """
    text = template_text(template)
    length_ft = to_millimetre(start.length_ft) if start.units == "metres" else start.length_ft
    data = _stretched(_days_moved(opened(text, file=template).data, start.first_day), length_ft, start.units)
    if start.units == "metres":
        data = _with_metric_amounts(data) | {"site": data["site"] | {"units": "metres"}}
    told = {
        "name": start.name.strip() or None,
        "job_id": new_job_id(),
        "time_zone": start.time_zone,
        "country": start.country.strip() or None,
        "state": start.state.strip() or None,
        "first_day": start.first_day.isoformat(),
    }
    return _begun(text, data, told, file_name(start.name))


def copied_site(text: str, *, name: str, first_day: date | None = None) -> Draft:
    """Return a draft of a new site that says what the text of a sound site file says, as a job of its own.

    It has a job id that no other job has, and its own name; with a first day given, all dates move with it.
    """
    text = _without_editor_line(text)
    data: Data = opened(text, file=name).data
    told = {"name": name, "job_id": new_job_id()}
    if first_day is not None:
        data = _days_moved(data, first_day)
    return _begun(text, data, told, file_name(name))


def _begun(text: str, data: Data, told: Mapping[str, str | None], file: str) -> Draft:
    """Return a draft that says `data` in the words of `text`, with what was told of the job put in."""
    for key, value in told.items():
        data = put(data, ("site", key), value)
    draft = replace(Draft.of_text(text, name=file), data=data)
    # The new file starts from this text, so it is not a change to anything.
    return Draft.of_text(draft.text(), name=file)


def _days_moved(data: Data, first_day: date) -> Data:
    """Move all dates so that the first day is the one given."""
    days = first_day - date.fromisoformat(data["site"]["first_day"])
    for path, text in list(scalars(data)):
        if found := _DAY.fullmatch(text):
            data = put(data, path, f"{date.fromisoformat(found[1]) + timedelta(days=1) * days.days}{found[2]}")
    return data


def _stretched(data: Data, length_ft: float, units: Units) -> Data:
    """Move stations by the new length of the first alignment, which is put in where there is none yet."""
    alignment = value_at(data, ("alignments", 0))
    if not alignment:
        return data | {"alignments": [{"id": "main", "name": "Main trench", "length_ft": inline(float(length_ft))}]}
    old_ft = float(alignment["length_ft"])
    for path, text in list(scalars(data)):
        if path[-1] in STATIONS:
            with told_in("feet"):  # as every template is written
                feet = parse_station(text)
            moves = path[0] != "keep_open" and "at" not in path
            with told_in(units):
                if not moves:  # what was long enough must stay so
                    feet = parse_amount(format_counted(counted_length(feet, up=True), counted_unit()), "ft")
                elif feet == old_ft:
                    feet = length_ft
                else:
                    feet = near_station(feet * length_ft / old_ft)
                station = write_station(feet)
            data = put(data, path, station if isinstance(station, str) else inline(station))
    return put(data, ("alignments", 0, "length_ft"), inline(float(length_ft)))


def _with_metric_amounts(inside: Any) -> Any:
    """Return data of a template, whose bare numbers are feet and inches, as amounts with metric units.

    Nominal sizes stay what they are called: `size: 2 in`.
    """
    if isinstance(inside, list):
        return [_with_metric_amounts(one) for one in inside]
    if not isinstance(inside, dict):
        return inside
    found = {}
    for key, value in inside.items():
        unit = unit_in_name(key)
        if not unit or not isinstance(value, str):
            found[key] = _with_metric_amounts(value)
        elif key == "size_in":
            found[bare_name(key)] = f"{value} {unit}"
        else:
            with told_in("metres"):
                found[bare_name(key)] = format_amount(float(value), unit, exact=True)
    return found


def file_name(name: str) -> str:
    """Return a file name made of a site's name: letters, digits and hyphens only, and `.yaml`."""
    return (re.sub(r"[^a-z0-9]+", "-", name.lower()).strip("-")[:40] or "new-site") + ".yaml"
