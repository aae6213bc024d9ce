"""What stands on a look-ahead, day by day: work, visits, what gates them, calls, open trench."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from datetime import date, datetime, time, timedelta

from scheduler.export.audiences import EVERYBODY, Audience, visits_made, work_of
from scheduler.export.on_record import look_said, recorded_said, shown_on, stops_of, to_do_since, visit_stops
from scheduler.export.paper_facts import NO_APPOINTMENT, PaperFacts, joined
from scheduler.plan import PlanActivity, PlanVisit
from scheduler.situation.call_list import PhoneCall, phone_calls
from scheduler.situation.verdict import in_this_order
from scheduler.situation.work_states import WorkStands, WorkState
from scheduler.slack import has_little_slack, slack_said
from scheduler.spoken import half_of, moment, short_day


@dataclass(frozen=True, slots=True)
class VisitLook:
    """One thing an inspector looks at in a visit."""

    at: datetime
    what: str
    place: str
    stands: str = ""
    """How it stands by the record, in a few words; empty where it is planned."""


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
    blocked: tuple[str, ...] = ()
    """Why it may not begin or go on now, each a sentence that begins BLOCKED or FAILED: said before all else."""
    about: tuple[str, ...] = ()
    """The activities that it is about."""
    over: str = ""
    """'done': on record as done, at the times given; 'taken': not on record, taken as done. Else it is to do."""
    left_since: datetime | None = None
    """Since when it is left over from an earlier time; then `start` says on which day it is shown, no more."""


@dataclass(frozen=True, slots=True)
class DaySheet:
    """One day of a look-ahead."""

    on: date
    rows: tuple[DayRow, ...]
    open_ft: float
    """Feet of trench open in the night after, as planned."""
    recorded_ft: float | None = None
    """Feet that stand open by the record, on the day at which it was read; None on other days."""


def day_sheets(facts: PaperFacts, party: Audience, first: date, last: date) -> list[DaySheet]:
    """Return the days from the first to the last on which a party has something, in order.

    For everybody, days without work on which trench stands open are among them. What the record shows to be left
    over from an earlier time stands on the day at which the record was read, or on the first day after it.
    """
    rows: dict[date, list[DayRow]] = {}
    today = shown_on(facts, first, last)
    for activity in work_of(facts, party):
        start, finish = facts.span(activity)
        left = _left_since([facts.stands(activity.id)], facts.now)
        if left is not None or (start.date() <= last and finish.date() >= first):
            for row in _kept(_work_rows(facts, party, activity), left, today):
                rows.setdefault(row.start.date(), []).append(row)
    for made in visits_made(facts, party):
        left = _left_since(visit_stands(facts, made), facts.now)
        for row in _kept([_visit_row(facts, made)], left, today):
            rows.setdefault(row.start.date(), []).append(row)
    for call in calls_for(facts, party, first, last):
        rows.setdefault(call.on, []).append(_call_row(call))
    days = [first + timedelta(days=n) for n in range((last - first).days + 1)]
    sheets = [DaySheet(d, tuple(sorted(rows.get(d, ()), key=_place_in_day)), *_open(facts, d)) for d in days]
    return [s for s in sheets if s.rows or (party == EVERYBODY and (s.open_ft or s.recorded_ft))]


def _open(facts: PaperFacts, on: date) -> tuple[float, float | None]:
    """Return the feet of trench open in the night after a day, as planned, and by the record where that is today."""
    now = facts.situation
    return facts.open_ft(on), now.open_tonight_ft if now is not None and now.moment.date() == on else None


def _left_since(stands: Iterable[WorkStands | None], now: datetime | None) -> datetime | None:
    """Return since when work is left over; None where all is done or in time."""
    return min((t for s in stands if s is not None and (t := to_do_since(s, now))), default=None)


def _over(stands: Sequence[WorkStands]) -> str:
    """Tell whether nothing of some work is left to do: 'done' by the record, 'taken' as done; else nothing."""
    if not stands or not all(s.over for s in stands):
        return ""
    return "done" if all(s.state is WorkState.DONE for s in stands) else "taken"


def _kept(rows: list[DayRow], left: datetime | None, today: date | None) -> list[DayRow]:
    """Return the rows of a piece of work that are still to be shown: of what is left over none before today, one then.

    `today` is None where all the days shown are past: then each row stays where it was planned.
    """
    if left is None or today is None:
        return rows
    kept = [r for r in rows if r.start.date() >= today]
    if not any(r.start.date() == today for r in kept):
        when = datetime.combine(today, time(), left.tzinfo)
        kept.append(replace(rows[-1], start=when, finish=when, left_since=left))
    return kept


def _place_in_day(row: DayRow) -> tuple[bool, datetime, datetime, str]:
    """Calls come first: whatever their last hour is, they are made in the morning. So does what is left over."""
    return not row.call, row.start, row.left_since or row.finish, row.what


def calls_for(facts: PaperFacts, party: Audience, first: date, last: date) -> list[PhoneCall]:
    """Return the calls to make in these days: on the papers of everybody and of own trades, for it is they who call.

    A call that is overdue when the paper is made is to be made on that day.
    """
    own = {t.id for t in facts.site.trades if t.own}
    if party != EVERYBODY and not (party.kind == "trade" and party.id in own):
        return []
    return [c for c in phone_calls(facts.calls, facts.local(facts.asked_at).date()) if first <= c.on <= last]


def _call_row(call: PhoneCall) -> DayRow:
    due = call.due[0]
    notes = [n for n in (f"{call.when}." if due.due_since else "", call.stands) if n]
    when = datetime.combine(call.on, time(), due.by.tzinfo) if due.due_since else due.by
    return DayRow(when, when, "By phone", call.text, call=True, notes=tuple(notes))


def _work_rows(facts: PaperFacts, party: Audience, activity: PlanActivity) -> list[DayRow]:
    days = facts.days(activity)
    stands = facts.stands(activity.id)
    over = _over([stands] if stands is not None else [])
    blocked, stops = stops_of(facts, activity.id)
    recorded = recorded_said(facts, activity.id)
    rows = []
    for number, (start, finish) in enumerate(days):
        notes = [*recorded]
        notes += [] if number or party == EVERYBODY or over else _others_first(facts, activity)
        if number:
            notes.append(f"Goes on from {short_day(days[number - 1][0])}.")
        if number < len(days) - 1:
            notes.append(f"Goes on {short_day(days[number + 1][0])}.")
        if has_little_slack(activity) and not over and not slipped(stands):
            notes.append(slack_said(activity))
        if not over and (amiss := facts.work_appointment(activity)):
            notes.append(amiss)
        # A plan alone says it once; what the record holds up is not begun on any day.
        here = stops if stands is not None or not number else ()
        who = facts.who(activity) if party == EVERYBODY else ""
        rows.append(DayRow(
            start, finish, facts.place(activity), facts.what(activity), who,
            stops=here, notes=tuple(notes), blocked=blocked, about=(activity.id,), over=over,
        ))  # fmt: skip
    return rows


def slipped(stands: WorkStands | None) -> bool:
    """Tell whether the slack that a plan gives work says nothing any more: it failed, is done again, or is overdue."""
    return stands is not None and (stands.overdue or stands.state in (WorkState.FAILED, WorkState.AGAIN))


def _others_first(facts: PaperFacts, activity: PlanActivity) -> list[str]:
    """Say what others must have done before, as far as it drives the date."""
    before = [facts.work[r.activity] for r in activity.driven_by if r.kind == "logic" and r.activity in facts.work]
    return [
        f"After {facts.who(b)}: {facts.what(b)}, {moment(facts.local(b.finish))}."
        for b in before
        if not b.kind.is_look and facts.who(b) != facts.who(activity)
    ]


def _visit_row(facts: PaperFacts, made: Sequence[PlanVisit]) -> DayRow:
    looks, stands = visit_looks(facts, made), visit_stands(facts, made)
    over = _over(stands)
    notes = () if over else (*half_days_said(facts, made), *visit_notes(facts, made))
    places = "; ".join(dict.fromkeys(k.place for k in looks if k.place))
    start, finish = visit_span(facts, made)
    return DayRow(
        start, finish, places, visit_name(made), made[0].authority, visit=True, looks=tuple(looks), notes=notes,
        blocked=visit_stops(stands), about=tuple(s.id for s in stands), over=over,
    )  # fmt: skip


def visit_name(made: Sequence[PlanVisit]) -> str:
    """Return what one visit looks at: `Conduits before cover and Ribbon`."""
    return joined(dict.fromkeys(v.name or v.inspection for v in made))


def half_days_said(facts: PaperFacts, made: Sequence[PlanVisit]) -> tuple[str, ...]:
    """Say for which half-day a visit is asked, where the inspector's office takes half-days."""
    by_half = {i.id for i in facts.site.inspections if i.half_days}
    asked = sorted((v for v in made if v.inspection in by_half), key=lambda v: v.start)
    halves = joined(dict.fromkeys(half_of(facts.local(v.start)) for v in asked))
    return (f"Asked for the {halves}: {made[0].authority} comes at any time of it.",) if halves else ()


def visit_notes(facts: PaperFacts, made: Sequence[PlanVisit]) -> tuple[str, ...]:
    """Say what must be done before a look is made again, and what is amiss with the visit's appointment.

    Nobody can be called for what failed before it is mended; then no appointment is missing yet.
    """
    found: list[str] = []
    amiss: dict[str, str] = {}
    for visit in made:
        again = [s for s in visit_stands(facts, [visit]) if s.steps and not s.over]
        found += [f"{s.name}: {in_this_order(s)}" for s in again if s.state is WorkState.AGAIN]
        wrong = facts.visit_appointment(visit)
        if again and wrong == NO_APPOINTMENT:
            wrong = "An appointment to look again is made when that is done."
        amiss[visit.id] = wrong
    if len(set(amiss.values())) == 1:
        return (*found, *filter(None, {*amiss.values()}))
    return (*found, *(f"{visit_name([v])}: {amiss[v.id]}" for v in made if amiss[v.id]))


def visit_stands(facts: PaperFacts, made: Sequence[PlanVisit]) -> list[WorkStands]:
    """Return how the looks of a visit stand by the record; none where no journal is kept."""
    looks = (facts.look(facts.holds[h]) for v in made for h in v.covers if h in facts.holds)
    found = (facts.stands(k.id) for k in looks if k is not None)
    return list({s.id: s for s in found if s is not None}.values())


def visit_span(facts: PaperFacts, made: Sequence[PlanVisit]) -> tuple[datetime, datetime]:
    """Return from when to when a visit is planned, or was made by the record if all its looks are done."""
    stands = visit_stands(facts, made)
    ends = [s.finished for s in stands if s.state is WorkState.DONE and s.finished is not None]
    if not stands or len(ends) < len(stands):
        return facts.local(min(v.start for v in made)), facts.local(max(v.finish for v in made))
    first = min(s.started or e for s, e in zip(stands, ends, strict=True))
    last = max(ends)
    return (first if first.date() == last.date() else last), last


def visit_looks(facts: PaperFacts, made: Sequence[PlanVisit]) -> Sequence[VisitLook]:
    """Return what a visit looks at, in order of time; each with the name of its inspection where they are several."""
    looks = []
    several = len({v.inspection for v in made}) > 1
    for visit, hold in ((v, facts.holds[h]) for v in made for h in v.covers if h in facts.holds):
        look = facts.look(hold)
        stands = facts.stands(look.id) if look else None
        at = facts.local(look.start if look else visit.start)
        what = facts.hold_name(hold) if several else facts.hold_name(hold).removeprefix(f"{visit.name}: ")
        looks.append(VisitLook(at, what, facts.hold_place(hold), look_said(facts, stands) if stands else ""))
    return sorted(looks, key=lambda k: (k.at, k.place, k.what))
