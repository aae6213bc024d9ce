"""What can be counted in dated work and charged for: days at work, comings, visits, nights and the like.

Each kind says what it counts, and `count` counts it in a schedule. A search says the same as an expression
(`solve/formulation/spending.py`); a property test compares the two.
"""

from __future__ import annotations

from bisect import bisect_left
from collections import Counter
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from itertools import pairwise
from math import ceil
from typing import assert_never

from scheduler.measures import (
    days_on_site,
    midnights,
    nights_between,
    runs_on_site,
    stays_on_site,
    waits_between_looks,
)
from scheduler.network.lowering import lower
from scheduler.network.model import Network
from scheduler.network.prices import Mobilisation
from scheduler.schedule import Schedule, Span


@dataclass(frozen=True, slots=True)
class NightsBetween:
    """Nights from the start, or the finish, of one activity to the finish of another, each so many times."""

    spans: tuple[tuple[str, str, int], ...]
    """(activity that begins it, activity that ends it, times)."""
    since: str = "start"
    """'start' or 'finish' of the activity that begins it."""


@dataclass(frozen=True, slots=True)
class DaysAtWork:
    """Days on which a party is at work at all, in the hours of its work, each so many times."""

    party: str
    """The id of its resource."""
    activities: tuple[str, ...]
    times: int = 1


@dataclass(frozen=True, slots=True)
class DaysStandingBy:
    """Working days without work between two days at work no more than `stay_days` apart: the party waits on site."""

    at_work: DaysAtWork
    stay_days: int


@dataclass(frozen=True, slots=True)
class StretchesByDay:
    """Stretches that a party works in, counted anew each day: how often it sets up."""

    stretches: tuple[DaysAtWork, ...]


@dataclass(frozen=True, slots=True)
class Comings:
    """How often a party comes to site."""

    party: Mobilisation


@dataclass(frozen=True, slots=True)
class ShortOfLeast:
    """Cents by which the days at work of each coming fall short of the least that one is charged."""

    party: Mobilisation
    at_work: DaysAtWork
    a_day: int
    """Cents for one day at work, all its crews together."""
    least: int
    """Cents for one coming."""


@dataclass(frozen=True, slots=True)
class VisitDays:
    """Days on which one person looks at something of some inspections."""

    inspections: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class WaitsBetweenLooks:
    """Ticks in which a person waits on site, between the first look and the last of one window of a calendar."""

    inspections: tuple[str, ...]
    calendar: str


@dataclass(frozen=True, slots=True)
class BookingMoved:
    """1 where an appointment that may be moved is not kept."""

    booking: str


@dataclass(frozen=True, slots=True)
class RenewalCalled:
    """1 where one renewal of a locate ticket is called for."""

    renewal: str


@dataclass(frozen=True, slots=True)
class DaysToFinish:
    """Days to the finish that begin at a tick or later, with the day that is under way there."""

    after: int
    first: bool
    """Whether the day under way at `after` counts even where all is finished by then."""


Presence = DaysAtWork | DaysStandingBy | StretchesByDay | Comings | ShortOfLeast | VisitDays | WaitsBetweenLooks
Counted = Presence | NightsBetween | BookingMoved | RenewalCalled | DaysToFinish


def count(network: Network, schedule: Schedule, counted: Counted) -> int:
    """Return how often a schedule has what is counted."""
    match counted:
        case NightsBetween():
            return sum(times * _nights(network, schedule.dates, a, b, counted.since) for a, b, times in counted.spans)
        case DaysAtWork():
            return counted.times * len(days_at_work(network, counted.activities, schedule.dates))
        case DaysStandingBy():
            return counted.at_work.times * _standing_by(network, counted, schedule.dates)
        case StretchesByDay():
            return sum(len(days_at_work(network, s.activities, schedule.dates)) for s in counted.stretches)
        case Comings():
            return runs_on_site(network, counted.party, schedule.dates)
        case ShortOfLeast():
            days = days_at_work(network, counted.at_work.activities, schedule.dates)
            stays = stays_on_site(network, counted.party, schedule.dates)
            return sum(max(0, counted.least - counted.a_day * sum(a <= d <= b for d in days)) for a, b in stays)
        case VisitDays():
            looks = [k for v in schedule.visits if v.rule in counted.inspections for k in v.looks]
            return len({days_on_site(network, schedule.dates[k])[0] for k in looks})
        case WaitsBetweenLooks():
            looks = [k for v in schedule.visits if v.rule in counted.inspections for k in v.looks]
            return sum(waits_between_looks(network, looks, counted.calendar, schedule.dates).values())
        case BookingMoved():
            return int(counted.booking in lower(network).broken(schedule.dates))
        case RenewalCalled():
            return int(counted.renewal in schedule.renewals)
        case DaysToFinish():
            return days_to_finish(network, counted, schedule.finish)
        case _:
            assert_never(counted)


def visits_and_trips(network: Network) -> list[VisitDays | Comings]:
    """Return the visits of each inspector and the comings of each party, to be counted."""
    people: dict[str, list[str]] = {}
    for group in lower(network).look_groups:
        if group.looks:
            people.setdefault(group.person or group.record, []).append(group.record)
    parties = (Comings(party) for party in network.mobilisations if party.activities)
    return [*(VisitDays(tuple(ids)) for ids in people.values()), *parties]


def person_visits(network: Network, schedule: Schedule) -> int:
    """Return how many visits a schedule has as people make them: all looks of one person on one day are one."""
    return sum(count(network, schedule, c) for c in visits_and_trips(network) if isinstance(c, VisitDays))


def trips(network: Network, schedule: Schedule) -> int:
    """Return how often parties come to site, each for a run of days."""
    return sum(count(network, schedule, c) for c in visits_and_trips(network) if isinstance(c, Comings))


def activities_of(counted: Counted) -> Iterable[str]:
    """Return the activities whose dates alone decide what is counted; none where more than those decide it."""
    match counted:
        case NightsBetween():
            return [a for span in counted.spans for a in span[:2]]
        case DaysAtWork():
            return counted.activities
        case DaysStandingBy():
            return counted.at_work.activities
        case StretchesByDay():
            return [a for stretch in counted.stretches for a in stretch.activities]
        case Comings() | ShortOfLeast():
            return counted.party.activities
    return ()


def days_at_work(network: Network, activities: Iterable[str], dates: Mapping[str, Span]) -> set[int]:
    """Return the days, counted from 0 at the data date, on which some of the activities are at work."""
    night = midnights(network.clock, network.data_date, network.horizon)
    days: set[int] = set()
    for activity in activities:
        first, last = days_on_site(network, dates[activity])
        days.update((first, last))
        for day in range(first + 1, last):
            if network.calendar_of(activity).open_ticks(night[day - 1], night[day]):
                days.add(day)
    return days


def is_working_day(network: Network, party: DaysAtWork, day: int) -> bool:
    """Return whether some work of a party may be done on a day, counted from 0 at the data date."""
    night = (network.data_date, *midnights(network.clock, network.data_date, network.horizon), network.horizon)
    hours = {network.by_id[a].calendar for a in party.activities}
    return any(network.calendars[key].open_ticks(night[day], night[day + 1]) for key in hours)


def least_visit_days(network: Network, counted: VisitDays) -> int:
    """Return the fewest days on which a person can look at everything, by what one visit may see."""
    least = 0
    for group in lower(network).look_groups:
        if group.record in counted.inspections and group.looks:
            windows = network.calendars[group.calendar].windows
            a_day = max(Counter(network.clock.when(begin).date() for begin, _ in windows).values(), default=1)
            looks = 1 if group.most_looks is None else -(-len(group.looks) // group.most_looks)
            feet = sum(group.ft.get(k, 0.0) for k in group.looks)
            by_feet = 1 if group.most_ft is None else ceil(feet / group.most_ft - 1e-6)
            least = max(least, -(-max(looks, by_feet) // a_day))
    return least


def days_to_finish(network: Network, counted: DaysToFinish, finish: int) -> int:
    """Return the days to a finish [tick]."""
    night = midnights(network.clock, network.data_date, network.horizon)
    return counted.first + max(0, bisect_left(night, finish) - bisect_left(night, counted.after))


def _nights(network: Network, dates: Mapping[str, Span], opens: str, closes: str, since: str) -> int:
    (start, finish), last = dates[opens], dates[closes][1]
    return nights_between(network, start if since == "start" else finish, last, or_at=since != "start")


def _standing_by(network: Network, counted: DaysStandingBy, dates: Mapping[str, Span]) -> int:
    days = sorted(days_at_work(network, counted.at_work.activities, dates))
    return sum(
        is_working_day(network, counted.at_work, day)
        for a, b in pairwise(days)
        if b - a - 1 <= counted.stay_days
        for day in range(a + 1, b)
    )
