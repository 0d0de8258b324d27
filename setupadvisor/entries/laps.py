"""The lap table: who rode which laps, with what setup, how fast and when."""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray
from pydantic_core import PydanticCustomError

from setupadvisor.entries.csv_file import open_csv
from setupadvisor.entries.lap_order import MOST_MISTAKES, LapColumns, in_order
from setupadvisor.entries.lap_times import (
    LONGEST_LAP_S,
    read_clock,
    read_flag,
    read_lap_number,
    read_lap_time,
)
from setupadvisor.entries.messages import nearest, shown
from setupadvisor.entries.texts import Text, read_day
from setupadvisor.errors import InputError, Mistake

COLUMNS = ("event", "date", "rider", "session_id", "run", "setup", "lap", "lap_s", "clock", "flag")
_NAMES = ("event", "rider", "session_id", "run", "setup")


@dataclass(frozen=True)
class LapTable:
    """Laps in the order in which each run was ridden, run by run.

    Parameters
    ----------
    source : str
        Where they come from, for messages.
    setup_name, rider_name, day_name, run_name : tuple of str
        What the codes below stand for. A day is one date at one event.
    setup, rider, day, run : (n,) integer array
        Codes. A run is one outing of one rider with one setup; runs are numbered in the order of
        the table, and all laps of a run stand together.
    lap_s : (n,) array
        Lap time in seconds; NaN where the lap was not timed.
    clock_s : (n,) array
        Time of day of the lap in seconds since midnight; NaN where not noted.
    flag : (n,) integer array
        Place in `lap_times.FLAGS`.
    line : (n,) integer array
        On which line of the table the lap stands.
    notices : tuple of str
        What a reader of the table should know.
    """

    source: str
    setup_name: tuple[str, ...]
    rider_name: tuple[str, ...]
    day_name: tuple[str, ...]
    run_name: tuple[str, ...]
    setup: NDArray[np.int64]
    rider: NDArray[np.int64]
    day: NDArray[np.int64]
    run: NDArray[np.int64]
    lap_s: NDArray[np.float64]
    clock_s: NDArray[np.float64]
    flag: NDArray[np.int64]
    line: NDArray[np.int64]
    notices: tuple[str, ...] = ()

    def __len__(self) -> int:
        return len(self.lap_s)


def read_laps(path: Path) -> tuple[LapTable, list[Mistake]]:
    """Read a lap table from CSV.

    Parameters
    ----------
    path : pathlib.Path
        One row a lap. Needed: ``setup``, ``lap_s`` and ``session_id`` or ``run``. Used where
        given: ``rider``, ``lap`` (the lap's number in its run), ``clock``, ``flag``, ``event``,
        ``date``. Without ``rider`` all laps are one rider's.

    Returns
    -------
    tuple of LapTable and list of Mistake
        The sound laps, and every mistake by line (at most `MOST_MISTAKES`, the others counted).
        A lap with a mistake is not in the table.

    Raises
    ------
    InputError
        If the file cannot be read, or a needed column is missing.
    """
    with open_csv(path) as rows:
        notices = _check_columns(rows.source, rows.header)
        reader = _Reader(rows.source, rows.header)
        for lines, cells in rows.blocks():
            reader.take(lines, cells)
        mistakes = rows.mistakes
    columns = reader.columns()
    order = in_order(columns, rows.source)
    reader.unlisted += order.unlisted
    for row, column, found, mend in order.blamed:
        reader.blame(int(columns.line[row]), column, found, mend)
    chosen = order.rows
    table = LapTable(
        source=rows.source,
        setup_name=reader.names("setup"),
        rider_name=reader.names("rider"),
        day_name=order.day_name,
        run_name=order.run_name,
        setup=columns.code["setup"][chosen],
        rider=np.maximum(columns.code["rider"][chosen], 0),
        day=order.day,
        run=order.run,
        lap_s=columns.lap_s[chosen],
        clock_s=columns.clock_s[chosen],
        flag=columns.flag[chosen],
        line=columns.line[chosen],
        notices=notices,
    )
    return table, _by_line([*mistakes, *reader.mistakes], rows.source, reader.unlisted)


def _check_columns(source: str, header: list[str]) -> tuple[str, ...]:
    """Refuse a table without its needed columns; say which others are not used."""
    missing = [name for name in ("setup", "lap_s") if name not in header]
    if not {"session_id", "run"} & set(header):
        missing.append("run")
    unknown = [name for name in header if name not in COLUMNS]
    mistakes = []
    for name in missing:
        near = nearest(name, unknown)
        way = f"is it {shown(near)}? Name it {name}" if near else f"add a column {name}"
        also = " (or session_id)" if name == "run" else ""
        found = f"the column {name}{also} is missing"
        mistakes.append(Mistake(f"{source}:1", found, way))
    if mistakes:
        raise InputError(mistakes)
    if not unknown:
        return ()
    said = []
    for name in unknown[:8]:
        near = nearest(name, set(COLUMNS) - set(header))
        said.append(f"{shown(name)} (did you mean {near}?)" if near else shown(name))
    more = f" and {len(unknown) - 8} more" if len(unknown) > 8 else ""
    return (f"{source}: columns not used: {', '.join(said)}{more}",)


def _by_line(mistakes: Iterable[Mistake], source: str, unlisted: int) -> list[Mistake]:
    def line(mistake: Mistake) -> int:
        digits = mistake.where.removeprefix(f"{source}:").split(" ", 1)[0]
        return int(digits) if digits.isdecimal() else 0

    ordered = sorted(mistakes, key=line)
    unlisted += max(len(ordered) - MOST_MISTAKES, 0)
    if not unlisted:
        return ordered
    found = f"{unlisted} further mistakes are not listed"
    return [*ordered[:MOST_MISTAKES], Mistake(source, found, "mend these first")]


class _Cells(dict[str, float]):
    """What each different text of a column stands for; NaN, and why, where it is nothing."""

    def __init__(self, read: Callable[[str], float], *, needed: str = "") -> None:
        self.read = read
        self.wrong: dict[str, tuple[str, str]] = {}
        self.needed = needed

    def __missing__(self, cell: str) -> float:
        value = math.nan
        if cell.strip():
            try:
                value = self.read(cell)
            except PydanticCustomError as error:
                context = error.context or {}
                self.wrong[cell] = (context["found"], context["mend"])
        elif self.needed:
            self.wrong[cell] = ("the cell is empty", self.needed)
        self[cell] = value
        return value


class _Names:
    """Codes of names, in the order in which they appear."""

    def __init__(self, read: Callable[[str], str]) -> None:
        self.read = read
        self.known: dict[str, int] = {}

    def __call__(self, cell: str) -> float:
        return float(self.known.setdefault(self.read(cell), len(self.known)))


class _Reader:
    """Turns blocks of cells into arrays, noting every mistake and the rows it spoils."""

    def __init__(self, source: str, header: list[str]) -> None:
        self.source = source
        self.mistakes: list[Mistake] = []
        self.unlisted = 0
        self._given = [name for name in COLUMNS if name in header]
        self._lines: list[NDArray[np.int64]] = []
        self._faulty: list[NDArray[np.bool_]] = []
        self._values: dict[str, list[NDArray[np.float64]]] = {name: [] for name in self._given}
        text = Text(120)
        self._coded = {
            **{name: _Names(text.read) for name in _NAMES},
            "date": _Names(lambda cell: read_day(cell).isoformat()),
        }
        fill = "it is needed; fill it in"
        optional_run = "run" if "session_id" in header else ""
        self._cells = {
            **{
                name: _Cells(names, needed="" if name in {"date", optional_run} else fill)
                for name, names in self._coded.items()
            },
            "lap": _Cells(read_lap_number),
            "lap_s": _Cells(read_lap_time),
            "clock": _Cells(read_clock),
            "flag": _Cells(read_flag),
        }

    def names(self, column: str) -> tuple[str, ...]:
        """Names that a column's codes stand for."""
        return tuple(self._coded[column].known) or ("",)

    def blame(self, line: int, column: str, found: str, mend: str) -> None:
        """Note a mistake."""
        if len(self.mistakes) < MOST_MISTAKES:
            self.mistakes.append(Mistake(f"{self.source}:{line} {column}", found, mend))
        else:
            self.unlisted += 1

    def take(self, lines: list[int], cells: dict[str, tuple[str, ...]]) -> None:
        """Read one block of rows."""
        faulty = np.zeros(len(lines), dtype=bool)
        for name in self._given:
            values = self._plain_times(cells[name]) if name == "lap_s" else None
            if values is None:
                known = self._cells[name]
                values = np.array(list(map(known.__getitem__, cells[name])), dtype=np.float64)
                if known.wrong:
                    self._blame_cells(name, cells[name], lines, faulty)
            self._values[name].append(values)
        self._lines.append(np.array(lines))
        self._faulty.append(faulty)

    def _plain_times(self, cells: tuple[str, ...]) -> NDArray[np.float64] | None:
        """Read lap times that are all plain seconds at once; None where one is not."""
        try:
            values = np.array(list(map(float, cells)), dtype=np.float64)
        except ValueError:
            return None
        plain = bool(((values > 0) & (values <= LONGEST_LAP_S)).all())
        # Python reads 8_3 as 83, which no timing system means.
        return values if plain and "_" not in "".join(cells) else None

    def _blame_cells(
        self, name: str, cells: tuple[str, ...], lines: list[int], faulty: NDArray[np.bool_]
    ) -> None:
        wrong = self._cells[name].wrong
        for row, cell in enumerate(cells):
            if cell in wrong:
                faulty[row] = True
                self.blame(lines[row], name, *wrong[cell])

    def columns(self) -> LapColumns:
        """Give the sound rows, as far as each can be judged alone."""
        sound = ~_joined(self._faulty, np.bool_)
        rows = int(sound.sum())
        values = {name: _joined(self._values.pop(name), np.float64)[sound] for name in self._given}
        missing = np.full(rows, np.nan)
        code = {}
        for name in self._coded:
            found = values.get(name, missing)
            code[name] = np.where(np.isnan(found), -1, found).astype(np.int64)
        flag = values.get("flag", missing)
        return LapColumns(
            code,
            {name: self.names(name) for name in self._coded},
            values.get("lap", missing),
            values["lap_s"],
            values.get("clock", missing),
            np.where(np.isnan(flag), 0, flag).astype(np.int64),
            _joined(self._lines, np.int64)[sound],
        )


def _joined(blocks: Sequence[NDArray[Any]], kind: type) -> NDArray[Any]:
    return np.concatenate(blocks) if blocks else np.zeros(0, dtype=kind)
