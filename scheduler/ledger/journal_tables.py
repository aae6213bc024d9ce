"""The journal's tables and the triggers that let nobody change or remove a row, on SQLite and PostgreSQL."""

from __future__ import annotations

from sqlalchemy import Column, Connection, Integer, LargeBinary, MetaData, Table, Text, inspect, text

METADATA = MetaData()

ENTRIES = Table(
    "journal_entries",
    METADATA,
    Column("site", Text, primary_key=True),
    Column("number", Integer, primary_key=True, autoincrement=False),
    Column("at", Text, nullable=False),
    Column("by", Text, nullable=False),
    Column("body", Text, nullable=False),
    Column("previous", Text, nullable=False),
    Column("hash", Text, nullable=False),
    sqlite_strict=True,
)
SEALS = Table(
    "journal_seals",
    METADATA,
    Column("site", Text, primary_key=True),
    Column("number", Integer, primary_key=True, autoincrement=False),
    Column("hash", Text, nullable=False),
    sqlite_strict=True,
)
"""The hash of every entry once more, so that an entry cut off the end is missed."""
ATTACHMENTS = Table(
    "journal_attachments",
    METADATA,
    Column("hash", Text, primary_key=True),
    Column("media", Text, nullable=False),
    Column("content", LargeBinary, nullable=False),
    sqlite_strict=True,
)

NUMBERED = (ENTRIES, SEALS)


def is_made(connection: Connection) -> bool:
    """Tell whether the journal's tables are there."""
    return inspect(connection).has_table(ENTRIES.name)


def create(connection: Connection) -> None:
    """Create tables and triggers where they are missing, inside the caller's transaction."""
    if is_made(connection):
        return
    METADATA.create_all(connection)
    guards = _sqlite_guards() if connection.dialect.name == "sqlite" else _postgresql_guards()
    for statement in guards:
        connection.execute(text(statement))


def _sqlite_guards() -> list[str]:
    out = []
    for table in METADATA.sorted_tables:
        out += [
            f"CREATE TRIGGER {table.name}_no_{verb} BEFORE {verb} ON {table.name} "
            "BEGIN SELECT RAISE(ABORT, 'the journal is never changed'); END"
            for verb in ("update", "delete")
        ]
    # INSERT OR REPLACE removes the old row without firing its DELETE trigger unless a connection asks for
    # that; a BEFORE INSERT trigger fires in any case.
    out += [
        f"CREATE TRIGGER {table.name}_in_order BEFORE INSERT ON {table.name} WHEN NEW.number <> "
        f"(SELECT coalesce(max(number), 0) + 1 FROM {table.name} WHERE site = NEW.site) "
        "BEGIN SELECT RAISE(ABORT, 'journal entries follow one another'); END"
        for table in NUMBERED
    ]
    out.append(
        f"CREATE TRIGGER {ATTACHMENTS.name}_once BEFORE INSERT ON {ATTACHMENTS.name} "
        f"WHEN EXISTS (SELECT 1 FROM {ATTACHMENTS.name} WHERE hash = NEW.hash) "
        "BEGIN SELECT RAISE(ABORT, 'the journal is never changed'); END"
    )
    return out


def _postgresql_guards() -> list[str]:
    out = [
        "CREATE OR REPLACE FUNCTION journal_refuse() RETURNS trigger LANGUAGE plpgsql AS "
        "$$ BEGIN RAISE EXCEPTION 'the journal is never changed'; END $$",
        "CREATE OR REPLACE FUNCTION journal_follow() RETURNS trigger LANGUAGE plpgsql AS "
        "$$ DECLARE last integer; BEGIN "
        "EXECUTE format('SELECT coalesce(max(number), 0) FROM %I WHERE site = $1', TG_TABLE_NAME) "
        "INTO last USING NEW.site; "
        "IF NEW.number <> last + 1 THEN RAISE EXCEPTION 'journal entries follow one another'; END IF; "
        "RETURN NEW; END $$",
    ]
    for table in METADATA.sorted_tables:
        out += [
            f"CREATE TRIGGER {table.name}_no_change BEFORE UPDATE OR DELETE ON {table.name} "
            "FOR EACH ROW EXECUTE FUNCTION journal_refuse()",
            f"CREATE TRIGGER {table.name}_no_truncate BEFORE TRUNCATE ON {table.name} "
            "FOR EACH STATEMENT EXECUTE FUNCTION journal_refuse()",
        ]
    out += [
        f"CREATE TRIGGER {table.name}_in_order BEFORE INSERT ON {table.name} "
        "FOR EACH ROW EXECUTE FUNCTION journal_follow()"
        for table in NUMBERED
    ]
    return out
