"""What a tag's code opens: one answer for its hold point, layer by layer, who must do what next, and the release."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from datetime import datetime

import streamlit as st

from app.answer import Answer
from app.components.ask_cover import COVER_AT, answer_said, cover_grounds, judged, known_by
from app.components.fresh import LOOK_EVERY_S, stay_fresh
from app.components.head import show_flags
from app.components.hold import show_evidence, show_release
from app.components.pick_language import language, show_languages
from app.components.told import show_told
from app.components.who import show_who
from app.figures.work import reach_name
from app.live import Live, Worked, live_of
from app.once import once
from app.short_names import place_in_short
from app.words import escape, in_words, listed, spoken_in
from scheduler import Case, Schedule
from scheduler.ledger import CoverAnswer, CoverGround, HoldPoint, may_release

STAKE = "stake"
"""The name in the address for the hold point of a tag."""
HOLDS_AT = "holds-at"
"""Where the session keeps the reach whose hold points are shown; its name in the address as well."""
STOP = ":material/front_hand:"
ONLY_THIS = """<style>.st-key-links { display: none }
@media (max-width: 768px) {
  .stAppHeader { display: none }
  .stMain .stMainBlockContainer { padding-top: .5rem !important }
  .stForm { padding: .6rem }
  .st-key-stake-answer p { line-height: 1.3 !important }
  [data-testid=stFileUploaderDropzoneInstructions] { display: none }
}
</style>"""
"""The answer alone, without the ways to other pages and sites."""


@dataclass(frozen=True, slots=True)
class _Layer:
    """One row of the answer: what it would be to cover so much of a stretch."""

    place: str
    what: str
    ground: CoverGround


def show_stake(case: Case, answer: Answer | None, hold: str) -> None:
    """Answer for the hold point of a tag; where there is none of that name, say that nothing may be covered by it."""
    st.html(ONLY_THIS)
    with spoken_in(language()):
        _show(case, answer, hold)
    show_languages()


def _show(case: Case, answer: Answer | None, hold: str) -> None:
    live = live_of(case)
    point = next((p for p in live.holds if p.hold.id == hold), None)
    schedule = answer.planned.schedule if answer else None
    if live.fault is not None and answer is not None:  # without an answer the page has said it already
        show_flags(live)
    if point is None and live.fault is None:
        st.error(
            in_words(
                "# No answer\nThis tag's hold point is not on this site any more. Do not cover anything by it; "
                "ask the contractor for a new tag."
            ),
            icon=STOP,
        )
    else:
        _answer(case, schedule, hold)
    if point is not None:
        _release(live, point)
        _show_rest(live, point, schedule)
    if live.fault is None and answer is not None:
        show_flags(live, folded=True)
    at = next((p.hold.reaches[0] for p in [point] if p is not None and p.hold.reaches), "")
    st.button(in_words("May I cover here?"), key="ask-cover", on_click=_leave, args=("cover", at), width="stretch")
    st.button(
        in_words("All hold points and visits"), key="leave-stake", on_click=_leave, args=("holds", at), width="stretch"
    )


def _leave(part: str, reach: str) -> None:
    """Go on to the rest of the page, at the stretch of the tag."""
    st.query_params.pop(STAKE, None)
    st.session_state["part"] = part
    if reach:
        st.session_state[COVER_AT] = st.session_state[HOLDS_AT] = reach


@st.fragment(run_every=LOOK_EVERY_S)
def _answer(case: Case, schedule: Schedule | None, hold: str) -> None:
    """Answer by the record as it stands now, again every few seconds."""
    live = live_of(case)
    point = next((p for p in live.holds if p.hold.id == hold), None)
    stay_fresh("stake-answer")
    with st.container(key="stake-answer", gap="xsmall"), spoken_in(language()):
        if live.fault is not None or point is None:
            st.error(in_words("# No\nThe record cannot be read. Do not cover anything."), icon=STOP)
            return
        _say(live, point, _judged(live.worked, point, schedule))


@once(3)
def _judged(worked: Worked, point: HoldPoint, schedule: Schedule | None) -> list[tuple[_Layer, CoverAnswer]]:
    """Answer for each layer; kept as a whole as well, for a page asks for its tag every few seconds."""
    return [(row, judged(worked, schedule, row.ground)) for row in _layers(worked.case, point)]


def _say(live: Live, point: HoldPoint, rows: Sequence[tuple[_Layer, CoverAnswer]]) -> None:
    name = escape(place_in_short(live.case.site, point.hold.name))
    if not rows:
        said = f"# {in_words(point.status.value).capitalize()}\n{name}"
        (st.success if point.clear else st.error)(said, icon=":material/lock_open:" if point.clear else STOP)
        return
    good = all(verdict.yes for _, verdict in rows)
    if good:
        st.success(in_words("# Yes\n{name}: all of it may be covered.", name=name), icon=":material/lock_open:")
    elif any(verdict.yes for _, verdict in rows):
        st.warning(in_words("# In part\nOnly what says yes. {name}.", name=name), icon=":material/help:")
    else:
        st.error(in_words("# No\nDo not cover: {name}.", name=name), icon=STOP)
    _say_layers(live, rows)
    ends = list(dict.fromkeys(text for _, verdict in rows if verdict.yes for text in verdict.left_open))
    if ends:  # one line, so that the person and the button stay on the first screen of a phone
        said = in_words("Leave ends of lines uncovered ({number})", number=len(ends))
        with st.expander(f":material/content_cut: **{said}**"):
            st.markdown(listed(ends))
    for said in _to_do(live, rows, most=1):
        st.markdown(f"**{in_words('Next')}**: {said}")
    st.caption(known_by(live, rows[0][1], brief=True))


def _to_do(live: Live, rows: Sequence[tuple[_Layer, CoverAnswer]], *, most: int | None = None) -> list[str]:
    """Return what must be done before all of it may be covered, what can be done first before the rest."""
    late = datetime.max.replace(tzinfo=live.moment.tzinfo)
    first = sorted((r for _, verdict in rows for r in verdict.reasons), key=lambda r: r.earliest or late)
    return list(dict.fromkeys(answer_said(live, r, short=True) for r in first[:most]))


def _say_layers(live: Live, rows: Sequence[tuple[_Layer, CoverAnswer]]) -> None:
    """Say of each layer whether it may be covered, as they lie in the ground: the fill above, the lowest below."""
    for place in dict.fromkeys(row.place for row, _ in rows):
        if len({row.place for row, _ in rows}) > 1:
            st.markdown(f"**{escape(place_in_short(live.case.site, place))}**")
        here = [(row, verdict) for row, verdict in rows if row.place == place]
        with st.container(key=f"layers-{place}"):
            st.markdown(listed(f"{_sign(verdict)} {escape(row.what)}" for row, verdict in reversed(here)))


def _sign(verdict: CoverAnswer) -> str:
    return f":material/check: **{in_words('Yes')}**," if verdict.yes else f":material/close: **{in_words('No')}**,"


def _layers(case: Case, point: HoldPoint) -> Iterator[_Layer]:
    """Yield, by stretch that the hold point is about, its layers from the lowest on, then the fill."""
    names = {a.id: a.name for a in case.site.alignments}
    for reach in point.hold.reaches:
        grounds = cover_grounds(case, reach)
        if grounds:
            whole = grounds[-1][1]
            place = reach_name(names[whole.alignment], whole.from_ft, whole.to_ft)
            yield from (_Layer(place, what, ground) for what, ground in grounds)


def _show_rest(live: Live, point: HoldPoint, schedule: Schedule | None) -> None:
    """Tell what else must be done, as it stood when the page was drawn; it is drawn anew when the record changes."""
    told = _to_do(live, _judged(live.worked, point, schedule))[1:] if live.fault is None else []
    if told:
        with st.expander(in_words("What else must be done ({number})", number=len(told))):
            st.markdown(listed(told))


def _release(live: Live, point: HoldPoint) -> None:
    """Show the evidence of a release, or offer the release to the person who may give it."""
    show_evidence(live, point)
    if point.clear:
        return
    show_told(live)
    able = show_who(live, clock=False)
    site, network, person = live.case.site, live.case.network, live.person
    if able and person is not None and may_release(site, network, point.hold, person, live.moment).yes:
        show_release(live, point, person)
        return
    who = in_words(", or ").join(f"{p.name} ({p.of})" for p in point.releasers) or in_words(
        "nobody who is named in the site file"
    )
    st.button(
        in_words("Release this hold point"), key="not-theirs", disabled=True, width="stretch", icon=":material/lock:"
    )
    st.caption(in_words("To be released by {who}.", who=escape(who)))
