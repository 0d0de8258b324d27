"""An archive: a folder of Parquet files, each a season's table, with whole events in one file.

It holds what no single table can: it is read part by part, and never needs more memory than one.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any, TypeVar

from setupadvisor.entries.files import load_entry
from setupadvisor.entries.machine import Machine
from setupadvisor.entries.rider import Rider
from setupadvisor.errors import InputError, Mistake

PARQUET_ENDINGS = frozenset({".parquet", ".pq"})
RIDERS, MACHINES = "riders", "machines"
PYARROW_MISSING = "an archive is made of Parquet files, which need pyarrow"
PYARROW_MEND = "pip install 'setupadvisor[parquet]'"
# Of more mistakes in all parts together nobody reads the end.
MOST_TOLD = 60

EntryType = TypeVar("EntryType", Rider, Machine)


@dataclass(frozen=True)
class Archive:
    """A folder of sessions, part by part.

    Parameters
    ----------
    folder : pathlib.Path
        The folder.
    parts : tuple of pathlib.Path
        Its Parquet files, those of sub-folders too, in the order of their paths.
    rows : tuple of int
        Rows of each.
    """

    folder: Path
    parts: tuple[Path, ...]
    rows: tuple[int, ...]

    def __len__(self) -> int:
        return sum(self.rows)

    @property
    def riders(self) -> dict[str, Rider]:
        """Riders by name, from the folder ``riders`` beside the archive and the one inside it."""
        return {rider.name: rider for rider in self._entries(RIDERS, Rider)}

    @property
    def machines(self) -> dict[str, Machine]:
        """Machines by name, from the folder ``machines`` beside the archive and inside it."""
        return {machine.name: machine for machine in self._entries(MACHINES, Machine)}

    def _entries(self, name: str, model: type[EntryType]) -> list[EntryType]:
        # What stands inside the archive was put there with it, and goes before what is beside it.
        folders = (self.folder.absolute().parent / name, self.folder / name)
        return [load_entry(path, model) for folder in folders for path in _yaml_files(folder)]


def _yaml_files(folder: Path) -> list[Path]:
    return sorted(folder.glob("*.yaml"))


def is_archive(path: str | Path) -> bool:
    """Say whether a path is a folder with Parquet files in it.

    Parameters
    ----------
    path : str or pathlib.Path
        Any path.

    Returns
    -------
    bool
        False for files, and for folders without a Parquet file.
    """
    return Path(path).is_dir() and bool(_parts_of(Path(path)))


def open_archive(folder: str | Path, needed: Sequence[str]) -> Archive:
    """Look at every part of an archive, without reading its rows.

    Parameters
    ----------
    folder : str or pathlib.Path
        The folder.
    needed : sequence of str
        Columns that each part must have.

    Returns
    -------
    Archive
        Its parts that hold rows; further columns may differ from part to part.

    Raises
    ------
    InputError
        If there is no such folder, nothing in it, no pyarrow, or a part that is no Parquet table
        or lacks a column; with every such part.
    """
    folder = Path(folder)
    if not folder.is_dir():
        found = "this is no folder" if folder.exists() else "there is no such folder"
        raise InputError(Mistake(str(folder), found, "an archive is a folder of Parquet files"))
    paths = _parts_of(folder)
    if not paths:
        mend = "make an archive: setupadvisor archive SEASON -o FOLDER"
        raise InputError(Mistake(str(folder), "there is no Parquet file in it", mend))
    parts: list[Path] = []
    rows: list[int] = []
    mistakes: list[Mistake] = []
    for path in paths:
        try:
            count = _rows_of(path, needed)
        except InputError as error:
            mistakes.extend(error.mistakes)
            continue
        if count:
            parts.append(path)
            rows.append(count)
    if mistakes:
        raise InputError(bounded(mistakes, folder))
    if not parts:
        raise InputError(
            Mistake(str(folder), "its Parquet files hold no session", "add one row a session")
        )
    return Archive(folder, tuple(parts), tuple(rows))


def bounded(mistakes: Iterable[Mistake], where: str | Path, more: int = 0) -> list[Mistake]:
    """Keep as many mistakes as a person reads, and count the rest.

    Parameters
    ----------
    mistakes : iterable of Mistake
        Those of all parts, in their order.
    where : str or pathlib.Path
        What they are mistakes of.
    more : int
        How many there are besides.

    Returns
    -------
    list of Mistake
        At most `MOST_TOLD`, and one more that says how many are left out.

    Examples
    --------
    >>> many = [Mistake(f"part row {row}", "no", "yes") for row in range(100)]
    >>> print(bounded(many, "archive")[-1])
    archive: 40 further mistakes are not listed; mend these first
    """
    told: list[Mistake] = []
    rest = more
    for mistake in mistakes:
        if len(told) < MOST_TOLD:
            told.append(mistake)
        else:
            rest += 1
    if rest:
        words = f"{rest} further mistake{'s are' if rest > 1 else ' is'} not listed"
        told.append(Mistake(str(where), words, "mend these first"))
    return told


def pyarrow_parquet() -> Any:
    """Bring the library that reads Parquet.

    Returns
    -------
    module
        ``pyarrow.parquet``.

    Raises
    ------
    InputError
        If it is not installed.
    """
    try:
        from pyarrow import parquet  # noqa: PLC0415 - an extra
    except ImportError:
        raise InputError(Mistake("pyarrow", PYARROW_MISSING, PYARROW_MEND)) from None
    return parquet


def _parts_of(folder: Path) -> list[Path]:
    """List the Parquet files of a folder; hidden ones are somebody's unfinished work."""
    return [
        path
        for path in sorted(folder.rglob("*"))
        if path.suffix.lower() in PARQUET_ENDINGS
        and path.is_file()
        and not any(name.startswith((".", "_")) for name in path.relative_to(folder).parts)
    ]


def _rows_of(path: Path, needed: Sequence[str]) -> int:
    parquet = pyarrow_parquet()
    try:
        with parquet.ParquetFile(path) as file:
            count, names = file.metadata.num_rows, set(file.schema_arrow.names)
    except Exception as error:  # pyarrow raises many kinds for a file that is no table
        reason = str(error).strip().split("\n")[0]
        raise InputError(
            Mistake(str(path), f"this is no Parquet table ({reason})", "write it again")
        ) from None
    absent = [name for name in needed if name not in names]
    if count and absent:
        found = f"no column {', '.join(absent)}"
        raise InputError(Mistake(str(path), found, f"each part needs {', '.join(needed)}"))
    return int(count)
