"""Rows of a season's table as records of the book, each cell so that it can be given back."""

from __future__ import annotations

import json
import math
from collections.abc import Callable, Collection, Mapping, Sequence
from dataclasses import dataclass
from functools import partial
from typing import Any

from pydantic_core import PydanticCustomError

from setupadvisor.entries.logbook.cells import cell_from_text, dumped, plain_number, text_from_cell
from setupadvisor.entries.logbook.records import Cell
from setupadvisor.entries.logbook.season_blocks import Block
from setupadvisor.entries.quantity import Quantity, entry_fields
from setupadvisor.entries.session import Session
from setupadvisor.entries.texts import Text, read_day

OWN_COLUMNS = ("session_id", "event", "date", "rider", "machine", "time", "mark", "best_lap_s")
# What a row says of its walk where all its cells are empty.
NO_WALK = "{}"
_OUTCOMES = ("mark", "best_lap_s")


@dataclass(frozen=True)
class SeasonRows:
    """Rows of the table, column by column.

    Parameters
    ----------
    session_id, event, date, rider, machine, time : list of str
        As the book names them.
    walk : list of str
        The walk's cells, as JSON; empty where the table has no column of the walk.
    setup_names : str
        The settings, as a JSON list.
    setup : list of str
        What they were set to, each as a JSON list in that order.
    further : list of str
        The cells of other columns, as JSON.
    mark, best_lap_s : list of float or None
        The outcome.
    """

    session_id: list[str]
    event: list[str]
    date: list[str]
    rider: list[str]
    machine: list[str]
    time: list[str]
    walk: list[str]
    setup_names: str
    setup: list[str]
    further: list[str]
    mark: list[float | None]
    best_lap_s: list[float | None]


class _Pieces(dict[Any, str]):
    """The piece of a JSON object that each different cell of a column is written as."""

    def __init__(self, name: str, values: _Values | None = None) -> None:
        self.name = json.dumps(name, ensure_ascii=False)
        self.values_of = values

    def __missing__(self, cell: Any) -> str:
        piece = ""
        if cell is not None and cell != "" and self._says_more(cell):
            piece = f"{self.name}:{_value_piece(cell)}"
        self[cell] = piece
        return piece

    def _says_more(self, cell: Any) -> bool:
        """Whether a column of the book's own was written otherwise than the book writes it."""
        if self.values_of is None:
            return True
        return isinstance(cell, str) and as_written(self.values_of[cell]) != cell


def as_written(value: object) -> str:
    """Write a value of the book's own columns as the book would.

    Parameters
    ----------
    value : object
        A text, a number or None.

    Returns
    -------
    str
        Whole numbers without a point.

    Examples
    --------
    >>> as_written(48.0), as_written(48.14), as_written(None)
    ('48', '48.14', '')
    """
    if isinstance(value, float) and value.is_integer():
        value = int(value)
    return "" if value is None else str(value)


def own_value(column: str, cell: Cell | None) -> Any:
    """Read a cell of one of the book's own columns.

    Parameters
    ----------
    column : str
        One of `OWN_COLUMNS`.
    cell : Cell or None
        As it stands in the table.

    Returns
    -------
    str, float or None
        As the book keeps it.
    """
    if column in _OUTCOMES:
        number = plain_number(cell)
        if not math.isnan(number):
            return number
        return None if cell is None or not str(cell).strip() else _kinds()[column].read(cell)
    text = text_from_cell(cell).strip()
    if column == "date":
        # A Parquet table gives a date as the midnight at which it begins.
        day, _, clock = text.partition(" ")
        return read_day(text if clock.strip("0:.") else day).isoformat()
    if column == "time":
        return _printable(text)
    return text


def _printable(text: str) -> str:
    try:
        return Text(80).read(text)
    except PydanticCustomError:
        return ""


def _kinds() -> dict[str, Quantity]:
    fields = entry_fields(Session, "session")
    kinds = {name: fields[f"session.{name}"].kind for name in _OUTCOMES}
    return {name: kind for name, kind in kinds.items() if isinstance(kind, Quantity)}


class RowReader:
    """Turns blocks of a table into rows of the book.

    Parameters
    ----------
    first : Block
        The first block.
    settings : collection of str
        Settings that the machines have.
    """

    def __init__(self, first: Block, settings: Collection[str]) -> None:
        header = [name for name in first.header if name in first.columns]
        self.own = [name for name in OWN_COLUMNS if name in header]
        self.setup = [
            name
            for name in header
            if name.startswith("setup.") and name.removeprefix("setup.") in settings
        ]
        self.setup_names = dumped([name.removeprefix("setup.") for name in self.setup])
        kept = {*self.own, *self.setup, "venue"}
        self.further = [name for name in header if name not in kept]
        self._values = {name: _Values(partial(own_value, name)) for name in self.own}
        self._pieces = {
            **{name: _Pieces(name) for name in (*first.walk_names, "venue", *self.further)},
            **{name: _Values(_value_piece) for name in self.setup},
            **{name: _Pieces(name, self._values[name]) for name in self.own},
        }
        self._walks: dict[tuple[Any, Any], str] = {}

    def rows(self, block: Block) -> SeasonRows:
        """Read one block."""
        columns, count = block.columns, len(block.walk_keys)
        own: dict[str, list[Any]] = {
            name: [None if name in _OUTCOMES else ""] * count for name in OWN_COLUMNS
        }
        for name, values in self._values.items():
            own[name] = list(map(values.__getitem__, columns[name]))
        return SeasonRows(
            **own,
            walk=self._walk_texts(block),
            setup_names=self.setup_names,
            setup=self._setups(columns, count),
            further=self._objects([*self.own, *self.further], columns, count),
        )

    def _walk_texts(self, block: Block) -> list[str]:
        """Write each different walk once; a season has many sessions of one walk."""
        venues = block.columns.get("venue")
        if venues is None:
            if not block.walk_names:
                return [""] * len(block.walk_keys)
            venues = [None] * len(block.walk_keys)
        keys = list(zip(venues, block.walk_keys, strict=True))
        for key in dict.fromkeys(keys):
            if key not in self._walks:
                venue, walk = key
                named = zip(block.walk_names, block.walks[walk], strict=True)
                pieces = [self._pieces["venue"][venue]]
                pieces += [self._pieces[name][cell] for name, cell in named]
                self._walks[key] = f"{{{','.join(filter(None, pieces))}}}"
        return list(map(self._walks.__getitem__, keys))

    def _setups(self, columns: Mapping[str, Sequence[Any]], count: int) -> list[str]:
        if not self.setup:
            return ["[]"] * count
        pieces = [map(self._pieces[name].__getitem__, columns[name]) for name in self.setup]
        return [f"[{','.join(row)}]" for row in zip(*pieces, strict=True)]

    def _objects(
        self, names: Sequence[str], columns: Mapping[str, Sequence[Any]], count: int
    ) -> list[str]:
        pieces = []
        for name in names:
            column = list(map(self._pieces[name].__getitem__, columns[name]))
            if any(column):
                pieces.append(column)
        if not pieces:
            return ["{}"] * count
        return [f"{{{','.join(filter(None, row))}}}" for row in zip(*pieces, strict=True)]


class _Values(dict[Any, Any]):
    """What each different cell of a column is read as."""

    def __init__(self, read: Callable[[Any], Any]) -> None:
        self.read = read

    def __missing__(self, cell: Any) -> Any:
        value = self[cell] = self.read(cell)
        return value


def _value_piece(cell: Any) -> str:
    if cell is None or cell == "":
        return "null"
    return json.dumps(cell_from_text(cell) if isinstance(cell, str) else cell, ensure_ascii=False)
