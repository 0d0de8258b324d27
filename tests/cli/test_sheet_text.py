"""The sheet as text."""

from __future__ import annotations

from dataclasses import replace

import pytest
from hypothesis import given
from hypothesis import strategies as st

from setupadvisor.advice.day_records import SheetSetting
from setupadvisor.advice.day_sheet import day_sheet
from setupadvisor.cli.sheet_text import SCALE, scale_text, sheet_text
from setupadvisor.entries.logbook.records import RiderRemark
from tests.advice.invented import WALKS, advice, bundled_walk
from tests.cli.invented_day import MACHINE, SETUP, WALK, day_of, long_day, ridden
from tests.cli.test_sheet_html import DAYS, whole_sheet

WIDTH = 100
LONG = "W" * 80


def check(text: str) -> list[str]:
    lines = text.splitlines()
    assert max(map(len, lines)) <= WIDTH
    assert all(line == line.rstrip() for line in lines)
    assert "None" not in text
    assert "nan" not in text.lower().split()
    return lines


@pytest.mark.parametrize("name", DAYS)
def test_every_day_fits_the_width(name: str) -> None:
    check(sheet_text(whole_sheet(DAYS[name])))


@pytest.mark.parametrize("name", WALKS)
def test_every_bundled_walk_fits_the_width(name: str) -> None:
    check(sheet_text(day_sheet(MACHINE, advice=advice(bundled_walk(name)), setup=dict(SETUP))))


def test_long_names_and_words_without_spaces_fit_the_width() -> None:
    said = (RiderRemark("W" * 300),)
    day = day_of([ridden(n, remarks=said, time=LONG) for n in (1, 2)])
    sheet = whole_sheet(day)
    sheet = replace(
        sheet,
        event=LONG,
        venue=LONG,
        rider=LONG,
        machine=LONG,
        notes=(LONG * 3,),
        settings=tuple(
            replace(one, title=LONG, shown=LONG, shown_now=LONG, unit="") for one in sheet.settings
        ),
    )
    check(sheet_text(sheet))


def test_sections_stand_in_the_order_of_the_work() -> None:
    text = sheet_text(whole_sheet(long_day(4)))
    heads = ["SETUP", "THE DAY", "LAPS BY SETUP", "NEXT CHANGE", "PREPARE", "WATCH", "CAUTIONS"]
    places = [text.index(f"\n{head}") for head in heads]
    assert places == sorted(places)


def test_what_is_not_there_has_no_section() -> None:
    text = sheet_text(day_sheet(MACHINE, advice=advice(WALK)))
    assert "THE DAY" not in text
    assert "LAPS BY SETUP" not in text
    assert "NEXT CHANGE" not in text
    assert "ADVISED, NOT ON THE BIKE YET" in text


def test_every_lap_that_counts_is_drawn() -> None:
    sheet = whole_sheet(long_day(3))
    lines = [line for line in sheet_text(sheet).splitlines() if line[6:12] == "outing"]
    assert len(lines) == 3
    worth = {".": 1, ":": 2, **{str(number): number for number in range(3, 10)}}
    for line in lines:
        # A lap on the typical time stands on its bar.
        assert sum(worth.get(sign, 0) for sign in line[16:72]) == 7


def test_a_setting_that_is_not_as_advised_is_marked() -> None:
    sheet = day_sheet(MACHINE, advice=advice(WALK, on_bike=SETUP), setup=dict(SETUP))
    text = sheet_text(sheet)
    setup = text[text.index("SETUP") : text.index("ADVISED,")]
    marked = sum(line.startswith("> ") for line in setup.splitlines())
    assert marked == sum(one.differs for one in sheet.settings) > 0


SETTINGS = day_sheet(MACHINE, advice=advice(WALK), setup=dict(SETUP)).settings


@given(st.sampled_from(SETTINGS), st.integers(0, 2000), st.integers(0, 2000))
def test_a_scale_shows_both_values_once_and_in_their_order(
    setting: SheetSetting, first: int, second: int
) -> None:
    values = MACHINE.settings[setting.setting].values
    now, advised = values[first % len(values)], values[second % len(values)]
    drawn = scale_text(replace(setting, now=now, advised=advised))
    assert len(drawn) == SCALE
    assert drawn[0] == drawn[-1] == "|"
    if now == advised:
        assert drawn.count("@") == 1
        assert "A" not in drawn
        assert "O" not in drawn
    else:
        assert "@" not in drawn
        assert drawn.count("A") == drawn.count("O") == 1
        assert (drawn.index("A") > drawn.index("O")) == (advised > now)


def test_nothing_known_draws_nothing() -> None:
    assert scale_text(replace(SETTINGS[0], now=None, advised=None)) == ""
