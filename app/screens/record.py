"""The daily record: what was started, finished, seen and passed today, in a few taps, and what stands written."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from datetime import datetime
from typing import Literal

import streamlit as st

from app.answer import Answer
from app.components.as_planned import show_as_planned
from app.components.head import head
from app.components.kept_paper import show_kept
from app.components.pickers import pick_time
from app.components.reports import show_reports
from app.components.stretch_card import show_site_and_card
from app.components.told import ask_why_late, may_take_back, show_told, tell
from app.components.who import show_who
from app.components.work_filter import Chosen, choose_work, look_at_reach
from app.jobs import Job
from app.live import Live, live_of
from app.stands import situation_of, state_said
from app.words import count, day, escape, from_to, listed, moment, time_of_day
from scheduler.ledger import Actual, Entry, InspectionFailed, NoteKept, Wording, superseded
from scheduler.plan import PlanActivity
from scheduler.situation import WorkStands, WorkState, before_it

STYLE = """<style>
[data-testid="stMain"] :is(.stButton, .stFormSubmitButton, .stPopover) button,
[data-testid="stDialog"] .stButton button, [data-testid="stMain"] .stCheckbox label { min-height: 44px; }
[data-testid="stMain"] .stCheckbox label { align-items: center; }
</style>"""
"""What is tapped is as large as a thumb: 44 px (WCAG 2.2, 2.5.5)."""
MOST_LATE = 12
"""Late work shown at once; the rest is counted."""


def show(job: Job, answer: Answer) -> None:
    """Show what is on today with a tap for each thing that happens to it, then the rest, then the record."""
    st.html(STYLE)
    dated = head(job, answer, "Record")
    live = live_of(job.case)
    able = show_who(live)
    if live.fault is not None:
        return
    show_told(live)
    if able:
        ask_why_late()
    situation = situation_of(live, answer) if dated else None
    if situation is not None:
        show_site_and_card(answer, live, situation, key="record", touched=look_at_reach)
    chosen = choose_work(answer, live) if dated else Chosen()
    if dated and able and live.may("started"):
        show_as_planned(answer, live, chosen)
    if dated:
        _today(answer, live, chosen, able=able)
    if able:
        st.header("Something else", anchor=False)
        show_reports(live)
    _written(answer, live, able=able)


def _today(answer: Answer, live: Live, chosen: Chosen, *, able: bool) -> None:
    on = live.moment.date()
    st.header(f"On {day(on)}", anchor=False)
    when = _when(live) if able else lambda _: live.moment
    work = [a for a in answer.plan.activities if a.kind.takes_time and chosen.takes(a)]
    situation = situation_of(live, answer)
    stands = situation.work if situation is not None else {}
    spoilt = [a for a in work if a.id in stands and stands[a.id].state in (WorkState.FAILED, WorkState.AGAIN)]
    work = [a for a in work if a not in spoilt]
    running = [a for a in work if _actual(live, a).start and not _actual(live, a).finish]
    due = [a for a in work if a.start.date() == on and _waits(live, a)]
    late = [a for a in work if a.start.date() < on and _waits(live, a)]
    done = [a for a in work if (f := _actual(live, a).finish) and live.local(f).date() == on]
    if not (spoilt or running or due or late or done):
        following = [a for a in work if a.start.date() > on and _waits(live, a)]
        next_day = min((a.start for a in following), default=None)
        tail = f" The next work is planned for {day(next_day)}." if next_day else " Everything is reported as done."
        st.info(f"Nothing is planned for this day.{tail}")
    groups = {
        "Failed or to be done again": spoilt,
        "Going on": running,
        "Should have started": late[:MOST_LATE],
        "Due today": due,
    }
    for title, group in groups.items():
        if group:
            st.subheader(f"{title} ({len(group)})", anchor=False)
            for activity in group:
                _card(answer, live, activity, stands.get(activity.id), when, able=able)
            if group is groups["Should have started"] and len(late) > MOST_LATE:
                st.caption(f"And {count(len(late) - MOST_LATE, 'more task')} that should have started by now.")
    if done:
        with st.expander(f"Done today ({len(done)})"):
            st.markdown(listed(f"{time_of_day(live.local(_finish(live, a)))} {escape(a.name)}" for a in done))


When = Callable[[datetime], datetime]
"""Gives the time to report by the planned time of what is reported."""


def _when(live: Live) -> When:
    """Offer when it happened: at the moment looked at, when it was planned, or another time."""
    how = st.segmented_control(
        "It happened", ["Just now", "As planned", "Earlier"], default="Just now", key="happened", required=True
    )
    if how == "As planned":
        st.caption("Each task is reported with its planned time.")
        return lambda planned: planned
    chosen = pick_time(live, "At", "happened-at") if how == "Earlier" else live.moment
    return lambda _: chosen


def _actual(live: Live, activity: PlanActivity) -> Actual:
    return live.known.actual(activity.id)


def _finish(live: Live, activity: PlanActivity) -> datetime:
    return _actual(live, activity).finish or live.moment


def _waits(live: Live, activity: PlanActivity) -> bool:
    """Tell whether an activity is still to be begun, by what is reported; a look that failed is to be made again."""
    known, looks = _actual(live, activity), live.known.looks.get(activity.id, ())
    return known.start is None and known.finish is None and all(isinstance(e, InspectionFailed) for e in looks[-1:])


def _card(
    answer: Answer, live: Live, activity: PlanActivity, stands: WorkStands | None, when: When, *, able: bool
) -> None:
    known = _actual(live, activity)
    with st.container(border=True, gap="small", key=f"work-{activity.id}"):
        who = stands.doer if stands is not None and activity.trade else answer.picture.trade_name(activity)
        if known.start:
            says = f"started {moment(live.local(known.start))}, planned until {moment(activity.finish)}"
        else:
            says = f"planned {from_to(activity.start, activity.finish)}"
        st.markdown(f"**{escape(activity.name)}**  \n{escape(who)}, {says}.")
        if stands is not None and stands.state in (WorkState.FAILED, WorkState.AGAIN):
            st.markdown(state_said(stands))
        if known.not_done is not None:
            st.markdown(f"Not done, because: {escape(known.not_done.because)}")
        missing = before_it(stands) if stands is not None else []
        if missing:
            st.markdown(f":material/front_hand: **Do not begin yet.** {escape(' '.join(missing))}")
        said = ("inspection_passed", "inspection_failed") if activity.kind.is_look else ("started",)
        if not able or not any(live.may(event, activity=activity.id) for event in said):
            return
        if activity.kind.is_look:
            _result(live, activity, when(activity.finish))
            return
        with st.container(horizontal=True):
            if not known.start and st.button("Started", key=f"started-{activity.id}", type="primary", width=150):
                tell(live, "started", {"activity": activity.id, "when": when(activity.start)})
            kind: Literal["primary", "secondary"] = "primary" if known.start else "secondary"
            if st.button("Finished", key=f"finished-{activity.id}", type=kind, width=150):
                tell(live, "finished", {"activity": activity.id, "when": when(activity.finish)})
            with st.popover("Something else"):
                _otherwise(live, activity, when(activity.finish))


def _otherwise(live: Live, activity: PlanActivity, when: datetime) -> None:
    """Offer to say that work was not done, or that a test failed, and why."""
    with st.form(f"not-done-{activity.id}", border=False):
        why = st.text_input("Not done, because", key=f"why-{activity.id}", max_chars=500)
        sent = st.form_submit_button("Not done")
    if sent:
        tell(live, "not_done", {"activity": activity.id, "because": why, "when": live.moment})
    if not activity.kind.is_test:
        return
    with st.form(f"test-failed-{activity.id}", border=False):
        faults = st.text_area("The test failed: what was found", key=f"faults-{activity.id}", max_chars=2000)
        hours = st.number_input("Working hours to fix it", 0.0, 500.0, 0.0, 0.5, key=f"test-fix-{activity.id}")
        failed = st.form_submit_button("Test failed")
    if failed:
        body = {"activity": activity.id, "faults": faults, "repair_hours": hours, "when": when}
        tell(live, "test_failed", body)


def _result(live: Live, activity: PlanActivity, when: datetime) -> None:
    """Offer the result of an inspector's look, with what must be said of it."""
    with st.popover("Inspected", icon=":material/visibility:"), st.form(f"look-{activity.id}", border=False):
        result = st.radio(
            "Result", ["Passed", "Passed on condition", "Failed", "Nobody came"], key=f"result-{activity.id}"
        )
        inspectors = {p.id: f"{p.name}, {p.of}" for p in live.case.site.people if p.role in ("inspector", "utility")}
        hold = next((h for h in live.case.network.holds if h.look == activity.id), None)
        named = list(inspectors).index(hold.released_by) if hold and hold.released_by in inspectors else None
        inspector = st.selectbox(
            "Who looked", list(inspectors), index=named, format_func=inspectors.__getitem__, key=f"by-{activity.id}"
        )
        words = st.text_area("Conditions, faults or notes", key=f"words-{activity.id}", max_chars=2000)
        hours = st.number_input("Working hours to fix faults", 0.0, 500.0, 0.0, 0.5, key=f"fix-{activity.id}")
        sent = st.form_submit_button("Write it down", type="primary")
    if sent:
        body = {"looks": (activity.id,), "inspector": inspector or "", "when": when}
        if result == "Failed":
            tell(live, "inspection_failed", {**body, "faults": words, "repair_hours": hours})
        elif result == "Passed":
            tell(live, "inspection_passed", {**body, "notes": words})
        elif result == "Nobody came":
            because = f"Nobody came. {words}".strip()
            tell(live, "not_done", {"activity": activity.id, "because": because, "when": live.moment})
        else:
            tell(live, "inspection_passed_with_conditions", {**body, "conditions": words})


def _written(answer: Answer, live: Live, *, able: bool) -> None:
    st.header("What is written down", anchor=False)
    seen = live.written
    if not seen:
        st.info("Nothing is written down for this job yet. The first thing reported above begins its journal.")
        return
    st.caption(
        f"{count(len(seen), 'entry', 'entries')}, the newest first. Nothing is changed or removed: "
        "what was wrong is taken back by an entry that says so."
    )
    gone = superseded(seen)
    wording = Wording(live.case.site, live.case.network, {a.id: a.name for a in answer.plan.activities})
    days: dict[str, list[Entry]] = {}
    for entry in reversed(seen):
        days.setdefault(day(live.local(entry.at)), []).append(entry)
    for index, (name, entries) in enumerate(days.items()):
        with st.expander(f"{name} ({count(len(entries), 'entry', 'entries')})", expanded=index == 0):
            st.markdown(listed(_line(live, wording, e, taken_back=e.number in gone) for e in entries))
    _photos(live, wording, seen, gone)
    own = [e for e in reversed(seen) if e.number not in gone and may_take_back(live, e)]
    if able and own:
        _take_back(live, wording, own)


def _photos(live: Live, wording: Wording, seen: Iterable[Entry], gone: frozenset[int]) -> None:
    """Offer the photos and papers of notes, one at a time."""
    notes = {e.number: e.event for e in seen if isinstance(e.event, NoteKept) and e.event.attachment is not None}
    kept = {n: note for n, note in notes.items() if n not in gone}
    if not kept:
        return
    names = {n: f"{n}: {wording.sentence(note)}" for n, note in kept.items()}
    with st.expander(f"Photos and papers ({len(kept)})", icon=":material/photo_camera:"):
        number = st.selectbox("Which note", list(names), index=None, format_func=names.__getitem__, key="note-shown")
        if number is not None and (digest := kept[number].attachment) is not None:
            show_kept(live, digest, "note", f"note-{number}")


def _line(live: Live, wording: Wording, entry: Entry, *, taken_back: bool) -> str:
    said = escape(wording.sentence(entry.event))
    words = f"~~{said}~~ (taken back)" if taken_back else said
    return f"**{entry.number}** · {time_of_day(live.local(entry.at))}, {escape(entry.writer)}: {words}"


def _take_back(live: Live, wording: Wording, entries: Iterable[Entry]) -> None:
    names = {e.number: f"{e.number}: {wording.sentence(e.event)}" for e in entries}
    with st.popover("Take an entry back", icon=":material/undo:"), st.form("take-back", border=False):
        number = st.selectbox("Which entry was wrong?", list(names), format_func=names.__getitem__, index=None)
        reason = st.text_input("Why was it wrong?", max_chars=500)
        sent = st.form_submit_button("Take it back", type="primary")
    if sent and number is None:
        st.error("Choose the entry that was wrong.")
    elif sent:
        tell(live, "corrected", {"supersedes": number, "reason": reason})
