"""Lap tables: what is read, and every way in which a table can be wrong."""

from __future__ import annotations

import math

import numpy as np
import pytest

from setupadvisor.entries.csv_file import ROWS_AT_ONCE
from setupadvisor.entries.lap_order import MOST_MISTAKES
from setupadvisor.entries.lap_times import FLAGS
from setupadvisor.entries.laps import read_laps
from setupadvisor.errors import InputError

HEAD = "run,rider,setup,lap,lap_s"


@pytest.fixture
def written(tmp_path):
    """Write a table; its name in messages is only the file's."""

    def write(text):
        path = tmp_path / "laps.csv"
        path.write_bytes(text.encode() if isinstance(text, str) else text)
        return path

    return write


def said(path, mistakes):
    return [str(mistake).removeprefix(f"{path.parent}/") for mistake in mistakes]


def rows(*lines, head=HEAD):
    return "\n".join([head, *lines]) + "\n"


def mistakes_of(written, *lines, head=HEAD):
    path = written(rows(*lines, head=head))
    table, mistakes = read_laps(path)
    return table, [text.replace(f"{path.parent}/", "") for text in said(path, mistakes)]


def test_all_columns_are_read(written):
    head = "event,date,session_id,run,rider,setup,lap,lap_s,clock,flag"
    table, mistakes = read_laps(
        written(
            rows(
                "Invented,2026-05-17,p1,1,north,A,1,1:52.3,10:00:00,out",
                "Invented,2026-05-17,p1,1,north,A,2,91.4,10:01:31,",
                "Invented,2026-05-18,p1,1,south,soft fork,1,1:33.0,,",
                head=head,
            )
        )
    )
    assert not mistakes
    assert table.setup_name == ("A", "soft fork")
    assert table.rider_name == ("north", "south")
    assert table.day_name == ("Invented 2026-05-17", "Invented 2026-05-18")
    assert table.run_name == ("p1 1", "p1 1")
    assert table.run.tolist() == [0, 0, 1]
    assert table.day.tolist() == [0, 0, 1]
    assert table.lap_s.tolist() == [112.3, 91.4, 93.0]
    assert table.clock_s[:2].tolist() == [36_000.0, 36_091.0]
    assert math.isnan(table.clock_s[2])
    assert [FLAGS[flag] for flag in table.flag] == ["out", "", ""]
    assert table.line.tolist() == [2, 3, 4]
    assert table.notices == ()


def test_the_least_table_is_one_riders_laps(written):
    table, mistakes = read_laps(written("setup,run,lap_s\nA,1,90.1\nB,2,89.9\n"))
    assert not mistakes
    assert table.rider_name == ("",)
    assert table.rider.tolist() == [0, 0]
    assert table.day_name == ("",)
    assert np.isnan(table.clock_s).all()


def test_laps_are_put_in_the_order_of_their_numbers_and_runs_kept_together(written):
    table, _ = mistakes_of(
        written, "1,north,A,2,92", "2,north,B,1,81", "1,north,A,1,91", "2,north,B,2,82"
    )
    assert table.lap_s.tolist() == [91.0, 92.0, 81.0, 82.0]
    assert table.line.tolist() == [4, 2, 3, 5]


def test_without_numbers_the_order_of_the_table_stands(written):
    table, _ = mistakes_of(written, "1,north,A,,92", "1,north,A,,91", "1,north,A,1,90")
    assert table.lap_s.tolist() == [92.0, 91.0, 90.0]


def test_one_run_number_used_by_two_riders_or_on_two_days_is_two_runs(written):
    table, mistakes = read_laps(
        written(
            rows(
                "2026-05-17,1,north,A,1,90",
                "2026-05-17,1,south,B,1,91",
                "2026-05-18,1,north,B,1,92",
                head="date,run,rider,setup,lap,lap_s",
            )
        )
    )
    assert not mistakes
    assert table.run.tolist() == [0, 1, 2]


def test_an_untimed_lap_is_kept_and_is_no_mistake(written):
    table, mistakes = mistakes_of(written, "1,north,A,1,", "1,north,A,2,90")
    assert not mistakes
    assert np.isnan(table.lap_s).tolist() == [True, False]


def test_every_faulty_cell_is_named_by_line_column_and_mend(written):
    _, found = mistakes_of(
        written,
        "1,north,A,1,DNF",
        "1,north,A,2,0",
        "1,north,A,3,-90.2",
        "1,north,A,three,90.3",
        "1,,A,4,90.4",
        ",north,A,5,90.5",
        "1,north,,6,90.6",
        "1,north,A,7,90.7",
    )
    where = [text.split(": ", 1)[0] for text in found]
    assert where == [
        "laps.csv:2 lap_s",
        "laps.csv:3 lap_s",
        "laps.csv:4 lap_s",
        "laps.csv:5 lap",
        "laps.csv:6 rider",
        "laps.csv:7 run",
        "laps.csv:8 setup",
    ]
    assert all("; " in text for text in found)
    assert found[4].endswith("the cell is empty; it is needed; fill it in")


def test_only_faulty_laps_are_left_out(written):
    table, _ = mistakes_of(written, "1,north,A,1,DNF", "1,north,A,2,90.2", "1,north,A,3,0")
    assert table.lap_s.tolist() == [90.2]


def test_a_missing_session_is_a_mistake_but_a_missing_run_within_one_is_not(written):
    head = "session_id,run,setup,lap_s"
    table, found = mistakes_of(written, "p1,,A,90", ",2,A,91", head=head)
    assert table.run_name == ("p1",)
    assert found == ["laps.csv:3 session_id: the cell is empty; it is needed; fill it in"]


def test_a_lap_pasted_twice_points_at_the_first(written):
    table, found = mistakes_of(
        written, "1,north,A,1,90", "1,north,A,1,90", "1,north,A,1,90.0", "1,north,A,2,91"
    )
    assert table.line.tolist() == [2, 5]
    assert found == [
        "laps.csv:3 lap: the same lap stands in laps.csv:2; take one of them out",
        "laps.csv:4 lap: the same lap stands in laps.csv:2; take one of them out",
    ]


def test_two_times_for_one_lap_are_not_chosen_between(written):
    _, found = mistakes_of(written, "1,north,A,1,90", "1,north,A,1,91")
    assert len(found) == 1
    assert "lap 1 of this run has another time in laps.csv:2" in found[0]
    assert "give each run a name of its own" in found[0]


def test_a_run_has_one_setup(written):
    table, found = mistakes_of(written, "1,north,A,1,90", "1,north,B,2,89")
    assert len(table) == 1
    assert found == [
        "laps.csv:3 setup: the setup is 'B', and 'A' for the same run in laps.csv:2; "
        "give each setup a run of its own"
    ]


def test_a_clock_going_backwards_is_named_with_both_lines(written):
    head = "run,setup,lap,lap_s,clock"
    table, found = mistakes_of(
        written,
        "1,A,1,90,10:00",
        "1,A,2,90,",
        "1,A,3,90,9:03",
        "1,A,4,90,10:04",
        "2,A,1,90,8:00",
        head=head,
    )
    assert table.line.tolist() == [2, 3, 5, 6]
    assert found == [
        "laps.csv:4 clock: the clock goes backwards: 9:03:00 after 10:00:00 in laps.csv:2; "
        "correct it or take it out; past midnight go on counting, as in 24:10"
    ]


def test_clocks_to_the_minute_may_stand_still(written):
    _, found = mistakes_of(
        written, "1,A,1,40,10:00", "1,A,2,40,10:00", head="run,setup,lap,lap_s,clock"
    )
    assert found == []


def test_bad_dates_clocks_and_flags_are_refused(written):
    _, found = mistakes_of(
        written,
        "17.5.2026,1,A,90,10:00,",
        "2026-02-30,1,A,90,10h,",
        "2026-05-17,1,A,90,10:05,tyre",
        head="date,run,setup,lap_s,clock,flag",
    )
    assert [text.split(": ")[0] for text in found] == [
        "laps.csv:2 date",
        "laps.csv:3 date",
        "laps.csv:3 clock",
        "laps.csv:4 flag",
    ]


def test_rows_of_the_wrong_length_are_named_and_nothing_shifts(written):
    table, found = mistakes_of(
        written, "1,north,A,1", "1,north,A,2,90,91", "1,north,A,3,92", "", "1,north,A,4,93,,"
    )
    assert table.lap_s.tolist() == [92.0, 93.0]
    assert [text.split(": ")[0] for text in found] == ["laps.csv:2", "laps.csv:3"]


def test_lines_are_right_after_cells_with_line_breaks_and_empty_rows(written):
    _, found = mistakes_of(
        written, '1,north,"A', 'soft",1,90', "", "1,south,B,1,90", "1,south,B,2,x"
    )
    assert found[0].startswith("laps.csv:2 setup: the text runs over several lines")
    assert found[1].startswith("laps.csv:6 lap_s: 'x' is no lap time")


@pytest.mark.parametrize(
    ("head", "found"),
    [
        ("run,rider,lap_s", "the column setup is missing; add a column setup"),
        ("run,setup,lap_time", "the column lap_s is missing; is it 'lap_time'? Name it lap_s"),
        ("setup,lap_s", "the column run (or session_id) is missing; add a column run"),
        ("run;setup;lap_s", "the cells stand between semicolons"),
        ("run,setup,lap_s,run", "run: the column stands twice"),
        ("run,,setup,lap_s", "column 2 has no name"),
        ("", "the file has no header"),
    ],
)
def test_a_header_that_cannot_be_used_is_refused(written, head, found):
    with pytest.raises(InputError, match=r"laps\.csv") as refusal:
        read_laps(written(rows("1,2,3", head=head)))
    assert found in str(refusal.value)


def test_columns_that_are_not_used_are_said_once(written):
    table, _ = read_laps(written(rows("1,A,90,10:00,hot", head="run,setup,lap_s,clocks,weather")))
    assert len(table.notices) == 1
    assert "'clocks' (did you mean clock?), 'weather'" in table.notices[0]


def test_names_that_could_write_on_the_screen_are_refused(written):
    _, found = mistakes_of(written, "1,north,A\x1b[2J,1,90")
    assert "cannot be printed (U+001B)" in found[0]
    assert "\x1b" not in found[0]


@pytest.mark.parametrize(
    ("content", "found"),
    [
        (b"run,setup,lap_s\n1,A,90\n1,\xff,91\n", ":3: the text is not UTF-8 here"),
        (b'run,setup,lap_s\n1,"A,90\n', "breaks off here"),
    ],
)
def test_what_is_no_text_table_is_refused(written, content, found):
    with pytest.raises(InputError, match=r"laps\.csv") as refusal:
        read_laps(written(content))
    assert found in str(refusal.value)


def test_missing_files_and_folders_are_refused(tmp_path):
    with pytest.raises(InputError, match="there is no such file"):
        read_laps(tmp_path / "none.csv")
    with pytest.raises(InputError, match="this is a folder"):
        read_laps(tmp_path)


def test_a_byte_order_mark_and_windows_lines_do_no_harm(written):
    table, mistakes = read_laps(written(b"\xef\xbb\xbfrun,setup,lap_s\r\n1,A,90\r\n1,A,x\r\n"))
    assert table.lap_s.tolist() == [90.0]
    assert mistakes[0].where.endswith(":3 lap_s")


def test_a_table_without_rows_has_no_laps(written):
    table, mistakes = read_laps(written(HEAD + "\n"))
    assert (len(table), mistakes) == (0, [])


def test_plain_seconds_that_only_a_computer_reads_are_refused(written):
    """Python takes these for numbers; a timing sheet does not mean them."""
    _, found = mistakes_of(
        written, "1,north,A,1,nan", "1,north,A,2,inf", "1,north,A,3,9_0", "1,north,A,4,90"
    )
    assert [text.split(": ")[0][-7:] for text in found] == ["2 lap_s", "3 lap_s", "4 lap_s"]


def test_a_table_longer_than_one_block_is_read_whole_and_keeps_its_lines(written):
    laps = 2 * ROWS_AT_ONCE + 7
    lines = [f"1,north,A,{lap},90.5" for lap in range(1, laps + 1)]
    lines[-1] = f"1,north,A,{laps},x"
    table, found = mistakes_of(written, *lines)
    assert len(table) == laps - 1
    assert np.array_equal(table.line, np.arange(2, laps + 1))
    assert found == [
        f"laps.csv:{laps + 1} lap_s: 'x' is no lap time; write seconds (83.456) or m:ss.mmm "
        "(1:23.456); leave the cell empty where the lap was not timed"
    ]


def test_many_rows_are_read_and_a_flood_of_mistakes_is_counted(written):
    """Every second lap is text: the list ends where nobody reads on, the count goes on.

    Fifty blocks of rows, so that what was counted in one is still known in the next.
    """
    half = 25 * ROWS_AT_ONCE
    body = "".join(f"{run},A,90.1\n{run},A,pit\n" for run in range(half))
    table, mistakes = read_laps(written("run,setup,lap_s\n" + body))
    assert len(table) == half
    assert len(table.run_name) == half
    assert len(mistakes) == MOST_MISTAKES + 1
    assert f"{half - MOST_MISTAKES} further mistakes" in mistakes[-1].found


@pytest.mark.parametrize("column", ["setup", "lap", "clock"])
def test_a_flood_of_contradictions_is_counted_too(written, column):
    """In the first run all laps contradict the first."""
    wrong = {"setup": "B,{},10:00", "lap": "A,1,10:00", "clock": "A,{},9:00"}[column]
    laps = 3 * MOST_MISTAKES
    body = "".join(f"1,90,{wrong.format(lap)}\n" for lap in range(2, laps + 2))
    table, mistakes = read_laps(written(f"run,lap_s,setup,lap,clock\n1,90,A,1,10:00\n{body}"))
    assert len(table) == 1
    assert len(mistakes) == MOST_MISTAKES + 1
    assert f"{laps - MOST_MISTAKES} further mistakes" in mistakes[-1].found
    assert all(f" {column}" in mistake.where for mistake in mistakes[:-1])
