"""A quick look whether a block of a season's table is sound.

It looks at each different cell once and says yes or no. Where it says no, the season's own reader
says what is wrong, and has the last word.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping, Sequence
from typing import Any

from pydantic_core import PydanticCustomError

from setupadvisor.entries.logbook.cells import is_walk_column, plain_number, without_place
from setupadvisor.entries.logbook.season_blocks import Block
from setupadvisor.entries.machine import Machine, Setting
from setupadvisor.entries.quantity import Quantity, Word, entry_fields
from setupadvisor.entries.rider import Rider
from setupadvisor.entries.season import NEEDED
from setupadvisor.entries.session import Session
from setupadvisor.entries.texts import Text, read_day
from setupadvisor.entries.walk import Walk

Cells = Mapping[str, Sequence[Any]]
_NAMES = ("session_id", "event", "rider", "machine", "venue")


class QuickCheck:
    """Looks at a table block by block.

    Parameters
    ----------
    machines : mapping of str to Machine
        Machines by name.
    riders : mapping of str to Rider
        Riders by name.
    """

    def __init__(self, machines: Mapping[str, Machine], riders: Mapping[str, Rider]) -> None:
        self.machines = machines
        self.riders = riders
        self.sessions: set[str] = set()
        self.fields = {**entry_fields(Walk, "walk"), **entry_fields(Rider, "rider")}
        outcomes = entry_fields(Session, "session")
        self.outcomes = {name: outcomes[f"session.{name}"].kind for name in ("mark", "best_lap_s")}
        # What was found sound in earlier blocks need not be read again.
        self.known: dict[tuple[str, str], set[Any]] = {}

    def sound(self, block: Block) -> bool:
        """Say whether nothing in a block is wrong."""
        columns = block.columns
        walks = dict(zip(block.walk_names, zip(*block.walks.values(), strict=True), strict=False))
        if any(name not in columns for name in NEEDED):
            return False
        return (
            self._names_sound(columns)
            and self._each_sound("date", "", columns["date"], read_day, needed=True)
            and self._fields_sound(walks)
            and self._fields_sound(columns)
            and self._settings_sound(columns)
        )

    def _names_sound(self, columns: Cells) -> bool:
        for name in _NAMES:
            if name in columns and not self._each_sound(
                name, "", columns[name], _read_name, needed=name in NEEDED
            ):
                return False
        sessions = set(map(str.strip, columns["session_id"]))
        if len(sessions) != len(columns["session_id"]) or sessions & self.sessions:
            return False
        self.sessions |= sessions
        riders = set(map(str.strip, set(columns["rider"])))
        machines = set(map(str.strip, set(columns["machine"])))
        return riders <= self.riders.keys() and machines <= self.machines.keys()

    def _fields_sound(self, columns: Cells) -> bool:
        for column, cells in columns.items():
            if column in self.outcomes:
                kind = self.outcomes[column]
            elif column.startswith("rider.") or is_walk_column(column):
                field = self.fields.get(without_place(column))
                kind = field.kind if field else None
            else:
                continue
            if kind is None:
                continue
            read = kind.read if isinstance(kind, Word) else _number_reader(kind)
            if not self._each_sound(column, "", cells, read):
                return False
        return True

    def _settings_sound(self, columns: Cells) -> bool:
        rows_of: dict[str, list[int]] = {}
        named = columns["machine"]
        for name in set(named):
            every_row = range(len(named))
            alone = len(set(named)) == 1
            rows = every_row if alone else [row for row in every_row if named[row] == name]
            rows_of.setdefault(name.strip(), []).extend(rows)
        every = {name for machine in self.machines.values() for name in machine.settings}
        for column, cells in columns.items():
            name = column.removeprefix("setup.")
            if not column.startswith("setup.") or name not in every:
                continue
            for machine, rows in rows_of.items():
                setting = self.machines[machine].settings.get(name)
                mine = cells if len(rows_of) == 1 else [cells[row] for row in rows]
                read = _refuse_all if setting is None else _setting_reader(setting)
                if not self._each_sound(column, machine, mine, read):
                    return False
        return True

    def _each_sound(
        self,
        column: str,
        machine: str,
        cells: Iterable[Any],
        read: Callable[[Any], object],
        *,
        needed: bool = False,
    ) -> bool:
        known = self.known.setdefault((column, machine), set() if needed else {"", None})
        found = set(cells)
        for cell in found - known:
            if isinstance(cell, bool):
                return False
            if isinstance(cell, str):
                if not cell.strip() and not needed:
                    continue
            elif needed:
                return False
            try:
                read(cell)
            except PydanticCustomError:
                return False
        if column != "session_id":
            known |= found
        return True


def _refuse_all(cell: object) -> object:
    raise PydanticCustomError("mistake", "the machine has no such setting")


def _read_name(cell: Any) -> object:
    # Most names are printable as they are, and quickly seen to be.
    if isinstance(cell, str) and cell.isprintable() and cell.strip() and len(cell) <= 120:
        return cell
    return Text(120).read(cell)


def _setting_reader(setting: Setting) -> Callable[[Any], object]:
    lowest, highest, named = setting.lowest, setting.highest, setting.names is not None

    def read(cell: Any) -> object:
        number = plain_number(cell)
        if lowest <= number <= highest and not (named and number % 1):
            return number
        return setting.read(cell)

    return read


def _number_reader(kind: Quantity) -> Callable[[Any], object]:
    def read(cell: Any) -> object:
        number = plain_number(cell)
        if kind.low <= number <= kind.high and not (kind.whole and number % 1):
            return number
        return kind.read(cell)

    return read
