"""Names: what refers to a record must find it, ids are unique, nothing waits for itself.

These checks read the plain data of a file (dicts, lists, text) rather than records, so that
a record with a fault in one field still has its names checked, and still can be referred to.
"""

from __future__ import annotations

from collections.abc import Collection, Iterator, Mapping
from graphlib import CycleError, TopologicalSorter
from typing import Any

from scheduler.site.faults import Fault, Path, nearest, short
from scheduler.site.site_record import Site

Data = Mapping[str, Any]
"""A site as plain data, keyed as in the file."""

NOUNS = {
    "people": "person",
    "calendars": "calendar",
    "alignments": "alignment",
    "reaches": "reach",
    "existing": "existing line",
    "surroundings": "thing beside the trench",
    "lines": "line",
    "structures": "structure",
    "keep_open": "keep-open stretch",
    "trades": "trade",
    "equipment": "machine",
    "locate_tickets": "locate ticket",
    "permits": "permit",
    "inspections": "inspection",
    "outside_work": "outside work",
    "own_work": "step of own work",
    "seasons": "season",
    "bookings": "booking",
}
"""What one record of a section is called."""

REFERENCES = (
    ("people", "deputy_of", ("people",)),
    ("alignments", "leaves.alignment", ("alignments",)),
    ("reaches", "alignment", ("alignments",)),
    ("existing", "alignment", ("alignments",)),
    ("surroundings", "alignment", ("alignments",)),
    ("lines", "trade", ("trades",)),
    ("lines", "route.*.alignment", ("alignments",)),
    ("lines", "bends.*.alignment", ("alignments",)),
    ("lines", "encased.*.alignment", ("alignments",)),
    ("lines", "joins.*.line", ("lines",)),
    ("structures", "alignment", ("alignments",)),
    ("structures", "trade", ("trades",)),
    ("structures", "lines.*", ("lines",)),
    ("keep_open", "alignment", ("alignments",)),
    ("keep_open", "until", ("outside_work",)),
    ("keep_open", "structure", ("structures",)),
    ("trades", "calendar", ("calendars",)),
    ("trades", "contact", ("people",)),
    ("equipment", "calendar", ("calendars",)),
    ("equipment", "trade", ("trades",)),
    ("locate_tickets", "alignments.*", ("alignments",)),
    ("permits", "alignments.*", ("alignments",)),
    ("permits", "step", ("own_work",)),
    ("inspections", "calendar", ("calendars",)),
    ("inspections", "lines.*", ("lines",)),
    ("inspections", "alignments.*", ("alignments",)),
    ("inspections", "released_by", ("people",)),
    ("outside_work", "calendar", ("calendars",)),
    ("outside_work", "after.*", ("outside_work",)),
    ("outside_work", "lines.*", ("lines",)),
    ("outside_work", "needs_inspections.*", ("inspections",)),
    ("outside_work", "at.alignment", ("alignments",)),
    ("outside_work", "trade", ("trades",)),
    ("own_work", "reaches.*", ("reaches",)),
    ("seasons", "reaches.*", ("reaches",)),
    ("own_work", "lines.*", ("lines",)),
    ("own_work", "trade", ("trades",)),
    ("own_work", "calendar", ("calendars",)),
    ("own_work", "machine", ("equipment",)),
    ("own_work", "released_by", ("people",)),
    ("bookings", "of", ("inspections", "outside_work")),
    ("bookings", "reaches.*", ("reaches",)),
    ("backfill", "zones.*.where.*", ("reaches",)),
    ("rules", "where.*", ("reaches",)),
)
"""(section, field path, sections where the name must stand)."""


def sections_named_at(place: str) -> tuple[str, ...]:
    """Return the sections whose records a field may name, by its place: `lines.route.*.alignment`."""
    alone: dict[str, tuple[str, ...]] = {"site.general_trade": ("trades",), "keep_open.released_by": ("people",)}
    found = {f"{section}.{steps}": targets for section, steps, targets in REFERENCES}
    return found.get(place, alone.get(place, ()))


def name_faults(data: Data) -> Iterator[Fault]:
    """Give every fault of the names in a site's plain data."""
    yield from _references(data)
    yield from _identities(data)
    yield from _rings(data)


def _references(data: Data) -> Iterator[Fault]:
    """Every name that refers to a record which is not there, or stands twice in one list."""
    known = {section: _ids(data, section) for section in NOUNS}
    for section, steps, targets in REFERENCES:
        ids = set().union(*(known[t] for t in targets))
        noun = " or ".join(NOUNS[t] for t in targets)
        blind = any(_nameless(data, t) for t in targets)
        for i, record in _records(data, section):
            seen: set[str] = set()
            for path, value in _values(record, steps.split("."), (section, i)):
                if steps.endswith(".*") and value in seen:
                    yield Fault("site.twice", path, f"'{short(value)}' stands twice in this list.")
                elif value not in ids and not blind:
                    yield unknown_name(path, value, noun, ids)
                seen.add(value)
    for path, value in _values(data, ["site", "general_trade"], ()):
        if value not in known["trades"] and not _nameless(data, "trades"):
            yield unknown_name(path, value, "trade", known["trades"])
    yield from _releasers_of_stretches(data, known["people"])


def _releasers_of_stretches(data: Data, people: frozenset[str]) -> Iterator[Fault]:
    """A stretch is released by a person, or by an authority or utility by its name."""
    named = (("people", "of"), ("inspections", "authority"), ("outside_work", "by"))
    firms = {name for section, key in named for _, r in _records(data, section) for _, name in _values(r, [key], ())}
    for i, stretch in _records(data, "keep_open"):
        for path, value in _values(stretch, ["released_by"], ("keep_open", i)):
            if value not in people | firms and not _nameless(data, "people"):
                yield unknown_name(path, value, "person", people)


def unknown_name(path: Path, name: str, noun: str, known: Collection[str]) -> Fault:
    """Return the fault of a name that nothing bears, with the nearest one that is known."""
    guess = nearest(name, known)
    text = f"There is no {noun} '{short(name)}'" + (f"; did you mean '{guess}'?" if guess else ".")
    some = sorted(known)[:12]
    required = ("one of " + ", ".join(some) + (" …" if len(known) > len(some) else "")) if some else f"a {noun} first"
    return Fault("site.reference", path, text, found=f"'{short(name)}'", required=required)


def _records(data: Data, section: str) -> Iterator[tuple[int, dict[str, Any]]]:
    """Give the records of a section, with their places in its list; skip what is no record."""
    rows = data.get(section)
    if isinstance(rows, list):
        yield from ((i, row) for i, row in enumerate(rows) if isinstance(row, dict))


def _ids(data: Data, section: str) -> frozenset[str]:
    return frozenset(value for _, record in _records(data, section) for _, value in _values(record, ["id"], ()))


def _nameless(data: Data, section: str) -> bool:
    """Return whether some records of a section have no name to be known by, or cannot be seen."""
    rows = data.get(section)
    if rows is None:
        return Site.model_fields[section].is_required()
    return not isinstance(rows, list) or len(rows) != sum(
        isinstance(r.get("id"), str) for _, r in _records(data, section)
    )


def _values(value: Any, steps: list[str], path: Path) -> Iterator[tuple[Path, str]]:
    """Follow field names, and '*' through each item of a list; give only what is text."""
    if not steps:
        if isinstance(value, str):
            yield path, value
    elif steps[0] == "*":
        for i, item in enumerate(value if isinstance(value, list) else []):
            yield from _values(item, steps[1:], (*path, i))
    elif isinstance(value, dict) and steps[0] in value:
        yield from _values(value[steps[0]], steps[1:], (*path, steps[0]))


def _identities(data: Data) -> Iterator[Fault]:
    """Ids given twice in a section, or shared by an inspection and outside work."""
    for section, noun in NOUNS.items():
        seen: set[str] = set()
        for i, record in _records(data, section):
            for path, name in _values(record, ["id"], (section, i)):
                if name in seen:
                    text = f"Another {noun} is already called '{short(name)}'; each needs a name of its own."
                    yield Fault("site.duplicate-id", path, text)
                seen.add(name)
    inspections = _ids(data, "inspections")
    for i, work in _records(data, "outside_work"):
        for path, name in _values(work, ["id"], ("outside_work", i)):
            if name in inspections:
                text = f"An inspection is also called '{name}', so a booking of '{name}' could mean either."
                yield Fault("site.duplicate-id", path, text)


def _rings(data: Data) -> Iterator[Fault]:
    """Records that wait for themselves: branches, outside work, deputies."""
    for section, steps, text in (
        ("alignments", "leaves.alignment", "These alignments branch off one another in a ring"),
        ("outside_work", "after.*", "These wait for one another in a ring"),
        ("people", "deputy_of", "These stand in for one another in a ring"),
    ):
        needs: dict[str, set[str]] = {}
        index: dict[str, int] = {}
        for i, record in _records(data, section):
            for _, name in _values(record, ["id"], ()):
                index.setdefault(name, i)
                needs.setdefault(name, set()).update(v for _, v in _values(record, steps.split("."), ()))
        for ring in _rings_in({name: before & needs.keys() for name, before in needs.items()}):
            first = min(ring, key=index.__getitem__)
            start = ring.index(first)
            shown = " → ".join([*ring[start:], *ring[:start], first])
            yield Fault("site.ring", (section, index[first], steps.split(".")[0]), f"{text}: {shown}.")


def _rings_in(graph: dict[str, set[str]]) -> Iterator[list[str]]:
    """Give one ring after another, each once, until what is left has none."""
    while True:
        try:
            TopologicalSorter(graph).prepare()
        except CycleError as error:
            ring = list(dict.fromkeys(reversed(error.args[1])))
            yield ring
            graph = {name: needs - set(ring) for name, needs in graph.items() if name not in ring}
        else:
            return
