"""Rear suspension through its linkage."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from setupadvisor.errors import ImpossibleValue
from setupadvisor.facts.suspension import (
    bottoming_margin,
    energy_to_absorb_j,
    linkage,
    motion_ratio_at,
    rear_spring_energy_j,
    rear_wheel_load_n,
    rear_wheel_rate_n_per_mm,
    shock_stroke_mm,
    sprung_load_n,
)

# Invented, of the shape of a rising-rate linkage.
ARM = linkage([0.0, 60.0, 150.0, 240.0, 310.0], [0.33, 0.355, 0.39, 0.42, 0.41])
STRAIGHT = linkage([0.0, 300.0], [0.4, 0.4])
travels = st.floats(0.0, 310.0)


def test_a_constant_ratio_makes_everything_a_plain_lever() -> None:
    """Hand statics of a lever 0.4: stroke 0.4 z, load 0.4 F, rate 0.16 k."""
    np.testing.assert_allclose(shock_stroke_mm(100.0, STRAIGHT), 40.0, rtol=1e-12)
    np.testing.assert_allclose(
        rear_wheel_load_n(100.0, 50.0, 10.0, STRAIGHT), 0.4 * 50.0 * 50.0, rtol=1e-12
    )
    np.testing.assert_allclose(
        rear_wheel_rate_n_per_mm(100.0, 50.0, 10.0, STRAIGHT), 0.16 * 50.0, rtol=1e-12
    )


@given(travels)
def test_stroke_is_the_area_under_the_ratio(travel: float) -> None:
    """Midpoint rule on numpy's own interpolation; its kinks cost some 1e-5 mm."""
    places = (np.arange(20_000) + 0.5) * travel / 20_000
    area = np.mean(np.interp(places, ARM.wheel_travel_mm, ARM.motion_ratio)) * travel
    np.testing.assert_allclose(shock_stroke_mm(travel, ARM), area, atol=1e-4)
    np.testing.assert_allclose(
        motion_ratio_at(travel, ARM),
        np.interp(travel, ARM.wheel_travel_mm, ARM.motion_ratio),
        rtol=1e-12,
    )


@given(st.floats(0.5, 309.5), st.floats(30.0, 70.0), st.floats(0.0, 20.0))
def test_rate_is_the_slope_of_load_between_the_kinks(
    travel: float, rate: float, preload: float
) -> None:
    if np.min(np.abs(ARM.wheel_travel_mm - travel)) < 0.01:
        return
    ends = rear_wheel_load_n([travel - 0.005, travel + 0.005], rate, preload, ARM)
    got = rear_wheel_rate_n_per_mm(travel, rate, preload, ARM)
    np.testing.assert_allclose((ends[1] - ends[0]) / 0.01, got, rtol=1e-5, atol=1e-5)


@given(travels, travels, st.floats(0.0, 20.0))
def test_spring_energy_is_the_work_of_the_wheel_load(
    first: float, last: float, preload: float
) -> None:
    """Virtual work: the area under the wheel's load is what the spring stores."""
    low, high = min(first, last), max(first, last)
    places = low + (np.arange(20_000) + 0.5) * (high - low) / 20_000
    work = np.mean(rear_wheel_load_n(places, 48.0, preload, ARM)) * (high - low) * 1e-3
    np.testing.assert_allclose(rear_spring_energy_j(low, high, 48.0, preload, ARM), work, atol=1e-3)


def test_a_lever_ratio_instead_of_a_motion_ratio_is_refused_with_the_mend() -> None:
    with pytest.raises(ImpossibleValue, match=r"a lever ratio of 2.5 is 0.4"):
        linkage([0.0, 300.0], [2.9, 2.5])


@pytest.mark.parametrize("travel", [[10.0, 300.0], [0.0, 0.0], [0.0, np.nan]])
def test_a_linkage_that_does_not_rise_from_zero_is_refused(travel: list[float]) -> None:
    with pytest.raises(ImpossibleValue, match="rising wheel travels"):
        linkage(travel, [0.4, 0.5])


def test_travel_beyond_the_stop_is_refused() -> None:
    with pytest.raises(ImpossibleValue, match="between 0 and 310 mm"):
        rear_wheel_load_n(311.0, 48.0, 8.0, ARM)


def test_missing_values_pass_and_rows_equal_single_calls() -> None:
    travel = np.array([50.0, np.nan, 310.0])
    for function in (rear_wheel_load_n, rear_wheel_rate_n_per_mm):
        rows = function(travel, 48.0, 8.0, ARM)
        assert np.isnan(rows).tolist() == [False, True, False]
        assert rows[0] == function(50.0, 48.0, 8.0, ARM)
        assert rows[2] == function(310.0, 48.0, 8.0, ARM)


def test_loads_of_both_wheels_and_unsprung_masses_add_up_to_the_weight() -> None:
    rear = sprung_load_n(112.0, 0.52, 18.0, 85.0, 0.7)
    front = sprung_load_n(112.0, 0.48, 15.0, 85.0, 0.3)
    np.testing.assert_allclose(rear + front, (112.0 + 85.0 - 33.0) * 9.80665, rtol=1e-12)


def test_an_unsprung_mass_above_the_load_is_refused() -> None:
    with pytest.raises(ImpossibleValue, match="unsprung"):
        sprung_load_n(30.0, 0.5, 18.0)


def test_a_landing_that_takes_exactly_the_energy_left_touches_the_stop_with_no_margin() -> None:
    needed = energy_to_absorb_j(300.0, 90.0, 210.0)
    np.testing.assert_allclose(needed, 300.0 + 90.0 * 9.80665 * 0.21, rtol=1e-12)
    assert bottoming_margin(needed, needed) == 0.0
    assert bottoming_margin(0.9 * needed, needed) < 0.0
    np.testing.assert_allclose(bottoming_margin(0.9 * needed, needed, 0.3 * needed), 0.2)
    assert np.isnan(bottoming_margin(np.nan, needed))
