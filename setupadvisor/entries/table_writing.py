"""Writing a table frame by frame: whole in the end, or not at all."""

from __future__ import annotations

import os
import shutil
import tempfile
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import TYPE_CHECKING, Any

from setupadvisor.entries.archive import PARQUET_ENDINGS, pyarrow_parquet
from setupadvisor.entries.new_folder import refuse_unwritable
from setupadvisor.errors import InputError, Mistake

if TYPE_CHECKING:
    import pandas as pd

CSV_ENDING = ".csv"


@contextmanager
def new_table(target: Path) -> Iterator[Callable[[pd.DataFrame], None]]:
    """Write a table: CSV or Parquet by its ending, else a folder with one Parquet file a frame.

    Parameters
    ----------
    target : pathlib.Path
        Where to; a file that is there is replaced once the new one is complete, a folder that
        holds anything is refused.

    Yields
    ------
    callable
        Called with each frame in turn; all have the same columns.

    Raises
    ------
    InputError
        Where it cannot be written.
    """
    refuse_unwritable(target)
    try:
        beside = Path(
            tempfile.mkdtemp(dir=target.absolute().parent, prefix=f".{target.name[:80]}.")
        )
        try:
            made = beside / "made"
            with _writer_of(target)(made) as write:
                yield write
            if target.is_dir():
                target.rmdir()
            os.replace(made, target)  # noqa: PTH105 - a file or a folder
        finally:
            shutil.rmtree(beside, ignore_errors=True)
    except OSError as error:
        reason = (error.strerror or "it cannot be written").lower()
        mend = "choose a folder that can be written to, with room enough"
        raise InputError(Mistake(str(target), reason, mend)) from None


def _writer_of(target: Path) -> Callable[[Path], Any]:
    ending = target.suffix.lower()
    if ending == CSV_ENDING:
        return _csv
    return _parquet if ending in PARQUET_ENDINGS else _folder


@contextmanager
def _csv(made: Path) -> Iterator[Callable[[pd.DataFrame], None]]:
    with made.open("w", encoding="utf-8", newline="") as file:

        def write(frame: pd.DataFrame) -> None:
            frame.to_csv(
                file,
                index=False,
                header=file.tell() == 0,
                float_format="%.10g",
                lineterminator="\n",
            )

        yield write


@contextmanager
def _parquet(made: Path) -> Iterator[Callable[[pd.DataFrame], None]]:
    parquet = pyarrow_parquet()
    import pyarrow  # noqa: PLC0415

    writers: list[Any] = []
    try:

        def write(frame: pd.DataFrame) -> None:
            table = pyarrow.Table.from_pandas(frame, preserve_index=False)
            if not writers:
                writers.append(parquet.ParquetWriter(made, table.schema, compression="zstd"))
            writers[0].write_table(table)

        yield write
    finally:
        for writer in writers:
            writer.close()


@contextmanager
def _folder(made: Path) -> Iterator[Callable[[pd.DataFrame], None]]:
    pyarrow_parquet()
    made.mkdir()
    count = 0

    def write(frame: pd.DataFrame) -> None:
        nonlocal count
        frame.to_parquet(made / f"part-{count:05d}.parquet", index=False, compression="zstd")
        count += 1

    yield write
