"""The calls on Today, without a browser: each is ticked off with its answer."""

from __future__ import annotations

from streamlit.testing.v1 import AppTest

from scheduler.export.mail.invitation_mail import invitation_mail, organiser
from scheduler.export.mail.invitations import to_ask
from scheduler.ledger.call_events import AskedInWriting, Called
from tests.mails import MailedJob, answer
from tests.unit.test_app_live import page, place, texts
from tests.unit.test_invitations import job

__all__ = ["job", "place"]


def test_a_call_is_ticked_off_on_today(place):
    at = page("today", person="r-amsel")
    assert "Tom Bell, Plumber (555-0112)" in texts(at)
    (button,) = [b for b in at.button if b.label == "No answer" and "call/plumber" in b.key][:1]
    button.click().run()
    (entry,) = place.open().entries()
    assert (entry.event.name, entry.event.of, entry.event.answer) == ("called", "plumber", "no_answer")
    at = page("today", person="r-amsel")
    assert "No answer Mon 1 Mar" in texts(at)
    (button,) = [b for b in at.button if b.label == "Agreed" and b.key.removeprefix("agreed-") in button.key]
    button.click().run()
    assert place.open().entries()[-1].event.answer == "agreed"
    at = page("today", person="r-amsel")
    assert not [b for b in at.button if b.key == button.key]


def calls(job: MailedJob) -> AppTest:
    """Show the calls of a job with mail addresses, to its contractor, on its first morning."""

    def script(path: str) -> None:
        from pathlib import Path

        import streamlit as st

        import scheduler
        from app.components.calls_to_make import calls_seen, show_calls
        from app.live import live_of
        from app.session import open_site
        from tests.mails import mailed

        st.session_state.setdefault("person", "r-amsel")
        case = open_site(Path(path))
        live = live_of(case)
        situation = scheduler.today(case, live.written, live.moment, mailed(), state=live.known)
        show_calls(live, situation, calls_seen(live, situation))

    return AppTest.from_function(script, kwargs={"path": str(job.path)}, default_timeout=60).run()


def test_a_call_is_made_in_writing_and_its_answer_taken_in(job) -> None:
    at = calls(job)
    assert not at.exception
    (button,) = [b for b in at.button if b.key.startswith("asked-mail-") and "tie-in" in b.key]
    assert any("sam@power.example" in m.value for m in at.markdown)
    assert [c.value for c in at.code if len(c.value) > 160] == []
    button.click().run()
    assert not at.exception
    (asked,) = [e for e in job.said() if isinstance(e, AskedInWriting)]
    assert (asked.of, asked.to, asked.sequence, asked.sent) == ("tie-in", "sam@power.example", 0, False)
    assert "silent since" in texts(at)
    letter = next(i for i in to_ask(job.situation(asked.when), again=True).invitations if i.of == "tie-in")
    assert letter.uid == asked.uid
    situation = job.situation(asked.when)
    mail = answer(invitation_mail(situation, letter, organiser(situation), asked.when), "DECLINED")
    at.file_uploader(key="answer-by-mail").upload("yes.eml", mail.as_bytes(), "message/rfc822").run()
    assert "Sam Wirth said no to" in texts(at)
    at.button(key="answered-mail").click().run()
    (said,) = [e for e in job.said() if isinstance(e, Called)]
    assert (said.answer, said.means, said.uid) == ("refused", "mail", asked.uid)
    assert "They said no" in texts(at)
