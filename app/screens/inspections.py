"""The liaison's page: may I cover here, hold points as they stand with their release, and the visits."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

import streamlit as st

from app.address import choose, choose_side_by_side, notice_unknown, publish, settle
from app.answer import Answer
from app.components.ask_cover import COVER_AT, ask_cover
from app.components.at_the_stake import HOLDS_AT, STAKE, show_stake
from app.components.head import head
from app.components.hold import show_hold
from app.components.show_cautions import show_cautions
from app.components.stretch_card import show_site_and_card
from app.components.told import show_told
from app.components.who import show_who
from app.jobs import Job
from app.live import Live, live_of
from app.stands import situation_of
from app.words import count, escape, from_to, listed, moment
from scheduler import Case
from scheduler.ledger import HoldPoint, HoldStatus
from scheduler.plan import PlanVisit, put_together

ALL = "all"
PARTS = {"cover": "May I cover here?", "holds": "Hold points", "visits": "Visits"}
CLEARED = "Released"
ASK = "To be asked again"
GROUPS = ("Can be released now", ASK, "Turned down, undone or lapsed", "Trench open for it", "Still to come", CLEARED)
MARKS: Mapping[str, str] = {CLEARED: ":material/lock_open:"}
WAITS = ":material/front_hand:"


def show(job: Job, answer: Answer) -> None:
    """Answer whether a stretch may be covered; show every hold point and visit, or for a tag its hold point alone."""
    if (tag := st.query_params.get(STAKE)) is not None:
        show_stake(job.case, answer, tag)
        return
    dated = head(job, answer, "Visits and holds", every_cover=True)
    live = live_of(job.case)
    able = show_who(live)
    if live.fault is not None or not dated:
        return
    show_told(live)
    part = _part()
    situation = situation_of(live, answer)
    if part != "visits" and situation is not None:
        show_site_and_card(answer, live, situation, key="holds", touched=_take_reach, card=part == "holds")
    if part == "cover":
        ask_cover(live, answer.planned.schedule)
    elif part == "holds":
        _holds(answer, live, able=able)
    else:
        _visits(answer, live)
    show_cautions(full=True)


def show_without_plan(case: Case) -> None:
    """Answer whether a stretch may be covered while there is no plan yet: the record alone decides that."""
    if (tag := st.query_params.get(STAKE)) is not None:
        show_stake(case, None, tag)
        return
    st.title("Visits and holds")
    live = live_of(case)
    show_who(live)
    if live.fault is None:
        st.subheader("May I cover here?", anchor=False)
        ask_cover(live)
    show_cautions(full=True)


def _take_reach(reach: str) -> None:
    st.session_state[COVER_AT] = st.session_state[HOLDS_AT] = reach


def _part() -> str:
    """Offer the three things a liaison asks; the one asked stands in the address, and a hold point asks for its own."""
    state = st.session_state
    if st.query_params.get("hold") not in (None, state.get("hold")):
        state["part"] = "holds"
    else:
        settle("part", PARTS)
    part = choose_side_by_side("What do you want to know?", PARTS, key="part", usual="cover")
    publish("part", part)
    notice_unknown("part", "part of this page")
    return part


def _holds(answer: Answer, live: Live, *, able: bool) -> None:
    names = {ALL: "All reaches", **answer.picture.reach_names}
    reach = choose("Reach", names, key=HOLDS_AT, what="reach", width=420) or ALL
    points = [p for p in live.holds if reach in (ALL, *p.hold.reaches)]
    settle("hold", {p.hold.id for p in live.holds})
    asked = st.session_state.get("hold")
    notice_unknown("hold", "hold point")
    if not points:
        st.info("No hold point stands in this reach.")
        return
    st.caption("A plan releases nothing: only the named person does, on site. Open one to see more or release it.")
    groups: dict[str, list[HoldPoint]] = {name: [] for name in GROUPS}
    for point in points:
        groups[_group(point)].append(point)
    for name, members in groups.items():
        if members:
            st.subheader(f"{name} ({len(members)})", anchor=False)
        for point in members:
            _row(answer, live, point, able=able, opened=point.hold.id == asked)


def _row(answer: Answer, live: Live, point: HoldPoint, *, able: bool, opened: bool) -> None:
    mark = MARKS.get(_group(point), WAITS)
    label = f"{mark} **{point.status.value.capitalize()}** · {escape(point.hold.name)}"
    key = f"hold-{point.hold.id}"
    row = st.expander(label, expanded=opened, key=key, on_change="rerun")
    if row.open:
        publish("hold", point.hold.id)
        with row:
            show_hold(answer, live, point, able=able)


def _group(point: HoldPoint) -> str:
    match point.status:
        case HoldStatus.PASSED:
            return GROUPS[0]
        case HoldStatus.DOUBTFUL:
            return ASK
        case HoldStatus.FAILED | HoldStatus.UNDONE | HoldStatus.LAPSED:
            return GROUPS[2]
        case HoldStatus.WAITING:
            return GROUPS[3] if point.open_since else GROUPS[4]
    return CLEARED


def _visits(answer: Answer, live: Live) -> None:
    booked = [v for v in live.known.visits.values() if not v.cancelled]
    if booked:
        st.subheader("Booked by the record", anchor=False)
        wording = {i.id: f"{i.name}, {i.authority}" for i in live.case.site.inspections}
        wording |= {w.id: f"{w.name}, {w.by}" for w in live.case.site.outside_work}
        rows = []
        for known in sorted(booked, key=lambda v: v.booked.start):
            sure = "confirmed" if known.confirmed else "not confirmed yet"
            what = escape(wording.get(known.booked.of, known.booked.of))
            rows.append(f"**{moment(live.local(known.booked.start))}** · {what} ({sure})")
        st.markdown(listed(rows))
    if not answer.plan.visits:
        st.info("No inspection visit is planned.")
        return
    st.subheader("Planned visits", anchor=False)
    st.caption("All that one person looks at on one day is one visit.")
    states = {p.hold.id: p for p in live.holds}
    pass_chance = {i.id: i.pass_chance for i in live.case.site.inspections}
    for made in put_together(answer.plan.visits):
        _visit(live, made, states, pass_chance)


def _visit(
    live: Live, made: Sequence[PlanVisit], states: Mapping[str, HoldPoint], pass_chance: Mapping[str, float]
) -> None:
    """Show all that one person looks at on one day."""
    covered = [states[h] for v in made for h in v.covers if h in states]
    released = sum(p.clear for p in covered)
    missing = any(
        v.finish <= live.moment and any(states[h].status is HoldStatus.WAITING for h in v.covers if h in states)
        for v in made
    )
    names = " and ".join(dict.fromkeys(v.name or v.inspection for v in made))
    failed = sum(p.status is HoldStatus.FAILED for p in covered)
    done = (f", {released} released" if released else "") + (f", **{failed} failed**" if failed else "")
    late = " · :material/question_mark: **its time has passed, and no result is on record**" if missing else ""
    what = f"**{moment(made[0].start)}** · {escape(names)}"
    with st.expander(f"{what} · {count(len(covered), 'hold point')}{done}{late}"):
        chances = dict.fromkeys(f"{pass_chance[v.inspection]:.0%}" for v in made if v.inspection in pass_chance)
        first = f" About {' and '.join(chances)} of these looks pass the first time." if chances else ""
        ends = from_to(made[0].start, max(v.finish for v in made))
        st.write(f"{escape(made[0].authority)}, {ends}.{first}")
        st.markdown(listed(f"{escape(p.hold.name)}: {p.status.value}" for p in covered))
