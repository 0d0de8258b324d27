"""Laps of a day, outing by outing."""

from __future__ import annotations

import math

from hypothesis import given
from hypothesis import strategies as st

from setupadvisor.advice.day_laps import Lane, by_setup, comparisons_of, lanes_of
from setupadvisor.entries.logbook.records import LapEntry
from tests.cli.invented_day import laps, ridden

times = st.lists(st.floats(60.0, 200.0), max_size=12)


@given(st.lists(st.tuples(st.sampled_from(["A", "B", ""]), times), max_size=6))
def test_no_lap_is_lost_or_told_twice(runs: list[tuple[str, list[float]]]) -> None:
    outings = [
        ridden(number, laps=tuple(LapEntry(n, lap) for n, lap in enumerate(mine, start=1)))
        for number, (_, mine) in enumerate(runs, start=1)
    ]
    lanes = lanes_of(outings, [letter for letter, _ in runs])
    for lane in lanes:
        letter, mine = runs[lane.outing - 1]
        assert lane.setup == letter
        assert len(lane.lap_s) + lane.set_aside == len(mine)
        assert set(lane.lap_s) <= set(mine)
    assert {lane.outing for lane in lanes} == {
        number for number, (_, mine) in enumerate(runs, start=1) if mine
    }
    together = by_setup(lanes)
    assert sorted(lane.outing for one in together for lane in one.lanes) == sorted(
        lane.outing for lane in lanes
    )


def test_setups_that_are_not_known_come_last_and_are_not_compared() -> None:
    outings = [ridden(1), ridden(2), ridden(3)]
    lanes = lanes_of(outings, ["", "A", "B"])
    assert [one.setup for one in by_setup(lanes)] == ["A", "B", ""]
    assert [(c.first.setup, c.second.setup) for c in comparisons_of(outings, ["", "A", "B"])] == [
        ("A", "B")
    ]


def test_a_quicker_setup_is_told_as_quicker() -> None:
    outings = [ridden(n, laps=laps(8, 104.0 - 3.0 * (n % 2), n)) for n in range(1, 5)]
    (found,) = comparisons_of(outings, ["A", "B", "A", "B"])
    assert found.known
    assert found.difference_s > 0  # A, ridden first, is the quicker one
    assert found.probability_better < 0.1


def test_two_laps_alone_cannot_tell() -> None:
    outings = [ridden(1, laps=(LapEntry(1, 100.0),)), ridden(2, laps=(LapEntry(1, 99.0),))]
    (found,) = comparisons_of(outings, ["A", "B"])
    assert not found.known
    assert math.isnan(found.difference_s)


def test_an_outing_s_time_stands_in_for_clocks() -> None:
    """Without any time of day the comparison says so; with the outings' times it does not."""
    timed, untimed = (
        comparisons_of([ridden(n, time=time, laps=laps(7, 104.0, n)) for n, time in given], "AB")[0]
        for given in (((1, "9:15"), (2, "11:40")), ((1, "early"), (2, "")))
    )
    assert any("No times of day" in doubt for doubt in untimed.doubts)
    assert not any("No times of day" in doubt for doubt in timed.doubts)


def test_typical_and_best_of_a_lane_without_laps_are_unknown() -> None:
    lane = Lane(1, "A", (), 3)
    assert lane.best_s is None
    assert lane.typical_s is None
