"""A season's table goes into the book and comes out of it without loss."""

from __future__ import annotations

import csv
import io
from pathlib import Path
from typing import Any

import numpy as np
import pandas as pd
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from setupadvisor.entries.logbook.book import Book, open_book, season_from_book
from setupadvisor.entries.logbook.season_blocks import block_of, csv_blocks
from setupadvisor.entries.logbook.season_check import QuickCheck
from setupadvisor.entries.logbook.season_exchange import Imported
from setupadvisor.entries.season import read_season
from setupadvisor.errors import InputError
from tests.entries.logbook.samples import (
    DATA,
    EVENT,
    LAPS,
    MACHINES,
    MORNING,
    RIDERS,
    outing,
    refused,
    write,
)
from tests.entries.small_tables import table

SEASON = DATA / "season.csv"


def put(book: Book, path: Path, **options: bool) -> Imported:
    return book.import_season(path, MACHINES, RIDERS, "crew", **options)


def put_text(folder: Path, text: str, **options: bool) -> tuple[Book, Imported]:
    """Import a table that stands in a file into a new book."""
    path = folder / "season.csv"
    path.write_text(text, encoding="utf-8", newline="")
    book = open_book(folder / "team.book")
    return book, put(book, path, **options)


def exported(book: Book, folder: Path) -> str:
    path = folder / "exported.csv"
    path.unlink(missing_ok=True)
    book.export_season(path)
    return path.read_bytes().decode()


def test_the_bundled_season_comes_back_to_the_byte(book: Book, tmp_path: Path) -> None:
    done = put(book, SEASON)
    assert (done.new, done.same, done.corrected, done.mistakes) == (240, 0, 0, ())
    assert exported(book, tmp_path).encode() == SEASON.read_bytes()


def test_the_book_learns_what_the_table_teaches(book: Book) -> None:
    put(book, SEASON)
    season, mistakes = book.season(MACHINES)
    wanted, _ = read_season(SEASON, MACHINES, RIDERS)
    assert mistakes == []
    assert season.settings == wanted.settings
    np.testing.assert_array_equal(season.values, wanted.values)
    assert season.conditions.keys() == wanted.conditions.keys()
    for name, column in wanted.conditions.items():
        np.testing.assert_array_equal(season.conditions[name], column, err_msg=name)
    for name in ("session_id", "event", "venue", "rider", "machine", "day", "mark", "best_lap_s"):
        np.testing.assert_array_equal(getattr(season, name), getattr(wanted, name), err_msg=name)


def test_a_book_brings_its_own_riders_and_machines(where: str | Path) -> None:
    with open_book(where) as book:
        put(book, SEASON)
        assert book.machines() == {"works-450": MACHINES["works-450"]}
        assert book.riders() == RIDERS
    season, mistakes, machines = season_from_book(where, {})
    assert (len(season), mistakes, set(machines)) == (240, [], {"works-450"})
    heights = season.conditions["rider.height_cm"]
    assert set(heights) == {RIDERS[name].height_cm for name in set(season.rider)}


def test_importing_again_changes_nothing(book: Book, tmp_path: Path) -> None:
    put(book, SEASON)
    before = exported(book, tmp_path)
    done = put(book, SEASON)
    assert (done.new, done.same, done.corrected) == (0, 240, 0)
    assert exported(book, tmp_path) == before
    assert {one.version for one in book.history("Millpond Hall January 2025")} == {1}


AWKWARD = [
    ["session_id", "event", "date", "venue", "rider", "machine", "bib", "walk.note",
     "walk.ground.cone_index_kpa", "setup.race_sag", "setup.engine_map", "walk.colour", "mark",
     "best_lap_s", "time", "rider.mass_kg"],
    [" s1", "First", "2026-05-17", "", "north", "works-450", "007", "dry, then wet",
     "450", "104.0", "mild", "blue", "4.0", "95.10", "9:00", "88"],
    ["s2 ", "First", "2026-05-17", "Hall", "north ", "works-450", "1e3", 'said "fast"',
     "450 kPa", "1.04e2", "2", "", " 3", "", "", ""],
    ["s3", "First", "2026-05-17", "Hall", "north", "works-450", "", "two\nlines",
     "0450", "", "standard", "", "", "95.1 s", "noon, or so", ""],
    ["s4", "First", " 2026-05-18", "Hall", "north", "works-450", "-0", "",
     "", "", "", "nan", "", "95", "", ""],
]  # fmt: skip


def as_csv(rows: list[list[str]], ends: str = "\n") -> str:
    lines = []
    for row in rows:
        text = io.StringIO()
        csv.writer(text, lineterminator="\r\n").writerow(row)
        lines.append(text.getvalue().removesuffix("\r\n") + ends)
    return "".join(lines)


def as_rows(text: str) -> list[list[str]]:
    return list(csv.reader(io.StringIO(text, newline="")))


def test_cells_come_back_as_they_were_written(tmp_path: Path) -> None:
    """Also where the book itself keeps a number: 4.0 stays 4.0, 95.10 stays 95.10."""
    book, done = put_text(tmp_path, as_csv(AWKWARD))
    with book:
        assert done.new == 4
        assert as_rows(exported(book, tmp_path)) == AWKWARD
        one = book.outing("s1")
        assert (one.mark, one.best_lap_s, one.outing.time) == (4, 95.1, "9:00")
        assert one.outing.setup == {"race_sag": 104.0, "engine_map": "mild"}


def test_what_is_corrected_in_the_book_is_exported_as_corrected(tmp_path: Path) -> None:
    book, _ = put_text(tmp_path, as_csv(AWKWARD))
    with book:
        with book.writing("chief") as page:
            page.add_mark("s1", 5, 94.5)
            page.withdraw("s2")
        rows = list(csv.DictReader(io.StringIO(exported(book, tmp_path))))
    assert [row["session_id"] for row in rows] == [" s1", "s3", "s4"]
    assert (rows[0]["mark"], rows[0]["best_lap_s"]) == ("5", "94.5")


CELLS = st.text(st.characters(exclude_categories=["Cs"], exclude_characters="\0"), max_size=12)


@settings(
    max_examples=60,
    deadline=None,
    suppress_health_check=[HealthCheck.function_scoped_fixture],
)
@given(
    extra=st.lists(st.tuples(CELLS, CELLS, st.sampled_from(["", "3", "3.0", " 4", "5.00"]))),
    ends=st.sampled_from(["\n", "\r\n"]),
)
def test_any_further_column_is_kept(
    extra: list[tuple[str, str, str]], ends: str, tmp_path: Path
) -> None:
    header = ["session_id", "event", "date", "rider", "machine", "other", "1", "mark"]
    rows = [
        [f"s{place}", "First", "2026-05-17", "north", "works-450", *cells]
        for place, cells in enumerate([("", "x", "1"), *extra])
    ]
    for found in tmp_path.glob("team.book*"):
        found.unlink()
    book, _ = put_text(tmp_path, as_csv([header, *rows], ends))
    with book:
        assert as_rows(exported(book, tmp_path)) == [header, *rows]


def test_two_walks_of_one_day_are_two_walks(tmp_path: Path) -> None:
    rows = [
        {"walk.ground.cone_index_kpa": value, "session_id": name}
        for name, value in (("a", "450"), ("b", "700"), ("c", "450"), ("d", ""))
    ]
    book, _ = put_text(tmp_path, table(*rows))
    with book:
        (event,) = book.events()
        assert event.walks == 2
        parts = [book.outing(name).outing.part for name in "abcd"]
        assert parts == ["", "2", "", ""]
        season, _ = book.season(MACHINES)
    cone = season.conditions["walk.ground.cone_index_kpa"]
    np.testing.assert_array_equal(cone, [450.0, 700.0, 450.0, np.nan])


def test_a_table_without_a_walk_has_that_of_the_day(tmp_path: Path) -> None:
    with open_book(tmp_path / "team.book") as book:
        with book.writing("crew") as page:
            page.add_walk(MORNING)
        path = tmp_path / "season.csv"
        path.write_text(table({"event": EVENT, "date": MORNING.date.isoformat()}), encoding="utf-8")
        put(book, path)
        assert book.day(EVENT, "north").walk == MORNING
        assert put(book, path).same == 1


def test_a_walk_that_was_typed_before_is_the_one_of_the_table(tmp_path: Path) -> None:
    with open_book(tmp_path / "team.book") as book:
        with book.writing("crew") as page:
            page.add_walk(MORNING)
            page.add_outing(outing("M1"))
        book.export_season(tmp_path / "season.csv")
    with open_book(tmp_path / "other.book") as book:
        with book.writing("crew") as page:
            page.add_walk(MORNING)
        put(book, tmp_path / "season.csv")
        assert [one.walks for one in book.events()] == [1]
        assert book.day(EVENT, "north").walk == MORNING


def test_a_book_that_was_typed_can_be_exported_and_read_as_a_season(tmp_path: Path) -> None:
    with open_book(tmp_path / "team.book") as book:
        with book.writing("crew") as page:
            page.add_walk(MORNING)
            page.add_outing(outing("M1"))
            page.add_mark("M1", 4)
            page.add_outing(outing("E1", event="Elsewhere", time="10:00"))
            page.add_laps("E1", LAPS)
        assert book.export_season(tmp_path / "season.csv") == 2
    season, mistakes = read_season(tmp_path / "season.csv", MACHINES, RIDERS)
    assert mistakes == []
    assert season.session_id.tolist() == ["M1", "E1"]
    assert season.conditions["walk.ground.cone_index_kpa"][0] == MORNING.ground.cone_index_kpa  # type: ignore[union-attr]
    assert season.conditions["walk.jumps.gap_m"].shape == (2, 3)
    assert season.mark[0] == 4
    header = (tmp_path / "season.csv").read_text(encoding="utf-8").split("\n", 1)[0]
    assert header.startswith("session_id,event,date,venue,rider,machine,time,walk.")


def test_other_values_of_a_session_are_refused_unless_they_are_corrections(
    tmp_path: Path,
) -> None:
    rows = [{"session_id": f"s{place}", "mark": "3"} for place in range(30)]
    book, _ = put_text(tmp_path, table(*rows))
    changed = tmp_path / "changed.csv"
    rows[1]["mark"] = "4"
    rows[2]["setup.race_sag"] = "104"
    rows.append({"session_id": "new"})
    changed.write_text(table(*rows), encoding="utf-8")
    with book:
        before = exported(book, tmp_path)
        with pytest.raises(
            InputError, match=r"say something else here: 's1', 's2'; say that these"
        ):
            put(book, changed)
        assert exported(book, tmp_path) == before
        done = put(book, changed, correct=True)
        assert (done.new, done.same, done.corrected) == (1, 28, 2)
        assert (book.outing("s1").mark, book.outing("s1").version) == (4, 2)
        assert book.outing("s2").outing.setup == {"race_sag": 104}


def test_every_mistake_is_told_and_nothing_written(tmp_path: Path) -> None:
    rows = [
        {"mark": "3"},
        {"mark": "9"},
        {"rider": "nobody"},
        {"setup.race_sag": "far"},
        {"date": "tomorrow"},
        {"session_id": "s1"},
    ]
    with pytest.raises(InputError) as error:
        put_text(tmp_path, table(*rows))
    said = refused(error.value)
    assert len(said) == 6
    for line, column in zip(
        (3, 4, 5, 6, 7), ("mark", "rider", "setup.race_sag", "date", "session_id"), strict=True
    ):
        assert any(f"season.csv:{line} {column}" in one for one in said), (line, column)
    assert "--leave-out-bad-rows" in said[-1]
    with open_book(tmp_path / "team.book") as book:
        assert book.events() == []
        done = put(book, tmp_path / "season.csv", leave_out_bad_rows=True)
        assert (done.new, len(done.mistakes)) == (1, 5)
        assert [one.outing.session_id for one in book.day("First round", "north").outings] == ["s1"]


def test_a_row_that_is_too_short_is_told_and_can_be_left_out(tmp_path: Path) -> None:
    text = table({"mark": "3"}, {"mark": "4"}) + "s9,First round\n"
    with pytest.raises(InputError, match="the row has 2 cells, the header 6"):
        put_text(tmp_path, text)
    for found in tmp_path.glob("team.book*"):
        found.unlink()
    book, done = put_text(tmp_path, text, leave_out_bad_rows=True)
    with book:
        assert (done.new, len(done.mistakes)) == (2, 1)


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("", "the file has no header"),
        ("session_id,event,date,rider,machine\n", "the season holds no session"),
        ("session_id,event\ns1,x\n", "no column date, rider, machine"),
        ("session_id;event;date\n1;2;3\n", "semicolons"),
        ('session_id,event\n"s1,x\n', "the table breaks off here"),
    ],
)
def test_what_is_no_season_is_refused(text: str, said: str, tmp_path: Path) -> None:
    with pytest.raises(InputError, match=said):
        put_text(tmp_path, text)


def test_machines_of_one_table_are_each_read_by_their_own_settings(tmp_path: Path) -> None:
    only_450 = next(
        name
        for name in MACHINES["works-450"].settings
        if name not in MACHINES["works-250"].settings
    )
    value = str(MACHINES["works-450"].settings[only_450].fixed_house)
    rows: list[dict[str, str]] = [
        {"machine": "works-450", f"setup.{only_450}": value},
        {"machine": "works-250"},
    ]
    book, done = put_text(tmp_path, table(*rows))
    with book:
        assert done.new == 2
        assert set(book.machines()) == {"works-450", "works-250"}
    rows[1][f"setup.{only_450}"] = value
    with pytest.raises(InputError, match=f"works-250 has no {only_450}"):
        put_text(tmp_path, table(*rows))


WRONG = st.sampled_from(
    ["", " ", "x", "-1", "1e9", "nan", "4_0", "104 mm", "mild", "104.5", "tomorrow", "2026-05-17"]
)
COLUMNS = (
    "rider", "machine", "date", "event", "session_id", "mark", "best_lap_s", "setup.race_sag",
    "setup.engine_map", "walk.ground.cone_index_kpa", "walk.kind", "rider.mass_kg", "venue",
    "walk.jumps.2.gap_m", "walk.whoops.count", "walk.unknown",
)  # fmt: skip


@settings(
    max_examples=150,
    deadline=None,
    suppress_health_check=[HealthCheck.function_scoped_fixture],
)
@given(cells=st.lists(st.tuples(st.integers(0, 3), st.sampled_from(COLUMNS), WRONG), max_size=3))
def test_what_the_quick_look_finds_sound_the_season_s_reader_finds_sound(
    cells: list[tuple[int, str, str]], tmp_path: Path
) -> None:
    rows: list[dict[str, str]] = [{"session_id": f"s{place}"} for place in range(4)]
    for row, column, cell in cells:
        rows[row][column] = cell
    path = tmp_path / "season.csv"
    path.write_text(table(*rows), encoding="utf-8")
    quick = all(map(QuickCheck(MACHINES, RIDERS).sound, csv_blocks(path, whole=True)))
    _, mistakes = read_season(path, MACHINES, RIDERS)
    if quick:
        assert mistakes == []


def test_the_quick_look_is_enough_for_the_bundled_season() -> None:
    """Else importing it would be slow, and no test would tell."""
    check = QuickCheck(MACHINES, RIDERS)
    assert all(map(check.sound, csv_blocks(SEASON, whole=True)))


def test_plain_and_quoted_tables_are_read_alike(tmp_path: Path) -> None:
    """A table without quotes is read by a shorter way."""
    plain = list(csv_blocks(SEASON, whole=True))
    rows = list(csv.reader(io.StringIO(SEASON.read_text(encoding="utf-8"))))
    quoted = tmp_path / "quoted.csv"
    with quoted.open("w", encoding="utf-8", newline="") as stream:
        csv.writer(stream, quoting=csv.QUOTE_ALL).writerows(rows)
    (other,) = csv_blocks(quoted, whole=True)
    (first,) = plain
    assert first.header == other.header == rows[0]
    assert {name: list(cells) for name, cells in first.columns.items()} == {
        name: list(cells) for name, cells in other.columns.items()
    }
    walks = [[list(block.walks[key]) for key in block.walk_keys] for block in (first, other)]
    assert walks[0] == walks[1]
    assert len(first.walks) == len(other.walks) < len(first.walk_keys)


TYPED: dict[str, Any] = {
    "session_id": ["a", "b", "c"],
    "event": ["First", "First", "First"],
    "date": pd.Series(pd.to_datetime(["2026-05-17", "2026-05-17", "2026-05-18"])).dt.date,
    "rider": pd.Categorical(["north", "south", "north"]),
    "machine": ["works-450"] * 3,
    "walk.ground.cone_index_kpa": [450.0, None, 700.5],
    "walk.whoops.count": pd.array([12, None, 9], dtype="Int64"),
    "setup.race_sag": np.array([104, 105, 106], dtype=np.int16),
    "setup.fork_air": np.array([0.1, np.nan, 0.3], dtype=np.float32),
    "mark": [4.0, 3.0, np.nan],
    "best_lap_s": [95.1, 94.0, np.nan],
    "wet": [True, False, True],
    "at": pd.to_datetime(["2026-05-17 09:00:00.123", "", "2026-05-18 10:00"], format="mixed"),
    "zoned": pd.to_datetime(["2026-05-17 09:00", "", "2026-05-18 10:00"], utc=True),
    "number": [2**53 + 1, -5, 0],
    "text": ["007", None, "x, y"],
    "nothing": [None, None, None],
}


def test_a_parquet_table_comes_back_with_its_types(book: Book, tmp_path: Path) -> None:
    path, back = tmp_path / "season.parquet", tmp_path / "back.parquet"
    pd.DataFrame(TYPED).to_parquet(path)
    assert put(book, path).new == 3
    book.export_season(back)
    pd.testing.assert_frame_equal(pd.read_parquet(back), pd.read_parquet(path))
    season, mistakes = book.season(MACHINES)
    wanted, _ = read_season(path, MACHINES, RIDERS)
    assert mistakes == []
    np.testing.assert_array_equal(season.values, wanted.values)
    np.testing.assert_array_equal(season.day, wanted.day)
    assert put(book, path).same == 3


def test_a_season_goes_through_csv_book_parquet_and_book_again(tmp_path: Path) -> None:
    between = tmp_path / "between.parquet"
    with open_book(tmp_path / "first.book") as book:
        put(book, SEASON)
        book.export_season(between)
    wanted = pd.read_csv(SEASON)
    pd.testing.assert_frame_equal(pd.read_parquet(between), wanted, check_dtype=False)
    with open_book(tmp_path / "second.book") as book:
        put(book, between)
        text = exported(book, tmp_path)
    pd.testing.assert_frame_equal(pd.read_csv(io.StringIO(text)), wanted)


def test_a_column_that_no_longer_fits_its_type_is_still_exported(tmp_path: Path) -> None:
    path, back = tmp_path / "season.parquet", tmp_path / "back.parquet"
    pd.DataFrame(TYPED).to_parquet(path)
    with open_book(tmp_path / "team.book") as book:
        put(book, path)
        write(book, outing("M1", setup={"race_sag": 104.5}, further={"number": "many"}))
        book.export_season(back)
    frame = pd.read_parquet(back)
    assert frame["setup.race_sag"].tolist() == [104.0, 105.0, 106.0, 104.5]
    assert frame["number"].tolist() == [str(2**53 + 1), "-5", "0", "many"]


def test_cells_that_cannot_be_kept_are_refused(tmp_path: Path) -> None:
    path = tmp_path / "season.parquet"
    pd.DataFrame({**TYPED, "list": [[1], [2], [3]]}).to_parquet(path)
    with open_book(tmp_path / "team.book") as book:
        with pytest.raises(InputError, match=r"list: cells of type list.* cannot be kept"):
            put(book, path)
        assert book.events() == []


@pytest.mark.parametrize("name", ["season.csv", "season.parquet"])
def test_without_pyarrow_only_parquet_is_missed(
    name: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    import sys  # noqa: PLC0415

    for module in ("pyarrow", "pyarrow.parquet"):
        monkeypatch.setitem(sys.modules, module, None)
    with open_book(tmp_path / "team.book") as book:
        write(book, outing("M1"))
        if name.endswith("csv"):
            assert book.export_season(tmp_path / name) == 1
        else:
            with pytest.raises(InputError, match="pip install"):
                book.export_season(tmp_path / name)


def test_an_empty_book_has_no_season(tmp_path: Path) -> None:
    with open_book(tmp_path / "team.book") as book:
        with pytest.raises(InputError, match="there is no outing"):
            book.export_season(tmp_path / "season.csv")
        with pytest.raises(InputError, match="holds no session"):
            book.season(MACHINES)


def test_a_table_without_a_walk_is_one_block() -> None:
    block = block_of(["session_id", "mark"], {"session_id": ["a", "b"], "mark": ["1", "2"]})
    assert (block.walk_names, list(block.walk_keys), dict(block.walks)) == ([], [(), ()], {(): ()})
