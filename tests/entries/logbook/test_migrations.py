"""Books of every version are brought up to date; newer ones are left alone."""

from __future__ import annotations

import sqlite3
from collections.abc import Iterator
from contextlib import closing
from pathlib import Path
from typing import Any

import pytest
from sqlalchemy import insert, inspect

from setupadvisor.entries.logbook import migrations, tables
from setupadvisor.entries.logbook.book import Book, open_book
from setupadvisor.entries.logbook.records import ChangeCount, ChangeEntry, LapEntry, RiderRemark
from setupadvisor.errors import InputError
from tests.entries.logbook.samples import EVENT, OUTING, RIDERS, outing, write

# What `iterdump` of sqlite3 gave for a book written by the first version.
FIRST_VERSION = (Path(__file__).parent / "version-1.sql").read_text(encoding="utf-8")
FIRST_EVENT = "Quarry Field club day"


@pytest.fixture
def first(tmp_path: Path) -> Path:
    """A book of the first version."""
    path = tmp_path / "first.book"
    with closing(sqlite3.connect(path)) as connection:
        connection.executescript(FIRST_VERSION)
        connection.execute("PRAGMA journal_mode = WAL")
    return path


def version(path: Path) -> int:
    """The version that a book in a file says it has."""
    with closing(sqlite3.connect(path)) as connection:
        (found,) = connection.execute("SELECT max(version) FROM schema_version").fetchone()
    return int(found)


def test_the_book_of_the_first_version_is_what_it_says(first: Path) -> None:
    assert version(first) == 1 < migrations.NEWEST


def test_a_book_of_the_first_version_is_brought_up_to_date_and_loses_nothing(first: Path) -> None:
    with open_book(first, create=False) as book:
        day = book.day(FIRST_EVENT, "north")
        assert day.walk is not None
        assert day.walk.ground is not None
        assert day.walk.ground.firmness == "dents"
        one, two = day.outings
        assert one.outing.setup == {"shock_rebound_low": 11.0, "engine_map": "mild"}
        assert one.outing.further == {"bib": 7}
        assert (one.mark, one.best_lap_s, one.who) == (4, 118.2, "crew")
        assert one.remarks == (RiderRemark("kicks in the whoops", ("rear_kicks",)),)
        assert one.laps == (LapEntry(1, 118.2, 33000.0), LapEntry(2, None, None, "in"))
        assert two.outing.setup["shock_rebound_low"] == 9.0
        assert day.changes == (
            ChangeEntry("shock_rebound_low", 11.0, 9.0, "", "rear_kicks", "better", "A1"),
        )
        assert book.record_of_changes() == [
            ChangeCount("works-450", "shock_rebound_low", False, "rear_kicks", 1, 0, 0)
        ]
        assert book.riders() == {"north": RIDERS["north"]}
        assert len(book.history(FIRST_EVENT)) == 12
        write(book, OUTING)
    assert version(first) == migrations.NEWEST
    with open_book(first, create=False) as book:
        assert len(book.day(EVENT, "north").outings) == 1


def test_an_update_that_breaks_off_leaves_the_old_book(
    first: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    before = contents(first)

    def broken(*, sqlite: bool) -> Iterator[str]:
        yield "CREATE TABLE halfway (id INTEGER)"
        yield "this is no SQL"

    monkeypatch.setattr(migrations, "STEPS", (migrations.STEPS[0], broken))
    with pytest.raises(InputError, match="the database refused"):
        open_book(first)
    assert contents(first) == before
    monkeypatch.undo()
    with open_book(first) as book:
        assert len(book.day(FIRST_EVENT, "north").outings) == 2


def contents(path: Path) -> list[str]:
    """All that is in a book in a file."""
    with closing(sqlite3.connect(path)) as connection:
        return list(connection.iterdump())


def test_a_book_of_a_newer_version_is_refused_and_left_as_it_is(book: Book, where: Any) -> None:
    write(book, OUTING)
    row = {"version": migrations.NEWEST + 1, "applied_at": "2030-01-01T00:00:00+00:00"}
    with book.engine.begin() as connection:
        connection.execute(insert(tables.schema_version), [row])
    book.close()
    before = Path(where).read_bytes() if isinstance(where, Path) else b""
    with pytest.raises(InputError) as error:
        open_book(where)
    (mistake,) = error.value.mistakes
    assert f"version {migrations.NEWEST + 1} of the book" in mistake.found
    assert mistake.mend == "install the newer setupadvisor; the book was left as it is"
    if isinstance(where, Path):
        assert where.read_bytes() == before


def test_the_migrations_make_the_tables_that_the_code_knows(book: Book) -> None:
    found = inspect(book.engine)
    assert set(found.get_table_names()) == set(tables.metadata.tables)
    for name, table in tables.metadata.tables.items():
        columns = {column["name"]: column for column in found.get_columns(name)}
        assert list(columns) == [column.name for column in table.columns], name
        for column in table.columns:
            there = columns[column.name]
            assert there["type"].python_type is column.type.python_type, (name, column.name)
            assert there["nullable"] == column.nullable, (name, column.name)
        key = found.get_pk_constraint(name)["constrained_columns"]
        assert key == [column.name for column in table.primary_key], name
        links = {
            (*link["constrained_columns"], link["referred_table"], *link["referred_columns"])
            for link in found.get_foreign_keys(name)
        }
        assert links == {
            (key.parent.name, key.column.table.name, key.column.name) for key in table.foreign_keys
        }, name
        indices = {
            index["name"]: index["column_names"]
            for index in found.get_indexes(name)
            if not index["unique"]
        }
        assert indices == {
            index.name: [column.name for column in index.columns] for index in table.indexes
        }, name


def test_released_steps_are_never_edited(tmp_path: Path) -> None:
    """The first step still makes the tables of the first version's book."""
    path = tmp_path / "again.book"
    with closing(sqlite3.connect(path)) as connection:
        connection.execute("CREATE TABLE schema_version (version INTEGER, applied_at TEXT)")
        for statement in migrations.STEPS[0](sqlite=True):
            connection.execute(statement)
        made = tables_of(connection)
    with closing(sqlite3.connect(":memory:")) as connection:
        connection.executescript(FIRST_VERSION)
        assert {**tables_of(connection), "schema_version": ""} == {**made, "schema_version": ""}


def tables_of(connection: sqlite3.Connection) -> dict[str, str]:
    """How each table and index was made."""
    rows = connection.execute("SELECT name, sql FROM sqlite_master WHERE sql IS NOT NULL")
    return {name: " ".join(sql.split()) for name, sql in rows}


def test_two_who_open_an_old_book_at_once_both_get_it(first: Path) -> None:
    with open_book(first) as one, open_book(first) as other:
        write(one, OUTING)
        write(other, outing("M2"))
        assert len(one.day(EVENT, "north").outings) == 2
