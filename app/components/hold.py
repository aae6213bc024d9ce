"""One hold point: how it stands, its evidence, who may release it, and the form to do so."""

from __future__ import annotations

from datetime import timedelta

import streamlit as st

from app.answer import Answer
from app.components.kept_paper import show_kept
from app.components.pickers import EVIDENCE_TYPES, MEGABYTE, pick_time
from app.components.show_faults import show_not_done
from app.components.told import tell
from app.live import Live, attach
from app.served.visitors import note_code, served
from app.words import amount, count, escape, in_words, listed, moment
from scheduler import BadInput
from scheduler.ledger import MAX_BYTES, HoldPoint, Wording, may_release, visits_for
from scheduler.site import Person


def show_hold(answer: Answer, live: Live, point: HoldPoint, *, able: bool) -> None:
    """Show everything known of one hold point, and offer to release it."""
    st.markdown(listed(_facts(answer, live, point)))
    show_evidence(live, point)
    refusals = [e.reason for e in live.known.refusals if e.about == point.hold.id]
    if refusals:
        st.markdown(f":material/block: **{count(len(refusals), 'refusal')} on record**")
        st.markdown(listed(escape(r) for r in refusals))
    if able and live.person is not None and not point.clear and live.may("hold_released"):
        show_release(live, point, live.person)


def _facts(answer: Answer, live: Live, point: HoldPoint) -> list[str]:
    hold = point.hold
    kind = (
        "**Hold point**: work that would hide it waits for its release."
        if hold.kind == "hold"
        else "**Witness point**: work may go on once the agreed time has passed."
    )
    facts = [kind]
    if hold.criteria:
        facts.append(f"**What must be so**: {escape(hold.criteria)}")
    facts.append(f"**Who may release it**: {_people(point)}")
    if point.open_since:
        open_for = live.moment - point.open_since
        since = moment(live.local(point.open_since))
        facts.append(f"**Trench open for it since** {since} ({_length(open_for)})")
    else:
        facts.append("**No trench is open for it** by what is reported")
    if point.because:
        facts.append(f"**Because**: {escape(point.because)}")
    if point.look:
        facts.append(f"**Last look**: {escape(Wording(live.case.site, live.case.network).sentence(point.look))}")
    booked = visits_for(live.case.network, live.known, hold)
    facts += [f"**Visit booked**: {moment(live.local(v.booked.start))}" for v in booked]
    planned = next((h.planned_release for h in answer.plan.holds if h.id == hold.id), None)
    if planned and not point.clear:
        facts.append(f"**Planned release**: {moment(planned)}")
    if point.good_until:
        facts.append(f"**Good until** {moment(live.local(point.good_until))}, unless cover begins by then")
    gates = [escape(answer.picture.work[g].name) for g in hold.gates if g in answer.picture.work]
    facts.append(f"**Waits for it**: {'; '.join(gates) if gates else 'nothing'}")
    return facts


def _people(point: HoldPoint) -> str:
    if not point.releasers:
        return "nobody: name somebody of the authority under `people` in the site file"
    return ", or ".join(escape(f"{p.name}, {p.of}" + (f", {p.phone}" if p.phone else "")) for p in point.releasers)


def _length(span: timedelta) -> str:
    days = span / timedelta(days=1)
    number, unit = (amount(days), "day") if days >= 1 else (amount(span / timedelta(hours=1)), "hour")
    return f"{number} {unit}" if number == "1" else f"{number} {unit}s"


def show_evidence(live: Live, point: HoldPoint) -> None:
    """Show who released a hold point, and on what evidence; nothing where nobody did."""
    given = point.release
    if given is None:
        return
    who = escape(Wording(live.case.site, live.case.network).name(given.person))
    st.markdown(
        ":material/lock_open: "
        + in_words("**Released** by {who}, {when}.", who=who, when=moment(live.local(given.when)))
        + f" {escape(given.evidence)}"
    )
    if given.attachment is not None:
        show_kept(live, given.attachment, "release", point.hold.id)


def show_release(live: Live, point: HoldPoint, person: Person) -> None:
    """Offer the form that releases a hold point; what somebody may not do is refused, and goes on record."""
    hold = point.hold
    verdict = may_release(live.case.site, live.case.network, hold, person, live.moment)
    with st.form(f"release-{hold.id}", border=True):
        if verdict.yes:
            st.markdown(in_words("**Release it as {who}**", who=escape(person.name)))
        else:
            st.markdown(f":material/block: {escape(verdict.because)} If you try, the refusal goes on record.")
        seen = st.text_area(in_words("What was seen"), key=f"seen-{hold.id}", max_chars=2000, height=80)
        upload = st.file_uploader(
            in_words("Photo or PDF"),
            EVIDENCE_TYPES,
            key=f"file-{hold.id}",
            max_upload_size=MAX_BYTES // MEGABYTE,
        )
        code = ""
        if served() is not None:  # the second act: nobody else who holds this phone knows it
            code = st.text_input("Your own code", type="password", key=f"code-{hold.id}")
        sent = st.form_submit_button(in_words("Release this hold point"), type="primary", width="stretch")
        with st.expander(in_words("It was seen at another time")):
            when = pick_time(live, in_words("When"), f"when-{hold.id}")
            late = st.text_input(
                in_words("If more than a week ago: why only now?"), key=f"late-{hold.id}", max_chars=500
            )
    if not sent:
        return
    try:
        paper = attach(live, upload.getvalue()) if upload is not None and verdict.yes else None
    except BadInput as bad:
        show_not_done(bad, "Nothing was written down.")
        return
    if code:
        note_code(code)
    body = {"hold": hold.id, "person": person.id, "role": person.role, "evidence": seen, "attachment": paper}
    tell(live, "hold_released", {**body, "when": when, "late_because": late})
