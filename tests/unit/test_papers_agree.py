"""Papers, tags, calendars and tables say what the record says, in every kind of week that a job has."""

from __future__ import annotations

from collections.abc import Callable
from datetime import datetime, timedelta
from functools import cache
from typing import Any

import pytest
from icalendar import Calendar

from scheduler.export import (
    EVERYBODY,
    PaperFacts,
    Period,
    calendar,
    day_sheets,
    hold_tags,
    holds_csv,
    look_ahead,
    standing,
    visits_csv,
)
from scheduler.ledger.events import Corrected, Delayed, Event, Finished, InspectionFailed, Started, VisitCancelled
from scheduler.ledger.events import VisitBooked as Booked
from scheduler.ledger.ground_events import Rained
from scheduler.ledger.hold_standing import HoldStatus
from scheduler.ledger.store import Entry
from scheduler.network.kind import Kind
from scheduler.proved import proof
from scheduler.situation import WorkState, verdict, why_not
from scheduler.spoken import moment
from tests.happenings import as_planned
from tests.outputs import by_the_record, calendar_says, days, look_ahead_says, table_says, work_rows
from tests.papers import Pdf, read_pdf, read_table, squeezed
from tests.records import written
from tests.unit.test_situation import after, by_plan, case, march, planned, stands

Script = Callable[[], tuple[list[Entry], datetime]]


def first_look() -> tuple[str, datetime]:
    """Return the first look at a line that is tested before, and when it is over."""
    network = case().network
    tested = {k.after for k in network.links if network.by_id[k.before].kind is Kind.TEST}
    look = next(a for a in planned().plan.activities if a.kind is Kind.INSPECT and a.id in tested)
    return look.id, look.finish


def first_looked() -> str:
    """Return when that is, as papers say it."""
    return moment(first_look()[1])


def without(said: list[tuple[datetime, Event]], look: str, until: datetime) -> list[tuple[datetime, Event]]:
    """Leave out that a look passed, and its release."""
    said = [p for p in said if getattr(p[1], "looks", ()) != (look,)]
    return [p for p in said if p[1].name != "hold_released" or p[0] < until]


def failed_look() -> tuple[list[Entry], datetime]:
    look, until = first_look()
    failed = InspectionFailed(looks=(look,), inspector="c-dunn", faults="it leaks", when=until, repair_hours=2)
    said = without(as_planned(case(), planned().plan, until), look, until)
    return written(case().site, case().network, [*said, (until, failed)]), until + timedelta(hours=18)


def no_show() -> tuple[list[Entry], datetime]:
    """The inspector was booked, called off, and nobody came."""
    look, until = first_look()
    start = next(a.start for a in planned().plan.activities if a.id == look)
    rule = next(r for r in case().network.visit_rules if look in r.looks)
    booked = Booked(visit="v", of=rule.id, looks=(look,), start=start)
    said = without(as_planned(case(), planned().plan, until), look, until)
    more = [(until, booked), (until, VisitCancelled(visit="v"))]
    return written(case().site, case().network, [*said, *more]), until + timedelta(hours=2)


def rain() -> tuple[list[Entry], datetime]:
    at = march(5, 10, 30)
    return after(at, (at, Rained(start=at - timedelta(hours=1), until=at))), at


def late_start() -> tuple[list[Entry], datetime]:
    first = min((a for a in planned().plan.activities if a.work_minutes), key=lambda a: a.start)
    at = first.start + timedelta(minutes=45)
    return written(case().site, case().network, [(at, Started(activity=first.id, when=at))]), at


def forgotten() -> tuple[list[Entry], datetime]:
    """One dig was finished and nobody said so: what was laid in that trench shows it."""
    at = march(4, 6, 30)
    told = as_planned(case(), planned().plan, at)
    kinds = case().network.by_id
    digs = [e.activity for _, e in told if isinstance(e, Finished) and kinds[e.activity].kind is Kind.DIG]
    said = [p for p in told if getattr(p[1], "activity", "") != digs[0]]
    return written(case().site, case().network, said), at


def says_no() -> tuple[list[Entry], datetime]:
    at = march(5, 10, 30)
    row = next(a for a in planned().plan.activities if a.start >= at and a.trade == "electrician")
    person = next(p.id for p in case().site.people if p.role == "trade")
    return after(at, (at, Delayed(who=person, not_before=march(30), about=(row.id,)))), at


def taken_back() -> tuple[list[Entry], datetime]:
    """The last work reported finished was not finished after all."""
    at = march(4, 6, 30)
    entries = list(by_plan(at))
    last = [e.number for e in entries if isinstance(e.event, Finished)][-1]
    return after(at, (at, Corrected(supersedes=last, reason="It was another piece."))), at


def nothing_written() -> tuple[list[Entry], datetime]:
    return [], march(12, 10)


def all_by_plan() -> tuple[list[Entry], datetime]:
    return list(by_plan(march(5, 10))), march(5, 10)


SCRIPTS = (failed_look, no_show, rain, late_start, forgotten, says_no, taken_back, nothing_written, all_by_plan)
named = pytest.mark.parametrize("script", SCRIPTS, ids=lambda s: s.__name__)


@cache
def papers(script: Script) -> PaperFacts:
    entries, at = script()
    return PaperFacts(planned().plan, case().site, case().network, stands(entries, at))


@cache
def printed(script: Script) -> Pdf:
    facts = papers(script)
    return read_pdf(look_ahead(facts, EVERYBODY, Period(days(facts)[0], 3)))


@named
def test_every_output_says_of_each_piece_of_work_what_the_record_says(script: Script) -> None:
    facts = papers(script)
    assert facts.situation is not None
    wanted = by_the_record(facts.situation)
    work = {a.id for a in facts.plan.activities if not a.kind.is_look}
    for says in (look_ahead_says(facts), calendar_says(facts)):
        assert says == {k: v for k, v in wanted.items() if k in work}
    table = table_says(facts)
    assert table == {k: wanted[k] for k in table}
    assert set(table) >= work


@named
def test_every_row_is_printed_with_what_stops_it_before_it(script: Script) -> None:
    facts, pdf = papers(script), printed(script)
    first = days(facts)[0]
    text = squeezed(pdf.text)
    rows = [r for s in day_sheets(facts, EVERYBODY, first, Period(first, 3).last) for r in s.rows]
    assert rows
    for row in rows:
        what = row.what if row.visit else f"{row.who}: {row.what}" if row.who else row.what
        words = squeezed("".join([*row.blocked, *(["VISIT: "] if row.visit else []), what]))
        assert row.call or words in text or not row.blocked
        assert all(squeezed(w) in text for w in (*row.blocked, *row.stops, *row.notes))
    assert pdf.text.count("BLOCKED") == sum(r.startswith("BLOCKED") for row in rows for r in row.blocked)
    assert pdf.text.count("\N{HEAVY CHECK MARK}") == sum(row.over == "done" for row in rows)
    assert pdf.outside == []


@named
def test_the_head_says_whether_the_plan_holds(script: Script) -> None:
    facts = papers(script)
    now, head = facts.situation, printed(script).pages[0]
    assert now is not None
    assert squeezed(verdict(now)) in squeezed(head)
    assert all(squeezed(reason) in squeezed(head) for reason in why_not(now))
    assert (squeezed(proof(facts.plan)) in squeezed(head)) == now.holds_still
    assert ("Proved" in head) == now.holds_still
    assert f"by the record: {now.open_tonight_ft:.0f} ft; as planned: " in printed(script).text
    assert now.holds_still == (script is all_by_plan)


@named
def test_tags_hang_at_what_is_not_released_and_say_how_it_stands(script: Script) -> None:
    facts = papers(script)
    now = facts.situation
    assert now is not None
    day = now.moment.date()
    hanging = standing(facts, day, day)
    clear = {p.hold.id for p in now.holds if p.clear}
    due = {h.id for h in facts.plan.holds if h.planned_release and h.planned_release <= now.moment}
    assert not clear & {h.id for h in hanging}
    assert due - clear <= {h.id for h in hanging}
    pages = read_pdf(hold_tags(facts, hanging)).pages
    for hold, page in zip(hanging, pages, strict=True):
        point = now.hold(hold.id)
        assert point is not None
        assert squeezed(point.status.value.split(",")[0]) in squeezed(page[0].lower() + page[1:].lower())
        assert ("Layer: " in page) == (point.hold.layer is not None)
        assert facts.record in page
        if point.status is HoldStatus.FAILED:
            assert f"Failed {first_looked()}: it leaks. It is looked at again" in page


def test_a_calendar_follows_what_the_record_makes_of_its_events() -> None:
    """Numbers rise for what becomes blocked, done or missing, and for nothing else; with and without the last one."""
    entries, at = failed_look()
    steps = [(), entries[:10], entries, [*entries]]
    moments = [march(1, 6), entries[9].at, at, at]
    sent, before = "", {}
    for record, then in zip(steps, moments, strict=True):
        facts = PaperFacts(planned().plan, case().site, case().network, stands(list(record), then))
        made = calendar(facts, EVERYBODY, made=then, before=sent)
        alone = {e.uid: e.number for e in _read(calendar(facts, EVERYBODY, made=then))}
        now = {e.uid: e for e in _read(made)}
        for uid, event in now.items():
            old = before.get(uid)
            if old is not None:
                assert (event.number > old.number) == (event.state != old.state)
                assert event.number >= old.number
            assert alone.get(uid, event.number) >= len(record) - 1
        sent, before = made.decode(), now
    assert sum(e.state[0] == "Done" for e in before.values()) > 5
    assert sum(e.state[0] == "BLOCKED" for e in before.values()) > 3


class _Sent:
    def __init__(self, entry: Any) -> None:
        self.uid, self.number = str(entry["uid"]), int(str(entry["sequence"]))
        mark, colon, _ = str(entry["summary"]).partition(": ")
        marks = ("Done", "BLOCKED", "FAILED", "To do again", "Not on record", "Begun", "Taken as done")
        mark = mark if colon and mark in marks else ""
        times = [str(entry[key].to_ical()) for key in ("dtstart", "dtend") if key in entry]
        self.state = (mark, *times, str(entry["status"]) == "CANCELLED")


def _read(content: bytes) -> list[_Sent]:
    return [_Sent(e) for e in Calendar.from_ical(content).walk("VEVENT")]


def test_what_is_left_over_is_shown_today_once_and_not_on_days_gone_by() -> None:
    facts = papers(failed_look)
    assert facts.now is not None
    rows = [r for r in work_rows(facts) if r.left_since]
    assert rows
    for row in rows:
        same = [r for r in work_rows(facts) if r.about == row.about]
        assert min(r.start.date() for r in same) == facts.now.date() == row.start.date()
        assert row.notes[0].startswith(("Due ", "Begun ", "To be done again: "))
        assert row.notes[0].startswith("Due ") == ("not on record" in row.notes[0])


def test_what_was_forgotten_is_not_ticked_and_asks_for_a_report() -> None:
    facts = papers(forgotten)
    rows = [r for r in work_rows(facts) if r.over == "taken"]
    assert rows
    assert all("Report it if that is wrong." in r.notes[0] for r in rows)


def test_begun_work_says_when_and_overdue_work_since_when() -> None:
    facts = papers(late_start)
    (begun,) = (w for w in facts.situation.work.values() if w.state is WorkState.BEGUN)  # type: ignore[union-attr]
    row = next(r for r in work_rows(facts) if r.about == (begun.id,))
    assert row.notes[0] == "Begun Mon 1 Mar 07:45."
    facts = papers(nothing_written)
    due = moment(min(a.finish for a in planned().plan.activities if a.work_minutes))
    assert any(note.startswith(f"Due {due}, not on record") for r in work_rows(facts) for note in r.notes[:1])


def test_tables_and_tags_tell_failed_from_released() -> None:
    look, until = first_look()
    hold = next(h.id for h in case().network.holds if h.look == look)
    rows = {r["hold point"]: r["by the record"] for r in read_table(holds_csv(papers(failed_look)))}
    assert rows[hold] == f"failed {first_looked()}: it leaks"
    visit = next(r for r in read_table(visits_csv(papers(failed_look))) if hold in r["hold points"])
    assert f"failed {first_looked()}: it leaks" in visit["by the record"]
    rows = {r["hold point"]: r["by the record"] for r in read_table(holds_csv(papers(all_by_plan)))}
    assert rows[hold] == f"released by Carol Dunn {first_looked()}"
    assert set(rows.values()) >= {"not looked at yet"}
    assert hold not in {h.id for h in standing(papers(all_by_plan), until.date(), march(30).date())}


def test_a_failed_look_says_what_must_be_done_first_and_misses_no_appointment() -> None:
    facts = papers(failed_look)
    look, _ = first_look()
    (row,) = [r for s in day_sheets(facts, EVERYBODY, *days(facts)) for r in s.rows if r.visit and look in r.about]
    (failed,) = [b for b in row.blocked if b.startswith("FAILED")]
    mend, again = failed.index("fix it (2 working hours)"), failed.index("look at it again")
    (test,) = (case().network.by_id[k.before] for k in case().network.links if k.after == look)
    assert test.name.startswith("Pressure test of ")
    assert mend < failed.index(f"make {test.name}") < again
    assert "No appointment on record yet." not in row.notes
    assert "An appointment to look again is made when that is done." in row.notes
    text = squeezed(printed(failed_look).text)
    assert squeezed(failed) in text
    assert squeezed("An appointment to look again is made when that is done.") in text


def test_no_slack_is_told_of_what_failed_is_done_again_or_is_overdue() -> None:
    told = 0
    for script in (failed_look, forgotten, nothing_written, all_by_plan):
        facts = papers(script)
        for row in work_rows(facts):
            stands = facts.stands(row.about[0])
            assert stands is not None
            gone = stands.overdue or stands.state in (WorkState.FAILED, WorkState.AGAIN)
            slack = [n for n in row.notes if "slack" in n]
            assert not (gone and slack), row
            told += bool(slack)
            if any("the finish slips" in n for n in slack):
                assert facts.work[row.about[0]].total_float_minutes == 0
    assert told
