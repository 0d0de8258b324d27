"""What may stand in one part of an archive only: events, and the identifiers of sessions.

Names are compared by 64-bit hashes, and only those whose hashes meet are read again and compared
letter by letter. More hashes than fit into memory go to files, each with a range of them: the work
grows as the sessions do, and the memory not at all.
"""

from __future__ import annotations

import tempfile
from collections.abc import Callable, Container, Iterator
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

from setupadvisor.entries.archive import Archive, pyarrow_parquet
from setupadvisor.entries.messages import shown
from setupadvisor.entries.season_reader import Names, texts_of
from setupadvisor.errors import InputError, Mistake

# Hashes sorted at once: 12 bytes each, and as much again while they are sorted.
HASHES_AT_ONCE = 10_000_000
# Identifiers that stand twice are left out one by one where that is wanted; of more than these the
# whole archive was put together wrongly.
MOST_DOUBLED = 20_000
_RECORD = np.dtype([("hash", "<u8"), ("part", "<u4")])
_Records = NDArray[Any]


def column_texts(path: Path, column: str) -> Names:
    """Read one column of a part as trimmed texts.

    Parameters
    ----------
    path : pathlib.Path
        The part.
    column : str
        A column that it has.

    Returns
    -------
    numpy.ndarray of str, shape (rows,)
        Empty where missing.
    """
    with pyarrow_parquet().ParquetFile(path) as file:
        places, texts = texts_of(file.read(columns=[column]).to_pandas()[column])
    return texts[places]


def in_two_parts(
    archive: Archive,
    column: str,
    most: int,
    progress: Callable[[str, int, int], None] | None = None,
) -> tuple[dict[str, tuple[int, ...]], int]:
    """Find names that stand in more than one part.

    Parameters
    ----------
    archive : Archive
        Its parts.
    column : str
        ``event`` or ``session_id``.
    most : int
        How many names are wanted.
    progress : callable, optional
        Called as the work goes on.

    Returns
    -------
    tuple of dict and int
        By name the numbers of its parts, at most `most` of them; and how many there are, counted
        by their hashes.
    """
    tell = progress or (lambda what, done, total: None)
    n_shards = max(1, -(-len(archive) // HASHES_AT_ONCE))
    with tempfile.TemporaryDirectory(prefix="setupadvisor-") as folder:
        shards = _Shards(n_shards, Path(folder))
        for number, path in enumerate(archive.parts):
            tell(f"{column} in each part", number, len(archive.parts))
            shards.add(number, _hashes(column_texts(path, column)))
        count, suspects = 0, []
        for records in shards.read():
            hashes = _repeated(records["hash"])
            suspects.append(records[np.isin(records["hash"], hashes[: max(0, most - count)])])
            count += len(hashes)
    some = np.concatenate(suspects)
    found: dict[str, list[int]] = {}
    for number in np.unique(some["part"]).tolist():
        texts = np.array(sorted(set(column_texts(archive.parts[number], column)) - {""}), object)
        for text in texts[np.isin(_hashes(texts), some["hash"])].tolist():
            found.setdefault(text, []).append(number)
    return {text: tuple(parts) for text, parts in found.items() if len(parts) > 1}, count


def split_events(
    archive: Archive, most: int, progress: Callable[[str, int, int], None] | None = None
) -> list[Mistake]:
    """Say which events have sessions in more than one part.

    Parameters
    ----------
    archive : Archive
        Its parts.
    most : int
        How many to name.
    progress : callable, optional
        Called as the work goes on.

    Returns
    -------
    list of Mistake
        One for each event, and one with the number of the others and the mend.
    """
    split, count = in_two_parts(archive, "event", most, progress)
    if not split:
        return []
    mistakes = []
    for event, parts in split.items():
        first, other = (archive.parts[number] for number in parts[:2])
        row = _row_of(other, "event", event)
        others = len(parts) - 2
        more = f" and {others} more part{'s' if others > 1 else ''}" if others else ""
        mistakes.append(
            Mistake(
                f"{other} row {row} event",
                f"sessions of {shown(event)} stand in {first}{more} too",
                "an event's sessions all belong into one part",
            )
        )
    mistakes.append(
        Mistake(
            str(archive.folder),
            f"{count} event{'s stand' if count > 1 else ' stands'} in more than one part",
            f"bring them together: setupadvisor archive {archive.folder} -o FOLDER",
        )
    )
    return mistakes


def doubled_sessions(
    archive: Archive,
    progress: Callable[[str, int, int], None] | None = None,
    place: Callable[[int, int], str] | None = None,
) -> tuple[dict[int, frozenset[str]], list[Mistake]]:
    """Find sessions whose identifier stands in an earlier part already.

    Parameters
    ----------
    archive : Archive
        Its parts.
    progress : callable, optional
        Called as the work goes on.
    place : callable, optional
        Says where a row stands, from the number of its part and its own, which counts from 0.

    Returns
    -------
    tuple of dict and list of Mistake
        By the number of a part the identifiers that are not its own, and a mistake for each.

    Raises
    ------
    InputError
        If so many are doubled that whole tables must stand there twice.
    """
    doubled, count = in_two_parts(archive, "session_id", MOST_DOUBLED, progress)
    if count > MOST_DOUBLED:
        found = f"{count} sessions stand in more than one part"
        raise InputError(
            Mistake(str(archive.folder), found, "does a table stand there twice? Keep one of them")
        )
    others: dict[int, set[str]] = {}
    for identifier, parts in doubled.items():
        for number in parts[1:]:
            others.setdefault(number, set()).add(identifier)
    first_of = {identifier: parts[0] for identifier, parts in doubled.items()}
    where = place or (lambda number, row: f"{archive.parts[number]} row {row + 1}")
    rows = {number: _rows(archive.parts[number], doubled) for number in set(first_of.values())}
    mistakes = []
    for number, identifiers in sorted(others.items()):
        for identifier, row in _rows(archive.parts[number], identifiers).items():
            first = first_of[identifier]
            there = where(first, rows[first][identifier])
            mistakes.append(
                Mistake(
                    f"{where(number, row)} session_id",
                    f"{shown(identifier)} stands already in {there}",
                    "give each session its own",
                )
            )
    return {number: frozenset(found) for number, found in others.items()}, mistakes


def _rows(path: Path, wanted: Container[str]) -> dict[str, int]:
    """Give the first row of some identifiers."""
    rows: dict[str, int] = {}
    for row, identifier in enumerate(column_texts(path, "session_id").tolist()):
        if identifier in wanted:
            rows.setdefault(identifier, row)
    return rows


def _row_of(path: Path, column: str, text: str) -> int:
    return int(np.flatnonzero(column_texts(path, column) == text)[0]) + 1


def _hashes(texts: Names) -> NDArray[np.uint64]:
    from pandas.util import hash_array  # noqa: PLC0415

    different = np.array(sorted(set(texts.tolist()) - {""}), dtype=object)
    hashes: NDArray[np.uint64] = hash_array(different, categorize=False)
    return hashes


def _repeated(hashes: NDArray[np.uint64]) -> NDArray[np.uint64]:
    """Give the hashes that stand there more than once; a part has each once."""
    ordered = np.sort(hashes)
    return np.unique(ordered[1:][ordered[1:] == ordered[:-1]])


class _Shards:
    """Records apart by ranges of their hashes: in memory, or in files when there are several."""

    def __init__(self, count: int, folder: Path) -> None:
        self.count = count
        self.folder = folder
        self.held: list[_Records] = []

    def add(self, part: int, hashes: NDArray[np.uint64]) -> None:
        records = np.empty(len(hashes), dtype=_RECORD)
        records["hash"], records["part"] = hashes, part
        if self.count == 1:
            self.held.append(records)
            return
        shard = hashes % np.uint64(self.count)
        for number in range(self.count):
            with (self.folder / str(number)).open("ab") as file:
                records[shard == number].tofile(file)

    def read(self) -> Iterator[_Records]:
        if self.count == 1:
            yield np.concatenate([np.empty(0, dtype=_RECORD), *self.held])
            return
        for number in range(self.count):
            yield np.fromfile(self.folder / str(number), dtype=_RECORD)
