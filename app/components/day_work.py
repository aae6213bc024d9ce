"""The work of one day as it is planned and as it stands by the record, and what the record should have by now."""

from __future__ import annotations

from datetime import date
from itertools import groupby

import streamlit as st

from app.answer import Answer
from app.figures.work import Picture
from app.stands import pictured, state_said
from app.words import count, day, escape, listed, times
from scheduler import Situation
from scheduler.explain import has_little_slack, slack_in_short
from scheduler.plan import PlanActivity
from scheduler.situation import WorkStands, before_anybody_enters, held_up, to_make_good
from scheduler.units import format_length

MOST_MISSING = 8
"""Work that should be on record, told one by one; the rest is counted."""


def show_day(answer: Answer, situation: Situation | None, on: date) -> None:
    """Show who is where on a day, how that stands by the record, and what stays open at night."""
    picture = pictured(answer, situation)
    work = work_on(picture, on)
    _figures(picture, situation, work, on)
    now = situation if situation is not None and on == situation.moment.date() else None
    if now is not None:
        _inspect_first(now)
        _make_good(now)
        _going_on(now, {a.id for a in work})
    if not work:
        later = [a.start.date() for a in picture.plan.activities if a.start.date() > on]
        st.info(f"Nothing is planned for this day. Next: {day(min(later))}." if later else "Nothing is left to do.")
    for place, group in groupby(sorted(work, key=lambda a: (picture.place_name(a), a.start, a.id)), picture.place_name):
        st.markdown(f"**{escape(place)}**  \n" + "  \n".join(entry(picture, situation, a, on) for a in group))
    if now is not None:
        _missing(now, {a.id for a in work})
        _held_up(now)


def _figures(picture: Picture, situation: Situation | None, work: list[PlanActivity], on: date) -> None:
    planned = format_length(picture.open_ft(on))
    with st.container(horizontal=True, gap="medium"):
        if situation is not None and on == situation.moment.date():
            st.metric("Open now, by the record", format_length(situation.open_tonight_ft), width="content")
            st.metric("Open tonight, planned", planned, width="content")
        else:
            st.metric("Open at night, planned", planned, width="content")
        st.metric("On site, planned", len({picture.trade_name(a) for a in work}), width="content")
        st.metric("Inspections, planned", sum(a.kind.is_look for a in work), width="content")


def work_on(picture: Picture, on: date) -> list[PlanActivity]:
    """Return the activities that the plan has worked on on a day, in order of time."""
    found = [a for a in picture.plan.activities if a.start.date() <= on <= a.finish.date() and _times(picture, a, on)]
    return sorted(found, key=lambda a: (a.start, a.id))


def entry(picture: Picture, situation: Situation | None, activity: PlanActivity, on: date) -> str:
    """Return a line for work on a day, as markdown: its planned hours, who does it, and how it stands by the record."""
    notes = [slack_in_short(activity)] if has_little_slack(activity) else []
    if situation is None and activity.id in picture.gated and activity.start.date() == on:
        notes.append("only after a hold point is released")
    stands = situation.work.get(activity.id) if situation is not None else None
    tail = f" *({', '.join(notes)})*" if notes and not (stands and stands.over) else ""
    who, what = escape(picture.trade_name(activity)), escape(activity.name)
    said = state_said(stands) if stands is not None else ""
    return f"**{_times(picture, activity, on)}** {who}: {what}{tail}" + (f"  \n&emsp;{said}" if said else "")


def _times(picture: Picture, activity: PlanActivity, on: date) -> str:
    """Return from when to when an activity is worked on, on one day; empty if it is not."""
    blocks = [b for b in picture.worked(activity) if b[0].date() == on]
    return times(blocks[0][0], blocks[-1][1]) if blocks else ""


def _inspect_first(situation: Situation) -> None:
    """Ask for the competent person's inspection of what stands open, where none is on record for today."""
    due = before_anybody_enters(situation)
    if due:
        first = "**Before anybody goes in, the competent person inspects the open trench** (29 CFR 1926.651(k))."
        st.warning(f"{first}\n\n{listed(map(escape, due))}", icon=":material/visibility:")


def _make_good(situation: Situation) -> None:
    """Show what failed, and what must be tested or looked at again for that."""
    told = to_make_good(situation)
    if told:
        st.subheader("To be made good before anything covers it", anchor=False)
        st.markdown(listed(f":material/replay: {escape(t)}" for t in told))


def _going_on(situation: Situation, listed_anyway: set[str]) -> None:
    """Show what was begun before and is not reported finished, though the plan has it on another day."""
    work = [w for w in situation.work.values() if w.started and not w.over and w.id not in listed_anyway]
    _lines("Going on by the record, planned for another day", work)


def _missing(situation: Situation, listed_anyway: set[str]) -> None:
    """Show what the record should have by now and has not."""
    work = [w for w in situation.overdue if w.id not in listed_anyway and w.started is None]
    _lines("Due before today, and not on record", work)


def _lines(title: str, work: list[WorkStands]) -> None:
    if not work:
        return
    st.subheader(f"{title} ({len(work)})", anchor=False)
    lines = [f"{escape(w.doer or 'Site')}: {escape(w.name)}  \n{state_said(w)}" for w in work[:MOST_MISSING]]
    more = len(work) - MOST_MISSING
    st.markdown(listed([*lines, *([f"And {count(more, 'more piece')}: see the page Record."] if more > 0 else [])]))


def _held_up(situation: Situation) -> None:
    """Show each thing that keeps work from going on, and what waits for it first."""
    causes = held_up(situation)
    if causes:
        st.subheader("What holds work up", anchor=False)
        st.markdown(listed(f":material/front_hand: {escape(cause)}" for cause in causes))
