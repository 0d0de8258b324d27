"""Reading a CSV written by a spreadsheet or a timing system, block by block and line by line.

Nothing is converted here: cells stay text, and every row knows the line on which it begins.
"""

from __future__ import annotations

import csv
from collections.abc import Iterator
from contextlib import contextmanager
from functools import cached_property
from itertools import islice
from pathlib import Path
from typing import Any

from setupadvisor.entries.yaml_file import read_text
from setupadvisor.errors import InputError, Mistake

# Few enough that their cells are gone before the collector looks at them.
ROWS_AT_ONCE = 4_000
LARGEST_CSV_BYTES = 4_000_000_000
QUOTES = 'check the quotes: a cell that holds " or a line break stands in quotes'
_OTHER_SEPARATORS = {";": "semicolons", "\t": "tabs", "|": "bars"}


@contextmanager
def open_csv(
    path: Path,
    rows_at_once: int = ROWS_AT_ONCE,
    largest_bytes: float = LARGEST_CSV_BYTES,
    *,
    of_what: str = "it",
) -> Iterator[CsvRows]:
    """Open a CSV with a header.

    Parameters
    ----------
    path : pathlib.Path
        The file; UTF-8, with or without a byte-order mark.
    rows_at_once : int
        Rows of a block.
    largest_bytes : float
        Larger files are refused.
    of_what : str
        What a file that is too large should be split into parts of.

    Yields
    ------
    CsvRows
        The header, and the rows in blocks.

    Raises
    ------
    InputError
        If it cannot be opened, is not UTF-8, has no usable header, or breaks off inside a cell.
    """
    refuse_unreadable(path)
    size = path.stat().st_size
    if size > largest_bytes:
        found = f"the file holds {size / 1e9:.1f} GB"
        mend = f"at most {largest_bytes / 1e9:g} GB can be read; split {of_what}"
        raise InputError(Mistake(str(path), found, mend))
    with path.open(encoding="utf-8-sig", newline="") as stream:
        reader = csv.reader(stream, strict=True)
        try:
            yield CsvRows(str(path), reader, rows_at_once)
        except UnicodeDecodeError:
            raise _not_utf8(path) from None
        except csv.Error as error:
            found = f"the table breaks off here ({error})"
            raise InputError(Mistake(f"{path}:{reader.line_num}", found, QUOTES)) from None


class CsvRows:
    """The rows of one open CSV.

    Parameters
    ----------
    source : str
        The file's name, for messages.
    reader : iterator of list of str
        A `csv.reader`, still at the header.
    rows_at_once : int
        Rows of a block.

    Attributes
    ----------
    mistakes : list of Mistake
        Rows with too many or too few cells; they are left out of the blocks.
    line : int
        On which line the row begins at which the reader stopped.
    """

    def __init__(self, source: str, reader: Any, rows_at_once: int) -> None:
        self.source = source
        self.mistakes: list[Mistake] = []
        self.line = 1
        self._reader = reader
        self._rows_at_once = rows_at_once

    @cached_property
    def header(self) -> list[str]:
        """Column names, without spaces around them and without an empty end."""
        found = _without_empty_end([name.strip() for name in next(self._reader, [])])
        where = f"{self.source}:1"
        if not found:
            mend = "write column names on line 1, then the rows"
            raise InputError(Mistake(self.source, "the file has no header", mend))
        if len(found) == 1:
            for sign, name in _OTHER_SEPARATORS.items():
                if sign in found[0]:
                    mend = "save the table with commas between the cells"
                    raise InputError(Mistake(where, f"the cells stand between {name}", mend))
        if "" in found:
            place = found.index("") + 1
            raise InputError(
                Mistake(where, f"column {place} has no name", "name it or take it out")
            )
        doubled = doubled_columns(found, where)
        if doubled:
            raise InputError(doubled)
        return found

    def blocks(self) -> Iterator[tuple[list[int], dict[str, tuple[str, ...]]]]:
        """Give the rows in blocks, column by column.

        Yields
        ------
        tuple of list of int and dict
            On which line each row begins, and the cells by column name, as they stand there.
            Empty rows, as spreadsheets leave them behind, are passed over.
        """
        width = len(self.header)
        while True:
            first: int = self._reader.line_num + 1
            rows: list[list[str]] = []
            try:
                rows.extend(islice(self._reader, self._rows_at_once))
            except csv.Error:
                self.line = _lines([*rows, []], first)[-1]
                raise
            if not rows:
                return
            lines = list(range(first, first + len(rows)))
            if lines[-1] != self._reader.line_num:
                lines = _lines(rows, first)
            if set(map(len, rows)) != {width} or not all(map(any, rows)):
                lines, rows = self._sound(lines, rows)
            if rows:
                yield lines, dict(zip(self.header, zip(*rows, strict=True), strict=True))

    def _sound(self, lines: list[int], rows: list[list[str]]) -> tuple[list[int], list[list[str]]]:
        width = len(self.header)
        kept: tuple[list[int], list[list[str]]] = ([], [])
        for line, cells in zip(lines, rows, strict=True):
            row = cells if len(cells) == width else _without_empty_end(cells)
            if not any(row):
                continue
            if len(cells) < width or len(row) > width:
                found = f"the row has {len(cells)} cells, the header {width}"
                mend = "give each row as many cells as the header; is the file complete?"
                self.mistakes.append(Mistake(f"{self.source}:{line}", found, mend))
                continue
            kept[0].append(line)
            kept[1].append(cells[:width])
        return kept


def _lines(rows: list[list[str]], first: int) -> list[int]:
    """On which line each row begins where cells run over several lines."""
    lines = []
    for cells in rows:
        lines.append(first)
        first += 1 + sum(cell.count("\n") for cell in cells)
    return lines


def _without_empty_end(cells: list[str]) -> list[str]:
    end = len(cells)
    while end and not cells[end - 1].strip():
        end -= 1
    return cells[:end]


def doubled_columns(names: list[str], where: str) -> list[Mistake]:
    """Find columns that stand twice.

    Parameters
    ----------
    names : list of str
        Column names.
    where : str
        Where they stand, for messages.

    Returns
    -------
    list of Mistake
        One for each such name.
    """
    doubled = sorted({name for name in names if names.count(name) > 1}, key=names.index)
    return [
        Mistake(f"{where} {name}", "the column stands twice", "keep one of them")
        for name in doubled
    ]


def refuse_unreadable(path: Path) -> None:
    """Refuse what cannot be opened, in the words used for every other file.

    Parameters
    ----------
    path : pathlib.Path
        The file.

    Raises
    ------
    InputError
        If it is missing, no plain file, or may not be read.
    """
    try:
        if path.is_file():
            with path.open("rb"):
                return
    except OSError:
        read_text(path, LARGEST_CSV_BYTES)
        raise
    read_text(path)
    raise InputError(Mistake(str(path), "this is no plain file", "name a file"))


def _not_utf8(path: Path) -> InputError:
    line = 1
    with path.open("rb") as stream:
        for line, text in enumerate(stream, start=1):  # noqa: B007 - the last one is the one
            try:
                text.decode("utf-8")
            except UnicodeDecodeError:
                break
    mend = "save the file again as UTF-8 CSV"
    return InputError(Mistake(f"{path}:{line}", "the text is not UTF-8 here", mend))
