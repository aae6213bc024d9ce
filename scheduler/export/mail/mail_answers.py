"""What people answer to invitations by mail: yes, no, perhaps, or another time (RFC 5546 REPLY and COUNTER).

An answer counts when it names an invitation of this job by its UID, in the number that went out last, and comes from
the address that was asked or from somebody of the same firm in the site file. What that proves: whoever answered has
seen the invitation, for its UID is 128 random bits, and writes under an address that was asked. What it does not
prove: who it was, for a sender's address can be forged and a mailbox be read by others. So a mail can only say whether
somebody comes; it releases nothing, approves nothing, and each answer says that it came by mail.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from datetime import datetime
from email import message_from_bytes
from email.message import EmailMessage, Message
from email.policy import default
from email.utils import getaddresses
from typing import Any, Literal

from icalendar import Calendar

from scheduler.export.mail.invitations import all_asked, last_asked
from scheduler.export.names import one_line
from scheduler.ledger.call_events import Answer, AskedInWriting, Called
from scheduler.situation.call_list import calls_of, said_in_call
from scheduler.situation.situation import Situation
from scheduler.spoken import moment

LARGEST_MAIL = 2_000_000
"""Bytes; a larger mail is not opened."""
LARGEST_CALENDAR = 100_000
LONGEST_COMMENT = 500
ANSWERS: dict[str, Answer] = {"ACCEPTED": "agreed", "DECLINED": "refused", "TENTATIVE": "tentative"}
"""What the calendar's word for an answer is in the journal."""
NO_ANSWER = "is no answer to an invitation"


@dataclass(frozen=True, slots=True)
class MailAnswer:
    """What a mail came to."""

    kind: Literal["answer", "ignored", "refused", "other"]
    """'answer': to be written down; 'ignored': old, or on record; 'refused': it does not count; 'other': no answer."""
    said: str
    """What it is and why, in a sentence."""
    event: Called | None = None
    """The entry to be written down; None unless it is an answer."""
    person: str = ""
    """The name of whoever answered, as the site file has it."""


class _UnfitError(Exception):
    """A mail from which nothing follows."""

    def __init__(self, kind: Literal["ignored", "refused", "other"], words: str) -> None:
        super().__init__(words)
        self.kind: Literal["ignored", "refused", "other"] = kind


def read_answer(situation: Situation, raw: bytes, now: datetime) -> MailAnswer:
    """Return what a mail answers to the invitations on record; never raises, whatever the mail holds."""
    try:
        return _answer(situation, raw, now)
    except _UnfitError as unfit:
        return MailAnswer(unfit.kind, f"The mail {unfit}.")
    except Exception:  # damaged mails make both libraries raise almost anything
        return MailAnswer("refused", "The mail is damaged: it cannot be read.")


def _answer(situation: Situation, raw: bytes, now: datetime) -> MailAnswer:
    if len(raw) > LARGEST_MAIL:
        raise _UnfitError("refused", f"is too large to be an answer: {len(raw) / 1e6:.1f} MB")
    mail = message_from_bytes(raw, policy=default)
    assert isinstance(mail, EmailMessage)
    _by_somebody(mail)
    method, event = _calendar_of(mail)
    asked = last_asked(all_asked(situation.state)).get(str(event.get("uid", "")))
    if asked is None:
        raise _UnfitError("refused", "answers an invitation that this job never sent")
    sender = _sender(mail)
    name = _who(situation, asked, sender)
    attendee = _attendee(event)
    _who(situation, asked, str(attendee).lower().removeprefix("mailto:"))
    _number(event, asked)
    if asked.told_start <= now:
        raise _UnfitError("ignored", f"comes too late: it is about {moment(asked.told_start)}")
    stamp = event.decoded("dtstamp")
    if not isinstance(stamp, datetime) or stamp.tzinfo is None:
        raise _UnfitError("refused", "does not say when it was answered")
    status = str(attendee.params.get("PARTSTAT", "")).upper()
    if method == "COUNTER":
        answer, offers = ANSWERS["DECLINED"], _offered(event, asked, now)
    elif status in ANSWERS:
        answer, offers = ANSWERS[status], None
    else:
        raise _UnfitError("refused", f"neither accepts nor declines: '{one_line(status)[:40] or 'nothing'}'")
    _newer(situation, asked, stamp, answer, offers)
    said = _said(situation, asked) | {"person": asked.person, "means": "mail", "uid": asked.uid, "answered_at": stamp}
    words = one_line(str(event.get("comment", "")))[:LONGEST_COMMENT]
    called = Called(**said, answer=answer, offers=offers, words=words, when=now)
    what = {"agreed": "agreed to come", "refused": "said no to", "tentative": "said perhaps to"}[answer]
    when = moment(asked.told_start.astimezone(situation.moment.tzinfo))
    other = f" and can come {moment(offers.astimezone(situation.moment.tzinfo))}" if offers else ""
    return MailAnswer("answer", f"{name} {what} {when}{other}, by mail from {sender}.", called, name)


def _by_somebody(mail: Message) -> None:
    """Raise where no person wrote a mail: reports that it did not arrive, and automatic answers (RFC 3834)."""
    if mail.get_content_type() == "multipart/report" or str(mail.get("Return-Path", "")).strip() == "<>":
        raise _UnfitError("other", "reports on another mail, perhaps that it did not arrive; nobody answered")
    if str(mail.get("Auto-Submitted", "no")).strip().lower() != "no" or mail.get("X-Autoreply"):
        raise _UnfitError("other", "was answered by a machine; nobody has agreed")


def _sender(mail: Message) -> str:
    """Return the one address that a mail is from; a mail with several senders is from nobody."""
    found = getaddresses([str(h) for h in mail.get_all("From", [])])
    if len(found) != 1 or "@" not in found[0][1]:
        raise _UnfitError("refused", "does not say from whom it is, or says it twice")
    return found[0][1].lower()


def _parts(mail: Message) -> Iterator[Message]:
    """Yield the parts of a mail, without those of mails that are attached to it."""
    if mail.is_multipart() and mail.get_content_maintype() == "multipart":
        for part in mail.iter_parts() if isinstance(mail, EmailMessage) else mail.get_payload():
            if isinstance(part, Message):
                yield from _parts(part)
    else:
        yield mail


def _calendar_of(mail: Message) -> tuple[str, Any]:
    """Return the method and the one event of a mail's calendar; a mail that says two things says none."""
    texts: dict[bytes, Message] = {}
    for part in _parts(mail):
        if part.get_content_type() == "text/calendar":
            content = part.get_payload(decode=True)
            texts[content if isinstance(content, bytes) else b""] = part
    if not texts:
        raise _UnfitError("other", f"{NO_ANSWER}; read it yourself")
    if len(texts) > 1 or any(len(t) > LARGEST_CALENDAR for t in texts):
        raise _UnfitError("refused", "holds several calendars, or one that is too large to be an answer")
    ((content, part),) = texts.items()
    try:
        book = Calendar.from_ical(content.decode("utf-8"))
        events = book.walk("VEVENT")
        method = str(book.get("method", "")).upper()
    except (ValueError, KeyError, TypeError, AttributeError, IndexError):
        raise _UnfitError("refused", "holds a calendar that cannot be read") from None
    if method not in ("REPLY", "COUNTER"):
        raise _UnfitError("other", NO_ANSWER)
    told = part.get_param("method")
    if isinstance(told, str) and told.upper() != method:
        raise _UnfitError("refused", "says two things about what it is")
    if len(events) != 1 or "rrule" in events[0] or "recurrence-id" in events[0]:
        raise _UnfitError("refused", "is about several appointments, or none")
    return method, events[0]


def _attendee(event: Any) -> Any:
    found = event.get("attendee")
    if found is None or isinstance(found, list):
        raise _UnfitError("refused", "does not say whose answer it is, or is of several people")
    return found


def _who(situation: Situation, asked: AskedInWriting, address: str) -> str:
    """Return the name of whoever answers from an address; raises where it is neither theirs nor their firm's."""
    people = situation.site.people
    person = next((p for p in people if p.id == asked.person), None)
    if address == asked.to.lower() and person is not None:
        return person.name
    firm = [p for p in people if person is not None and p.of and p.of == person.of and p.mail.lower() == address]
    if not firm:
        raise _UnfitError("refused", f"comes from {one_line(address)[:100]}, who was not asked")
    return firm[0].name


def _number(event: Any, asked: AskedInWriting) -> None:
    number = int(event.get("sequence", 0))
    if number < asked.sequence:
        raise _UnfitError(
            "ignored", f"answers what was asked before; it has changed since ({number} < {asked.sequence})"
        )
    if number > asked.sequence:
        raise _UnfitError("refused", f"answers a change that was never sent ({number} > {asked.sequence})")
    if asked.called_off:
        raise _UnfitError("ignored", "is about an appointment that was called off")


def _newer(
    situation: Situation, asked: AskedInWriting, stamp: datetime, answer: Answer, offers: datetime | None
) -> None:
    """Raise where an answer is on record already, or a later one is (RFC 5546 section 2.1.5)."""
    before = [n.entry.event for n in situation.state.counting if isinstance(n.entry.event, Called)]
    theirs = [c for c in before if c.uid == asked.uid and c.answered_at is not None]
    last = theirs[-1] if theirs else None
    if last is None or last.answered_at is None or last.told_start != asked.told_start:
        return
    if stamp <= last.answered_at:
        same = stamp == last.answered_at and (last.answer, last.offers) == (answer, offers)
        raise _UnfitError("ignored", "is on record already" if same else "is older than the answer on record")


def _offered(event: Any, asked: AskedInWriting, now: datetime) -> datetime:
    """Return the time that somebody proposes instead."""
    start = event.decoded("dtstart")
    if not isinstance(start, datetime) or start.tzinfo is None:
        raise _UnfitError("refused", "proposes a time without saying in which time zone, or a whole day")
    if start == asked.told_start:
        raise _UnfitError(
            "refused", "proposes the same beginning; what else it asks for is in its words: read it yourself"
        )
    if start <= now:
        raise _UnfitError("refused", "proposes a time that has passed")
    return start


def _said(situation: Situation, asked: AskedInWriting) -> dict[str, Any]:
    """Return what an answer settles: as the call has it that is due, else as it was asked."""
    due: Iterable[Any] = (
        c
        for c in calls_of(situation)
        if c.of == asked.of and c.now == asked.told_start and set(c.activities) & set(asked.activities)
    )
    call = next(iter(due), None)
    if call is not None:
        return said_in_call(call)
    return {"of": asked.of, "told_start": asked.told_start, "activities": asked.activities}
