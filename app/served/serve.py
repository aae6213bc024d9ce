"""The commands of a served dashboard: serve it, send somebody a personal link, take links and sessions back."""

from __future__ import annotations

import argparse
import os
import signal
import sys
from collections.abc import Iterator, Sequence
from pathlib import Path
from typing import NoReturn

import segno
import uvicorn
from sqlalchemy import Engine, create_engine, text
from sqlalchemy.exc import SQLAlchemyError
from uvicorn.protocols.websockets.websockets_sansio_impl import WebSocketsSansIOProtocol
from websockets.exceptions import InvalidState

import scheduler
from app.served.accounts import Accounts
from app.served.calendar_addresses import CalendarAddresses, CalendarShelf
from app.served.gate import CALENDAR, Gate, GateRules
from app.served.gate_requests import Asgi
from app.served.installed import FILES
from app.served.served_settings import EXAMPLE, ServedSettings, read_settings
from app.served.sign_ins import SignIns
from app.served.visitors import Served, set_up
from scheduler import BadInput, Finding, Severity
from scheduler.export import everybody_named, find_party
from scheduler.site import Person

STOP_SECONDS = 20
"""How long requests under way may take to end once the server was told to stop."""


class EndsInOrder(WebSocketsSansIOProtocol):
    """A page's WebSocket that lets the server stop in order also where the page is leaving at that very moment."""

    def shutdown(self) -> None:
        """End the connection; uvicorn alone would break the whole stop off over one that is closing already."""
        try:
            super().shutdown()
        except InvalidState:
            self.transport.close()


def opened(path: Path) -> tuple[ServedSettings, Served, Engine]:
    """Return settings, sites and sign-in of a configuration; raises BadInput with every fault."""
    settings, secret = read_settings(path)
    sites = {p.stem: p.absolute() for p in sorted(settings.sites.glob("*.yaml"))}
    faults = [fault for name, file in sites.items() for fault in _site_faults(name, file)]
    if faults:
        raise BadInput(faults)
    try:
        engine = create_engine(settings.database, pool_pre_ping=True)
        named_before = CalendarAddresses(engine).were_made
        return settings, Served(sites, SignIns(engine, secret), settings.public_url, named_before), engine
    except (SQLAlchemyError, ImportError) as error:
        words = f"cannot be used: {str(error).splitlines()[0]}."
        raise BadInput([Finding("served/database", Severity.STOP, "database", words, file=path.name)]) from None


def _site_faults(name: str, file: Path) -> Iterator[Finding]:
    try:
        site = scheduler.load(file).site
    except BadInput as bad:
        yield from bad.findings
        return
    if site.site.job_id is None:
        yield Finding("served/site", Severity.STOP, name, "has no job id: `jointtrench journal SITE begin`.")
    names = [p.name for p in site.people]
    if not names:
        yield Finding("served/site", Severity.STOP, name, "names no people, so nobody could sign in.")
    for twice in sorted({n for n in names if names.count(n) > 1}):
        words = "stands for two people; the record knows them by their names."
        yield Finding("served/site", Severity.STOP, name, words, twice, "names that differ")


def serve(path: Path) -> NoReturn:
    """Serve the dashboard until it is told to stop."""
    settings, served, engine = opened(path)
    _tell_streamlit(settings)
    set_up(served)
    from app.server import app  # reads its options when it is made

    rules = GateRules(
        settings.public_url, settings.host, settings.upload_mb * 1024 * 1024, settings.rates.sign_ins_per_minute
    )
    accounts = None
    if settings.accounts is not None:
        client_secret = settings.accounts.client_secret_file.read_text(encoding="utf-8").strip()
        accounts = Accounts(settings.accounts, client_secret, settings.public_url)
    gate = Gate(
        app,
        served.sign_ins,
        rules,
        still=lambda known: served.person(known) is not None,
        ready=lambda: _answers(engine),
        files=FILES,
        accounts=accounts,
        known_as=served.known_as,
        same=served.same_person,
        archived=served.archived,
        calendars=CalendarShelf(CalendarAddresses(engine), served.sites, settings.public_url).read,
    )
    print(f"Served at {settings.public_url} ({', '.join(served.sites)}).", flush=True)
    signal.signal(signal.SIGTERM, lambda *_: None)  # uvicorn ends in order first, then hands the signal on
    uvicorn.Server(listening(gate, settings)).run()
    print("Stopped in order.", flush=True)
    os._exit(0)  # searches under way are of no use to anybody, and would be waited for


def listening(gate: Asgi, settings: ServedSettings) -> uvicorn.Config:
    """Return how the server listens: its own TLS, or a proxy's word for where requests come from, but no one else's."""
    proxy, tls = settings.proxy, settings.tls
    return uvicorn.Config(
        gate,
        ws=EndsInOrder,
        host=str(settings.address),
        port=settings.port,
        ssl_certfile=tls.certificate if tls else None,
        ssl_keyfile=tls.key if tls else None,
        proxy_headers=proxy is not None,
        forwarded_allow_ips=[str(a) for a in proxy.trusted] if proxy else [],
        access_log=False,
        log_level="warning",
        server_header=False,
        timeout_graceful_shutdown=STOP_SECONDS,
        ws_max_size=settings.upload_mb * 1024 * 1024,
    )


def invite(path: Path, site: str, person: str, days: float, picture: Path | None) -> int:
    """Print a new personal link, and its code to be scanned."""
    _, served, _ = opened(path)
    found = _person(served, site, person)
    made = served.sign_ins.invite(site, found.id, found.role, days=days)
    link = served.address_of(made)
    print(f"For {found.name}, {found.role.replace('_', ' ')}, on {site}; opens once, within {days:g} days:\n{link}")
    print(f"It opens with this number only; tell it by voice, or send it another way than the link: {made.number}")
    code = segno.make(link, error="m")
    if picture is not None:
        code.save(str(picture), scale=6)
    elif sys.stdout.isatty():
        code.terminal(compact=True)
    return 0


def revoke(path: Path, site: str, person: str, *, code: bool) -> int:
    """End every link and session of a person, who may be on the site no more."""
    _, served, _ = opened(path)
    count = served.sign_ins.revoke(site, person)
    if code:
        served.sign_ins.forget_code(site, person)
    print(f"{count} of {person}'s links and sessions on {site} ended." + (" Their code is forgotten." if code else ""))
    return 0


def calendar(path: Path, site: str, party: str, *, end: bool) -> int:
    """Print a new address of a party's calendar, or end all that there are of it."""
    settings, served, engine = opened(path)
    addresses = CalendarAddresses(engine)
    if end:
        print(f"{addresses.revoke(site, party)} calendar addresses of {party} on {site} ended.")
        return 0
    found = find_party(everybody_named(scheduler.load(_file(served, site)).site), party)
    address = f"{settings.public_url}{CALENDAR}{addresses.make(site, found.id)}.ics"
    print(f"For {found.name} on {site}, to subscribe to; whoever has it can read their dates, until it is ended:")
    print(address)
    return 0


def _file(served: Served, site: str) -> Path:
    path = served.sites.get(site)
    if path is None:
        known = ", ".join(served.sites)
        raise BadInput([Finding("served/asked", Severity.STOP, "The site", "is not served.", site, known)])
    if served.archived(site) is not None:
        raise BadInput([Finding("served/asked", Severity.STOP, "The site", "is archived.", site, "take it back first")])
    return path


def _person(served: Served, site: str, person: str) -> Person:
    people = {p.id: p for p in scheduler.load(_file(served, site)).site.people}
    if person not in people:
        words = "is nobody under `people` of that site."
        raise BadInput([Finding("served/asked", Severity.STOP, "The person", words, person, ", ".join(people))])
    return people[person]


def _answers(engine: Engine) -> bool:
    try:
        with engine.connect() as connection:
            connection.execute(text("SELECT 1"))
    except SQLAlchemyError:
        return False
    return True


def _tell_streamlit(settings: ServedSettings) -> None:
    """Set Streamlit's options before it is imported for the pages; nothing of this machine's own is served."""
    os.environ.pop("JOINTTRENCH_SITE", None)
    os.environ.pop("JOINTTRENCH_PAGE", None)
    from streamlit.web.bootstrap import load_config_options

    options = {
        "server.headless": True,
        "server.fileWatcherType": "none",
        "server.maxUploadSize": settings.upload_mb,
        "server.allowedHosts": [settings.host.partition(":")[0]],
        "browser.gatherUsageStats": False,
        "runner.postScriptGC": False,  # it would hold every page up for 0.15 s after each; Python collects by itself
        "client.toolbarMode": "minimal",
        "client.showErrorDetails": "none",
        "theme.base": str(Path(__file__).parents[1] / "theme.toml"),
    }
    load_config_options(options)


def main(argv: Sequence[str] | None = None) -> int:
    """Run one command and return its exit code; 2 for bad input, all of it listed."""
    top = argparse.ArgumentParser(prog="jointtrench")
    kinds = top.add_subparsers(dest="command", required=True)
    for name in ("serve", "invite", "revoke", "calendar"):
        kind = kinds.add_parser(name)
        kind.add_argument("config", type=Path)
        if name != "serve":
            kind.add_argument("site")
            kind.add_argument("person")
    kinds.choices["invite"].add_argument("--days", type=float, default=14.0)
    kinds.choices["invite"].add_argument("--qr", type=Path)
    kinds.choices["revoke"].add_argument("--forget-code", action="store_true")
    kinds.choices["calendar"].add_argument("--end", action="store_true")
    said = top.parse_args(argv)
    try:
        if said.command == "serve":
            serve(said.config)
        if said.command == "invite":
            return invite(said.config, said.site, said.person, said.days, said.qr)
        if said.command == "calendar":
            return calendar(said.config, said.site, said.person, end=said.end)
        return revoke(said.config, said.site, said.person, code=said.forget_code)
    except BadInput as bad:
        for finding in bad.findings:
            print(finding, file=sys.stderr)
        if any(finding.rule == "served/settings" for finding in bad.findings):
            print(f"Nothing is served. A whole configuration:\n\n{EXAMPLE}", file=sys.stderr)
        return 2
    except ValueError as error:
        print(error, file=sys.stderr)
        return 2


if __name__ == "__main__":
    sys.exit(main())
