"""The first page: the finish and how sure it is, the next two weeks, what later finishing buys."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date, timedelta

import streamlit as st

from app.answer import Answer
from app.components.busy import await_end
from app.components.cautions import show_cautions
from app.components.chart import show_picture
from app.components.findings import show_findings
from app.components.head import head
from app.components.window import choose_day
from app.figures.curve import curve_figure
from app.figures.work import Picture
from app.jobs import Job
from app.words import AIMS, amount, count, day, escape, listed, moment, short_day
from scheduler.plan import CurvePoint, Plan, PlanActivity, Stage

LOOK_AHEAD_DAYS = 14
DAYS_UNFOLDED = 3


def show(job: Job, answer: Answer) -> None:
    """Show what a contractor asks in the morning."""
    plan = answer.plan
    dated = head(job, plan)
    if answer.planned.broken:
        st.error(f"The audit found {count(len(answer.planned.broken), 'broken rule')} in this plan. Do not use it.")
    if dated:
        _numbers(plan)
        _look_ahead(answer.picture)
        _proof(job, plan)
    _layout(plan)
    show_cautions()


def _numbers(plan: Plan) -> None:
    with st.container(horizontal=True, gap="medium"):
        st.metric("Starts", short_day(plan.data_date), width="content")
        st.metric("Inspection visits", len(plan.visits), width="content")
        st.metric("Hold points", len(plan.holds), width="content")
        st.metric("Seconds to plan", f"{sum(s.seconds for s in plan.stages):.1f}", width="content")


def _look_ahead(picture: Picture) -> None:
    st.header("The next two weeks", anchor=False)
    start = choose_day(picture.plan, "From")
    days = [start + timedelta(days=i) for i in range(LOOK_AHEAD_DAYS)]
    st.caption(f"{short_day(days[0])} to {short_day(days[-1])}.")
    shown = 0
    for on in days:
        work = [
            a for a in picture.plan.activities if a.start.date() <= on <= a.finish.date() and _times(picture, a, on)
        ]
        if work:
            _one_day(picture, on, work, expanded=shown < DAYS_UNFOLDED)
            shown += 1
    if not shown:
        st.info("Nothing is planned in these two weeks.")


def _times(picture: Picture, activity: PlanActivity, on: date) -> str:
    """Return from when to when an activity is worked on, on one day; empty if it is not."""
    blocks = [b for b in picture.worked(activity) if b[0].date() == on]
    return f"{blocks[0][0]:%H:%M}-{blocks[-1][1]:%H:%M}" if blocks else ""


def _one_day(picture: Picture, on: date, work: Sequence[PlanActivity], *, expanded: bool) -> None:
    looks = sum(a.kind == "inspect" for a in work)
    parts = [f"**{day(on)}**", f"{count(len(work), 'piece')} of work"]
    parts += [count(looks, "inspector's look")] if looks else []
    parts.append(f"{picture.open_ft(on):.0f} ft open at night")
    with st.expander(" · ".join(parts), expanded=expanded):
        st.markdown(listed(_entry(picture, a, on) for a in sorted(work, key=lambda a: (a.start, a.id))))


def _entry(picture: Picture, activity: PlanActivity, on: date) -> str:
    notes = ["moves the finish"] if activity.critical else []
    if activity.id in picture.gated and activity.start.date() == on:
        notes.append("only after a hold point is released")
    tail = f" *({', '.join(notes)})*" if notes else ""
    who, what = escape(picture.trade_name(activity)), escape(activity.name)
    return f"**{_times(picture, activity, on)}** {who}: {what}{tail}"


def _proof(job: Job, plan: Plan) -> None:
    st.header("What is proved", anchor=False)
    st.markdown(listed(_aim(s) for s in plan.stages))
    if not job.settled:
        st.caption("The later aims, open trench first, are being looked at.")
    st.subheader("What a later finish buys", anchor=False)
    if plan.curve:
        alt = "Open trench in foot-nights for each later finish: " + "; ".join(_point(p) for p in plan.curve)
        show_picture(curve_figure(plan), key="curve", alt=alt)
        st.markdown(listed(_point(p) for p in plan.curve))
    elif job.done:
        st.write("It was not worked out, because the search was stopped.")
    else:
        await_end(job)


def _aim(stage: Stage) -> str:
    name, unit = AIMS.get(stage.name, (stage.name.capitalize(), stage.unit))
    reached = f"**{escape(name)}**: {amount(stage.value)} {escape(unit)}."
    if stage.proved:
        return f"{reached} Proved best."
    gap = "" if stage.gap is None else f", {stage.gap:.1%} below"
    kind = f" (bound from {escape(stage.bound_kind)})" if stage.bound_kind else ""
    return f"{reached} Not proved; no plan can do better than {amount(stage.bound)}{gap}{kind}."


def _point(point: CurvePoint) -> str:
    sure = "proved least" if point.proved else f"no less than {amount(point.bound)}"
    days = f"{point.slack_days:g} day" + ("" if point.slack_days == 1 else "s")
    given = f"{days} later" if point.slack_days else "No later"
    return f"{given}, {moment(point.finish)}: {amount(point.exposure_ft_nights)} ft nights, {sure}"


def _layout(plan: Plan) -> None:
    st.header("Layout of the trench", anchor=False)
    if plan.findings:
        show_findings(plan.findings)
    else:
        st.success("The layout breaks no rule.")
