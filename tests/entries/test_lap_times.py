"""Lap times, clocks, lap numbers and flags as people and timing systems write them."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st
from pydantic_core import PydanticCustomError

from setupadvisor.entries.lap_times import (
    FLAGS,
    LATEST_CLOCK_S,
    LONGEST_LAP_S,
    read_clock,
    read_flag,
    read_lap_number,
    read_lap_time,
)


@given(st.integers(1, 86_400_000))
def test_seconds_and_minutes_give_the_same_time(thousandths):
    minutes, rest = divmod(thousandths, 60_000)
    in_minutes = read_lap_time(f"{minutes}:{rest // 1000:02d}.{rest % 1000:03d}")
    assert in_minutes == pytest.approx(thousandths / 1000, rel=1e-12)
    assert read_lap_time(f"{thousandths / 1000:.3f}") == pytest.approx(in_minutes, rel=1e-12)


@pytest.mark.parametrize(
    ("text", "seconds"),
    [
        ("83.456", 83.456),
        ("83", 83.0),
        (".5", 0.5),
        (" 1:23.456 ", 83.456),
        ("1:23.4 s", 83.4),
        ("83.4s", 83.4),
        ("0:59", 59.0),
        ("61:05.5", 3665.5),
        ("1:01:05.5", 3665.5),
        ("24:00:00", 86_400.0),
    ],
)
def test_lap_times_are_read_as_written(text, seconds):
    assert read_lap_time(text) == seconds


@pytest.mark.parametrize(
    ("text", "found", "mend"),
    [
        ("DNF", "'DNF' is no lap time", "leave the cell empty"),
        ("0", "a lap of '0' cannot be", "leave the cell empty"),
        ("0:00.000", "cannot be", "leave the cell empty"),
        ("-83.4", "'-83.4' is negative", "m:ss.mmm"),
        ("-1:23.4", "is negative", "m:ss.mmm"),
        ("1:75.0", "is no lap time", "1:23.456"),
        ("1:61:05", "is no lap time", "1:23.456"),
        ("83,456", "has a comma", "83.456"),
        ("1:23,456", "has a comma", "1:23.456"),
        ("nan", "is no lap time", "83.456"),
        ("inf", "is no lap time", "83.456"),
        ("1e2", "is no lap time", "83.456"),
        ("8_3", "is no lap time", "83.456"),
        ("٨٣", "is no lap time", "83.456"),
        ("25:00:00", "more than a day", "83.456"),
        ("", "is no lap time", "leave the cell empty"),
    ],
)
def test_what_is_no_lap_time_is_refused_with_the_mend(text, found, mend):
    with pytest.raises(PydanticCustomError) as refusal:
        read_lap_time(text)
    assert found in refusal.value.context["found"]
    assert mend in refusal.value.context["mend"]


@given(st.text(max_size=12))
def test_any_text_gives_a_possible_time_or_a_mend(text):
    for read, most in ((read_lap_time, LONGEST_LAP_S), (read_clock, LATEST_CLOCK_S)):
        try:
            assert 0 <= read(text) <= most
        except PydanticCustomError as refusal:
            assert refusal.context["found"]
            assert refusal.context["mend"]


@pytest.mark.parametrize(
    ("text", "seconds"),
    [("10:05", 36_300.0), ("9:05:40", 32_740.0), ("24:10", 87_000.0), ("13:00:00.25", 46_800.25)],
)
def test_clocks_are_read_and_go_on_past_midnight(text, seconds):
    assert read_clock(text) == seconds


@pytest.mark.parametrize("text", ["10", "10:60", "48:00", "10:05:60", "1005", "ten", "-1:00"])
def test_what_no_clock_shows_is_refused(text):
    with pytest.raises(PydanticCustomError, match=r"on no clock|no time of day"):
        read_clock(text)


@pytest.mark.parametrize(
    ("text", "flag"),
    [("in", "in"), ("OUT", "out"), ("out-lap", "out"), ("in lap", "in"), ("inlap", "in"),
     ("fall", "fall"), (" stop ", "stop")],
)  # fmt: skip
def test_flags_are_read_in_the_usual_spellings(text, flag):
    assert FLAGS[int(read_flag(text))] == flag


@pytest.mark.parametrize("text", ["yellow", "x", "lap"])
def test_an_unknown_flag_is_refused_with_those_there_are(text):
    with pytest.raises(PydanticCustomError, match="in, out, fall, stop"):
        read_flag(text)


def test_a_misspelt_flag_gets_the_near_one():
    with pytest.raises(PydanticCustomError, match="did you mean fall"):
        read_flag("fal")


@pytest.mark.parametrize("text", ["-1", "1.5", "first", "100001", "1e3", "nan"])
def test_what_is_no_lap_number_is_refused(text):
    with pytest.raises(PydanticCustomError, match="count the laps of a run"):
        read_lap_number(text)


def test_a_spreadsheets_whole_number_is_a_lap_number():
    assert (read_lap_number("7"), read_lap_number("7.0")) == (7.0, 7.0)
