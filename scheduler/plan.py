"""plan.json: the result of planning, as a contract that other programs may read.

Readers ignore keys they do not know. Times are ISO 8601 with offset.
"""

from __future__ import annotations

from collections.abc import Iterable
from datetime import date
from pathlib import Path
from typing import Literal

from pydantic import AwareDatetime, BaseModel, ConfigDict, Field

from scheduler.network.contingency import MOST_PERCENT
from scheduler.network.kind import Kind as Kind
from scheduler.whole_files import write_whole

OF_THE_DATES = "dates/"
"""How the rules of those findings begin that say what the dates of a plan leave undone."""


class Part(BaseModel):
    """Base of every part of a plan: immutable, unknown keys ignored."""

    model_config = ConfigDict(frozen=True, extra="ignore")


class SiteRef(Part):
    """Which site file, and exactly which content of it, the plan was made from."""

    name: str
    file: str = ""
    sha256: str = ""
    """Of the file."""
    content: str = ""
    """The same without the job id that stands in it; empty in plans of older versions."""
    time_zone: str = "UTC"

    def is_of(self, sha256: str, content: str) -> bool:
        """Tell whether a site file with these two hashes says what the plan was made from, job id aside."""
        return self.sha256 in (sha256, content or sha256) or (self.content != "" and self.content == content)


class Stage(Part):
    """One objective: what was reached, what is proved, and against which bound."""

    name: str
    value: float | None
    bound: float | None
    bound_kind: str = ""
    unit: str = ""
    gap: float | None = None
    proved: bool = False
    seconds: float = 0.0


class Reason(Part):
    """One thing that binds a date: kind of rule, what it refers to, and a sentence."""

    kind: str
    ref: str
    because: str
    activity: str = ""
    """The activity waited for, when it is one."""


class PlanActivity(Part):
    """A dated activity."""

    id: str
    name: str
    kind: Kind
    reach: str = ""
    alignment: str = ""
    from_ft: float = 0.0
    to_ft: float = 0.0
    lines: list[str] = []
    layer: int | None = None
    trade: str = ""
    start: AwareDatetime
    finish: AwareDatetime
    work_minutes: int
    contingency_minutes: int = 0
    """Of `work_minutes`, what is planned on top of what quantities give."""
    total_float_minutes: int | None = None
    free_float_minutes: int | None = None
    critical: bool = False
    """No float, or on the longest chain to the finish, which may have float where closed hours lie along it."""
    moves_finish: bool = False
    """The finish slips as soon as this starts later, everybody's turn kept; other work without float misses a visit."""
    driven_by: list[Reason] = []
    because: str = ""
    source: str = ""


class PlanVisit(Part):
    """A visit for one inspection, with the hold points it covers; see `put_together` for visits as people make them."""

    id: str
    inspection: str
    name: str = ""
    authority: str = ""
    person: str = ""
    """Who looks, for telling whose visits of one day are one; empty in plans of older versions."""
    start: AwareDatetime
    finish: AwareDatetime
    covers: list[str] = []


class PlanHold(Part):
    """A hold point: who releases it, when that is planned, and what waits for it."""

    id: str
    kind: str
    name: str = ""
    scope: str = ""
    reaches: list[str] = []
    released_by: str = ""
    planned_release: AwareDatetime | None = None
    gates: list[str] = []


class PlanCall(Part):
    """A call somebody must make by a date: notice, a booking, a ticket renewal."""

    id: str
    text: str
    by: AwareDatetime
    to: str = ""
    about: str = ""


class ConflictMember(Part):
    """One rule of a set that cannot hold together."""

    ref: str
    because: str


class Repair(Part):
    """A change that makes a plan possible, with what it costs and the finish it gives."""

    text: str
    cost: float | None = None
    finish: AwareDatetime | None = None


class Conflict(Part):
    """Named rules that cannot all hold."""

    id: str
    members: list[ConflictMember]
    repairs: list[Repair] = []
    minimal: bool = False


class PlanFinding(Part):
    """A finding as it stands in a plan."""

    rule: str
    severity: str
    where: str
    found: str = ""
    required: str = ""
    source: str = ""
    text: str = ""
    remedy: str = ""

    @property
    def is_of_the_dates(self) -> bool:
        """Whether it says what the dates of the plan leave undone, not what the layout breaks."""
        return self.rule.startswith(OF_THE_DATES)


class CurvePoint(Part):
    """One point of the finish/exposure trade: what extra finish time buys."""

    slack_days: float
    finish: AwareDatetime
    exposure_ft_nights: float
    bound: float | None = None
    proved: bool = False


class CostLine(Part):
    """One line of what a plan costs [dollars]."""

    id: str
    words: str
    quantity: float
    unit: str
    rate: float
    """For one of the unit."""
    amount: float
    where: str = ""
    """The place of the rate in the site file."""


class PlanCosts(Part):
    """What a plan costs, line by line [dollars]."""

    lines: list[CostLine] = []
    total: float = 0.0
    still_to_come: bool = False
    """Whether some work was done before: only what is still to come is counted."""
    left_out: list[str] = []
    """What occurs but has no rate in the site file: a sentence for each."""


class MarginShare(Part):
    """What the work of one party and kind has of the contingency that is planned in [minutes]."""

    trade: str = ""
    kind: Kind
    work_minutes: int
    """By quantities, without the contingency."""
    contingency_minutes: int


class PlanMargin(Part):
    """Who has how much contingency, and what the plan does when own work takes longer, everybody keeping their turn."""

    shares: list[MarginShare] = []
    """Of all own work, most work first."""
    borne_percent: int
    """How much longer than quantities give all own work may take, by the plan's own order, and the finish stands."""
    longer_percent: int
    """With so much more time for all own work ..."""
    longer_finish: AwareDatetime | None = None
    """... it ends then, if nothing is planned anew; None where the hours known run out."""


class Plan(Part):
    """A whole plan. `status` says whether a plan exists and whether its finish is proved best."""

    format: Literal["jointtrench-plan"] = "jointtrench-plan"
    version: Literal[1] = 1
    site: SiteRef
    data_date: AwareDatetime
    margin_percent: int = Field(default=0, ge=0, le=MOST_PERCENT)
    """Contingency that all work of the job's own people and machines has at the least; more by the site file stays."""
    margin: PlanMargin | None = None
    """None of a plan without dates, whose dates break a rule, or made on the way."""
    status: Literal["optimal", "feasible", "infeasible", "unknown", "stopped"]
    finish: AwareDatetime | None = None
    finish_bound: AwareDatetime | None = None
    stages: list[Stage] = []
    curve: list[CurvePoint] = []
    costs: PlanCosts | None = None
    """None of a plan without dates, or whose dates break a rule."""
    activities: list[PlanActivity] = []
    visits: list[PlanVisit] = []
    holds: list[PlanHold] = []
    calls: list[PlanCall] = []
    renewals: list[str] = []
    conflicts: list[Conflict] = []
    findings: list[PlanFinding] = []
    cautions: list[str] = Field(default_factory=list)

    @property
    def of_the_dates(self) -> list[PlanFinding]:
        """The findings that say what its dates leave undone, though they break no rule."""
        return [f for f in self.findings if f.is_of_the_dates]


def put_together(visits: Iterable[PlanVisit]) -> list[tuple[PlanVisit, ...]]:
    """Return visits as people make them: all of one person on one day are one, in order of time."""
    together: dict[tuple[str, date], list[PlanVisit]] = {}
    for visit in sorted(visits, key=lambda v: (v.start, v.id)):
        together.setdefault((visit.person or visit.inspection, visit.start.date()), []).append(visit)
    return [tuple(made) for made in together.values()]


def plan_json(plan: Plan) -> str:
    """Return a plan as indented JSON."""
    return plan.model_dump_json(indent=1) + "\n"


def plan_read(text: str | bytes) -> Plan:
    """Read a plan from JSON; raises pydantic.ValidationError if it is not one."""
    return Plan.model_validate_json(text)


def write_plan(plan: Plan, path: Path) -> None:
    """Write a plan as indented JSON."""
    write_whole(path, plan_json(plan))


def read_plan(path: Path) -> Plan:
    """Read a plan written by `write_plan`; raises pydantic.ValidationError if it is not one."""
    return plan_read(path.read_text(encoding="utf-8"))
