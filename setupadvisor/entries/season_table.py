"""Reading a season's table from CSV or Parquet, cell for cell as it stands there."""

from __future__ import annotations

import csv
from collections.abc import Iterator
from pathlib import Path
from typing import TYPE_CHECKING, Any

from setupadvisor.entries.yaml_file import read_text
from setupadvisor.errors import InputError, Mistake

if TYPE_CHECKING:
    import pandas as pd

LARGEST_SEASON_BYTES = 4_000_000_000
# The index of a frame read from CSV: on which line of the file each row begins.
LINE = "line"
# The index of a block of a Parquet file's rows: each row's number in the file, from 1.
ROW = "row"
_ROWS_AT_ONCE = 5_000
_OTHER_SEPARATORS = {";": "semicolons", "\t": "tabs", "|": "bars"}


def read_table(path: Path) -> tuple[pd.DataFrame, list[Mistake]]:
    """Read a table.

    Parameters
    ----------
    path : pathlib.Path
        A Parquet file by its ending, else CSV.

    Returns
    -------
    tuple of pandas.DataFrame and list of Mistake
        One row a session, all cells of a CSV as text, empty rows left out; and one mistake for
        each row with too many or too few cells, which is left out too.

    Raises
    ------
    InputError
        If it cannot be read at all.
    """
    if path.suffix.lower() in {".parquet", ".pq"}:
        return _read_parquet(path), []
    return _read_csv(path)


def _read_parquet(path: Path) -> pd.DataFrame:
    import pandas as pd  # noqa: PLC0415 - a third of a second that `advise` need not pay

    refuse_unreadable(path)
    try:
        frame = pd.read_parquet(path)
    except ImportError:
        mend = "pip install 'setupadvisor[parquet]', or use CSV"
        raise InputError(Mistake(str(path), "reading Parquet needs pyarrow", mend)) from None
    except Exception as error:  # pyarrow raises many kinds for a file that is no table
        raise no_parquet(path, error) from None
    frame.columns = [str(name) for name in frame.columns]
    _refuse_doubled(list(frame.columns), str(path))
    return frame.reset_index(drop=True)


def no_parquet(path: Path, error: Exception) -> InputError:
    """Say that a file is no Parquet table, with the library's reason.

    Parameters
    ----------
    path : pathlib.Path
        The file.
    error : Exception
        What the library raised.

    Returns
    -------
    InputError
        To raise.
    """
    reason = str(error).strip().split("\n")[0]
    return InputError(Mistake(str(path), f"this is no Parquet table ({reason})", "write it again"))


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
    if not path.is_file():
        read_text(path)
        raise InputError(Mistake(str(path), "this is no plain file", "name a file"))
    try:
        with path.open("rb"):
            pass
    except OSError:
        read_text(path, LARGEST_SEASON_BYTES)
        raise


def _read_csv(path: Path) -> tuple[pd.DataFrame, list[Mistake]]:
    refuse_unreadable(path)
    size = path.stat().st_size
    if size > LARGEST_SEASON_BYTES:
        found = f"the file holds {size / 1e9:.1f} GB"
        mend = f"at most {LARGEST_SEASON_BYTES / 1e9:g} GB can be read; split the season"
        raise InputError(Mistake(str(path), found, mend))
    with path.open(encoding="utf-8-sig", newline="") as stream:
        try:
            return _Rows(path, csv.reader(stream, strict=True)).read()
        except UnicodeDecodeError:
            raise _not_utf8(path) from None


def csv_blocks(path: Path, rows: int) -> Iterator[tuple[pd.DataFrame, list[Mistake]]]:
    """Read a CSV block by block, however large it is.

    Parameters
    ----------
    path : pathlib.Path
        The file.
    rows : int
        Rows of a block.

    Yields
    ------
    tuple of pandas.DataFrame and list of Mistake
        The next rows, and one mistake for each row with too many or too few cells among them.

    Raises
    ------
    InputError
        If it cannot be read at all.
    """
    refuse_unreadable(path)
    with path.open(encoding="utf-8-sig", newline="") as stream:
        try:
            yield from _Rows(path, csv.reader(stream, strict=True)).frames(rows)
        except UnicodeDecodeError:
            raise _not_utf8(path) from None


def _not_utf8(path: Path) -> InputError:
    line, mend = 1, "save the file again as UTF-8 CSV"
    with path.open("rb") as stream:
        for line, text in enumerate(stream, start=1):  # noqa: B007 - the last one is the one
            try:
                text.decode("utf-8")
            except UnicodeDecodeError:
                break
    return InputError(Mistake(f"{path}:{line}", "the text is not UTF-8 here", mend))


class _Rows:
    """Reads the rows of one CSV, minding on which line each begins."""

    def __init__(self, path: Path, reader: Any) -> None:
        self.path = path
        self.reader = reader
        self.rows = self.numbered()
        self.lines: list[int] = []
        self.mistakes: list[Mistake] = []

    def read(self) -> tuple[pd.DataFrame, list[Mistake]]:
        import pandas as pd  # noqa: PLC0415 - a third of a second that `advise` need not pay

        found = list(self.frames(_ROWS_AT_ONCE))
        mistakes = [mistake for _, some in found for mistake in some]
        frame = pd.concat([frame for frame, _ in found])
        if mistakes and not len(frame):
            raise InputError(mistakes)
        return frame, mistakes

    def frames(self, most: int) -> Iterator[tuple[pd.DataFrame, list[Mistake]]]:
        import pandas as pd  # noqa: PLC0415

        header = self.header()
        for rows in self.blocks(len(header), most):
            cells = zip(*rows, strict=True) if rows else ([] for _ in header)
            frame = pd.DataFrame(dict(zip(header, cells, strict=True)), dtype="str")
            frame.index = pd.Index(self.lines, name=LINE, dtype="int64")
            yield frame, self.mistakes
            self.lines, self.mistakes = [], []

    def header(self) -> list[str]:
        source = str(self.path)
        found = _without_empty_end([name.strip() for name in next(self.rows, (1, []))[1]])
        if not found:
            raise InputError(
                Mistake(
                    source, "the file has no header", "write column names on line 1, then the rows"
                )
            )
        if len(found) == 1:
            for sign, name in _OTHER_SEPARATORS.items():
                if sign in found[0]:
                    mend = "save the table with commas between the cells"
                    raise InputError(
                        Mistake(f"{source}:1", f"the cells stand between {name}", mend)
                    )
        if "" in found:
            place = found.index("") + 1
            raise InputError(
                Mistake(f"{source}:1", f"column {place} has no name", "name it or take it out")
            )
        _refuse_doubled(found, f"{source}:1")
        return found

    def blocks(self, width: int, most: int) -> Iterator[list[list[str]]]:
        rows: list[list[str]] = []
        for line, cells in self.rows:
            row = cells if len(cells) == width else _without_empty_end(cells)
            if not any(row):
                continue  # spreadsheets leave empty rows behind
            if len(cells) < width or len(row) > width:
                found = f"the row has {len(cells)} cells, the header {width}"
                mend = "give each row as many cells as the header; is the file complete?"
                self.mistakes.append(Mistake(f"{self.path}:{line}", found, mend))
                continue
            self.lines.append(line)
            rows.append(cells[:width])
            if len(rows) == most:
                yield rows
                rows = []
        yield rows  # and what was wrong at the end, even without a row

    def numbered(self) -> Iterator[tuple[int, list[str]]]:
        while True:
            line = self.reader.line_num + 1
            try:
                cells = next(self.reader, None)
            except csv.Error as error:
                found = f"the row that begins here cannot be read ({error})"
                mend = 'check the quotes: a cell that holds " or a line break stands in quotes'
                raise InputError(Mistake(f"{self.path}:{line}", found, mend)) from None
            if cells is None:
                return
            yield line, cells


def _without_empty_end(cells: list[str]) -> list[str]:
    end = len(cells)
    while end and not cells[end - 1].strip():
        end -= 1
    return cells[:end]


def _refuse_doubled(names: list[str], where: str) -> None:
    doubled = sorted({name for name in names if names.count(name) > 1}, key=names.index)
    if doubled:
        mistakes = [
            Mistake(f"{where} {name}", "the column stands twice", "keep one of them")
            for name in doubled
        ]
        raise InputError(mistakes)
