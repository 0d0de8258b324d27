"""When laps were ridden: by the clock, by what follows from it, or by their order."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from setupadvisor.entries.lap_runs import table_of
from setupadvisor.learning.lap_cleaning import clean
from setupadvisor.learning.lap_hours import GAP_BETWEEN_RUNS_S

NAN = float("nan")


def test_clocks_are_hours():
    laps = clean(table_of([("A", [90.0, 90.0]), ("B", [90.0])], start_h=[10.0, 11.0]))
    assert laps.hours == pytest.approx([10.025, 10.05, 11.025])
    assert laps.by_clock.all()


def test_one_clock_a_run_is_carried_through_the_run_both_ways():
    table = table_of([("A", [90.0, 100.0, NAN, 80.0])])
    clock = np.array([NAN, 36_000.0, NAN, NAN])
    laps = clean(replace(table, clock_s=clock))
    # The lap that was not timed takes the run's mean of 90 s.
    assert laps.hours * 3600 == pytest.approx([35_900.0, 36_000.0, 36_090.0, 36_170.0])


def test_a_day_with_a_run_without_any_clock_goes_by_order():
    table = table_of([("A", [90.0, 90.0]), ("B", [90.0])])
    laps = clean(replace(table, clock_s=np.array([36_000.0, NAN, NAN])))
    assert not laps.by_clock.any()
    gap = laps.hours[2] - laps.hours[1]
    assert gap * 3600 == pytest.approx(GAP_BETWEEN_RUNS_S + 90.0)


def test_days_are_judged_one_by_one():
    table = table_of([("A", [90.0]), ("B", [90.0])], day=["one", "two"], start_h=[10.0, NAN])
    assert clean(table).by_clock.tolist() == [True, False]


def test_without_clocks_all_riders_of_a_day_begin_together():
    table = table_of(
        [("A", [90.0]), ("A", [100.0]), ("B", [90.0])], rider=["north", "south", "north"]
    )
    hours = clean(table).hours
    assert hours[0] == hours[1] == 0.0
    assert hours[2] > 0.25
