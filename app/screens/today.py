"""The first page: who is where, whom to call, which holds gate the week, what would upset it, and how sure it is."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date, timedelta

import streamlit as st

from app.answer import Answer
from app.components.also_here import show_also_here
from app.components.calls_to_make import calls_ahead, show_calls
from app.components.day_work import entry, show_day, work_on
from app.components.first_screen import show_first
from app.components.head import first_head, show_accepted, show_broken, still_open
from app.components.pick_language import language, show_languages
from app.components.plan_choices import show_choices
from app.components.show_cautions import show_cautions
from app.components.show_costs import show_costs
from app.components.show_findings import show_findings
from app.components.show_looked_at import show_verdict
from app.components.window import choose_day
from app.figures.work import Picture
from app.jobs import Job
from app.live import live_of
from app.served.served_roles import MONEY
from app.served.visitors import served
from app.stands import pictured, situation_of
from app.words import AIMS, amount, count, day, escape, in_words, listed, moment, spoken_in
from scheduler import Situation, looked_at
from scheduler.plan import Plan, PlanActivity, PlanHold, Stage
from scheduler.units import format_length, told_measure

LOOK_AHEAD_DAYS = 14
WEEK = timedelta(days=7)


def show(job: Job, answer: Answer) -> None:
    """Show what a contractor asks in the morning: first what cannot wait, the rest folded, in order of the day."""
    plan, live = answer.plan, live_of(job.case)
    with spoken_in(language()):
        dated = first_head(job, answer)
    show_broken(answer)
    situation = situation_of(live, answer) if dated else None
    if situation is not None:
        with spoken_in(language()):
            show_first(answer, live, situation, _upsets(answer, situation))
    if served() is not None:
        show_also_here(live)
    show_accepted(live, plan, only_gone=True)
    still_open(job, answer)
    if dated:
        on = choose_day(plan, "Day", on=live.moment.date())
        _day(answer, situation, on)
        if situation is not None:
            calls = calls_ahead(live, situation, on)
            with st.expander(f"To call, book or order ({len(calls)})"):
                show_calls(live, situation, calls)
        _gates(answer, situation, on)
        _look_ahead(pictured(answer, situation), situation, on)
        if live.may(MONEY):
            _proof(job, answer, situation)
    _undone(plan)
    _layout(answer)
    show_cautions()
    show_languages()


def _day(answer: Answer, situation: Situation | None, on: date) -> None:
    with st.expander(f"{day(on)}: who is where"):
        show_day(answer, situation, on)


def _gates(answer: Answer, situation: Situation | None, on: date) -> None:
    """Show the hold points to be released within a week, how each stands, and what waits for each."""
    held = [h for h in answer.plan.holds if h.planned_release and _in_week(h, situation, on)]
    held.sort(key=lambda h: (h.planned_release or answer.plan.data_date, h.id))
    with st.expander(f"Hold points of the week ({len(held)})"):
        said = listed(_gate(answer, situation, h) for h in held)
        st.markdown(said or "No hold point is to be released in the next seven days.")


def _in_week(hold: PlanHold, situation: Situation | None, on: date) -> bool:
    """Tell whether a hold point's release is planned in the week, or was to be given before and is not on record."""
    assert hold.planned_release is not None
    point = situation.hold(hold.id) if situation is not None else None
    if point is not None and situation is not None and hold.planned_release.date() < on:
        return not point.clear and on == situation.moment.date()
    return on <= hold.planned_release.date() < on + WEEK


def _gate(answer: Answer, situation: Situation | None, hold: PlanHold) -> str:
    who = escape(answer.people.get(hold.released_by, hold.released_by or "the authority"))
    work = [answer.picture.work[g] for g in hold.gates if g in answer.picture.work]
    first = min(work, key=lambda a: (a.start, a.id), default=None)
    then = f" Then: {escape(first.name)}, planned {moment(first.start)}." if first else ""
    when = f"planned {moment(hold.planned_release)}" if hold.planned_release else "not dated"
    point = situation.hold(hold.id) if situation is not None else None
    stands = f" **{point.status.value.capitalize()}** by the record." if point is not None else ""
    return f"{escape(hold.name)}: {when}, by {who}.{stands}{then}"


def _upsets(answer: Answer, situation: Situation) -> list[str]:
    """Return what a lost day or a missed visit would do, the order of the work kept; nothing once the plan fails."""
    if not situation.holds_still:
        return []
    said = [_upset(answer, what, finish) for what, finish in answer.upsets(situation.moment.date())]
    if not said:
        return [in_words("No work day and no visit lies ahead.")]
    order = in_words(
        "With the order of the work kept; planning anew may do better. After rain, the trench is inspected."
    )
    return [*said, order]


def _upset(answer: Answer, what: str, finish: int | None) -> str:
    plan, when = answer.plan, answer.case.network.clock.when
    if finish is None or plan.finish is None:
        return in_words("{what}: the work no longer fits into the hours known.", what=escape(what))
    if when(finish) <= plan.finish:
        return in_words("{what}: the finish stands.", what=escape(what))
    late, stands = moment(when(finish)), moment(plan.finish)
    return in_words("{what}: finished **{late}** instead of {planned}.", what=escape(what), late=late, planned=stands)


def _look_ahead(picture: Picture, situation: Situation | None, start: date) -> None:
    with st.expander("The next two weeks"):
        _later_days(picture, situation, start)


def _later_days(picture: Picture, situation: Situation | None, start: date) -> None:
    days = [start + timedelta(days=i) for i in range(1, LOOK_AHEAD_DAYS)]
    shown = 0
    for on in days:
        work = work_on(picture, on)
        if work:
            _later_day(picture, situation, on, work)
            shown += 1
    if not shown:
        st.info("Nothing more is planned in these two weeks.")


def _later_day(picture: Picture, situation: Situation | None, on: date, work: Sequence[PlanActivity]) -> None:
    looks = sum(a.kind.is_look for a in work)
    parts = [f"**{day(on)}**", f"{count(len(work), 'task')} planned"]
    parts += [count(looks, "inspection")] if looks else []
    parts.append(f"{format_length(picture.open_ft(on))} open at night")
    st.markdown(" · ".join(parts))
    st.markdown(listed(entry(picture, situation, a, on) for a in work))


def _proof(job: Job, answer: Answer, situation: Situation | None) -> None:
    with st.expander("What is proved, and what it costs"):
        _proved(job, answer.plan, situation)
    show_choices(job)


def _proved(job: Job, plan: Plan, situation: Situation | None) -> None:
    show_accepted(live_of(job.case), plan)
    if situation is not None and not situation.holds_still:
        st.write("This was proved of the plan before what is on record now; it no longer holds as it stands.")
    st.markdown(listed(_aim(s) for s in plan.stages))
    if not job.settled:
        st.caption("The later aims, open trench first, are being looked at.")
    if plan.costs is not None:
        show_costs(plan.costs)


def _aim(stage: Stage) -> str:
    name, unit = AIMS.get(stage.name, (stage.name.capitalize(), stage.unit))
    (value, said), (bound, _) = told_measure(stage.value, unit), told_measure(stage.bound, unit)
    reached = f"**{escape(name)}**: {amount(value)} {escape(said)}."
    if stage.proved:
        return f"{reached} Proved best."
    gap = "" if stage.gap is None else f", {stage.gap:.1%} below"
    kind = f" (bound from {escape(stage.bound_kind)})" if stage.bound_kind else ""
    return f"{reached} Not proved; no plan can do better than {amount(bound)}{gap}{kind}."


def _undone(plan: Plan) -> None:
    """Say what the dates leave undone: ground without a locate ticket, ways left trenched at night."""
    if plan.of_the_dates:
        with st.expander(f"What these dates leave undone ({len(plan.of_the_dates)})"):
            show_findings(plan.of_the_dates)


def _layout(answer: Answer) -> None:
    found = [f for f in answer.plan.findings if not f.is_of_the_dates]
    with st.expander(f"Layout of the trench ({count(len(found), 'finding')})"):
        show_verdict(looked_at(answer.case), found)
        show_findings(found)
