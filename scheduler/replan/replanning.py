"""Planning again from a moment on: five alternatives, each a full audited plan, or why there is none."""

from __future__ import annotations

import threading
from collections.abc import Callable, Mapping, Sequence
from dataclasses import replace
from datetime import datetime

from scheduler.assembly import explained_conflicts
from scheduler.findings import Finding
from scheduler.ledger.events import Event
from scheduler.ledger.moments import said
from scheduler.ledger.store import Entry
from scheduler.network.model import Network
from scheduler.network.network_check import check_network
from scheduler.network.open_at_once import open_together
from scheduler.plan import Conflict, ConflictMember, Plan, SiteRef
from scheduler.replan import tell
from scheduler.replan.aims import QUICK, Choice
from scheduler.replan.differences import differences, open_ft_nights_left
from scheduler.replan.dress import plan_as_of
from scheduler.replan.given_up import way_taken
from scheduler.replan.looking_again import again_left_out
from scheduler.replan.margin_left import with_margin_left
from scheduler.replan.replan_records import NOT_ALL_KEPT, Aim, Alternative, Replanning, TakenAsDone
from scheduler.site.site_record import Site
from scheduler.situation.call_words import CallDue
from scheduler.situation.job import StandingJob, job_of
from scheduler.situation.trade_notice import told_in_time
from scheduler.solve.outcome import Options, Progress, StageReport, Status, stopped
from scheduler.units import told_measure


def plan_again(
    site: Site,
    networks: Sequence[Network],
    entries: Sequence[Entry],
    as_of: datetime,
    *,
    before: Plan,
    reference: SiteRef,
    supposing: tuple[Event, ...] = (),
    layout: tuple[Finding, ...] = (),
    options: Options | None = None,
    progress: Callable[[Progress], None] | None = None,
    stop: threading.Event | None = None,
) -> Replanning:
    """Return the alternatives at an aware moment, by what `entries` said by then and the plan in force.

    `networks` is the network with less and less contingency in its work, first as the plan before has it: the first
    one with which the finish of that plan can be kept is planned.

    What is in `supposing` counts as if it had been written down at that moment.
    The same input gives the same answer, byte for byte. Where the finish that the site asks for can
    no longer be kept, plans are made without it and a note says so.
    """
    last = max((e.number for e in entries), default=0)
    said = [Entry(last + n, as_of, "supposed", e, "", "") for n, e in enumerate(supposing, 1)]
    jobs = (job_of(site, network, [*entries, *said], as_of, before) for network in networks)
    job, used_up = with_margin_left(jobs, options or QUICK, stop)
    found = _found(job, reference, layout, options, progress, stop)
    alternatives = tuple(replace(a, supposing=supposing) for a in found.alternatives)
    return replace(found, alternatives=alternatives, supposing=supposing, notes=(*used_up, *found.notes))


def _found(
    job: StandingJob,
    reference: SiteRef,
    layout: tuple[Finding, ...],
    options: Options | None,
    progress: Callable[[Progress], None] | None,
    stop: threading.Event | None,
) -> Replanning:
    past_end = _past_the_end(job)
    if past_end is not None:
        return _answer(job, (), (past_end,), [])
    if open_together(job.network):
        return _answer(job, (), _conflicts(job.with_firm(()), progress, stop, proved=True), [])
    job, choices, extra = way_taken(job, options or QUICK, progress, stop)
    if all(c.schedule is None for c in choices):
        soonest = choices[1]
        proved = soonest.outcome.status is Status.INFEASIBLE
        found = () if stopped(stop) else _conflicts(soonest.network, progress, stop, proved=proved)
        return _answer(job, choices, found, extra)
    return _answer(job, choices, (), extra, reference, layout)


def _past_the_end(job: StandingJob) -> Conflict | None:
    """Return why nothing can be planned after the last day that calendars know."""
    if job.facts.now < job.network.horizon:
        return None
    last = job.network.clock.spoken(job.network.horizon)
    text = f"Working hours are known until {last} only; let the site file look further ahead (horizon_days)."
    return Conflict(id="conflict-1", members=[ConflictMember(ref="horizon", because=text)], minimal=True)


def _conflicts(
    network: Network, progress: Callable[[Progress], None] | None, stop: threading.Event | None, *, proved: bool
) -> tuple[Conflict, ...]:
    """Return why there is no plan, as small as can be shown, never nothing; `proved`: there is none for sure."""
    if faults := check_network(network):
        members = [ConflictMember(ref=f.rule, because=f"{f.where}: {f.text}") for f in faults]
        return (Conflict(id="conflict-1", members=members),)
    if found := explained_conflicts(network, progress, stop, proved=proved):
        return tuple(found)
    text = (
        "What the journal says and the rules of the site cannot all hold; no smaller set of them could be shown."
        if proved
        else "No plan was found in the time given; none was proved impossible either."
    )
    return (Conflict(id="conflict-1", members=[ConflictMember(ref="journal", because=text)]),)


def _answer(
    job: StandingJob,
    choices: Sequence[Choice],
    conflicts: tuple[Conflict, ...],
    extra: list[str],
    reference: SiteRef | None = None,
    layout: tuple[Finding, ...] = (),
) -> Replanning:
    alternatives: list[Alternative] = []
    merged: list[str] = []
    for choice in choices:
        if choice.schedule is None or reference is None:
            continue
        same = next((i for i, a in enumerate(alternatives) if a.schedule == choice.schedule), None)
        if same is None:
            alternatives.append(_alternative(job, choice, reference, layout))
            continue
        known = alternatives[same]
        proof, proved = _proof(job, choice, tell.moved_before(job, choice.schedule, known.calls))
        alternatives[same] = replace(
            known,
            aims=(*known.aims, choice.aim),
            proofs={**known.proofs, choice.aim: proof},
            proved={**known.proved, choice.aim: proved},
        )
        merged.append(f"'{choice.aim}' comes to the same plan as '{known.aims[0]}'.")
    fell = [f"{f.appointment.name}, {_when(job, f.appointment.shown)}: {f.because}" for f in job.fallen]
    return Replanning(
        as_of=job.facts.as_of,
        taken_as_done=_taken_as_done(job),
        network=job.network,
        frozen=tuple(a.id for a in job.facts.network.activities if a.id in job.facts.done),
        before=job.before,
        alternatives=tuple(alternatives),
        conflicts=conflicts,
        notes=tuple(dict.fromkeys([*extra, *job.facts.notes, *fell, *merged])),
        impossible={c.aim: _why_not(c) for c in choices if c.schedule is None},
    )


def _taken_as_done(job: StandingJob) -> tuple[TakenAsDone, ...]:
    taken = (job.facts.network.by_id[a] for a in job.facts.taken_as_done)
    return tuple(TakenAsDone(a.id, a.name, tell.doer(job, a.id, a.trade)) for a in taken)


def _when(job: StandingJob, tick: int) -> str:
    return job.network.clock.spoken(tick)


def _why_not(choice: Choice) -> str:
    if choice.outcome.status is Status.INFEASIBLE:
        return "No plan keeps all that this asks for."
    return "No plan was found for this in the time given."


def _alternative(job: StandingJob, choice: Choice, reference: SiteRef, layout: tuple[Finding, ...]) -> Alternative:
    schedule = choice.schedule
    assert schedule is not None
    plan = plan_as_of(job.facts, choice.network, choice.outcome, site=reference, layout=layout)
    gain = tell.bought(choice.network, schedule, choice.pushed)
    finish = job.network.clock.when(schedule.finish)
    moves = tell.moves(job, plan, schedule, gain, told_in_time(job))
    calls = tell.calls(job, plan)
    proof, proved = _proof(job, choice, tell.moved_before(job, schedule, calls))
    later = 0 if job.before.finish is None else round((finish - job.before.finish).total_seconds() / 60)
    return Alternative(
        aims=(choice.aim,),
        plan=plan,
        schedule=schedule,
        network=choice.network,
        finish=finish,
        later_by_minutes=later,
        differences=differences(job, choice.network, schedule, moves, calls),
        moves=moves,
        calls=calls,
        trench_open_ft_nights=round(open_ft_nights_left(job, schedule), 1),
        cost=tell.cost_of(job, choice.network, schedule),
        cost_left_out=again_left_out(job),
        proofs={choice.aim: proof},
        proved={choice.aim: proved},
    )


def _proof(job: StandingJob, choice: Choice, moved_before: list[CallDue]) -> tuple[str, bool]:
    """Say what is proved of an alternative as regards its aim.

    `moved_before`: calls about appointments that the plan before had moved without a call on record.
    """
    schedule, stages = choice.schedule, {s.name: s for s in choice.outcome.stages}
    assert schedule is not None
    fell, released, already = len(job.fallen), len(choice.released), _moved_before(job, moved_before)
    match choice.aim:
        case Aim.KEEP:
            given = f"{_count(fell, 'appointment')} fell away by the delay itself" if fell else "None fell away"
            if not released:
                return f"{already}Every other appointment is kept. {given}.", True
            sure = "Proved: fewer cannot move." if choice.released_proved else "Whether fewer could move is not proved."
            return (
                f"{already}{NOT_ALL_KEPT} What had to give: {_gave_way(choice)}. {sure} {given}.",
                choice.released_proved,
            )
        case Aim.CALLS:
            moved = len(tell.moved_appointments(job, schedule))
            sure = "Proved: no plan moves less" if choice.released_proved else "Not proved least"
            why = "each because of the delay itself" if not released else f"{released} of them to let the others stay"
            none = f"No {'other' if already else 'known'} appointment must move"
            must = f"{_count(moved, 'known appointment')} must move, {why}" if moved else none
            return f"{already}{must}. {sure}.", choice.released_proved
        case Aim.SOONEST:
            return _staged(stages["finish"], "no plan finishes sooner")
        case Aim.COST:
            return _staged(stages["cost"], "no plan costs less")
        case Aim.LEAST_MOVED:
            return _moved_least(stages)


def _moved_before(job: StandingJob, calls: list[CallDue]) -> str:
    """Name the appointments that the plan before moved already, in a sentence; empty where there are none."""
    named = [f"{c.about}, {said(job.network.clock, c.was)}" for c in calls if c.was is not None]
    if not named:
        return ""
    return f"The plan before moved {_count(len(named), 'booked appointment')}: {'; '.join(named)}. "


def _moved_least(stages: Mapping[str, StageReport]) -> tuple[str, bool]:
    """Say of each of the three goals what was reached and whether less is possible."""
    parts = []
    for name, one, many in (
        ("people", "person or firm has work at another time", "people or firms have work at another time"),
        ("pieces", "task moves", "tasks move"),
    ):
        stage = stages[name]
        sure = "proved fewest" if stage.proved else f"fewer than {stage.bound:,g} is impossible"
        parts.append(f"{stage.value:,g} {one if stage.value == 1 else many} ({sure})")
    far = stages["far"]
    sure = "proved least" if far.proved else f"less than {far.bound:,.10g} is impossible"
    parts.append(f"by {far.value:,.10g} of their working hours in all ({sure})")
    return ", ".join(parts) + ".", all(stages[n].proved for n in ("people", "pieces", "far"))


def _gave_way(choice: Choice) -> str:
    """Name the appointments that had to give way, and count those that nobody was called for yet."""
    called = [a.name for a in choice.released if a.called]
    rest = len(choice.released) - len(called)
    return "; ".join([*called, *([f"{_count(rest, 'planned visit')} not yet called for"] if rest else [])])


def _count(n: int, what: str) -> str:
    return f"{n} {what}{'' if n == 1 else 's'}"


def _staged(stage: StageReport, best: str) -> tuple[str, bool]:
    if stage.proved:
        return f"Proved: {best}.", True
    bound, unit = told_measure(stage.bound, stage.unit)
    return f"Not proved: the bound is {bound:,.1f} {unit}, {stage.gap:.1%} below.", False
