"""'All as planned until now, except …': a day's record in one go, with a box for each piece of work."""

from __future__ import annotations

from datetime import datetime

import streamlit as st

from app.answer import Answer
from app.components.pickers import pick_time
from app.components.show_faults import show_not_done
from app.components.told import TOLD, TOLD_TOGETHER, WHY_LATE
from app.components.work_filter import Chosen
from app.live import Live, write_in_one_go
from app.words import count, escape, from_to, listed, moment
from scheduler import BadInput
from scheduler.ledger import NotDone
from scheduler.plan import PlanActivity
from scheduler.situation import AsPlanned, Wanted, all_as_planned

ROWS_AT_MOST = 40
"""So many pieces of work are shown and written in one go; what follows is written after them."""


def show_as_planned(answer: Answer, live: Live, chosen: Chosen) -> None:
    """Offer to write down, in one go, what the plan has by a moment and the record has not."""
    with st.expander("All as planned until now, except …", icon=":material/done_all:"):
        until = pick_time(live, "Until", "as-planned-until")
        first = _found(answer, live, Wanted(trade=chosen.trade, stretch=chosen.stretch), until)
        rows = _work(answer, first)
        if not rows:
            st.caption("The record has everything that can be taken as it was planned by then.")
        if not all(live.may("started", activity=a.id) for a in rows):
            st.caption("Choose your own trade under 'Whose work': you write down its work only.")
            return
        shown = rows[:ROWS_AT_MOST]
        ticked = {a.id: _box(live, a) for a in shown}
        not_done = {i: why.strip() for i, (yes, why) in ticked.items() if not yes and why.strip()}
        left = frozenset({i for i, (yes, why) in ticked.items() if not yes and not why.strip()})
        left |= {a.id for a in rows[ROWS_AT_MOST:]}
        wanted = Wanted(chosen.trade, chosen.stretch, not_done, left)
        found = _found(answer, live, wanted, until) if not_done or left else first
        if len(rows) > ROWS_AT_MOST:
            st.caption(f"{count(len(rows) - ROWS_AT_MOST, 'later task')} can be written after these.")
        _still_to_say(found, left)
        if found.events and st.button(
            f"Write {count(len(found.events), 'entry', 'entries')} down",
            key=f"as-planned-write-{len(live.entries)}",  # pressed twice, it must not write what comes next as well
            type="primary",
        ):
            _write(live, found)


def _found(answer: Answer, live: Live, wanted: Wanted, until: datetime) -> AsPlanned:
    return all_as_planned(
        live.case.site, live.case.fitting(answer.plan).network, live.known, answer.plan, until, wanted
    )


def _work(answer: Answer, found: AsPlanned) -> list[PlanActivity]:
    """Return the work that would be written about, in the order of the entries."""
    return [answer.picture.work[i] for i in dict.fromkeys(e.activity for e in found.events)]


def _box(live: Live, activity: PlanActivity) -> tuple[bool, str]:
    """Offer a piece of work with its planned times; where its box is cleared, why it was not done."""
    begun = live.known.actual(activity.id).start
    said = f"begun {moment(live.local(begun))}, done {moment(activity.finish)}" if begun else ""
    label = f"{escape(activity.name)}: {said or from_to(activity.start, activity.finish)}"
    yes = st.checkbox(label, value=True, key=f"as-planned-{activity.id}")
    if yes:
        return True, ""
    why = st.text_input("Not done, because", key=f"as-planned-why-{activity.id}", max_chars=500)
    st.caption("Left empty, nothing is said of it; other times are reported below.")
    return False, why


def _still_to_say(found: AsPlanned, left: frozenset[str]) -> None:
    rest = [s for s in found.still_to_say if s.ref not in left]
    if rest:
        st.markdown(f"**Still to be said ({len(rest)})**: tests, looks and releases are never assumed.")
        st.markdown(listed(f"{escape(s.name)}: {escape(s.because)}" for s in rest[:ROWS_AT_MOST]))


def _write(live: Live, found: AsPlanned) -> None:
    late = st.session_state.get(WHY_LATE) or ""
    events = [e.model_copy(update={"late_because": late}) for e in found.events]
    try:
        written = write_in_one_go(live, events)
    except BadInput as bad:
        show_not_done(bad, "Nothing was written down.")
        return
    for event in found.events:
        if isinstance(event, NotDone):
            st.session_state.pop(f"as-planned-why-{event.activity}", None)
        st.session_state.pop(f"as-planned-{event.activity}", None)
    st.session_state[TOLD] = written[-1]
    st.session_state[TOLD_TOGETHER] = written[0].number, written[-1].number
    st.rerun()
