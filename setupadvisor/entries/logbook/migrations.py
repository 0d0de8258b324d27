"""Bringing a book up to date: numbered steps, each tried from the first version on.

A step, once released, is never edited: books written with it are out there. Steps are plain SQL
that SQLite and PostgreSQL both understand; where they differ, the step says so.
"""

from __future__ import annotations

from collections.abc import Iterator
from datetime import UTC, datetime

from sqlalchemy import Connection, insert, inspect, select

from setupadvisor.entries.logbook import tables
from setupadvisor.errors import InputError, Mistake

_KINDS = ("event", "rider", "machine", "setup", "setup_form")
_KEYED = "outing_id INTEGER NOT NULL REFERENCES outing (id)"
_WRITING = "writing_id INTEGER NOT NULL REFERENCES writing (id)"

_FIRST = (
    *(
        f"CREATE TABLE {kind} (id INTEGER NOT NULL PRIMARY KEY, name TEXT NOT NULL UNIQUE)"
        for kind in _KINDS
    ),
    """CREATE TABLE writing (
        id INTEGER NOT NULL PRIMARY KEY, who TEXT NOT NULL, written_at TEXT NOT NULL)""",
    """CREATE TABLE walk (
        id INTEGER NOT NULL PRIMARY KEY, event_id INTEGER NOT NULL REFERENCES event (id),
        date TEXT NOT NULL, part TEXT NOT NULL, UNIQUE (event_id, date, part))""",
    *(
        f"""CREATE TABLE {kind}_version (
            {kind}_id INTEGER NOT NULL REFERENCES {kind} (id), version INTEGER NOT NULL,
            content TEXT NOT NULL, {_WRITING}, PRIMARY KEY ({kind}_id, version))"""
        for kind in ("rider", "machine", "setup", "walk")
    ),
    "CREATE TABLE outing (id INTEGER NOT NULL PRIMARY KEY, session_id TEXT NOT NULL UNIQUE)",
    f"""CREATE TABLE outing_version (
        {_KEYED}, version INTEGER NOT NULL,
        event_id INTEGER NOT NULL REFERENCES event (id),
        rider_id INTEGER NOT NULL REFERENCES rider (id),
        machine_id INTEGER NOT NULL REFERENCES machine (id),
        walk_id INTEGER REFERENCES walk (id),
        date TEXT NOT NULL, time TEXT NOT NULL,
        setup_form_id INTEGER NOT NULL REFERENCES setup_form (id),
        setup TEXT NOT NULL, further TEXT NOT NULL,
        withdrawn INTEGER NOT NULL, {_WRITING}, PRIMARY KEY (outing_id, version))""",
    "CREATE INDEX outing_version_day ON outing_version (event_id, rider_id)",
    "CREATE INDEX outing_version_rider ON outing_version (rider_id, date)",
    f"""CREATE TABLE outcome (
        {_KEYED}, version INTEGER NOT NULL,
        mark DOUBLE PRECISION CHECK (mark BETWEEN 1 AND 5),
        best_lap_s DOUBLE PRECISION CHECK (best_lap_s > 0),
        {_WRITING}, PRIMARY KEY (outing_id, version))""",
    f"""CREATE TABLE remark (
        {_KEYED}, place INTEGER NOT NULL, version INTEGER NOT NULL,
        text TEXT NOT NULL, remarks TEXT NOT NULL,
        {_WRITING}, PRIMARY KEY (outing_id, place, version))""",
    f"""CREATE TABLE lap (
        {_KEYED}, lap INTEGER NOT NULL, version INTEGER NOT NULL,
        lap_s DOUBLE PRECISION CHECK (lap_s > 0), clock_s DOUBLE PRECISION, flag INTEGER NOT NULL,
        {_WRITING}, PRIMARY KEY (outing_id, lap, version)) /* clustered */""",
    f"""CREATE TABLE setting_change (
        {_KEYED}, setting TEXT NOT NULL, version INTEGER NOT NULL,
        start_value DOUBLE PRECISION NOT NULL, to_value DOUBLE PRECISION NOT NULL,
        reason TEXT NOT NULL, remark TEXT NOT NULL,
        verdict TEXT NOT NULL CHECK (verdict IN ('', 'better', 'same', 'worse')),
        {_WRITING}, PRIMARY KEY (outing_id, setting, version))""",
    f"""CREATE TABLE season_import (
        id INTEGER NOT NULL PRIMARY KEY, source TEXT NOT NULL, columns TEXT NOT NULL,
        arrow_schema TEXT NOT NULL, {_WRITING})""",
)

_FIRST_TABLES = (
    *_KINDS,
    *("writing", "walk", "rider_version", "machine_version", "setup_version", "walk_version"),
    *("outing", "outing_version", "outcome", "remark", "lap", "setting_change", "season_import"),
    "schema_version",
)


def _first(*, sqlite: bool) -> Iterator[str]:
    for statement in _FIRST:
        # SQLite alone keeps a table in the order of its key when asked to.
        yield statement.replace("/* clustered */", "WITHOUT ROWID" if sqlite else "")


def _second(*, sqlite: bool) -> Iterator[str]:
    """Let the database itself refuse to overwrite; find the last day without reading all."""
    yield "CREATE INDEX outing_version_last ON outing_version (date, outing_id)"
    words = "nothing in a logbook is overwritten: write a new version"
    if sqlite:
        for table in _FIRST_TABLES:
            for change in ("UPDATE", "DELETE"):
                yield (
                    f"CREATE TRIGGER {table}_{change.lower()} BEFORE {change} ON {table} "
                    f"BEGIN SELECT RAISE(ABORT, '{words}'); END"
                )
        return
    yield (
        "CREATE FUNCTION refuse_to_overwrite() RETURNS trigger LANGUAGE plpgsql AS "
        f"$$ BEGIN RAISE EXCEPTION '{words}'; END $$"
    )
    for table in _FIRST_TABLES:
        yield (
            f"CREATE TRIGGER {table}_kept BEFORE UPDATE OR DELETE OR TRUNCATE ON {table} "
            "FOR EACH STATEMENT EXECUTE FUNCTION refuse_to_overwrite()"
        )


STEPS = (_first, _second)
NEWEST = len(STEPS)


def version_of(connection: Connection) -> int:
    """Say which version a book has.

    Parameters
    ----------
    connection : sqlalchemy.Connection
        To the book.

    Returns
    -------
    int
        0 where there is nothing yet.

    Raises
    ------
    InputError
        If the database holds something else.
    """
    there = inspect(connection).get_table_names()
    if tables.schema_version.name not in there:
        if there:
            raise InputError(
                Mistake(
                    "the database",
                    f"it holds something else than a logbook ({', '.join(sorted(there)[:3])})",
                    "give another name with --book",
                )
            )
        return 0
    versions = connection.execute(select(tables.schema_version.c.version)).scalars().all()
    return max(versions, default=0)


def migrate(connection: Connection) -> None:
    """Bring a book to the newest version, within the transaction at hand.

    Parameters
    ----------
    connection : sqlalchemy.Connection
        To the book; nobody else may be writing.
    """
    sqlite = connection.dialect.name == "sqlite"
    start = version_of(connection)
    if start == 0:
        connection.exec_driver_sql(
            "CREATE TABLE schema_version (version INTEGER NOT NULL PRIMARY KEY, "
            "applied_at TEXT NOT NULL)"
        )
    for version, step in enumerate(STEPS[start:], start + 1):
        for statement in step(sqlite=sqlite):
            connection.exec_driver_sql(statement)
        now = datetime.now(UTC).isoformat(timespec="microseconds")
        connection.execute(insert(tables.schema_version), [{"version": version, "applied_at": now}])
