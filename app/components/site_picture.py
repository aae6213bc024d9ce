"""The site from above on a page: what is recorded of each stretch, and the card of the one that is touched."""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Iterable, Iterator, Sequence
from dataclasses import replace
from hashlib import sha256
from pathlib import Path

import streamlit as st

from app.answer import Answer
from app.components.keep_picture import offer_to_keep
from app.figures.site_from_above import LayerDrawn, StretchDrawn, site_from_above
from app.words import count, escape, in_words, listed
from scheduler import Situation
from scheduler.site import Site
from scheduler.situation import StretchStands, WorkStands
from scheduler.units import format_station

SIZES = {"narrow": (358.0, 260.0), "middle": (680.0, 320.0), "wide": (1100.0, 400.0)}
"""Drawings for a phone, a tablet and a desk: how wide each is, and how high at most, in pixels."""
NEXT = 3
"""Pieces of work that are told as the next ones in a stretch."""
MARKS_SAID = (
    "One band for each layer of a stretch. Dots: not dug. Broken edge: being dug. Hollow: open. Thick lines: laid; "
    "ticks across them: tested; an eye: inspected. Earth in a band: that layer covered; all of it earth: filled. "
    "A hand: a hold point not released. A cross: failed. A question mark: the plan has it further by now. "
    "A lamp: stays open tonight. Bars across the trench: a way over it, thick while open trench lies in the way."
)
AXES = "North not given"
"""A site file says nothing of north, so no arrow may."""
FRAME = """<div class="frame">
<div class="view narrow"></div><div class="view middle"></div><div class="view wide"></div>
<div class="foot"><span class="bar"></span><span class="long"></span><span class="axes"></span>
<button class="nearer" aria-label="Nearer">+</button>
<button class="farther" aria-label="Farther">&minus;</button></div></div>"""
_HERE = Path(__file__)
_mount = st.components.v2.component(
    "site_picture",
    html=FRAME,
    css=_HERE.with_suffix(".css").read_text(encoding="utf-8"),
    js=_HERE.with_suffix(".js").read_text(encoding="utf-8"),
)


def show_site(
    answer: Answer,
    situation: Situation,
    *,
    key: str,
    touched: Callable[[str], None],
    picked: frozenset[str] = frozenset(),
) -> list[StretchDrawn]:
    """Show the site as recorded; return its stretches as they are drawn.

    `touched` is told which stretch is touched, before the page is drawn again. Those of the reaches
    `picked` are framed.
    """
    drawn = stretches_drawn(answer, situation, picked=picked)
    show_drawn(answer.case.site, drawn, key=key, touched=touched)
    return drawn


def show_in_words(drawn: Iterable[StretchDrawn], *, key: str) -> None:
    """Tell what a picture of a key shows, for those who do not see it, and what its marks mean; offer it as a file."""
    with st.expander(in_words("Picture in words")):
        st.markdown(listed(escape(stretch.said) for stretch in drawn))
        st.caption(MARKS_SAID)
        offer_to_keep(key, name="site from above")


def planned_stretches(answer: Answer, parts: Sequence[StretchStands]) -> list[StretchDrawn]:
    """Return what the plan has of each stretch by a moment."""
    return [_drawn(answer, stack, planned=True) for stack in stacks(parts).values()]


def picture_style() -> str:
    """Return the style sheet of the picture, for a drawing that stands alone."""
    return _HERE.with_suffix(".css").read_text(encoding="utf-8")


def show_drawn(
    site: Site, drawn: Sequence[StretchDrawn], *, key: str, touched: Callable[[str], None] | None = None
) -> None:
    """Show stretches of a site: as recorded where touching one is told, else as planned."""

    def take() -> None:
        stretch = st.session_state[key].stretch
        if stretch and touched is not None:
            touched(stretch)

    planned = touched is None
    views = {
        name: site_from_above(site, drawn, wide=wide, tallest=tall, planned=planned)
        for name, (wide, tall) in SIZES.items()
    }
    data = {"views": views, "axes": AXES, "drawn": sha256("".join(views.values()).encode()).hexdigest()}
    _mount(key=key, data=data, on_stretch_change=take)


def stretches_drawn(
    answer: Answer, situation: Situation, *, picked: frozenset[str] = frozenset()
) -> list[StretchDrawn]:
    """Return each stretch of trench as the record has it, with who is there and what holds it."""
    here: dict[str, list[WorkStands]] = {}
    for work in situation.on_site_now:
        here.setdefault(work.reach, []).append(work)
    held: dict[str, int] = Counter(r for p in situation.holds if not p.clear for r in p.hold.reaches)
    found = []
    for opening, stack in stacks(situation.stretches).items():
        first = stack[0]
        who = ", ".join(dict.fromkeys(w.doer or "Site" for w in here.get(first.reach, ()) if meets(w, first)))
        drawn = replace(
            _drawn(answer, stack, planned=False),
            is_open=situation.is_open(opening),
            digging=first.digging,
            filled=first.closed,
            here=who,
            holds=held.get(first.reach, 0),
            failed=any(p.failed for p in stack),
            unreported=any(p.behind for p in stack),
            picked=first.reach in picked,
            at_night=situation.is_open(opening) and _stays_open(situation, opening),
        )
        found.append(replace(drawn, said=" ".join([drawn.said, *_marks_said(drawn)])))
    return found


def _marks_said(drawn: StretchDrawn) -> Iterator[str]:
    """Say what the marks on a stretch mean."""
    if drawn.digging:
        yield "The dig has begun."
    if drawn.filled:
        yield "Filled."
    if drawn.here:
        yield f"{drawn.here} there now."
    if drawn.holds:
        yield f"{count(drawn.holds, 'hold point')} not released."
    if drawn.failed:
        yield "Failed, not fixed yet."
    if drawn.unreported:
        yield "The plan has it further by now; not on record."
    if drawn.at_night:
        yield "Stays open tonight."


def stacks(parts: Sequence[StretchStands]) -> dict[str, list[StretchStands]]:
    """Return the layers of each stretch, the lowest first."""
    found: dict[str, list[StretchStands]] = {}
    for part in parts:
        found.setdefault(part.opening, []).append(part)
    return found


def _drawn(answer: Answer, stack: list[StretchStands], *, planned: bool) -> StretchDrawn:
    first = stack[0]
    layers = tuple(LayerDrawn(p.planned if planned else p.recorded, p.lines) for p in stack)
    return StretchDrawn(
        first.opening, first.alignment, first.from_ft, first.to_ft, _said(answer, stack, planned=planned), layers
    )


def _said(answer: Answer, stack: list[StretchStands], *, planned: bool) -> str:
    first = stack[0]
    states = [p.planned if planned else p.recorded for p in stack]
    name = answer.picture.alignment_names[first.alignment]
    place = f"{name} {format_station(first.from_ft)} to {format_station(first.to_ft)}"
    how = "planned" if planned else "recorded"
    if len(set(states)) == 1:
        return f"{place}: {how} {states[0]}."
    layers = ", ".join(f"layer {(p.layer or 0) + 1} {state}" for p, state in zip(stack, states, strict=True))
    return f"{place}: {how} {layers}."


def meets(work: WorkStands, part: StretchStands) -> bool:
    """Tell whether work on an alignment reaches into a stretch of it."""
    return work.from_ft < part.to_ft and part.from_ft < work.to_ft


def _stays_open(situation: Situation, opening: str) -> bool:
    """Tell whether no plan has a stretch closed again by the end of the day."""
    closes = next(o.closes for o in situation.network.openings if o.id == opening)
    planned = situation.work[closes].planned
    return planned is None or planned[1].date() > situation.moment.date()
