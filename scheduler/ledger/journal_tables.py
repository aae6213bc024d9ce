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
"""`site` is the name of the chain that an entry belongs to: the id of its job, or what an older version wrote."""
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
AGAIN = Table(
    "journal_attachments_again",
    METADATA,
    Column("hash", Text, primary_key=True),
    Column("number", Integer, primary_key=True, autoincrement=False),
    Column("content", LargeBinary, nullable=False),
    sqlite_strict=True,
)
"""Content given a second time because the first copy was damaged; the damaged copy stays as it is."""
SIGNATURES = Table(
    "journal_signatures",
    METADATA,
    Column("site", Text, primary_key=True),
    Column("number", Integer, primary_key=True, autoincrement=False),
    Column("key", Text, nullable=False),
    Column("signature", Text, nullable=False),
    sqlite_strict=True,
)
"""Of an entry's hash, by the key of whoever wrote it; so of everything before it too."""
JOBS = Table(
    "journal_jobs",
    METADATA,
    Column("job", Text, primary_key=True),
    Column("number", Integer, primary_key=True, autoincrement=False),
    Column("name", Text, nullable=False),
    Column("first_day", Text, nullable=False),
    Column("chain", Text, nullable=False),
    sqlite_strict=True,
)
"""Whose journal this is. A job that is renamed gets another row; the last one holds."""

ARCHIVINGS = Table(
    "journal_archivings",
    METADATA,
    Column("site", Text, primary_key=True),
    Column("number", Integer, primary_key=True, autoincrement=False),
    Column("at", Text, nullable=False),
    Column("by", Text, nullable=False),
    Column("archived", Integer, nullable=False),
    sqlite_strict=True,
)
"""When a job was archived, 1, or that was taken back, 0; the last one holds."""

NUMBERED = (ENTRIES, SEALS, ARCHIVINGS)
OLDER = (ENTRIES, SEALS, ATTACHMENTS)
"""What the version before this one made."""


def is_made(connection: Connection) -> bool:
    """Tell whether there is a journal, of this version or the one before."""
    return inspect(connection).has_table(ENTRIES.name)


def missing_tables(connection: Connection) -> list[Table]:
    """Return the journal's tables that are not there."""
    there = set(inspect(connection).get_table_names())
    return [t for t in METADATA.sorted_tables if t.name not in there]


def create(connection: Connection) -> None:
    """Create tables and their triggers where they are missing, inside the caller's transaction."""
    missing = missing_tables(connection)
    if not missing:
        return
    METADATA.create_all(connection, tables=missing)
    if connection.dialect.name == "sqlite":
        statements = [s for t in missing for s in sqlite_guards(t).values()]
    else:
        statements = [*postgresql_functions().values(), *(s for t in missing for s in _postgresql_guards(t))]
    for statement in statements:
        connection.execute(text(statement))


def sqlite_guards(table: Table) -> dict[str, str]:
    """Return the statements that make a table's triggers, by the trigger's name."""
    name, refuse = table.name, "BEGIN SELECT RAISE(ABORT, 'the journal is never changed'); END"
    out = {
        f"{name}_no_{v}": f"CREATE TRIGGER {name}_no_{v} BEFORE {v} ON {name} {refuse}" for v in ("update", "delete")
    }
    # INSERT OR REPLACE removes the old row without firing its DELETE trigger unless a connection asks for
    # that; a BEFORE INSERT trigger fires in any case.
    if table in NUMBERED:
        out[f"{name}_in_order"] = (
            f"CREATE TRIGGER {name}_in_order BEFORE INSERT ON {name} WHEN NEW.number <> "
            f"(SELECT coalesce(max(number), 0) + 1 FROM {name} WHERE site = NEW.site) "
            "BEGIN SELECT RAISE(ABORT, 'journal entries follow one another'); END"
        )
    else:
        same = " AND ".join(f"{c.name} = NEW.{c.name}" for c in table.primary_key)
        out[f"{name}_once"] = (
            f"CREATE TRIGGER {name}_once BEFORE INSERT ON {name} "
            f"WHEN EXISTS (SELECT 1 FROM {name} WHERE {same}) {refuse}"
        )
    return out


def postgresql_functions() -> dict[str, str]:
    """Return the statements that make the functions behind the triggers, by the function's name."""
    return {
        "journal_refuse": "CREATE OR REPLACE FUNCTION journal_refuse() RETURNS trigger LANGUAGE plpgsql AS "
        "$$ BEGIN RAISE EXCEPTION 'the journal is never changed'; END $$",
        "journal_follow": "CREATE OR REPLACE FUNCTION journal_follow() RETURNS trigger LANGUAGE plpgsql AS "
        "$$ DECLARE last integer; BEGIN "
        "EXECUTE format('SELECT coalesce(max(number), 0) FROM %I WHERE site = $1', TG_TABLE_NAME) "
        "INTO last USING NEW.site; "
        "IF NEW.number <> last + 1 THEN RAISE EXCEPTION 'journal entries follow one another'; END IF; "
        "RETURN NEW; END $$",
    }


def postgresql_guards(table: Table) -> dict[str, str]:
    """Return what stands after `CREATE TRIGGER NAME` for each trigger of a table, by its name."""
    name = table.name
    out = {
        f"{name}_no_change": f"BEFORE UPDATE OR DELETE ON {name} FOR EACH ROW EXECUTE FUNCTION journal_refuse()",
        f"{name}_no_truncate": f"BEFORE TRUNCATE ON {name} FOR EACH STATEMENT EXECUTE FUNCTION journal_refuse()",
    }
    if table in NUMBERED:
        out[f"{name}_in_order"] = f"BEFORE INSERT ON {name} FOR EACH ROW EXECUTE FUNCTION journal_follow()"
    return out


def _postgresql_guards(table: Table) -> list[str]:
    return [f"CREATE TRIGGER {name} {rest}" for name, rest in postgresql_guards(table).items()]
