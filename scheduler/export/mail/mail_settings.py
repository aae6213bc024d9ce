"""The firm's own mail servers, as a part `[mail]` of a configuration in TOML; passwords come from the environment."""

from __future__ import annotations

import os
import ssl
import tomllib
from ipaddress import ip_address
from pathlib import Path
from typing import Annotated, Literal

from pydantic import BaseModel, ConfigDict, Field, ValidationError, model_validator

from scheduler.errors import BadInput
from scheduler.findings import Finding, Severity
from scheduler.site.fields import Mail

EXAMPLE = """\
[mail]
sender = "office@amsel.example"      # from which invitations come and to which answers go

[mail.smtp]                          # by which they are sent
host = "smtp.amsel.example"
port = 465                           # 587 with tls = "starttls"
user = "office@amsel.example"        # the password stands in JOINTTRENCH_MAIL_PASSWORD

[mail.imap]                          # where answers are read
host = "imap.amsel.example"
port = 993
user = "office@amsel.example"
"""


class MailServer(BaseModel):
    """How one mail server is reached."""

    model_config = ConfigDict(extra="forbid", frozen=True, use_attribute_docstrings=True)

    host: Annotated[str, Field(min_length=1, max_length=253)]
    port: Annotated[int, Field(ge=1, le=65535)]
    tls: Literal["starttls", "from_the_start", "none"] = "from_the_start"
    """'none' is for a server on this very machine alone."""
    user: str = ""
    """Empty: nobody signs in."""
    password_variable: str = "JOINTTRENCH_MAIL_PASSWORD"
    """The environment variable that holds the password; none stands in a file."""
    trust: Path | None = None
    """A PEM file with the certificate that the server's is checked against; None: those the system trusts."""

    @model_validator(mode="after")
    def _safe(self) -> MailServer:
        if self.tls == "none" and not _this_machine(self.host):
            raise ValueError("without TLS a server is used on this machine only")
        return self

    @property
    def password(self) -> str:
        """The password; raises BadInput where the variable is not set."""
        found = os.environ.get(self.password_variable, "")
        if self.user and not found:
            text = "is not set, and holds the password of the mail server."
            raise BadInput([Finding("mail/settings", Severity.STOP, self.password_variable, text)])
        return found

    def context(self) -> ssl.SSLContext:
        """Return how its certificate is checked."""
        return ssl.create_default_context(cafile=str(self.trust) if self.trust else None)


class MailSettings(BaseModel):
    """Where invitations go out, and where answers are read."""

    model_config = ConfigDict(extra="forbid", frozen=True, use_attribute_docstrings=True)

    sender: Mail = ""
    """From which address invitations come, and to which answers go; empty: the contractor's in the site file."""
    smtp: MailServer | None = None
    imap: MailServer | None = None
    folder: str = "INBOX"
    """Of the mailbox."""


def _this_machine(host: str) -> bool:
    try:
        return host == "localhost" or ip_address(host).is_loopback
    except ValueError:
        return False


def read_mail_settings(path: Path) -> MailSettings:
    """Return the part `[mail]` of a configuration; raises BadInput with every fault."""
    try:
        said = tomllib.loads(path.read_text(encoding="utf-8")).get("mail", {})
        return MailSettings.model_validate(said)
    except (OSError, UnicodeDecodeError, tomllib.TOMLDecodeError) as error:
        faults = [("the file", f"cannot be read: {error}.")]
    except ValidationError as error:
        faults = [
            (".".join(["mail", *map(str, e["loc"])]), e["msg"].removeprefix("Value error, ") + ".")
            for e in error.errors()
        ]
    raise BadInput([Finding("mail/settings", Severity.STOP, where, text, file=path.name) for where, text in faults])
