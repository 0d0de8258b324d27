"""Tables read block by block say what they say as a whole, and where."""

from __future__ import annotations

from pathlib import Path

import pandas as pd
import pytest

from setupadvisor.entries.files import bundled
from setupadvisor.entries.season_table import LINE, ROW, read_table
from setupadvisor.entries.table_blocks import table_blocks
from setupadvisor.errors import InputError

SEASON = bundled("datasets", "season.csv")


@pytest.mark.parametrize("rows", [1, 7, 60, 240, 1000])
def test_blocks_of_a_csv_are_the_rows_of_the_whole(rows: int) -> None:
    blocks = list(table_blocks(SEASON, rows))
    assert all(len(frame) <= rows for frame, _ in blocks)
    assert all(mistakes == [] for _, mistakes in blocks)
    together = pd.concat([frame for frame, _ in blocks])
    whole, _ = read_table(SEASON)
    assert together.index.name == LINE
    pd.testing.assert_frame_equal(together, whole)


@pytest.mark.parametrize("rows", [1, 7, 240, 1000])
def test_blocks_of_a_parquet_file_are_the_rows_of_the_whole(tmp_path: Path, rows: int) -> None:
    pytest.importorskip("pyarrow")
    whole, _ = read_table(SEASON)
    path = tmp_path / "season.parquet"
    whole.reset_index(drop=True).to_parquet(path, row_group_size=50)
    blocks = [frame for frame, _ in table_blocks(path, rows)]
    together = pd.concat(blocks)
    assert together.index.name == ROW
    assert together.index.tolist() == list(range(1, 241))
    pd.testing.assert_frame_equal(
        together.reset_index(drop=True), read_table(path)[0], check_dtype=False
    )


def test_torn_rows_are_left_out_and_told_once_by_line(tmp_path: Path) -> None:
    path = tmp_path / "a.csv"
    path.write_text("a,b\n1,2\n3\n4,5\n6,7\n8,9,10\n", encoding="utf-8")
    blocks = list(table_blocks(path, 2))
    assert [cell for frame, _ in blocks for cell in frame["a"]] == ["1", "4", "6"]
    assert [line for frame, _ in blocks for line in frame.index] == [2, 4, 5]
    lines = [mistake.where.removeprefix(f"{path}:") for _, some in blocks for mistake in some]
    assert lines == ["3", "6"]


def test_text_that_is_not_utf8_is_refused_with_its_line(tmp_path: Path) -> None:
    path = tmp_path / "a.csv"
    path.write_bytes(b"a,b\n1,2\n\xff,3\n")
    with pytest.raises(InputError, match=":3: the text is not UTF-8 here"):
        list(table_blocks(path, 1))


@pytest.mark.parametrize("name", ["a.csv", "a.parquet"])
def test_what_is_not_there_is_refused(tmp_path: Path, name: str) -> None:
    with pytest.raises(InputError, match="no such file"):
        list(table_blocks(tmp_path / name, 5))


def test_what_is_no_parquet_is_refused(tmp_path: Path) -> None:
    pytest.importorskip("pyarrow")
    path = tmp_path / "a.parquet"
    path.write_bytes(b"PAR1 nothing")
    with pytest.raises(InputError, match="this is no Parquet table"):
        list(table_blocks(path, 5))
