"""New sites: a template with a name, a place, a first day and a length put in, as a draft with its comments."""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass, replace
from datetime import date, timedelta
from functools import cache
from pathlib import Path as File

import scenarios
from scheduler.site.draft import Draft
from scheduler.site.draft_paths import Data, put, scalars, value_at
from scheduler.site.files import opened
from scheduler.site.job_id import EDITOR_LINE, new_job_id
from scheduler.site.yamlwriting import inline
from scheduler.units import format_station, parse_station

NAMES = {"house-service": "A service to a building", "bare": "From the beginning"}
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
    to the new length, and those between move in proportion, to a whole foot.
    """
    text = template_text(template)
    data = _stretched(_days_moved(opened(text, file=template).data, start.first_day), start.length_ft)
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


def _stretched(data: Data, length_ft: float) -> Data:
    """Move stations by the new length of the first alignment."""
    alignment = value_at(data, ("alignments", 0))
    if not alignment:
        return data
    old_ft = float(alignment["length_ft"])
    for path, text in list(scalars(data)):
        if path[-1] in ("from", "to", "station") and path[0] != "keep_open" and "at" not in path:
            share = parse_station(text) / old_ft
            data = put(data, path, format_station(length_ft if share == 1 else round(length_ft * share)))
    return put(data, ("alignments", 0, "length_ft"), inline(float(length_ft)))


def file_name(name: str) -> str:
    """Return a file name made of a site's name: letters, digits and hyphens only, and `.yaml`."""
    return (re.sub(r"[^a-z0-9]+", "-", name.lower()).strip("-")[:40] or "new-site") + ".yaml"
