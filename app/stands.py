"""The situation of the open site, for every page: worked out once for a record, a plan and a minute."""

from __future__ import annotations

from datetime import datetime

import streamlit as st

import scheduler
from app.answer import Answer
from app.figures.work import Picture
from app.live import Live
from app.words import escape, moment, time_of_day
from scheduler import Planned, Situation
from scheduler.plan import Plan
from scheduler.situation import WorkStands, WorkState, before_it

KEPT = 24


def situation_of(live: Live, answer: Answer) -> Situation | None:
    """Return how the site stands at the moment looked at; None while its record cannot be read: nobody knows then."""
    if live.fault is not None:
        return None
    minute = live.moment.replace(second=0, microsecond=0)
    record = live.place.record, str(live.case.path), live.standing, live.back
    return _situation(*record, minute, answer.plan, live, answer.planned)


# What begins with an underscore is no part of a cache's key. The plan is told by its identity, which nothing else can
# take while what is kept here refers to it.
@st.cache_resource(max_entries=KEPT, show_spinner=False, hash_funcs={Plan: id})
def _situation(
    where: str,  # noqa: ARG001 - part of the key
    path: str,  # noqa: ARG001 - part of the key
    standing: tuple[int, str, str],  # noqa: ARG001 - part of the key
    back: bool,  # noqa: ARG001 - part of the key
    minute: datetime,  # noqa: ARG001 - part of the key
    plan: Plan,  # noqa: ARG001 - part of the key
    _live: Live,
    _planned: Planned,
) -> Situation:
    return scheduler.today(
        _live.case, _live.written, _live.moment, _planned, state=_live.known, proposal=_live.known.plan is None
    )


def pictured(answer: Answer, situation: Situation | None) -> Picture:
    """Return what figures need of the plan, with who does what by the record."""
    return answer.picture.done_by(situation.doers) if situation is not None else answer.picture


def state_said(stands: WorkStands) -> str:
    """Return how a piece of work stands by the record, as markdown; empty where it is planned and nothing keeps it."""
    missing = before_it(stands)
    stop = f":material/front_hand: **Do not begin.** {escape(' '.join(missing))}" if missing else ""
    match stands.state:
        case WorkState.DONE:
            when = f" {moment(stands.finished)}" if stands.finished else ""
            return f":material/check: recorded done{when}"
        case WorkState.TAKEN:
            return ":material/question_mark: not on record, taken as done"
        case WorkState.FAILED:
            return f":material/close: **{escape(stands.because)}**"
        case WorkState.AGAIN:
            return f":material/replay: **To be done again.** {escape(stands.because)}"
        case WorkState.BEGUN | WorkState.BLOCKED if stands.started is not None:
            late = ", **not reported finished**" if stands.overdue else ""
            going = f":material/play_arrow: recorded started {time_of_day(stands.started)}{late}"
            return f"{going} {stop.replace('Do not begin', 'Do not go on')}".strip()
        case WorkState.UNREPORTED:
            return f":material/question_mark: **due, not on record** {stop}".strip()
    late = ":material/question_mark: **due, not on record** " if stands.overdue else ""
    return f"{late}{stop}".strip()
