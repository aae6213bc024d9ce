"""Dates as CSV: reading schedules made elsewhere, and writing our own.

A file has a header row and one row an activity. Three columns are needed, in any order, and
other columns are passed over. Commas part the cells, or semicolons:

    activity   id of an activity of this job
    start      date and time, ISO 8601: `2027-03-09 10:30` is local time on site,
    finish     `2027-03-09T10:30-05:00` says its offset

A fourth column, `visit`, may stand on the rows of inspectors' looks: looks with the same word in
it are made in one visit. Where no row has a visit, all looks of one inspection within one window
of its inspector's hours are taken as one visit. A row whose activity is `renew:ID` says that the
locate ticket's renewal ID is called for; its dates are not read. A column `margin_percent` says what contingency own
work has in these dates (`margin_in`).

Cells that a spreadsheet would take for a formula are written with an apostrophe before them,
and read back without it.
"""

from __future__ import annotations

import csv
import io
from contextlib import suppress
from dataclasses import dataclass, field
from datetime import datetime
from pathlib import Path

from scheduler.cells import plain, rows, safe
from scheduler.errors import BadInput
from scheduler.findings import Finding, Severity
from scheduler.network.contingency import MOST_PERCENT, takes_contingency
from scheduler.network.model import Network, VisitRule
from scheduler.schedule import Schedule, Span, Visit
from scheduler.site.faults import nearest
from scheduler.spoken import typed

LARGEST_FILE_MB = 5
FAULTS_AT_MOST = 200
"""After so many faults the file is not what was meant, and the rest says nothing new."""
GUESSES_AT_MOST = 20
"""Finding the nearest id takes time; a file with more unknown ids is of another job."""
NEEDED = ("activity", "start", "finish")
MARGIN = "margin_percent"
WRITTEN = ("activity", "name", "kind", "trade", "reach", MARGIN, "start", "finish", "visit")
RENEW = "renew:"
WHEN_EXPECTED = "a date and time such as 2027-03-09 10:30, on a quarter hour"


def read_dates(source: Path | str, network: Network) -> Schedule:
    """Return the schedule in a CSV file (a Path) or in CSV text (a str).

    Raises BadInput with every fault found, each with its line: a file too large or not text, a
    column missing, an unknown or repeated activity, a date that cannot be read or is not on a tick.
    Activities that have no row are no fault here; the audit reports them.
    """
    name = source.name if isinstance(source, Path) else "dates"
    reading = _DatesReading(name, network)
    reading.read(_text(source, name))
    if reading.faults:
        raise BadInput(reading.faults)
    return Schedule(reading.dates, reading.visits(), tuple(reading.renewals))


def margin_in(source: Path | str) -> int:
    """Return the contingency [%] in all own work that dates in CSV say they have; 0 where they say nothing of it.

    Raises BadInput for each cell that is no such percentage, and where the file cannot be read.
    """
    name = source.name if isinstance(source, Path) else "dates"
    faults, found = [], 0
    given = rows(_text(source, name))
    with suppress(csv.Error):  # told when the dates are read
        _, header = next(given, (1, []))
        at = next((i for i, c in enumerate(header) if c.strip().lower() == MARGIN), len(header))
        for line, cells in given:
            cell = _plain(cells[at]) if at < min(len(header), len(cells)) else ""
            if cell.isdecimal() and int(cell) <= MOST_PERCENT:
                found = max(found, int(cell))
            elif cell:
                told = {"found": f'"{cell[:60]}"', "required": f"a whole percentage up to {MOST_PERCENT}, or nothing"}
                text = "This is no margin."
                faults.append(Finding("dates", Severity.STOP, MARGIN, text, **told, file=name, line=line))
    if faults:
        raise BadInput(faults[:FAULTS_AT_MOST])
    return found


def write_dates(schedule: Schedule, network: Network) -> str:
    """Return a schedule as CSV text, in the order of starts; `read_dates` reads it back."""
    out = io.StringIO()
    writer = csv.writer(out, lineterminator="\n")
    writer.writerow(WRITTEN)
    when = {t: network.clock.when(t).isoformat(timespec="minutes") for span in schedule.dates.values() for t in span}
    visit_of = {look: visit.id for visit in schedule.visits for look in visit.looks}
    for activity in sorted(network.activities, key=lambda a: schedule.dates.get(a.id, (network.horizon, 0))):
        if activity.id in schedule.dates:
            start, finish = schedule.dates[activity.id]
            margin = str(network.margin_percent) if takes_contingency(activity) else ""
            cells = (activity.id, activity.name, activity.kind, activity.trade, activity.reach, margin)
            writer.writerow([_safe(c) for c in (*cells, when[start], when[finish], visit_of.get(activity.id, ""))])
    for ticket in network.tickets:
        for renewal in ticket.renewals:
            if renewal.id in schedule.renewals:
                by = network.clock.when(renewal.call_by).isoformat(timespec="minutes")
                writer.writerow(
                    [_safe(c) for c in (RENEW + renewal.id, f"Renew {ticket.name}", "", "", "", "", by, by, "")]
                )
    return out.getvalue()


def _safe(cell: str) -> str:
    """Return a cell on one line that no spreadsheet takes for a formula."""
    return safe(" ".join(cell.split()))


def _plain(cell: str) -> str:
    """Return what a cell says, without the apostrophe that `_safe`, or a spreadsheet, puts before text."""
    return plain(cell.strip())


def _text(source: Path | str, name: str) -> str:
    """Return the text to read; raises BadInput when there is none, too much, or it is not text."""
    found = ""
    try:
        size = source.stat().st_size if isinstance(source, Path) else len(source)
        if size > LARGEST_FILE_MB * 1_000_000:
            found = f"{size / 1e6:.1f} MB"
        elif isinstance(source, str):
            return source.removeprefix("\ufeff")
        else:
            return source.read_text(encoding="utf-8-sig")
    except OSError as error:
        found = error.strerror or "a file that cannot be opened"
    except UnicodeDecodeError:
        found = "a file that is not UTF-8 text"
    expected = f"a CSV file in UTF-8 of at most {LARGEST_FILE_MB} MB, with the columns {', '.join(NEEDED)}"
    raise BadInput([Finding("dates/file", Severity.STOP, name, "These dates cannot be read.", found, expected)])


@dataclass
class _DatesReading:
    """The state of reading one file: what has been understood, and every fault so far."""

    file: str
    network: Network
    dates: dict[str, Span] = field(default_factory=dict)
    renewals: list[str] = field(default_factory=list)
    visit_of: dict[str, str] = field(default_factory=dict)
    lines: dict[str, int] = field(default_factory=dict)
    faults: list[Finding] = field(default_factory=list)

    def fault(self, line: int, where: str, text: str, *, found: str, expected: str) -> None:
        """Note a fault of one line."""
        cut = found if len(found) <= 60 else found[:57] + "..."
        self.faults.append(Finding("dates", Severity.STOP, where[:60], text, cut, expected, file=self.file, line=line))

    def read(self, text: str) -> None:
        """Read all rows, until there are too many faults for the rest to say anything new."""
        given = rows(text)
        line = 1
        try:
            line, header = next(given, (1, []))
            columns = {c.strip().lower(): i for i, c in enumerate(header)}
            missing = [c for c in NEEDED if c not in columns]
            if missing:
                found = ", ".join(header) or "nothing"
                needed = f"a first row with {', '.join(NEEDED)}"
                self.fault(line, "first row", f"Column missing: {', '.join(missing)}.", found=found, expected=needed)
                return
            for line, cells in given:
                self.row(line, {c: _plain(cells[i]) if i < len(cells) else "" for c, i in columns.items()})
                if len(self.faults) >= FAULTS_AT_MOST:
                    more = "the rest of the file was not read"
                    self.fault(line, "file", "Too many faults.", found=more, expected="dates of this job")
                    return
        except csv.Error as error:
            self.fault(line, "row", "This is no CSV row.", found=str(error), expected="cells parted by commas")

    def row(self, line: int, cells: dict[str, str]) -> None:
        """Read one row."""
        key = cells["activity"]
        renewal = key.removeprefix(RENEW) if key.startswith(RENEW) else ""
        known = [r.id for t in self.network.tickets for r in t.renewals] if renewal else self.network.by_id
        if (renewal or key) not in known:
            guess = nearest(renewal or key, known) if len(self.faults) < GUESSES_AT_MOST else ""
            expected = "an id of this job" + (f', such as "{RENEW * bool(renewal)}{guess}"' if guess else "")
            self.fault(line, key or "row", "No activity has this id.", found=f'"{key}"', expected=expected)
            return
        if key in self.lines:
            first = f"one row; the first is line {self.lines[key]}"
            self.fault(line, key, "This activity has a second row.", found=f"line {line}", expected=first)
            return
        self.lines[key] = line
        if renewal:
            self.renewals.append(renewal)
            return
        start, finish = (self.tick(line, key, edge, cells[edge]) for edge in ("start", "finish"))
        if start is not None and finish is not None:
            self.dates[key] = (start, finish)
        if cells.get("visit"):
            self.visit_of[key] = cells["visit"]

    def tick(self, line: int, key: str, edge: str, cell: str) -> int | None:
        """Return the tick a cell says, or note why there is none."""
        try:
            when = datetime.fromisoformat(cell) if len(cell) > len("2027-03-09") else None
            if when is not None:
                tick = self.network.clock.tick(when)
                shown = self.network.clock.when(tick)
                if (shown if when.tzinfo else shown.replace(tzinfo=None)) == when:
                    return tick
        except (ValueError, OverflowError):
            pass
        self.fault(line, key, f"Its {edge} cannot be used.", found=f'"{cell}"', expected=WHEN_EXPECTED)
        return None

    def visits(self) -> tuple[Visit, ...]:
        """Return the visits that the rows name, or else one for each window with looks in it."""
        rule_of = {look: rule for rule in self.network.visit_rules for look in rule.looks}
        groups: dict[str, list[str]] = {}
        for look, span in sorted(self.dates.items(), key=lambda item: item[1]):
            if self.visit_of:
                group = self.visit_of.get(look, "")
            elif look in rule_of:
                window = self.network.calendars[rule_of[look].calendar].window_at(span[0])
                group = f"{rule_of[look].id}@{typed(self.network.clock.when(window[0] if window else span[0]))}"
            else:
                continue
            if group:
                groups.setdefault(group, []).append(look)
        return tuple(self.visit(name, looks, rule_of) for name, looks in groups.items())

    def visit(self, name: str, looks: list[str], rule_of: dict[str, VisitRule]) -> Visit:
        """Return one visit, as long as its looks take; of no rule when its first look has none."""
        spans = [self.dates[look] for look in looks]
        rule = rule_of.get(looks[0])
        return Visit(name, rule.id if rule else "", min(s for s, _ in spans), max(f for _, f in spans), tuple(looks))
