"""What figures draw: a plan's work as blocks of worked time, with closed time known."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field, replace
from datetime import date, datetime, timedelta
from enum import Enum
from functools import cached_property

from app.figures.marks import Look, look_of
from scheduler import Network
from scheduler.explain import open_ft, opened, worked
from scheduler.plan import Plan, PlanActivity
from scheduler.site import LineKind, Site
from scheduler.situation import WorkStands, WorkState, before_it
from scheduler.units import format_station

Block = tuple[datetime, datetime]


class Ink(Enum):
    """How work is drawn: never the same for two of these."""

    PLAN = "a plan alone"
    RECORDED = "recorded"
    PLANNED = "planned only"
    MISSING = "due, not on record"


@dataclass(frozen=True)
class Picture:
    """A plan together with what its figures need to know of the site. Times are local."""

    plan: Plan
    network: Network
    site: Site
    stands: Mapping[str, WorkStands] | None = None
    """How each piece of work stands by the record; None where only the plan is drawn."""
    doers: Mapping[str, str] = field(default_factory=dict)
    """Who does a trade's work by the record, by activity, where that is known."""

    def done_by(self, doers: Mapping[str, str]) -> Picture:
        """Return the same with who does each piece of work by the record: another firm may have taken a trade over."""
        return replace(self, doers=doers)

    def look(self, activity: PlanActivity) -> Look:
        """Return how an activity is drawn."""
        return look_of(activity.kind, activity.lines, self._kind_of_line)

    @cached_property
    def _kind_of_line(self) -> Mapping[str, LineKind]:
        return {line.id: line.kind for line in self.site.lines}

    @cached_property
    def work(self) -> Mapping[str, PlanActivity]:
        """Activities by id; a part done already, which only the network of a re-plan has, stands for its whole."""
        own = {a.id: a for a in self.plan.activities}
        parts = {a.id: own[a.begun_part_of] for a in self.network.activities if a.begun_part_of in own}
        return parts | own

    @cached_property
    def alignment_names(self) -> Mapping[str, str]:
        """Names of alignments by id."""
        return {a.id: a.name for a in self.site.alignments}

    @cached_property
    def reach_names(self) -> Mapping[str, str]:
        """Names of reaches by id, in the order of the site file."""
        return {r.id: reach_name(self.alignment_names[r.alignment], r.from_, r.to) for r in self.site.reaches}

    @cached_property
    def gated(self) -> frozenset[str]:
        """Activities that wait for a hold point to be released."""
        return frozenset(gate for hold in self.plan.holds for gate in hold.gates)

    @cached_property
    def _trade_names(self) -> Mapping[str, str]:
        return {t.id: t.name for t in self.site.trades}

    def trade_name(self, activity: PlanActivity) -> str:
        """Return who does an activity, as people say it."""
        if activity.trade:
            return self.doers.get(activity.id) or self._trade_names.get(activity.trade, activity.trade)
        return "Inspectors" if activity.kind.is_look else "Outside parties"

    def place_name(self, activity: PlanActivity) -> str:
        """Return where an activity is, as people say it."""
        return self.reach_names.get(activity.reach) or self.alignment_name(activity)

    def alignment_name(self, activity: PlanActivity) -> str:
        """Return on which alignment an activity is, as people say it."""
        return self.alignment_names.get(activity.alignment, "Whole site")

    def beside(self, stands: Mapping[str, WorkStands]) -> Picture:
        """Return the same plan beside the record: what is on record is drawn at its recorded times."""
        rows = []
        for row in self.plan.activities:
            known = stands.get(row.id)
            start = known.started if known is not None and known.started else row.start
            finish = known.finished if known is not None and known.finished else max(row.finish, start)
            rows.append(row.model_copy(update={"start": start, "finish": finish}))
        return replace(self, plan=self.plan.model_copy(update={"activities": rows}), stands=stands)

    def ink(self, activity: PlanActivity) -> Ink:
        """Return whether work is drawn as recorded, as planned only, or as due and not on record."""
        stands = self.stands.get(activity.id) if self.stands is not None else None
        if stands is None:
            return Ink.PLAN
        if stands.over or stands.started is not None:
            return Ink.RECORDED
        missing = stands.overdue or stands.state in (WorkState.UNREPORTED, WorkState.FAILED, WorkState.AGAIN)
        return Ink.MISSING if missing else Ink.PLANNED

    def standing_said(self, activity: PlanActivity) -> str:
        """Return how work stands by the record, in words; empty where only the plan is drawn."""
        stands = self.stands.get(activity.id) if self.stands is not None else None
        if stands is None:
            return ""
        return " ".join([stands.state.value + ".", *before_it(stands)])

    def worked(self, activity: PlanActivity) -> list[Block]:
        """Return the stretches of time in which an activity is really worked on."""
        clock = self.network.clock
        span = clock.tick(activity.start), clock.tick(activity.finish)
        found = [(clock.when(a), clock.when(b)) for a, b in worked(self.network, activity.id, span)]
        outside_hours = not found and self.ink(activity) is Ink.RECORDED and activity.start < activity.finish
        return [(activity.start, activity.finish)] if outside_hours else found

    def opened(self, first: date, last: date) -> list[Block]:
        """Return the stretches, from the first day to the last, in which anybody may work."""
        clock = self.network.clock
        start, end = clock.midnight(first), clock.midnight(last + timedelta(days=1))
        return [(clock.when(a), clock.when(b)) for a, b in opened(self.network, start, end)]

    def open_ft(self, on: date) -> float:
        """Return the feet of trench that stand open in the night after a day."""
        return open_ft(self.network, self._dates, on)

    @cached_property
    def _dates(self) -> Mapping[str, tuple[int, int]]:
        tick = self.network.clock.tick
        return {a.id: (tick(a.start), tick(a.finish)) for a in self.plan.activities}


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
