"""The sound rows of many tables, kept in files until it is known which part each event is in."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np
from numpy.typing import NDArray

from setupadvisor.entries.archive import MACHINES, RIDERS, Archive, pyarrow_parquet
from setupadvisor.entries.archive_keys import doubled_sessions
from setupadvisor.entries.machine import Machine
from setupadvisor.entries.quantity import Word, entry_fields
from setupadvisor.entries.rider import Rider
from setupadvisor.entries.season import NEEDED, read_sessions
from setupadvisor.entries.season_mistakes import listed
from setupadvisor.entries.season_reader import LISTED, SeasonReader, texts_of
from setupadvisor.entries.season_table import LINE
from setupadvisor.entries.table_blocks import table_blocks
from setupadvisor.entries.walk import Walk
from setupadvisor.errors import InputError, Mistake

if TYPE_CHECKING:
    import pandas as pd


@dataclass(frozen=True)
class Source:
    """A table to take sessions from, and who they are of.

    Parameters
    ----------
    path : pathlib.Path
        CSV or Parquet.
    machines : mapping of str to Machine
        Machines by name.
    riders : mapping of str to Rider
        Riders by name.
    """

    path: Path
    machines: Mapping[str, Machine]
    riders: Mapping[str, Rider]


def write_part(frame: pd.DataFrame, path: Path) -> None:
    """Write a frame as one part.

    Parameters
    ----------
    frame : pandas.DataFrame
        One row a session.
    path : pathlib.Path
        The Parquet file.
    """
    pyarrow_parquet()
    frame.to_parquet(path, index=False, compression="zstd")


class Blocks:
    """Sound rows of all tables, in files of a folder.

    Parameters
    ----------
    folder : pathlib.Path
        An empty folder for the files.
    rows : int
        Rows of a block.
    """

    def __init__(self, folder: Path, rows: int) -> None:
        self.folder = folder
        self.rows = rows
        self.mistakes: list[Mistake] = []
        self.notices: list[str] = []
        self.named: dict[str, set[str]] = {RIDERS: set(), MACHINES: set()}
        self.events: dict[str, int] = {}
        self.rows_of_event: list[int] = []
        self.events_of_block: list[NDArray[np.int64]] = []
        self.rows_of_block: list[int] = []
        self.source_of_block: list[str] = []
        self.doubled: dict[int, frozenset[str]] = {}

    def add(self, source: Source) -> None:
        """Read one table and keep what is sound."""
        mistakes: list[Mistake] = []
        empty = True
        for frame, faulty_rows in table_blocks(source.path, self.rows):
            mistakes.extend(faulty_rows)
            if not len(frame):
                continue
            empty = False
            reader = SeasonReader(frame, str(source.path), NEEDED)
            season = read_sessions(reader, source.machines, source.riders)
            lines = frame.index.to_numpy()[~reader.faulty]
            between = ":" if frame.index.name == LINE else " row "
            self._keep(typed(reader)[~reader.faulty], lines, f"{source.path}{between}")
            self.named[RIDERS].update(season.rider[~reader.faulty])
            self.named[MACHINES].update(season.machine[~reader.faulty])
            mistakes.extend(reader.mistakes)
            self.notices.extend(season.notices)
        if empty and not mistakes:
            mend = "add one row a session"
            raise InputError(Mistake(str(source.path), "the season holds no session", mend))
        self.mistakes.extend(listed(mistakes, str(source.path)))

    def leave_out_doubled(self) -> None:
        """Find sessions that stand in an earlier block already, and leave them out."""
        if not self.rows_of_block:
            return
        paths = tuple(self._path(number) for number in range(len(self.rows_of_block)))
        archive = Archive(self.folder, paths, tuple(self.rows_of_block))
        self.doubled, mistakes = doubled_sessions(archive, place=self._place)
        self.mistakes.extend(mistakes)

    def _path(self, number: int) -> Path:
        return self.folder / f"{number}.parquet"

    def _place(self, number: int, row: int) -> str:
        lines = np.load(self.folder / f"{number}.npy", mmap_mode="r")
        return f"{self.source_of_block[number]}{lines[row]}"

    def _keep(self, frame: pd.DataFrame, lines: NDArray[np.int64], source: str) -> None:
        if not len(frame):
            return
        places, texts = texts_of(frame["event"])
        counts = np.bincount(places, minlength=len(texts)).tolist()
        codes = []
        for event, count in zip(texts.tolist(), counts, strict=True):
            if count:
                code = self.events.setdefault(event, len(self.events))
                codes.append(code)
                if code == len(self.rows_of_event):
                    self.rows_of_event.append(0)
                self.rows_of_event[code] += count
        number = len(self.rows_of_block)
        write_part(frame, self._path(number))
        np.save(self.folder / f"{number}.npy", lines)
        self.events_of_block.append(np.array(codes, dtype=np.int64))
        self.rows_of_block.append(len(frame))
        self.source_of_block.append(source)

    def rows_of_part(self, wanted: NDArray[np.bool_]) -> pd.DataFrame:
        """Gather the rows of some events from the blocks that have any.

        Parameters
        ----------
        wanted : numpy.ndarray of bool, shape (events,)
            Which events.

        Returns
        -------
        pandas.DataFrame
            Their rows in the order of the tables; none may be left of them.
        """
        import pandas as pd  # noqa: PLC0415

        found: list[pd.DataFrame] = []
        for number, codes in enumerate(self.events_of_block):
            if wanted[codes].any():
                frame = pd.read_parquet(self._path(number))
                of_row = np.array([self.events[event] for event in frame["event"]])
                keep = wanted[of_row]
                if number in self.doubled:
                    keep &= ~frame["session_id"].isin(self.doubled[number]).to_numpy()
                found.append(frame[keep])
        return pd.concat(found, ignore_index=True)


def typed(reader: SeasonReader) -> pd.DataFrame:
    """Lay out a table that was read with numbers as numbers and words as words.

    Parameters
    ----------
    reader : SeasonReader
        After `read_sessions`.

    Returns
    -------
    pandas.DataFrame
        The table's own columns in their order; what is empty or faulty is missing.
    """
    import pandas as pd  # noqa: PLC0415

    fields = {**entry_fields(Walk, "walk"), **entry_fields(Rider, "rider")}
    columns: dict[str, Any] = {}
    for name in reader.frame.columns:
        match = LISTED.match(name)
        field = fields.get(f"{match[1]}.{match[3]}" if match else name)
        numbers = reader.found.get(name)
        if numbers is None:
            places, texts = reader.texts(name)
            if name == "date":
                texts = np.array([text.removesuffix(" 00:00:00") for text in texts], dtype=object)
            texts[texts == ""] = None
            columns[name] = pd.Series(texts[places], dtype="str")
        elif field is not None and isinstance(field.kind, Word):
            words = np.array([*field.kind.choices, None], dtype=object)
            codes = np.where(np.isnan(numbers), len(words) - 1, numbers).astype(np.int64)
            kind = pd.CategoricalDtype(list(field.kind.choices))
            columns[name] = pd.Series(words[codes], dtype=kind)
        else:
            columns[name] = numbers
    return pd.DataFrame(columns)
