"""May I cover here? Asked for any stretch and moment, answered from the record."""

from __future__ import annotations

from dataclasses import replace
from datetime import datetime

import streamlit as st

from app.address import choose
from app.components.fresh import LOOK_EVERY_S, stay_fresh
from app.components.pickers import pick_time, read_stretch
from app.components.show_faults import show_refusal
from app.figures.palette import MARKS
from app.figures.work import reach_name
from app.live import Live, Worked, live_of
from app.once import once
from app.short_names import place_in_short
from app.words import count, escape, in_words, listed, moment
from scheduler import BadInput, Case, Schedule
from scheduler.ledger import CoverAnswer, CoverGround, CoverReason, CoverVerdict, may_cover, no_answer, trade_names
from scheduler.plan import Kind
from scheduler.spoken import to_the_second
from scheduler.units import format_station

REASONS = {
    "Stop-work orders": ("stop",),
    "Hold points not released": ("hold", "witness"),
    "Work not reported as finished": ("work",),
    "The record itself": ("clock", "journal"),
}
"""Kinds of reasons by what they are called."""
FILL = "fill above the lines"
COVER_AT = "cover-at"
"""Where the session keeps the reach that is asked about; its name in the address as well."""


def ask_cover(live: Live, schedule: Schedule | None = None) -> None:
    """Ask which stretch is to be covered, how far up and when; say yes, or no with every reason.

    `schedule` holds the dates of the plan, where there is one; the record alone decides.
    """
    site = live.case.site
    alignments = {a.id: a.name for a in site.alignments}
    names = {r.id: reach_name(alignments[r.alignment], r.from_, r.to) for r in site.reaches}
    picked = choose("Reach", names, key=COVER_AT, what="reach", width=420)
    reach = next(r for r in site.reaches if r.id == picked)
    # From the ground down, as the section of the stretch has its layers.
    offered = dict(reversed(cover_grounds(live.case, reach.id))) or {FILL: CoverGround(reach.alignment, 0.0, 0.0)}
    far = st.radio("How far up", list(offered), format_func=_capital, key=f"cover-far-{reach.id}")
    if offered[far].layer is not None:
        st.caption("With the layers below it.")
    begin, end = format_station(reach.from_), format_station(reach.to)
    with (
        st.expander("A part of the stretch, or another time"),
        st.container(horizontal=True, vertical_alignment="bottom"),
    ):
        start_text = st.text_input("From station", begin, key=f"cover-from-{reach.id}", width=120)
        end_text = st.text_input("To station", end, key=f"cover-to-{reach.id}", width=120)
        when = _when(live)
    try:
        place = read_stretch(reach.alignment, start_text, end_text)
    except BadInput as bad:
        _no_question(bad)
        return
    ground = replace(offered[far], from_ft=place["from_ft"], to_ft=place["to_ft"])
    stretch = (
        f"{escape(alignments[reach.alignment])} {format_station(ground.from_ft)} to {format_station(ground.to_ft)}"
    )
    what = stretch if not ground.only_shading else f"{stretch} with {escape(far)}"
    _keep_answered(schedule, live.case, ground, when, what)


def _capital(text: str) -> str:
    return text[:1].upper() + text[1:]


@st.fragment(run_every=LOOK_EVERY_S)
def _keep_answered(
    schedule: Schedule | None, case: Case, ground: CoverGround, chosen: datetime | None, stretch: str
) -> None:
    """Answer by the record as it stands now, again every few seconds."""
    live = live_of(case)
    when = chosen or live.moment
    try:
        verdict = _verdict(schedule, live, ground, when)
    except BadInput as bad:
        _no_question(bad)
        return
    stay_fresh("cover-answer")
    with st.container(key="cover-answer"):
        _say(live, verdict, stretch)


def _verdict(schedule: Schedule | None, live: Live, ground: CoverGround, when: datetime) -> CoverAnswer:
    if live.fault is not None:
        return no_answer(live.fault, when)
    if when == live.moment:
        return judged(live.worked, schedule, ground)
    site, network = live.case.site, live.case.network
    return may_cover(site, network, live.known, ground, when, schedule=schedule, asked=min(live.moment, when))


@once(2)
def judged(worked: Worked, schedule: Schedule | None, ground: CoverGround) -> CoverAnswer:
    """Answer for ground once for everybody who asks the same within some seconds; the answer says its moment."""
    site, network = worked.case.site, worked.case.network
    return may_cover(site, network, worked.known, ground, worked.moment, schedule=schedule)


def _no_question(bad: BadInput) -> None:
    st.warning("This cannot be answered as it was asked.")
    show_refusal(bad)


def _when(live: Live) -> datetime | None:
    """Offer the moment to ask about; None: now, whenever that is."""
    how = st.segmented_control("When", ["Now", "Another time"], default="Now", key="cover-when", required=True)
    return pick_time(live, "At", "cover-at") if how == "Another time" else None


def _say(live: Live, verdict: CoverAnswer, stretch: str) -> None:
    at = moment(live.local(verdict.moment))
    if verdict.yes:
        st.success(
            f"**Yes.** Nothing on record stands against covering {stretch} on {at}.", icon=":material/lock_open:"
        )
        for text in verdict.left_open:
            st.warning(text, icon=":material/content_cut:")
        st.caption(known_by(live, verdict))
        return
    reasons = count(len(verdict.reasons), "reason")
    if verdict.verdict is CoverVerdict.ASK_AGAIN:
        st.warning(f"**Ask again** before you cover {stretch} on {at}: {reasons}.", icon=":material/help:")
    else:
        st.error(f"**No.** Do not cover {stretch} on {at}: {reasons}.", icon=":material/front_hand:")
    st.caption(known_by(live, verdict))
    if verdict.may_be_by_then:
        st.write("All of these can be cleared by then. Ask again when they are.")
    for title, kinds in REASONS.items():
        found = [r for r in verdict.reasons if r.kind in kinds]
        if found:
            with st.container(border=True, gap="xsmall"):
                st.markdown(f"**{title} ({len(found)})**")
                st.markdown(listed(answer_said(live, r) for r in found))


def known_by(live: Live, verdict: CoverAnswer, *, brief: bool = False) -> str:
    """Say by which record, at which moment, an answer is true."""
    by = (
        in_words("by the record up to entry {entry}, head {head}", entry=verdict.entry, head=verdict.head)
        if verdict.entry
        else in_words("nothing is on record")
    )
    if live.fault is not None:
        by = in_words("the record cannot be read")
    said = in_words("Looked up at") if live.case.site.site.invented else in_words("True at")
    judged_now = not live.case.site.site.invented and live.fault is None
    at = min(live.looked_up, live.local(verdict.moment)) if judged_now else live.looked_up
    if brief and live.fault is None:
        return f"{said} {to_the_second(at)}, {in_words('record')} {verdict.head or in_words('empty')}."
    again = in_words("It is looked up again every {seconds} seconds.", seconds=f"{LOOK_EVERY_S:.0f}")
    return f"{said} {to_the_second(at)}, {by}. {again}"


def answer_said(live: Live, reason: CoverReason, *, short: bool = False) -> str:
    """Say a reason against covering, with who clears it and when at the earliest, as markdown."""
    trades = trade_names(live.case.site, live.known)
    who = escape(trades.get(reason.who, reason.who))
    text = escape(place_in_short(live.case.site, reason.text) if short else reason.text)
    if reason.ask:
        return f"{text}  \n{in_words('Ask {who}.', who=who)}"
    when = in_words("when is not known")
    if reason.earliest:
        when = in_words("at the earliest **{when}**", when=moment(live.local(reason.earliest)))
    return f"{text}  \n{in_words('Cleared by {who}, {when}.', who=who, when=when)}"


def cover_grounds(case: Case, reach: str) -> list[tuple[str, CoverGround]]:
    """Return what can be covered in a reach, in words: the select fill over each layer from the lowest, then the fill.

    Empty where nothing covers anything.
    """
    hides = [a for a in case.network.activities if a.reach == reach and a.kind.hides]
    if not hides:
        return []
    alignment, low, high = hides[0].alignment, min(a.from_ft for a in hides), max(a.to_ft for a in hides)
    kinds = {line.id: line.kind for line in case.site.lines}
    found = []
    for layer in sorted({a.layer for a in hides if a.kind is Kind.SHADE and a.layer is not None}):
        lines = {i for a in case.network.activities if a.reach == reach and a.layer == layer for i in a.lines}
        letters = sorted({MARKS[kinds[i]].label for i in lines if i in kinds})
        said = in_words("select fill over layer {number}", number=layer + 1) + (
            f": {', '.join(letters)}" if letters else ""
        )
        found.append((said, CoverGround(alignment, low, high, only_shading=True, layer=layer)))
    return [*found, (in_words(FILL), CoverGround(alignment, low, high))]
