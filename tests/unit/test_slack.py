"""What is said of slack is true: each piece of work is started later and the rest pushed, in the plan's order.

The pushing here is plain arithmetic over links, hours and turns; it shares nothing with how the program works out
floats, but for who follows whom.
"""

from __future__ import annotations

from datetime import timedelta
from functools import cache

import pytest

import scheduler
from app.components.day_work import entry
from scheduler import bundled_sites
from scheduler.explain.sequence import sequence_of
from scheduler.export.audiences import EVERYBODY
from scheduler.export.calendar_events import events_of
from scheduler.export.days import day_sheets
from scheduler.export.paper_facts import PaperFacts
from scheduler.export.tables import activities_csv
from scheduler.ledger.events import Delayed
from scheduler.network.lowering import lower
from scheduler.network.model import Link, LinkType, Network
from scheduler.plan import PlanActivity
from scheduler.schedule import Schedule, Span
from scheduler.slack import slack_in_short, slack_said
from scheduler.solve.outcome import Options
from tests.happenings import as_planned, entries
from tests.papers import facts_of, read_table
from tests.pictures import SITES, bundled, pictured

SLIPS = "No slack: if this slips, the finish slips."
QUICK = Options(start_effort=0.3, finish_effort=0.2, exposure_effort=0.05, money_effort=0.05)

Planned = tuple[PaperFacts, Network, Schedule]


def _placed(network: Network, activity: str, at: int) -> Span | None:
    """Return the first dates from a tick on that an activity's hours allow."""
    work = network.by_id[activity]
    if not work.work:
        return at, at
    calendar = network.calendars[work.calendar]
    for start in range(at, network.horizon):
        window = calendar.window_at(start)
        least = work.work if work.one_window else min(work.least_start, work.work)
        if window is not None and start + least <= window[1]:
            finish = calendar.advance(start, work.work)
            return None if finish is None else (start, finish)
    return None


def _is_late(network: Network, link: Link, before: Span, after: Span) -> bool:
    edge = before[1] if link.type in (LinkType.FS, LinkType.FF) else before[0]
    calendar = network.calendars[link.lag_calendar] if link.lag_calendar else None
    due = edge + link.lag if calendar is None else calendar.advance(edge, link.lag)
    return due is None or due > (after[0] if link.type in (LinkType.FS, LinkType.SS) else after[1])


def _finish_if_late(network: Network, schedule: Schedule, activity: str) -> int:
    """Return the finish once an activity starts a tick of its hours later and what follows gives way."""
    links = [k for k in lower(network).links if not k.at_most] + [a.link for a in sequence_of(network, schedule).arcs]
    after: dict[str, list[Link]] = {}
    for link in links:
        after.setdefault(link.before, []).append(link)
    dates = dict(schedule.dates)
    moved = _placed(network, activity, dates[activity][0] + 1)
    if moved is None:
        return network.horizon
    dates[activity], waiting = moved, [activity]
    while waiting:
        by = waiting.pop(0)
        for link in after.get(by, ()):
            other = link.after
            while _is_late(network, link, dates[by], dates[other]):
                later = _placed(network, other, dates[other][0] + 1)
                if later is None:
                    return network.horizon
                dates[other] = later
                waiting.append(other)
    return max(finish for _, finish in dates.values())


@cache
def slipped() -> list[Planned]:
    """Return the small site planned again after its tie-in slips, in each way."""
    case = scheduler.load(bundled_sites()["orchard-lane"])
    before = scheduler.plan(case, QUICK).plan
    digs = sorted((a for a in before.activities if a.kind == "dig"), key=lambda a: a.start)
    now = digs[len(digs) // 2].start + timedelta(minutes=20)
    until = next(a for a in before.activities if a.id == "outside/tie-in").start + timedelta(days=6)
    late = Delayed(who="s-wirth", not_before=until, about=("outside/tie-in",), why="storm")
    said = entries([*as_planned(case, before, now), (now, late)])
    found = scheduler.replan(case, said, now, before=before, options=QUICK)
    return [(PaperFacts(a.plan, case.site, a.network), a.network, a.schedule) for a in found.alternatives]


def plans(name: str) -> list[Planned]:
    if name == "planned again":
        return slipped()
    _, network, schedule = bundled(name)
    return [(facts_of(name), network, schedule)]


@pytest.mark.parametrize(
    "name", ["orchard-lane", pytest.param("lantern-street", marks=pytest.mark.benchmark), "planned again"]
)
def test_that_the_finish_slips_is_said_where_it_does_and_nowhere_else(name: str) -> None:
    for facts, network, schedule in plans(name):
        moving = {a.id for a in facts.plan.activities if slack_said(a) == SLIPS}
        assert moving
        for activity in facts.plan.activities:
            if activity.id in moving:
                assert activity.total_float_minutes == 0, activity.id
            if network.by_id[activity.id].calendar.startswith("as it happened/"):
                continue  # what is on record as finished slips no more
            slips = _finish_if_late(network, schedule, activity.id) > schedule.finish
            assert slips == (activity.id in moving), activity.id
        other = [a for a in facts.plan.activities if a.id not in moving and a.total_float_minutes == 0]
        assert all(slack_said(a) == "No slack: if this slips, a visit or a set date is missed." for a in other)


@pytest.mark.parametrize("name", [*SITES, "planned again"])
def test_papers_calendars_and_tables_say_the_same_slack(name: str) -> None:
    for facts, _, _ in plans(name):
        plan = facts.plan
        said = {(a.name, a.start): slack_said(a) for a in plan.activities}
        days = day_sheets(
            facts, EVERYBODY, plan.activities[0].start.date(), max(a.finish for a in plan.activities).date()
        )
        noted = [n for s in days for row in s.rows for n in row.notes if "lack" in n]
        assert noted.count(SLIPS) >= sum(a.moves_finish and not a.kind.is_look for a in plan.activities)
        assert set(noted) <= set(said.values())
        for event in (e for e in events_of(facts, EVERYBODY) if (e.summary, e.start) in said):
            assert said[event.summary, event.start] in event.description
        for row in read_table(activities_csv(facts)):
            assert (row["no slack"] == "yes") == (row["may slip, working hours"] == "0")


def test_today_says_slack_in_few_words() -> None:
    picture = pictured(*bundled("orchard-lane"))
    lines = {a.id: entry(picture, None, a, a.start.date()) for a in picture.plan.activities}
    for activity in picture.plan.activities:
        assert ("moves the finish" in lines[activity.id]) == activity.moves_finish


def test_an_unknown_float_says_nothing() -> None:
    known = pictured(*bundled("orchard-lane")).plan.activities[0]
    unknown: PlanActivity = known.model_copy(update={"total_float_minutes": None, "moves_finish": False})
    assert slack_said(unknown) == slack_in_short(unknown) == ""
