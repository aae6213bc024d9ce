"""How far the trench is, layer by layer: as recorded, and apart from that as planned for a day."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date, datetime

import streamlit as st

from app.answer import Answer
from app.components.film import END_OF_DAY, show_film
from app.components.site_picture import MARKS_SAID
from app.components.stretch_card import show_site_and_card
from app.live import Live
from app.words import escape, listed
from scheduler import Situation
from scheduler.situation import LayerState, StretchStands, layer_states
from scheduler.units import format_station


def show_progress(answer: Answer, live: Live, situation: Situation | None, *, reach: str) -> None:
    """Show every stretch as recorded now, then as planned for the end of a day; the slider starts today."""
    if situation is None or answer.plan.finish is None:
        return
    show_site_and_card(
        answer, live, situation, key="trench", picked=frozenset({reach}), touched=_take_reach, told=False
    )
    with st.expander("How far the trench is, by the record"):
        words = _words(answer, situation.stretches, planned=False)
        st.markdown(listed([*map(escape, words), *_behind(answer, situation), *_failed(answer, situation)]))
        st.caption(MARKS_SAID)
    fold = st.expander("What is planned for the end of a day", key="trench-film", on_change="rerun")
    if fold.open:
        with fold:
            _planned(answer, situation, on=live.moment.date())


def _take_reach(reach: str) -> None:
    st.session_state["reach"] = reach


def _planned(answer: Answer, situation: Situation, *, on: date) -> None:
    def told(day: date) -> list[str]:
        at = datetime.combine(day, END_OF_DAY, situation.moment.tzinfo)
        return _words(answer, layer_states(situation.network, situation.work, at), planned=True)

    show_film(answer, situation, on=on, told=told)


def _words(answer: Answer, found: Sequence[StretchStands], *, planned: bool) -> list[str]:
    """Return one sentence for each state that any layer of any stretch is in."""
    said = []
    for state in LayerState:
        parts = [p for p in found if (p.planned if planned else p.recorded) is state]
        if not parts:
            continue
        places: dict[str, list[str]] = {}
        for p in parts:
            places.setdefault(answer.picture.alignment_names[p.alignment], []).append(_place(p))
        where = "; ".join(f"{name} {', '.join(spans)}" for name, spans in places.items())
        said.append(f"{'Planned: ' if planned else ''}{str(state).capitalize()}: {where}.")
    return said


def _place(part: StretchStands) -> str:
    layer = f" layer {part.layer + 1}" if part.layer is not None else ""
    return f"{format_station(part.from_ft)}-{format_station(part.to_ft)}{layer}"


def _behind(answer: Answer, situation: Situation) -> list[str]:
    """Say where the plan has the trench further by now than the record."""
    return [
        f":material/question_mark: {escape(answer.picture.alignment_names[p.alignment])} {_place(p)}: "
        f"the plan has it **{p.planned}** by now; on record it is **{p.recorded}**."
        for p in situation.stretches
        if p.behind
    ]


def _failed(answer: Answer, situation: Situation) -> list[str]:
    return [
        f":material/close: {escape(answer.picture.alignment_names[p.alignment])} {_place(p)}: "
        f"**{escape(situation.work[look].because)}**"
        for p in situation.stretches
        for look in p.failed
    ]
