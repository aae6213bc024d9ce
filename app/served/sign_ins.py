"""Sign-in by personal links: one person, one site, opened once; and the code that is a person's second act.

A link alone opens nothing: whoever sends it tells a number of six digits by voice, or sends it another way.

Whatever is asked with something unknown, used, revoked, expired or changed is refused, without saying which.
"""

from __future__ import annotations

import hashlib
import re
import secrets
import threading
import time
from collections.abc import Callable
from contextlib import suppress
from dataclasses import dataclass
from typing import NamedTuple

from argon2 import PasswordHasher
from argon2.exceptions import InvalidHashError, VerificationError
from itsdangerous import BadData, URLSafeSerializer
from sqlalchemy import ColumnElement, Connection, Engine, Row, bindparam, func, insert, select, update
from sqlalchemy.exc import IntegrityError, SQLAlchemyError

from app.lately import Lately
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
BY_LINK, BY_ACCOUNT = "personal link", "account"
LEAST_CODE, MOST_CODE = 6, 64
SEEN_EVERY_S = 15.0
"""How exactly it is kept when somebody was last heard of."""
SEEN_KEPT_S = 5.0
"""How often that is written to disk, for all of them together."""


@dataclass(frozen=True, slots=True)
class SignedIn:
    """Somebody known by a link: `id` names the session and opens nothing by itself."""

    id: str
    site: str
    person: str
    role: str
    how: str = ""
    """How they were known when the session began."""


class PersonalLink(NamedTuple):
    """What opens a session, together: the secret part of a link, and the number that goes another way."""

    link: str
    number: str


@dataclass(frozen=True, slots=True)
class SignInState:
    """How somebody of a site stands: open links, open sessions, when last heard of, whether they chose a code."""

    links_until: float | None = None
    phones: int = 0
    seen: float | None = None
    code: bool = False


class SignIns:
    """Links, sessions, codes and second acts in a database; safe to use from several threads and processes.

    `secret` signs the links. Raises ValueError when it is too short to be one. `now` gives seconds since 1970.
    """

    def __init__(self, engine: Engine, secret: str, *, now: Callable[[], float] = time.time) -> None:
        if len(secret) < LEAST_SECRET:
            raise ValueError(f"the secret needs at least {LEAST_SECRET} characters")
        self.engine, self.now, self._hasher = engine, now, PasswordHasher()
        self._signer = URLSafeSerializer(secret, salt="personal link")
        self._seen: dict[str, float] = {}
        self._to_keep: dict[str, float] = {}
        self._seen_kept = 0.0
        self._turn = threading.Lock()
        self.lately = Lately(now)
        """What was read of sessions, which is asked with every message; what this process ends counts at once."""
        TABLES.create_all(engine)

    def invite(self, site: str, person: str, role: str, *, days: float = 14.0) -> PersonalLink:
        """Return a new link and its number, which are kept nowhere."""
        if not 0.0 < days <= 366.0:
            raise ValueError("a link is good for more than 0 and at most 366 days")
        raw, number = secrets.token_urlsafe(24), f"{secrets.randbelow(10**6):06d}"
        row = {"id": digest(raw), "site": site, "person": person, "role": role, "expires": self.now() + days * DAY_S}
        with self.engine.begin() as connection:
            connection.execute(insert(LINKS).values(**row, number=self._hasher.hash(number), tries=0))
        return PersonalLink(str(self._signer.dumps(raw)), number)

    def whose(self, link: str) -> SignedIn | None:
        """Return whom a link is for, without opening it; None when it opens nothing."""
        id_ = self._link_id(link)
        if id_ is None:
            return None
        with self.engine.connect() as connection:
            row = connection.execute(select(LINKS).where(*self._good(id_), LINKS.c.tries < MOST_TRIES)).first()
        return known_by_row(row)

    def open(self, link: str, number: str) -> str | None:
        """Open a link, which it can be once, and return the session's token, for a cookie; None when it opens none.

        Every number tried counts before it is looked at; after five wrong ones the link opens nothing any more.
        """
        id_ = self._link_id(link)
        if id_ is None or not self._number_is(id_, number):
            return None
        token = secrets.token_urlsafe(32)
        with self.engine.begin() as connection:
            used = connection.execute(update(LINKS).where(*self._good(id_)).values(used=self.now()))
            if used.rowcount != 1:  # of two who open it at once, one comes second
                return None
            row = connection.execute(select(LINKS).where(LINKS.c.id == id_)).one()
            self._begin(connection, token, row.site, row.person, row.role, BY_LINK)
        return token

    def admit(self, site: str, person: str, role: str) -> str:
        """Return the token of a new session of somebody whose account was just shown to be theirs."""
        token = secrets.token_urlsafe(32)
        with self.engine.begin() as connection:
            self._begin(connection, token, site, person, role, BY_ACCOUNT)
        return token

    def _begin(self, connection: Connection, token: str, site: str, person: str, role: str, how: str) -> None:
        who = {"site": site, "person": person, "role": role, "how": how}
        now = self.now()
        connection.execute(insert(SESSIONS).values(id=digest(token), expires=now + SESSION_S, seen=now, **who))

    def note_seen(self, session: str) -> None:
        """Keep that a session was heard of just now."""
        now = self.now()
        if now - self._seen.get(session, 0.0) >= SEEN_EVERY_S:
            with self._turn:
                self._seen[session] = self._to_keep[session] = now
        if now - self._seen_kept >= SEEN_KEPT_S:
            self._keep_seen()

    def _keep_seen(self) -> None:
        with self._turn:
            new = [{"one": session, "when": at} for session, at in sorted(self._to_keep.items())]
            self._to_keep, self._seen_kept = {}, self.now()
        if not new:
            return
        seen = update(SESSIONS).where(SESSIONS.c.id == bindparam("one")).values(seen=bindparam("when"))
        with suppress(SQLAlchemyError), self.engine.begin() as connection:  # nobody's page ends for want of this
            connection.execute(seen, new)

    def seen_since(self, site: str, seconds: float) -> frozenset[str]:
        """Return the ids of the people of a site who were heard of in the last seconds and are still signed in."""
        self._keep_seen()
        since = SESSIONS.c.seen >= self.now() - seconds
        here = (SESSIONS.c.site == site, SESSIONS.c.ended.is_(None), SESSIONS.c.expires > self.now(), since)
        with self.engine.connect() as connection:
            return frozenset(connection.execute(select(SESSIONS.c.person).where(*here)).scalars())

    def access(self, site: str, person: str) -> SignInState:
        """Return how somebody stands with links, sessions and code."""
        now = self.now()
        link = (LINKS.c.site == site, LINKS.c.person == person, LINKS.c.used.is_(None), LINKS.c.revoked.is_(None))
        theirs = (SESSIONS.c.site == site, SESSIONS.c.person == person)
        phones = (*theirs, SESSIONS.c.ended.is_(None), SESSIONS.c.expires > now)
        with self.engine.connect() as connection:
            return SignInState(
                connection.execute(select(func.max(LINKS.c.expires)).where(*link, LINKS.c.expires > now)).scalar(),
                int(connection.execute(select(func.count()).select_from(SESSIONS).where(*phones)).scalar() or 0),
                connection.execute(select(func.max(SESSIONS.c.seen)).where(*theirs)).scalar(),
                self._code_hash(connection, site, person) is not None,
            )

    def signed_in(self, token: str) -> SignedIn | None:
        """Return who is signed in with a session's token; None when nobody is."""
        return self.session(digest(token))

    def session(self, id_: str) -> SignedIn | None:
        """Return who is signed in by the id of a session; None when it ended, expired or never was."""
        good = (SESSIONS.c.id == id_, SESSIONS.c.ended.is_(None), SESSIONS.c.expires > self.now())
        with self.engine.connect() as connection:
            return known_by_row(connection.execute(select(SESSIONS).where(*good)).first())

    def session_lately(self, id_: str) -> SignedIn | None:
        """Return who is signed in by the id of a session, as it was read a moment ago at most."""
        return self.lately.ask(id_, lambda: self.session(id_))

    def end(self, session: str) -> None:
        """Sign a session out."""
        with self.engine.begin() as connection:
            connection.execute(update(SESSIONS).where(SESSIONS.c.id == session).values(ended=self.now()))
        self.lately.forget()

    def revoke(self, site: str, person: str) -> int:
        """End every link and session of a person on a site; return how many could still be used."""
        count = 0
        with self.engine.begin() as connection:
            for table, ended, unused in (
                (LINKS, "revoked", LINKS.c.used.is_(None)),
                (SESSIONS, "ended", SESSIONS.c.expires > self.now()),
            ):
                theirs = (table.c.site == site, table.c.person == person, table.c[ended].is_(None), unused)
                count += connection.execute(update(table).where(*theirs).values({ended: self.now()})).rowcount
        self.lately.forget()
        return count

    def has_code(self, known: SignedIn) -> bool:
        """Tell whether a person has chosen a code on this site."""
        with self.engine.connect() as connection:
            return self._code_hash(connection, known.site, known.person) is not None

    def choose_code(self, session: str, code: str) -> bool:
        """Keep the code that a person chose at first sign-in; False when they have one, or it is too short or long.

        A new link does not let anybody choose another: whoever gets hold of one has not the second act as well.
        """
        known = self.session(session)
        if known is None or not LEAST_CODE <= len(code) <= MOST_CODE:
            return False
        row = {"site": known.site, "person": known.person, "hash": self._hasher.hash(code), "tries": 0, "since": 0.0}
        try:
            with self.engine.begin() as connection:
                connection.execute(insert(CODES).values(**row))
        except IntegrityError:
            return False
        return True

    def forget_code(self, site: str, person: str) -> None:
        """Let a person choose another code with a new link; whatever was open of theirs ends."""
        self.revoke(site, person)
        with self.engine.begin() as connection:
            connection.execute(CODES.delete().where(CODES.c.site == site, CODES.c.person == person))

    def confirm(self, session: str, code: str, about: str) -> str | None:
        """Return a second act for what is `about` to be written, good once and for a moment; None for a wrong code.

        Every try counts before it is looked at; after five wrong ones in a row none is, for a quarter of an hour.
        """
        known = self.session(session)
        if known is None or not about or not self._try(known):
            return None
        with self.engine.connect() as connection:
            kept = self._code_hash(connection, known.site, known.person)
        if not self._same(kept or "", code):
            return None
        act = secrets.token_urlsafe(24)
        row = {"id": digest(act), "session": session, "about": about, "expires": self.now() + ACT_S}
        with self.engine.begin() as connection:
            connection.execute(update(CODES).where(*_of(known)).values(tries=0))
            connection.execute(insert(ACTS).values(**row))
        return act

    def spend(self, session: str, act: str, about: str) -> bool:
        """Use a second act up; False when it is not of this session and for this entry, or was used, or is too old."""
        good = (ACTS.c.id == digest(act), ACTS.c.session == session, ACTS.c.about == about)
        fresh = (ACTS.c.used.is_(None), ACTS.c.expires > self.now())
        if self.session(session) is None:
            return False
        with self.engine.begin() as connection:
            return connection.execute(update(ACTS).where(*good, *fresh).values(used=self.now())).rowcount == 1

    def _try(self, known: SignedIn) -> bool:
        """Count a try; False where there were too many, or no code was chosen."""
        now = self.now()
        with self.engine.begin() as connection:
            over = (*_of(known), CODES.c.tries >= MOST_TRIES, CODES.c.since <= now - LOCKED_S)
            connection.execute(update(CODES).where(*over).values(tries=0))
            left = (*_of(known), CODES.c.tries < MOST_TRIES)
            counted = update(CODES).where(*left).values(tries=CODES.c.tries + 1, since=now)
            return connection.execute(counted).rowcount == 1

    def _number_is(self, id_: str, number: str) -> bool:
        """Count a try of a link's number, and tell whether it was right; False where there were too many."""
        with self.engine.begin() as connection:
            left = (*self._good(id_), LINKS.c.tries < MOST_TRIES)
            counted = connection.execute(update(LINKS).where(*left).values(tries=LINKS.c.tries + 1)).rowcount
            kept = connection.execute(select(LINKS.c.number).where(LINKS.c.id == id_)).scalar()
        return counted == 1 and self._same(str(kept), re.sub(r"\s", "", number))

    def _code_hash(self, connection: Connection, site: str, person: str) -> str | None:
        kept: str | None = connection.execute(
            select(CODES.c.hash).where(CODES.c.site == site, CODES.c.person == person)
        ).scalar()
        return kept

    def _same(self, kept: str, tried: str) -> bool:
        try:
            return self._hasher.verify(kept, tried)
        except (VerificationError, InvalidHashError):
            return False

    def _link_id(self, link: str) -> str | None:
        try:
            raw = self._signer.loads(link)
        except BadData:
            return None
        return digest(raw) if isinstance(raw, str) else None

    def _good(self, id_: str) -> tuple[ColumnElement[bool], ...]:
        return LINKS.c.id == id_, LINKS.c.used.is_(None), LINKS.c.revoked.is_(None), LINKS.c.expires > self.now()


def _of(known: SignedIn) -> tuple[ColumnElement[bool], ...]:
    return CODES.c.site == known.site, CODES.c.person == known.person


def known_by_row(row: Row[tuple[object, ...]] | None) -> SignedIn | None:
    """Return whom a row of links or sessions is of."""
    if row is None:
        return None
    return SignedIn(str(row.id), str(row.site), str(row.person), str(row.role), str(getattr(row, "how", "")))


def digest(secret: str) -> str:
    """Return what is kept of a secret, or looked up for what somebody typed, whatever that is."""
    return hashlib.sha256(secret.encode("utf-8", "surrogatepass")).hexdigest()
