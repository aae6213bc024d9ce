"""What a contractor sees first in the morning: the site as it is, four tiles, and the next two hours."""

from __future__ import annotations

import re
from datetime import date, timedelta
from time import sleep

import streamlit as st

from app.answer import Answer
from app.components.calls_to_make import calls_seen
from app.components.site_picture import show_in_words
from app.components.stretch_card import show_site_and_card
from app.live import Live
from app.once import once
from app.short_names import work_in_short
from app.words import escape, in_words, listed, moment, time_of_day
from scheduler import Situation
from scheduler.situation import HOURS, NextJob, in_the_way, next_hours
from scheduler.units import format_length, format_station

MOST_PARTIES = 3
"""Told at once; the others are folded away."""
SOON = timedelta(days=1)
DRAWN = "first-screen-drawn"
"""Where the session keeps that its browser had the time for a first screen; afterwards it draws quickly."""
DRAWING_S = 1.0
"""What a browser needs for the first screen of a page that it has just opened."""


def show_first(answer: Answer, live: Live, situation: Situation, upsets: list[str]) -> None:
    """Show the site from above, the four tiles and who does what in the next two hours.

    `upsets` says what a day of rain, and other things, would do.
    """
    drawn = show_site_and_card(answer, live, situation, key="today", told=False)
    with st.container(horizontal=True, gap="small", key="tiles"):
        _calls(live, situation)
        _open_tonight(answer, situation)
        _not_released(situation)
        _rain(upsets)
    _next_hours(situation)
    _let_it_be_drawn()
    show_in_words(drawn, key="site-today")


def _let_it_be_drawn() -> None:
    """Wait once in a session before the rest of the page, so that the browser draws the first screen by itself.

    The server has a whole page in 0.05 s. A browser that is sent all of it at once draws the picture last, and the
    folded part is most of its work.
    """
    if DRAWN not in st.session_state:
        st.session_state[DRAWN] = True
        sleep(DRAWING_S)


def _calls(live: Live, situation: Situation) -> None:
    due = [c for c in calls_seen(live, situation) if c.on <= situation.moment.date()]
    with st.popover(f"{in_words('Call today')} **{len(due)}**", icon=":material/call:", width="stretch"):
        if not due:
            st.write(in_words("Nobody needs to be called today."))
        for call in due:
            st.markdown(f"**{escape(call.when)}**: {escape(call.text)}")
            number = call.due[0].phone
            if digits := re.sub(r"[^+0-9]", "", number):
                with st.container(horizontal=True):
                    st.link_button(
                        in_words("Dial {number}", number=escape(number)), f"tel:{digits}", icon=":material/call:"
                    )
                    st.link_button(in_words("Text"), f"sms:{digits}", icon=":material/sms:")


def _open_tonight(answer: Answer, situation: Situation) -> None:
    on = situation.moment.date()
    length = format_length(situation.open_tonight_ft)
    with st.popover(f"{in_words('Open now')} **{length}**", icon=":material/nightlight:", width="stretch"):
        places = {
            f"{answer.picture.alignment_names[p.alignment]} {format_station(p.from_ft)}-{format_station(p.to_ft)}"
            for p in situation.stretches
            if situation.is_open(p.opening)
        }
        st.markdown(listed(sorted(map(escape, places))) if places else in_words("By the record no trench is open."))
        planned = situation.planned_open_ft(on)
        if planned is not None:
            st.caption(in_words("Planned to be open tonight: {length}.", length=format_length(planned)))


def _not_released(situation: Situation) -> None:
    soon = _held_soon(situation)
    with st.popover(f"{in_words('Not released')} **{len(soon)}**", icon=":material/front_hand:", width="stretch"):
        some = in_words("Hold points that work of today or tomorrow waits for.")
        st.write(some if soon else in_words("No work of these days waits."))
        st.markdown(listed(escape(s) for s in soon))


def _held_soon(situation: Situation) -> list[str]:
    """Return the hold points that are not released and that work of today or tomorrow waits for."""
    last: date = (situation.moment + SOON).date()
    work = [w for w in situation.work.values() if not w.over and w.planned and w.planned[0].date() <= last]
    points = {p.hold.id: p for w in work for p in w.holds}
    return [f"{p.hold.name}: {in_words(p.status.value)}" for p in points.values()]


def _rain(upsets: list[str]) -> None:
    with st.popover(in_words("If it rains"), icon=":material/rainy:", width="stretch"):
        unknown = in_words("What rain would do is not known while the plan no longer holds.")
        st.markdown(listed(upsets) if upsets else unknown)


def _next_hours(situation: Situation) -> None:
    jobs, in_the_way_now = _ahead(situation)
    if not jobs:
        return
    soon = jobs[0].start < situation.moment + timedelta(hours=HOURS)
    start = jobs[0].start
    later = time_of_day(start) if start.date() == situation.moment.date() else moment(start)
    with st.container(key="next-hours"):
        ahead = in_words("Next two hours, planned") if soon else in_words("Next, {when}, planned", when=later)
        st.markdown(f"**{ahead}**")
        st.markdown(listed(_job(situation, j) for j in jobs[:MOST_PARTIES]))
    told = [*(_job(situation, j) for j in jobs[MOST_PARTIES:]), *(escape(s) for s in in_the_way_now)]
    told += [in_words("{who} waits: {why}", who=escape(j.who), why=escape(s)) for j in jobs for s in j.waits]
    if told:
        with st.expander(in_words("More, and who is in the way")):
            st.markdown(listed(told))


@once(1)
def _ahead(situation: Situation) -> tuple[tuple[NextJob, ...], tuple[str, ...]]:
    jobs = next_hours(situation)
    return jobs, tuple(in_the_way(situation, jobs))


def _job(situation: Situation, job: NextJob) -> str:
    waits = f" :material/front_hand: **{in_words('waits')}**:" if job.waits else ""
    more = f" +{job.more}" if job.more else ""
    what = escape(work_in_short(situation.site, job.work))
    return f"{time_of_day(job.start)} **{escape(job.who)}**{waits} {what}{more}"
