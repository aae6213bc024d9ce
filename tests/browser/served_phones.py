"""A served dashboard on this machine, over TLS with a throw-away authority, and phones that open personal links."""

from __future__ import annotations

import os
import shutil
import signal
import socket
import ssl
import subprocess
import sys
import time
import urllib.request
from collections.abc import Iterator, Mapping
from contextlib import contextmanager
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Any

from cryptography import x509
from cryptography.hazmat.primitives import hashes, serialization
from cryptography.hazmat.primitives.asymmetric import ec
from cryptography.x509.oid import NameOID
from sqlalchemy import create_engine

from app.served.sign_ins import SignIns
from tests.account_provider import CLIENT, CLIENT_SECRET
from tests.browser.dashboard import Dashboard
from tests.browser.serving import SERVER_UP_S, end_with_parent, with_kept_plans

SECRET = "a secret for tests only, long enough to sign links with"
CODE = "green 42 pipe"
CONFIG = """\
address = "127.0.0.1"
port = {port}
public_url = "https://localhost:{port}"
sites = "sites"
database = "{database}"
[sign_in]
secret_file = "sign-in.secret"
[tls]
certificate = "certificate.pem"
key = "key.pem"
[rates]
sign_ins_per_minute = 600
"""


def make_certificate(folder: Path) -> Path:
    """Write a certificate for localhost with its key, signed by an authority of its own; return the authority's."""
    day = timedelta(days=1)

    def made(name: str, key: Any, by: Any, issuer: str, *, authority: bool) -> x509.Certificate:
        names = [x509.Name([x509.NameAttribute(NameOID.COMMON_NAME, n)]) for n in (name, issuer)]
        builder = x509.CertificateBuilder(*reversed(names), key.public_key(), x509.random_serial_number())
        builder = builder.not_valid_before(datetime.now(UTC) - day).not_valid_after(datetime.now(UTC) + day)
        builder = builder.add_extension(x509.BasicConstraints(authority, None), critical=True)
        builder = builder.add_extension(x509.SubjectAlternativeName([x509.DNSName("localhost")]), critical=False)
        identifier = x509.AuthorityKeyIdentifier.from_issuer_public_key(by.public_key())
        builder = builder.add_extension(x509.SubjectKeyIdentifier.from_public_key(key.public_key()), critical=False)
        return builder.add_extension(identifier, critical=False).sign(by, hashes.SHA256())

    authority, own = ec.generate_private_key(ec.SECP256R1()), ec.generate_private_key(ec.SECP256R1())
    root = made("Tests only", authority, authority, "Tests only", authority=True)
    leaf = made("localhost", own, authority, "Tests only", authority=False)
    pem, plain = serialization.Encoding.PEM, serialization.NoEncryption()
    (folder / "certificate.pem").write_bytes(leaf.public_bytes(pem))
    (folder / "key.pem").write_bytes(own.private_bytes(pem, serialization.PrivateFormat.PKCS8, plain))
    (folder / "authority.pem").write_bytes(root.public_bytes(pem))
    return folder / "authority.pem"


class ServedSite:
    """A served dashboard: its address, sign-in as its server sees it, and its process while it runs."""

    def __init__(self, folder: Path, port: int, database: str, *, own_plans: bool = False) -> None:
        self.folder, self.address = folder, f"https://localhost:{port}"
        self.own_plans = own_plans
        self.journals = database or str(folder / "journals")
        self.sign_ins = SignIns(create_engine(database or f"sqlite:///{folder / 'sign-in.db'}"), SECRET)
        self.trusted = ssl.create_default_context(cafile=str(folder / "authority.pem"))
        self.start()

    def start(self) -> None:
        """Start the server as a user does, and wait until it is ready."""
        command = [str(Path(sys.executable).with_name("jointtrench")), "serve", "--config"]
        kept = {"JOINTTRENCH_JOURNAL": self.journals, "JOINTTRENCH_HOME": str(self.folder / "home")}
        with (self.folder / "server.log").open("a") as out:
            self.server = subprocess.Popen(
                [*command, str(self.folder / "served.toml")],
                stdout=out,
                stderr=subprocess.STDOUT,
                start_new_session=True,
                env={**os.environ, **kept, **({} if self.own_plans else with_kept_plans())},
                preexec_fn=end_with_parent,
            )
        end = time.monotonic() + SERVER_UP_S
        while time.monotonic() < end and self.server.poll() is None:
            try:
                with urllib.request.urlopen(f"{self.address}/readyz", timeout=2, context=self.trusted):
                    return
            except OSError:
                time.sleep(0.1)
        raise RuntimeError(f"The server did not come up:\n{self.log()}")

    def link(self, site: str, person: str, role: str, **how: float) -> tuple[str, str]:
        """Return the address of a new personal link, and its number."""
        made = self.sign_ins.invite(site, person, role, **how)
        return f"{self.address}/in/{made.link}", made.number

    def log(self) -> str:
        """Return what the server wrote so far."""
        return (self.folder / "server.log").read_text()

    def stop(self, how: signal.Signals = signal.SIGTERM) -> int:
        """Stop the server, all of it; return its exit code."""
        os.killpg(self.server.pid, how)
        return self.server.wait(timeout=40)


ACCOUNTS = """[accounts]
issuer = "{issuer}"
client_id = "{client}"
client_secret_file = "client.secret"
"""


@contextmanager
def serve_to_phones(
    folder: Path, sites: Mapping[str, Path], *, issuer: str = "", database: str = "", own_plans: bool = False
) -> Iterator[ServedSite]:
    """Serve copies of sites by `jointtrench serve` with journals and sign-in in a folder; end it after use.

    `issuer` is a provider of accounts by which people may sign in as well. `database` is one server's for all of it.
    With `own_plans` the server plans as it does for a user, also what was planned in this run before.
    """
    with socket.socket() as probe:
        probe.bind(("localhost", 0))
        port = probe.getsockname()[1]
    for name in ("sites", "journals"):
        (folder / name).mkdir(exist_ok=True)
    for name, path in sites.items():
        shutil.copy(path, folder / "sites" / f"{name}.yaml")
    make_certificate(folder)
    for name, secret in (("sign-in.secret", SECRET), ("client.secret", CLIENT_SECRET)):
        (folder / name).write_text(secret)
        (folder / name).chmod(0o600)
    accounts = ACCOUNTS.format(issuer=issuer, client=CLIENT) if issuer else ""
    (folder / "served.toml").write_text(
        CONFIG.format(port=port, database=database or "sqlite:///sign-in.db") + accounts
    )
    site = ServedSite(folder, port, database, own_plans=own_plans)
    try:
        yield site
    finally:
        if site.server.poll() is None:
            site.stop()


class Phone:
    """A browser of somebody's own, with nothing in it of others."""

    def __init__(self, browser: Any, site: ServedSite, *, width: int = 390) -> None:
        self.context = browser.new_context(ignore_https_errors=True, viewport={"width": width, "height": 850})
        self.page = self.context.new_page()
        self.board = Dashboard(self.page, site.address)

    def sign_in(self, made: tuple[str, str]) -> None:
        """Open a link with its number, choose a code if asked for one."""
        self.page.goto(made[0])
        self.page.get_by_label("The number that the contractor told you").fill(made[1])
        self.page.get_by_role("button", name="Open it on this phone").click()
        self.page.wait_for_load_state()
        self.choose_code()

    def choose_code(self) -> None:
        """Choose a code where the page asks for one, and wait for the dashboard."""
        if self.page.url.endswith("/code"):
            self.page.get_by_label("Your code").fill(CODE)
            self.page.get_by_label("Once more").fill(CODE)
            self.page.get_by_role("button", name="Keep it").click()
        self.board.shown()

    def close(self) -> None:
        """Close the browser."""
        self.context.close()
