"""The plan itself measured against the published schedule-assessment checks.

The checks and their thresholds are those of the public 14-point assessment (US Department of
Defense, Defense Contract Management Agency, DCMA-EA PAM 200.1, October 2012; the thresholds of
checks 4 to 14 from memory). Each is put under the practice of the US Government Accountability
Office's schedule guide (GAO-16-89G, December 2015) that it bears on; that guide sets no pass marks.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, replace
from typing import ClassVar

from scheduler.assessment.critical_path import path_test
from scheduler.explain.floats import Float, floats
from scheduler.network.lowering import lower
from scheduler.network.model import LinkType, Network
from scheduler.schedule import Schedule, Span
from scheduler.worktime.calendar import Calendar

PRACTICES = {
    1: "capturing all activities",
    2: "sequencing all activities",
    3: "assigning resources to all activities",
    4: "establishing the durations of all activities",
    5: "verifying that the schedule can be traced horizontally and vertically",
    6: "confirming that the critical path is valid",
    7: "ensuring reasonable total float",
    8: "conducting a schedule risk analysis",
    9: "updating the schedule using actual progress and logic",
    10: "maintaining a baseline schedule",
}
"""The ten practices of GAO-16-89G."""
LONG_DAYS = 44
"""Working days beyond which a float or a duration counts as high (from memory)."""


@dataclass(frozen=True, slots=True)
class Check:
    """One check of a plan. `passed` is None where a check does not apply, and `why` says why not.

    `found` counts what the check looks for, out of `of`; `limit` is its published threshold in words.
    `why` explains a check that failed, or one that a job of this size is exempt from.
    """

    PUBLISHED: ClassVar = "DCMA-EA PAM 200.1 (Oct 2012), check {}"

    number: int
    name: str
    practice: int
    found: float
    of: float
    limit: str
    passed: bool | None
    examples: tuple[str, ...] = ()
    """The first few activities that fail it, by name."""
    why: str = ""

    @property
    def source(self) -> str:
        """Where the check and its threshold are published."""
        return f"{self.PUBLISHED.format(self.number)}; GAO-16-89G, practice {self.practice}: {PRACTICES[self.practice]}"


@dataclass(frozen=True, slots=True)
class JobProgress:
    """How a job stands at `as_of` [tick]: the accepted plan's dates, and what is reported by then."""

    as_of: int
    baseline: Mapping[str, Span]
    started: frozenset[str] = frozenset()
    finished: frozenset[str] = frozenset()


def assess(network: Network, schedule: Schedule, progress: JobProgress | None = None) -> list[Check]:
    """Return all fourteen checks of a plan, in their published order.

    The plan keeps every rule of the network but perhaps its target. Without `progress` no plan
    has been accepted and nothing reported.
    """
    room = floats(replace(network, target=None), schedule)
    return [
        _logic(network, schedule),
        _leads(network),
        _lags(network),
        _link_types(network),
        _hard_dates(network),
        _high_float(network, room),
        _negative_float(network, schedule, room),
        _long_work(network),
        _invalid_dates(network, schedule, progress),
        _resources(network),
        _missed(network, schedule, progress),
        _path(network, schedule),
        _path_length(network, schedule),
        _execution(progress),
    ]


def _share(
    number: int,
    name: str,
    practice: int,
    bad: Iterable[str],
    of: int,
    *,
    percent: float,
    why: str,
) -> Check:
    """Return a check of which at most a share may fail."""
    listed = tuple(bad)
    passed = len(listed) * 100 <= percent * of
    limit = f"at most {percent:g} %" if percent else "none"
    return Check(number, name, practice, len(listed), of, limit, passed, listed[:5], "" if not listed else why)


def _logic(network: Network, schedule: Schedule) -> Check:
    at_least = [k for k in lower(network).links if not k.at_most]
    followed, led_to = {k.before for k in at_least}, {k.after for k in at_least}
    dated = {b.activity for b in lower(network).firm if b.sense != "max" and b.family != "bookings"}
    last = {a for a, (_, f) in schedule.dates.items() if f == schedule.finish}
    bad = [
        a.name
        for a in network.activities
        if (a.id not in led_to and a.id not in dated) or (a.id not in followed and a.id not in last)
    ]
    why = (
        "Work that nothing follows is held by the end of the job: all must be finished by then. Work that follows "
        "nothing but the start is a first activity of its stretch."
    )
    return _share(1, "Work that nothing leads to or follows", 2, bad, len(network.activities), percent=5, why=why)


def _leads(network: Network) -> Check:
    links = lower(network).links
    bad = [k.because or k.id for k in links if k.lag < 0]
    return _share(2, "Negative lags", 2, bad, len(links), percent=0, why="A start before another's finish hides work.")


def _lags(network: Network) -> Check:
    links = lower(network).links
    bad = [k.because or k.id for k in links if k.lag > 0 and not k.at_most]
    why = "Each is a wait that a rule asks for (a test held, a cure), with its reason and source; none stands for work."
    return _share(3, "Lags", 2, bad, len(links), percent=5, why=why)


def _link_types(network: Network) -> Check:
    links = lower(network).links
    bad = [k.because or k.id for k in links if k.type is not LinkType.FS]
    why = "Links of other types are each named with their reason."
    return _share(4, "Links other than finish to start", 2, bad, len(links), percent=10, why=why)


def _hard_dates(network: Network) -> Check:
    hard = {b.activity for b in lower(network).firm if b.sense != "min" and b.family in ("dates", "bookings")}
    bad = [network.by_id[a].name for a in sorted(hard)]
    why = "These are appointments already made with others, or dates agreed with them."
    return _share(5, "Hard dates", 6, bad, len(network.activities), percent=5, why=why)


def _days(network: Network, calendar: Calendar, ticks: int) -> float:
    """Return an amount of working time in days of a calendar, by the length of its usual day."""
    days = len({network.clock.when(a).date() for a, _ in calendar.windows})
    return ticks * days / max(1, calendar.open_ticks(0, network.horizon))


def _high_float(network: Network, room: Mapping[str, Float]) -> Check:
    bad = [
        a.name
        for a in network.activities
        if _days(network, network.calendars[a.calendar], room[a.id].total) > LONG_DAYS
    ]
    why = "Nothing on a job of this length waits for this work; it is free to fill gaps."
    return _share(6, f"Float over {LONG_DAYS} working days", 7, bad, len(room), percent=5, why=why)


def _negative_float(network: Network, schedule: Schedule, room: Mapping[str, Float]) -> Check:
    late = 0 if network.target is None else schedule.finish - network.target.at
    bad = [a.name for a in network.activities if room[a.id].late_start - schedule.dates[a.id][0] < late]
    why = "The finish lies beyond the target."
    return _share(7, "Negative float", 7, bad, len(room), percent=0, why=why)


def _long_work(network: Network) -> Check:
    bad = [a.name for a in network.activities if _days(network, network.calendars[a.calendar], a.work) > LONG_DAYS]
    why = "Cut the work into stretches that can be finished and seen."
    return _share(8, f"Work longer than {LONG_DAYS} working days", 4, bad, len(network.activities), percent=5, why=why)


def _invalid_dates(network: Network, schedule: Schedule, progress: JobProgress | None) -> Check:
    as_of, started = (progress.as_of, progress.started) if progress else (network.data_date, frozenset[str]())
    bad = [network.by_id[a].name for a, (start, _) in schedule.dates.items() if start < as_of and a not in started]
    why = "What lies before the data date has happened or has not; it is no forecast."
    return _share(9, "Forecasts before the data date", 9, bad, len(schedule.dates), percent=0, why=why)


def _resources(network: Network) -> Check:
    long = [a for a in network.activities if _days(network, network.calendars[a.calendar], a.work) >= 1]
    bad = [a.name for a in long if not a.needs]
    why = "Nobody is named for this work."
    return replace(
        _share(10, "Work of a day or more without anyone to do it", 3, bad, len(long), percent=0, why=why),
        limit="no published mark; none expected",
    )


def _missed(network: Network, schedule: Schedule, progress: JobProgress | None) -> Check:
    name = "Work that finishes later than its baseline"
    if progress is None:
        why = "No plan has been accepted yet, so there is nothing to be late against."
        return Check(11, name, 10, 0, 0, "at most 5 %", None, why=why)
    planned = {a: f for a, (_, f) in progress.baseline.items()}
    bad = [network.by_id[a].name for a, (_, f) in schedule.dates.items() if f > planned.get(a, f)]
    return _share(11, name, 10, bad, len(planned), percent=5, why="The plan has moved since it was accepted.")


def _path(network: Network, schedule: Schedule) -> Check:
    result = path_test(network, schedule)
    name = f"Critical path test: {result.added_days} days more for {result.name}"
    limit = "the finish moves by as much or more"
    why = "" if result.passed else "A chain of links does not lead from this work to the finish."
    return Check(12, name, 6, round(result.moved_days, 1), result.added_days, limit, result.passed, why=why)


def _path_length(network: Network, schedule: Schedule) -> Check:
    name, limit = "Critical path length index", "0.95 or more"
    if network.target is None:
        why = "No target is set, so the path is as long as it may be."
        return Check(13, name, 6, 1.0, 1.0, limit, None, why=why)
    length = schedule.finish - network.data_date
    index = (length + network.target.at - schedule.finish) / max(1, length)
    why = "" if index >= 0.95 else "The target leaves less time than the work takes."
    return Check(13, name, 6, round(index, 3), 1.0, limit, index >= 0.95, why=why)


def _execution(progress: JobProgress | None) -> Check:
    name, limit = "Baseline execution index", "0.95 or more"
    due = [a for a, (_, f) in progress.baseline.items() if f <= progress.as_of] if progress else []
    if progress is None or not due:
        return Check(14, name, 9, 0, 0, limit, None, why="Nothing was to be finished yet by an accepted plan.")
    index = len(progress.finished) / len(due)
    why = "" if index >= 0.95 else "Less is finished than the accepted plan asked for by now."
    return Check(14, name, 9, round(index, 3), 1.0, limit, index >= 0.95, why=why)
