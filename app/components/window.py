"""Which days are shown: from a date that stands in the address, for a day up to the whole job."""

from __future__ import annotations

from datetime import date, timedelta

import streamlit as st

from app.address import notice_unknown, publish, settle
from scheduler.plan import Plan, PlanActivity

SPANS = {"1 day": 1, "1 week": 7, "2 weeks": 14, "4 weeks": 28, "All": 0}
FIRST_SPAN = "2 weeks"


def choose_days(plan: Plan, *, on: date | None = None, include: PlanActivity | None = None) -> tuple[date, date]:
    """Offer the days of a plan and return the first and last to show, moved to hold `include` when it is new.

    Unless others were asked for they are those about the day `on`: from its Monday, or that day alone; else the first.
    """
    first, last = plan_days(plan)
    with st.container(horizontal=True, vertical_alignment="bottom", gap="small"):
        span = st.segmented_control(
            "Days shown", list(SPANS), default=FIRST_SPAN, key="span", required=True, persist_state="session"
        )
        length = SPANS[span or FIRST_SPAN]
        if not length:
            return first, last
        usual = first if on is None else _within(_begin_of(on, length), first, last)
        _hold(include, usual, length)
        st.button("Earlier", key="earlier", on_click=_move, args=(-length, usual, first, last))
        start = choose_day(plan, "From", on=usual)
        st.button("Later", key="later", on_click=_move, args=(length, usual, first, last))
    return start, min(start + timedelta(days=length - 1), max(last, start))


def choose_day(plan: Plan, label: str, *, on: date | None = None) -> date:
    """Offer one day of a plan, `on` or its first unless another was asked for; it stands in the address as `from`."""
    begin, last = plan_days(plan)
    first = begin if on is None else _within(on, begin, last)
    settle("from", _Days(begin, last))
    kept = _read(st.session_state.get("from")) or first
    # The control holds a date, the address and the session its text.
    st.session_state["from-date"] = _within(kept, begin, last)
    start: date = st.date_input(
        label, key="from-date", min_value=begin, max_value=last, format="YYYY-MM-DD", width=150, on_change=_take_date
    )
    publish("from", None if start == first else start.isoformat())
    notice_unknown("from", "date")
    return start


def plan_days(plan: Plan) -> tuple[date, date]:
    """Return the first and the last day of a plan."""
    first = plan.data_date.date()
    return first, max((a.finish.date() for a in plan.activities), default=first)


class _Days:
    """The days that an address may ask for."""

    def __init__(self, first: date, last: date) -> None:
        self._first, self._last = first, last

    def __contains__(self, text: object) -> bool:
        asked = _read(text)
        return asked is not None and self._first <= asked <= self._last


def _read(text: object) -> date | None:
    try:
        return date.fromisoformat(str(text))
    except ValueError:
        return None


def _take_date() -> None:
    st.session_state["from"] = st.session_state["from-date"].isoformat()


def _within(day: date, first: date, last: date) -> date:
    return min(max(day, first), last)


def _begin_of(day: date, length: int) -> date:
    """Return from when on so many days about a day are shown."""
    return day - timedelta(days=day.weekday() if length >= 7 else 0)


def _move(by: int, usual: date, first: date, last: date) -> None:
    start = (_read(st.session_state.get("from")) or usual) + timedelta(days=by)
    st.session_state["from"] = _within(start, first, last).isoformat()


def _hold(activity: PlanActivity | None, usual: date, length: int) -> None:
    """Move the days shown to an activity that was just picked, if they do not hold it."""
    state = st.session_state
    if activity is None or state.get("held") == activity.id:
        return
    state["held"] = activity.id
    start, on = _read(state.get("from")) or usual, activity.start.date()
    if not start <= on < start + timedelta(days=length):
        state["from"] = _begin_of(on, length).isoformat()
