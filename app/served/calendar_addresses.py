"""Addresses of calendars: one party of one site each, read without sign-in by whoever knows the address, until revoked.

The secret in an address is 256 random bits and kept as its hash. Whoever is told it can read the dates of that party,
and nothing else; nothing can be written with it.
"""

from __future__ import annotations

import secrets
import time
from collections.abc import Callable, Mapping
from contextlib import closing, nullcontext
from datetime import UTC, datetime
from pathlib import Path

from sqlalchemy import Column, Engine, Float, MetaData, Table, Text, insert, select, update
from sqlalchemy.exc import SQLAlchemyError

import scheduler
from app.served.sign_ins import digest
from app.session import open_site
from scheduler import BadInput
from scheduler.ledger import place_of

_TABLES = MetaData()
_ADDRESSES = Table(
    "calendar_addresses",
    _TABLES,
    Column("id", Text, primary_key=True),
    Column("site", Text, nullable=False),
    Column("party", Text, nullable=False),
    Column("made", Float, nullable=False),
    Column("revoked", Float),
)
"""`id` is the hash of the secret; moments are seconds since 1970 in UTC."""


class CalendarAddresses:
    """The addresses of calendars in a database; safe to use from several threads and processes."""

    def __init__(self, engine: Engine, *, now: Callable[[], float] = time.time) -> None:
        self._engine, self._now = engine, now
        _TABLES.create_all(engine)

    def make(self, site: str, party: str) -> str:
        """Return the secret of a new address, which is kept nowhere."""
        secret = secrets.token_urlsafe(32)
        row = {"id": digest(secret), "site": site, "party": party, "made": self._now()}
        with self._engine.begin() as connection:
            connection.execute(insert(_ADDRESSES).values(**row))
        return secret

    def whose(self, secret: str) -> tuple[str, str] | None:
        """Return the site and the party of an address; None when it was revoked or never was.

        What is typed is hashed before it is looked for, so how long that takes tells nothing of any secret.
        """
        good = (_ADDRESSES.c.id == digest(secret), _ADDRESSES.c.revoked.is_(None))
        with self._engine.connect() as connection:
            row = connection.execute(select(_ADDRESSES).where(*good)).first()
        return None if row is None else (str(row.site), str(row.party))

    def were_made(self, site: str) -> bool:
        """Tell whether there was ever an address for a site of this name."""
        with self._engine.connect() as connection:
            return connection.execute(select(_ADDRESSES.c.id).where(_ADDRESSES.c.site == site)).first() is not None

    def revoke(self, site: str, party: str) -> int:
        """End every address of a party; return how many there were."""
        theirs = (_ADDRESSES.c.site == site, _ADDRESSES.c.party == party, _ADDRESSES.c.revoked.is_(None))
        with self._engine.begin() as connection:
            return connection.execute(update(_ADDRESSES).where(*theirs).values(revoked=self._now())).rowcount


class CalendarShelf:
    """Gives the calendar of an address, made anew when the record, the site file or the hour changed."""

    def __init__(self, addresses: CalendarAddresses, sites: Mapping[str, Path], public_url: str) -> None:
        self._addresses, self._sites, self._link = addresses, sites, public_url

    def read(self, secret: str) -> bytes | None:
        """Return a calendar; None for an address that there is not, and b"" when it cannot be made just now."""
        try:
            whose = self._addresses.whose(secret)
            path = self._sites.get(whose[0]) if whose else None
            if whose is None or path is None:
                return None
            case = open_site(path)
            place = place_of(case.site, case.path)
            with closing(place.open()) if place.made else nullcontext() as journal:
                return scheduler.calendar_at_address(case, journal, whose[1], now=datetime.now(UTC), link=self._link)
        except (BadInput, OSError, SQLAlchemyError):
            return b""
