"""One browser, several jobs: each session is of one person on one site, and a browser may hold some of one human.

A browser carries the token of every link that it opened. A job that is begun from a page gives its maker a session
without a token, which stands on the one it was begun in and ends with it.
"""

from __future__ import annotations

import secrets
from collections.abc import Iterable

from sqlalchemy import insert, or_, select

from app.served.sign_in_tables import CODES, LINKS, SESSIONS, STANDS_ON
from app.served.sign_ins import SESSION_S, SignedIn, SignIns, digest, known_by_row

MOST_JOBS = 20
"""Sessions that one browser may hold."""


def tokens_in(kept: str) -> list[str]:
    """Return the tokens of what a browser keeps."""
    return [t for t in kept.split(".") if t][:MOST_JOBS]


def kept_as(tokens: Iterable[str]) -> str:
    """Return what a browser keeps of tokens, each once, the first ones if there are too many."""
    return ".".join(list(dict.fromkeys(tokens))[:MOST_JOBS])


def sessions_of(sign_ins: SignIns, ids: Iterable[str]) -> list[SignedIn]:
    """Return the sessions of some ids that are good, and those that stand on them; one of each site, the first.

    What was read a moment ago is used again.
    """
    asked = tuple(dict.fromkeys(ids))
    return list(sign_ins.lately.ask(asked, lambda: _sessions_of(sign_ins, asked)))


def _sessions_of(sign_ins: SignIns, asked: tuple[str, ...]) -> list[SignedIn]:
    chosen = select(SESSIONS, STANDS_ON.c.on).outerjoin(STANDS_ON, STANDS_ON.c.session == SESSIONS.c.id)
    theirs = or_(SESSIONS.c.id.in_(asked), STANDS_ON.c.on.in_(asked))
    good = (theirs, SESSIONS.c.ended.is_(None), SESSIONS.c.expires > sign_ins.now())
    with sign_ins.engine.connect() as connection:
        rows = {row.id: row for row in connection.execute(chosen.where(*good).order_by(SESSIONS.c.seen))}
    own = [id_ for id_ in asked if id_ in rows]
    on_them = [id_ for id_, row in rows.items() if id_ not in own and row.on in own]
    found = [known for id_ in (*own, *on_them) if (known := known_by_row(rows[id_])) is not None]
    of_each: dict[str, SignedIn] = {}
    for known in found:
        of_each.setdefault(known.site, known)
    return list(of_each.values())


def sessions_by(sign_ins: SignIns, tokens: Iterable[str]) -> list[SignedIn]:
    """Return the sessions of some tokens, as `sessions_of`."""
    return sessions_of(sign_ins, [digest(t) for t in tokens])


def admit_beside(sign_ins: SignIns, known: SignedIn, site: str, person: str, role: str) -> str:
    """Return the id of a new session on another site, in the browser of a session and known in the same way."""
    id_, now = digest(secrets.token_urlsafe(32)), sign_ins.now()
    row = {"id": id_, "site": site, "person": person, "role": role, "how": known.how}
    with sign_ins.engine.begin() as connection:
        root = connection.execute(select(STANDS_ON.c.on).where(STANDS_ON.c.session == known.id)).scalar() or known.id
        connection.execute(insert(SESSIONS).values(**row, expires=now + SESSION_S, seen=now))
        connection.execute(insert(STANDS_ON).values(session=id_, on=root))
    sign_ins.lately.forget()
    return id_


def site_was_known(sign_ins: SignIns, site: str) -> bool:
    """Tell whether a link, a session or a code was ever given for a site of this name."""
    with sign_ins.engine.connect() as connection:
        tables = (LINKS, SESSIONS, CODES)
        return any(connection.execute(select(t.c.site).where(t.c.site == site).limit(1)).first() for t in tables)
