"""What a new job takes over from the site file it starts from, and what it must not: people, bookings, numbers."""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path as File
from typing import Any

from scheduler.site.draft import Draft
from scheduler.site.draft_paths import Data, put, rows_at
from scheduler.site.people import Person
from scheduler.whole_files import write_new

_OF_ANOTHER = (("locate_tickets", ("number", "clear")), ("permits", ("number",)))
"""What was given to the other job by somebody: answers and numbers. Permits that were granted go as a whole."""


def made_own(draft: Draft, maker: Person, *, with_people: bool) -> Draft:
    """Return a new site as a job of its maker's own: without what was booked and granted for another.

    The maker stands in it in their role, from now on and without end. Without the others, what named one of them is
    left to their firm. Whoever alone may release something stays: without them it would be held by nobody.
    """
    data = put(draft.data, ("bookings",), None)
    for section, fields in _OF_ANOTHER:
        for k, row in enumerate(rows_at(data, (section,))):
            for field in fields:
                if isinstance(row, dict) and field in row:
                    data = put(data, (section, k, field), None)
    waited_for = [row for row in rows_at(data, ("permits",)) if isinstance(row, dict) and row.get("step")]
    data = put(data, ("permits",), waited_for or None)  # one without a step was granted, and not to this job
    data = data if with_people else _without_people(data, maker.id)
    own = {key: getattr(maker, key) for key in ("id", "name", "role", "of", "phone", "mail") if getattr(maker, key)}
    others = [p for p in rows_at(data, ("people",)) if p.get("id") != maker.id]
    return draft.changed(put(data, ("people",), [own, *others]), "begun")


def _without_people(data: Data, but: str) -> Data:
    """Return data without people, but for those who alone may release something, and without the names of the rest."""
    people = {p["id"]: p for p in rows_at(data, ("people",)) if isinstance(p, dict) and "id" in p}
    firms = {w.get("id"): w.get("by") for w in rows_at(data, ("outside_work",))}
    needed = {but, *(s.get("released_by") for s in rows_at(data, ("own_work",)))}
    for k, stretch in enumerate(rows_at(data, ("keep_open",))):
        named = people.get(stretch.get("released_by"))
        if named is not None and named.get("of") and named["of"] == firms.get(stretch.get("until")):
            data = put(data, ("keep_open", k, "released_by"), None)  # then that firm's own people release it
        elif named is not None:
            needed.add(named["id"])
    kept = [p for id_, p in people.items() if id_ in needed]
    data = put(data, ("people",), kept)
    for section, field in (("trades", "contact"), ("inspections", "released_by"), ("people", "deputy_of")):
        for k, row in enumerate(rows_at(data, (section,))):
            if _names_another(row, field, needed):
                data = put(data, (section, k, field), None)
    return data


def _names_another(row: Mapping[str, Any], field: str, kept: set[Any]) -> bool:
    return row.get(field) is not None and row[field] not in kept


def write_beside(draft: Draft, folder: File, name: str) -> File:
    """Write a new site into a folder under a name that no file there has; return its file.

    Raises FileExistsError where there is one of that name, and OSError where it cannot be written.
    """
    file = folder / f"{name}.yaml"
    write_new(file, draft.text())
    return file
