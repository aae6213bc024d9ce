"""Writing something down from a page, and saying what came of it."""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

import streamlit as st
from streamlit.delta_generator import DeltaGenerator

from app.components.show_faults import show_not_done
from app.live import Live, contradicts, repeats, write
from app.words import escape, listed
from scheduler import BadInput
from scheduler.ledger import BY_NAME, Corrected, Entry, Head, Refused, Wording, head_of, may_correct, read_event
from scheduler.spoken import to_the_second

WHY_LATE = "why late"
"""Where the session keeps why something old is written down only now."""
TOLD = "told"
"""Where the session keeps the last entry written from it."""
TOLD_TOGETHER = "told together"
"""Where it keeps the first and last number of entries that were written in one go."""
TOLD_BEFORE = "told before"
"""Where it keeps the number of the entry that said already what was to be written down."""
ASKED = "contradicts the record"
"""Where it keeps what was to be written down and contradicts the record, while it is asked about."""
UNKNOWN = "not known whether written"
"""Where it keeps which entry is looked for, when nobody could say whether it was written."""
UNKNOWN_ENTRY = re.compile(r"Entry (\d+) \((\S+)\)")


def tell(live: Live, name: str, body: Mapping[str, Any]) -> None:
    """Write an event down and show the page anew; say what is wrong with it when it cannot be written."""
    waiting = st.empty()
    found: tuple[str, ...] = ()
    try:
        late = (
            {"late_because": st.session_state.get(WHY_LATE) or ""}
            if "late_because" in BY_NAME[name].model_fields
            else {}
        )
        happened = read_event(name, {**late, **body})
        found = () if repeats(live, happened) else contradicts(live, happened)
        entry, before = (None, False) if found else write(live, happened, tell=lambda w: _still_unknown(waiting, w))
    except BadInput as bad:
        waiting.empty()
        _note_unknown(bad)
        show_not_done(bad, "Nothing was written down.")
        return
    st.session_state[ASKED] = DoubtfulEntry(name, {**late, **body}, found) if found else None
    if entry is not None:
        st.session_state[TOLD] = entry
        st.session_state[TOLD_BEFORE] = entry.number if before else 0
    st.rerun()


@dataclass(frozen=True, slots=True)
class DoubtfulEntry:
    """Something that was to be written down, and what it contradicts on record."""

    name: str
    body: Mapping[str, Any]
    found: tuple[str, ...]


def _ask_once(live: Live) -> None:
    """Show what an entry would contradict, and ask once whether it is kept all the same."""
    asked: DoubtfulEntry | None = st.session_state.get(ASKED)
    if asked is not None and live.person is not None and not live.looking_back:
        _asking(live, asked)


def _leave() -> None:
    st.session_state.pop(ASKED, None)


@st.dialog("This contradicts the record", on_dismiss=_leave)
def _asking(live: Live, asked: DoubtfulEntry) -> None:
    said = Wording(live.case.site, live.case.network).sentence(read_event(asked.name, asked.body))
    st.markdown(f"**{escape(said)}**")
    st.markdown(listed(map(escape, asked.found)))
    st.caption("Nothing is written down yet. If it is so all the same, the entry is marked wherever it is shown.")
    why = st.text_input("Keep it all the same, because …", key="despite", max_chars=500)
    with st.container(horizontal=True, key="thumb-despite"):
        keep = st.button("Write it down all the same", key="despite-keep", type="primary")
        if st.button("Leave it", key="despite-leave"):
            _leave()
            st.rerun()
    if keep and not why.strip():
        st.error("Say why it is so all the same.")
    elif keep:
        tell(live, asked.name, {**asked.body, "despite": why})


def ask_why_late() -> None:
    """Ask why something is written down only now; needed for what is more than a week old."""
    with st.expander("Did it happen more than a week ago?"):
        st.text_input("Why is it written down only now?", key=WHY_LATE, max_chars=500)


def _still_unknown(place: DeltaGenerator, words: str) -> None:
    place.warning(escape(words), icon=":material/hourglass_top:")


def _note_unknown(bad: BadInput) -> None:
    """Remember which entry nobody could say of whether it was written, so that it is looked for."""
    for finding in bad.findings:
        named = UNKNOWN_ENTRY.fullmatch(finding.where) if finding.rule == "journal/unknown" else None
        if named is not None:
            st.session_state[UNKNOWN] = Head(int(named[1]), named[2])


def _show_unknown(live: Live) -> None:
    """Say what became of an entry of which it was not known whether it was written, once the record tells."""
    sought: Head | None = st.session_state.get(UNKNOWN)
    if sought is None or live.fault is not None:
        return
    there = head_of(live.entries[: sought.number])
    if there == sought:
        st.success(f"**It was written down after all** (entry {sought.number}). Do not write it again.")
    elif there is not None and there.number == sought.number:
        st.error(f"**It was not written down**: entry {sought.number} is another. Write it again if it is still true.")
    else:
        st.warning(
            f"**Not known yet whether entry {sought} was written.** It is not on record at "
            f"{to_the_second(live.looked_up)}; looking again every few seconds. Write it again only if it stays away."
        )
        return
    if st.button("I have read this", key="unknown-read"):
        st.session_state.pop(UNKNOWN, None)
        st.rerun()


def may_take_back(live: Live, entry: Entry) -> bool:
    """Tell whether the person may take an entry back: their own, or as the contractor what no authority said."""
    if live.person is None or isinstance(entry.event, Corrected | Refused):
        return False
    rows = {e.number: e for e in live.entries}
    contractor = live.person.role == "general_contractor"
    return may_correct(entry, rows, live.person.name, contractor=contractor)


def show_told(live: Live) -> None:
    """Show what was last written down from this page, and offer to take it back at once."""
    _show_unknown(live)
    _ask_once(live)
    entry: Entry | None = st.session_state.get(TOLD)
    before = entry is not None and st.session_state.get(TOLD_BEFORE) == entry.number
    if entry is None or entry not in (live.entries if before else live.entries[-1:]):
        return
    said = escape(Wording(live.case.site, live.case.network).sentence(entry.event))
    if isinstance(entry.event, Refused):
        st.error(f"**Refused, and the refusal is on record** (entry {entry.number}). {escape(entry.event.reason)}")
        return
    with st.container(border=True, horizontal=True, vertical_alignment="center", key="told"):
        first, last = st.session_state.get(TOLD_TOGETHER, (0, 0))
        if first < last == entry.number:
            st.markdown(f":material/check: **Written down in one go**: entries {first} to {entry.number}. Last: {said}")
        elif before:
            st.markdown(f":material/check: **Written down already**, nothing twice (entry {entry.number}). {said}")
        else:
            st.markdown(f":material/check: **Written down** (entry {entry.number}). {said}")
        if may_take_back(live, entry) and st.button("Take it back", key="undo"):
            tell(live, "corrected", {"supersedes": entry.number, "reason": "A slip of the finger."})
