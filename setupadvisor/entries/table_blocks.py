"""Reading a table block by block, so that it need not fit into memory."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path
from typing import TYPE_CHECKING

from setupadvisor.entries.archive import PARQUET_ENDINGS, pyarrow_parquet
from setupadvisor.entries.csv_file import refuse_unreadable
from setupadvisor.entries.season_table import ROW, csv_blocks, no_parquet
from setupadvisor.errors import Mistake

if TYPE_CHECKING:
    import pandas as pd


def table_blocks(path: str | Path, rows: int) -> Iterator[tuple[pd.DataFrame, list[Mistake]]]:
    """Read a table block by block.

    Parameters
    ----------
    path : str or pathlib.Path
        A Parquet file by its ending, else CSV.
    rows : int
        Rows of a block.

    Yields
    ------
    tuple of pandas.DataFrame and list of Mistake
        The next rows, their line or row number as index; and one mistake for each row of a CSV
        with too many or too few cells, which is left out.

    Raises
    ------
    InputError
        If it cannot be read.
    """
    path = Path(path)
    if path.suffix.lower() in PARQUET_ENDINGS:
        yield from ((frame, []) for frame in _parquet_blocks(path, rows))
    else:
        yield from csv_blocks(path, rows)


def _parquet_blocks(path: Path, rows: int) -> Iterator[pd.DataFrame]:
    import pandas as pd  # noqa: PLC0415 - a third of a second that `advise` need not pay

    refuse_unreadable(path)
    parquet = pyarrow_parquet()
    first = 1
    try:
        with parquet.ParquetFile(path) as file:
            for batch in file.iter_batches(batch_size=rows):
                frame = batch.to_pandas()
                frame.columns = [str(name) for name in frame.columns]
                frame.index = pd.RangeIndex(first, first + len(frame), name=ROW)
                first += len(frame)
                yield frame
    except (OSError, ValueError) as error:
        raise no_parquet(path, error) from None
