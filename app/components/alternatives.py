"""The alternatives after a delay: side by side, then the one looked at, with its picture, its calls, and its moves."""

from __future__ import annotations

import streamlit as st

from app.answer import Answer
from app.components.chart import show_key, show_picture
from app.components.show_faults import show_not_done
from app.components.stretch_card import show_site_and_card
from app.components.told import TOLD
from app.figures.before_after import before_after_figure
from app.in_force import accept_plan
from app.live import Live, live_of
from app.replans import ASKED, Replan
from app.stands import situation_of
from app.words import amount, count, escape, listed, moment
from scheduler import BadInput, as_planned
from scheduler.ledger import Wording
from scheduler.plan import Conflict
from scheduler.replan import (
    GROUPS_AT_MOST,
    NOT_ALL_KEPT,
    Aim,
    Alternative,
    Replanning,
    by_party,
    move_groups,
    moves_said,
    reasons_said,
    shared_reasons,
)
from scheduler.situation import PhoneCall
from scheduler.spoken import length
from scheduler.units import in_length_unit, nights_unit

LOOKED_AT = "alternative"


def show_alternatives(live: Live, job: Replan, *, able: bool) -> None:
    """Show what can be done, or why nothing can."""
    result = job.result
    assert result is not None
    st.caption(
        f"As of {moment(live.local(result.as_of))}: {count(len(result.frozen), 'task')} done and left as "
        "it happened. Nothing is changed until you accept one."
    )
    if result.supposing:
        wording = Wording(live.case.site, live.case.network)
        said = listed(escape(wording.sentence(e)) for e in result.supposing)
        st.info(f"**What if. Nothing of this is written down, and none of it can be accepted.**\n\n{said}")
    if result.taken_as_done:
        st.warning(
            "**Taken as done, because what follows has begun.** Nobody reported it; report it if that is wrong.\n\n"
            + listed(escape(f"{t.name}, {t.trade}" if t.trade else t.name) for t in result.taken_as_done),
            icon=":material/help:",
        )
    if result.conflicts:
        for conflict in result.conflicts:
            _conflict(conflict)
        return
    if result.notes:
        with st.expander(f"What to know first ({len(result.notes)})"):
            st.markdown(listed(escape(n) for n in result.notes))
    for why in dict.fromkeys(result.impossible.values()):  # what several have in common is said once
        aims = ", ".join(aim for aim, given in result.impossible.items() if given == why)
        st.markdown(f":material/block: **{aims.capitalize()}**: {escape(why)}")
    chosen = _compare(result)
    if chosen is not None:
        _one(live, job, chosen, able=able and not result.supposing)


def name_of(alternative: Alternative) -> str:
    """Name an alternative by all it is best for: `Keep every booking, fewest calls`."""
    given = alternative.proofs.get(Aim.KEEP, "")
    aims = ["keep most bookings" if a is Aim.KEEP and NOT_ALL_KEPT in given else a for a in alternative.aims]
    return ", ".join(aims).capitalize()


def _compare(result: Replanning) -> Alternative | None:
    """Show the alternatives side by side, and return the one to look at."""
    if not result.alternatives:
        return None
    chosen: int = min(st.session_state.get(LOOKED_AT, 0), len(result.alternatives) - 1)
    columns = st.columns(len(result.alternatives))
    for index, (column, alternative) in enumerate(zip(columns, result.alternatives, strict=True)):
        with column, st.container(border=True, gap="small", key=f"alternative-{index}"):
            st.subheader(escape(name_of(alternative)), anchor=False)
            if len(alternative.aims) > 1:
                st.markdown("These come to one and the same plan.")
            st.markdown(_numbers(alternative))
            st.markdown(_different(alternative))
            for left_out in alternative.cost_left_out:
                st.markdown(escape(left_out))
            for aim in alternative.aims:
                st.caption(escape(alternative.proofs[aim]))
            if index == chosen:
                st.markdown(":material/visibility: **Shown below**")
            elif st.button("Look at this", key=f"look-at-{index}"):
                st.session_state[LOOKED_AT] = index
                st.rerun()
    return result.alternatives[chosen]


def _numbers(alternative: Alternative) -> str:
    outside = sum(m.outside for m in alternative.moves)
    calls = alternative.phone_calls
    late = sum(any(c.in_notice for c in call.due) for call in calls)
    rows = {
        "Finish": f"{moment(alternative.finish)}, {_shift(alternative.later_by_minutes)}",
        "Work": moves_said(alternative.differences) + (f"; {outside} of all these by others" if outside else ""),
        "Calls to make": str(len(calls)) + (f", {late} inside the notice asked for" if late else ""),
        "Open trench": f"{amount(in_length_unit(alternative.trench_open_ft_nights))} {nights_unit()} from now on",
        "Cost": f"\\${alternative.cost:,.0f} for what is still to come",
    }
    return "  \n".join(f"{name}: **{value}**" for name, value in rows.items())


def _different(alternative: Alternative) -> str:
    """Say in a few lines how an alternative differs from the plan before."""
    d = alternative.differences
    rows = {
        "Finish": _shift(d.later_minutes),
        "Money": f"{_more(d.cost)} dollars",
        "Open trench": f"{_more(in_length_unit(d.open_ft_nights))} {nights_unit()}",
        "Visits": _more(d.visits),
        "People to call": str(len(d.people_called)),
        f"Work at another time for {len(d.people_moved)}": escape(", ".join(d.people_moved)) or "nobody",
    }
    since = "To the end something is at another time."
    if d.as_before_from is not None:
        since = f"From {moment(d.as_before_from)} on everything is as before."
    lines = "  \n".join(f"{name}: **{value}**" for name, value in rows.items())
    return f"Against the plan before:  \n{lines}  \n{since}"


def _more(amount: float) -> str:
    return f"{amount:+,.0f}" if abs(amount) >= 0.5 else "no change"


def _shift(minutes: int) -> str:
    return f"{length(minutes)} {'later' if minutes > 0 else 'sooner'}" if minutes else "as before"


def _one(live: Live, job: Replan, alternative: Alternative, *, able: bool) -> None:
    st.header(escape(name_of(alternative)), anchor=False)
    if able:
        _accept(live, alternative)
    _calls(alternative)
    st.subheader("Before and now", anchor=False)
    if alternative.moves:
        _picture(live, job, alternative)
        _moves(live, alternative)
    else:
        st.write("Nothing moves: what is left stays where it was.")


def _calls(alternative: Alternative) -> None:
    calls = alternative.phone_calls
    st.subheader(f"Calls to make ({len(calls)})", anchor=False)
    if not calls:
        st.write("Nobody outside needs a call: every appointment stands.")
        return
    st.markdown(listed(_call(c) for c in calls))


def _call(call: PhoneCall) -> str:
    notice = " **This is inside the notice they ask for.**" if any(c.in_notice for c in call.due) else ""
    return f"**{call.when}**: {escape(call.text)}{notice} {escape(call.stands)}".rstrip()


def _picture(live: Live, job: Replan, alternative: Alternative) -> None:
    before = job.before
    assert before is not None
    assert job.result is not None
    answer = _answer(job, alternative)
    since = job.result.as_of.astimezone(alternative.finish.tzinfo)
    work, situation = before.picture.work, situation_of(live, before)
    moved = frozenset(work[m.activity].reach for m in alternative.moves if m.activity in work) - {""}
    if situation is not None and moved:
        st.caption("Framed: the stretches whose work moves.")
        show_site_and_card(before, live, situation, key="moves", picked=moved, told=False)
    doers = {m.activity: m.trade for m in alternative.moves}
    was, now = before.picture.done_by(doers), answer.picture.done_by(doers)
    figure = before_after_figure(was, now, [m.activity for m in alternative.moves], since=since)
    st.caption(
        "Hollow: where it was. Filled: where it is now. Dotted line: the finish before; teal line: the finish now."
    )
    alt = f"{count(len(alternative.moves), 'task')} before and now, by who does it; listed in words below."
    show_picture(figure, key="before-after", alt=alt, kept_as=f"before and now {since.date()}")
    show_key(answer.picture)


def _answer(job: Replan, alternative: Alternative) -> Answer:
    """Return an alternative as a plan to look at; made once."""
    assert job.result is not None
    index = job.result.alternatives.index(alternative)
    if index not in job.pictures:
        job.pictures[index] = Answer(as_planned(job.case, alternative))
    return job.pictures[index]


def _moves(live: Live, alternative: Alternative) -> None:
    st.subheader("What moves", anchor=False)
    st.caption(f"{moves_said(alternative.differences).capitalize()}.")
    groups = move_groups(alternative.moves, live.local)
    shared = shared_reasons(groups)
    for name, reason in reasons_said(shared):
        st.markdown(f"**{name}** {escape(reason)}")
    lines = [f"**{escape(g.head)}:** {escape(g.said(live.local, shared))}" for g in groups]
    if len(groups) <= GROUPS_AT_MOST:
        st.markdown(listed(lines))
        return
    st.markdown(listed(escape(one.said(live.local)) for one in by_party(alternative.moves)))
    with st.expander("Each by its day"):
        st.markdown(listed(lines))


def _accept(live: Live, alternative: Alternative) -> None:
    with st.form("accept", border=True):
        st.markdown("Accepted, it is the plan that every page shows. The plan before stays on record.")
        why = st.text_input("Why this one, for the record", key="accept-why", max_chars=500)
        sent = st.form_submit_button("Work by this plan", type="primary")
    if not sent:
        return
    try:
        accept_plan(live, alternative, why or name_of(alternative))
    except BadInput as bad:
        show_not_done(bad, "The plan was not accepted.")
        return
    for key in (ASKED, LOOKED_AT):
        st.session_state.pop(key, None)
    st.session_state[TOLD] = live_of(live.case).entries[-1]
    st.rerun()


def _conflict(conflict: Conflict) -> None:
    st.error("No plan is possible after what the record says: these cannot hold together.")
    with st.container(border=True):
        st.markdown(listed(escape(m.because) for m in conflict.members))
        if conflict.repairs:
            st.markdown("**Ways out**")
            st.markdown(listed(escape(r.text) for r in conflict.repairs))
