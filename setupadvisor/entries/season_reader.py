"""Reading a season's columns cell by cell, with every mistake named by line and column."""

from __future__ import annotations

import re
from collections.abc import Callable, Mapping
from datetime import date
from typing import TYPE_CHECKING, Any

import numpy as np
from numpy.typing import NDArray
from pydantic_core import PydanticCustomError

from setupadvisor.entries.machine import Machine, Setting
from setupadvisor.entries.messages import nearest, shown
from setupadvisor.entries.quantity import EntryField, Quantity, Word, entry_fields
from setupadvisor.entries.rider import Rider
from setupadvisor.entries.season_table import LINE, ROW
from setupadvisor.entries.session import Session
from setupadvisor.entries.texts import Text, read_day
from setupadvisor.entries.walk import Walk
from setupadvisor.errors import Mistake

if TYPE_CHECKING:
    import pandas as pd

FloatArray = NDArray[np.float64]
Names = NDArray[np.object_]

MOST_PLACES = 40

_EPOCH = date(1970, 1, 1)
LISTED = re.compile(r"^(.*)\.(\d+)\.([^.]+)$")


class SeasonReader:
    """Reads columns of one frame, collecting mistakes and the rows they spoil."""

    def __init__(self, frame: pd.DataFrame, source: str, needed: tuple[str, ...]) -> None:
        self.frame = frame
        self.source = source
        self.mistakes: list[Mistake] = []
        self.faulty = np.zeros(len(frame), dtype=bool)
        self.used = {*needed, "venue", "mark", "best_lap_s"}
        # What was read of the table's own columns of numbers, and of words as places in lists.
        self.found: dict[str, FloatArray] = {}

    def where(self, row: int) -> str:
        """Say where a row stands: on a line of a CSV, else by its number."""
        if self.frame.index.name == LINE:
            return f"{self.source}:{self.frame.index[row]}"
        number = self.frame.index[row] if self.frame.index.name == ROW else row + 1
        return f"{self.source} row {number}"

    def blame(self, row: int, column: str, found: str, mend: str) -> None:
        """Note a mistake and the row it spoils."""
        self.mistakes.append(Mistake(f"{self.where(row)} {column}", found, mend))
        self.faulty[row] = True

    def cells(self, column: str, rows: NDArray[Any] | None = None) -> Names:
        """Give a column's cells as trimmed text, empty where missing."""
        places, texts = self.texts(column, rows)
        return texts[places]

    def texts(
        self, column: str, rows: NDArray[Any] | None = None
    ) -> tuple[NDArray[np.int64], Names]:
        """Give each cell's place among the column's different texts, and those texts."""
        return texts_of(self.frame[column] if rows is None else self.frame[column].iloc[rows])

    def text(self, column: str, *, needed: bool = True) -> Names:
        """Read a column of names."""
        if column not in self.frame.columns:
            return np.full(len(self.frame), "", dtype=object)
        cells = self.cells(column)
        self.refuse_unprintable(column, cells)
        if needed:
            for row in np.flatnonzero(cells == ""):
                self.blame(int(row), column, "the cell is empty", "it is needed; fill it in")
        return cells

    def refuse_unprintable(self, column: str, cells: Names) -> None:
        """Blame every name that is too long or could write on the reader's screen."""
        for name in set(cells) - {""}:
            try:
                Text(120).read(name)
            except PydanticCustomError as error:
                for row in np.flatnonzero(cells == name):
                    self.blame(int(row), column, *_said(error))

    def refuse_repeated(self, identifiers: Names) -> None:
        """Blame every session whose identifier stands above already."""
        first: dict[str, int] = {}
        for row, identifier in enumerate(identifiers):
            if identifier and identifier in first:
                self.blame(
                    row,
                    "session_id",
                    f"{shown(identifier)} stands already in {self.where(first[identifier])}",
                    "give each session its own",
                )
            first.setdefault(identifier, row)

    def refuse_unknown(
        self, cells: Names, known: Mapping[str, object], what: str, mend: str
    ) -> None:
        """Blame every row that names somebody or something without an entry."""
        for cell in set(cells) - set(known) - {""}:
            near = nearest(cell, known)
            listed = f"known: {', '.join(sorted(known)) or 'none'}"
            way = f"did you mean {near}? Else {mend}" if near else f"{mend} ({listed})"
            for row in np.flatnonzero(cells == cell):
                self.blame(int(row), what, f"the {what} {shown(cell)} is unknown", way)

    def days(self) -> FloatArray:
        """Read the dates as days since 1970-01-01."""

        def read(cell: str) -> float:
            # A Parquet table gives a date as the midnight at which it begins.
            return float((read_day(cell.removesuffix(" 00:00:00")) - _EPOCH).days)

        self.text("date")
        return self.each("date", read)

    def conditions(self) -> dict[str, FloatArray]:
        """Read all walk and rider columns."""
        fields = _condition_fields()
        columns: dict[str, FloatArray] = {}
        listed: dict[str, dict[int, FloatArray]] = {}
        for column in self.frame.columns:
            match = LISTED.match(column)
            path = f"{match[1]}.{match[3]}" if match else column
            field = fields.get(path)
            if field is None or field.listed != bool(match):
                continue
            if match and int(match[2]) > MOST_PLACES:
                continue
            self.used.add(column)
            if field.kind is None:
                continue
            values = self.found[column] = self.read(column, field)
            if match:
                listed.setdefault(path, {})[int(match[2])] = values
            else:
                columns[path] = values
        places = sorted({place for found in listed.values() for place in found})
        nothing = np.full(len(self.frame), np.nan)
        for path, found in listed.items():
            columns[path] = np.column_stack([found.get(place, nothing) for place in places])
        return columns

    def read(self, column: str, field: EntryField) -> FloatArray:
        """Read one column of numbers or words."""
        kind = field.kind
        if isinstance(kind, Word):
            places = {word: float(place) for place, word in enumerate(kind.choices)}
            return self.each(column, lambda cell: places[kind.read(cell)])
        return self.numbers(column, kind) if kind else np.full(len(self.frame), np.nan)

    def numbers(self, column: str, kind: Quantity) -> FloatArray:
        """Read numbers at once, and cell by cell only where that fails."""
        values = _as_numbers(self.frame[column])
        doubtful = ~((values >= kind.low) & (values <= kind.high))
        if kind.whole:
            doubtful |= values != np.round(values)
        if doubtful.any():
            values[doubtful] = self.each(column, kind.read, np.flatnonzero(doubtful))
        return values

    def each(
        self,
        column: str,
        read: Callable[[str], float],
        rows: NDArray[Any] | None = None,
    ) -> FloatArray:
        """Read cell by cell, each different text once; an empty cell is missing."""
        chosen = np.arange(len(self.frame)) if rows is None else rows
        places, texts = self.texts(column, rows)
        answers = np.full(len(texts), np.nan)
        wrong: dict[int, tuple[str, str]] = {}
        for place, text in enumerate(texts):
            if text:
                try:
                    answers[place] = float(read(text))
                except PydanticCustomError as error:
                    wrong[place] = _said(error)
        if wrong:
            for row in np.flatnonzero(np.isin(places, list(wrong))):
                self.blame(int(chosen[row]), column, *wrong[int(places[row])])
        found: FloatArray = answers[places]
        return found

    def riders_in_table(self, riders: Names, conditions: Mapping[str, FloatArray]) -> set[str]:
        """Name the riders whom the table itself describes."""
        known: set[str] = set()
        for path, column in conditions.items():
            if path.startswith("rider."):
                known.update(riders[np.isfinite(column)])
        return known

    def settings(
        self, machine: Names, machines: Mapping[str, Machine]
    ) -> tuple[tuple[str, ...], FloatArray]:
        """Read the setup columns, each against the machine of its row."""
        known = {name for entry in machines.values() for name in entry.settings}
        recorded = [
            name.removeprefix("setup.")
            for name in self.frame.columns
            if name.startswith("setup.") and name.removeprefix("setup.") in known
        ]
        values = np.full((len(self.frame), len(recorded)), np.nan)
        rows_of = {name: np.flatnonzero(machine == name) for name in machines}
        for place, name in enumerate(recorded):
            self.used.add(f"setup.{name}")
            for machine_name, entry in machines.items():
                setting = entry.settings.get(name)
                rows = rows_of[machine_name]
                if setting is None:
                    self.refuse_filled(f"setup.{name}", rows, f"{machine_name} has no {name}")
                elif len(rows):
                    values[rows, place] = self.setting_column(f"setup.{name}", setting, rows)
            self.found[f"setup.{name}"] = values[:, place]
        return tuple(recorded), values

    def refuse_filled(self, column: str, rows: NDArray[Any], found: str) -> None:
        """Blame rows that say something about what their machine does not have."""
        for row in rows[self.cells(column, rows) != ""]:
            self.blame(int(row), column, found, "leave the cell empty, or name another machine")

    def setting_column(self, column: str, setting: Setting, rows: NDArray[Any]) -> FloatArray:
        """Read one setting of one machine's rows."""
        values = _as_numbers(self.frame[column].iloc[rows])
        doubtful = ~((values >= setting.lowest) & (values <= setting.highest))
        if setting.names is not None:
            doubtful |= values != np.round(values)
        if doubtful.any():
            values[doubtful] = self.each(column, setting.read, rows[doubtful])
        return values

    def outcome(self, column: str) -> FloatArray:
        """Read the rider's mark or the best lap."""
        if column not in self.frame.columns:
            return np.full(len(self.frame), np.nan)
        kind = next(
            field.kind
            for field in entry_fields(Session, "session").values()
            if field.path == f"session.{column}" and isinstance(field.kind, Quantity)
        )
        self.found[column] = self.numbers(column, kind)
        return self.found[column]

    def notices(self) -> tuple[str, ...]:
        """Say which columns were ignored, and what they may have been meant to be."""
        ignored = [name for name in self.frame.columns if name not in self.used]
        if not ignored:
            return ()
        known = [name for name in self.used if name.startswith("setup.")]
        for path, field in _condition_fields().items():
            group, name = path.rsplit(".", 1)
            known.append(f"{group}.1.{name}" if field.listed else path)
        said = []
        for name in ignored[:8]:
            near = nearest(name, known) if name.startswith(("walk.", "rider.", "setup.")) else None
            said.append(f"{name} (did you mean {near}?)" if near else name)
        more = f" and {len(ignored) - 8} more" if len(ignored) > 8 else ""
        return (f"{self.source}: columns kept and ignored: {', '.join(said)}{more}",)


def texts_of(cells: pd.Series[Any]) -> tuple[NDArray[np.int64], Names]:
    """Give each cell's place among a column's different texts, and those texts, trimmed.

    Parameters
    ----------
    cells : pandas.Series
        A column of whatever kind.

    Returns
    -------
    tuple of numpy.ndarray
        Places, shape (rows,), and texts; the last text is empty and stands for a missing cell.

    Examples
    --------
    >>> import pandas as pd
    >>> places, texts = texts_of(pd.Series(["dry", None, " dry", "wet"]))
    >>> texts[places].tolist()
    ['dry', '', 'dry', 'wet']
    """
    import pandas as pd  # noqa: PLC0415

    if cells.dtype == object:
        # Cells of different kinds may be equal (1, 1.0, True), and some cannot be looked up.
        found = zip(cells.to_numpy(), cells.isna().to_numpy(), strict=True)
        cells = pd.Series([None if missing else str(cell) for cell, missing in found], dtype="str")
    places, different = pd.factorize(cells)
    texts = np.array([*(str(text).strip() for text in different), ""], dtype=object)
    return np.where(places < 0, len(texts) - 1, places).astype(np.int64), texts


def _condition_fields() -> dict[str, EntryField]:
    return {**entry_fields(Walk, "walk"), **entry_fields(Rider, "rider")}


def _said(error: PydanticCustomError) -> tuple[str, str]:
    context = error.context or {}
    return context["found"], context["mend"]


def _as_numbers(cells: pd.Series[Any]) -> FloatArray:
    """Read what is plainly a number; NaN elsewhere, for the next reader to look at."""
    import pandas as pd  # noqa: PLC0415

    if pd.api.types.is_bool_dtype(cells.dtype):
        return np.full(len(cells), np.nan)
    if isinstance(cells.dtype, pd.CategoricalDtype):
        cells = cells.astype(object)
    return pd.to_numeric(cells, errors="coerce").to_numpy(dtype=np.float64, copy=True)
