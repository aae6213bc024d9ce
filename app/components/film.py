"""The job from above, day by day as planned: a player, its table, and the film to take along."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from datetime import date, datetime, time, timedelta
from functools import partial

import streamlit as st

from app.answer import Answer
from app.components.site_picture import picture_style, planned_stretches, show_drawn
from app.components.window import plan_days
from app.figures.film_figure import FRAME_S, film_svg
from app.figures.site_from_above import StretchDrawn, site_from_above
from app.words import day as day_said
from app.words import escape, listed, short_day
from scheduler import Situation
from scheduler.situation import layer_states

DAY, PLAYING = "trench-day", "film-playing"
END_OF_DAY = time(18, 0)
WIDE_PX, TALLEST_PX = 640.0, 400.0
"""Of the film that is taken along."""


def show_film(answer: Answer, situation: Situation, *, on: date, told: Callable[[date], Sequence[str]]) -> None:
    """Show what is planned for the end of a day, which a slider or the player chooses; `told` says it in words."""
    playing = bool(st.session_state.get(PLAYING))
    frame = partial(_frame, answer, situation, on, told)
    st.fragment(frame, run_every=FRAME_S if playing else None)()
    _table(answer, situation)


def _frame(answer: Answer, situation: Situation, on: date, told: Callable[[date], Sequence[str]]) -> None:
    first, last = plan_days(answer.plan)
    state = st.session_state
    if DAY not in state or not first <= state[DAY] <= last:
        state[DAY] = min(max(on, first), last)
    if state.get(PLAYING):
        state[DAY] = min(state[DAY] + timedelta(days=1), last)
        if state[DAY] == last:
            state[PLAYING] = False
            st.rerun()
    with st.container(horizontal=True, vertical_alignment="bottom", gap="small"):
        if st.button(
            "Pause" if state.get(PLAYING) else "Play",
            key="film-play",
            icon=":material/pause:" if state.get(PLAYING) else ":material/play_arrow:",
        ):
            state[PLAYING] = not state.get(PLAYING)
            if state[PLAYING] and state[DAY] == last:
                state[DAY] = first
            st.rerun()
        day: date = st.slider("At the end of the day", first, last, format="ddd D MMM", key=DAY)
    st.markdown(f"**Planned**, end of {day_said(day)}")
    show_drawn(answer.case.site, planned_on(answer, situation, day), key="site-planned")
    st.caption("Thin and open: planned only. Nothing here says that it was done.")
    if not state.get(PLAYING):
        st.markdown(listed(escape(w) for w in told(day)))


def planned_on(answer: Answer, situation: Situation, day: date) -> list[StretchDrawn]:
    """Return each stretch as the plan has it at the end of a day."""
    at = datetime.combine(day, END_OF_DAY, situation.moment.tzinfo)
    return planned_stretches(answer, layer_states(situation.network, situation.work, at))


def changes(answer: Answer, situation: Situation) -> list[tuple[date, list[StretchDrawn]]]:
    """Return the first day of the plan and every day that ends in another state than the day before, each drawn."""
    first, last = plan_days(answer.plan)
    found: list[tuple[date, list[StretchDrawn]]] = []
    for k in range((last - first).days + 1):
        on = first + timedelta(days=k)
        drawn = planned_on(answer, situation, on)
        if not found or drawn != found[-1][1]:
            found.append((on, drawn))
    return found


def _table(answer: Answer, situation: Situation) -> None:
    """Offer the days on which something changes as a table, and as a film in one file."""
    if not st.toggle("Every day as a table, and the film as a file", key="film-table"):
        return
    days = changes(answer, situation)
    before: dict[str, str] = {}
    rows = []
    for on, drawn in days:
        for stretch in drawn:
            if before.get(stretch.key) != stretch.said:
                rows.append({"Planned, end of": short_day(on), "Stretch and its layers": escape(stretch.said)})
            before[stretch.key] = stretch.said
    film = film_of(answer, days)
    st.download_button(
        "Download the film (SVG)",
        film,
        file_name="film.svg",
        mime="image/svg+xml",
        key="film-download",
        icon=":material/download:",
        on_click="ignore",
    )
    st.caption("It plays in any browser, and says on every picture that it is a plan.")
    st.table(rows)


def film_of(answer: Answer, days: Sequence[tuple[date, list[StretchDrawn]]]) -> str:
    """Return the film of some days, each drawn as planned."""
    site = answer.case.site
    frames = [
        (
            f"Planned, end of {day_said(on)}",
            site_from_above(site, drawn, wide=WIDE_PX, tallest=TALLEST_PX, planned=True),
        )
        for on, drawn in days
    ]
    title = f"{answer.plan.site.name}: what is planned, day by day. Nothing here says that it was done."
    return film_svg(frames, style=picture_style(), title=title)
