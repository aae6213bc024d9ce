"""What stands on a look-ahead, day by day: work, visits, what gates them, calls, open trench."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, datetime, time, timedelta

from scheduler.export.audiences import EVERYBODY, Audience, visits_of, work_of
from scheduler.export.paper_facts import PaperFacts
from scheduler.plan import PlanActivity, PlanCall, PlanHold, PlanVisit
from scheduler.slack import has_little_slack, slack_said
from scheduler.spoken import moment, short_day


@dataclass(frozen=True, slots=True)
class VisitLook:
    """One thing an inspector looks at in a visit."""

    at: datetime
    what: str
    place: str


@dataclass(frozen=True, slots=True)
class DayRow:
    """One line of a day: a piece of work, a visit, or a call to make."""

    start: datetime
    finish: datetime
    place: str
    what: str
    who: str = ""
    """Who does it; empty on a paper for that very party."""
    visit: bool = False
    call: bool = False
    """A call to make by `start`."""
    looks: tuple[VisitLook, ...] = ()
    stops: tuple[str, ...] = ()
    """What must be released before it may begin, each a sentence that begins HOLD POINT or WITNESS POINT."""
    notes: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class DaySheet:
    """One day of a look-ahead."""

    on: date
    rows: tuple[DayRow, ...]
    open_ft: float
    """Feet of trench open in the night after."""


def day_sheets(facts: PaperFacts, party: Audience, first: date, last: date) -> list[DaySheet]:
    """Return the days from the first to the last on which a party has something, in order.

    For everybody, days without work on which trench stands open are among them.
    """
    rows: dict[date, list[DayRow]] = {}
    for activity in work_of(facts, party):
        if activity.start.date() <= last and activity.finish.date() >= first:
            for row in _work_rows(facts, party, activity):
                rows.setdefault(row.start.date(), []).append(row)
    for visit in visits_of(facts, party):
        rows.setdefault(facts.local(visit.start).date(), []).append(_visit_row(facts, visit))
    for call in calls_of(facts, party, first, last):
        rows.setdefault(_call_day(facts, call), []).append(_call_row(facts, call))
    days = [first + timedelta(days=n) for n in range((last - first).days + 1)]
    sheets = [DaySheet(on, tuple(sorted(rows.get(on, ()), key=_place_in_day)), facts.open_ft(on)) for on in days]
    return [s for s in sheets if s.rows or (party == EVERYBODY and s.open_ft)]


def _place_in_day(row: DayRow) -> tuple[bool, datetime, datetime, str]:
    """Calls come first: whatever their last hour is, they are made in the morning."""
    return not row.call, row.start, row.finish, row.what


def calls_of(facts: PaperFacts, party: Audience, first: date, last: date) -> list[PlanCall]:
    """Return the calls to make in these days: on the papers of everybody and of own trades, for it is they who call.

    A call that was due before the data date is to be made on the data date.
    """
    own = {t.id for t in facts.site.trades if t.own}
    if party != EVERYBODY and not (party.kind == "trade" and party.id in own):
        return []
    return sorted((c for c in facts.plan.calls if first <= _call_day(facts, c) <= last), key=lambda c: (c.by, c.id))


def _call_day(facts: PaperFacts, call: PlanCall) -> date:
    return max(facts.local(call.by), facts.local(facts.plan.data_date)).date()


def _call_row(facts: PaperFacts, call: PlanCall) -> DayRow:
    by = facts.local(call.by)
    on = _call_day(facts, call)
    late = by.date() < on
    what = call.text if not call.to or call.to in call.text else f"{call.to}: {call.text}"
    notes = (f"Due since {moment(by)}.",) if late else ()
    when = datetime.combine(on, time(), by.tzinfo) if late else by
    return DayRow(when, when, "By phone", what, call=True, notes=notes)


def stop_sentence(facts: PaperFacts, hold: PlanHold) -> str:
    """Say what a hold or witness point asks before work goes on, and when that is planned."""
    planned = f" Planned {moment(facts.local(hold.planned_release))}." if hold.planned_release else ""
    if hold.kind == "witness":
        return (
            f"WITNESS POINT: {facts.hold_name(hold)}. Go on when {facts.releases(hold)} has seen it, "
            f"or once the time agreed has passed.{planned}"
        )
    return f"HOLD POINT: {facts.hold_name(hold)}. Only after {facts.releases(hold)} releases it.{planned}"


def _work_rows(facts: PaperFacts, party: Audience, activity: PlanActivity) -> list[DayRow]:
    days = facts.days(activity)
    who = facts.who(activity) if party == EVERYBODY else ""
    stops = tuple(stop_sentence(facts, h) for h in facts.waits_for.get(activity.id, ()))
    rows = []
    for number, (start, finish) in enumerate(days):
        notes = [] if number or party == EVERYBODY else _others_first(facts, activity)
        if number:
            notes.append(f"Goes on from {short_day(days[number - 1][0])}.")
        if number < len(days) - 1:
            notes.append(f"Goes on {short_day(days[number + 1][0])}.")
        if has_little_slack(activity):
            notes.append(slack_said(activity))
        if not facts.agreed(activity):
            notes.append("No appointment on record yet.")
        place, what = facts.place(activity), facts.what(activity)
        rows.append(DayRow(start, finish, place, what, who, stops=() if number else stops, notes=tuple(notes)))
    return rows


def _others_first(facts: PaperFacts, activity: PlanActivity) -> list[str]:
    """Say what others must have done before, as far as it drives the date."""
    before = [facts.work[r.activity] for r in activity.driven_by if r.kind == "logic" and r.activity in facts.work]
    return [
        f"After {facts.who(b)}: {facts.what(b)}, {moment(facts.local(b.finish))}."
        for b in before
        if not b.kind.is_look and facts.who(b) != facts.who(activity)
    ]


def _visit_row(facts: PaperFacts, visit: PlanVisit) -> DayRow:
    looks = visit_looks(facts, visit)
    notes = () if facts.booked(visit) else ("No appointment on record yet.",)
    places = "; ".join(dict.fromkeys(k.place for k in looks if k.place))
    start, finish = facts.local(visit.start), facts.local(visit.finish)
    what = visit.name or visit.inspection
    return DayRow(start, finish, places, what, visit.authority, visit=True, looks=tuple(looks), notes=notes)


def visit_looks(facts: PaperFacts, visit: PlanVisit) -> Sequence[VisitLook]:
    """Return what a visit looks at, in order of time."""
    looks = []
    for hold in (facts.holds[h] for h in visit.covers if h in facts.holds):
        look = facts.look(hold)
        at = facts.local(look.start if look else visit.start)
        what = facts.hold_name(hold).removeprefix(f"{visit.name}: ")
        looks.append(VisitLook(at, what, facts.hold_place(hold)))
    return sorted(looks, key=lambda k: (k.at, k.place, k.what))
