"""Reading a season's table from CSV or Parquet, cell for cell as it stands there."""

from __future__ import annotations

import csv
import math
from collections.abc import Iterator
from itertools import chain
from pathlib import Path
from typing import TYPE_CHECKING

from setupadvisor.entries.csv_file import (
    LARGEST_CSV_BYTES,
    QUOTES,
    ROWS_AT_ONCE,
    CsvRows,
    doubled_columns,
    open_csv,
    refuse_unreadable,
)
from setupadvisor.errors import InputError, Mistake

if TYPE_CHECKING:
    import pandas as pd

# The index of a frame read from CSV: on which line of the file each row begins.
LINE = "line"
# The index of a block of a Parquet file's rows: each row's number in the file, from 1.
ROW = "row"


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
    doubled = doubled_columns(list(frame.columns), str(path))
    if doubled:
        raise InputError(doubled)
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


def _read_csv(path: Path) -> tuple[pd.DataFrame, list[Mistake]]:
    import pandas as pd  # noqa: PLC0415

    found = list(csv_blocks(path, ROWS_AT_ONCE, LARGEST_CSV_BYTES))
    mistakes = [mistake for _, some in found for mistake in some]
    frame = pd.concat([frame for frame, _ in found])
    if mistakes and not len(frame):
        raise InputError(mistakes)
    return frame, mistakes


def csv_blocks(
    path: Path, rows: int, largest_bytes: float = math.inf
) -> Iterator[tuple[pd.DataFrame, list[Mistake]]]:
    """Read a CSV block by block, however large it is.

    Parameters
    ----------
    path : pathlib.Path
        The file.
    rows : int
        Rows of a block.
    largest_bytes : float
        Larger files are refused.

    Yields
    ------
    tuple of pandas.DataFrame and list of Mistake
        The next rows, and one mistake for each row with too many or too few cells among them.

    Raises
    ------
    InputError
        If it cannot be read at all.
    """
    with open_csv(path, rows, largest_bytes, of_what="the season") as table:
        try:
            yield from _frames(table)
        except csv.Error as error:
            found = f"the row that begins here cannot be read ({error})"
            raise InputError(Mistake(f"{path}:{table.line}", found, QUOTES)) from None


def _frames(table: CsvRows) -> Iterator[tuple[pd.DataFrame, list[Mistake]]]:
    import pandas as pd  # noqa: PLC0415

    # At the end come the mistakes behind the last sound row, even without a row.
    end: tuple[list[int], dict[str, tuple[str, ...]]] = ([], dict.fromkeys(table.header, ()))
    for lines, cells in chain(table.blocks(), [end]):
        frame = pd.DataFrame(cells, dtype="str")
        frame.index = pd.Index(lines, name=LINE, dtype="int64")
        yield frame, table.mistakes
        table.mistakes = []
