"""What a tag's code opens: one answer for its hold point, layer by layer, who must do what next, and the release."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from datetime import datetime

import streamlit as st

from app.answer import Answer
from app.components.ask_cover import answer_said, known_by
from app.components.fresh import LOOK_EVERY_S, stay_fresh
from app.components.head import show_flags
from app.components.hold import show_evidence, show_release
from app.components.told import show_told
from app.components.who import show_who
from app.figures.work import reach_name
from app.live import Live, live_of
from app.words import escape, listed
from scheduler import Case, Schedule
from scheduler.ledger import CoverAnswer, CoverGround, HoldPoint, may_cover, may_release
from scheduler.plan import Kind

STAKE = "stake"
"""The name in the address for the hold point of a tag."""
STOP = ":material/front_hand:"
NEXT = 2
"""Told of what must be done first; the page Visits and holds has it all."""
ONLY_THIS = "<style>.st-key-links { display: none }</style>"
"""The answer alone, without the links to other pages."""


@dataclass(frozen=True, slots=True)
class _Layer:
    """One row of the answer: what it would be to cover so much of a stretch."""

    place: str
    what: str
    ground: CoverGround


def show_stake(case: Case, answer: Answer | None, hold: str) -> None:
    """Answer for the hold point of a tag; where there is none of that name, say that nothing may be covered by it."""
    st.html(ONLY_THIS)
    live = live_of(case)
    if answer is not None:  # else the page has said it already
        show_flags(live)
    point = next((p for p in live.holds if p.hold.id == hold), None)
    if point is None and live.fault is None:
        st.error(
            "# No answer\nThis tag's hold point is not on this site any more. Do not cover anything by it; "
            "ask the contractor for a new tag.",
            icon=STOP,
        )
    else:
        _answer(case, answer.planned.schedule if answer else None, hold)
    if point is not None:
        _release(live, point)
    st.button("All hold points and visits", key="leave-stake", on_click=_leave, width="stretch")


def _leave() -> None:
    st.query_params.pop(STAKE, None)


@st.fragment(run_every=LOOK_EVERY_S)
def _answer(case: Case, schedule: Schedule | None, hold: str) -> None:
    """Answer by the record as it stands now, again every few seconds."""
    live = live_of(case)
    point = next((p for p in live.holds if p.hold.id == hold), None)
    stay_fresh("stake-answer")
    with st.container(key="stake-answer"):
        if live.fault is not None or point is None:
            st.error("# No\nThe record cannot be read. Do not cover anything.", icon=STOP)
            return
        rows = [(row, _verdict(live, row.ground, schedule)) for row in _layers(case, point)]
        _say(live, point, rows)


def _verdict(live: Live, ground: CoverGround, schedule: Schedule | None) -> CoverAnswer:
    site, network = live.case.site, live.case.network
    return may_cover(site, network, live.known, ground, live.moment, schedule=schedule)


def _say(live: Live, point: HoldPoint, rows: Sequence[tuple[_Layer, CoverAnswer]]) -> None:
    name = escape(point.hold.name)
    if not rows:
        said = f"# {point.status.value.capitalize()}\n{name}"
        (st.success if point.clear else st.error)(said, icon=":material/lock_open:" if point.clear else STOP)
        return
    good = all(verdict.yes for _, verdict in rows)
    if good:
        st.success(f"# Yes\n{name}: all of it may be covered.", icon=":material/lock_open:")
    elif any(verdict.yes for _, verdict in rows):
        st.warning(f"# In part\n{name}: only what says yes below.", icon=":material/help:")
    else:
        st.error(f"# No\nDo not cover: {name}.", icon=STOP)
    st.markdown(listed(f"{_sign(verdict)} {escape(row.place)}: {row.what}" for row, verdict in rows))
    for text in dict.fromkeys(text for _, verdict in rows if verdict.yes for text in verdict.left_open):
        st.warning(text, icon=":material/content_cut:")
    late = datetime.max.replace(tzinfo=live.moment.tzinfo)
    first = sorted((r for _, verdict in rows for r in verdict.reasons), key=lambda r: r.earliest or late)
    told = list(dict.fromkeys(answer_said(live, r) for r in first))
    if told:
        st.markdown("**Next**")
        st.markdown(listed(told[:NEXT]))
    st.caption(known_by(live, rows[0][1]))


def _sign(verdict: CoverAnswer) -> str:
    return ":material/check: **Yes**," if verdict.yes else ":material/close: **No**,"


def _layers(case: Case, point: HoldPoint) -> Iterator[_Layer]:
    """Yield, by stretch that the hold point is about, its layers from the lowest on, then the fill."""
    names = {a.id: a.name for a in case.site.alignments}
    for reach in point.hold.reaches:
        hides = [a for a in case.network.activities if a.reach == reach and a.kind.hides]
        if not hides:
            continue
        alignment, low, high = hides[0].alignment, min(a.from_ft for a in hides), max(a.to_ft for a in hides)
        place = reach_name(names[alignment], low, high)
        for layer in sorted({a.layer for a in hides if a.kind is Kind.SHADE and a.layer is not None}):
            ground = CoverGround(alignment, low, high, only_shading=True, layer=layer)
            yield _Layer(place, f"select fill over layer {layer + 1}", ground)
        yield _Layer(place, "fill above the lines", CoverGround(alignment, low, high))


def _release(live: Live, point: HoldPoint) -> None:
    """Show the evidence of a release, or offer the release to the person who may give it."""
    show_evidence(live, point)
    if point.clear:
        return
    able = show_who(live)
    show_told(live)
    site, network, person = live.case.site, live.case.network, live.person
    if able and person is not None and may_release(site, network, point.hold, person, live.moment).yes:
        show_release(live, point, person)
        return
    who = ", or ".join(f"{p.name} ({p.of})" for p in point.releasers) or "nobody who is named in the site file"
    st.caption(f"To be released by {escape(who)}.")
