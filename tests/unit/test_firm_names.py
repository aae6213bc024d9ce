"""After another firm has taken a trade over, nothing names the old firm for work after that: no call, paper or page.

The bundled small site, with the electrician's firm called Watt Brothers there.
"""

from __future__ import annotations

from datetime import datetime, timedelta
from functools import cache
from pathlib import Path
from tempfile import mkdtemp

import pytest
from icalendar import Calendar

import scheduler
from app.figures.work import Picture
from scheduler import Case, Options, Planned, Situation, bundled_sites
from scheduler.cli.calls import told as calls_told
from scheduler.cli.site_today import told as today_told
from scheduler.export.audiences import EVERYBODY, parties
from scheduler.export.calendar_files import calendar
from scheduler.export.days import day_sheets
from scheduler.export.lookahead import Period, look_ahead
from scheduler.export.paper_facts import PaperFacts
from scheduler.export.tables import activities_csv
from scheduler.ledger.events import Delayed, Event
from scheduler.ledger.trade_events import TakenOver
from scheduler.situation import calls_of
from tests.happenings import as_planned, entries
from tests.kept_plans import kept_plan
from tests.papers import read_pdf, read_table, squeezed

OLD, NEW, TRADE = "Watt Brothers", "Lamp and Daughters", "electrician"


@cache
def case() -> Case:
    file = Path(mkdtemp()) / "site.yaml"
    text = bundled_sites()["orchard-lane"].read_text(encoding="utf-8")
    file.write_text(text.replace("    name: Electrician\n", f"    name: {OLD}\n"), encoding="utf-8")
    return scheduler.load(file)


@cache
def planned() -> Planned:
    return kept_plan(case(), Options(only_finish=True))


def half_way() -> datetime:
    """Return an evening with work of the electrician before it and after it."""
    starts = sorted(a.start for a in planned().plan.activities if a.trade == TRADE)
    assert starts[0].date() < starts[-1].date()
    return starts[0].replace(hour=18, minute=0)


def over(when: datetime) -> TakenOver:
    since = (when + timedelta(days=1)).replace(hour=7)
    return TakenOver(trade=TRADE, firm=NEW, since=since, notice_days=1, when=when)


def stands(*more: tuple[datetime, Event], at: datetime) -> Situation:
    said = entries([*as_planned(case(), planned().plan, at), *more])
    return scheduler.today(case(), said, at, planned())


@cache
def after() -> Situation:
    when = half_way()
    return stands((when, over(when)), at=when + timedelta(hours=1))


def left() -> list[str]:
    return [w.id for w in after().work.values() if not w.over]


def done() -> str:
    """Return what the old firm did last, as papers name it: what comes after it still tells who did that."""
    over = [a for a in planned().plan.activities if a.trade == TRADE and a.id not in left()]
    return max(over, key=lambda a: a.finish).name.split(",")[0]


def test_the_calls_go_to_the_new_firm_and_none_to_the_people_of_the_old_one() -> None:
    before = [c for c in calls_of(stands(at=half_way())) if c.of == TRADE]
    assert "Marta Ruiz" in str(before)
    found = [c for c in calls_of(after()) if c.of == TRADE]
    assert found, "the new firm was told of nothing yet"
    assert {c.kind for c in found} == {"new"}
    assert found[0].text.startswith(f"Call {NEW}: first work on site ")
    assert all(c.to == NEW and not c.phone for c in found)
    assert all("work on site again from" in c.text for c in found[1:])
    assert OLD not in calls_told(after(), calls_of(after()))


def test_today_the_papers_the_calendars_and_the_tables_name_the_new_firm_for_what_is_left() -> None:
    assert OLD not in today_told(after())
    facts = PaperFacts(planned().plan, case().site, case().network, after())
    open_work = set(left())
    first, last = after().moment.date(), max(a.finish for a in planned().plan.activities).date()
    rows = [r for s in day_sheets(facts, EVERYBODY, first, last) for r in s.rows if set(r.about) & open_work]
    who = {r.who for r in rows}
    assert NEW in who
    assert OLD not in who
    names = {p.name for p in parties(facts)}
    assert NEW in names
    assert OLD not in names
    for party in parties(facts):
        text = squeezed(read_pdf(look_ahead(facts, party, Period(first + timedelta(days=1), 3))).text)
        assert squeezed(OLD) not in text.replace(squeezed(f"After {OLD}: {done()}"), ""), party
        for event in Calendar.from_ical(calendar(facts, party, made=after().moment)).walk("VEVENT"):
            if event["dtstart"].dt > after().moment:
                assert OLD not in str(event["description"]), event["summary"]
    table = {r["activity"]: r["who"] for r in read_table(activities_csv(facts))}
    theirs = {a.id: table[a.id] for a in planned().plan.activities if a.trade == TRADE}
    assert {theirs[a] for a in theirs if a in open_work} == {NEW}
    assert {theirs[a] for a in theirs if a not in open_work} == {OLD}, "what they did stays theirs"


def test_the_pages_draw_and_name_the_new_firm() -> None:
    picture = Picture(planned().plan, case().network, case().site).done_by(after().doers)
    open_work = set(left())
    names = {a.id: picture.trade_name(a) for a in planned().plan.activities if a.trade == TRADE}
    assert {names[a] for a in names if a in open_work} == {NEW}
    assert {names[a] for a in names if a not in open_work} == {OLD}


def test_word_of_a_delay_from_the_new_firm_is_about_the_work_it_took_over() -> None:
    when = half_way()
    away = Delayed(who=NEW, not_before=when + timedelta(days=9))
    found = stands((when, over(when)), (when, away), at=when + timedelta(hours=1))
    late = [w for w in found.breaches if NEW in w.because]
    assert late, [w.because for w in found.breaches]
    assert not [w for w in found.breaches if OLD in w.because]


@pytest.mark.parametrize("aim", ["least_moved"])
def test_a_new_plan_gives_no_reason_in_the_name_of_the_old_firm(aim: str) -> None:
    when = half_way()
    said = entries([*as_planned(case(), planned().plan, when), (when, over(when))])
    found = scheduler.replan(case(), said, when, before=planned().plan)
    alternative = next(a for a in found.alternatives if aim in {x.name.lower() for x in a.aims})
    rows = [a for a in alternative.plan.activities if a.start >= when]
    reasons = [r.because for a in rows for r in a.driven_by]
    taken = f"it does the work of {OLD} from then on"
    assert not [r for r in reasons if OLD in r.replace(taken, "")]
