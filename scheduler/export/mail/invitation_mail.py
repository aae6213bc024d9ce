"""An invitation as a mail: plain words, and the same as a calendar can read it (RFC 5546, in the form of RFC 6047)."""

from __future__ import annotations

from datetime import UTC, datetime
from email.headerregistry import Address
from email.message import EmailMessage
from email.policy import SMTP
from email.utils import format_datetime, make_msgid

from icalendar import Calendar, vCalAddress, vText
from icalendar import Event as Entry

from scheduler.errors import BadInput
from scheduler.export.calendar_events import CANCELLED, CONFIRMED
from scheduler.export.calendar_files import MAKER
from scheduler.export.mail.invitations import Invitation
from scheduler.export.names import one_line
from scheduler.export.zone import timezone
from scheduler.findings import Finding, Severity
from scheduler.site.people import Person
from scheduler.situation.situation import Situation
from scheduler.spoken import moment


def organiser(situation: Situation, sender: str = "", *, by_mail: bool = True) -> Person:
    """Return who asks, and to whom answers go: the contractor of the site file, from the address of the settings.

    Raises BadInput when there is none, or when asking is to be done by mail and neither gives an address.
    """
    people = situation.site.people
    general = next((p for p in people if p.role == "general_contractor" and (sender or p.mail or not by_mail)), None)
    if general is None:
        text = "has no mail address, so nobody could answer."
        required = "`mail` of the general contractor under `people`"
        raise BadInput([Finding("mail/organiser", Severity.STOP, "The contractor", text, "", required)])
    return general.model_copy(update={"mail": sender}) if sender else general


def subject(situation: Situation, invitation: Invitation) -> str:
    """Return the subject line: what is asked for when, and on which site."""
    when = moment(_local(situation, invitation.start))
    what = "Not needed any more" if invitation.called_off else "Now wanted" if invitation.was else "Please come"
    return one_line(f"{what}: {about(situation, invitation)}, {when} ({situation.site.site.name})")


def about(situation: Situation, invitation: Invitation) -> str:
    """Return what an appointment is for: by its call, else by the name of its inspection, outside work or trade."""
    site = situation.site
    named = {r.id: r.name for part in (site.inspections, site.outside_work, site.trades) for r in part}
    return invitation.about or named.get(invitation.of, invitation.of)


def plain_words(situation: Situation, invitation: Invitation, asker: Person) -> str:
    """Return an invitation as a letter of a few lines."""
    start, work = _local(situation, invitation.start), situation.work
    names = [work[a].name for a in invitation.activities if a in work]
    if invitation.called_off:
        asked = f"You are not needed any more {moment(start)}: {about(situation, invitation)}."
        lines = [asked, *([] if not names else ["It was for:", *(f"- {n}" for n in names)])]
    else:
        instead = f" instead of {moment(_local(situation, invitation.was))}" if invitation.was else ""
        lines = [f"Can you come {moment(start)}{instead}? {about(situation, invitation)}.", *(f"- {n}" for n in names)]
        lines.append("Accept or decline in your calendar, or propose another time; or answer this mail.")
    signed = [f"{asker.name}{', ' + asker.of if asker.of else ''}{', ' + asker.phone if asker.phone else ''}"]
    made_up = ["Invented demonstration data."] if situation.site.site.invented else []
    return "\n".join([f"{invitation.person.name},", "", *lines, "", situation.site.site.name, *signed, *made_up]) + "\n"


def invitation_ics(situation: Situation, invitation: Invitation, asker: Person, made: datetime) -> bytes:
    """Return an invitation as iCalendar: a REQUEST to answer, or a CANCEL (RFC 5546 sections 3.2.2 and 3.2.5)."""
    start, finish = _local(situation, invitation.start), _local(situation, invitation.finish)
    out = Calendar()
    out.add("prodid", MAKER)
    out.add("version", "2.0")
    out.add("method", "CANCEL" if invitation.called_off else "REQUEST")
    out.add_component(timezone(situation.site.site.time_zone, start.date(), finish.date()))
    entry = Entry()
    entry.add("uid", invitation.uid)
    entry.add("sequence", invitation.sequence)
    entry.add("dtstamp", made.astimezone(UTC))
    entry.add("dtstart", start)
    entry.add("dtend", finish)
    entry.add("summary", one_line(f"{about(situation, invitation)} ({situation.site.site.name})"))
    entry.add("description", vText(plain_words(situation, invitation, asker)))
    entry.add("status", CANCELLED if invitation.called_off else CONFIRMED)
    entry.add("organizer", _address(asker))
    attendee = _address(invitation.person)
    if not invitation.called_off:
        attendee.params.update({"ROLE": "REQ-PARTICIPANT", "PARTSTAT": "NEEDS-ACTION", "RSVP": "TRUE"})
    entry.add("attendee", attendee)
    out.add_component(entry)
    content: bytes = out.to_ical()
    return content


def invitation_mail(situation: Situation, invitation: Invitation, asker: Person, made: datetime) -> EmailMessage:
    """Return an invitation as a mail, ready to be sent or kept as an .eml file.

    Names and subjects are put on one line before they become headers, and the mail library refuses any that is not.
    """
    mail = EmailMessage(policy=SMTP)
    mail["From"] = Address(one_line(asker.name), addr_spec=asker.mail)
    mail["To"] = Address(one_line(invitation.person.name), addr_spec=invitation.person.mail)
    mail["Subject"] = subject(situation, invitation)
    mail["Date"] = format_datetime(made.astimezone(UTC))
    mail["Message-ID"] = make_msgid(domain=asker.mail.rpartition("@")[2])
    mail.set_content(plain_words(situation, invitation, asker))
    method = "CANCEL" if invitation.called_off else "REQUEST"
    text = invitation_ics(situation, invitation, asker, made).decode()
    mail.add_alternative(text, subtype="calendar", params={"method": method}, cte="base64")
    return mail


def _address(person: Person) -> vCalAddress:
    address = vCalAddress(f"mailto:{person.mail}")
    address.params["CN"] = one_line(person.name.replace('"', "'"))
    return address


def _local(situation: Situation, when: datetime) -> datetime:
    return when.astimezone(situation.network.clock.when(0).tzinfo)
