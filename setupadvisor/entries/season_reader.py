"""Reading a season's columns cell by cell, with every mistake named by line and column."""

from __future__ import annotations

import math
import re
from collections.abc import Mapping
from typing import TYPE_CHECKING, Any

import numpy as np
from numpy.typing import NDArray

from setupadvisor.entries.machine import Machine, Setting
from setupadvisor.entries.quantity import EntryField, Quantity, Word, entry_fields, shown
from setupadvisor.entries.rider import Rider
from setupadvisor.entries.session import Session
from setupadvisor.entries.walk import Walk
from setupadvisor.errors import Mistake

if TYPE_CHECKING:
    import pandas as pd

FloatArray = NDArray[np.float64]
Names = NDArray[np.object_]

_LAP_TIME = re.compile(r"(?:(\d+):)?(\d+(?:\.\d+)?)")
_LISTED = re.compile(r"^(.*)\.(\d+)\.([^.]+)$")


def lap_time_s(text: str) -> float | str:
    """Read a lap time written as ``m:ss.mmm`` or as seconds.

    Parameters
    ----------
    text : str
        As written.

    Returns
    -------
    float or str
        Seconds; the text itself where it is no lap time, for the next reader to refuse.

    Examples
    --------
    >>> lap_time_s("1:52.345"), lap_time_s("112.345"), lap_time_s("fast")
    (112.345, 112.345, 'fast')
    """
    match = _LAP_TIME.fullmatch(text.strip())
    if match is None or (match[1] and float(match[2]) >= 60):
        return text
    return round(60 * int(match[1] or 0) + float(match[2]), 6)


def _text(cell: Any) -> str:
    # Parquet gives None or NaN for an empty cell; CSV gives "".
    missing = cell is None or (isinstance(cell, float) and math.isnan(cell))
    return "" if missing else str(cell).strip()


class SeasonReader:
    """Reads columns of one frame, collecting mistakes and the rows they spoil."""

    def __init__(self, frame: pd.DataFrame, source: str, needed: tuple[str, ...]) -> None:
        self.frame = frame
        self.source = source
        self.mistakes: list[Mistake] = []
        self.faulty = np.zeros(len(frame), dtype=bool)
        self.used = {*needed, "venue", "mark", "best_lap_s"}

    def blame(self, row: int, column: str, found: str, mend: str) -> None:
        """Note a mistake and the row it spoils."""
        # The header stands on line 1 of the file.
        self.mistakes.append(Mistake(f"{self.source}:{row + 2} {column}", found, mend))
        self.faulty[row] = True

    def cells(self, column: str) -> Names:
        """Give a column's cells as trimmed text, empty where missing."""
        return np.array([_text(cell) for cell in self.frame[column]], dtype=object)

    def text(self, column: str, *, needed: bool = True) -> Names:
        """Read a column of names."""
        if column not in self.frame.columns:
            return np.full(len(self.frame), "", dtype=object)
        cells = self.cells(column)
        if needed:
            for row in np.flatnonzero(cells == ""):
                self.blame(int(row), column, "the cell is empty", "it is needed; fill it in")
        return cells

    def refuse_repeated(self, identifiers: Names) -> None:
        """Blame every session whose identifier stands above already."""
        first: dict[str, int] = {}
        for row, identifier in enumerate(identifiers):
            if identifier and identifier in first:
                self.blame(
                    row,
                    "session_id",
                    f"{identifier!r} stands on line {first[identifier] + 2} already",
                    "give each session its own",
                )
            first.setdefault(identifier, row)

    def refuse_unknown(
        self, cells: Names, known: Mapping[str, object], what: str, mend: str
    ) -> None:
        """Blame every row that names somebody or something without an entry."""
        unknown = set(cells) - set(known) - {""}
        for row, cell in enumerate(cells):
            if cell in unknown:
                listed = ", ".join(sorted(known)) or "none"
                self.blame(
                    row, what, f"the {what} {cell!r} is unknown", f"{mend} (known: {listed})"
                )

    def days(self) -> FloatArray:
        """Read the dates as days since 1970-01-01."""
        import pandas as pd  # noqa: PLC0415

        cells = pd.Series(self.cells("date"))
        stamps = pd.to_datetime(cells.str.slice(0, 10), format="%Y-%m-%d", errors="coerce")
        for row in np.flatnonzero(stamps.isna().to_numpy()):
            self.blame(
                int(row), "date", f"{shown(cells[row])} is no date", "write it as 2026-05-17"
            )
        days = (stamps - pd.Timestamp("1970-01-01")) / pd.Timedelta(days=1)
        return np.asarray(days.to_numpy(), dtype=np.float64)

    def conditions(self) -> dict[str, FloatArray]:
        """Read all walk and rider columns."""
        fields = {**entry_fields(Walk, "walk"), **entry_fields(Rider, "rider")}
        columns: dict[str, FloatArray] = {}
        listed: dict[str, dict[int, FloatArray]] = {}
        for column in self.frame.columns:
            match = _LISTED.match(column)
            path = f"{match[1]}.{match[3]}" if match else column
            field = fields.get(path)
            if field is None or field.listed != bool(match):
                continue
            self.used.add(column)
            if field.kind is None:
                continue
            values = self.read(column, field)
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
        import pandas as pd  # noqa: PLC0415

        values = pd.to_numeric(self.frame[column], errors="coerce").to_numpy(dtype=np.float64)
        doubtful = ~((values >= kind.low) & (values <= kind.high))
        if kind.whole:
            doubtful |= values != np.round(values)
        if doubtful.any():
            values = values.copy()
            values[doubtful] = self.each(column, kind.read, np.flatnonzero(doubtful))
        return values

    def each(self, column: str, read: Any, rows: NDArray[Any] | None = None) -> FloatArray:
        """Read cell by cell, each different text once; an empty cell is missing."""
        chosen = np.arange(len(self.frame)) if rows is None else rows
        answers: dict[Any, float | tuple[str, str]] = {"": math.nan}
        result = np.empty(len(chosen))
        for place, (row, cell) in enumerate(
            zip(chosen, self.frame[column].to_numpy(dtype=object)[chosen], strict=True)
        ):
            text = _text(cell)
            if text not in answers:
                try:
                    answers[text] = float(read(text))
                except Exception as error:
                    context = getattr(error, "context", None) or {}
                    answers[text] = (
                        context.get("found", f"{shown(text)} does not fit"),
                        context.get("mend", "write a number"),
                    )
            answer = answers[text]
            if isinstance(answer, tuple):
                self.blame(int(row), column, *answer)
                result[place] = math.nan
            else:
                result[place] = answer
        return result

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
                if setting is not None and len(rows):
                    values[rows, place] = self.setting_column(f"setup.{name}", setting, rows)
        return tuple(recorded), values

    def setting_column(self, column: str, setting: Setting, rows: NDArray[Any]) -> FloatArray:
        """Read one setting of one machine's rows."""
        import pandas as pd  # noqa: PLC0415

        cells = self.frame[column].iloc[rows]
        values = pd.to_numeric(cells, errors="coerce").to_numpy(dtype=np.float64)
        doubtful = ~((values >= setting.lowest) & (values <= setting.highest))
        if doubtful.any():
            values = values.copy()
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
        if column == "best_lap_s":
            return self.each(column, lambda cell: kind.read(lap_time_s(cell)))
        return self.numbers(column, kind)

    def notices(self) -> tuple[str, ...]:
        """Say which columns were ignored."""
        ignored = [name for name in self.frame.columns if name not in self.used]
        if not ignored:
            return ()
        listed = ", ".join(ignored[:8]) + (" ..." if len(ignored) > 8 else "")
        return (f"{self.source}: columns kept and ignored: {listed}",)
