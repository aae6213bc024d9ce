"""The site from above with the card of the stretch that is touched, on every page alike."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from typing import Any

import streamlit as st

from app.answer import Answer
from app.components.chart import show_picture
from app.components.kept_paper import show_kept
from app.components.site_picture import meets, show_in_words, show_site, stacks
from app.figures.section_figure import section_figure, section_key
from app.figures.site_from_above import StretchDrawn
from app.live import Live
from app.stands import state_said
from app.words import count, escape, listed, moment, plain
from scheduler import Situation
from scheduler.ledger import Entry, Event, Wording, superseded
from scheduler.situation import StretchStands, WorkStands
from scheduler.units import format_station

TOUCHED = "stretch-card"
"""Where the session keeps the stretch whose card is open, on every page."""
NEXT = 3
"""Pieces of work that are told as the next ones in a stretch."""


def show_site_and_card(
    answer: Answer,
    live: Live,
    situation: Situation,
    *,
    key: str,
    picked: frozenset[str] = frozenset(),
    touched: Callable[[str], None] | None = None,
    told: bool = True,
    card: bool = True,
) -> list[StretchDrawn]:
    """Show the site as recorded, and the card of the stretch that was touched last; return the stretches as drawn.

    Those of the reaches `picked` are framed. `touched` is told the reach of a stretch that is touched, before the page
    is drawn again. Without `card` only that is done. `told` has the same in words below.
    """

    def take(opening: str) -> None:
        st.session_state[TOUCHED] = opening
        if touched is not None:
            touched(next(p.reach for p in situation.stretches if p.opening == opening))

    drawn = show_site(answer, situation, key=f"site-{key}", touched=take, picked=picked)
    opening = st.session_state.get(TOUCHED)
    if card and opening is not None:
        with st.container(border=True, key="stretch-card-box"):
            _show_card(answer, live, situation, opening)
    if told:
        show_in_words(drawn, key=f"site-{key}")
    return drawn


def _close() -> None:
    st.session_state.pop(TOUCHED, None)


def _show_card(answer: Answer, live: Live, situation: Situation, opening: str) -> None:
    """Show what there is to know of a stretch: its layers, what holds it, what comes next, its story and photos."""
    stack = stacks(situation.stretches).get(opening)
    if stack is None:
        return
    first = stack[0]
    place = f"{answer.picture.alignment_names[first.alignment]} {format_station(first.from_ft)}"
    with st.container(horizontal=True, horizontal_alignment="distribute", vertical_alignment="center"):
        st.markdown(f"**{escape(place)} to {format_station(first.to_ft)}**", width="content")
        st.button("Close", key="close-card", on_click=_close)
    st.markdown(listed(_layer_line(answer, part) for part in reversed(stack)))
    for look in dict.fromkeys(look for part in stack for look in part.failed):
        st.markdown(f":material/close: **{escape(situation.work[look].because)}**")
    work = [w for w in situation.work.values() if w.reach == first.reach and meets(w, first) and not w.over]
    work.sort(key=lambda w: (w.planned or (situation.moment,))[0])
    if work:
        st.markdown("**Next here**")
        st.markdown(listed(_next_line(w) for w in work[:NEXT]))
    holds = [p for p in situation.holds if first.reach in p.hold.reaches and not p.clear]
    if holds:
        who = dict.fromkeys(p.releasers[0].name if p.releasers else "nobody named" for p in holds)
        st.markdown(
            f":material/front_hand: {count(len(holds), 'hold point')} to be released by {escape(', '.join(who))}."
        )
    _section(answer, first.reach)
    _story(live, first)
    _ways_on(first.reach)


def _ways_on(reach: str) -> None:
    pages = st.session_state["pages"]
    with st.container(horizontal=True):
        st.page_link(
            pages["trench"], label="Section and layout", icon=":material/layers:", query_params={"reach": reach}
        )
        st.page_link(
            pages["inspections"], label="May I cover here?", icon=":material/help:",
            query_params={"part": "cover", "cover-at": reach},
        )  # fmt: skip


def _layer_line(answer: Answer, part: StretchStands) -> str:
    names = {line.id: line.name for line in answer.case.site.lines}
    lines = escape(", ".join(names[i] for i in part.lines if i in names)) or "no line"
    ahead = f", the plan has it **{part.planned}**" if part.behind else ""
    layer = "" if part.layer is None else f"Layer {part.layer + 1}: "
    return f"{layer}{lines}: recorded **{part.recorded}**{ahead}"


def _next_line(work: WorkStands) -> str:
    when = f", planned {moment(work.planned[0])}" if work.planned else ""
    said = state_said(work)
    return f"{escape(work.name)}, {escape(work.doer or 'Site')}{when}" + (f"  \n{said}" if said else "")


def _section(answer: Answer, reach: str) -> None:
    """Offer the section, drawn once it is opened."""
    fold = st.expander("Section, as designed", key="card-section", on_change="rerun")
    if fold.open:
        site, section = answer.case.site, answer.sections[reach]
        alt = f"Section, looking along rising stations: {'; '.join(plain(row) for row in section_key(site, section))}"
        with fold:
            show_picture(section_figure(site, section, with_key=False), key=f"card-section-{reach}", alt=alt)


def _story(live: Live, part: StretchStands) -> None:
    """Offer what is on record of a stretch, the newest first, with its photos and papers."""
    gone = superseded(live.written)
    about = [e for e in live.written if e.number not in gone and is_about(live, e.event, part)]
    if not about:
        return
    wording = Wording(live.case.site, live.case.network)
    fold = st.expander(f"On record here ({len(about)})", key="card-story", on_change="rerun")
    if fold.open:
        with fold:
            st.markdown(listed(_entry_line(wording, e) for e in reversed(about)))
    kept = [(e.number, digest) for e in about if (digest := getattr(e.event, "attachment", None))]
    if kept:
        photos = st.expander(f"Photos and papers ({len(kept)})", key="card-photos", on_change="rerun")
        if photos.open:
            with photos:
                for number, digest in reversed(kept):
                    show_kept(live, digest, f"entry {number}", f"card-{number}")


def _entry_line(wording: Wording, entry: Entry) -> str:
    return f"{escape(wording.sentence(entry.event))} ({escape(entry.by)})"


def is_about(live: Live, event: Event, part: StretchStands) -> bool:
    """Tell whether something on record is about a stretch: its place, its work, or a hold point of its reach."""
    alignment: Any = getattr(event, "alignment", None)
    if alignment is not None:
        low = float(getattr(event, "from_ft", getattr(event, "station_ft", 0.0)))
        high: float = getattr(event, "to_ft", None) or low
        return bool(
            alignment == part.alignment and low <= part.to_ft and (low if high is None else high) >= part.from_ft
        )
    network = live.case.network
    if any(h.id == getattr(event, "hold", "") and part.reach in h.reaches for h in network.holds):
        return True
    work = [network.by_id[i] for i in _named(event) if i in network.by_id]
    return any(a.alignment == part.alignment and a.from_ft < part.to_ft and part.from_ft < a.to_ft for a in work)


def _named(event: Event) -> Iterator[str]:
    """Yield the ids of work that something on record names."""
    yield getattr(event, "activity", "")
    yield from getattr(event, "looks", ())
    yield from getattr(event, "about", ()) if isinstance(getattr(event, "about", None), tuple) else ()
