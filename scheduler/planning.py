"""What a planner can ask for, as plain functions. Every plan made here has been audited."""

from __future__ import annotations

import hashlib
import threading
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass, replace
from datetime import datetime
from pathlib import Path

from pydantic import ValidationError

import scenarios
from scheduler.assembly import curve_points, explained_conflicts, plan_finding, plan_of
from scheduler.audit import audit
from scheduler.errors import BadInput
from scheduler.explain.calls import plan_calls
from scheduler.findings import Finding
from scheduler.ledger.cover import covered_unreleased
from scheduler.ledger.events import PlanAccepted
from scheduler.ledger.state import fold
from scheduler.ledger.store import Entry, Journal
from scheduler.network.check import check_network
from scheduler.network.derive import derive
from scheduler.network.model import Network
from scheduler.plan import Plan, SiteRef, plan_json, plan_read
from scheduler.replan.model import Alternative, Replanning
from scheduler.replan.replanning import plan_again
from scheduler.schedule import Schedule
from scheduler.site.files import load_site
from scheduler.site.model import Site
from scheduler.solve.curve import Known, curve
from scheduler.solve.outcome import Options, Progress, Status, stopped
from scheduler.solve.run import solve
from scheduler.trench.cautions import CAUTIONS
from scheduler.trench.check import check_layout

CURVE_SLACK_DAYS = (0.0, 0.5, 1.0, 2.0)


@dataclass(frozen=True)
class Case:
    """An opened site: what was written, the network it gives, and what its layout check found."""

    path: Path
    sha256: str
    site: Site
    network: Network
    layout: tuple[Finding, ...]

    @property
    def reference(self) -> SiteRef:
        """How a plan refers to this site."""
        job = self.site.site
        return SiteRef(name=job.name, file=self.path.name, sha256=self.sha256, time_zone=job.time_zone)


@dataclass(frozen=True)
class Planned:
    """A plan with what it was made from, for whoever wants to ask further."""

    case: Case
    plan: Plan
    schedule: Schedule | None
    broken: tuple[Finding, ...]
    """Rules the audit found broken; empty unless the solver has a defect."""


def bundled_sites() -> dict[str, Path]:
    """Return the bundled site files by name, the smallest first."""
    folder = Path(scenarios.__file__).parent
    return {p.stem: p for p in sorted(folder.glob("*.yaml"), key=lambda p: (p.stat().st_size, p.name))}


def open_case(path: Path) -> Case:
    """Read a site, derive its network and check its layout.

    Raises BadInput with every fault of the file, or of the network it gives.
    """
    site = load_site(path)
    network = derive(site)
    faults = check_network(network)
    if faults:
        raise BadInput(faults)
    digest = hashlib.sha256(path.read_bytes()).hexdigest()
    return Case(path, digest, site, network, tuple(check_layout(site)))


def make_plan(
    case: Case,
    options: Options | None = None,
    *,
    progress: Callable[[Progress], None] | None = None,
    stop: threading.Event | None = None,
    with_curve: bool = False,
) -> Planned:
    """Solve a case, audit the result, and say what the plan is and what of it is proved."""
    outcome = solve(case.network, options or Options(), progress, stop)
    schedule = outcome.schedule
    broken = tuple(audit(case.network, schedule)) if schedule else ()
    plan = plan_of(
        case.network,
        outcome,
        site=case.reference,
        findings=[*broken, *case.layout],
        cautions=CAUTIONS,
    )
    if outcome.status is Status.INFEASIBLE:
        found = explained_conflicts(case.network, progress, stop)
        plan = plan.model_copy(update={"conflicts": found or plan.conflicts})
    if schedule is not None:
        plan = plan.model_copy(update={"calls": plan_calls(case.site, case.network, schedule)})
    planned = Planned(case, plan, schedule, broken)
    return add_curve(planned, options, stop=stop) if with_curve else planned


def add_curve(planned: Planned, options: Options | None = None, *, stop: threading.Event | None = None) -> Planned:
    """Return a plan with what a later finish would buy in open trench; as it was when it has no dates or is stopped."""
    if planned.schedule is None or stopped(stop):
        return planned
    options, network = options or Options(), planned.case.network
    stage = next((s for s in planned.plan.stages if s.name == "exposure"), None)
    known = None
    if stage is not None and stage.value is not None and stage.bound is not None and options.slack_days == 0:
        known = Known(planned.schedule, stage.value, stage.bound)
    points = curve_points(network, curve(network, CURVE_SLACK_DAYS, options, stop, known))
    return replace(planned, plan=planned.plan.model_copy(update={"curve": points}))


def with_covered(planned: Planned, entries: Iterable[Entry], moment: datetime) -> tuple[Planned, list[Finding]]:
    """Return a plan whose findings say what lies covered before its release at an aware moment, and those findings."""
    case = planned.case
    covered = covered_unreleased(case.site, case.network, fold(entries), moment)
    findings = [*(plan_finding(f) for f in covered), *planned.plan.findings]
    return replace(planned, plan=planned.plan.model_copy(update={"findings": findings})), covered


def replan(
    case: Case,
    entries: Sequence[Entry],
    as_of: datetime,
    *,
    before: Plan,
    options: Options | None = None,
    progress: Callable[[Progress], None] | None = None,
    stop: threading.Event | None = None,
) -> Replanning:
    """Plan what is left at an aware moment, by what the journal said by then, in up to four ways.

    `before` is the plan in force: the one accepted last, else the one made at the start. Whatever
    the journal says, the answer is alternatives or a named conflict.
    """
    return plan_again(
        case.site,
        case.network,
        entries,
        as_of,
        before=before,
        reference=case.reference,
        layout=case.layout,
        options=options,
        progress=progress,
        stop=stop,
    )


def as_planned(case: Case, alternative: Alternative) -> Planned:
    """Return an alternative as any other plan, with the job as it stands for its network."""
    stands = replace(case, network=alternative.network)
    broken = tuple(audit(alternative.network, alternative.schedule))
    return Planned(stands, alternative.plan, alternative.schedule, broken)


def accept(journal: Journal, alternative: Alternative, *, by: str, at: datetime | None = None, why: str = "") -> str:
    """Keep an alternative's plan in the journal and accept it; returns its hash. The plans before stay on record."""
    kept = journal.keep_plan(plan_json(alternative.plan))
    happened = PlanAccepted(plan=kept, data_date=alternative.plan.data_date, why=why)
    journal.append(happened, at=at, by=by)
    return kept


def accepted_plan(journal: Journal, entries: Iterable[Entry]) -> Plan | None:
    """Return the plan accepted last, by entries of a journal; None when none was, or it cannot be read."""
    accepted = fold(entries).plan
    kept = journal.attachment(accepted.plan) if accepted is not None else None
    try:
        return None if kept is None else plan_read(kept.content)
    except ValidationError:
        return None
