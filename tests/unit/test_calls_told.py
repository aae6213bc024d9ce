"""Calls over a day on the small site: who is moved, what survives, what is overdue, and what an answer does."""

from __future__ import annotations

from dataclasses import replace
from datetime import datetime, timedelta
from functools import cache
from pathlib import Path
from zoneinfo import ZoneInfo

import pytest

import scheduler
from scheduler import Options, accept, bundled_sites
from scheduler.cli.main import main
from scheduler.cli.site_today import told as today_told
from scheduler.export.audiences import EVERYBODY
from scheduler.export.days import day_sheets
from scheduler.export.paper_facts import PaperFacts
from scheduler.ledger.events import Delayed, Event, VisitBooked, VisitCancelled, read_event
from scheduler.ledger.state import fold
from scheduler.network.derive import derive
from scheduler.plan import Plan
from scheduler.replan.replan_records import Alternative
from scheduler.site.files import read_site
from scheduler.site.templates import Start, new_site
from scheduler.situation.call_list import about_what, calls_of, how_it_stands, phone_calls, said_in_call
from scheduler.situation.call_words import CallDue, when_to_call
from scheduler.situation.calls_due import calls_due, calls_for_change
from scheduler.situation.job_facts import facts_at
from scheduler.situation.notice import desk_of, last_call
from scheduler.situation.what_was_told import what_was_told
from tests.call_lists import calls_at
from tests.happenings import as_planned, entries
from tests.kept_plans import kept_plan

CASE = scheduler.load(bundled_sites()["orchard-lane"])
TIE_IN = "outside/tie-in"


@cache
def plan() -> Plan:
    return kept_plan(CASE, Options(only_finish=True)).plan


def at(day: int, hour: int, minute: int = 0) -> datetime:
    return datetime(2027, 3, day, hour, minute, tzinfo=ZoneInfo(CASE.site.site.time_zone))


def calls(moment: datetime, *said: tuple[datetime, Event], by: Plan | None = None) -> tuple[CallDue, ...]:
    return calls_at(CASE.site, CASE.network, by or plan(), entries(said), moment)


def of(found: tuple[CallDue, ...], party: str) -> list[CallDue]:
    return [c for c in found if c.of == party]


def shifted(days: int, *trades: str, on: datetime) -> Plan:
    """Return the plan with the work of some trades on and after a day put off."""
    by = timedelta(days=days)
    rows = [
        a.model_copy(update={"start": a.start + by, "finish": a.finish + by})
        if a.trade in trades and a.start >= on
        else a
        for a in plan().activities
    ]
    return plan().model_copy(update={"activities": rows})


def tied_in(start: datetime) -> Plan:
    """Return the plan with the tie-in at another time."""
    rows = [a.model_copy(update={"start": start}) if a.id == TIE_IN else a for a in plan().activities]
    return plan().model_copy(update={"activities": rows})


def a_day_with_both() -> datetime:
    """Return half past six on a day on which the plumber and the electrician both begin something."""
    days = {t: {a.start.date() for a in plan().activities if a.trade == t} for t in ("plumber", "electrician")}
    day = min(days["plumber"] & days["electrician"])
    return at(day.day, 6, 30)


# ---- who is moved from today -------------------------------------------------------------------------------------


def test_trades_moved_from_today_are_named_with_their_numbers_and_accepting_keeps_the_calls(tmp_path: Path) -> None:
    now = a_day_with_both()
    new = shifted(7, "plumber", "electrician", on=now)
    happened = as_planned(CASE, plan(), now)
    facts = facts_at(CASE.site, CASE.network, fold(entries(happened), now), now)
    found = calls_for_change(facts, new, plan())
    moved = {c.of: c for c in found if c.kind == "moved"}
    assert {"plumber", "electrician"} <= set(moved)
    assert moved["plumber"].to == "Tom Bell, Plumber (555-0112)"
    assert (moved["electrician"].person, moved["electrician"].phone) == ("Marta Ruiz", "555-0111")
    for trade in ("plumber", "electrician"):
        was, wanted = moved[trade].was, moved[trade].now
        assert was is not None
        assert was.date() == now.date()
        assert wanted is not None
        assert wanted.date() > now.date()
        assert "by the plan before" in moved[trade].text

    fields = dict.fromkeys(Alternative.__dataclass_fields__)
    alternative = Alternative(**{**fields, "plan": new, "calls": found})  # type: ignore[arg-type]
    with scheduler.journal(CASE, str(tmp_path / "job.db")) as journal:
        for when, event in happened:
            journal.append(event, at=when, by="Ruth Amsel")
        accept(journal, alternative, by="Ruth Amsel", at=now)
        later = now + timedelta(hours=1)
        after = calls_due(facts_at(CASE.site, CASE.network, fold(journal.entries(), later), later), new)
    kept = {(c.of, c.was, c.now) for c in after}
    assert {(c.of, c.was, c.now) for c in moved.values()} <= kept
    assert {(c.of, c.now) for c in found} <= {(c.of, c.now) for c in after}


# ---- overdue -----------------------------------------------------------------------------------------------------


def test_what_is_overdue_stays_says_since_when_and_comes_first() -> None:
    found = calls(at(2, 12))
    late = [c for c in found if c.due_since]
    assert {c.of for c in late} >= {"plumber", "electrician"}
    assert list(found[: len(late)]) == late
    assert when_to_call(late[0]) == "At once, due since Mon 1 Mar 15:30"
    assert {c.id for c in calls(at(1, 7))} >= {c.id for c in late}


@pytest.mark.benchmark  # each command plans anew: a minute
def test_an_overdue_call_is_on_the_list_of_the_command_line(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.setenv("JOINTTRENCH_JOURNAL", str(tmp_path))
    site = str(bundled_sites()["orchard-lane"])
    assert main(["calls", site, "--at", "2027-03-02 12:00"]) == 1
    out = " ".join(capsys.readouterr().out.split())
    assert "At once, due since Mon 1 Mar 15:30: Tom Bell, Plumber (555-0112)" in out
    words = ["called", site, "plumber", "--by", "Ruth Amsel", "--now", "2027-03-02 12:00"]
    assert main([*words, "--answer", "no-answer"]) == 0
    assert main(["calls", site, "--at", "2027-03-02 12:01"]) == 1
    assert "No answer Tue 2 Mar 12:00. [plumber]" in " ".join(capsys.readouterr().out.split())
    assert main([*words, "--answer", "agreed"]) == 0
    assert main(["calls", site, "--at", "2027-03-02 12:01"]) == 1
    assert "due since Mon 1 Mar 15:30: Tom Bell" not in " ".join(capsys.readouterr().out.split())
    refused = ["called", site, "tie-in", "--by", "Ruth Amsel", "--now", "2027-03-02 12:05", "--answer", "refused"]
    assert main([*refused, "--offers", "2027-03-22 08:00"]) == 1
    assert "jointtrench replan" in capsys.readouterr().out
    assert main(["called", site, "nobody", "--answer", "agreed", "--now", "2027-03-02 12:10"]) == 2
    err = " ".join(capsys.readouterr().err.split())
    assert "it is no inspection, outside work, trade or locate ticket here. Found nobody; expected one of " in err
    assert all(id_ in err for id_ in ("plumber", "tie-in", "site-crew", "ticket")), err
    assert "not to be called" not in err
    assert main(["called", site, "site-crew", "--answer", "agreed", "--now", "2027-03-02 12:10"]) == 2
    assert "is not to be called about anything" in " ".join(capsys.readouterr().err.split())


# ---- a booking that the plan moves -------------------------------------------------------------------------------


def test_a_moved_booking_says_what_it_was_what_is_wanted_and_what_a_no_means() -> None:
    (call,) = of(calls(at(1, 7)), "tie-in")
    wanted = next(a.start for a in plan().activities if a.id == TIE_IN)
    assert (call.kind, call.was, call.now) == ("moved", at(18, 8), wanted)
    assert f"booked Thu 18 Mar 08:00, now wanted {wanted:%a} {wanted.day} Mar {wanted:%H:%M}." in call.text
    assert call.if_no == "If they say no, Thu 18 Mar 08:00 stands: a plan is made again from that."
    assert call.by < wanted


def test_papers_say_what_a_booking_that_the_plan_moves_is_booked_for() -> None:
    facts = PaperFacts(plan(), CASE.site, CASE.network)
    row = next(a for a in plan().activities if a.id == TIE_IN)
    first = row.start.date()
    notes = [n for s in day_sheets(facts, EVERYBODY, first, first) for r in s.rows for n in r.notes]
    (said,) = [n for n in notes if n.startswith("Booked")]
    assert said.startswith("Booked Thu 18 Mar 08:00; the plan wants ")
    moved = [
        a.model_copy(update={"start": at(18, 8), "finish": at(18, 10)}) if a.id == TIE_IN else a
        for a in plan().activities
    ]
    kept = replace(facts, plan=plan().model_copy(update={"activities": moved}))
    assert kept.work_appointment(kept.work[TIE_IN]) == ""
    assert not of(kept.calls, "tie-in"), "they know"


# ---- the desk ----------------------------------------------------------------------------------------------------


def test_a_site_that_names_no_general_trade_is_never_told_to_call_at_midnight() -> None:
    site = read_site(new_site("house-service", Start("Any", datetime(2027, 3, 2).date())).text(), file="new.yaml")
    assert site.site.general_trade is None
    network = derive(site)
    desk, clock = desk_of(site, network.clock), network.clock
    first = clock.tick(datetime(2027, 3, 2, 7))
    by = clock.when(last_call(desk, network.calendar_of(network.activities[0].id), first, 0))
    assert f"{by:%a %H:%M}" == "Mon 15:30", "the day before the first one, in office hours"
    assert f"{clock.when(desk.last_before(0)):%a %H:%M}" == "Mon 15:30"
    holiday = replace(desk, free=frozenset({by.date()}))
    assert f"{clock.when(holiday.last_before(0)):%a %H:%M}" == "Fri 15:30"


# ---- answers -----------------------------------------------------------------------------------------------------


def answer(call: CallDue, when: datetime, **fields: object) -> tuple[datetime, Event]:
    return when, read_event("called", {**said_in_call(call), "when": when, **fields})


def test_agreed_is_ticked_off_until_a_plan_wants_another_time() -> None:
    (call,) = of(calls(at(1, 7)), "tie-in")
    yes = answer(call, at(1, 8), answer="agreed")
    assert not of(calls(at(1, 9), yes), "tie-in")
    wanted = call.now
    assert wanted is not None
    (again,) = of(calls(at(1, 9), yes, by=tied_in(at(22, 9))), "tie-in")
    assert (again.was, again.now) == (wanted, at(22, 9))
    assert "agreed for" in again.text


def test_no_answer_stays_and_says_when_it_was_tried() -> None:
    (call,) = [c for c in of(calls(at(1, 7)), "plumber") if c.by.date() == at(1, 7).date()]
    tried = [answer(call, at(1, h), answer="no_answer") for h in (8, 11)]
    (still,) = [c for c in of(calls(at(1, 12), *tried), "plumber") if c.id == call.id]
    assert how_it_stands(still) == "No answer Mon 1 Mar 08:00, Mon 1 Mar 11:00."


def test_a_no_is_shown_as_such_and_leads_to_a_plan_that_keeps_it() -> None:
    (call,) = of(calls(at(1, 7)), "tie-in")
    no = answer(call, at(1, 8), answer="refused", offers=at(22, 8))
    (refused,) = of(calls(at(1, 9), no), "tie-in")
    assert refused.said_no == (
        "They said no Mon 1 Mar 08:00, offers Mon 22 Mar 08:00. See what can be done: plan again from that."
    )
    found = scheduler.replan(CASE, entries([no]), at(1, 9), before=plan())
    assert found.alternatives
    for way in found.alternatives:
        (row,) = [a for a in way.plan.activities if a.id == TIE_IN]
        assert row.start >= at(22, 8)
        (call,) = of(way.calls, "tie-in")
        assert (call.was, call.now, call.said_no) == (at(18, 8), row.start, ""), "ask for the time they offered"
    (call,) = of(found.alternatives[0].calls, "tie-in")
    yes = answer(call, at(1, 10), answer="agreed")
    after = scheduler.replan(CASE, entries([no, yes]), at(1, 11), before=found.alternatives[0].plan)
    (row,) = [a for a in after.alternatives[0].plan.activities if a.id == TIE_IN]
    assert row.start == call.now, "what was agreed is kept"
    assert not of(after.alternatives[0].calls, "tie-in")


def test_who_said_that_they_are_late_is_not_asked_for_sooner() -> None:
    late = Delayed(who="plumber", not_before=at(12, 7))
    first = of(calls(at(1, 9), (at(1, 8), late)), "plumber")[0]
    assert first.said_no.startswith("They said they cannot come before Fri 12 Mar 07:00.")


# ---- bookings in the journal -------------------------------------------------------------------------------------


def looks_of_first_visit() -> tuple[str, datetime, list[str]]:
    visit = min((v for v in plan().visits), key=lambda v: v.start)
    looks = [h.look for h in CASE.network.holds if h.id in visit.covers]
    return visit.inspection, visit.start, looks


def test_a_visit_booked_without_saying_what_for_is_for_what_falls_into_it_and_else_the_nearest() -> None:
    inspection, start, _ = looks_of_first_visit()
    day = start.date()
    before = of(calls(at(1, 7)), inspection)
    assert before[0].now is not None
    assert before[0].now.date() == day
    booked = VisitBooked(visit="v", of=inspection, start=start)
    kept = of(calls(at(1, 8), (at(1, 7, 30), booked)), inspection)
    assert not [c for c in kept if c.now and c.now.date() == day]
    elsewhere = VisitBooked(visit="v", of=inspection, start=start + timedelta(days=7))
    moved = of(calls(at(1, 8), (at(1, 7, 30), elsewhere)), inspection)
    if not any(c.now and c.now.date() == elsewhere.start.date() for c in before):
        (one,) = [c for c in moved if c.kind == "moved"]
        assert one.was == elsewhere.start
    gone = of(calls(at(1, 9), (at(1, 7, 30), booked), (at(1, 8), VisitCancelled(visit="v"))), inspection)
    assert [c.id for c in gone] == [c.id for c in before]


def test_calls_to_one_person_on_one_day_are_one_telephone_call() -> None:
    found = calls(at(1, 7))
    together = phone_calls(found, at(1, 7).date())
    assert sorted(c.id for phone in together for c in phone.due) == sorted(c.id for c in found)
    assert len(together) < len(found)
    keys = [(c.to, c.on) for c in together]
    assert len(keys) == len(set(keys))
    told = what_was_told(CASE.site, CASE.network, fold(()))
    assert {p.of for p in told.parties} >= {"plumber", "electrician", "tie-in"}


def test_today_the_calls_and_the_look_ahead_have_one_line_for_each_telephone_call() -> None:
    now = at(1, 7)
    planned = kept_plan(CASE, Options(only_finish=True))
    situation = scheduler.today(CASE, (), now, planned)
    together = phone_calls(calls_of(situation), now.date())
    several = [c for c in together if len(c.due) > 1]
    assert several, "two things to say to one person on one day"
    assert [c.due[0].by for c in together] == sorted(c.due[0].by for c in together), "what is overdue first"
    said = " ".join(today_told(situation).split())
    for call in (c for c in together if c.on == now.date()):
        assert said.count(f": Call {call.to}: ") == 1
    facts = PaperFacts(planned.plan, CASE.site, CASE.network, situation)
    for day in dict.fromkeys(c.on for c in together):
        (sheet,) = day_sheets(facts, EVERYBODY, day, day)
        rows = [r for r in sheet.rows if r.call]
        assert sorted(r.what for r in rows) == sorted(c.text for c in together if c.on == day)
    for call in several:
        assert call.text.count(call.to) == 1
        assert all(about_what(c) in call.text for c in call.due)


def test_first_work_on_site_is_said_of_the_first_day_alone() -> None:
    """The plumber leaves and comes again: the second call is no first day."""
    away = [a for a in plan().activities if a.trade == "plumber"]
    last = max(away, key=lambda a: a.start)
    by = timedelta(days=28)
    moved = last.model_copy(update={"start": last.start + by, "finish": last.finish + by})
    rows = [moved if a.id == last.id else a for a in plan().activities]
    found = of(calls(at(1, 7), by=plan().model_copy(update={"activities": rows})), "plumber")
    assert len(found) > 1
    assert ["first work on site" in c.text for c in found] == [n == 0 for n in range(len(found))]
    assert "work on site again from" in found[1].text
    assert found[1].about == "Plumber, on site again"
