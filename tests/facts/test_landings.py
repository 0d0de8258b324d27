"""Equivalent fall height: limits that follow from its definition, and the hardest jump."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from setupadvisor.errors import ImpossibleValue
from setupadvisor.facts.jumps import apex_height_m, takeoff_speed_for_gap_m_per_s
from setupadvisor.facts.landings import (
    equivalent_fall_height_m,
    equivalent_fall_height_of_gap_m,
    landing_energy_j,
    largest_over_jumps,
)

GRAVITY = 9.80665  # standard gravity


@given(speed=st.floats(3, 30), angle=st.floats(0, 60), drop=st.floats(0, 8))
def test_flat_landing_falls_from_the_apex(speed: float, angle: float, drop: float) -> None:
    """By definition the equivalent of a flat landing is the fall from the highest point."""
    expected = apex_height_m(speed, angle) + drop
    assert equivalent_fall_height_m(speed, angle, drop) == pytest.approx(expected, abs=1e-10)


@given(speed=st.floats(3, 30), angle=st.floats(0, 60), drop=st.floats(0, 8), slope=st.floats(0, 45))
def test_formula_of_landing_speed_and_angle(
    speed: float, angle: float, drop: float, slope: float
) -> None:
    """Hubbard 2009: h = v^2 sin^2(path - slope) / 2g with landing speed and path angle, as a
    published page that cites it prints it; here from the speed's size and direction."""
    level = speed * np.cos(np.deg2rad(angle))
    sink = np.sqrt((speed * np.sin(np.deg2rad(angle))) ** 2 + 2 * GRAVITY * drop)
    path = np.arctan2(sink, level)
    into = np.hypot(level, sink) * np.sin(path - np.deg2rad(slope))
    found = equivalent_fall_height_m(speed, angle, drop, slope)
    assert found == pytest.approx(into**2 / (2 * GRAVITY), abs=1e-9)


@given(speed=st.floats(3, 30), angle=st.floats(5, 45))
def test_a_landing_along_the_flight_path_is_free(speed: float, angle: float) -> None:
    assert equivalent_fall_height_m(speed, angle, 0, angle) == pytest.approx(0, abs=1e-9)


@given(speed=st.floats(5, 30), angle=st.floats(0, 20), steeper=st.floats(1, 25))
def test_flying_past_a_steeper_slope_lands_further_down_as_hard(
    speed: float, angle: float, steeper: float
) -> None:
    """Followed by hand from the lip's level to where the flight meets the slope."""
    slope = angle + steeper
    level = speed * np.cos(np.deg2rad(angle))
    sink = speed * np.sin(np.deg2rad(angle))
    time = 2 * (level * np.tan(np.deg2rad(slope)) - sink) / GRAVITY
    further_drop = sink * time + GRAVITY / 2 * time**2
    there = equivalent_fall_height_m(speed, angle, further_drop, slope)
    assert there == pytest.approx(float(equivalent_fall_height_m(speed, angle, 0, slope)), rel=1e-6)


@given(gap=st.floats(3, 30), angle=st.floats(10, 40), drop=st.floats(0, 4))
def test_a_gap_just_cleared_lands_as_its_least_speed(gap: float, angle: float, drop: float) -> None:
    speed = takeoff_speed_for_gap_m_per_s(gap, angle, drop)
    assert equivalent_fall_height_of_gap_m(gap, angle, drop, 20) == pytest.approx(
        float(equivalent_fall_height_m(speed, angle, drop, 20)), abs=1e-9
    )


def test_casing_into_the_flat_is_harder_than_any_overshoot_on_the_slope() -> None:
    on_slope = equivalent_fall_height_of_gap_m(20, 30, 0, 30, [0.0, 2.0, 4.0])
    to_flat = equivalent_fall_height_of_gap_m(26, 30, 3, 0)
    assert (np.diff(on_slope) > 0).all()
    assert to_flat > 3 * on_slope.max()


def test_a_gap_that_cannot_be_cleared_has_no_landing() -> None:
    assert np.isnan(equivalent_fall_height_of_gap_m(10, 10, -3))


def test_largest_over_jumps_leaves_out_what_was_not_entered() -> None:
    values = [[1.0, np.nan, 2.5], [np.nan, np.nan, np.nan], [-1.0, np.nan, np.nan]]
    np.testing.assert_array_equal(largest_over_jumps(values), [2.5, np.nan, -1.0])
    assert np.isnan(largest_over_jumps([]))


def test_energy_of_a_landing_by_hand() -> None:
    """E = m g h, 180 kg from 1.5 m with standard gravity; arithmetic."""
    assert landing_energy_j(180, 1.5) == pytest.approx(180 * GRAVITY * 1.5, rel=1e-12)
    assert np.isnan(landing_energy_j(180, np.nan))
    with pytest.raises(ImpossibleValue, match="mass_kg"):
        landing_energy_j(0, 1)


def test_missing_stays_missing_and_rows_equal_scalar_calls() -> None:
    rows = equivalent_fall_height_of_gap_m([20.0, np.nan, 8.0], 30, 0.5, [25.0, 25.0, np.nan])
    assert rows[0] == equivalent_fall_height_of_gap_m(20, 30, 0.5, 25)
    assert np.isnan(rows[1:]).all()
