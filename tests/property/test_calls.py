"""Every call that a difference implies is listed, and no other: random plans and journals against a plain comparison.

The comparison knows the small site's weeks by hand (the city Monday, Wednesday and Friday with a day of notice, the
utility Monday to Thursday with three, the crew Monday to Friday with two; Friday 19 June is a holiday) and works with
dates alone.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, field
from datetime import date, datetime, timedelta
from random import Random
from zoneinfo import ZoneInfo

import pytest

from scheduler.dates_csv import read_dates
from scheduler.ledger.call_events import Called
from scheduler.ledger.events import Event, Finished, Started, VisitBooked, VisitCancelled
from scheduler.ledger.state import State, fold
from scheduler.plan import Plan, PlanActivity
from scheduler.situation.call_words import CallDue
from scheduler.situation.calls_due import calls_due, calls_for_change
from scheduler.situation.job_facts import facts_at
from tests.call_lists import bare_plan
from tests.derived import changed, network
from tests.happenings import entries
from tests.small_site import SMALL_SITE_DATES

ZONE = ZoneInfo("America/Denver")
CITY, UTILITY, CREW = (0, 2, 4), (0, 1, 2, 3), (0, 1, 2, 3, 4)
NOTICE = {"I1": (CITY, 1), "U1": (UTILITY, 3), "elec": (CREW, 2)}
HOLIDAY = date(2026, 6, 19)
TIE_IN = "outside/U1"
BOOKED = datetime(2026, 6, 30, 9, tzinfo=ZONE)
STAY_DAYS = 3

Line = tuple[str, str, datetime | None, datetime | date | None, frozenset[str]]
"""Kind, party, the time they know, the time or day wanted, and what for."""


def small() -> tuple[Plan, list[str]]:
    """Return the small site's plan, and its looks."""
    net = network()
    plan = bare_plan(changed(), net, read_dates(SMALL_SITE_DATES, net))
    return plan, [k for rule in net.visit_rules for k in rule.looks]


PLAN, LOOKS = small()


def open_days(weekdays: Iterable[int], first: date, days: int) -> list[date]:
    every = (first + timedelta(days=n) for n in range(days))
    return [d for d in every if d.weekday() in weekdays and d != HOLIDAY]


def at(day: date, hour: int, minute: int = 0) -> datetime:
    return datetime(day.year, day.month, day.day, hour, minute, tzinfo=ZONE)


def draw_plan(rng: Random) -> Plan:
    """Return the plan with looks, the tie-in and some of the electrician's work elsewhere."""
    rows = []
    for row in PLAN.activities:
        start = row.start
        if row.id in LOOKS and rng.random() < 0.5:
            start = at(rng.choice(open_days(CITY, date(2026, 6, 10), 18)), rng.choice((8, 9, 10)), rng.choice((0, 30)))
        elif row.id == TIE_IN and rng.random() < 0.5:
            start = at(rng.choice(open_days(UTILITY, date(2026, 6, 15), 18)), rng.choice((8, 9, 11)))
        elif row.trade == "elec" and rng.random() < 0.4:
            start = at(rng.choice(open_days(CREW, date(2026, 6, 9), 20)), rng.choice((7, 9, 13)))
        rows.append(row.model_copy(update={"start": start, "finish": start + (row.finish - row.start)}))
    return PLAN.model_copy(update={"activities": rows})


@dataclass
class Known:
    """What the parties know, by activity: since when they know it is what they were told last."""

    told: dict[str, tuple[datetime, str, int]] = field(default_factory=lambda: {TIE_IN: (BOOKED, "BK1", 0)})
    """The time, the name of the visit, and which word it was in."""
    trade: datetime | None = None
    over: set[str] = field(default_factory=set)


def draw_journal(rng: Random, moment: datetime) -> tuple[list[tuple[datetime, Event]], Known]:
    """Return what was written down by a moment, and what that means in plain words."""
    said: list[tuple[datetime, Event]] = []
    known = Known()
    when = moment - timedelta(days=3)
    for number in range(1, rng.randint(1, 9)):
        when += timedelta(hours=rng.randint(0, 7), minutes=1)
        of, activity = rng.choice([("I1", rng.choice(LOOKS)), ("U1", TIE_IN)])
        later = open_days(CITY if of == "I1" else UTILITY, when.date() + timedelta(days=1), 16)
        start = at(rng.choice(later), rng.choice((8, 9, 10)))
        visit = rng.choice(("a", "b", "BK1"))
        match rng.choice(("booked", "called off", "agreed", "not needed", "no answer", "no")):
            case "booked":
                looks = tuple(dict.fromkeys((activity, rng.choice(LOOKS) if of == "I1" else activity)))
                said.append((when, VisitBooked(visit=visit, of=of, looks=looks, start=start)))
                forget(known, visit)
                known.told |= {k: (start, visit, number) for k in looks}
            case "called off":
                said.append((when, VisitCancelled(visit=visit)))
                forget(known, visit)
            case "agreed":
                said.append((when, call(of, activity, when, start, "agreed")))
                known.told[activity] = start, "", number
            case "not needed":
                said.append((when, call(of, activity, when, None, "agreed")))
                known.told.pop(activity, None)
            case answer:
                said.append(
                    (when, call(of, activity, when, start, "no_answer" if answer == "no answer" else "refused"))
                )
    if rng.random() < 0.4:
        known.trade = at(rng.choice(open_days(CREW, moment.date(), 12)), rng.choice((7, 9, 13)))
        work = rng.choice([r.id for r in PLAN.activities if r.trade == "elec"])
        said.append((when, call("elec", work, when, known.trade, "agreed")))
    return said, known


def call(of: str, activity: str, when: datetime, start: datetime | None, answer: str) -> Called:
    return Called(of=of, activities=(activity,), when=when, told_start=start, answer=answer)  # type: ignore[arg-type]


def forget(known: Known, visit: str) -> None:
    known.told = {a: w for a, w in known.told.items() if w[1] != visit}


def knows_still(of: str, start: datetime, moment: datetime) -> bool:
    """A visit's morning is over at eleven; other appointments have come when their quarter of an hour is over."""
    return (at(start.date(), 11) if of == "I1" else start + timedelta(minutes=15)) > moment


def same(of: str, told: datetime, wanted: datetime) -> bool:
    return told.date() == wanted.date() if of == "I1" else told == wanted


def compare(plan: Plan, known: Known, moment: datetime) -> set[Line]:
    """Return the calls that the difference of what is known and a plan implies, party by party."""
    return {
        *compared(plan, known, moment, "I1", LOOKS),
        *compared(plan, known, moment, "U1", [TIE_IN]),
        *of_trade(plan, known.trade, moment, known.over),
    }


def compared(plan: Plan, known: Known, moment: datetime, of: str, theirs: list[str]) -> Iterable[Line]:
    starts = {r.id: r.start for r in plan.activities if r.id in theirs}
    moved: dict[tuple[datetime, int, date], set[str]] = {}
    new: dict[date, set[str]] = {}
    words: dict[tuple[datetime, int], list[bool]] = {}
    for activity in theirs:
        start, word = starts[activity], known.told.get(activity)
        ahead = start >= moment
        if word is not None and knows_still(of, word[0], moment):
            needed = activity not in known.over
            words.setdefault((word[0], word[2]), []).append(needed)
            if needed and ahead and not same(of, word[0], start):
                moved.setdefault((word[0], word[2], start.date()), set()).add(activity)
        elif activity not in known.over and ahead:
            new.setdefault(start.date(), set()).add(activity)
    for (told, _, day), work in moved.items():
        yield "moved", of, told, day, frozenset(work)
    for (told, _), needed in words.items():
        if not any(needed):
            yield "off", of, told, None, frozenset()
    for day, work in new.items():
        yield "new", of, None, day, frozenset(work)


def of_trade(plan: Plan, told: datetime | None, moment: datetime, over: set[str]) -> Iterable[Line]:
    """The electrician comes for stays, and is called for the first day of each."""
    rows = sorted((r for r in plan.activities if r.trade == "elec"), key=lambda r: (r.start, r.finish, r.id))
    gone: date | None = None
    first_days = []
    for row in rows:
        if (
            (gone is None or (row.start.date() - gone).days > STAY_DAYS + 1)
            and row.start >= moment
            and row.id not in over
        ):
            first_days.append(row.start)
        last = (row.finish - timedelta(minutes=1)).date()
        gone = last if gone is None else max(gone, last)
    ahead = [r.start for r in rows if r.start >= moment and r.id not in over]
    there = {t.date() for t in ahead} - {t.date() for t in first_days}
    if told is not None and told + timedelta(minutes=15) > moment and told.date() not in there:
        if told in first_days:
            first_days.remove(told)
        elif not first_days:
            yield "off", "elec", told, None, frozenset()
        else:
            wanted = next((d for d in first_days if d.date() == told.date()), first_days[0])
            first_days.remove(wanted)
            yield "moved", "elec", told, wanted.date(), frozenset()
    for start in first_days:
        yield "new", "elec", None, start.date(), frozenset()


def listed(found: Iterable[CallDue]) -> set[Line]:
    lines: set[Line] = set()
    for due in found:
        if due.kind in ("new", "moved", "off"):
            work = frozenset(due.activities) if due.of != "elec" and due.kind != "off" else frozenset()
            lines.add((due.kind, due.of, due.was, due.now.date() if due.now else None, work))
    return lines


def reported(plan: Plan, moment: datetime) -> list[tuple[datetime, Event]]:
    """Everything of others' and of the electrician that the plan has by a moment, as it happened."""
    said: list[tuple[datetime, Event]] = []
    for row in plan.activities:
        if (row.id == TIE_IN or row.trade == "elec") and row.start < moment:
            said.append((row.start, Started(activity=row.id, when=row.start)))
            if row.finish <= moment:
                said.append((row.finish, Finished(activity=row.id, when=row.finish)))
    return sorted(said, key=lambda s: s[0])


@pytest.mark.parametrize("seed", range(150))
def test_every_call_that_a_difference_implies_is_listed_and_no_other(seed: int) -> None:
    rng = Random(seed)
    plan = draw_plan(rng)
    moment = at(date(2026, 6, 8) + timedelta(days=rng.randint(0, 20)), rng.choice((6, 10, 15)), rng.choice((0, 20)))
    said, known = draw_journal(rng, moment)
    state = fold(entries(sorted(said, key=lambda s: s[0])), moment)
    due = calls_due(facts_at(changed(), network(), state, moment), plan)
    assert listed(due) == compare(plan, known, moment)
    assert len({d.id for d in due}) == len(due)
    for call_due in due:
        assert call_due.due_since == (call_due.by if call_due.by < moment else None)


@pytest.mark.parametrize("seed", range(150))
def test_a_plan_in_place_of_another_lists_every_change_that_people_would_not_hear_of(seed: int) -> None:
    """With nothing on record: who was to come within their notice or today, and has another time now."""
    rng = Random(1000 + seed)
    before, plan = draw_plan(rng), draw_plan(rng)
    moment = at(date(2026, 6, 8) + timedelta(days=rng.randint(0, 20)), rng.choice((6, 10, 15)), rng.choice((0, 20)))
    facts = facts_at(changed(), network(), State(), moment)
    found = calls_for_change(facts, plan, before)
    changes = {line for line in listed(found) if line[0] != "new"}
    assert changes == {*expected_moves(before, plan, moment), *expected_of_trade(before, plan, moment)}
    for due in calls_due(facts, plan):
        if due.by.date() <= moment.date() and due.kind == "new":
            told = [c for c in found if c.of == due.of and set(c.activities) & set(due.activities)]
            assert told, f"{due.text} is due and neither asked for nor moved"


def soon(of: str, start: datetime, moment: datetime) -> bool:
    """Tell whether somebody told now hears too late of a day, or it is today."""
    weekdays, days = NOTICE[of]
    first = open_days(weekdays, moment.date() + timedelta(days=1), 40)[days - 1]
    return start.date() < first or start.date() == moment.date()


def expected_moves(before: Plan, plan: Plan, moment: datetime) -> Iterable[Line]:
    was, now = ({r.id: r.start for r in p.activities} for p in (before, plan))
    days: dict[tuple[str, datetime | date, date], set[str]] = {}
    shown: dict[date, datetime] = {}
    for look in LOOKS:
        if was[look] >= moment and soon("I1", was[look], moment):
            day = was[look].date()
            shown[day] = min(shown.get(day, was[look]), was[look])
            if now[look] >= moment and now[look].date() != day:
                days.setdefault(("I1", day, now[look].date()), set()).add(look)
    for (of, day, wanted), work in days.items():
        yield "moved", of, shown[day], wanted, frozenset(work)  # type: ignore[index]
    if now[TIE_IN] >= moment and now[TIE_IN] != BOOKED and BOOKED + timedelta(minutes=15) > moment:
        yield "moved", "U1", BOOKED, now[TIE_IN].date(), frozenset({TIE_IN})


def next_start(plan: Plan, moment: datetime) -> PlanActivity | None:
    ahead = [r for r in plan.activities if r.trade == "elec" and r.start >= moment]
    return min(ahead, key=lambda r: r.start, default=None)


def expected_of_trade(before: Plan, plan: Plan, moment: datetime) -> Iterable[Line]:
    was, now = next_start(before, moment), next_start(plan, moment)
    if was is None or not (soon("elec", was.start, moment) or (now is not None and soon("elec", now.start, moment))):
        return
    if now is None:
        yield "off", "elec", was.start, None, frozenset()
        return
    stays = [line[3] for line in of_trade(plan, None, moment, set())]
    on_site = now.start.date() not in stays
    at_work = any(r.trade == "elec" and r.start < moment < r.finish for r in plan.activities)
    hears = on_site and was.start.date() == now.start.date() and (now.start > was.start or at_work)
    if was.start != now.start and not hears:
        yield "moved", "elec", was.start, now.start.date(), frozenset()


@pytest.mark.parametrize("seed", range(30))
def test_what_happened_is_called_for_no_more(seed: int) -> None:
    rng = Random(2000 + seed)
    plan = draw_plan(rng)
    moment = at(date(2026, 6, 12) + timedelta(days=rng.randint(0, 16)), rng.choice((6, 10, 15)))
    said = reported(plan, moment)
    known = Known(over={e.activity for _, e in said if isinstance(e, Started)})
    facts = facts_at(changed(), network(), fold(entries(said), moment), moment)
    over = known.over | set(facts.done) | set(facts.begun)
    due = calls_due(facts, plan)
    assert not [c for c in due if set(c.activities) & over and c.kind != "off"]
    if TIE_IN in known.over and moment < BOOKED:
        assert [c.kind for c in due if c.of == "U1"] == ["off"]
