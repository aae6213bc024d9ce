"""Are the journal's tables and triggers as they were made? Whoever dropped one could change rows at will."""

from __future__ import annotations

import re
from collections.abc import Iterator

from sqlalchemy import Connection, text
from sqlalchemy.schema import CreateTable

from scheduler.ledger.journal_tables import METADATA, postgresql_functions, postgresql_guards, sqlite_guards

_ALL = METADATA.sorted_tables


def guard_faults(connection: Connection) -> Iterator[tuple[str, str]]:
    """Yield the place and words of every table or trigger that is missing, altered or not the journal's."""
    yield from _sqlite(connection) if connection.dialect.name == "sqlite" else _postgresql(connection)


def _plain(sql: str | None) -> str:
    return re.sub(r"\s+", " ", sql or "").replace('"', "").strip().lower()


def _close(sql: str | None) -> str:
    """Return a statement without any blanks, which database libraries set as they like."""
    return _plain(sql).replace(" ", "")


def _sqlite(connection: Connection) -> Iterator[tuple[str, str]]:
    asked = text("SELECT type, name, sql FROM sqlite_master WHERE name NOT LIKE 'sqlite_%'")
    there = {(str(kind), str(name)): _close(sql) for kind, name, sql in connection.execute(asked)}
    for table in _ALL:
        made = _close(str(CreateTable(table).compile(dialect=connection.dialect)))
        yield from _compared(("table", table.name), made, there)
        for name, statement in sqlite_guards(table).items():
            yield from _compared(("trigger", name), _close(statement), there)
    for kind, name in there:
        yield f"The {kind} {name}", "is none of the journal's; somebody added it."


def _compared(key: tuple[str, str], made: str, there: dict[tuple[str, str], str]) -> Iterator[tuple[str, str]]:
    kind, name = key
    found = there.pop(key, None)
    what = "guards against changes" if kind == "trigger" else "holds the record"
    if found is None:
        yield f"The {kind} {name}", f"is missing; it {what}."
    elif found != made:
        yield f"The {kind} {name}", f"is not as it was made; it {what}."


def _postgresql(connection: Connection) -> Iterator[tuple[str, str]]:
    asked = text(
        "SELECT t.tgname, t.tgenabled, pg_get_triggerdef(t.oid) FROM pg_trigger t JOIN pg_class c ON c.oid = t.tgrelid "
        "JOIN pg_namespace n ON n.oid = c.relnamespace "
        "WHERE NOT t.tgisinternal AND n.nspname = current_schema() AND c.relname = :name"
    )
    for table in _ALL:
        there = {str(n): (str(on), _plain(said)) for n, on, said in connection.execute(asked, {"name": table.name})}
        for name, rest in postgresql_guards(table).items():
            on, said = there.pop(name, ("", ""))
            if not said:
                yield f"The trigger {name}", "is missing; it guards against changes."
            elif on != "O":
                yield f"The trigger {name}", "is switched off; it guards against changes."
            elif _words(said) != _words(_plain(f"CREATE TRIGGER {name} {rest}")):
                yield f"The trigger {name}", "is not as it was made; it guards against changes."
        for name in there:
            yield f"The trigger {name}", "is none of the journal's; somebody added it."
    bodies = text(
        "SELECT p.proname, p.prosrc FROM pg_proc p JOIN pg_namespace n ON n.oid = p.pronamespace "
        "WHERE n.nspname = current_schema() AND p.proname IN ('journal_refuse', 'journal_follow')"
    )
    found = {str(name): _plain(source) for name, source in connection.execute(bodies)}
    for name, statement in postgresql_functions().items():
        if found.get(name) != _plain(statement.split("$$")[1]):
            yield f"The function {name}", "is not as it was made; it guards against changes."


def _words(said: str) -> list[str]:
    """Return the words of a trigger in any order, without a schema: a server lists events as it likes."""
    return sorted(word.rpartition(".")[2] for word in said.split())
