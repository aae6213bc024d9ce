"""Texts for a telephone, and drafts that the user's own mail or text program opens.

A text is one of at most 160 characters of the GSM 7-bit alphabet (3GPP TS 23.038 section 6.2.1), so that it goes out
as one message; of the characters reached by an escape each counts as two.
"""

from __future__ import annotations

import re
import unicodedata
from urllib.parse import quote

from scheduler.export.mail.invitation_mail import about, plain_words, subject
from scheduler.export.mail.invitations import Invitation
from scheduler.site.people import Person
from scheduler.situation.situation import Situation
from scheduler.spoken import moment

LONGEST_TEXT = 160
GSM_7 = frozenset(
    "@£$¥èéùìòÇ\nØø\rÅåΔ_ΦΓΛΩΠΨΣΘΞÆæßÉ !\"#¤%&'()*+,-./0123456789:;<=>?¡ABCDEFGHIJKLMNOPQRSTUVWXYZÄÖÑÜ§¿"
    "abcdefghijklmnopqrstuvwxyzäöñüà"
)
GSM_7_ESCAPED = frozenset("^{}\\[~]|€")
TEMPLATES = (
    "{firm}: can you come {when}{instead} for {about}? {answer}",
    "{firm}: can you come {when} for {about}? {answer}",
    "Can you come {when} for {about}? {answer}",
    "Can you come {when}? {answer}",
)
"""The first that fits is taken, the last with whatever it takes cut off."""
CALLED_OFF = ("{firm}: you are not needed {when}, {about}. {answer}", "You are not needed {when}. {answer}")


def text_length(text: str) -> int:
    """Return how many characters of a message a text takes; raises ValueError for one outside the alphabet."""
    if odd := set(text) - GSM_7 - GSM_7_ESCAPED:
        raise ValueError(f"not in the GSM 7-bit alphabet: {sorted(odd)}")
    return len(text) + sum(c in GSM_7_ESCAPED for c in text)


def in_gsm_7(text: str) -> str:
    """Return text in the GSM 7-bit alphabet: accents that it lacks fall away, what it lacks altogether becomes '?'."""
    return "".join(c if c in GSM_7 or c in GSM_7_ESCAPED else _plain(c) for c in text)


def _plain(letter: str) -> str:
    kept = "".join(c for c in unicodedata.normalize("NFKD", letter) if c in GSM_7)
    return kept or ("-" if unicodedata.category(letter) == "Pd" else "?")


def short_text(situation: Situation, invitation: Invitation, asker: Person, link: str = "") -> str:
    """Return an invitation as one text message, with the address of the page that answers, where there is one."""
    zone = situation.network.clock.when(0).tzinfo
    was = invitation.was.astimezone(zone) if invitation.was else None
    words = {
        "firm": asker.of or asker.name,
        "when": moment(invitation.start.astimezone(zone)),
        "instead": f" instead of {moment(was)}" if was else "",
        "about": about(situation, invitation),
        "answer": (f"Answer: {link}" if link else "") if invitation.called_off else f"Yes or no? {link}".rstrip(),
    }
    for template in CALLED_OFF if invitation.called_off else TEMPLATES:
        text = in_gsm_7(" ".join(template.format(**words).split()))
        if text_length(text) <= LONGEST_TEXT:
            return text
    text = in_gsm_7(f"Can you come {words['when']}? Yes or no?" if not invitation.called_off else text)
    while text_length(text) > LONGEST_TEXT:
        text = text[:-1]
    return text


def text_draft(invitation: Invitation, text: str) -> str:
    """Return the address that opens the telephone's text program with a message (RFC 5724)."""
    number = re.sub(r"[^0-9+]", "", invitation.person.phone)
    return f"sms:{number}?body={quote(text, safe='')}"


def mail_draft(situation: Situation, invitation: Invitation, asker: Person) -> str:
    """Return the address that opens the user's mail program with a letter (RFC 6068); no calendar goes with it."""
    body = plain_words(situation, invitation, asker).replace("\n", "\r\n")
    to = quote(invitation.person.mail, safe="@")
    return f"mailto:{to}?subject={quote(subject(situation, invitation), safe='')}&body={quote(body, safe='')}"
