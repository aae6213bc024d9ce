"""The first page: the finish and how sure it is, the next two weeks, what later finishing buys."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date, timedelta

import pandas as pd
import streamlit as st

from app.components.cautions import show_cautions
from app.components.chart import escape, show_figure
from app.components.words import amount, day, moment, proof
from app.figures.curve import curve_figure
from app.figures.work import Picture
from app.session import picture_of
from scheduler.plan import Plan, PlanActivity
from scheduler.planning import Planned

LOOK_AHEAD_DAYS = 14


def show(planned: Planned) -> None:
    """Show what a contractor asks in the morning."""
    plan = planned.plan
    st.title(plan.site.name)
    if plan.finish is None:
        st.error(
            "No plan exists: some rules cannot all be kept. See Conflicts."
            if plan.conflicts
            else "No plan was found in the time given."
        )
        return
    _headline(planned)
    if planned.broken:
        st.error(f"The audit found {len(planned.broken)} broken rules in this plan. Do not use it; please report it.")
    picture = picture_of(planned)
    _look_ahead(picture)
    _proof(plan)
    _layout(plan)
    show_cautions()


def _headline(planned: Planned) -> None:
    plan = planned.plan
    assert plan.finish is not None
    st.markdown(f"### Finished by {day(plan.finish)}, {plan.finish:%H:%M}")
    st.write(proof(plan))
    working = sum(s.seconds for s in plan.stages)
    with st.container(horizontal=True, gap="large"):
        first = f"{plan.data_date:%a} {plan.data_date.day} {plan.data_date:%b}"
        st.metric("Starts", first, width="content")
        st.metric("Inspection visits", len(plan.visits), width="content")
        st.metric("Hold points", len(plan.holds), width="content")
        st.metric("Seconds to plan", f"{working:.1f}", width="content")


def _look_ahead(picture: Picture) -> None:
    plan = picture.plan
    first = plan.data_date.date()
    last = max(a.finish for a in plan.activities).date()
    st.header("The next two weeks")
    start = st.date_input("From", first, min_value=first, max_value=last, key="from", format="YYYY-MM-DD")
    end = start + timedelta(days=LOOK_AHEAD_DAYS)
    shown = [a for a in plan.activities if a.start.date() < end and a.finish.date() >= start]
    if not shown:
        st.info("Nothing is planned in these two weeks.")
        return
    last_day = end - timedelta(days=1)
    span = f"{start:%a} {start.day} {start:%b} to {last_day:%a} {last_day.day} {last_day:%b}"
    st.caption(f"{span}. Trench open in the first night: {open_ft(picture, start):.0f} ft.")
    for index in range(LOOK_AHEAD_DAYS):
        on = start + timedelta(days=index)
        today = [a for a in shown if a.start.date() <= on <= a.finish.date() and _worked_on(picture, a, on)]
        if today:
            _one_day(picture, on, today, expanded=index < 5)


def _worked_on(picture: Picture, activity: PlanActivity, on: date) -> bool:
    return any(a.date() == on for a, _ in picture.worked(activity))


def _one_day(picture: Picture, on: date, activities: Sequence[PlanActivity], *, expanded: bool) -> None:
    looks = sum(a.kind == "inspect" for a in activities)
    note = f" · {looks} inspector's look{'s' if looks != 1 else ''}" if looks else ""
    with st.expander(
        f"{day(on)} · {len(activities)} pieces of work{note} · {open_ft(picture, on):.0f} ft open at night",
        expanded=expanded,
    ):
        lines = []
        for a in sorted(activities, key=lambda a: (a.start, a.id)):
            blocks = [b for b in picture.worked(a) if b[0].date() == on]
            mark = " :material/priority_high: *moves the finish*" if a.critical else ""
            times = f"{blocks[0][0]:%H:%M}-{blocks[-1][1]:%H:%M}"
            lines.append(f"- **{times}** {escape(picture.trade_name(a))}: {escape(a.name)}{mark}")
        st.markdown("\n".join(lines))


def open_ft(picture: Picture, on: date) -> float:
    """Return the feet of trench that stand open in the night after a day."""
    dates = {a.id: a for a in picture.plan.activities}
    return sum(
        o.length_ft
        for o in picture.network.openings
        if dates[o.opens].start.date() <= on and dates[o.closes].finish.date() > on
    )


def _proof(plan: Plan) -> None:
    st.header("What is proved")
    rows = [
        {
            "aim": s.name,
            "reached": amount(s.value),
            "no plan can do better than": amount(s.bound),
            "gap": "-" if s.gap is None else f"{s.gap:.1%}",
            "in": s.unit,
            "proof": "proved best" if s.proved else f"not proved; bound from {s.bound_kind or 'none'}",
        }
        for s in plan.stages
    ]
    st.table(pd.DataFrame(rows).set_index("aim"))
    if plan.curve:
        st.subheader("What a later finish buys")
        show_figure(curve_figure(plan), key="curve", alt="Open trench in foot-nights for each later finish")
        table = [
            {
                "given up": f"{p.slack_days:g} days",
                "finished by": moment(p.finish),
                "open trench, ft nights": amount(p.exposure_ft_nights),
                "proof": "proved least" if p.proved else f"no less than {amount(p.bound)}",
            }
            for p in plan.curve
        ]
        st.table(pd.DataFrame(table).set_index("given up"))


def _layout(plan: Plan) -> None:
    st.header("Layout of the trench")
    if not plan.findings:
        st.success("The layout breaks no rule.")
        return
    rows = [
        {
            "weight": f.severity,
            "where": f.where,
            "what": f.text,
            "found": f.found,
            "required": f.required,
            "source": f.source,
            "mend": f.remedy,
        }
        for f in plan.findings
    ]
    st.dataframe(pd.DataFrame(rows), hide_index=True, width="stretch")
