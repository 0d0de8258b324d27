"""Archives made of tables hold what the tables hold, with whole events in one part."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import numpy as np
import pandas as pd
import pytest

from setupadvisor.entries.archive_blocks import Source
from setupadvisor.entries.archive_keys import doubled_sessions, split_events
from setupadvisor.entries.archive_writing import Written, write_archive
from setupadvisor.entries.files import bundled, load_entry
from setupadvisor.entries.machine import Machine
from setupadvisor.entries.rider import Rider
from setupadvisor.entries.season import Season, read_season
from setupadvisor.entries.season_joining import joined_seasons
from setupadvisor.errors import InputError
from tests.entries.rights import without_root_rights
from tests.entries.small_archives import opened, source, told
from tests.entries.small_tables import MACHINES, RIDERS

pytest.importorskip("pyarrow", reason='needs the extra "parquet"')

SEASON = bundled("datasets", "season.csv")
THREE = {
    name: load_entry(bundled("datasets", "riders", f"{name}.yaml"), Rider)
    for name in ("north", "south", "east")
}


def read_all(folder: Path) -> Season:
    """The whole archive, with the riders and machines that stand in it."""
    archive = opened(folder)
    seasons = []
    for path in archive.parts:
        season, mistakes = read_season(path, archive.machines, archive.riders)
        assert mistakes == []
        seasons.append(season)
    return joined_seasons(seasons, "all")


def same(one: Season, other: Season) -> None:
    """Two seasons hold the same sessions in the same order."""
    for name in ("session_id", "event", "venue", "rider", "machine"):
        assert getattr(one, name).tolist() == getattr(other, name).tolist()
    assert set(one.conditions) == set(other.conditions)
    for path, column in one.conditions.items():
        assert np.array_equal(column, other.conditions[path], equal_nan=True), path
    assert one.settings == other.settings
    for name in ("values", "day", "mark", "best_lap_s"):
        assert np.array_equal(getattr(one, name), getattr(other, name), equal_nan=True), name


def files(folder: Path) -> set[str]:
    return {path.relative_to(folder).as_posix() for path in folder.rglob("*")}


@pytest.fixture(scope="module")
def bundled_archive(tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("archives") / "arc"
    written = write_archive([Source(SEASON, MACHINES, THREE)], folder, rows=70)
    assert written == Written(parts=4, sessions=240, events=20, left_out=[], notices=())
    return folder


def test_an_archive_says_what_the_table_says(bundled_archive: Path) -> None:
    """Every number, word, name and missing cell of the bundled season."""
    whole, _ = read_season(SEASON, MACHINES, THREE)
    same(read_all(bundled_archive), whole)


def test_every_event_stands_in_one_part_of_about_the_size_asked_for(bundled_archive: Path) -> None:
    archive = opened(bundled_archive)
    assert split_events(archive, 10) == []
    assert doubled_sessions(archive) == ({}, [])
    assert all(40 < rows <= 70 for rows in archive.rows)


def test_an_archive_carries_the_riders_and_machines_of_its_sessions(bundled_archive: Path) -> None:
    """And no others: nobody rode the 250."""
    archive = opened(bundled_archive)
    assert archive.riders == THREE
    assert archive.machines == {"works-450": MACHINES["works-450"]}


@pytest.mark.parametrize("name", MACHINES)
def test_any_bundled_machine_is_carried_whole(tmp_path: Path, name: str) -> None:
    write_archive([source(tmp_path, "s.csv", {"machine": name})], tmp_path / "arc")
    assert opened(tmp_path / "arc").machines == {name: MACHINES[name]}


def test_the_same_tables_give_the_same_archive(bundled_archive: Path, tmp_path: Path) -> None:
    write_archive([Source(SEASON, MACHINES, THREE)], tmp_path / "arc", rows=70)
    assert files(tmp_path / "arc") == files(bundled_archive)
    for name in sorted(files(bundled_archive)):
        if name.endswith((".parquet", ".yaml")):
            there = (tmp_path / "arc" / name).read_bytes()
            assert there == (bundled_archive / name).read_bytes()


@pytest.mark.parametrize("rows", [1, 7, 1000])
def test_an_archive_of_an_archive_is_put_in_order(
    bundled_archive: Path, tmp_path: Path, rows: int
) -> None:
    """Parts cut anywhere, as other programs write them, come out with whole events."""
    whole = pd.concat([pd.read_parquet(path) for path in opened(bundled_archive).parts])
    (tmp_path / "cut").mkdir()
    for number, start in enumerate(range(0, 240, 29)):
        path = tmp_path / "cut" / f"{number:02d}.parquet"
        whole.iloc[start : start + 29].to_parquet(path)
    cut = opened(tmp_path / "cut")
    assert split_events(cut, 10)
    sources = [Source(path, MACHINES, THREE) for path in cut.parts]
    written = write_archive(sources, tmp_path / "arc", rows)
    assert (written.sessions, written.events) == (240, 20)
    assert split_events(opened(tmp_path / "arc"), 10) == []
    same(read_all(tmp_path / "arc"), read_all(bundled_archive))


def test_tables_of_different_columns_and_kinds_come_together(tmp_path: Path) -> None:
    """A column that one table lacks is not entered there; unknown ones are kept as texts."""
    day = pd.Timestamp("2026-05-17")
    first = source(
        tmp_path,
        "a.csv",
        {"walk.ground.rut_depth_mm": "12 cm", "session_id": "a1", "mood": "good"},
        {"walk.ground.rut_depth_mm": "", "session_id": "a2", "walk.kind": "sand"},
    )
    second = source(
        tmp_path,
        "b.parquet",
        {"event": "Two", "session_id": "b1", "walk.air.temperature_c": 20.5, "date": day},
        {"session_id": "b2", "mood": 3.0, "setup.race_sag": 104, "date": day},
    )
    written = write_archive([first, second], tmp_path / "arc")
    assert (written.parts, written.sessions, written.events) == (1, 4, 2)
    assert [notice.split(": ", 1)[1] for notice in written.notices] == [
        "columns kept and ignored: mood"
    ] * 2
    season = read_all(tmp_path / "arc")
    assert season.session_id.tolist() == ["a1", "a2", "b1", "b2"]
    assert season.conditions["walk.ground.rut_depth_mm"][0] == 120.0
    assert np.isnan(season.conditions["walk.ground.rut_depth_mm"][1:]).all()
    assert season.conditions["walk.air.temperature_c"][2] == 20.5
    assert season.values[3, season.settings.index("race_sag")] == 104.0
    assert np.ptp(season.day) == 0.0
    frame = pd.read_parquet(opened(tmp_path / "arc").parts[0])
    assert frame["mood"].fillna("").tolist() == ["good", "", "", "3.0"]


def test_mistakes_of_all_tables_are_told_and_nothing_is_left(tmp_path: Path) -> None:
    first = source(tmp_path, "a.csv", {"mark": "9"}, {})
    second = source(tmp_path, "b.csv", {"session_id": "x"}, {"session_id": "y", "rider": "nroth"})
    third = source(tmp_path, "c.parquet", {"session_id": "z", "walk.kind": "beach"})
    before = files(tmp_path)
    with pytest.raises(InputError) as caught:
        write_archive([first, second, third], tmp_path / "arc")
    said = told(tmp_path, caught.value)
    assert len(said) == 4
    assert said[0] == "a.csv:2 mark: '9' cannot be right; write a whole number from 1 to 5"
    assert said[1].startswith("b.csv:3 rider: the rider 'nroth' is unknown; did you mean north?")
    assert said[2].startswith("c.parquet row 1 walk.kind: 'beach'")
    assert said[3].startswith("arc: not made: there are faulty rows, listed above; mend them")
    assert files(tmp_path) == before


def test_faulty_rows_are_left_out_where_that_is_wanted(tmp_path: Path) -> None:
    first = source(tmp_path, "a.csv", {"mark": "9"}, {})
    second = source(tmp_path, "b.csv", {"session_id": "s2"}, {"session_id": "s3"})
    written = write_archive([first, second], tmp_path / "arc", leave_out_bad_rows=True)
    assert told(tmp_path, written.left_out) == [
        "a.csv:2 mark: '9' cannot be right; write a whole number from 1 to 5",
        "b.csv:2 session_id: 's2' stands already in a.csv:3; give each session its own",
    ]
    assert read_all(tmp_path / "arc").session_id.tolist() == ["s2", "s3"]
    assert written.sessions == 2


def test_a_session_doubled_in_one_table_over_two_blocks_is_told_by_line(tmp_path: Path) -> None:
    rows = [{"session_id": name} for name in ("1", "2", "3", "1")]
    with pytest.raises(InputError) as caught:
        write_archive([source(tmp_path, "a.csv", *rows)], tmp_path / "arc", rows=2)
    assert told(tmp_path, caught.value)[0] == (
        "a.csv:5 session_id: '1' stands already in a.csv:2; give each session its own"
    )


def test_tables_none_of_whose_rows_is_sound_make_no_archive(tmp_path: Path) -> None:
    table = source(tmp_path, "a.csv", {"mark": "9"})
    with pytest.raises(InputError) as caught:
        write_archive([table], tmp_path / "arc", leave_out_bad_rows=True)
    assert told(tmp_path, caught.value)[-1].startswith("arc: not made: no sound session is left")
    assert files(tmp_path) == {"a.csv"}


def test_a_table_without_a_row_is_refused(tmp_path: Path) -> None:
    path = tmp_path / "a.csv"
    path.write_text("session_id,event,date,rider,machine\n", encoding="utf-8")
    with pytest.raises(InputError) as caught:
        write_archive([Source(path, MACHINES, RIDERS)], tmp_path / "arc")
    assert told(tmp_path, caught.value) == [
        "a.csv: the season holds no session; add one row a session"
    ]


def test_two_riders_of_one_name_are_refused(tmp_path: Path) -> None:
    first = source(tmp_path, "a.csv", {})
    heavier = RIDERS["north"].model_copy(update={"mass_kg": 99.0})
    second = replace(source(tmp_path, "b.csv", {"session_id": "x"}), riders={"north": heavier})
    with pytest.raises(InputError) as caught:
        write_archive([first, second], tmp_path / "arc")
    assert told(tmp_path, caught.value) == [
        "b.csv: the rider north is another one than that of a.csv; give one of them another name, "
        "or make the rider's files the same"
    ]
    assert not (tmp_path / "arc").exists()


def test_a_folder_that_holds_something_is_not_touched(tmp_path: Path) -> None:
    (tmp_path / "arc").mkdir()
    (tmp_path / "arc" / "note.txt").write_text("mine", encoding="utf-8")
    with pytest.raises(InputError) as caught:
        write_archive([source(tmp_path, "a.csv", {})], tmp_path / "arc")
    assert told(tmp_path, caught.value) == [
        "arc: this folder is there already and not empty; name a new one, or take it away first"
    ]
    assert files(tmp_path) == {"a.csv", "arc", "arc/note.txt"}


def test_an_empty_folder_is_filled(tmp_path: Path) -> None:
    (tmp_path / "arc").mkdir()
    write_archive([source(tmp_path, "a.csv", {})], tmp_path / "arc")
    assert len(read_all(tmp_path / "arc")) == 1


@pytest.mark.parametrize(("name", "found"), [("f", "this is a file"), ("no/arc", "there is no")])
def test_a_place_that_cannot_become_a_folder_is_refused(
    tmp_path: Path, name: str, found: str
) -> None:
    (tmp_path / "f").write_text("x", encoding="utf-8")
    with pytest.raises(InputError) as caught:
        write_archive([source(tmp_path, "a.csv", {})], tmp_path / name)
    (said,) = told(tmp_path, caught.value)
    assert said.startswith(f"{name}: {found}")


def test_a_folder_without_the_right_to_write_is_refused() -> None:
    with without_root_rights() as folder:
        made = source(folder, "a.csv", {})
        folder.chmod(0o500)
        with pytest.raises(InputError) as caught:
            write_archive([made], folder / "arc")
        (said,) = told(folder, caught.value)
        assert said == "arc: permission denied; choose a folder that can be written to"
        assert files(folder) == {"a.csv"}


def test_a_machine_file_named_like_a_path_stays_in_the_archive(tmp_path: Path) -> None:
    odd = MACHINES["works-450"].model_copy(update={"name": "../450 / spare"})
    table = source(tmp_path, "a.csv", {"machine": odd.name})
    machines: dict[str, Machine] = {odd.name: odd}
    write_archive([replace(table, machines=machines)], tmp_path / "arc")
    assert opened(tmp_path / "arc").machines == {odd.name: odd}
    assert files(tmp_path / "arc" / "machines") == {"---450---spare.yaml"}
