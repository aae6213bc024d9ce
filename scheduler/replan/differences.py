"""What an alternative changes against the plan before, had the rest of it gone as planned."""

from __future__ import annotations

from collections.abc import Sequence

from scheduler.costs.counted import person_visits
from scheduler.measures import midnights
from scheduler.network.model import Network
from scheduler.replan.least_moved import Movers, as_before_from
from scheduler.replan.looking_again import fees_again
from scheduler.replan.replan_records import Differences, Move
from scheduler.schedule import Schedule, Span
from scheduler.situation.call_words import CallDue
from scheduler.situation.job import StandingJob
from scheduler.solve.formulation.dated import dated
from scheduler.solve.goals import Cost


def differences(
    job: StandingJob, network: Network, schedule: Schedule, moves: Sequence[Move], calls: Sequence[CallDue]
) -> Differences:
    """Return what an alternative changes."""
    before, movers = as_planned_before(job, network), Movers.of_job(job)
    cost = (Cost().amount(network, schedule) - Cost().amount(network, before)) / Cost().per_unit
    later = 0 if job.before.finish is None else schedule.finish - network.clock.tick(job.before.finish)
    moved, new = movers.moved(schedule), sum(m.was is None for m in moves)
    moment = max(job.facts.now, as_before_from(network, movers, schedule))
    ends = max(schedule.finish, before.finish)
    return Differences(
        later_minutes=later * network.clock.tick_minutes,
        cost=round(cost + fees_again(job), 2),
        open_ft_nights=round(open_ft_nights_left(job, schedule) - open_ft_nights_left(job, before), 1),
        visits=person_visits(network, schedule) - person_visits(network, before),
        people_called=tuple(dict.fromkeys(c.to for c in calls)),
        people_moved=tuple(sorted({movers.of[a] or "site" for a in moved})),
        moved=len(moved),
        new=new,
        longer=len(moves) - len(moved) - new,
        as_before_from=network.clock.when(moment) if moment < ends else None,
    )


def as_planned_before(job: StandingJob, network: Network) -> Schedule:
    """Return what happened with the rest of the plan before, whether or not that can still be kept.

    Work that is new takes no time in it.
    """
    clock = network.clock
    rows = {a.id: (clock.tick(a.start), clock.tick(a.finish, up=True)) for a in job.before.activities}
    dates: dict[str, Span] = {}
    for a in network.activities:
        happened = network.calendar_of(a.id).windows[0] if a.happened else None
        dates[a.id] = happened or rows.get(a.id, (job.facts.now, job.facts.now))
    return dated(network, dates)


def open_ft_nights_left(job: StandingJob, schedule: Schedule) -> float:
    """Return the feet of trench open over the nights still to come, summed [ft nights]."""
    nights = midnights(job.network.clock, job.facts.now, job.network.horizon)
    total = 0.0
    for opening in job.network.openings:
        opens, closes = schedule.dates[opening.opens][0], schedule.dates[opening.closes][1]
        total += opening.length_ft * sum(opens < n < closes for n in nights)
    return total
