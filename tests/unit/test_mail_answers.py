"""What people's calendars answer: it counts from whom it was asked, for what was asked last, once; the rest is told."""

from __future__ import annotations

import base64
from collections.abc import Callable
from contextlib import closing
from datetime import UTC, datetime, timedelta
from email.message import EmailMessage
from email.policy import SMTP
from pathlib import Path
from random import Random

import pytest

import scheduler
from scheduler import accept
from scheduler.cli import main
from scheduler.export.mail.invitation_mail import invitation_mail, organiser
from scheduler.export.mail.invitations import to_ask
from scheduler.export.mail.mail_answers import LARGEST_MAIL, MailAnswer, read_answer
from scheduler.ledger.call_events import AskedInWriting, Called
from scheduler.ledger.events import HoldReleased
from scheduler.situation.call_list import agreed_ahead, calls_of, how_it_stands
from tests.imap_server import mailbox_server
from tests.mails import MailedJob, answer, mailed
from tests.unit.test_invitations import certificate, job, settings

__all__ = ["certificate", "job"]
STAMP = datetime(2027, 3, 1, 15, tzinfo=UTC)
READ = "2027-03-01 09:00"


class Letters:
    """A job whose invitations went out on its first morning, and what is made of the answers."""

    def __init__(self, job: MailedJob) -> None:
        self.job, self.now = job, job.begin + timedelta(days=1, hours=9)
        situation = job.situation(job.begin + timedelta(days=1, hours=7))
        self.sent: dict[str, EmailMessage] = {}
        with closing(job.journal()) as journal:
            for invitation in to_ask(situation).invitations:
                at = situation.moment
                self.sent.setdefault(invitation.of, invitation_mail(situation, invitation, organiser(situation), at))
                journal.append(invitation.as_asked(at), at=at, by="Ruth Amsel")
        self.situation = job.situation(self.now)

    def asked(self, of: str) -> AskedInWriting:
        return next(e for e in self.job.said() if isinstance(e, AskedInWriting) and e.of == of)

    def read(self, mail: EmailMessage | bytes) -> MailAnswer:
        return read_answer(self.situation, mail if isinstance(mail, bytes) else mail.as_bytes(), self.now)

    def write(self, event: object) -> None:
        with closing(self.job.journal()) as journal:
            journal.append(event, at=self.now, by="test")  # type: ignore[arg-type]
        self.situation = self.job.situation(self.now)


@pytest.fixture
def letters(job: MailedJob) -> Letters:
    return Letters(job)


def test_yes_and_no_and_perhaps_become_facts_on_the_calls_list(letters: Letters) -> None:
    plumber, tie_in = letters.sent["plumber"], letters.sent["tie-in"]
    yes = letters.read(answer(plumber, comment="With two people."))
    assert (yes.kind, yes.person) == ("answer", "Tom Bell")
    assert yes.event is not None
    asked = letters.asked("plumber")
    assert (yes.event.answer, yes.event.told_start, yes.event.means) == ("agreed", asked.told_start, "mail")
    assert (yes.event.uid, yes.event.answered_at, yes.event.words) == (asked.uid, STAMP, "With two people.")
    letters.write(yes.event)
    assert not any(c.of == "plumber" and c.now == asked.told_start for c in calls_of(letters.situation))
    assert any("Tom Bell" in line for line in agreed_ahead(letters.situation))
    perhaps = letters.read(answer(tie_in, "TENTATIVE"))
    assert perhaps.event is not None
    letters.write(perhaps.event)
    (call,) = [c for c in calls_of(letters.situation) if c.of == "tie-in"]
    assert how_it_stands(call) == "Perhaps, they said Mon 1 Mar 09:00. Asked by mail Mon 1 Mar 07:00."
    no = letters.read(answer(tie_in, "DECLINED", stamp=STAMP + timedelta(hours=1)))
    assert no.event is not None
    letters.write(no.event)
    (call,) = [c for c in calls_of(letters.situation) if c.of == "tie-in"]
    assert call.said_no.startswith("They said no Mon 1 Mar 09:00. See what can be done: plan again")


def test_another_time_opens_a_plan_with_that_answer(letters: Letters) -> None:
    asked = letters.asked("tie-in")
    offers = asked.told_start + timedelta(days=5)
    found = letters.read(answer(letters.sent["tie-in"], counter=offers))
    assert found.event is not None
    assert (found.event.answer, found.event.offers) == ("refused", offers)
    letters.write(found.event)
    with closing(letters.job.journal()) as journal:
        entries = journal.entries()
    plans = scheduler.replan(letters.job.case, entries, letters.now, before=mailed().plan).alternatives
    assert plans
    for alternative in plans:
        assert next(a.start for a in alternative.plan.activities if a.id == "outside/tie-in") >= offers
    chosen, at = plans[0], letters.now + timedelta(hours=1)
    with closing(letters.job.journal()) as journal:
        accept(journal, chosen, by="Ruth Amsel", at=letters.now)
    again = letters.job.situation(at, plan=chosen.plan)
    (invitation,) = [i for i in to_ask(again).invitations if i.of == "tie-in"]
    assert (invitation.uid, invitation.sequence, invitation.was) == (asked.uid, 1, asked.told_start)
    assert invitation.start >= offers
    mail = invitation_mail(again, invitation, organiser(again), at)
    with closing(letters.job.journal()) as journal:
        journal.append(invitation.as_asked(at), at=at, by="Ruth Amsel")
    again = letters.job.situation(at, plan=chosen.plan)
    assert read_answer(again, answer(letters.sent["tie-in"]).as_bytes(), at).kind == "ignored", "the first is old"
    yes = read_answer(again, answer(mail, stamp=STAMP + timedelta(hours=2)).as_bytes(), at)
    assert yes.event is not None
    with closing(letters.job.journal()) as journal:
        journal.append(yes.event, at=at, by="Sam Wirth")
    after = letters.job.situation(at + timedelta(hours=1), plan=chosen.plan)
    assert not [c for c in calls_of(after) if c.of == "tie-in"]
    assert not [i for i in to_ask(after, again=True).invitations if i.of == "tie-in"]


def test_somebody_of_the_same_firm_may_answer_and_nobody_else(letters: Letters) -> None:
    tie_in = letters.sent["tie-in"]
    assert letters.read(answer(tie_in, sender="Ana@Power.example")).person == "Ana Lund"
    for sender in ("tom@bell.example", "sam@power.example.evil.example", "sam@evil.example", "ruth@amsel.example"):
        forged = letters.read(answer(tie_in, sender=sender))
        assert (forged.kind, forged.event) == ("refused", None)
        assert "who was not asked" in forged.said
    mail = answer(tie_in)
    mixed = answer(tie_in, sender="evil@evil.example")
    mixed.replace_header("From", "sam@power.example")  # the calendar says that another answers
    assert letters.read(mixed).kind == "refused"
    twice = mail.as_bytes().replace(b"From:", b"From: evil@evil.example\r\nFrom:", 1)
    assert letters.read(twice).kind == "refused"
    both = mail.as_bytes().replace(b"sam@power.example", b"evil@evil.example, sam@power.example", 1)
    assert letters.read(both).kind == "refused"


def test_a_guessed_name_of_an_invitation_is_refused(letters: Letters) -> None:
    asked = letters.asked("tie-in").uid
    for uid in ("0" * 32 + "@jointtrench", asked[:-1], asked.upper(), "tie-in"):
        assert "never sent" in letters.read(answer(letters.sent["tie-in"], uid=uid)).said


def test_old_numbers_are_ignored_and_told(letters: Letters) -> None:
    tie_in, asked = letters.sent["tie-in"], letters.asked("tie-in")
    assert letters.read(answer(tie_in, sequence=1)).kind == "refused"
    later = asked.told_start + timedelta(days=1)
    letters.write(asked.model_copy(update={"sequence": 1, "told_start": later, "when": letters.now}))
    old = letters.read(answer(tie_in))
    assert (old.kind, old.event) == ("ignored", None)
    assert "it has changed since (0 < 1)" in old.said
    assert letters.read(answer(tie_in, sequence=1)).event.told_start == later  # type: ignore[union-attr]
    letters.write(asked.model_copy(update={"sequence": 2, "called_off": True, "when": letters.now}))
    assert "called off" in letters.read(answer(tie_in, sequence=2)).said


def test_an_answer_counts_once_and_an_older_one_no_more(letters: Letters) -> None:
    tie_in = letters.sent["tie-in"]
    letters.write(letters.read(answer(tie_in)).event)
    assert letters.read(answer(tie_in)).said == "The mail is on record already."
    before = letters.read(answer(tie_in, "DECLINED", stamp=STAMP - timedelta(hours=1)))
    assert (before.kind, before.said) == ("ignored", "The mail is older than the answer on record.")
    after = letters.read(answer(tie_in, "DECLINED", stamp=STAMP + timedelta(hours=1)))
    assert after.kind == "answer"
    letters.now = letters.asked("tie-in").told_start + timedelta(hours=1)
    assert "too late" in letters.read(answer(tie_in, "DECLINED", stamp=STAMP + timedelta(hours=2))).said


def changed(mail: EmailMessage, before: str, after: str) -> bytes:
    """Return a mail whose calendar says something else."""
    text = next(p for p in mail.walk() if p.get_content_type() == "text/calendar").get_content()
    assert before in text
    fresh = EmailMessage(policy=SMTP)
    for name in ("From", "To", "Subject"):
        fresh[name] = str(mail[name])
    fresh.set_content("An answer.")
    fresh.add_alternative(text.replace(before, after), subtype="calendar", params={"method": "REPLY"})
    return fresh.as_bytes()


def machine(mail: EmailMessage) -> bytes:
    mail["Auto-Submitted"] = "auto-replied"
    return mail.as_bytes()


def bounce(mail: EmailMessage) -> bytes:
    out = EmailMessage(policy=SMTP)
    out["From"], out["To"], out["Subject"] = "mailer-daemon@power.example", str(mail["To"]), "Undelivered"
    out.set_content("It did not arrive.")
    out.add_attachment(mail)
    return out.as_bytes().replace(b"multipart/mixed", b"multipart/report; report-type=delivery-status", 1)


def forwarded(mail: EmailMessage) -> bytes:
    out = EmailMessage(policy=SMTP)
    out["From"], out["To"], out["Subject"] = "sam@power.example", str(mail["To"]), "Fwd"
    out.set_content("See below.")
    out.add_attachment(mail)
    return out.as_bytes()


WRONG: dict[str, tuple[Callable[[EmailMessage], bytes], str]] = {
    "out of office": (machine, "by a machine"),
    "bounce": (bounce, "did not arrive"),
    "forwarded": (forwarded, "no answer"),
    "plain words": (
        lambda m: b"From: sam@power.example\r\nSubject: Re\r\n\r\nYes, I will come.\r\n",
        "read it yourself",
    ),
    "nothing": (lambda m: b"", "read it yourself"),
    "too large": (lambda m: m.as_bytes() + b"x" * LARGEST_MAIL, "too large"),
    "two answers": (lambda m: changed(m, "END:VEVENT", "END:VEVENT\r\nBEGIN:VEVENT\r\nUID:x\r\nEND:VEVENT"), "several"),
    "a series": (lambda m: changed(m, "END:VEVENT", "RRULE:FREQ=DAILY\r\nEND:VEVENT"), "several"),
    "two people": (lambda m: changed(m, "END:VEVENT", "ATTENDEE:mailto:x@y.example\r\nEND:VEVENT"), "several people"),
    "delegated": (lambda m: changed(m, "PARTSTAT=ACCEPTED", "PARTSTAT=DELEGATED"), "neither accepts nor declines"),
    "another method": (lambda m: changed(m, "METHOD:REPLY", "METHOD:REQUEST"), "no answer"),
    "two methods": (lambda m: changed(m, "METHOD:REPLY", "METHOD:COUNTER"), "two things"),
    "no moment": (lambda m: changed(m, "DTSTAMP:20270301T150000Z", "DTSTAMP:20270301T150000"), "when it was answered"),
    "no calendar": (lambda m: changed(m, "BEGIN:VEVENT", "BEGIN VEVENT"), "cannot be read"),
}


@pytest.mark.parametrize("name", WRONG)
def test_what_is_no_answer_is_told_as_what_it_is(letters: Letters, name: str) -> None:
    make, words = WRONG[name]
    found = letters.read(make(answer(letters.sent["tie-in"])))
    assert found.event is None
    assert words in found.said


def test_a_proposed_time_must_be_one(letters: Letters) -> None:
    tie_in, asked = letters.sent["tie-in"], letters.asked("tie-in")
    for wrong, words in (
        (asked.told_start, "the same beginning"),
        (letters.now - timedelta(days=1), "has passed"),
        (datetime(2027, 3, 30, 9), "time zone"),
    ):
        assert words in letters.read(answer(tie_in, counter=wrong)).said


def spoiled(mail: bytes, chance: Random) -> bytes:
    """Return a mail with a few bytes lost, doubled, moved or changed, also within its encoded calendar."""
    out = bytearray(mail)
    for _ in range(chance.choice((1, 1, 2, 5, 40))):
        at = chance.randrange(max(1, len(out)))
        kind = chance.randrange(6)
        if kind == 0:
            del out[at : at + chance.randint(1, 60)]
        elif kind == 1:
            out[at:at] = out[at : at + chance.randint(1, 200)]
        elif kind == 2:
            out[at:at] = bytes(chance.randrange(256) for _ in range(chance.randint(1, 12)))
        elif kind == 3:
            out[at : at + 1] = chance.choice(
                (b"\r\n", b"\x00", b"\xff", b":", b";", b"=", b'"', b"--", b"\r\nFrom: a@b")
            )
        elif kind == 4:
            del out[at:]
        else:
            where = chance.randrange(max(1, len(out)))
            out[at : at + 30], out[where : where + 30] = out[where : where + 30], out[at : at + 30]
    return bytes(out)


@pytest.mark.property
def test_two_hundred_damaged_mails_are_told_without_a_traceback(letters: Letters) -> None:
    chance = Random(16)
    tie_in = letters.sent["tie-in"]
    asked = letters.asked("tie-in")
    later = asked.told_start + timedelta(days=5)
    whole = [answer(tie_in), answer(tie_in, "DECLINED", comment="No, sorry."), answer(tie_in, counter=later), tie_in]
    text = next(p for p in whole[0].walk() if p.get_content_type() == "text/calendar").get_content()
    kinds = set()
    for n in range(400):
        mail = chance.choice(whole)
        if n % 2:
            raw = spoiled(mail.as_bytes(), chance)
        else:  # the calendar damaged, whole in its envelope
            inner = base64.encodebytes(spoiled(text.encode(), chance))
            head = b"From: sam@power.example\r\nMIME-Version: 1.0\r\nContent-Type: text/calendar; method=REPLY\r\n"
            raw = head + b"Content-Transfer-Encoding: base64\r\n\r\n" + inner
        found = letters.read(raw)
        kinds.add(found.kind)
        assert found.said.startswith("The mail ") or found.event is not None
        if found.event is not None:  # what the damage spared still says what was answered
            assert (found.event.of, found.event.uid, found.event.means) == ("tie-in", asked.uid, "mail")
            assert type(found.event) is Called
    assert kinds >= {"answer", "refused", "other"}


def test_answers_are_read_from_files(letters: Letters, tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    files = {"yes": answer(letters.sent["plumber"]), "no": answer(letters.sent["tie-in"], "DECLINED")}
    for name, mail in files.items():
        (tmp_path / f"{name}.eml").write_bytes(mail.as_bytes())
    (tmp_path / "junk.eml").write_bytes(b"\xff\x00nothing")
    words = ["answers", str(letters.job.path), "--now", READ]
    assert main([*words, "--mail", *(str(tmp_path / f"{n}.eml") for n in ("yes", "no", "junk", "yes"))]) == 1
    out = " ".join(capsys.readouterr().out.split())
    assert "Tom Bell agreed to come Wed 3 Mar" in out
    assert "Sam Wirth said no to Wed 17 Mar 11:00, by mail from sam@power.example." in out
    assert "jointtrench replan" in out
    assert "The mail is on record already." in out
    with closing(letters.job.journal()) as journal:
        rows = journal.entries()
    wrote = [e for e in rows if isinstance(e.event, Called)]
    assert [(e.by, e.known_by, e.event.answer) for e in wrote] == [  # type: ignore[union-attr]
        ("Tom Bell", "mail", "agreed"),
        ("Sam Wirth", "mail", "refused"),
    ]
    assert not any(isinstance(e.event, HoldReleased) for e in rows)
    assert main([*words, "--mail", str(tmp_path / "nowhere.eml")]) == 2


def test_answers_are_read_from_a_mailbox_once(letters, certificate, monkeypatch, capsys) -> None:
    with mailbox_server(certificate) as server:
        server.put(b"From: news@shop.example\r\nSubject: Offer\r\n\r\nPipe, cheap.\r\n")
        server.put(answer(letters.sent["plumber"]).as_bytes())
        server.put(answer(letters.sent["tie-in"], sender="evil@evil.example").as_bytes())
        server.put(b"x" * (LARGEST_MAIL + 1))
        config = settings(letters.job, certificate, server.port)
        config.write_text(
            config.read_text().replace("[mail.smtp]", "[mail.imap]").replace("starttls", "from_the_start")
        )
        words = ["answers", str(letters.job.path), "--now", READ, "--config", str(config)]
        monkeypatch.setenv("JOINTTRENCH_MAIL_PASSWORD", "wrong")
        assert main(words) == 2
        assert "the mailbox cannot be read" in capsys.readouterr().err
        monkeypatch.setenv("JOINTTRENCH_MAIL_PASSWORD", "a password")
        assert main(words) == 1
        out = capsys.readouterr().out
        assert "Tom Bell agreed to come" in out
        assert "evil@evil.example, who was not asked" in out
        assert "2 other unread mails in the mailbox, left unread." in out
        assert server.seen == {2, 3}
        assert main(words) == 0
        assert "2 other unread mails" in capsys.readouterr().out
    assert [e.answer for e in letters.job.said() if isinstance(e, Called)] == ["agreed"]


def test_answers_need_something_to_read(letters: Letters, capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["answers", str(letters.job.path), "--now", READ]) == 2
    assert "[mail.imap]" in capsys.readouterr().err
