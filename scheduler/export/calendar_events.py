"""What stands in a calendar: one event a worked day of an activity, one a visit, each under a lasting name.

A visit is all that one person looks at on one day, from the first look to the last.

An activity that goes over nights gives one event for each day with work, not one for its whole span: a
foreman's calendar then shows the hours people are there, and a night or a weekend between does not
look like work. Its first day keeps its name when the activity moves, so does its second.
What the record shows, done, begun, blocked or missing, stands first in the summary and as a category.
A visit is named after the first (by id) of the hold points it covers, for its day is the very thing that moves.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field
from datetime import datetime
from uuid import UUID, uuid5

from scheduler.export.audiences import Audience, visits_made, work_of
from scheduler.export.days import (
    VisitLook,
    half_days_said,
    slipped,
    visit_looks,
    visit_name,
    visit_notes,
    visit_span,
    visit_stands,
)
from scheduler.export.on_record import DONE, MARKS, mark_of, mark_of_all, recorded_said, stops_of, visit_stops
from scheduler.export.page_addresses import activity_link, hold_link
from scheduler.export.paper_facts import PaperFacts, joined
from scheduler.plan import Plan, PlanActivity, PlanVisit
from scheduler.situation.work_states import WorkState
from scheduler.slack import slack_said
from scheduler.spoken import moment, time_of_day
from scheduler.trench.cautions import CAUTIONS

NAMES = UUID("5bd2ce6f-19b8-4d43-8a8f-4f2c0c9c5f0e")
"""The name space of this program's jobs (RFC 9562, version 5); it must never change."""
CONFIRMED, TENTATIVE, CANCELLED = "CONFIRMED", "TENTATIVE", "CANCELLED"
UNSURE = tuple(MARKS[s] for s in (WorkState.BLOCKED, WorkState.FAILED))
"""Marks of what will not take place as planned: RFC 5545 section 3.8.1.11 has no other status for an event than these
three, so what stops it stands in the summary, and what is done says so there too."""


@dataclass(frozen=True, slots=True)
class Event:
    """One entry of a calendar, before it is known whether it was published before."""

    uid: str
    start: datetime
    finish: datetime
    summary: str
    place: str = ""
    description: str = ""
    categories: tuple[str, ...] = ()
    status: str = CONFIRMED
    link: str = ""
    about: tuple[str, ...] = field(default=(), compare=False)
    """The activities that it is for; not written into the calendar."""


def job_uid(plan: Plan) -> UUID:
    """Return the lasting name of a job: made of the site's name, so a renamed site is a new job."""
    return uuid5(NAMES, plan.site.name)


def events_of(facts: PaperFacts, party: Audience, base: str = "") -> list[Event]:
    """Return a party's events in order of time; `base` is the address of the dashboard for links."""
    found = [event for activity in work_of(facts, party) for event in _work_events(facts, activity, base)]
    found += [_visit_event(facts, made, base) for made in visits_made(facts, party)]
    return sorted(found, key=lambda e: (e.start, e.finish, e.uid))


def _uid(plan: Plan, what: str) -> str:
    return str(uuid5(job_uid(plan), what))


def _work_events(facts: PaperFacts, activity: PlanActivity, base: str) -> Iterable[Event]:
    days, stands = facts.days(activity), facts.stands(activity.id)
    mark, over = mark_of(stands), stands is not None and stands.over
    categories = [activity.kind.capitalize()]
    categories += ["Hold point first"] if facts.waits_for.get(activity.id) and not over else []
    categories += ["No slack"] if activity.total_float_minutes == 0 and not over else []
    categories += [mark] if mark else []
    sure = not facts.work_appointment(activity) and mark not in UNSURE
    reasons = _why(facts, activity)
    for number, (start, finish) in enumerate(days, 1):
        part = f" (day {number} of {len(days)})" if len(days) > 1 else ""
        yield Event(
            _uid(facts.plan, f"{activity.id}/{number}"),
            start,
            finish,
            _marked(mark, activity.name + part),
            facts.place(activity),
            reasons,
            tuple(categories),
            CONFIRMED if sure or over else TENTATIVE,
            activity_link(base, facts.plan, activity.id),
            (activity.id,),
        )


def _why(facts: PaperFacts, activity: PlanActivity) -> str:
    """Say what stops it, how it stands by the record, who does it, why it is when it is, and what it may slip."""
    blocked, stops = stops_of(facts, activity.id)
    lines = [*blocked, *recorded_said(facts, activity.id)]
    lines += [f"{facts.who(activity)}." if facts.who(activity) else "", activity.because]
    stands = facts.stands(activity.id)
    if stands is not None and stands.over:
        return _text(facts, lines)
    lines += stops
    lines += [f"Why then: {facts.in_todays_names(reason.because)}" for reason in activity.driven_by]
    lines.append("" if slipped(stands) else slack_said(activity))
    lines.append(facts.work_appointment(activity))
    return _text(facts, lines)


def _visit_event(facts: PaperFacts, made: Sequence[PlanVisit], base: str) -> Event:
    looks, stands = visit_looks(facts, made), visit_stands(facts, made)
    mark = mark_of_all(stands)
    covers = [h for v in made for h in v.covers]
    lines = [*visit_stops(stands), made[0].authority, *map(_look, looks)]
    lines += [c for c in dict.fromkeys(facts.criteria(facts.holds[h]) for h in covers if h in facts.holds) if c]
    amiss = () if mark in DONE else visit_notes(facts, made)
    lines += [*(() if mark in DONE else half_days_said(facts, made)), *amiss]
    start, finish = visit_span(facts, made)
    anchor, inspection = min((min(v.covers, default=v.id), v.inspection) for v in made)
    return Event(
        _uid(facts.plan, f"visit/{inspection}/{anchor}"),
        start,
        finish,
        _marked(mark, f"Inspector's visit: {visit_name(made)}"),
        joined(dict.fromkeys(k.place for k in looks if k.place)),
        _text(facts, lines),
        ("Inspector's visit", *([mark] if mark else [])),
        CONFIRMED if mark in DONE or (not amiss and mark not in UNSURE) else TENTATIVE,
        hold_link(base, facts.plan, anchor) if covers else "",
        tuple(dict.fromkeys(n.look for h in covers if (n := facts.network_hold(facts.holds[h])) is not None)),
    )


def _look(look: VisitLook) -> str:
    where = f"{time_of_day(look.at)} {look.what}, {look.place}" if look.place else look.what
    return f"{where}: {look.stands}" if look.stands else where


def _marked(mark: str, summary: str) -> str:
    return f"{mark}: {summary}" if mark else summary


def _text(facts: PaperFacts, lines: Iterable[str]) -> str:
    said = [*lines, f"By the plan of {moment(facts.plan.data_date)}.", CAUTIONS[0]]
    if facts.site.site.invented:
        said.append("Invented demonstration data.")
    return "\n".join(line for line in said if line)
