"""Asking somebody in writing from the calls to make, and taking in what they answered by mail."""

from __future__ import annotations

import secrets
from dataclasses import replace

import streamlit as st

from app.components.told import tell
from app.live import Live
from app.once import once
from app.served.visitors import served
from app.words import escape
from scheduler import BadInput, Situation
from scheduler.export import (
    LARGEST_MAIL,
    Invitation,
    MailAnswer,
    invitation_mail,
    mail_draft,
    organiser,
    read_answer,
    short_text,
    text_draft,
    to_ask,
)
from scheduler.situation import CallDue

NAMES = "names of invitations"
"""Where the session keeps the UID of what has not gone out yet, so that file and entry have the same."""


class Letters:
    """What can be asked for in writing now, by mail and by text, for the calls on a page."""

    def __init__(self, live: Live, situation: Situation, calls: tuple[CallDue, ...]) -> None:
        self.live, self.situation = live, situation
        self._by_mail, self._by_text = _to_ask(situation, calls)

    def show(self, call: CallDue) -> None:
        """Show how a call can be made in writing, each with what is pressed once it went out."""
        mail, text = (self._of(call, known) for known in (self._by_mail, self._by_text))
        if mail is None and text is None:
            return
        with st.popover("Ask in writing", icon=":material/mail:"):
            if mail is not None:
                self._mail(call, mail)
            if text is not None:
                self._text(call, text)

    def _of(self, call: CallDue, known: tuple[Invitation, ...]) -> Invitation | None:
        found = next((i for i in known if i.of == call.of and set(i.activities) & set(call.activities)), None)
        if found is None or found.sequence or call.asked is not None:
            return found
        names: dict[str, str] = st.session_state.setdefault(NAMES, {})
        return replace(found, uid=names.setdefault(f"{call.id} {call.now}", f"{secrets.token_hex(16)}@jointtrench"))

    def _mail(self, call: CallDue, invitation: Invitation) -> None:
        try:
            asker = organiser(self.situation)
        except BadInput as bad:
            st.caption(escape(str(bad.findings[0])))
            return
        mail = invitation_mail(self.situation, invitation, asker, self.live.moment)
        name = f"{invitation.of}-{invitation.uid[:8]}-{invitation.sequence}.eml"
        st.markdown(f"To {escape(invitation.person.name)}, {escape(invitation.person.mail)}")
        st.download_button("Invitation for their calendar (.eml)", mail.as_bytes(), name, key=f"letter-{call.id}")
        st.link_button("A letter in my mail program", mail_draft(self.situation, invitation, asker))
        if st.button("It went out by mail", key=f"asked-mail-{call.id}", icon=":material/done:"):
            tell(self.live, "asked", invitation.as_asked(self.live.moment).model_dump(exclude={"name", "late_because"}))

    def _text(self, call: CallDue, invitation: Invitation) -> None:
        asker = organiser(self.situation, by_mail=False)
        here = served()  # the page on which they say yes or no, once they are signed in
        link = f"{here.public_url}/?site={self.live.case.path.stem}" if here is not None and here.public_url else ""
        text = short_text(self.situation, invitation, asker, link)
        st.code(text, language=None, wrap_lines=True)
        st.link_button("A text on this phone", text_draft(invitation, text))
        if st.button("It went out by text", key=f"asked-text-{call.id}", icon=":material/done:"):
            asked = invitation.as_asked(self.live.moment, means="text")
            tell(self.live, "asked", asked.model_dump(exclude={"name", "late_because"}))


@once(2)
def _to_ask(situation: Situation, calls: tuple[CallDue, ...]) -> tuple[tuple[Invitation, ...], ...]:
    """Return what is asked by mail, and what by text; a page gives what was never asked for a UID of its own."""
    return tuple(to_ask(situation, means=means, again=True, calls=calls).invitations for means in ("mail", "text"))


def show_answer_by_mail(live: Live, situation: Situation) -> None:
    """Take in a mail with an answer: say what it is, and write it down when it counts."""
    with st.popover("An answer came by mail", icon=":material/mark_email_read:"):
        given = st.file_uploader("The mail as a file (.eml)", type=["eml"], key="answer-by-mail")
        if given is None:
            return
        found = read_answer(situation, given.getvalue()[: LARGEST_MAIL + 1], live.moment)
        st.markdown(escape(found.said))
        if found.event is not None and st.button("Write the answer down", key="answered-mail", type="primary"):
            _write(live, found)


def _write(live: Live, found: MailAnswer) -> None:
    assert found.event is not None
    tell(live, "called", found.event.model_dump(exclude={"name", "late_because"}))
