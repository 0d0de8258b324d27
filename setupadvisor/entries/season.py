"""The season: a table of sessions, one row an outing, columns named by path."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass, replace
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np
from numpy.typing import NDArray

from setupadvisor.entries.machine import Machine
from setupadvisor.entries.quantity import EntryField, Word, entry_fields
from setupadvisor.entries.rider import Rider
from setupadvisor.entries.season_mistakes import listed
from setupadvisor.entries.season_reader import FloatArray, Names, SeasonReader
from setupadvisor.entries.season_table import read_table
from setupadvisor.errors import InputError, Mistake

if TYPE_CHECKING:
    import pandas as pd

NEEDED = ("session_id", "event", "date", "rider", "machine")


_PER_SESSION = (
    "session_id",
    "event",
    "venue",
    "rider",
    "machine",
    "day",
    "order",
    "mark",
    "best_lap_s",
)


@dataclass(frozen=True)
class Season:
    """A season's sessions as columns of equal length.

    Parameters
    ----------
    source : str
        The file's name.
    session_id, event, venue, rider, machine : numpy.ndarray of str, shape (n,)
        Names; an unknown venue is empty.
    day : numpy.ndarray, shape (n,)
        Days since 1970-01-01.
    order : numpy.ndarray, shape (n,)
        Place within the table, for the order of a day.
    conditions : dict of str to numpy.ndarray
        Walk and rider columns by path: numbers in the field's unit, words as their place in the
        field's list, NaN where not entered; fields inside a list have shape (n, places).
    settings : tuple of str
        Names of the settings recorded.
    values : numpy.ndarray, shape (n, settings)
        What was on the motorcycle, NaN where not recorded.
    mark, best_lap_s : numpy.ndarray, shape (n,)
        The outcome, NaN where not recorded.
    notices : tuple of str
        What was ignored.
    """

    source: str
    session_id: Names
    event: Names
    venue: Names
    rider: Names
    machine: Names
    day: FloatArray
    order: FloatArray
    conditions: dict[str, FloatArray]
    settings: tuple[str, ...]
    values: FloatArray
    mark: FloatArray
    best_lap_s: FloatArray
    notices: tuple[str, ...] = ()

    def __len__(self) -> int:
        return len(self.session_id)

    def take(self, rows: NDArray[Any]) -> Season:
        """Keep some rows.

        Parameters
        ----------
        rows : numpy.ndarray
            Row numbers or a mask.

        Returns
        -------
        Season
            With those rows.
        """
        return replace(
            self,
            conditions={path: column[rows] for path, column in self.conditions.items()},
            values=self.values[rows],
            **{name: getattr(self, name)[rows] for name in _PER_SESSION},
        )


def read_season(
    path: str | Path, machines: Mapping[str, Machine], riders: Mapping[str, Rider]
) -> tuple[Season, list[Mistake]]:
    """Read a season from CSV or Parquet.

    Rows with a mistake are left out of the season and listed; nothing is guessed.

    Parameters
    ----------
    path : str or pathlib.Path
        The table.
    machines : mapping of str to Machine
        Machines by name, for the settings' ranges.
    riders : mapping of str to Rider
        Riders by name; a rider whose own columns stand in the table needs no entry.

    Returns
    -------
    tuple of Season and list of Mistake
        The sound rows, and the mistakes; what is wrong alike in many rows is told once.

    Raises
    ------
    InputError
        If the table cannot be read, holds no session or lacks a column that is needed.
    """
    frame, mistakes = read_table(Path(path))
    season, further = _season_from(frame, str(path), machines, riders)
    return season, listed([*mistakes, *further], str(path))


def season_from(
    frame: pd.DataFrame,
    source: str,
    machines: Mapping[str, Machine],
    riders: Mapping[str, Rider],
) -> tuple[Season, list[Mistake]]:
    """Make a season of a pandas frame; see `read_season`.

    Parameters
    ----------
    frame : pandas.DataFrame
        Columns named by path.
    source : str
        The name to use in messages.
    machines : mapping of str to Machine
        Machines by name.
    riders : mapping of str to Rider
        Riders by name.

    Returns
    -------
    tuple of Season and list of Mistake
        The sound rows, and the mistakes.

    Raises
    ------
    InputError
        If the table holds no session or lacks a column that is needed.
    """
    season, mistakes = _season_from(frame, source, machines, riders)
    return season, listed(mistakes, source)


def _season_from(
    frame: pd.DataFrame,
    source: str,
    machines: Mapping[str, Machine],
    riders: Mapping[str, Rider],
) -> tuple[Season, list[Mistake]]:
    reader = SeasonReader(frame, source, NEEDED)
    season = read_sessions(reader, machines, riders)
    sound = ~reader.faulty
    return (season if sound.all() else season.take(sound)), reader.mistakes


def read_sessions(
    reader: SeasonReader, machines: Mapping[str, Machine], riders: Mapping[str, Rider]
) -> Season:
    """Read every row of a table, faulty ones too; the reader knows which those are.

    Parameters
    ----------
    reader : SeasonReader
        A table, with `NEEDED` as the columns it must have.
    machines : mapping of str to Machine
        Machines by name.
    riders : mapping of str to Rider
        Riders by name.

    Returns
    -------
    Season
        All rows; what is faulty in them is missing.

    Raises
    ------
    InputError
        If the table holds no session or lacks a column that is needed.
    """
    frame, source = reader.frame, reader.source
    absent = [name for name in NEEDED if name not in frame.columns]
    if absent:
        raise InputError(
            Mistake(source, f"no column {', '.join(absent)}", "a season needs " + ", ".join(NEEDED))
        )
    if not len(frame):
        raise InputError(Mistake(source, "the season holds no session", "add one row a session"))
    names = {name: reader.text(name) for name in ("session_id", "event", "rider", "machine")}
    reader.refuse_repeated(names["session_id"])
    conditions = reader.conditions()
    reader.refuse_unknown(names["machine"], machines, "machine", "add its file")
    known_riders = reader.riders_in_table(names["rider"], conditions)
    reader.refuse_unknown(
        names["rider"],
        {**riders, **dict.fromkeys(known_riders)},
        "rider",
        "add the rider's file, or columns rider.mass_kg and so on",
    )
    add_riders(conditions, names["rider"], riders)
    settings, values = reader.settings(names["machine"], machines)
    return Season(
        source=source,
        **names,
        venue=reader.text("venue", needed=False),
        day=reader.days(),
        order=np.arange(len(frame), dtype=np.float64),
        conditions=conditions,
        settings=settings,
        values=values,
        mark=reader.outcome("mark"),
        best_lap_s=reader.outcome("best_lap_s"),
        notices=reader.notices(),
    )


def add_riders(
    conditions: dict[str, FloatArray], names: Names, riders: Mapping[str, Rider]
) -> None:
    """Fill in what the rider's own file says where the table does not.

    Parameters
    ----------
    conditions : dict of str to numpy.ndarray
        Columns by path; those of the rider are added to.
    names : numpy.ndarray of str, shape (rows,)
        Whose row it is.
    riders : mapping of str to Rider
        Riders by name.
    """
    different = sorted(set(names))
    place_of = {name: place for place, name in enumerate(different)}
    places = np.array([place_of[name] for name in names], dtype=np.int64)
    for field in entry_fields(Rider, "rider").values():
        if field.kind is None:
            continue
        attribute = field.path.removeprefix("rider.")
        by_name = {
            name: _as_number(getattr(rider, attribute), field) for name, rider in riders.items()
        }
        from_file = np.array([by_name.get(name, math.nan) for name in different])[places]
        column = conditions.get(field.path, np.full(len(names), np.nan))
        conditions[field.path] = np.where(np.isfinite(column), column, from_file)


def _as_number(value: Any, field: EntryField) -> float:
    if value is None:
        return math.nan
    if isinstance(field.kind, Word):
        return float(field.kind.choices.index(value))
    return float(value)
