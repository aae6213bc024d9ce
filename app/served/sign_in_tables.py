"""The tables of sign-in: links, open sessions, codes, and second acts. Secrets stand in them as hashes only."""

from __future__ import annotations

from sqlalchemy import Column, Float, Integer, MetaData, Table, Text

TABLES = MetaData()

LINKS = Table(
    "personal_links",
    TABLES,
    Column("id", Text, primary_key=True),
    Column("site", Text, nullable=False),
    Column("person", Text, nullable=False),
    Column("role", Text, nullable=False),
    Column("number", Text, nullable=False),
    Column("tries", Integer, nullable=False),
    Column("expires", Float, nullable=False),
    Column("used", Float),
    Column("revoked", Float),
)
"""A personal link, the hash of its number and how often one was tried; moments are seconds since 1970 in UTC."""
SESSIONS = Table(
    "personal_sessions",
    TABLES,
    Column("id", Text, primary_key=True),
    Column("site", Text, nullable=False),
    Column("person", Text, nullable=False),
    Column("role", Text, nullable=False),
    Column("how", Text, nullable=False),
    Column("expires", Float, nullable=False),
    Column("seen", Float, nullable=False),
    Column("ended", Float),
)
"""A browser in which somebody signed in, how they were known, and when it was last heard of."""
STANDS_ON = Table(
    "sessions_beside",
    TABLES,
    Column("session", Text, primary_key=True),
    Column("on", Text, nullable=False),
)
"""A session without a token, and the one in whose browser it was made: without that one nobody comes to it."""
CODES = Table(
    "sign_in_codes",
    TABLES,
    Column("site", Text, primary_key=True),
    Column("person", Text, primary_key=True),
    Column("hash", Text, nullable=False),
    Column("tries", Integer, nullable=False),
    Column("since", Float, nullable=False),
)
"""The code that a person chose, and how often a wrong one was tried since a moment."""
ACTS = Table(
    "sign_in_acts",
    TABLES,
    Column("id", Text, primary_key=True),
    Column("session", Text, nullable=False),
    Column("about", Text, nullable=False),
    Column("expires", Float, nullable=False),
    Column("used", Float),
)
"""A second act: in one session, for one entry, once."""
