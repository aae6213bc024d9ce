"""The printable look-ahead: one to three weeks of a party's days, for a clipboard."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, timedelta
from typing import Any

from reportlab.lib import colors
from reportlab.lib.styles import ParagraphStyle
from reportlab.platypus import Flowable, Paragraph, Spacer, Table

from scheduler.export.audiences import EVERYBODY, Audience
from scheduler.export.days import DayRow, DaySheet, VisitLook, day_sheets
from scheduler.export.letters import marked
from scheduler.export.page import INVENTED, SANS, Cell, Running, cautions, make_pdf, parts, style, widths
from scheduler.export.paper_facts import PaperFacts
from scheduler.proved import proof
from scheduler.situation.verdict import before_anybody_enters, verdict, why_not
from scheduler.spoken import count, day, day_and_time, moment, short_day, time_of_day, times
from scheduler.units import format_length

WEEKS = (1, 2, 3)
COLUMNS = (0.9, 2.0, 4.0, 0.6)
"""Shares of the page's width: time, where, work, initials."""
RULED: list[tuple[Any, ...]] = [
    ("VALIGN", (0, 0), (-1, -1), "TOP"),
    ("GRID", (0, 1), (-1, -1), 0.5, colors.black),
    ("LEFTPADDING", (0, 0), (-1, -1), 3),
    ("RIGHTPADDING", (0, 0), (-1, -1), 3),
    ("TOPPADDING", (0, 0), (-1, -1), 2.5),
    ("BOTTOMPADDING", (0, 0), (-1, -1), 2.5),
]

STOP = ParagraphStyle(
    "stop", style(8.5), borderWidth=1.5, borderColor=colors.black, borderPadding=3, leftIndent=4,
    rightIndent=4, spaceBefore=5, spaceAfter=3,
)  # fmt: skip
"""A thick box: what stops the work must be seen at arm's length, printed in black."""
TOLD = 8
"""So many stretches to inspect are told one by one at the head."""
TICK = '<font name="ZapfDingbats" size="14">\u2714</font>'
"""What is on record as done is ticked: nobody does it again, and nobody initials it."""


@dataclass(frozen=True, slots=True)
class Period:
    """The days a paper is for."""

    first: date
    weeks: int

    @property
    def last(self) -> date:
        """The last day, a whole number of weeks after the first."""
        return self.first + timedelta(days=7 * self.weeks - 1)

    @property
    def words(self) -> str:
        """How people say it: `Mon 8 Mar to Sun 14 Mar 2027`."""
        return f"{short_day(self.first)} to {short_day(self.last)} {self.last.year}"


def look_ahead(facts: PaperFacts, party: Audience, stretch: Period, paper: str = "letter") -> bytes:
    """Return the look-ahead of a party as a PDF, for `paper` `letter` or `a4`."""
    site = facts.plan.site.name
    whom = "" if party == EVERYBODY else f" for {party.name}"
    running = Running(f"Look-ahead{whom}: {stretch.words}", site, facts.site.site.invented, facts.record)
    sheets = day_sheets(facts, party, stretch.first, stretch.last)
    story = _head(facts, party, stretch)
    for sheet in sheets:
        story += [_day(sheet, paper, recorded=facts.situation is not None), Spacer(1, 8)]
    if not sheets:
        story.append(Paragraph("Nothing is planned in these days.", style(12, after=10)))
    return make_pdf([*story, Spacer(1, 4), *cautions()], running, paper)


def _head(facts: PaperFacts, party: Audience, stretch: Period) -> list[Flowable]:
    plan = facts.plan
    title = "Look-ahead" if party == EVERYBODY else f"Look-ahead: {marked(party.name)}"
    until = f". {marked(facts.record)}" if facts.record else ""
    lines = [
        f"<b>{marked(plan.site.name)}</b>",
        f"<b>{stretch.words}</b>. Data date {moment(plan.data_date)}{until}: what happened later is not in it.",
        *_finish(facts),
        "Times are local. The reason of each date stands in the calendars and on the screen.",
    ]
    flow: list[Flowable] = [Paragraph(title, style(18, bold=True, after=3))]
    flow += [Paragraph(line, style(9.5, after=1)) for line in lines]
    if facts.site.site.invented:
        flow.append(Paragraph(INVENTED, style(9.5, bold=True)))
    return [*flow, Spacer(1, 8), *_warnings(facts)]


def _finish(facts: PaperFacts) -> list[str]:
    """Say when all will be finished and how sure that is, as markup; by the record also why that no longer holds."""
    plan, now = facts.plan, facts.situation
    if now is None or plan.finish is None:
        finish = f"Plan finishes {day_and_time(plan.finish)}." if plan.finish else "No plan exists."
        return [f"{finish} {marked(proof(plan))}"]
    if now.holds_still:
        return [f"<b>{marked(verdict(now))}</b> {marked(proof(plan))}"]
    return [f"<b>{marked(verdict(now))}</b>", *(f"- {marked(reason)}" for reason in why_not(now))]


def _warnings(facts: PaperFacts) -> list[Flowable]:
    """Say what lies covered over a hold point that was not released, and what must be inspected before anybody enters.

    Nothing where no journal is kept.
    """
    now = facts.situation
    if now is None:
        return []
    boxes = [Paragraph(f"<b>COVERED BEFORE ITS RELEASE:</b> {marked(str(f))}", STOP) for f in now.covered]
    unsafe = before_anybody_enters(now)
    more = [f"And {count(len(unsafe) - TOLD, 'more stretch', 'more stretches')}."] if len(unsafe) > TOLD else []
    if unsafe:
        said = "<br/>".join(marked(w) for w in (*unsafe[:TOLD], *more))
        boxes.append(Paragraph(f"<b>BEFORE ANYBODY GOES IN, the competent person inspects:</b> {said}", STOP))
    return [*boxes, Spacer(1, 8)] if boxes else []


def _day(sheet: DaySheet, paper: str, *, recorded: bool) -> Flowable:
    """Return the table of one day; its head stands again on the page it goes on to.

    `recorded` tells whether a record is kept: then what is planned is called so.
    """
    head = [
        Paragraph(day(sheet.on), style(13, bold=True)),
        "",
        Paragraph(_open(sheet, recorded=recorded), style(9, right=True)),
    ]
    rows: list[list[Cell]] = [[*head, Paragraph("Initials", style(8))]]
    columns = widths(COLUMNS, paper)
    rows += [line for row in sheet.rows for line in _lines(row, columns[2])]
    more: list[tuple[Any, ...]] = [
        ("SPAN", (0, 0), (1, 0)),
        ("LINEABOVE", (0, 0), (-1, 0), 2, colors.black),
        ("VALIGN", (0, 0), (-1, 0), "BOTTOM"),
        ("FONT", (0, 1), (-1, -1), SANS, 9),
    ]
    if not sheet.rows:
        rows.append(["No work planned, but the trench stands open.", "", "", ""])
        more.append(("SPAN", (0, 1), (2, 1)))
    return Table(rows, columns, repeatRows=1, style=[*RULED, *more])


def _open(sheet: DaySheet, *, recorded: bool) -> str:
    """Say how much trench stands open in the night: as planned, and on the day of the record as recorded too."""
    if sheet.recorded_ft is not None:
        now, planned = format_length(sheet.recorded_ft), format_length(sheet.open_ft)
        return f"Open tonight by the record: {now}; as planned: {planned}"
    if recorded:
        return f"Open that night as planned: {format_length(sheet.open_ft)}"
    return f"Open trench tonight: {format_length(sheet.open_ft)}" if sheet.open_ft else "No trench open tonight"


def _lines(row: DayRow, wide: float) -> list[list[Cell]]:
    """Return the lines of a table that a row takes: one, or more if it would be too tall for a page."""
    what: list[Flowable] = []
    for stop in row.blocked:
        what += [Spacer(1, 1), Paragraph(_stop(stop), STOP), Spacer(1, 3)]
    if row.call:
        what.append(Paragraph(f"<b>CALL:</b> {marked(row.what.removeprefix('Call '))}", style(9)))
    elif row.visit:
        what.append(Paragraph(f"<b>VISIT: {marked(row.what)}</b>. {marked(row.who)}", style(9, after=1)))
        what += [Paragraph(_look(k), style(8.5)) for k in row.looks]
    else:
        who = f"<b>{marked(row.who)}:</b> " if row.who else ""
        what.append(Paragraph(who + marked(row.what), style(9)))
    if row.notes:
        what.append(Paragraph(f"<i>{marked(' '.join(row.notes))}</i>", style(8)))
    for stop in row.stops:
        what += [Paragraph(_stop(stop), STOP), Spacer(1, 3)]  # a box's lower edge would touch the row's
    place = "As listed" if row.visit and len(row.looks) > 1 else row.place or "Whole site"
    first, *more = parts(what, wide - 6)
    head: list[Cell] = [Paragraph(_time(row), style(9, bold=True)), Paragraph(marked(place), style(9))]
    return [
        [*head, first, Paragraph(TICK, style(9)) if row.over == "done" else ""],
        *(["", "", part, ""] for part in more),
    ]


def _look(look: VisitLook) -> str:
    stands = f": <b>{marked(look.stands)}</b>" if look.stands else ""
    return f"{time_of_day(look.at)} {marked(look.what)}, {marked(look.place)}{stands}"


def _time(row: DayRow) -> str:
    if row.left_since:
        return f"left from {moment(row.left_since)}"
    if row.over:
        return f"{'done' if row.over == 'done' else 'not on record:'} {times(row.start, row.finish)}"
    if row.call:
        return f"by {time_of_day(row.start)}" if row.start.hour else "at once"
    return times(row.start, row.finish)


def _stop(sentence: str) -> str:
    kind, _, rest = sentence.partition(":")
    return f"<b>{marked(kind)}:</b> {marked(rest)}"
