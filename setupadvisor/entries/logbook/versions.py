"""Rows that are only ever added: the newest version counts, and nothing is written twice."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from typing import Any

from sqlalchemy import (
    ColumnElement,
    Connection,
    Row,
    Select,
    Table,
    and_,
    exists,
    func,
    insert,
    select,
)

# SQLite takes at most 32766 values in one question; this stays far below.
_AT_ONCE = 1_000


def id_of(connection: Connection, table: Table, **key: Any) -> int | None:
    """Find the number of something by its name.

    Parameters
    ----------
    connection : sqlalchemy.Connection
        To the book.
    table : sqlalchemy.Table
        One with an ``id``.
    **key : object
        Its unique columns.

    Returns
    -------
    int or None
        None where it is not in the book.
    """
    named = [table.c[name] == value for name, value in key.items()]
    found: int | None = connection.execute(select(table.c.id).where(*named)).scalar()
    return found


def next_id(connection: Connection, table: Table) -> int:
    """Give the next free number of a table; only one writer is at work at a time.

    Parameters
    ----------
    connection : sqlalchemy.Connection
        To the book, in a writing transaction.
    table : sqlalchemy.Table
        One with an ``id``.

    Returns
    -------
    int
        From 1.
    """
    return (connection.execute(select(func.max(table.c.id))).scalar() or 0) + 1


def id_for(connection: Connection, table: Table, **key: Any) -> int:
    """Find the number of something by its name, adding it where it is new.

    Parameters
    ----------
    connection : sqlalchemy.Connection
        To the book, in a writing transaction.
    table : sqlalchemy.Table
        One with an ``id``.
    **key : object
        Its unique columns.

    Returns
    -------
    int
        Its number.
    """
    found = id_of(connection, table, **key)
    if found is None:
        found = next_id(connection, table)
        connection.execute(insert(table), [{"id": found, **key}])
    return found


def newest(table: Table, *columns: ColumnElement[Any]) -> Select[Any]:
    """Select the newest version of everything in a table.

    Parameters
    ----------
    table : sqlalchemy.Table
        One with a ``version`` in its key.
    *columns : sqlalchemy.ColumnElement
        What to select; all columns without.

    Returns
    -------
    sqlalchemy.Select
        To narrow down further.
    """
    later = table.alias()
    same = [later.c[key.name] == key for key in table.primary_key if key.name != "version"]
    superseded = exists().where(and_(*same, later.c.version > table.c.version))
    return select(*(columns or table.c)).where(~superseded)


def add_version(
    connection: Connection,
    table: Table,
    key: Mapping[str, Any],
    content: Mapping[str, Any],
    writing_id: int,
) -> int:
    """Add a version, unless the newest one says the same already.

    Parameters
    ----------
    connection : sqlalchemy.Connection
        To the book, in a writing transaction.
    table : sqlalchemy.Table
        One with a ``version`` in its key.
    key : mapping
        The key's other columns.
    content : mapping
        The remaining columns.
    writing_id : int
        The writing it belongs to.

    Returns
    -------
    int
        The version that says so now.
    """
    mine = [table.c[name] == value for name, value in key.items()]
    last = connection.execute(
        select(table).where(*mine).order_by(table.c.version.desc()).limit(1)
    ).mappings()
    row = last.first()
    if row is not None and all(row[name] == value for name, value in content.items()):
        version: int = row["version"]
        return version
    version = 1 if row is None else row["version"] + 1
    connection.execute(
        insert(table), [{**key, "version": version, **content, "writing_id": writing_id}]
    )
    return version


def insert_many(
    connection: Connection, table: Table, names: Sequence[str], rows: Sequence[tuple[Any, ...]]
) -> None:
    """Add many rows, without looking at each value of each.

    Parameters
    ----------
    connection : sqlalchemy.Connection
        To the book, in a writing transaction.
    table : sqlalchemy.Table
        Which.
    names : sequence of str
        Its columns.
    rows : sequence of tuple
        Values in the order of `names`, of types that the database takes as they are.
    """
    if rows:
        marks = ", ".join([_mark(connection)] * len(names))
        statement = f"INSERT INTO {table.name} ({', '.join(names)}) VALUES ({marks})"
        connection.exec_driver_sql(statement, list(rows))


def rows_with(
    connection: Connection, table: Table, column: str, values: Sequence[Any]
) -> Iterator[Row[Any]]:
    """Find the rows that have one of many values.

    Parameters
    ----------
    connection : sqlalchemy.Connection
        To the book.
    table : sqlalchemy.Table
        Which.
    column : str
        One of its columns, with an index.
    values : sequence
        What to look for.

    Yields
    ------
    sqlalchemy.Row
        All columns of the table.
    """
    names = ", ".join(table.c.keys())
    for start in range(0, len(values), _AT_ONCE):
        some = tuple(values[start : start + _AT_ONCE])
        marks = ", ".join([_mark(connection)] * len(some))
        statement = f"SELECT {names} FROM {table.name} WHERE {column} IN ({marks})"
        yield from connection.exec_driver_sql(statement, some)


def _mark(connection: Connection) -> str:
    return "?" if connection.dialect.name == "sqlite" else "%s"
