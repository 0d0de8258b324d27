"""A table's mistakes are told in order, and what stands in many rows is told once."""

from __future__ import annotations

import re
from pathlib import Path

from hypothesis import given
from hypothesis import strategies as st

from setupadvisor.entries.season_mistakes import MOST_A_COLUMN, listed
from setupadvisor.errors import Mistake
from tests.entries.small_tables import read, said, table

TEMPERATURE = "walk.air.temperature_c"


def at(line: int, column: str = "mark", found: str = "'9' cannot be right") -> Mistake:
    return Mistake(f"season.csv:{line} {column}", found, "write 1 to 5")


def test_mistakes_stand_in_the_order_of_the_lines() -> None:
    noticed = [at(4), at(2, "date"), at(10), at(2)]
    assert listed(noticed, "season.csv") == [at(2, "date"), at(2), at(4), at(10)]


def test_up_to_three_alike_are_told_each_on_its_line() -> None:
    assert listed([at(2), at(5), at(9)], "season.csv") == [at(2), at(5), at(9)]


def test_more_alike_are_told_once_with_the_other_lines() -> None:
    assert listed([at(line) for line in (9, 2, 5, 7)], "season.csv") == [
        at(2, found="'9' cannot be right (also on lines 5, 7, 9)")
    ]
    assert listed([at(line) for line in range(2, 502)], "season.csv") == [
        at(2, found="'9' cannot be right (also on lines 3, 4, 5, 6, 7 and 494 more)")
    ]


def test_rows_without_a_line_are_told_by_row() -> None:
    rows = [Mistake(f"table row {row} mark", "x", "y") for row in range(1, 6)]
    assert listed(rows, "table") == [
        Mistake("table row 1 mark", "x (also in rows 2, 3, 4, 5)", "y")
    ]


def test_of_a_column_wrong_throughout_the_first_are_told_and_the_others_counted() -> None:
    cells = [at(line, TEMPERATURE, f"'{line} K' cannot be") for line in range(2, 302)]
    found = listed([*cells, at(500)], "season.csv")
    assert found == [
        *cells[:MOST_A_COLUMN],
        at(500),
        Mistake(
            f"season.csv {TEMPERATURE}",
            f"{300 - MOST_A_COLUMN} further mistakes are not listed",
            "mend these first",
        ),
    ]


@given(
    st.lists(
        st.tuples(st.integers(2, 40), st.sampled_from("abc"), st.sampled_from("xyz")), max_size=80
    )
)
def test_no_mistake_is_lost_and_none_is_made_up(cells: list[tuple[int, str, str]]) -> None:
    """Columns stay below the limit here: three kinds of mistake, each told at most thrice."""
    found = listed([at(*cell) for cell in cells], "season.csv")
    told = 0
    for mistake in found:
        also = re.search(r"also on lines ([\d, ]+?)(?: and (\d+) more)?\)", mistake.found)
        told += 1 + (also[1].count(",") + 1 + int(also[2] or 0) if also else 0)
    assert told == len(cells)
    lines = [int(mistake.where.split(":")[1].split()[0]) for mistake in found]
    assert lines == sorted(lines)


def test_an_unknown_rider_of_a_whole_season_is_one_message(tmp_path: Path) -> None:
    season, mistakes = read(tmp_path, table(*[{"rider": "zoe"}] * 300))
    assert len(season) == 0
    assert said(tmp_path, mistakes) == [
        "season.csv:2 rider: the rider 'zoe' is unknown (also on lines 3, 4, 5, 6, 7 and "
        "294 more); add the rider's file, or columns rider.mass_kg and so on (known: north, south)"
    ]


def test_a_table_all_of_whose_rows_are_too_short_is_one_message(tmp_path: Path) -> None:
    text = table({}) + "s2,First round,2026-05-17\n" * 50
    season, mistakes = read(tmp_path, text)
    assert len(season) == 1
    assert [message.split(";")[0] for message in said(tmp_path, mistakes)] == [
        "season.csv:3: the row has 3 cells, the header 5 (also on lines 4, 5, 6, 7, 8 and 44 more)"
    ]
