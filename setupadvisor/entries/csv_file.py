"""Reading a CSV written by a spreadsheet or a timing system, block by block and line by line.

Nothing is converted here: cells stay text, and every row knows the line on which it begins.
"""

from __future__ import annotations

import csv
from collections.abc import Iterator
from contextlib import contextmanager
from itertools import islice
from pathlib import Path
from typing import Any

from setupadvisor.entries.yaml_file import read_text
from setupadvisor.errors import InputError, Mistake

# Few enough that their cells are gone before the collector looks at them.
ROWS_AT_ONCE = 4_000
LARGEST_CSV_BYTES = 4_000_000_000
_OTHER_SEPARATORS = {";": "semicolons", "\t": "tabs", "|": "bars"}


@contextmanager
def open_csv(path: Path) -> Iterator[CsvRows]:
    """Open a CSV with a header.

    Parameters
    ----------
    path : pathlib.Path
        The file; UTF-8, with or without a byte-order mark.

    Yields
    ------
    CsvRows
        The header, and the rows in blocks.

    Raises
    ------
    InputError
        If it cannot be opened, is not UTF-8, has no usable header, or breaks off inside a cell.
    """
    _refuse_unreadable(path)
    with path.open(encoding="utf-8-sig", newline="") as stream:
        reader = csv.reader(stream, strict=True)
        try:
            yield CsvRows(str(path), reader)
        except UnicodeDecodeError:
            raise _not_utf8(path) from None
        except csv.Error as error:
            raise InputError(
                Mistake(
                    f"{path}:{reader.line_num}",
                    f"the table breaks off here ({error})",
                    'check the quotes: a cell that holds " or a line break stands in quotes',
                )
            ) from None


class CsvRows:
    """The rows of one open CSV.

    Parameters
    ----------
    source : str
        The file's name, for messages.
    reader : iterator of list of str
        A `csv.reader`, still at the header.

    Attributes
    ----------
    header : list of str
        Column names, without spaces around them and without an empty end.
    mistakes : list of Mistake
        Rows with too many or too few cells; they are left out of the blocks.
    """

    def __init__(self, source: str, reader: Any) -> None:
        self.source = source
        self.mistakes: list[Mistake] = []
        self._reader = reader
        self.header = self._header()

    def _header(self) -> list[str]:
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
        doubled = sorted({name for name in found if found.count(name) > 1}, key=found.index)
        if doubled:
            raise InputError(
                Mistake(f"{where} {name}", "the column stands twice", "keep one of them")
                for name in doubled
            )
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
            rows = list(islice(self._reader, ROWS_AT_ONCE))
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


def _refuse_unreadable(path: Path) -> None:
    """Refuse what cannot be opened, in the words used for every other file."""
    try:
        with path.open("rb"):
            readable = path.is_file()
    except OSError:
        readable = False
    if not readable:
        read_text(path, largest_bytes=0)
        raise InputError(Mistake(str(path), "this is no plain file", "name a file"))
    size = path.stat().st_size
    if size > LARGEST_CSV_BYTES:
        found = f"the file holds {size / 1e9:.1f} GB"
        mend = f"at most {LARGEST_CSV_BYTES / 1e9:g} GB can be read; split it"
        raise InputError(Mistake(str(path), found, mend))


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
