"""Archives: which folders are one, what is in them, and what is said of those that are none."""

from __future__ import annotations

import builtins
import shutil
from pathlib import Path
from typing import Any

import pytest

from setupadvisor.entries.archive import MOST_TOLD, bounded, is_archive
from setupadvisor.entries.files import bundled
from setupadvisor.errors import InputError, Mistake
from tests.entries.small_archives import opened, part, told

pytest.importorskip("pyarrow", reason='needs the extra "parquet"')


def refused(folder: Path, archive: Path) -> list[str]:
    with pytest.raises(InputError) as caught:
        opened(archive)
    return told(folder, caught.value)


def test_parts_of_all_sub_folders_stand_in_the_order_of_their_paths(tmp_path: Path) -> None:
    part(tmp_path, "2025/b.parquet", {})
    part(tmp_path, "2024/z.pq", {}, {})
    part(tmp_path, "2025/a.PARQUET", {}, {}, {})
    archive = opened(tmp_path)
    names = [path.relative_to(tmp_path).as_posix() for path in archive.parts]
    assert names == ["2024/z.pq", "2025/a.PARQUET", "2025/b.parquet"]
    assert (archive.rows, len(archive)) == ((2, 3, 1), 6)
    assert is_archive(tmp_path)


def test_unfinished_and_other_files_are_passed_over(tmp_path: Path) -> None:
    """Hidden names, and those with an underscore, are how writers mark what is not yet whole."""
    part(tmp_path, "a.parquet", {})
    part(tmp_path, ".b.parquet", {})
    part(tmp_path, "_work/c.parquet", {})
    part(tmp_path, ".new/d.parquet", {})
    (tmp_path / "notes.txt").write_text("x", encoding="utf-8")
    (tmp_path / "folder.parquet").mkdir()
    assert [path.name for path in opened(tmp_path).parts] == ["a.parquet"]


def test_parts_without_a_row_are_passed_over(tmp_path: Path) -> None:
    part(tmp_path, "a.parquet", {})
    part(tmp_path, "b.parquet")
    assert [path.name for path in opened(tmp_path).parts] == ["a.parquet"]


def test_a_folder_without_a_part_is_refused(tmp_path: Path) -> None:
    (tmp_path / "season.csv").write_text("x", encoding="utf-8")
    folder = tmp_path / "empty"
    folder.mkdir()
    said = "there is no Parquet file in it; make an archive: setupadvisor archive SEASON -o FOLDER"
    assert refused(tmp_path, folder) == [f"empty: {said}"]
    assert not is_archive(folder)


@pytest.mark.parametrize(("name", "found"), [("f", "this is no folder"), ("x", "there is no such")])
def test_what_is_no_folder_is_refused(tmp_path: Path, name: str, found: str) -> None:
    (tmp_path / "f").write_text("x", encoding="utf-8")
    (said,) = refused(tmp_path, tmp_path / name)
    assert said.startswith(f"{name}: {found}")
    assert not is_archive(tmp_path / name)


def test_parts_none_of_which_holds_a_row_are_refused(tmp_path: Path) -> None:
    part(tmp_path, "arc/a.parquet")
    said = "arc: its Parquet files hold no session; add one row a session"
    assert refused(tmp_path, tmp_path / "arc") == [said]


def test_all_parts_that_cannot_be_read_are_told_together(tmp_path: Path) -> None:
    part(tmp_path, "arc/a.parquet", {})
    (tmp_path / "arc" / "b.parquet").write_bytes(b"PAR1 and no more")
    path = part(tmp_path, "arc/c.parquet", {})
    path.write_bytes(path.read_bytes()[:-9])
    import pandas as pd  # noqa: PLC0415

    pd.DataFrame({"event": ["x"], "date": ["2026-01-01"]}).to_parquet(tmp_path / "arc/d.parquet")
    said = refused(tmp_path, tmp_path / "arc")
    assert [line.split(":")[0] for line in said] == [
        "arc/b.parquet",
        "arc/c.parquet",
        "arc/d.parquet",
    ]
    assert said[0].startswith("arc/b.parquet: this is no Parquet table (")
    needs = "each part needs session_id, event, date, rider, machine"
    assert said[2] == f"arc/d.parquet: no column session_id, rider, machine; {needs}"


def test_without_pyarrow_the_way_out_is_told(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    part(tmp_path, "a.parquet", {})
    plain_import = builtins.__import__

    def without(name: str, *rest: Any) -> Any:
        if name.partition(".")[0] == "pyarrow":
            raise ImportError(name)
        return plain_import(name, *rest)

    monkeypatch.setattr(builtins, "__import__", without)
    said = "an archive is made of Parquet files, which need pyarrow"
    assert refused(tmp_path, tmp_path) == [
        f"pyarrow: {said}; pip install 'setupadvisor[parquet]'",
    ]


def test_riders_inside_an_archive_go_before_those_beside_it(tmp_path: Path) -> None:
    part(tmp_path, "arc/a.parquet", {})
    riders = bundled("datasets", "riders")
    shutil.copytree(riders, tmp_path / "riders")
    (tmp_path / "arc" / "riders").mkdir()
    (tmp_path / "arc/riders/n.yaml").write_text("name: north\nmass: 99 kg\n", encoding="utf-8")
    found = opened(tmp_path / "arc").riders
    assert set(found) == {"north", "south", "east"}
    assert found["north"].mass_kg == 99.0
    assert opened(tmp_path / "arc").machines == {}


def test_an_archive_named_from_within_finds_the_riders_beside_it(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    part(tmp_path, "arc/a.parquet", {})
    shutil.copytree(bundled("datasets", "riders"), tmp_path / "riders")
    monkeypatch.chdir(tmp_path / "arc")
    assert "north" in opened(Path()).riders


@pytest.mark.parametrize("count", [0, 1, MOST_TOLD, MOST_TOLD + 1, MOST_TOLD + 500])
@pytest.mark.parametrize("more", [0, 1, 7])
def test_no_more_mistakes_are_told_than_a_person_reads_and_none_is_lost(
    count: int, more: int
) -> None:
    mistakes = [Mistake(f"row {row}", "no", "yes") for row in range(count)]
    found = bounded(mistakes, "arc", more)
    assert found[: min(count, MOST_TOLD)] == mistakes[:MOST_TOLD]
    rest = count - min(count, MOST_TOLD) + more
    assert len(found) == min(count, MOST_TOLD) + (rest > 0)
    if rest:
        assert found[-1].found.split()[:2] == [str(rest), "further"]
