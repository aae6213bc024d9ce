"""Records from CSV: a part of a site filled from a table, every fault at once with its line.

A file has a header row of field names and one row a record. Columns may stand in any order, and
an empty cell leaves its field out. A field of a record within the record is written with a dot
(`leaves.alignment`), a list with semicolons in its cell (`R1; R2`), a route as
`main 0+00-1+60; branch 0+00-0+40`, and points as `0 0; 160 0`. A row whose id is there already
changes that record, in the columns given.

On a site in metres a column is called by its name without the unit of feet and inches, `cover` for `cover_in`, and
each amount is written with its own; the whole name is read there too.

Cells that a spreadsheet would take for a formula are written with an apostrophe before them and
read back without it; a cell that holds a formula is refused.
"""

from __future__ import annotations

import csv
import io
import re
from collections.abc import Callable, Iterator
from dataclasses import dataclass, field

from scheduler.cells import plain, rows, safe
from scheduler.errors import BadInput
from scheduler.findings import Finding, Severity
from scheduler.site.draft import Draft
from scheduler.site.draft_paths import put, rows_at, value_at
from scheduler.site.editing import SIMPLE, Field, FieldKind, SitePart, fields_of, parts
from scheduler.site.faults import Fault, Path, nearest, place, short
from scheduler.site.fields import bare_name
from scheduler.site.files import units_said
from scheduler.site.ground import Stretch
from scheduler.site.yamltext import MAX_BYTES
from scheduler.units import in_units_of, metric

MOST_ROWS = 2000
FAULTS_AT_MOST = 200
LATER = frozenset({"site.no-trench", "site.no-line", "site.never-open"})
"""Faults that say what other parts still lack; they keep no row out."""

_NUMBER = re.compile(r"-?\d+(\.\d+)?")
_AT = r"[\d+.]+(?:\s*[a-z]+(?<!to))?"
_ROUTE = re.compile(rf"(\S+)\s+({_AT})\s*(?:-|\bto\b)\s*({_AT})")


@dataclass(frozen=True, slots=True)
class Column:
    """One column: where its cell goes in a record, and how a cell becomes plain data and back."""

    name: str
    path: tuple[str, ...]
    field: Field
    read: Callable[[str], object]
    write: Callable[[object], str]


@dataclass(frozen=True, slots=True)
class Imported:
    """A draft with the rows of a file in it, and what is still to be mended elsewhere for their sake."""

    draft: Draft
    added: int
    changed: int
    later: tuple[Finding, ...]


def columns(part: SitePart) -> dict[str, Column]:
    """Return the columns a part can be read from, by name; what nests deeper is left to the forms."""
    return {c.name: c for c in _columns(part.fields, ())}


def _bare(column: Column) -> str:
    *around, last = column.path
    return ".".join((*around, bare_name(last) or last))


def heading(column: Column) -> str:
    """Return what a column is called: by its field, or where metres are told by that without feet or inches."""
    return _bare(column) if metric() else column.name


def _columns(fields: tuple[Field, ...], inside: tuple[str, ...]) -> Iterator[Column]:
    for f in fields:
        path = (*inside, f.key)
        name = ".".join(path)
        if f.kind in SIMPLE:
            yield Column(name, path, f, str, str)
        elif f.kind is FieldKind.LIST:
            yield Column(name, path, f, _items, lambda v: "; ".join(map(str, v)) if isinstance(v, list) else "")
        elif f.kind is FieldKind.NUMBERS:
            yield Column(name, path, f, str.split, lambda v: " ".join(map(str, v)) if isinstance(v, list) else "")
        elif f.kind is FieldKind.POINTS:
            yield Column(name, path, f, lambda cell: [_read_point(item) for item in _items(cell)], _write_points)
        elif f.kind is FieldKind.RECORD and f.record is not None:
            yield from _columns(fields_of(f.record, f.place), path)
        elif f.record is Stretch:
            yield Column(name, path, f, _read_route, _write_route)


def _items(cell: str) -> list[str]:
    return [item.strip() for item in cell.split(";") if item.strip()]


def _read_route(cell: str) -> object:
    """Read `main 0+00-1+60; branch 0+00-0+40`; what cannot be read stays text, and is a fault of its field."""
    found = [_ROUTE.fullmatch(item) for item in _items(cell)]
    if not all(found):
        return cell
    return [{"alignment": m[1], "from": m[2], "to": m[3]} for m in found if m]


def _write_route(value: object) -> str:
    pieces = [row for row in value if isinstance(row, dict)] if isinstance(value, list) else []
    return "; ".join(f"{row.get('alignment')} {row.get('from')}-{row.get('to')}" for row in pieces)


def _read_point(item: str) -> list[str]:
    """Read `0 0`, or `12 m 5 m` in another unit."""
    return re.findall(r"[^\s,]+(?: +[A-Za-z]+)?", item)


def _write_points(value: object) -> str:
    points = [row for row in value if isinstance(row, list)] if isinstance(value, list) else []
    return "; ".join(" ".join(map(str, point)) for point in points)


@in_units_of(lambda draft: units_said(draft.data))
def csv_text(draft: Draft, part: SitePart) -> str:
    """Return a part of a draft as CSV, in the columns that are needed or used; it reads back."""
    records = [row for row in rows_at(draft.data, (part.key,)) if isinstance(row, dict)]
    used = [
        c
        for c in columns(part).values()
        if (c.field.required and len(c.path) == 1) or any(value_at(row, c.path) is not None for row in records)
    ]
    out = io.StringIO()
    writer = csv.writer(out, lineterminator="\n")
    writer.writerow([heading(c) for c in used])
    for row in records:
        values = [(c, value_at(row, c.path)) for c in used]
        writer.writerow([_cell(c, value) for c, value in values])
    return out.getvalue()


def _cell(column: Column, value: object) -> str:
    """Write one cell; a number below zero is no formula and stays a number."""
    text = "" if value is None else " ".join(column.write(value).split())
    return text if column.field.kind is FieldKind.NUMBER and _NUMBER.fullmatch(text) else safe(text)


@in_units_of(lambda draft: units_said(draft.data))
def import_csv(draft: Draft, key: str, content: bytes, *, file: str) -> Imported:
    """Return the draft with the rows of a CSV file in one of its parts.

    Raises BadInput with every fault, each with its line, and changes nothing: a file too large
    or not text, unknown or missing columns, formulas, values that do not fit, unknown names.
    """
    part = parts()[key]
    reading = _RowsReading(draft, part, file)
    reading.read(_text(content, file))
    site_faults = draft.put((key,), reading.rows).judged()[1]
    later = [reading.finding(f) for f in site_faults if f.rule in LATER and reading.line_of(f.path)]
    reading.faults.extend(
        reading.finding(f) for f in site_faults if f.rule not in LATER and reading.line_of(f.path) is not None
    )
    if reading.faults:
        found = sorted({f: None for f in reading.faults}, key=lambda f: f.line or 0)
        raise BadInput(found[:FAULTS_AT_MOST])
    count = len(reading.lines)
    words = f"{part.label}: {count} {'row' if count == 1 else 'rows'} from {short(file)}"
    new = draft.changed(put(draft.data, (key,), reading.rows), words)
    return Imported(new, reading.added, count - reading.added, tuple(later))


def _text(content: bytes, file: str) -> str:
    if len(content) > MAX_BYTES:
        raise BadInput([_whole(file, "The file is far too large.", "more", f"at most {MAX_BYTES // 1000} kB")])
    try:
        text = content.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        line = content.count(b"\n", 0, error.start) + 1
        raise BadInput([_whole(file, "The file is not plain text in UTF-8.", "", "", line)]) from error
    if "\0" in text:
        raise BadInput([_whole(file, "The file is not plain text.", "a null character", "CSV text")])
    return text


def _whole(file: str, text: str, found: str, required: str, line: int | None = 1) -> Finding:
    return Finding("csv.file", Severity.STOP, "the file", text, found, required, file=file, line=line)


@dataclass
class _RowsReading:
    """The state of reading one file: the rows of the part with those of the file in them, and every fault."""

    draft: Draft
    part: SitePart
    file: str
    rows: list[object] = field(default_factory=list)
    lines: dict[int, int] = field(default_factory=dict)
    """Line of the file by place among the rows."""
    faults: list[Finding] = field(default_factory=list)
    added: int = 0

    def fault(self, line: int, where: str, text: str, found: str = "", required: str = "") -> None:
        """Note a fault of one line."""
        where = short(where) or "first row"
        self.faults.append(
            Finding("csv.row", Severity.STOP, where, text, short(found), required, file=self.file, line=line)
        )

    def line_of(self, path: Path) -> int | None:
        """Return the line a fault of the site stands on, if it is about a row of this file."""
        return self.lines.get(path[1]) if len(path) > 1 and path[0] == self.part.key else None  # type: ignore[arg-type]

    def finding(self, fault: Fault) -> Finding:
        """Return a fault of the site as one of this file."""
        where = place({self.part.key: self.rows}, fault.path).split("] ", 1)[-1]
        line = self.line_of(fault.path)
        return Finding(
            fault.rule,
            Severity.STOP,
            where,
            fault.text,
            fault.found,
            fault.required,
            remedy=fault.remedy,
            file=self.file,
            line=line,
        )

    def read(self, text: str) -> None:
        """Read all rows."""
        self.rows = list(rows_at(self.draft.data, (self.part.key,)))
        found = rows(text)
        line = 1
        try:
            line, header = next(found, (1, []))
            used = self._header(line, header)
            if used is None:
                return
            for line, cells in found:
                if len(self.lines) >= MOST_ROWS:
                    self.fault(line, "row", "There are too many rows.", "more", f"at most {MOST_ROWS}")
                    return
                self._row(line, cells, used)
        except csv.Error as error:
            self.fault(line, "row", "This is no CSV row.", str(error), "cells parted by commas")
        if not self.lines and not self.faults:
            self.fault(line, "row", "There is no row below the header.", "nothing", f"a row for each {self.part.noun}")

    def _header(self, line: int, header: list[str]) -> list[Column | None] | None:
        known = columns(self.part)
        called = {heading(c): name for name, c in known.items()}
        names = [plain(cell.strip()).lower().replace(" ", "_") for cell in header]
        names = [called.get(name, name) for name in names]
        for name in dict.fromkeys(names):
            if names.count(name) > 1:
                self.fault(line, name, "This column is given twice.", name, "each column once")
            elif name not in known:
                guess = nearest(name, known)
                text = "Unknown column" + (f"; did you mean '{guess}'?" if guess else ".")
                self.fault(
                    line, name, text, name or "an empty name", "one of " + ", ".join(heading(c) for c in known.values())
                )
        if "id" in known and "id" not in names:
            self.fault(line, "id", "The column 'id' is missing.", ", ".join(header) or "nothing", "a column id")
            return None
        return [known.get(name) for name in names]

    def _row(self, line: int, cells: list[str], used: list[Column | None]) -> None:
        raw = {c.name: (c, cell.strip()) for c, cell in zip(used, cells, strict=False) if c is not None}
        key = plain(raw["id"][1]) if "id" in raw else ""
        extra = [cell for cell in cells[len(used) :] if cell.strip()]
        if extra:
            text = "The row has more cells than the header; quote a cell that holds a comma."
            self.fault(line, key or "row", text, extra[0], f"{len(used)} cells")
        ids = [row.get("id") if isinstance(row, dict) else None for row in self.rows]
        k = ids.index(key) if key and key in ids else len(self.rows)
        if k in self.lines:
            text = f"'{short(key)}' has a second row; the first is on line {self.lines[k]}."
            self.fault(line, key, text, f"line {line}", "one row")
            return
        record: dict[str, object] = dict(self.rows[k]) if k < len(self.rows) else {}  # type: ignore[call-overload]
        for column, cell in raw.values():
            if cell.startswith(("=", "@", "＝", "＠")):
                self.fault(
                    line, f"{key} {heading(column)}".strip(), "The cell is a formula.", cell, column.field.expected
                )
            if cell:
                there = value_at(record, column.path) is not None
                path = column.path if there else tuple(heading(column).split("."))
                record = put(record, path, column.read(plain(cell)))
        if k == len(self.rows):
            self.rows.append(record)
            self.added += 1
        else:
            self.rows[k] = record
        self.lines[k] = line
