"""The whole schedule: by station and date, by trade, or by reach."""

from __future__ import annotations

from datetime import date, datetime

import streamlit as st

from app.address import choose, choose_side_by_side, notice_unknown, publish, settle
from app.answer import Answer
from app.components.chart import pick_activity, show_key, show_story, show_work
from app.components.head import head
from app.components.window import choose_days
from app.figures.bands import band_rows, bands_figure
from app.figures.stations_figure import stations_figure
from app.figures.work import Picture
from app.jobs import Job
from app.live import live_of
from app.stands import pictured, situation_of
from app.words import count, from_to, short_day
from scheduler import Situation
from scheduler.plan import PlanActivity

VIEWS = {"stations": "Stations and dates", "trade": "By trade", "reach": "By reach"}
EACH_ALIGNMENT, EVERY_REACH = "each-alignment", "every-reach"
FEW_REACHES = 12


def show(job: Job, answer: Answer) -> None:
    """Show the schedule, and the story of whatever is picked in it."""
    if not head(job, answer, "Schedule"):
        return
    live = live_of(job.case)
    situation = situation_of(live, answer)
    recorded = situation is not None and situation.state.last is not None
    picture = pictured(answer, situation)
    picture = picture.beside(situation.work) if situation is not None and recorded else picture
    with st.container(horizontal=True, vertical_alignment="bottom"):
        view = _view()
        place = _place(answer, view)
    above, below = st.container(), st.container()
    with below:
        st.caption("Grey: nobody works. Teal: no slack, or on the chain that sets the finish. Nights are left out.")
        if recorded:
            st.caption(
                "Filled: recorded begun or done. Open: planned only. Open with a dark edge and ?: due, not on record."
            )
        show_key(answer.picture)
        picked = pick_activity(answer)
        if picked:
            show_story(answer, picked, situation)
    with above:
        first, last = choose_days(answer.plan, on=live.moment.date() if recorded else None, include=picked)
        chosen = picked.id if picked else ""
        if view == "stations":
            _stations(answer, picture, place, (first, last), chosen, now=live.moment if recorded else None)
        else:
            _bands(picture, view, place, first, last, chosen)
        _table(answer, situation, first, last)


def _view() -> str:
    settle("view", VIEWS)
    view = choose_side_by_side("View", VIEWS, key="view", usual="stations")
    publish("view", view)
    notice_unknown("view", "view")
    return view


def _place(answer: Answer, view: str) -> str:
    """Offer the alignment to draw or to open up; which one stands in the address."""
    if view == "trade":
        return ""
    names = dict(answer.picture.alignment_names)
    if view == "reach":
        few = len(answer.case.site.reaches) <= FEW_REACHES
        general = {EVERY_REACH: "Every reach", EACH_ALIGNMENT: "Each alignment as one band"}
        order = general if few else dict(reversed(general.items()))
        names = order | {a: f"Open up {name}" for a, name in names.items()}
    return choose("Alignment", names, key="alignment", what="alignment", width=300) or ""


def _bands(picture: Picture, view: str, place: str, first: date, last: date, chosen: str) -> None:
    shown = [a for a in picture.plan.activities if a.finish.date() >= first and a.start.date() <= last]

    def name_of(activity: PlanActivity) -> str:
        if view == "trade":
            return picture.trade_name(activity)
        opened = place in (EVERY_REACH, activity.alignment)
        return picture.place_name(activity) if opened else picture.alignment_name(activity)

    rows = band_rows(name_of, shown)
    if not rows:
        st.info("Nothing is planned in these days.")
        return
    alt = (
        f"Schedule {VIEWS[view].lower()}, {short_day(first)} to {short_day(last)}: "
        f"{count(len(shown), 'task')} "
        f"in {count(len({r.band for r in rows}), 'band')}. The list of work below says the same in words."
    )
    figure = bands_figure(picture, rows, first=first, last=last, picked=chosen)
    show_work(figure, key=f"bands-{view}", alt=alt, kept_as=f"{VIEWS[view].lower()} {first}")


def _stations(
    answer: Answer, picture: Picture, place: str, days: tuple[date, date], chosen: str, *, now: datetime | None
) -> None:
    (first, last), name = days, answer.picture.alignment_names[place]
    alt = f"Work along {name}, {short_day(first)} to {short_day(last)}: stations across, dates down."
    planned = answer.picture if now is not None else None
    figure = stations_figure(picture, place, first=first, last=last, picked=chosen, planned=planned, now=now)
    show_work(figure, key="stations", alt=alt, kept_as=f"stations {name} {first}")


def _table(answer: Answer, situation: Situation | None, first: date, last: date) -> None:
    """Offer the work of the days shown as a table, which can be downloaded."""
    fold = st.expander("The same as a table", key="schedule-table", on_change="rerun")
    if not fold.open:
        return
    stands = situation.work if situation is not None else {}
    picture = pictured(answer, situation)
    rows = [
        {
            "Work": a.name,
            "Who": picture.trade_name(a),
            "Where": picture.place_name(a),
            "Planned": from_to(a.start, a.finish),
            "By the record": stands[a.id].state.value if a.id in stands else "",
        }
        for a in sorted(answer.plan.activities, key=lambda a: (a.start, a.id))
        if a.finish.date() >= first and a.start.date() <= last
    ]
    with fold:
        st.dataframe(rows, hide_index=True, width="stretch")
