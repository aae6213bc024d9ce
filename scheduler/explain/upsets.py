"""What an everyday upset would do to the finish if the order of the work were kept: a lost day, a missed visit.

Nothing is planned anew here, so a re-planning may do better, never worse.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace

from scheduler.explain.path_test import lifted
from scheduler.explain.sequence import sequence_of
from scheduler.network.dates import Reckoning
from scheduler.network.model import Network
from scheduler.schedule import Schedule, Visit
from scheduler.worktime.calendar import Calendar, intersection, merged


def finish_without(network: Network, schedule: Schedule, start: int, finish: int) -> int | None:
    """Return when the job ends if nobody works from `start` to `finish` [ticks]; None when the hours known run out."""
    rest = Calendar("rest", "other times", merged([(0, start), (finish, max(finish, network.horizon))]))
    shut = {c.id: intersection(c.id, c.name, (c, rest)) for c in network.calendars.values()}
    return _finish(replace(network, calendars=shut), schedule, {})


def finish_after_missed(network: Network, schedule: Schedule, visit: Visit) -> int | None:
    """Return when the job ends if a visit falls out and its looks wait for the authority's next hours."""
    rule = next(r for r in network.visit_rules if r.id == visit.rule)
    window = network.calendars[rule.calendar].window_at(visit.start)
    over = visit.finish if window is None else window[1]
    return _finish(network, schedule, dict.fromkeys(visit.looks, over))


def _finish(network: Network, schedule: Schedule, floors: Mapping[str, int]) -> int | None:
    """Push what must move, everything else staying where it is planned, in the order planned."""
    arcs = tuple(a.link for a in sequence_of(network, schedule).arcs)
    planned = {a: max(start, floors.get(a, 0)) for a, (start, _) in schedule.dates.items()}
    pushed = Reckoning(lifted(network), arcs, renewals=frozenset(schedule.renewals)).forward(planned)
    return None if pushed is None else max(finish for _, finish in pushed[0].values())
