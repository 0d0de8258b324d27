"""Cells are kept so that they can be given back to the letter."""

from __future__ import annotations

import json
import math

import pytest
from hypothesis import example, given
from hypothesis import strategies as st

from setupadvisor.entries.files import load_entry
from setupadvisor.entries.logbook.cells import (
    cell_from_text,
    dumped,
    is_walk_column,
    plain_number,
    text_from_cell,
    walk_cells,
    walk_from_cells,
)
from setupadvisor.entries.logbook.records import Cell
from setupadvisor.entries.quantity import entry_fields
from setupadvisor.entries.walk import Walk
from setupadvisor.errors import InputError
from tests.entries.logbook.samples import DATA, DATE, EVENT

WALKS = sorted((DATA / "walks").glob("*.yaml"))
NUMBERS = st.one_of(
    st.integers().map(str),
    st.floats().map(str),
    st.from_regex(r"\A[-+]?[0-9_]{0,18}\.?[0-9]{0,4}(e[-+]?[0-9]{1,3})?\Z"),
)


@given(st.one_of(NUMBERS, st.text()))
@example("nan")
@example("1e999")
@example("-0")
@example("0.10")
@example("٣")
@example("12345678901234567890")
def test_a_cell_comes_back_as_the_same_text_through_json(text: str) -> None:
    cell = json.loads(json.dumps(cell_from_text(text)))
    assert text_from_cell(cell) == text


@given(st.one_of(st.integers(-(10**14), 10**14).map(str), st.floats(-1e6, 1e6).map(str)))
def test_what_is_written_as_a_number_is_kept_as_one(text: str) -> None:
    assert isinstance(cell_from_text(text), int | float) or len(text) > 15


@given(st.one_of(NUMBERS, st.text()))
def test_a_plain_number_is_what_python_reads_and_nobody_doubts(text: str) -> None:
    number = plain_number(text)
    if not math.isnan(number):
        assert float(text) == number
        assert text.isascii()
        assert "_" not in text


@pytest.mark.parametrize("path", WALKS, ids=lambda path: path.stem)
def test_a_walk_comes_back_from_its_cells(path: object) -> None:
    walk = load_entry(str(path), Walk)
    cells = json.loads(dumped(walk_cells(walk)))
    assert walk_from_cells(walk.event, walk.date.isoformat(), cells, "here") == walk


def test_every_field_of_a_walk_has_a_column_and_nothing_else_has() -> None:
    own = {"walk.event", "walk.date", "walk.venue"}
    for path, field in entry_fields(Walk, "walk").items():
        column = path
        if field.listed:
            group, name = path.rsplit(".", 1)
            column = f"{group}.3.{name}"
        assert is_walk_column(column) == (path not in own)
    for column in (
        "walk.jumps.gap_m",
        "walk.jumps.0.gap_m",
        "walk.jumps.41.gap_m",
        "walk.air.3.wind",
    ):
        assert not is_walk_column(column)


def test_a_jump_left_out_in_between_is_a_jump_of_which_nothing_is_known() -> None:
    walk = walk_from_cells(EVENT, DATE, {"walk.jumps.2.gap_m": "9", "walk.note": " "}, "here")
    assert walk.note is None
    assert walk.jumps is not None
    assert [jump.gap_m for jump in walk.jumps] == [None, 9.0]


def test_cells_that_contradict_each_other_are_named() -> None:
    cells: dict[str, Cell] = {"walk.jumps.1.landing": "flat", "walk.jumps.1.landing_angle_deg": 20}
    with pytest.raises(InputError) as error:
        walk_from_cells(EVENT, DATE, cells, "the walk of the day")
    assert "the walk of the day:1 jumps.1.landing_angle" in str(error.value)
