"""The unread mails of a mailbox (IMAP, RFC 9051), for the answers among them."""

from __future__ import annotations

import imaplib
import re
from collections.abc import Iterator
from contextlib import contextmanager, suppress

from scheduler.errors import BadInput
from scheduler.export.mail.mail_answers import LARGEST_MAIL
from scheduler.export.mail.mail_sending import ANSWER_SECONDS
from scheduler.export.mail.mail_settings import MailServer
from scheduler.findings import Finding, Severity

MOST_MAILS = 500
"""Unread mails that are looked at, the newest."""


class Mailbox:
    """An open mailbox. Nothing is removed from it, and a mail is marked as read only when asked for."""

    def __init__(self, connection: imaplib.IMAP4, host: str) -> None:
        self._connection, self._host = connection, host

    def unread(self) -> Iterator[tuple[str, bytes]]:
        """Yield the unread mails, the oldest first, each with its number; one that is too large without content."""
        numbers = re.findall(rb"\d+", _flat(self._asked("SEARCH", "UNSEEN")))
        for number in (n.decode() for n in numbers[-MOST_MAILS:]):
            size = re.search(rb"RFC822\.SIZE (\d+)", _flat(self._asked("FETCH", number, "(RFC822.SIZE)")))
            if size is None or int(size[1]) > LARGEST_MAIL:
                yield number, b""
                continue
            found = self._asked("FETCH", number, "(BODY.PEEK[])")
            yield number, next((row[1] for row in found if isinstance(row, tuple)), b"")

    def mark_read(self, number: str) -> None:
        """Mark a mail as read, so that it is not looked at again."""
        self._asked("STORE", number, "+FLAGS.SILENT", r"(\Seen)")

    def _asked(self, *words: str) -> list[bytes | tuple[bytes, bytes]]:
        good, found = self._connection.uid(*words)
        if good != "OK":
            raise _unread(self._host, f"it answered {good}")
        return [row for row in found if isinstance(row, bytes | tuple)]


def _flat(rows: list[bytes | tuple[bytes, bytes]]) -> bytes:
    return b" ".join(row if isinstance(row, bytes) else b" ".join(row) for row in rows)


@contextmanager
def mailbox(server: MailServer, folder: str) -> Iterator[Mailbox]:
    """Open a mailbox. Raises BadInput when it cannot be used."""
    password = server.password
    try:
        if server.tls == "from_the_start":
            connection: imaplib.IMAP4 = imaplib.IMAP4_SSL(
                server.host, server.port, ssl_context=server.context(), timeout=ANSWER_SECONDS
            )
        else:
            connection = imaplib.IMAP4(server.host, server.port, timeout=ANSWER_SECONDS)
            if server.tls == "starttls":
                connection.starttls(server.context())
        try:
            connection.login(server.user, password)
            quoted = '"' + folder.replace("\\", "\\\\").replace('"', '\\"') + '"'
            if connection.select(quoted)[0] != "OK":
                raise _unread(server.host, f"it has no folder '{folder}'")
            yield Mailbox(connection, server.host)
        finally:
            with suppress(imaplib.IMAP4.error, OSError):
                connection.logout()
    except (imaplib.IMAP4.error, OSError) as error:
        words = error.args[0] if error.args and isinstance(error.args[0], bytes) else str(error).encode()
        raise _unread(server.host, " ".join(words.decode(errors="replace").split())[:200]) from None


def _unread(host: str, words: str) -> BadInput:
    return BadInput([Finding("mail/mailbox", Severity.STOP, host, f"the mailbox cannot be read: {words}.")])
