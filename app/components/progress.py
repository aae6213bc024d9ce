"""How far the trench is on a day that slides through the job, in a picture and in words."""

from __future__ import annotations

from datetime import date, time

import streamlit as st

from app.answer import Answer
from app.components.chart import show_picture
from app.components.window import plan_days
from app.figures.strip import strip_figure
from app.words import escape, listed, short_day
from scheduler.explain import StretchState, TrenchStretch, stretches
from scheduler.units import format_station

END_OF_DAY = time(18, 0)


def show_progress(answer: Answer, *, on: date, reach: str) -> None:
    """Show the state of every stretch at the end of a day; the slider starts on `on`."""
    schedule = answer.planned.schedule
    if schedule is None:
        return
    first, last = plan_days(answer.plan)
    day: date = st.slider(
        "At the end of the day", first, last, min(max(on, first), last), format="ddd D MMM", key="trench-day"
    )
    network, site = answer.case.network, answer.case.site
    tick = network.clock.tick(network.clock.when(network.clock.midnight(day)).replace(hour=END_OF_DAY.hour))
    found = stretches(network, schedule.dates, tick)
    dug = {part.alignment for part in found}
    alignments = {a.id: (a.name, a.length_ft) for a in site.alignments if a.id in dug}
    words = _words(answer, found)
    alt = f"The trench at the end of {short_day(day)}. {' '.join(words)}"
    show_picture(strip_figure(alignments, found, picked=reach), key="strip", alt=alt)
    st.markdown(listed(escape(w) for w in words))
    st.caption(
        "Dots: not dug. Hollow: open. Strokes along it: lines laid. An eye: inspected. Earth: covered. "
        "The thick frame is the reach shown below."
    )


def _words(answer: Answer, found: list[TrenchStretch]) -> list[str]:
    """Return one sentence for each state that any stretch is in."""
    said = []
    for state in StretchState:
        parts = [p for p in found if p.state is state]
        if not parts:
            continue
        feet = sum(p.to_ft - p.from_ft for p in parts)
        places: dict[str, list[str]] = {}
        for p in parts:
            name = answer.picture.alignment_names[p.alignment]
            places.setdefault(name, []).append(f"{format_station(p.from_ft)}-{format_station(p.to_ft)}")
        where = "; ".join(f"{name} {', '.join(spans)}" for name, spans in places.items())
        said.append(f"{str(state).capitalize()}, {feet:.0f} ft: {where}.")
    return said
