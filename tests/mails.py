"""For tests of mail: the small site with mail addresses, its plan in force, and what people's calendars answer."""

from __future__ import annotations

from contextlib import closing
from datetime import UTC, datetime, timedelta
from email import message_from_bytes
from email.message import EmailMessage
from email.policy import SMTP
from functools import cache
from pathlib import Path

import vobject

import scheduler
from scheduler import Case, Plan, Planned, Situation, as_accepted, bundled_sites, put_in_force
from scheduler.ledger.place import place_of
from scheduler.ledger.state import fold
from scheduler.ledger.store import Journal
from tests.kept_plans import kept_plan

ADDRESSES = {
    "555-0101": "ruth@amsel.example",
    "555-0112": "tom@bell.example",
    "555-0123": "carol@sorrel.example",
    "555-0131": "sam@power.example",
    "555-0132": "ana@power.example",
}


def site_text() -> str:
    """Return the small site with mail addresses, in a file's text."""
    text = bundled_sites()["orchard-lane"].read_text(encoding="utf-8")
    for phone, mail in ADDRESSES.items():
        text = text.replace(f"phone: {phone}", f"phone: {phone}, mail: {mail}")
    return text


@cache
def mailed() -> Planned:
    """Return the small site with mail addresses, planned; to be read only."""
    return kept_plan(scheduler.load(site_text()), scheduler.Options(only_finish=True))


class MailedJob:
    """A job in a folder, with its plan in force since the evening before it begins."""

    def __init__(self, folder: Path) -> None:
        self.path = folder / "lane.yaml"
        self.path.write_text(site_text(), encoding="utf-8")
        self.case: Case = scheduler.load(self.path)
        assert self.case.made(mailed().plan)
        self.begin = mailed().plan.data_date - timedelta(days=1)
        with closing(self.journal()) as journal:
            put_in_force(journal, mailed().plan, by="Ruth Amsel", at=self.begin)

    def journal(self) -> Journal:
        return place_of(self.case.site, self.case.path).open()

    def situation(self, at: datetime | None = None, plan: Plan | None = None) -> Situation:
        """Return the site as it stands by the first plan, or another that was accepted last."""
        moment = at or self.begin + timedelta(hours=8)
        with closing(self.journal()) as journal:
            entries = journal.entries()
        state = fold(entries, moment)
        force: Planned | None = mailed()
        if plan is not None:
            assert state.plan is not None
            force = as_accepted(self.case, entries, state.plan, plan)
        assert force is not None
        return scheduler.today(self.case, entries, moment, force, state=state)

    def said(self) -> list[object]:
        """Return what stands in the journal."""
        with closing(self.journal()) as journal:
            return [e.event for e in journal.entries()]


def calendar_part(mail: EmailMessage) -> EmailMessage:
    """Return the part of a mail that a calendar reads."""
    (part,) = [p for p in mail.walk() if p.get_content_type() == "text/calendar"]
    assert isinstance(part, EmailMessage)
    return part


def read_mail(content: bytes) -> EmailMessage:
    mail = message_from_bytes(content, policy=SMTP)
    assert isinstance(mail, EmailMessage)
    return mail


def _in_utc(when: datetime) -> datetime:
    """Return a moment in the one zone that vobject writes without a VTIMEZONE; one without a zone as it is."""
    return when.astimezone(vobject.icalendar.utc) if when.tzinfo else when


def answer(
    asked: EmailMessage, status: str = "ACCEPTED", *, sender: str = "", uid: str = "", sequence: int | None = None,
    counter: datetime | None = None, stamp: datetime | None = None, comment: str = "",
) -> EmailMessage:  # fmt: skip
    """Return what a calendar program (here: vobject) answers to an invitation (RFC 5546 sections 3.2.3 and 3.2.7)."""
    invited = vobject.readOne(calendar_part(asked).get_content()).vevent
    reply = vobject.iCalendar()
    reply.add("method").value = "COUNTER" if counter else "REPLY"
    event = reply.add("vevent")
    event.add("uid").value = uid or invited.uid.value
    event.add("sequence").value = str(invited.sequence.value if sequence is None else sequence)
    event.add("dtstamp").value = _in_utc(stamp or datetime(2027, 3, 1, 15, tzinfo=UTC))
    event.add("dtstart").value = _in_utc(counter or invited.dtstart.value)
    event.add("dtend").value = _in_utc(counter or invited.dtstart.value) + timedelta(hours=1)
    event.add("organizer").value = invited.organizer.value
    who = event.add("attendee")
    who.value, who.params["PARTSTAT"] = f"mailto:{sender or asked['To'].addresses[0].addr_spec}", [status]
    if comment:
        event.add("comment").value = comment
    mail = EmailMessage(policy=SMTP)
    mail["From"] = sender or asked["To"]
    mail["To"] = asked["From"]
    mail["Subject"] = f"{status.capitalize()}: {asked['Subject']}"
    mail.set_content(f"{status}\n")
    mail.add_alternative(reply.serialize(), subtype="calendar", params={"method": reply.method.value})
    return mail
