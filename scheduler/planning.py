"""What a planner can ask for, as plain functions. Every plan made here has been audited."""

from __future__ import annotations

import threading
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass, replace
from datetime import datetime

from scheduler.assembly import curve_points, explained_conflicts, margin_of, plan_finding, plan_of, schedule_of
from scheduler.audit import audit as broken_rules
from scheduler.case import Case, units_of
from scheduler.errors import BadInput
from scheduler.explanation import Explanation
from scheduler.findings import Finding
from scheduler.ledger.covered_early import covered_unreleased
from scheduler.ledger.events import Event
from scheduler.ledger.place import place_of
from scheduler.ledger.state import State, fold
from scheduler.ledger.store import Entry, Journal
from scheduler.of_the_dates import of_the_dates
from scheduler.plan import Plan
from scheduler.plan_check.plan_faults import plan_faults
from scheduler.plan_check.refusals import refusals
from scheduler.replan.replan_records import Replanning
from scheduler.replan.replanning import plan_again
from scheduler.schedule import Schedule
from scheduler.situation.calls_due import plan_calls
from scheduler.situation.job_facts import facts_at
from scheduler.situation.plan_in_force import PlanInForce
from scheduler.situation.situation import Situation, situation_at
from scheduler.solve.curve import Known, curve
from scheduler.solve.margin import free_margin
from scheduler.solve.outcome import Options, Outcome, Progress, Status, stopped
from scheduler.solve.run import solve
from scheduler.trench.cautions import CAUTIONS
from scheduler.units import Units, in_units_of

CURVE_SLACK_DAYS = (0.0, 0.5, 1.0, 2.0)


@dataclass(frozen=True)
class Planned:
    """A plan with what it was made from, for whoever wants to ask further."""

    case: Case
    plan: Plan
    schedule: Schedule | None
    broken: tuple[Finding, ...]
    """Rules the audit found broken; empty unless the solver has a defect."""
    outcome: Outcome | None = None
    """What the solver reached, for a further solve to take over; None of a plan that was read or is an alternative."""
    stands: bool = False
    """Whether its case holds the job as it stood when the plan was made, not as the site file has it."""


def _of_planned(planned: Planned) -> Units:
    return units_of(planned.case)


@in_units_of(units_of)
def plan(
    case: Case,
    options: Options | None = None,
    *,
    progress: Callable[[Progress], None] | None = None,
    stop: threading.Event | None = None,
    with_curve: bool = False,
    begun: Planned | None = None,
) -> Planned:
    """Find the best plan of a site, audit it, and say what of it is proved.

    Parameters
    ----------
    case
        The site, as `load` returns it.
    options
        Efforts, aims and the days that the finish may pass its best; see `Options`.
    progress
        Called now and then with how far it is, from this thread and from others.
    stop
        Set it, from any thread, to end the work within about a second with what is found by then.
    with_curve
        Whether to work out, too, what a later finish would buy in open trench (`Plan.curve`).
    begun
        The same case planned with the same options, but `only_finish`: its finish is taken over.

    Returns
    -------
    Planned
        The plan in clock time (`.plan`), in ticks (`.schedule`), and what the audit found
        broken (`.broken`, empty unless the solver has a defect; then the plan's findings say so, and
        its floats, reasons and calls are left out). Without a plan `.schedule` is None, `.plan.status` says
        whether that is proved ("infeasible") or not ("unknown", "stopped"), and
        `.plan.conflicts` names the smallest sets of rules that cannot hold together, with
        the cheapest ways out; all rules where it is proved and no smaller set could be shown.
    """
    options = options or Options()
    case, outcome = _finish(case, options, progress, stop) if begun is None else (begun.case, begun.outcome)
    if outcome is None or outcome.schedule is not None:
        outcome = solve(case.network, options, progress, stop, outcome)
    planned = planned_of(case, outcome)
    if outcome.status is Status.INFEASIBLE:
        proved = not planned.plan.conflicts  # the solver names no rules, so that nothing else would be told
        if found := explained_conflicts(case.network, progress, stop, proved=proved):
            planned = replace(planned, plan=planned.plan.model_copy(update={"conflicts": found}))
    return add_curve(planned, options, progress=progress, stop=stop) if with_curve and not planned.broken else planned


def _finish(
    case: Case, options: Options, progress: Callable[[Progress], None] | None, stop: threading.Event | None
) -> tuple[Case, Outcome]:
    """Return a site looked at for its finish alone, with the contingency that it can have without a later one."""
    outcome = solve(case.network, replace(options, only_finish=True), progress, stop)
    if "margin" in case.site.model_fields_set:
        return case, outcome
    percent, outcome = free_margin(case.network, outcome, options, progress, stop)
    return case.with_margin(percent), outcome


def planned_of(case: Case, outcome: Outcome) -> Planned:
    """Return what the solver reached for a site as a plan, audited."""
    schedule = outcome.schedule
    broken = tuple(broken_rules(case.network, schedule)) if schedule else ()
    made = plan_of(
        case.network,
        outcome,
        site=case.reference,
        broken=broken,
        findings=(*(of_the_dates(case.site, case.network, schedule) if schedule else ()), *case.layout),
        cautions=CAUTIONS,
    )
    if schedule is not None and not broken:
        begin = facts_at(case.site, case.network, State(), case.network.clock.when(case.network.data_date))
        told = {"calls": plan_calls(begin, made), "margin": margin_of(case.network, schedule)}
        made = made.model_copy(update=told)
    return Planned(case, made, schedule, broken, outcome)


@in_units_of(_of_planned)
def add_curve(
    planned: Planned,
    options: Options | None = None,
    *,
    progress: Callable[[Progress], None] | None = None,
    stop: threading.Event | None = None,
) -> Planned:
    """Return a plan with what a later finish would buy in open trench; as it was when it has no dates or is stopped."""
    if planned.schedule is None or stopped(stop):
        return planned
    options, network = options or Options(), planned.case.network
    stage = next((s for s in planned.plan.stages if s.name == "exposure"), None)
    known = None
    if stage is not None and stage.value is not None and stage.bound is not None and options.slack_days == 0:
        known = Known(planned.schedule, stage.value, stage.bound)
    points = curve_points(network, curve(network, CURVE_SLACK_DAYS, options, stop, known, progress))
    return replace(planned, plan=planned.plan.model_copy(update={"curve": points}))


@in_units_of(units_of)
def audit(case: Case, dates: Plan | Schedule) -> list[Finding]:
    """Check dates, whoever made them, against every rule of a site.

    Parameters
    ----------
    case
        The site, as `load` returns it; of a re-planned job the one in `as_planned`. A plan is judged with the
        margin that it says it has.
    dates
        A plan (moments of the site's time zone, as in plan.json), perhaps changed by hand, or a
        schedule in ticks of the network's clock.

    Returns
    -------
    list[Finding]
        Every rule broken, by its id, with what was found and what is required; empty when all
        are kept. Rules are checked by their stated meaning, without the solver. Of a plan also
        each thing that it says otherwise than the site or its own dates do (`plan/...`).

    Raises
    ------
    BadInput
        When a plan is of another site, names what the site has not, or something twice.
    """
    if isinstance(dates, Schedule):
        return broken_rules(case.network, dates)
    case = case.fitting(dates)
    schedule = dates_of(case, dates)
    found = broken_rules(case.network, schedule)
    return [*found, *plan_faults(case.network, case.reference, dates, schedule, sound=not found)]


@in_units_of(units_of)
def left_undone(case: Case, schedule: Schedule) -> tuple[Finding, ...]:
    """Return what dates [ticks] leave undone though they break no rule: digs with no ticket, ways open at night."""
    return of_the_dates(case.site, case.network, schedule)


def dates_of(case: Case, plan: Plan, *, file: str = "") -> Schedule:
    """Return the dates of a plan in ticks; raises BadInput, naming `file`, when it is of another site or not clear."""
    case = case.fitting(plan)
    if faults := refusals(case.network, case.reference, plan, file=file):
        raise BadInput(faults)
    return schedule_of(plan, case.network)


@in_units_of(_of_planned)
def explain(planned: Planned) -> Explanation:
    """Return what can be asked about a plan: what drives each date, how late work may be, how good the plan is.

    Floats and the reasons of each date stand in the plan itself (`PlanActivity.total_float_minutes`,
    `.driven_by`), conflicts and ways out in `Plan.conflicts`. Nothing is worked out before it is
    asked for; of a plan without dates every answer is empty.
    """
    return Explanation(planned.case.network, planned.schedule)


def journal(case: Case, where: str = "") -> Journal:
    """Open the journal of a site, made when there is none; use it in a `with` block, or close it.

    `where` is a file, a folder, or a database URL (`postgresql://...`); when left out the journal
    lies in the user's own folder, by the job's id (see `place_of`). Raises BadInput when it cannot be reached or is
    something else.
    """
    return place_of(case.site, case.path, where).open()


@in_units_of(_of_planned)
def with_covered(planned: Planned, entries: Iterable[Entry], moment: datetime) -> tuple[Planned, list[Finding]]:
    """Return a plan whose findings say what lies covered before its release at an aware moment, and those findings."""
    case = planned.case
    covered = covered_unreleased(case.site, case.network, fold(entries), moment)
    findings = [*(plan_finding(f) for f in covered), *planned.plan.findings]
    return replace(planned, plan=planned.plan.model_copy(update={"findings": findings})), covered


@in_units_of(units_of)
def replan(
    case: Case,
    entries: Sequence[Entry],
    as_of: datetime,
    *,
    before: Plan,
    supposing: Sequence[Event] = (),
    options: Options | None = None,
    progress: Callable[[Progress], None] | None = None,
    stop: threading.Event | None = None,
) -> Replanning:
    """Plan what is left of a job, by what its journal says, in up to five ways.

    Where the plan before has more time in own work than the site file asks for, a delay uses that up before the
    finish moves.

    Parameters
    ----------
    case
        The site, as `load` returns it.
    entries
        The journal (`Journal.entries()`); what was written down after `as_of` does not count.
    as_of
        The moment from which on work can be moved; it must know its time zone.
    before
        The plan in force: the one accepted last (`accepted_plan`), else the one made at the start.
    supposing
        Events that are taken as if they had been written down at `as_of`: 'what if'. The journal stays
        as it is, and an alternative made so cannot be accepted.
    options
        Efforts; small ones when left out, so that the answer comes in seconds.
    progress, stop
        As for `plan`.

    Returns
    -------
    Replanning
        The alternatives, each audited, with what moves, whom to call and what it costs (in the
        site's money), or else the rules that can no longer hold together (`.conflicts`). Stopped
        before a plan was found, it has neither.
    """
    most, own = before.margin_percent, case.network.margin_percent
    margins = sorted({max(percent, own) for percent in (most, most // 2, own)}, reverse=True)
    return plan_again(
        case.site,
        [case.with_margin(percent).network for percent in margins],
        entries,
        as_of,
        before=before,
        supposing=tuple(supposing),
        reference=case.reference,
        layout=case.layout,
        options=options,
        progress=progress,
        stop=stop,
    )


@in_units_of(units_of)
def today(
    case: Case,
    entries: Sequence[Entry],
    moment: datetime,
    planned: Planned | None = None,
    *,
    state: State | None = None,
    proposal: bool = False,
) -> Situation:
    """Return the site as it stands: recorded, planned, due and not reported, and whether the plan still holds.

    Parameters
    ----------
    case
        The site, as `load` returns it.
    entries
        The journal (`Journal.entries()`).
    moment
        The moment asked about; it must know its time zone.
    planned
        The plan in force: the accepted one (`as_accepted`), else the one made at the start (`plan`). None: the
        record alone.
    state
        What the entries amount to, where the caller has read it already; else what was written down by the moment.

    proposal
        Whether `planned` is only proposed, as nobody put a plan in force yet: then nothing is late against it.

    Returns
    -------
    Situation
        Times local to the site, lengths in feet. It is worked out anew from what is given; nothing is kept.
    """
    force, network = None, case.network
    if planned is not None:
        network = case.fitting(planned.plan).network
        force = PlanInForce(planned.plan, planned.case.network, planned.schedule, planned.stands, proposal)
    return situation_at(case.site, network, entries, moment, force, state=state)
