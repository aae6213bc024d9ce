"""The configuration of a served dashboard: a small TOML file, every fault told with its line before anything starts."""

from __future__ import annotations

import re
import stat
import tomllib
from collections.abc import Iterator
from pathlib import Path
from typing import Annotated, Any
from urllib.parse import urlsplit

from pydantic import BaseModel, ConfigDict, Field, IPvAnyAddress, ValidationError, field_validator

from scheduler import BadInput, Finding, Severity
from scheduler.export import MailSettings

LEAST_SECRET = 32
EXAMPLE = """\
address = "127.0.0.1"                  # 0.0.0.0: every network of this machine
port = 8443
public_url = "https://trench.example"  # as phones open it
sites = "sites"                        # folder of site files, each with its people

[sign_in]
secret_file = "sign-in.secret"         # python -c "import secrets; print(secrets.token_urlsafe(48))" > sign-in.secret

[tls]                                  # or [proxy] with trusted = ["127.0.0.1"]
certificate = "certificate.pem"
key = "key.pem"
"""


class SettingsPart(BaseModel):
    """Base of every part: unknown keys are refused."""

    model_config = ConfigDict(extra="forbid", frozen=True, use_attribute_docstrings=True)


class SignInPart(SettingsPart):
    """How people are known."""

    secret_file: Path
    """Holds the secret that links are signed with; readable by its owner only."""


class TlsPart(SettingsPart):
    """The server's own certificate."""

    certificate: Path
    key: Path


class ProxyPart(SettingsPart):
    """A proxy that ends TLS in front of the server."""

    trusted: Annotated[list[IPvAnyAddress], Field(min_length=1)]
    """Addresses whose word is taken for where a request comes from; nobody else's is."""


class RatePart(SettingsPart):
    """How often one address may try."""

    sign_ins_per_minute: Annotated[int, Field(ge=1, le=600)] = 20


class AccountsPart(SettingsPart):
    """A provider of accounts (OpenID Connect), whose people sign in by the `mail` that the site file has of them."""

    issuer: str
    """As the provider names itself, such as https://login.example."""
    client_id: Annotated[str, Field(min_length=1)]
    client_secret_file: Path
    """Holds the secret that the provider gave this server; readable by its owner only."""

    @field_validator("issuer")
    @classmethod
    def reached_safely(cls, address: str) -> str:
        """Return an address that is reached by TLS, or lies on this machine."""
        parts = urlsplit(address)
        if not parts.hostname or not (parts.scheme == "https" or parts.hostname in ("localhost", "127.0.0.1")):
            raise ValueError("must be https:// and a name")
        return address


class ServedSettings(SettingsPart):
    """Everything that the configuration says."""

    address: IPvAnyAddress
    port: Annotated[int, Field(ge=1, le=65535)]
    public_url: str
    sites: Path
    sign_in: SignInPart
    database: str = "sqlite:///sign-in.db"
    """Where links, sessions and codes are kept; a relative SQLite file lies beside the configuration."""
    tls: TlsPart | None = None
    proxy: ProxyPart | None = None
    rates: RatePart = RatePart()
    accounts: AccountsPart | None = None
    upload_mb: Annotated[int, Field(ge=1, le=200)] = 25
    mail: MailSettings = MailSettings()
    """The firm's mail servers, for `jointtrench ask` and `answers`."""

    @field_validator("public_url")
    @classmethod
    def _whole(cls, url: str) -> str:
        parts = urlsplit(url)
        plain = parts.path in ("", "/") and not (parts.query or parts.fragment or parts.username)
        if parts.scheme != "https" or not parts.hostname or not plain:
            raise ValueError("must be https://, a name, and nothing after it")
        return f"https://{parts.netloc.lower()}"

    @property
    def host(self) -> str:
        """The host, with its port where there is one, as browsers name it."""
        return urlsplit(self.public_url).netloc


def read_settings(path: Path) -> tuple[ServedSettings, str]:
    """Return the settings of a file, paths made whole, and the sign-in secret. Raises BadInput with every fault."""
    try:
        text = path.read_text(encoding="utf-8")
    except (OSError, UnicodeDecodeError) as error:
        raise BadInput([_fault(path, None, "the file", f"cannot be read: {error}.")]) from None
    try:
        said = tomllib.loads(text)
    except tomllib.TOMLDecodeError as error:
        line = re.search(r"line (\d+)", str(error))
        raise BadInput([_fault(path, int(line[1]) if line else None, "the file", f"is no TOML: {error}.")]) from None
    try:
        settings = _beside(ServedSettings.model_validate(said), path.absolute().parent)
    except ValidationError as error:
        raise BadInput([_told(path, text, e) for e in error.errors()]) from None
    faults = list(_faults(settings))
    secret, found = _secret_in(settings.sign_in.secret_file, LEAST_SECRET)
    faults += [("sign_in", "secret_file", *fault) for fault in found]
    if settings.accounts is not None:
        _, found = _secret_in(settings.accounts.client_secret_file, 1)
        faults += [("accounts", "client_secret_file", *fault) for fault in found]
    if faults:
        raise BadInput([_placed(path, text, *fault) for fault in faults])
    return settings, secret


def _secret_in(file: Path, least: int) -> tuple[str, list[tuple[str, str, str]]]:
    """Return the secret of a file, and what is wrong with it: in words, what was found, what should be."""
    faults, secret = [], ""
    try:
        secret = file.read_text(encoding="utf-8").strip()
        if len(secret) < least:
            how = f"{least} characters or more, made by chance"
            faults.append(("holds no secret that is long enough", f"{len(secret)}", how))
        if file.stat().st_mode & (stat.S_IRWXG | stat.S_IRWXO):
            faults.append(("can be read by others", "", "chmod 600"))
    except (OSError, UnicodeDecodeError) as error:
        how = 'python -c "import secrets; print(secrets.token_urlsafe(48))" > FILE; chmod 600 FILE'
        faults.append((f"cannot be read: {error}", "", how))
    return secret, faults


def _faults(settings: ServedSettings) -> Iterator[tuple[str, str, str, str, str]]:
    if (settings.tls is None) == (settings.proxy is None):
        found = "neither" if settings.tls is None else "both"
        yield (
            "",
            "tls",
            "and proxy: just one of them is to end TLS",
            found,
            "[tls] certificate, key, or [proxy] trusted",
        )
    if settings.tls is not None:
        for name, file in (("certificate", settings.tls.certificate), ("key", settings.tls.key)):
            if not file.is_file():
                yield "tls", name, "is no file that is there", str(file), "a PEM file"
    if not settings.sites.is_dir():
        yield "", "sites", "is no folder that is there", str(settings.sites), "a folder of site files"
    elif not list(settings.sites.glob("*.yaml")):
        yield "", "sites", "holds no site file", str(settings.sites), "files that end in .yaml"


def _placed(path: Path, text: str, part: str, name: str, words: str, found: str, required: str) -> Finding:
    where = f"{part}.{name}" if part else name
    return _fault(path, _line(text, (part, name)), where, f"{words}.", found, required)


def _beside(settings: ServedSettings, folder: Path) -> ServedSettings:
    """Return settings whose relative paths are taken from the folder of their file."""
    change: dict[str, Any] = {"sites": folder / settings.sites}
    change["sign_in"] = SignInPart(secret_file=folder / settings.sign_in.secret_file)
    if settings.tls is not None:
        change["tls"] = TlsPart(certificate=folder / settings.tls.certificate, key=folder / settings.tls.key)
    if settings.accounts is not None:
        kept = {"client_secret_file": folder / settings.accounts.client_secret_file}
        change["accounts"] = settings.accounts.model_copy(update=kept)
    relative = re.fullmatch(r"sqlite:///([^/].*)", settings.database)
    if relative:
        change["database"] = f"sqlite:///{folder / relative[1]}"
    return settings.model_copy(update=change)


def _told(path: Path, text: str, error: Any) -> Finding:
    where = tuple(str(step) for step in error["loc"])
    missing = error["type"] == "missing"
    found = "nothing" if missing else str(error["input"])[:60]
    words = "is missing" if missing else error["msg"].removeprefix("Value error, ")
    if error["type"] == "extra_forbidden":
        words, found = "is no setting", where[-1]
    shown = [line.partition("#")[0].strip() for line in EXAMPLE.splitlines()]
    required = next((s for s in shown if s.startswith((f"{where[-1]} =", f"[{where[-1]}]"))), "") if missing else ""
    return _fault(path, _line(text, where[:2]), ".".join(where), f"{words}.", found, required)


def _line(text: str, where: tuple[str, ...]) -> int | None:
    """Return the line of a setting, or of its part; 1 when neither is there."""
    *part, name = [w for w in where if w]
    now, at_part = "", 1
    for number, line in enumerate(text.splitlines(), 1):
        head = re.match(r"\s*\[([\w.]+)\]", line)
        if head:
            now = head[1]
            if now in (*part, name):
                at_part = number
        elif now == "".join(part) and re.match(rf"\s*{re.escape(name)}\s*=", line):
            return number
    return at_part


def _fault(path: Path, line: int | None, where: str, text: str, found: str = "", required: str = "") -> Finding:
    return Finding("served/settings", Severity.STOP, where, text, found, required, file=path.name, line=line)
