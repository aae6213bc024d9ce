"""What each paper says of each piece of work, read back from it: done, may go, or stopped."""

from __future__ import annotations

from collections.abc import Iterable
from datetime import date
from uuid import UUID, uuid5

from icalendar import Calendar

from scheduler.export import EVERYBODY, PaperFacts, activities_csv, calendar, day_sheets
from scheduler.export.calendar_events import NAMES
from scheduler.export.days import DayRow
from scheduler.situation import Situation, WorkState, before_it
from tests.papers import read_table

Says = dict[str, str]
"""By activity: 'done', 'taken' (as done, not on record), 'stopped' or 'may go'."""


def by_the_record(now: Situation) -> Says:
    """Return what is so, by the situation."""
    said = {}
    for id_, stands in now.work.items():
        if stands.over:
            said[id_] = "done" if stands.state is WorkState.DONE else "taken"
        else:
            stopped = before_it(stands) or stands.state is WorkState.FAILED
            said[id_] = "stopped" if stopped else "may go"
    return said


def days(facts: PaperFacts) -> tuple[date, date]:
    """Return the first and last day on which anything is planned, recorded or left over."""
    assert facts.now is not None
    spans = [facts.span(a) for a in facts.plan.activities]
    first, last = min(s for s, _ in spans).date(), max(f for _, f in spans).date()
    return min(first, facts.now.date()), max(last, facts.now.date())


def row_says(row: DayRow) -> str:
    """Return what a row of a look-ahead says."""
    if row.over:
        return row.over
    return "stopped" if row.blocked or row.stops else "may go"


def look_ahead_says(facts: PaperFacts) -> Says:
    """Return what all rows of the look-ahead for everybody say of work; a piece's rows must agree."""
    return _agreed((row.about[0], row_says(row)) for row in work_rows(facts))


def work_rows(facts: PaperFacts) -> list[DayRow]:
    """Return the rows of work on all days."""
    sheets = day_sheets(facts, EVERYBODY, *days(facts))
    return [row for sheet in sheets for row in sheet.rows if not (row.call or row.visit)]


def calendar_says(facts: PaperFacts) -> Says:
    """Return what the calendar for everybody says of work, by its summaries and descriptions alone."""
    assert facts.now is not None
    job = uuid5(UUID(str(NAMES)), facts.plan.site.name)
    names = {str(uuid5(job, f"{a.id}/{n}")): a.id for a in facts.plan.activities for n in range(1, 40)}
    events = Calendar.from_ical(calendar(facts, EVERYBODY, made=facts.now)).walk("VEVENT")
    said = ((names[str(e["uid"])], e) for e in events if str(e["uid"]) in names)
    return _agreed((id_, _event_says(str(e["summary"]), str(e["description"]))) for id_, e in said)


def _event_says(summary: str, description: str) -> str:
    if summary.startswith("Done: "):
        return "done"
    if summary.startswith("Taken as done: "):
        return "taken"
    first = any(line.startswith(("HOLD POINT", "WITNESS POINT")) for line in description.splitlines())
    return "stopped" if first or summary.startswith(("BLOCKED: ", "FAILED: ")) else "may go"


def table_says(facts: PaperFacts) -> Says:
    """Return what the table of work says of all but looks."""
    said = {}
    for row in read_table(activities_csv(facts)):
        state = row["by the record"]
        if state.startswith("recorded done"):
            said[row["activity"]] = "done"
        elif state.startswith("not on record, taken"):
            said[row["activity"]] = "taken"
        else:
            stopped = row["before it may go on"] or state.startswith("failed")
            said[row["activity"]] = "stopped" if stopped else "may go"
    return said


def _agreed(said: Iterable[tuple[str, str]]) -> Says:
    found: Says = {}
    for id_, words in said:
        assert found.setdefault(id_, words) == words, id_
    return found
