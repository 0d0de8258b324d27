"""The book's outings as a season's table: one row an outing, columns named by path."""

from __future__ import annotations

import json
from collections.abc import Iterator, Mapping
from typing import Any

from pydantic_core import PydanticCustomError
from sqlalchemy import Connection, select

from setupadvisor.entries.logbook import tables
from setupadvisor.entries.logbook.cells import setup_cells
from setupadvisor.entries.logbook.reading import outings_where
from setupadvisor.entries.logbook.records import Cell
from setupadvisor.entries.logbook.season_rows import OWN_COLUMNS, as_written, own_value
from setupadvisor.entries.logbook.versions import newest

_FIRST = ("session_id", "event", "date", "venue", "rider", "machine", "time")
_LAST = ("mark", "best_lap_s")
Table = dict[str, list[Cell | None]]


def season_columns(connection: Connection) -> Table:
    """Lay all outings out as a table.

    Parameters
    ----------
    connection : sqlalchemy.Connection
        To the book.

    Returns
    -------
    dict of str to list of Cell or None
        Columns in the order in which they were imported, then the others; rows in the order in
        which they were first written. Withdrawn outings are left out.
    """
    table: Table = {name: [] for name in _columns_imported(connection)}
    for name in ("session_id", "event", "date", "rider", "machine"):
        table.setdefault(name, [])
    count = 0
    for row in _rows(connection):
        for name, cell in row.items():
            column = table.get(name)
            if column is None:
                column = table[name] = []
            if len(column) < count:
                column.extend([None] * (count - len(column)))
            column.append(cell)
        count += 1
    for column in table.values():
        column.extend([None] * (count - len(column)))
    return table if _columns_imported(connection) else _ordered(table)


def _columns_imported(connection: Connection) -> list[str]:
    imports = tables.season_import
    found: dict[str, None] = {}
    for columns in connection.execute(select(imports.c.columns).order_by(imports.c.id)).scalars():
        found.update(dict.fromkeys(json.loads(columns)))
    return list(found)


def _ordered(table: Table) -> Table:
    walk = sorted(name for name in table if name.startswith("walk."))
    setup = [name for name in table if name.startswith("setup.")]
    named = [*_FIRST, *walk, *setup, *_LAST]
    rest = [name for name in table if name not in set(named)]
    return {name: table[name] for name in [*named, *rest] if name in table}


def _rows(connection: Connection) -> Iterator[Mapping[str, Cell]]:
    walks = {
        row.walk_id: json.loads(row.content)
        for row in connection.execute(newest(tables.walk_version))
    }
    outcomes = {row.outing_id: row for row in connection.execute(newest(tables.outcome))}
    chosen = outings_where().order_by(None).order_by(tables.outing_version.c.outing_id)
    for row in connection.execute(chosen):
        cells: dict[str, Cell] = dict(walks.get(row.walk_id, ()))
        setup = setup_cells(row.setup_names, row.setup)
        cells.update((f"setup.{name}", cell) for name, cell in setup.items())
        further: dict[str, Cell] = json.loads(row.further)
        outcome = outcomes.get(row.outing_id)
        own = {name: getattr(row, name) for name in OWN_COLUMNS[:6]}
        own["mark"] = outcome.mark if outcome else None
        own["best_lap_s"] = outcome.best_lap_s if outcome else None
        for name, value in own.items():
            written = further.pop(name, None)
            if written is not None and _says(name, written, value):
                cells[name] = written
            elif value not in {None, ""}:
                cells[name] = _cell(value)
        cells.update(further)
        yield cells


def _cell(value: Any) -> Cell:
    return int(value) if isinstance(value, float) and value.is_integer() else value


def _says(column: str, written: Cell, value: Any) -> bool:
    """Whether what was once written in a table still is what the book says."""
    try:
        return as_written(own_value(column, written)) == as_written(value)
    except PydanticCustomError:
        return False
