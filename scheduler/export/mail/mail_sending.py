"""Mails sent by the firm's own server."""

from __future__ import annotations

import smtplib
from collections.abc import Iterator
from contextlib import contextmanager
from email.message import EmailMessage

from scheduler.errors import BadInput
from scheduler.export.mail.mail_settings import MailServer
from scheduler.findings import Finding, Severity

ANSWER_SECONDS = 20.0


class Sender:
    """A server that takes mails."""

    def __init__(self, connection: smtplib.SMTP, host: str) -> None:
        self._connection, self._host = connection, host

    def send(self, mail: EmailMessage) -> None:
        """Give a mail to the server; when this returns, it has taken it. Raises BadInput when it did not."""
        try:
            self._connection.send_message(mail)
        except (smtplib.SMTPException, OSError) as error:
            raise _unsent(self._host, error) from None


@contextmanager
def sending(server: MailServer) -> Iterator[Sender]:
    """Open a connection to a mail server for a few mails. Raises BadInput when it cannot be used."""
    password = server.password
    try:
        if server.tls == "from_the_start":
            connection: smtplib.SMTP = smtplib.SMTP_SSL(
                server.host, server.port, timeout=ANSWER_SECONDS, context=server.context()
            )
        else:
            connection = smtplib.SMTP(server.host, server.port, timeout=ANSWER_SECONDS)
        with connection:
            if server.tls == "starttls":
                connection.starttls(context=server.context())
            if server.user:
                connection.login(server.user, password)
            yield Sender(connection, server.host)
    except (smtplib.SMTPException, OSError) as error:
        raise _unsent(server.host, error) from None


def _unsent(host: str, error: Exception) -> BadInput:
    words = " ".join(str(error).split())[:200] or type(error).__name__
    return BadInput([Finding("mail/sending", Severity.STOP, host, f"did not take the mail: {words}.")])
