"""Sign-in by personal links: one person, one site, opened once; and the code that is a person's second act.

Whatever is asked with something unknown, used, revoked, expired or changed is refused, without saying which.
"""

from __future__ import annotations

import hashlib
import secrets
import time
from collections.abc import Callable
from dataclasses import dataclass

from argon2 import PasswordHasher
from argon2.exceptions import InvalidHashError, VerificationError
from itsdangerous import BadData, URLSafeSerializer
from sqlalchemy import ColumnElement, Engine, Row, insert, select, update
from sqlalchemy.exc import IntegrityError

from app.served.sign_in_tables import ACTS, CODES, LINKS, SESSIONS, TABLES

DAY_S = 86_400.0
SESSION_S = 90 * DAY_S
"""How long a phone stays signed in."""
ACT_S = 120.0
"""How long a second act waits for its entry."""
MOST_TRIES = 5
"""Wrong codes in a row after which none is looked at for `LOCKED_S`."""
LOCKED_S = 900.0
LEAST_SECRET = 32
"""Characters of the secret that links are signed with."""
LEAST_CODE, MOST_CODE = 6, 64


@dataclass(frozen=True, slots=True)
class SignedIn:
    """Somebody known by a link: `id` names the session and opens nothing by itself."""

    id: str
    site: str
    person: str
    role: str


class SignIns:
    """Links, sessions, codes and second acts in a database; safe to use from several threads and processes.

    `secret` signs the links. Raises ValueError when it is too short to be one. `now` gives seconds since 1970.
    """

    def __init__(self, engine: Engine, secret: str, *, now: Callable[[], float] = time.time) -> None:
        if len(secret) < LEAST_SECRET:
            raise ValueError(f"the secret needs at least {LEAST_SECRET} characters")
        self._engine, self._now, self._hasher = engine, now, PasswordHasher()
        self._signer = URLSafeSerializer(secret, salt="personal link")
        TABLES.create_all(engine)

    def invite(self, site: str, person: str, role: str, *, days: float = 14.0) -> str:
        """Return the secret part of a new link, which is kept nowhere."""
        if not 0.0 < days <= 366.0:
            raise ValueError("a link is good for more than 0 and at most 366 days")
        raw = secrets.token_urlsafe(24)
        row = {"id": _digest(raw), "site": site, "person": person, "role": role, "expires": self._now() + days * DAY_S}
        with self._engine.begin() as connection:
            connection.execute(insert(LINKS).values(**row))
        return str(self._signer.dumps(raw))

    def whose(self, link: str) -> SignedIn | None:
        """Return whom a link is for, without opening it; None when it opens nothing."""
        id_ = self._link_id(link)
        if id_ is None:
            return None
        with self._engine.connect() as connection:
            row = connection.execute(select(LINKS).where(*self._good(id_))).first()
        return _known(row)

    def open(self, link: str) -> str | None:
        """Open a link, which it can be once, and return the session's token, for a cookie; None when it opens none."""
        id_ = self._link_id(link)
        if id_ is None:
            return None
        token = secrets.token_urlsafe(32)
        with self._engine.begin() as connection:
            used = connection.execute(update(LINKS).where(*self._good(id_)).values(used=self._now()))
            if used.rowcount != 1:  # of two who open it at once, one comes second
                return None
            row = connection.execute(select(LINKS).where(LINKS.c.id == id_)).one()
            kept = {"site": row.site, "person": row.person, "role": row.role, "expires": self._now() + SESSION_S}
            connection.execute(insert(SESSIONS).values(id=_digest(token), **kept))
        return token

    def signed_in(self, token: str) -> SignedIn | None:
        """Return who is signed in with a session's token; None when nobody is."""
        return self.session(_digest(token))

    def session(self, id_: str) -> SignedIn | None:
        """Return who is signed in by the id of a session; None when it ended, expired or never was."""
        good = (SESSIONS.c.id == id_, SESSIONS.c.ended.is_(None), SESSIONS.c.expires > self._now())
        with self._engine.connect() as connection:
            return _known(connection.execute(select(SESSIONS).where(*good)).first())

    def end(self, session: str) -> None:
        """Sign a session out."""
        with self._engine.begin() as connection:
            connection.execute(update(SESSIONS).where(SESSIONS.c.id == session).values(ended=self._now()))

    def revoke(self, site: str, person: str) -> int:
        """End every link and session of a person on a site; return how many could still be used."""
        count = 0
        with self._engine.begin() as connection:
            for table, ended, unused in (
                (LINKS, "revoked", LINKS.c.used.is_(None)),
                (SESSIONS, "ended", SESSIONS.c.expires > self._now()),
            ):
                theirs = (table.c.site == site, table.c.person == person, table.c[ended].is_(None), unused)
                count += connection.execute(update(table).where(*theirs).values({ended: self._now()})).rowcount
        return count

    def has_code(self, known: SignedIn) -> bool:
        """Tell whether a person has chosen a code on this site."""
        with self._engine.connect() as connection:
            return connection.execute(select(CODES.c.site).where(*_of(known))).first() is not None

    def choose_code(self, session: str, code: str) -> bool:
        """Keep the code that a person chose at first sign-in; False when they have one, or it is too short or long.

        A new link does not let anybody choose another: whoever gets hold of one has not the second act as well.
        """
        known = self.session(session)
        if known is None or not LEAST_CODE <= len(code) <= MOST_CODE:
            return False
        row = {"site": known.site, "person": known.person, "hash": self._hasher.hash(code), "tries": 0, "since": 0.0}
        try:
            with self._engine.begin() as connection:
                connection.execute(insert(CODES).values(**row))
        except IntegrityError:
            return False
        return True

    def forget_code(self, site: str, person: str) -> None:
        """Let a person choose another code with a new link; whatever was open of theirs ends."""
        self.revoke(site, person)
        with self._engine.begin() as connection:
            connection.execute(CODES.delete().where(CODES.c.site == site, CODES.c.person == person))

    def confirm(self, session: str, code: str, about: str) -> str | None:
        """Return a second act for what is `about` to be written, good once and for a moment; None for a wrong code.

        Every try counts before it is looked at; after five wrong ones in a row none is, for a quarter of an hour.
        """
        known = self.session(session)
        if known is None or not about or not self._try(known):
            return None
        with self._engine.connect() as connection:
            row = connection.execute(select(CODES.c.hash).where(*_of(known))).first()
        try:
            self._hasher.verify(row.hash if row else "", code)
        except (VerificationError, InvalidHashError):
            return None
        act = secrets.token_urlsafe(24)
        kept = {"id": _digest(act), "session": session, "about": about, "expires": self._now() + ACT_S}
        with self._engine.begin() as connection:
            connection.execute(update(CODES).where(*_of(known)).values(tries=0))
            connection.execute(insert(ACTS).values(**kept))
        return act

    def spend(self, session: str, act: str, about: str) -> bool:
        """Use a second act up; False when it is not of this session and for this entry, or was used, or is too old."""
        good = (ACTS.c.id == _digest(act), ACTS.c.session == session, ACTS.c.about == about)
        fresh = (ACTS.c.used.is_(None), ACTS.c.expires > self._now())
        if self.session(session) is None:
            return False
        with self._engine.begin() as connection:
            return connection.execute(update(ACTS).where(*good, *fresh).values(used=self._now())).rowcount == 1

    def _try(self, known: SignedIn) -> bool:
        """Count a try; False where there were too many, or no code was chosen."""
        now = self._now()
        with self._engine.begin() as connection:
            over = (*_of(known), CODES.c.tries >= MOST_TRIES, CODES.c.since <= now - LOCKED_S)
            connection.execute(update(CODES).where(*over).values(tries=0))
            left = (*_of(known), CODES.c.tries < MOST_TRIES)
            counted = update(CODES).where(*left).values(tries=CODES.c.tries + 1, since=now)
            return connection.execute(counted).rowcount == 1

    def _link_id(self, link: str) -> str | None:
        try:
            raw = self._signer.loads(link)
        except BadData:
            return None
        return _digest(raw) if isinstance(raw, str) else None

    def _good(self, id_: str) -> tuple[ColumnElement[bool], ...]:
        return LINKS.c.id == id_, LINKS.c.used.is_(None), LINKS.c.revoked.is_(None), LINKS.c.expires > self._now()


def _of(known: SignedIn) -> tuple[ColumnElement[bool], ...]:
    return CODES.c.site == known.site, CODES.c.person == known.person


def _known(row: Row[tuple[object, ...]] | None) -> SignedIn | None:
    return None if row is None else SignedIn(str(row.id), str(row.site), str(row.person), str(row.role))


def _digest(secret: str) -> str:
    return hashlib.sha256(secret.encode()).hexdigest()
