"""The sheet of a day as data."""

from __future__ import annotations

import json
from dataclasses import replace

import pytest

from setupadvisor.advice.consult import STANDING_CAUTIONS
from setupadvisor.advice.day_sheet import day_sheet, setups_of
from setupadvisor.entries.logbook.records import ChangeEntry, LapEntry
from tests.advice.invented import advice
from tests.cli.invented_day import MACHINE, SETUP, WALK, day_of, long_day, ridden

FORK, SHOCK = "fork_compression_low", "shock_rebound_low"


def moved(name: str, by: int) -> dict[str, object]:
    values = MACHINE.settings[name].values
    place = values.index(float(SETUP[name]))
    return {**SETUP, name: values[place + by]}


def test_every_setting_carries_the_values_of_the_advice() -> None:
    found = advice(WALK, on_bike={FORK: 9.0})
    sheet = day_sheet(MACHINE, advice=found, setup={FORK: 9.0})
    told = {one["setting"]: one for one in found.to_json()["settings"]}
    assert [one.setting for one in sheet.settings] == list(told)
    for one in sheet.settings:
        same = told[one.setting]
        assert (one.advised, one.low, one.high) == (same["value"], same["low"], same["high"])
        assert (one.now, one.shown, one.range_kind) == (
            same["now"],
            same["shown"],
            same["range_kind"],
        )
        assert one.lowest <= one.advised <= one.highest
    assert sheet.open_changes == found.changes


def test_without_a_walk_nothing_is_advised_and_the_sheet_says_so() -> None:
    sheet = day_sheet(MACHINE, day=day_of([ridden(1)], walk=None))
    assert all(one.advised is None and one.low is None for one in sheet.settings)
    assert all(one.now == SETUP[one.setting] for one in sheet.settings)
    assert sheet.cautions == STANDING_CAUTIONS
    assert any("nothing is advised" in note for note in sheet.notes)
    assert not any(one.differs for one in sheet.settings)


def test_a_day_without_outings_has_an_empty_history() -> None:
    sheet = day_sheet(MACHINE, advice=advice(WALK), day=day_of([]))
    assert sheet.outings == sheet.pending == sheet.laps == sheet.comparisons == ()
    assert all(one.now is None for one in sheet.settings)


def test_the_same_setup_has_the_same_letter_all_day() -> None:
    there = moved(FORK, 2)
    outings = [ridden(1), ridden(2, there), ridden(3), ridden(4, there)]
    sheet = day_sheet(MACHINE, day=day_of(outings))
    assert [one.setup for one in sheet.outings] == ["A", "B", "A", "B"]
    assert [lanes.setup for lanes in sheet.laps] == ["A", "B"]
    assert [[lane.outing for lane in lanes.lanes] for lanes in sheet.laps] == [[1, 3], [2, 4]]


def test_a_setting_written_down_later_is_no_change() -> None:
    partly = {name: value for name, value in SETUP.items() if name != FORK}
    sheet = day_sheet(MACHINE, day=day_of([ridden(1, partly), ridden(2), ridden(3, {})]))
    assert [one.setup for one in sheet.outings] == ["A", "A", "A"]
    assert all(one.changes == () for one in sheet.outings)


def test_an_outing_without_any_setup_has_no_letter() -> None:
    sheet = day_sheet(MACHINE, day=day_of([ridden(1, {}), ridden(2)]))
    assert [one.setup for one in sheet.outings] == ["", "A"]
    assert sheet.comparisons == ()


def test_what_was_changed_between_outings_is_told_with_its_verdict() -> None:
    there = moved(FORK, 2)
    start, to = float(SETUP[FORK]), float(there[FORK])  # type: ignore[arg-type]
    change = ChangeEntry(FORK, start, to, "pushes", "", "better", "DH-1")
    sheet = day_sheet(MACHINE, day=day_of([ridden(1), ridden(2, there)], [change]))
    (told,) = sheet.outings[1].changes
    assert told.setting == FORK
    assert told.verdict == "better"
    assert told.shown == f"{start:g} → {to:g} clicks"
    assert sheet.outings[0].changes == ()


def test_a_change_that_nobody_wrote_down_is_found_by_comparing_setups() -> None:
    sheet = day_sheet(MACHINE, day=day_of([ridden(1), ridden(2, moved(SHOCK, -1))]))
    (told,) = sheet.outings[1].changes
    assert (told.setting, told.verdict) == (SHOCK, "")


def test_changes_after_the_last_outing_are_on_the_motorcycle_and_not_ridden_yet() -> None:
    there = moved(FORK, 3)
    start, to = float(SETUP[FORK]), float(there[FORK])  # type: ignore[arg-type]
    day = day_of([ridden(1)], [ChangeEntry(FORK, start, to, "", "", "", "DH-1")])
    sheet = day_sheet(MACHINE, day=day)
    assert [one.setting for one in sheet.pending] == [FORK]
    assert (sheet.outings[0].setup, sheet.pending_setup) == ("A", "B")
    assert {one.setting: one.now for one in sheet.settings}[FORK] == to
    assert setups_of(MACHINE, day).ridden[0][FORK] == start


def test_a_change_of_a_setting_that_no_sheet_names_makes_another_setup() -> None:
    change = ChangeEntry(FORK, 12.0, 10.0, "", "", "same", "DH-1")
    sheet = day_sheet(MACHINE, day=day_of([ridden(1, {SHOCK: 12}), ridden(2, {})], [change]))
    assert [one.setup for one in sheet.outings] == ["A", "B"]
    assert [one.setting for one in sheet.outings[1].changes] == [FORK]


def test_values_that_cannot_be_are_left_out_and_named() -> None:
    sheet = day_sheet(
        MACHINE, day=day_of([ridden(1, {FORK: 900, "no_such_setting": 3, "engine_map": "mild"})])
    )
    now = {one.setting: one.shown_now for one in sheet.settings}
    assert now[FORK] == ""
    assert now["engine_map"] == "mild"
    assert any("no_such_setting" in note for note in sheet.notes)
    assert any("DH-1" in note and "900" in note for note in sheet.notes)


def test_an_outing_on_another_machine_is_named_and_keeps_out_of_the_setup() -> None:
    other = ridden(2, moved(FORK, 3), machine="spare")
    sheet = day_sheet(MACHINE, day=day_of([ridden(1), other, ridden(3)]))
    assert [one.setup for one in sheet.outings] == ["A", "", "A"]
    assert any("DH-2" in note and "spare" in note for note in sheet.notes)
    assert all(one.changes == () for one in sheet.outings)


def test_laps_that_do_not_count_are_set_aside() -> None:
    sheet = day_sheet(MACHINE, day=day_of([ridden(1)]))
    (one,) = sheet.outings
    assert (one.laps, one.set_aside) == (7, 2)
    assert one.best_s == min(sheet.laps[0].lanes[0].lap_s)


def test_the_best_lap_on_the_sheet_stands_in_where_no_lap_was_written_down() -> None:
    sheet = day_sheet(MACHINE, day=day_of([ridden(1, laps=(), best_lap_s=101.5)]))
    (one,) = sheet.outings
    assert (one.laps, one.best_s, one.typical_s) == (0, 101.5, None)
    assert sheet.laps == ()


def test_untimed_laps_alone_leave_no_best_lap() -> None:
    untimed = (LapEntry(1, None), LapEntry(2, None))
    sheet = day_sheet(MACHINE, day=day_of([ridden(1, laps=untimed)]))
    (one,) = sheet.outings
    assert (one.laps, one.set_aside, one.best_s) == (0, 2, None)


def test_each_setup_is_compared_with_the_one_before_it() -> None:
    outings = [ridden(1), ridden(2, moved(FORK, 1)), ridden(3), ridden(4, moved(SHOCK, 1))]
    sheet = day_sheet(MACHINE, day=day_of(outings))
    pairs = [(one.first.setup, one.second.setup) for one in sheet.comparisons]
    assert pairs == [("A", "B"), ("A", "C")]


def test_more_setups_than_letters_still_have_names_of_their_own() -> None:
    outings = [
        ridden(
            number, {**SETUP, "front_tyre_pressure": value, "rear_tyre_pressure": other}, laps=()
        )
        for number, (value, other) in enumerate(
            (
                (value, other)
                for value in MACHINE.settings["front_tyre_pressure"].values[:6]
                for other in MACHINE.settings["rear_tyre_pressure"].values[:6]
            ),
            start=1,
        )
    ]
    letters = [one.setup for one in day_sheet(MACHINE, day=day_of(outings)).outings]
    assert len(set(letters)) == len(letters) == 36


@pytest.mark.parametrize("outings", [0, 1, 12])
def test_the_sheet_as_json_is_plain_and_finite(outings: int) -> None:
    sheet = day_sheet(MACHINE, advice=advice(WALK), day=long_day(outings))
    told = json.loads(json.dumps(sheet.to_json(), allow_nan=False))
    assert len(told["outings"]) == outings
    assert len(told["settings"]) == len(MACHINE.settings)


def test_the_head_names_all_dates_of_an_event_over_two_days() -> None:
    sheet = day_sheet(MACHINE, day=day_of([ridden(1), ridden(2, date="2026-03-23")]))
    assert sheet.date == "2026-03-22 to 2026-03-23"


def test_the_day_s_setup_goes_before_one_that_was_given() -> None:
    given = {name: MACHINE.settings[name].lowest for name in (FORK, SHOCK)}
    day = day_of([replace(ridden(1), remarks=())])
    sheet = day_sheet(MACHINE, setup=given, day=day)
    assert {one.setting: one.now for one in sheet.settings}[FORK] == SETUP[FORK]
