"""The whole schedule: by trade, by reach, or by station and date."""

from __future__ import annotations

from datetime import date, timedelta

import streamlit as st

from app.components.chart import activity_picker, show_figure, show_key, show_story
from app.figures.bands import band_rows, bands_figure
from app.figures.stations import stations_figure
from app.figures.work import Picture
from app.session import picture_of
from scheduler.planning import Planned

VIEWS = ("By trade", "By reach", "Stations and dates")
FIRST_DAYS = 14


def show(planned: Planned) -> None:
    """Show the schedule, and the story of whatever is picked in it."""
    st.title("Schedule")
    picture = picture_of(planned)
    plan = planned.plan
    if not plan.activities:
        st.info("There is no plan to show. See Conflicts.")
        return
    view = st.segmented_control("View", VIEWS, default=VIEWS[0], key="view", bind="query-params") or VIEWS[0]
    first, last = _window(picture)
    if view == "Stations and dates":
        picked = _stations(picture, first, last)
    else:
        name_of = picture.trade_name if view == "By trade" else picture.place_name
        shown = [a for a in plan.activities if a.finish.date() >= first and a.start.date() <= last]
        figure = bands_figure(picture, band_rows(name_of, shown), first=first, last=last)
        picked = show_figure(figure, key=f"bands-{view}", alt=f"Schedule {view.lower()}, {len(shown)} activities")
    st.caption("Grey: nobody works. The teal mark: moves the finish if it slips. Nights are left out.")
    show_key(picture)
    chosen = activity_picker(plan, key="activity", picked=picked)
    if chosen:
        show_story(planned, chosen)


def _window(picture: Picture) -> tuple[date, date]:
    plan = picture.plan
    first, last = plan.data_date.date(), max(a.finish for a in plan.activities).date()
    days = [first + timedelta(days=i) for i in range((last - first).days + 1)]
    if len(days) == 1:
        return first, first
    default = (first, days[min(len(days) - 1, FIRST_DAYS - 1)])
    chosen: tuple[date, date] = st.select_slider(
        "Days shown", days, value=default, key="days", format_func=lambda d: f"{d:%a} {d.day} {d:%b}"
    )
    return chosen


def _stations(picture: Picture, first: date, last: date) -> str | None:
    names = {a.id: a.name for a in picture.site.alignments}
    chosen = st.selectbox("Alignment", list(names), key="alignment", format_func=names.__getitem__, bind="query-params")
    figure = stations_figure(picture, chosen, first=first, last=last)
    return show_figure(figure, key="stations", alt=f"Work along {names[chosen]}: stations across, dates down")
