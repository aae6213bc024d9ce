"""What figures draw: a plan's work as blocks of worked time, with closed time known."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from datetime import date, datetime, timedelta

from app.figures.marks import Look, look_of
from scheduler.network.model import Network
from scheduler.plan import Plan, PlanActivity
from scheduler.site.ground import LineKind
from scheduler.site.model import Site
from scheduler.units import format_station
from scheduler.worktime.calendar import merged

Block = tuple[datetime, datetime]


@dataclass(frozen=True)
class Picture:
    """A plan together with what its figures need to know of the site. Times are local."""

    plan: Plan
    network: Network
    site: Site

    def look(self, activity: PlanActivity) -> Look:
        """Return how an activity is drawn."""
        return look_of(activity.kind, activity.lines, self.kind_of_line)

    @property
    def kind_of_line(self) -> Mapping[str, LineKind]:
        """Kind of each line by id."""
        return {line.id: line.kind for line in self.site.lines}

    def trade_name(self, activity: PlanActivity) -> str:
        """Return who does an activity, as people say it."""
        trades = {t.id: t.name for t in self.site.trades}
        if activity.trade:
            return trades.get(activity.trade, activity.trade)
        if activity.kind == "inspect":
            return "Inspectors"
        return "Outside parties"

    def place_name(self, activity: PlanActivity) -> str:
        """Return where an activity is, as people say it."""
        if not activity.reach:
            return "Whole site"
        names = {a.id: a.name for a in self.site.alignments}
        reach = next((r for r in self.site.reaches if r.id == activity.reach), None)
        alignment = names.get(activity.alignment, activity.alignment)
        return reach_name(alignment, reach.from_, reach.to) if reach else alignment

    def worked(self, activity: PlanActivity) -> list[Block]:
        """Return the stretches of time in which an activity is really worked on."""
        clock = self.network.clock
        start, finish = clock.tick(activity.start), clock.tick(activity.finish)
        calendar = self.network.calendar_of(activity.id)
        pieces = [(max(a, start), min(b, finish)) for a, b in calendar.windows if b > start and a < finish]
        return [(clock.when(a), clock.when(b)) for a, b in pieces]

    def opened(self, first: date, last: date) -> list[Block]:
        """Return the stretches, from the first day to the last, in which anybody may work."""
        clock = self.network.clock
        start, end = clock.midnight(first), clock.midnight(last + timedelta(days=1))
        used = {a.calendar for a in self.network.activities}
        windows = merged(
            (max(a, start), min(b, end))
            for key in used
            for a, b in self.network.calendars[key].windows
            if b > start and a < end
        )
        return [(clock.when(a), clock.when(b)) for a, b in windows]


def reach_name(alignment: str, from_ft: float, to_ft: float) -> str:
    """Name a reach by its alignment and stations."""
    return f"{alignment} {format_station(from_ft)}-{format_station(to_ft)}"


def lanes(activities: Iterable[PlanActivity]) -> list[list[PlanActivity]]:
    """Deal activities into as few lanes as keep those in one lane from overlapping."""
    rows: list[list[PlanActivity]] = []
    for activity in sorted(activities, key=lambda a: (a.start, a.finish, a.id)):
        row = next((r for r in rows if r[-1].finish <= activity.start), None)
        if row is None:
            rows.append([activity])
        else:
            row.append(activity)
    return rows
