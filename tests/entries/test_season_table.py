"""The season's file: CSV as spreadsheets leave it, broken files, and Parquet."""

from __future__ import annotations

from pathlib import Path

import pandas as pd
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from setupadvisor.entries.files import bundled
from setupadvisor.entries.season import Season, read_season
from setupadvisor.entries.season_reader import texts_of
from setupadvisor.errors import InputError
from tests.entries.rights import without_root_rights
from tests.entries.small_tables import MACHINES, RIDERS, ROW, column, read, refused, said, table

KPA = "walk.ground.cone_index_kpa"
HEADER = "session_id,event,date,rider,machine"
LINE = "s1,First round,2026-05-17,north,works-450"


def refused_path(path: Path) -> str:
    with pytest.raises(InputError) as caught:
        read_season(path, MACHINES, RIDERS)
    assert len(caught.value.mistakes) == 1
    return str(caught.value).removeprefix(str(path))


# Files that are no season.


def test_a_missing_file_is_refused(tmp_path: Path) -> None:
    assert refused_path(tmp_path / "no.csv") == ": there is no such file; check the path"
    assert refused_path(tmp_path / "no.parquet") == ": there is no such file; check the path"


@pytest.mark.parametrize("name", ["season.csv", "season.parquet"])
def test_a_folder_is_refused(tmp_path: Path, name: str) -> None:
    (tmp_path / name).mkdir()
    assert refused_path(tmp_path / name) == ": this is a folder; name a file in it"


@pytest.mark.parametrize("name", ["season.csv", "season.parquet"])
def test_a_file_without_the_right_to_read_it_is_refused(name: str) -> None:
    with without_root_rights() as folder:
        path = folder / name
        path.write_text(table({}), encoding="utf-8")
        path.chmod(0)
        assert refused_path(path) == (
            ": this file may not be read; give yourself the right to read it"
        )


@pytest.mark.parametrize("text", ["", "\n\n", ",,,\n", "\ufeff"])
def test_an_empty_file_is_refused(tmp_path: Path, text: str) -> None:
    assert refused(tmp_path, text) == [
        "season.csv: the file has no header; write column names on line 1, then the rows"
    ]


@pytest.mark.parametrize("text", [HEADER, f"{HEADER}\n", f"{HEADER}\n\n,,,,\n"])
def test_a_header_alone_is_no_season(tmp_path: Path, text: str) -> None:
    assert refused(tmp_path, text) == [
        "season.csv: the season holds no session; add one row a session"
    ]


def test_text_that_is_not_utf8_is_refused_with_its_line(tmp_path: Path) -> None:
    rows = f"{LINE}\ns2,Größe,2026-05-17,north,works-450\n"
    assert refused(tmp_path, f"{HEADER}\n{rows}".encode("latin-1")) == [
        "season.csv:3: the text is not UTF-8 here; save the file again as UTF-8 CSV"
    ]


def test_text_that_is_not_utf8_is_found_deep_in_a_long_file(tmp_path: Path) -> None:
    good = "".join(f"s{number},First round,2026-05-17,north,works-450\n" for number in range(9000))
    assert refused(tmp_path, f"{HEADER}\n{good}".encode() + b"\xff\n") == [
        "season.csv:9002: the text is not UTF-8 here; save the file again as UTF-8 CSV"
    ]


@pytest.mark.parametrize(("sign", "name"), [(";", "semicolons"), ("\t", "tabs"), ("|", "bars")])
def test_another_separator_is_named(tmp_path: Path, sign: str, name: str) -> None:
    assert refused(tmp_path, table({}).replace(",", sign)) == [
        f"season.csv:1: the cells stand between {name}; "
        "save the table with commas between the cells"
    ]


@pytest.mark.parametrize(
    ("row", "reason"),
    [
        ('s2,"First round,2026-05-17,north,works-450', "unexpected end of data"),
        ('s2,"First"round,2026-05-17,north,works-450', "',' expected after '\"'"),
    ],
)
def test_broken_quotes_are_refused_with_the_line_on_which_the_row_begins(
    tmp_path: Path, row: str, reason: str
) -> None:
    behind = "".join(f"s{number},Round,2026-05-17,north,works-450\n" for number in range(3, 20))
    assert refused(tmp_path, f"{HEADER}\n{LINE}\n{row}\n{behind}") == [
        f"season.csv:3: the row that begins here cannot be read ({reason}); "
        'check the quotes: a cell that holds " or a line break stands in quotes'
    ]


def test_the_line_of_broken_quotes_counts_line_breaks_within_cells(tmp_path: Path) -> None:
    text = f'{HEADER},note\n{LINE},"over\nthree\nlines"\n{LINE},"over"x\n'
    (said,) = refused(tmp_path, text)
    assert said.startswith("season.csv:5: the row that begins here cannot be read (")
    (said,) = refused(tmp_path, f'{HEADER},"note\n{LINE},x\n')
    assert said.startswith("season.csv:1: the row that begins here cannot be read (")


def test_a_doubled_column_is_refused(tmp_path: Path) -> None:
    text = f"{HEADER},mark,mark,venue,rider\n{LINE},4,5,here,north\n"
    assert refused(tmp_path, text) == [
        "season.csv:1 rider: the column stands twice; keep one of them",
        "season.csv:1 mark: the column stands twice; keep one of them",
    ]


def test_columns_that_only_look_doubled_are_kept(tmp_path: Path) -> None:
    season, mistakes = read(tmp_path, f"{HEADER},note,note.1\n{LINE},a,b\n")
    assert mistakes == []
    assert season.notices[0].endswith("note, note.1")


def test_a_column_without_a_name_is_refused_unless_it_is_empty(tmp_path: Path) -> None:
    assert refused(tmp_path, f"{HEADER},,mark\n{LINE},x,4\n") == [
        "season.csv:1: column 6 has no name; name it or take it out"
    ]
    season, mistakes = read(tmp_path, f"{HEADER},mark,,\n{LINE},4,,\n")
    assert (mistakes, season.mark.tolist()) == ([], [4.0])


# Rows of the wrong length. Nothing may shift into another column.


def test_a_row_too_long_or_too_short_is_left_out_and_named(tmp_path: Path) -> None:
    text = (
        f"{HEADER},mark\n{LINE},4\n"
        "s2,First round,2026-05-17,north,works-450,4,5\n"
        "s3,First round,2026-05-17,nor\n"
        "s4,First round,2026-05-17,north,works-450,3\n"
    )
    season, mistakes = read(tmp_path, text)
    mend = "give each row as many cells as the header; is the file complete?"
    assert said(tmp_path, mistakes) == [
        f"season.csv:3: the row has 7 cells, the header 6; {mend}",
        f"season.csv:4: the row has 4 cells, the header 6; {mend}",
    ]
    assert (season.session_id.tolist(), season.mark.tolist()) == (["s1", "s4"], [4.0, 3.0])


def test_a_table_all_of_whose_rows_are_too_long_shifts_nothing(tmp_path: Path) -> None:
    text = f"{HEADER}\n1,{LINE}\n2,{LINE}\n"
    assert [message.split(";")[0] for message in refused(tmp_path, text)] == [
        "season.csv:2: the row has 6 cells, the header 5",
        "season.csv:3: the row has 6 cells, the header 5",
    ]


def test_mistakes_of_rows_and_cells_stand_in_one_order(tmp_path: Path) -> None:
    text = f"{HEADER},mark\n{LINE},9\ns2,too short\n{LINE.replace('s1', 's3')},9\n"
    _, mistakes = read(tmp_path, text)
    assert [message.split(" ")[0].rstrip(":") for message in said(tmp_path, mistakes)] == [
        "season.csv:2",
        "season.csv:3",
        "season.csv:4",
    ]


def test_empty_rows_are_passed_over_and_lines_stay_right(tmp_path: Path) -> None:
    text = f"{HEADER},mark\n\n{LINE},4\n,,,,,\n   \n{LINE.replace('s1', 's2')},9\n\n"
    season, mistakes = read(tmp_path, text)
    assert season.session_id.tolist() == ["s1"]
    assert [mistake.where.rsplit(":", 1)[1] for mistake in mistakes] == ["6 mark"]


def test_lines_stay_right_where_a_cell_runs_over_several(tmp_path: Path) -> None:
    text = f'{HEADER},note,mark\n{LINE},"one\ntwo\nthree",4\n{LINE.replace("s1", "s2")},x,9\n'
    _, mistakes = read(tmp_path, text)
    assert [mistake.where.rsplit(":", 1)[1] for mistake in mistakes] == ["5 mark"]


@pytest.mark.parametrize("end", ["\n", "\r\n"])
def test_marks_spaces_quotes_and_line_ends_of_spreadsheets_do_not_matter(
    tmp_path: Path, end: str
) -> None:
    text = f'\ufeff {HEADER} , mark{end}s1 ,"First, round",2026-05-17, north,works-450, 4{end}'
    season, mistakes = read(tmp_path, text)
    assert mistakes == []
    assert (season.session_id[0], season.event[0], season.rider[0]) == (
        "s1",
        "First, round",
        "north",
    )
    assert season.mark.tolist() == [4.0]


def test_a_season_cut_off_anywhere_is_read_or_told(tmp_path: Path) -> None:
    """At the end of a cell the cut cannot be seen, unless a cell that is needed is gone."""
    text = table({KPA: "450", "mark": "4"}, {KPA: "300", "mark": "3"})
    for end in range(len(text)):
        try:
            season, mistakes = read(tmp_path, text[:end])
        except InputError as error:
            assert str(error).startswith(str(tmp_path))
            continue
        for place, path in enumerate(season.session_id):
            assert path == f"s{place + 1}"
        assert set(column(season, KPA)) <= {450.0, 300.0}
        assert len(season) == 2 or mistakes or "s2" not in text[:end]


@settings(deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(content=st.binary(max_size=200))
def test_any_bytes_behind_a_sound_row_are_read_or_told(tmp_path: Path, content: bytes) -> None:
    try:
        season, mistakes = read(tmp_path, f"{HEADER}\n{LINE}\n".encode() + content)
    except InputError as error:
        assert str(error).startswith(str(tmp_path))
    else:
        assert len(season) >= 1 or mistakes


# Parquet.


def same(one: Season, other: Season) -> None:
    for name in ("session_id", "event", "venue", "rider", "machine", "day", "order"):
        assert getattr(one, name).tolist() == getattr(other, name).tolist(), name
    assert one.settings == other.settings
    assert one.conditions.keys() == other.conditions.keys()
    pd.testing.assert_frame_equal(pd.DataFrame(one.values), pd.DataFrame(other.values))
    for path, values in one.conditions.items():
        pd.testing.assert_frame_equal(pd.DataFrame(values), pd.DataFrame(other.conditions[path]))
    for name in ("mark", "best_lap_s"):
        pd.testing.assert_series_equal(
            pd.Series(getattr(one, name)), pd.Series(getattr(other, name))
        )


def test_parquet_says_what_csv_says(tmp_path: Path) -> None:
    pytest.importorskip("pyarrow")
    source = bundled("datasets", "season.csv")
    frame = pd.read_csv(source)
    frame["date"] = pd.to_datetime(frame["date"])
    frame.to_parquet(tmp_path / "typed.parquet")
    pd.read_csv(source, dtype="str", keep_default_na=False).to_parquet(tmp_path / "text.pq")
    expected, mistakes = read_season(source, MACHINES, RIDERS | _all_riders())
    assert mistakes == []
    for name in ("typed.parquet", "text.pq"):
        found, mistakes = read_season(tmp_path / name, MACHINES, RIDERS | _all_riders())
        assert mistakes == []
        same(found, expected)


def _all_riders() -> dict[str, object]:
    from setupadvisor.entries.files import load_entry  # noqa: PLC0415
    from setupadvisor.entries.rider import Rider  # noqa: PLC0415

    paths = bundled("datasets", "riders").glob("*.yaml")
    return {rider.name: rider for rider in (load_entry(path, Rider) for path in paths)}


def test_a_mistake_in_parquet_is_told_by_row(tmp_path: Path) -> None:
    pytest.importorskip("pyarrow")
    path = tmp_path / "season.parquet"
    frame = pd.DataFrame([{**ROW, "mark": 4}, {**ROW, "session_id": "s2", "mark": 9}])
    frame.index = pd.Index([40, 50])
    frame.to_parquet(path)
    season, mistakes = read_season(path, MACHINES, RIDERS)
    assert [str(mistake).removeprefix(str(path)) for mistake in mistakes] == [
        " row 2 mark: '9' cannot be right; write a whole number from 1 to 5"
    ]
    assert len(season) == 1


@pytest.mark.parametrize("content", [b"", b"PAR1", b"PAR1" + b"\x00" * 100 + b"PAR1", b"a,b\n1,2"])
def test_what_is_no_parquet_is_refused_in_one_line(tmp_path: Path, content: bytes) -> None:
    pytest.importorskip("pyarrow")
    path = tmp_path / "season.parquet"
    path.write_bytes(content)
    message = refused_path(path)
    assert message.startswith(": this is no Parquet table (")
    assert message.endswith("); write it again")
    assert "\n" not in message


def test_without_pyarrow_the_way_out_is_told(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    path = tmp_path / "season.parquet"
    path.write_bytes(b"PAR1")

    def absent(*_: object) -> None:
        raise ImportError("no engine")

    monkeypatch.setattr(pd, "read_parquet", absent)
    assert refused_path(path) == (
        ": reading Parquet needs pyarrow; pip install 'setupadvisor[parquet]', or use CSV"
    )


def test_cells_of_different_kinds_that_are_equal_stay_different_texts() -> None:
    """1, 1.0 and True are equal for Python, and different answers of a person."""
    cells = pd.Series([1, 1.0, True, None, " wet ", ["a", "list"]], dtype=object)
    places, texts = texts_of(cells)
    assert texts[places].tolist() == ["1", "1.0", "True", "", "wet", "['a', 'list']"]


@pytest.mark.parametrize("kind", ["str", "object", "category"])
def test_words_are_the_same_texts_whatever_kind_of_column_holds_them(kind: str) -> None:
    cells = pd.Series(["dry", None, "wet", " dry"], dtype=kind)
    places, texts = texts_of(cells)
    assert texts[places].tolist() == ["dry", "", "wet", "dry"]
