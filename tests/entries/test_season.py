"""The season's columns: what is read from each, and what each mistake is told as."""

from __future__ import annotations

import math
from pathlib import Path

import numpy as np
import pandas as pd
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from setupadvisor.entries.rider import Rider
from setupadvisor.entries.season import read_season, season_from
from setupadvisor.entries.words import HEELS
from setupadvisor.errors import InputError
from tests.entries.broken_seasons import MISTAKES
from tests.entries.small_tables import (
    MACHINES,
    RIDERS,
    ROW,
    column,
    read,
    refused,
    said,
    sound,
    table,
)

KPA = "walk.ground.cone_index_kpa"
CELSIUS = "walk.air.temperature_c"
CLICKS = "setup.fork_compression_low"


def one_mistake(folder: Path, *rows: dict[str, str]) -> str:
    """The single mistake of a season whose other rows are sound."""
    season, mistakes = read(folder, table(*rows))
    assert len(mistakes) == 1, mistakes
    assert len(season) == len(rows) - 1
    return said(folder, mistakes)[0]


def test_one_row_is_a_season(tmp_path: Path) -> None:
    season = sound(tmp_path, {KPA: "450", CLICKS: "12", "mark": "4", "best_lap_s": "112.5"})
    assert len(season) == 1
    assert (season.session_id[0], season.rider[0], season.machine[0]) == (
        "s1",
        "north",
        "works-450",
    )
    assert season.day[0] == (pd.Timestamp("2026-05-17") - pd.Timestamp("1970-01-01")).days
    assert column(season, KPA) == [450.0]
    assert season.settings == ("fork_compression_low",)
    assert season.values.tolist() == [[12.0]]
    assert (season.mark[0], season.best_lap_s[0], season.notices) == (4.0, 112.5, ())


def test_an_empty_cell_is_not_entered(tmp_path: Path) -> None:
    season = sound(tmp_path, {KPA: "450", CLICKS: "12", "mark": "4"}, {})
    assert math.isnan(season.conditions[KPA][1])
    assert math.isnan(season.values[1, 0])
    assert math.isnan(season.mark[1])
    assert np.isnan(season.best_lap_s).all()
    assert season.venue.tolist() == ["", ""]


def test_words_are_their_place_in_the_list(tmp_path: Path) -> None:
    rows = [{"walk.ground.firmness": word} for word in (*HEELS, "No Mark", "sinks-deep", "")]
    found = column(sound(tmp_path, *rows), "walk.ground.firmness")
    assert found[:-1] == [0, 1, 2, 3, 4, 4, 0]
    assert math.isnan(found[-1])


def test_a_unit_in_a_cell_is_converted(tmp_path: Path) -> None:
    """Factors of NIST SP 811, appendix B.8 and B.9."""
    rows = [
        {KPA: "105 psi", CELSIUS: "77 F", "setup.race_sag": "4.1 in", CLICKS: "12 clicks"},
        {KPA: "450", CELSIUS: "25", "setup.race_sag": "104", CLICKS: "12"},
    ]
    season = sound(tmp_path, *rows)
    assert column(season, KPA) == pytest.approx([105 * 6.894757, 450], rel=1e-6)
    assert column(season, CELSIUS) == pytest.approx([25, 25])
    sag = season.settings.index("race_sag")
    assert season.values[:, sag].tolist() == pytest.approx([104.14, 104])


def test_a_setting_with_names_is_read_by_name_or_number(tmp_path: Path) -> None:
    rows = [{"setup.front_tyre": name} for name in ("sand and mud", "Soft", "3", "hard", "")]
    found = sound(tmp_path, *rows).values[:, 0].tolist()
    assert found[:4] == [1.0, 2.0, 3.0, 4.0]
    assert math.isnan(found[4])


@pytest.mark.parametrize(
    ("written", "seconds"), [("1:52.345", 112.345), ("112.345", 112.345), ("112.3 s", 112.3)]
)
def test_a_lap_is_read_as_a_stopwatch_shows_it(
    tmp_path: Path, written: str, seconds: float
) -> None:
    season = sound(tmp_path, {"best_lap_s": written, "walk.lap.time_s": written})
    assert season.best_lap_s.tolist() == [seconds]
    assert column(season, "walk.lap.time_s") == [seconds]


def test_jumps_are_read_place_by_place(tmp_path: Path) -> None:
    rows = [
        {"walk.jumps.1.gap_m": "12", "walk.jumps.2.gap_m": "5", "walk.jumps.2.landing": "flat"},
        {"walk.jumps.1.gap_m": "", "walk.jumps.2.gap_m": "30 ft"},
    ]
    season = sound(tmp_path, *rows)
    gaps, landings = season.conditions["walk.jumps.gap_m"], season.conditions["walk.jumps.landing"]
    assert gaps == pytest.approx(np.array([[12.0, 5.0], [np.nan, 9.144]]), nan_ok=True)
    assert landings == pytest.approx(np.array([[np.nan, 1.0], [np.nan, np.nan]]), nan_ok=True)


# One mistake, one message, one row left out.


@pytest.mark.parametrize("failure", MISTAKES)
def test_a_faulty_row_is_left_out_with_its_one_message(tmp_path: Path, failure: str) -> None:
    cells, expected = MISTAKES[failure]
    good = {name: ROW.get(name, "") for name in cells}
    assert one_mistake(
        tmp_path, {**good, "session_id": "s1"}, cells, {**good, "session_id": "s3"}
    ) == (expected)


def test_several_mistakes_are_told_in_the_order_of_the_lines(tmp_path: Path) -> None:
    rows = [
        {"mark": "9"},
        {CLICKS: "90", KPA: "wet", "rider": "zoe"},
        {},
        {"date": "someday"},
    ]
    season, mistakes = read(tmp_path, table(*rows))
    places = [each.split(":")[1].split(" ") for each in said(tmp_path, mistakes)]
    assert [int(line) for line, _ in places] == [2, 3, 3, 3, 5]
    assert {name for line, name in places if line == "3"} == {CLICKS, KPA, "rider"}
    assert season.session_id.tolist() == ["s3"]


# What the table lacks or has beside.


@pytest.mark.parametrize("name", ROW)
def test_a_column_that_is_needed_must_be_there(tmp_path: Path, name: str) -> None:
    text = table({}).replace(name, f"my_{name}", 1)
    assert refused(tmp_path, text) == [
        f"season.csv: no column {name}; a season needs session_id, event, date, rider, machine"
    ]


def test_unknown_columns_are_kept_with_one_notice_that_knows_what_was_meant(tmp_path: Path) -> None:
    row = {
        "weather": "fine",
        "walk.ground.cone_index": "450",
        "walk.jumps.gap_m": "3",
        "setup.fork_compresion_low": "12",
        "setup.fork_compression_low": "12",
        "walk.note": "muddy",
    }
    season = sound(tmp_path, row)
    assert [notice.replace(str(tmp_path), "") for notice in season.notices] == [
        "/season.csv: columns kept and ignored: weather, "
        "walk.ground.cone_index (did you mean walk.ground.cone_index_kpa?), "
        "walk.jumps.gap_m (did you mean walk.jumps.1.gap_m?), "
        "setup.fork_compresion_low (did you mean setup.fork_compression_low?)"
    ]


def test_of_many_unknown_columns_the_first_are_named(tmp_path: Path) -> None:
    season = sound(tmp_path, {f"column {number}": "" for number in range(20)})
    assert len(season.notices) == 1
    assert season.notices[0].endswith("column 6, column 7 and 12 more")


def test_machines_are_mixed_and_each_row_keeps_to_its_own(tmp_path: Path) -> None:
    big, small = (MACHINES[name].settings["fork_spring"] for name in MACHINES)
    assert big.highest > small.highest  # else the last row would prove nothing
    rows = [
        {"machine": "works-450", "setup.fork_spring": f"{big.highest:g}", "setup.fork_air": "10"},
        {"machine": "works-250", "setup.fork_spring": f"{small.lowest:g}"},
        {"machine": "works-250", "setup.fork_spring": f"{big.highest:g}"},
    ]
    season, mistakes = read(tmp_path, table(*rows))
    assert [mistake.where.rsplit(":", 1)[1] for mistake in mistakes] == ["4 setup.fork_spring"]
    assert season.settings == ("fork_spring", "fork_air")
    assert season.values[0].tolist() == [big.highest, 10.0]
    assert season.values[1, 0] == small.lowest
    assert math.isnan(season.values[1, 1])


# Riders: the table's own columns, else their files.


def test_a_riders_file_fills_in_what_the_table_leaves_empty(tmp_path: Path) -> None:
    rows = [{"rider": "north", "rider.mass_kg": "91"}, {"rider": "north"}, {"rider": "south"}]
    season = sound(tmp_path, *rows)
    assert column(season, "rider.mass_kg") == [
        91.0,
        RIDERS["north"].mass_kg,
        RIDERS["south"].mass_kg,
    ]
    skills = column(season, "rider.skill")
    assert skills[0] == skills[1]
    assert np.isfinite(skills).all()


def test_a_rider_whom_the_table_describes_needs_no_file(tmp_path: Path) -> None:
    season = sound(tmp_path, {"rider": "zoe", "rider.skill": "club"}, {"rider": "zoe"})
    assert season.rider.tolist() == ["zoe", "zoe"]
    assert math.isnan(season.conditions["rider.mass_kg"][0])


def test_without_any_rider_file_only_the_table_speaks() -> None:
    frame = pd.DataFrame([{**ROW, "rider": "zoe", "rider.mass_kg": "70"}])
    season, mistakes = season_from(frame, "table", MACHINES, {})
    assert mistakes == []
    assert column(season, "rider.mass_kg") == [70.0]
    assert set(season.conditions) >= {f"rider.{name}" for name in ("mass_kg", "skill", "arm_pump")}
    assert Rider.model_fields.keys() >= {"mass_kg", "skill", "arm_pump"}


# Frames that other programs make.


def test_a_frame_without_lines_is_told_by_row() -> None:
    frame = pd.DataFrame([{**ROW, "mark": 4}, {**ROW, "session_id": "s2", "mark": 9}])
    _, mistakes = season_from(frame, "table", MACHINES, RIDERS)
    assert [str(mistake) for mistake in mistakes] == [
        "table row 2 mark: '9' cannot be right; write a whole number from 1 to 5"
    ]


def test_columns_may_be_of_any_type_that_holds_their_values() -> None:
    rows = {name: [value] * 2 for name, value in ROW.items()} | {"session_id": [1, 2]}
    frame = pd.DataFrame(rows)
    frame["date"] = pd.to_datetime(frame["date"])
    frame[KPA] = pd.array([450, None], dtype="Int64")
    frame[CELSIUS] = [21.5, float("nan")]
    frame["walk.ground.firmness"] = pd.Categorical(["dents", None])
    frame["walk.whoops.count"] = pd.Categorical(["7", "8"])
    frame["mark"] = pd.array([None, 4], dtype="Float64")
    frame["venue"] = [None, "here"]
    season, mistakes = season_from(frame, "table", MACHINES, RIDERS)
    assert mistakes == []
    assert season.session_id.tolist() == ["1", "2"]
    assert season.venue.tolist() == ["", "here"]
    found = np.array(
        [
            season.conditions[KPA],
            season.conditions[CELSIUS],
            season.conditions["walk.ground.firmness"],
            season.conditions["walk.whoops.count"],
            season.mark,
        ]
    )
    expected = [[450, np.nan], [21.5, np.nan], [2, np.nan], [7, 8], [np.nan, 4]]
    assert found == pytest.approx(np.array(expected), nan_ok=True)


def test_a_truth_is_no_number() -> None:
    frame = pd.DataFrame([{**ROW, "walk.whoops.count": True}])
    _, mistakes = season_from(frame, "table", MACHINES, RIDERS)
    assert [mistake.found for mistake in mistakes] == ["'True' is no number"]


def test_the_frame_itself_stays_as_it_is() -> None:
    frame = pd.DataFrame([{**ROW, KPA: "450", CLICKS: "12"}])
    before = frame.copy(deep=True)
    season_from(frame, "table", MACHINES, RIDERS)
    pd.testing.assert_frame_equal(frame, before)


@settings(deadline=None)
@given(st.permutations([*ROW, KPA, CLICKS, "mark", "weather"]))
def test_the_order_of_columns_does_not_matter(order: list[str]) -> None:
    frame = pd.DataFrame([{**ROW, KPA: "450", CLICKS: "12", "mark": "4", "weather": "fine"}])
    season, mistakes = season_from(frame[order], "table", MACHINES, RIDERS)
    assert mistakes == []
    assert (season.conditions[KPA][0], season.values[0, 0], season.mark[0]) == (450, 12, 4)


@settings(deadline=None)
@given(st.text(max_size=30), st.sampled_from([*ROW, KPA, CLICKS, "mark", "walk.kind"]))
def test_any_cell_is_read_or_its_row_is_left_out(cell: str, name: str) -> None:
    frame = pd.DataFrame([ROW, {**ROW, "session_id": "s2"}])
    frame[name] = [frame[name][0] if name in ROW else "", cell]
    season, mistakes = season_from(frame, "table", MACHINES, RIDERS)
    assert len(season) == 2 - bool(mistakes)
    assert all(str(mistake).isprintable() for mistake in mistakes)


def test_rows_can_be_taken(tmp_path: Path) -> None:
    season = sound(tmp_path, *[{KPA: str(number), CLICKS: "12"} for number in (100, 200, 300)])
    taken = season.take(np.array([True, False, True]))
    assert (len(taken), taken.session_id.tolist()) == (2, ["s1", "s3"])
    assert column(taken, KPA) == [100.0, 300.0]
    assert taken.order.tolist() == [0.0, 2.0]


def test_a_season_of_twenty_thousand_rows_is_read_row_for_row(tmp_path: Path) -> None:
    count = 20_000
    rows = [
        {KPA: str(5 + number % 8000), CLICKS: str(2 + number % 23), "walk.ground.firmness": "dents"}
        for number in range(count)
    ]
    season = sound(tmp_path, *rows)
    number = np.arange(count)
    assert season.session_id.tolist() == [f"s{place + 1}" for place in number]
    np.testing.assert_array_equal(season.conditions[KPA], 5 + number % 8000)
    np.testing.assert_array_equal(season.values[:, 0], 2 + number % 23)
    np.testing.assert_array_equal(season.order, number)


def test_read_season_and_season_from_say_the_same(tmp_path: Path) -> None:
    text = table({KPA: "450"}, {KPA: "wet"})
    (tmp_path / "season.csv").write_text(text, encoding="utf-8")
    season, mistakes = read_season(tmp_path / "season.csv", MACHINES, RIDERS)
    frame = pd.read_csv(tmp_path / "season.csv", dtype="str", keep_default_na=False)
    again, further = season_from(frame, "season.csv", MACHINES, RIDERS)
    assert [mistake.found for mistake in mistakes] == [mistake.found for mistake in further]
    assert season.session_id.tolist() == again.session_id.tolist()


def test_an_empty_frame_is_refused() -> None:
    with pytest.raises(InputError, match="table: the season holds no session; add one row a"):
        season_from(pd.DataFrame(columns=list(ROW)), "table", MACHINES, RIDERS)
