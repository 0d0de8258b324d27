"""A plan fits into its minutes, says what it finds, and gives up where testing is pointless."""

from __future__ import annotations

import json
import math
from statistics import NormalDist

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from setupadvisor.errors import ImpossibleValue
from setupadvisor.learning.lap_plan import (
    FEWEST_LAPS,
    MOST_LAPS,
    OVERHEAD_LAPS,
    PATTERNS,
    finding_probability,
    lap_plan,
)
from setupadvisor.learning.lap_posterior import LapPrior

# Runs that repeat and a track that stays: the plan is then a plain comparison of means.
PLAIN = LapPrior(1e-4, 1.001, 1e-4, 1.001)


@settings(deadline=None, max_examples=30)
@given(st.floats(20.0, 240.0), st.floats(40.0, 300.0), st.floats(0.0, 30.0))
def test_a_plan_fits_into_its_minutes_and_is_one_of_those_there_are(minutes, lap_s, change):
    plan = lap_plan(minutes, lap_s, change_minutes=change)
    shortest = 2 * (FEWEST_LAPS + OVERHEAD_LAPS) * lap_s / 60.0 + change
    if plan is None:
        assert minutes < shortest * (1 + 1e-6)
        return
    assert minutes >= shortest * (1 - 1e-6)
    runs = len(plan.pattern.split("-"))
    ridden = runs * (plan.laps_a_run + OVERHEAD_LAPS) * lap_s / 60.0
    assert plan.minutes == pytest.approx(ridden + (runs - 1) * change)
    assert plan.minutes <= minutes * (1 + 1e-6)
    assert plan.pattern in PATTERNS
    assert FEWEST_LAPS <= plan.laps_a_run <= MOST_LAPS
    assert 0.1 <= plan.finds <= 1.0


def test_time_decides_between_a_b_and_there_and_back_again():
    assert lap_plan(20, 95.0) is None
    assert lap_plan(35, 95.0).pattern == "A-B"
    assert lap_plan(50, 95.0).pattern == "A-B-A"
    assert lap_plan(75, 95.0).pattern == "A-B-B-A"


@settings(deadline=None, max_examples=20)
@given(st.floats(0.0, 2.0), st.floats(0.05, 2.0), st.sampled_from(PATTERNS), st.integers(3, 8))
def test_a_larger_difference_is_found_more_often(effect, more, pattern, laps):
    one, other = (
        finding_probability(pattern, laps, 95.0, size, spread_s=0.8)
        for size in (effect, effect + more)
    )
    assert one < other <= 1.0


@pytest.mark.parametrize("level", [0.8, 0.9, 0.95])
@pytest.mark.parametrize("pattern", PATTERNS)
def test_no_difference_is_found_as_often_as_false_alarms_are_stated(level, pattern):
    """On one side of 0: half of what the level leaves. 3 % for the steps of the integration."""
    found = finding_probability(pattern, 6, 95.0, 0.0, spread_s=0.8, level=level)
    assert found == pytest.approx((1.0 - level) / 2.0, rel=0.03)


def test_runs_that_repeat_give_the_power_of_a_plain_comparison():
    """z test of two means of 16 laps: Phi(d / se - z), se = s sqrt(1/16 + 1/16).

    The t test with 30 degrees of freedom has up to 1.5 points less (Cohen 1988, from memory).
    """
    effect, spread = 0.5, 0.8
    error = spread * math.sqrt(2 / 16)
    plain = NormalDist().cdf(effect / error - NormalDist().inv_cdf(0.9))
    found = finding_probability("A-B-B-A", 8, 95.0, effect, spread_s=spread, prior=PLAIN)
    assert plain - 0.015 < found < plain


def test_there_and_back_again_beats_a_b_on_a_track_that_drifts():
    drifting = LapPrior(0.1, 1.2, 3.0, 1.2)
    back, away = (
        finding_probability(pattern, 6, 95.0, 0.8, spread_s=0.8, prior=drifting)
        for pattern in ("A-B-B-A", "A-B")
    )
    assert back > away + 0.1


def test_the_difference_found_mostly_is_found_in_four_of_five_cases():
    plan = lap_plan(75, 95.0, spread_s=0.6)
    found = finding_probability(
        plan.pattern, plan.laps_a_run, 95.0, plan.finds_mostly_s, spread_s=0.6
    )
    assert found == pytest.approx(0.8, abs=0.001)


def test_as_many_runs_as_needed_are_those_of_a_plain_power_calculation():
    """n = 2 (s^2 / m) ((z + z_power) / d)^2 = 2 * 0.64 / 8 * (2.1232 / 0.3)^2 = 8.01, so 9."""
    plan = lap_plan(300, 95.0, spread_s=0.8, prior=PLAIN)
    assert (plan.laps_a_run, plan.runs_needed) == (8, 9)


@pytest.mark.parametrize(
    ("name", "given"),
    [
        ("minutes", {"minutes": 0.0}),
        ("minutes", {"minutes": math.nan}),
        ("lap_s", {"lap_s": -1.0}),
        ("lap_s", {"lap_s": math.inf}),
        ("spread_s", {"spread_s": 0.0}),
        ("change_minutes", {"change_minutes": -1.0}),
        ("effect_s", {"effect_s": 0.0}),
    ],
)
def test_numbers_that_cannot_be_are_refused_by_name(name, given):
    with pytest.raises(ImpossibleValue, match=name):
        lap_plan(**{"minutes": 75.0, "lap_s": 95.0, **given})


def test_a_plan_is_plain_json():
    assert json.loads(json.dumps(lap_plan(75, 95.0).to_json()))["pattern"] == "A-B-B-A"
