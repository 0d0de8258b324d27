"""A season's table in blocks of columns, each different walk of it once.

A season has many sessions of one walk, and more than half of a row is the walk. Where those columns
stand side by side in a CSV without quotes, a whole stretch of the line is compared at once.
"""

from __future__ import annotations

from collections.abc import Collection, Hashable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from setupadvisor.entries.csv_file import LARGEST_CSV_BYTES, open_csv
from setupadvisor.entries.logbook.cells import is_walk_column, text_from_cell
from setupadvisor.entries.logbook.parquet import read_parquet

_BYTE_ORDER_MARK = "\ufeff"
_ROWS_AT_ONCE = 2_500


class NotPlain(Exception):
    """The table needs a closer look: a row is too long or too short."""


@dataclass(frozen=True)
class Block:
    """Some rows of a table.

    Parameters
    ----------
    header : list of str
        All columns of the table, in its order.
    columns : mapping of str to sequence
        Cells by column, but for those of the walk.
    walk_names : list of str
        The columns of the walk.
    walk_keys : sequence
        Which walk each row has.
    walks : mapping
        The cells of each walk, in the order of `walk_names`, by key.
    """

    header: list[str]
    columns: Mapping[str, Sequence[Any]]
    walk_names: list[str]
    walk_keys: Sequence[Hashable]
    walks: Mapping[Any, Sequence[Any]]

    def only(self, sessions: Collection[str], seen: set[str]) -> Block:
        """Keep the first row of each of some sessions that was not seen before."""
        rows = []
        for row, cell in enumerate(self.columns["session_id"]):
            name = text_from_cell(cell).strip()
            if name in sessions and name not in seen:
                seen.add(name)
                rows.append(row)
        columns = {name: [cells[row] for row in rows] for name, cells in self.columns.items()}
        keys = [self.walk_keys[row] for row in rows]
        return Block(self.header, columns, self.walk_names, keys, self.walks)


def csv_blocks(path: Path, *, whole: bool) -> Iterator[Block]:
    """Read a CSV.

    Parameters
    ----------
    path : pathlib.Path
        The file.
    whole : bool
        Whether every row must have as many cells as the header; else such rows are left out.

    Yields
    ------
    Block
        At least one row each.

    Raises
    ------
    InputError
        If it cannot be read.
    NotPlain
        If a row has too many or too few cells.
    """
    plain = _plain_text(path)
    if plain is not None:
        yield from _plain_blocks(*plain)
        return
    with open_csv(path) as table:
        for _, columns in table.blocks():
            yield block_of(table.header, columns)
        if whole and table.mistakes:
            raise NotPlain


def block_of(header: list[str], columns: Mapping[str, Sequence[Any]]) -> Block:
    """Take the walks out of a block of columns.

    Parameters
    ----------
    header : list of str
        All columns.
    columns : mapping of str to sequence
        Cells by column.

    Returns
    -------
    Block
        The same rows.
    """
    names = [name for name in header if is_walk_column(name)]
    rest = {name: columns[name] for name in header if name not in set(names)}
    if names:
        keys: list[tuple[Any, ...]] = list(zip(*map(columns.__getitem__, names), strict=True))
    else:
        keys = [()] * len(columns[header[0]])
    return Block(header, rest, names, keys, {key: key for key in dict.fromkeys(keys)})


def parquet_block(path: Path) -> tuple[Block, str]:
    """Read a Parquet table.

    Parameters
    ----------
    path : pathlib.Path
        The file.

    Returns
    -------
    tuple of Block and str
        All its rows, and its columns' types.

    Raises
    ------
    InputError
        If it cannot be read.
    """
    from setupadvisor.entries.season_table import read_table  # noqa: PLC0415 - brings pandas

    read_table(path)  # says what is wrong with a file that is no table
    columns, schema = read_parquet(path)
    return block_of(list(columns), columns), schema


def _plain_text(path: Path) -> tuple[list[str], list[str], int, int] | None:
    """Give header, lines and where the walk begins and ends, if the file is as plain as that."""
    try:
        if path.stat().st_size > LARGEST_CSV_BYTES:
            return None
        text = path.read_bytes().decode("utf-8").removeprefix(_BYTE_ORDER_MARK)
    except (OSError, UnicodeDecodeError):
        return None
    if '"' in text or "\0" in text:
        return None
    if "\r" in text:
        text = text.replace("\r\n", "\n")
        if "\r" in text:
            return None
    first, _, rest = text.partition("\n")
    header = [name.strip() for name in first.split(",")]
    walk = [place for place, name in enumerate(header) if is_walk_column(name)]
    lines = rest.split("\n")
    if lines[-1] == "":
        lines.pop()
    commas = len(header) - 1
    if (
        not walk
        or not lines
        or walk[-1] - walk[0] + 1 != len(walk)
        or "" in header
        or len(set(header)) < len(header)
        or any(line.count(",") != commas for line in lines)
    ):
        return None
    return header, lines, walk[0], walk[-1] + 1


def _plain_blocks(header: list[str], lines: list[str], start: int, end: int) -> Iterator[Block]:
    names = [*header[:start], *header[end:]]
    after = len(header) - end
    for first in range(0, len(lines), _ROWS_AT_ONCE):
        rows, keys = [], []
        for line in lines[first : first + _ROWS_AT_ONCE]:
            *left, middle = line.split(",", start)
            key, *right = middle.rsplit(",", after)
            left += right
            rows.append(left)
            keys.append(key)
        columns = dict(zip(names, zip(*rows, strict=True), strict=True))
        walks = {key: key.split(",") for key in dict.fromkeys(keys)}
        yield Block(header, columns, header[start:end], keys, walks)
