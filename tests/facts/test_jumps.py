"""Ballistics of a jump against textbook results, energy and a flight followed step by step."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import assume, given
from hypothesis import strategies as st

from setupadvisor.errors import ImpossibleValue
from setupadvisor.facts.jumps import (
    apex_height_m,
    flight_time_s,
    landing_level_speed_m_per_s,
    landing_sink_speed_m_per_s,
    takeoff_speed_at_landing_end_m_per_s,
    takeoff_speed_for_gap_m_per_s,
)

GRAVITY = 9.80665  # standard gravity

angles = st.floats(2, 60)
drops = st.floats(-1, 8)
gaps = st.floats(2, 40)


@given(gap=gaps, angle=st.floats(2, 60))
def test_level_range_of_the_textbook(gap: float, angle: float) -> None:
    """Range on level ground v^2 sin(2a) / g, any mechanics text; arithmetic."""
    speed = takeoff_speed_for_gap_m_per_s(gap, angle, 0)
    assert speed**2 * np.sin(2 * np.deg2rad(angle)) / GRAVITY == pytest.approx(gap, rel=1e-12)


@given(gap=gaps, angle=angles, drop=drops)
def test_flight_passes_the_landing_point(gap: float, angle: float, drop: float) -> None:
    speed = takeoff_speed_for_gap_m_per_s(gap, angle, drop)
    assume(not np.isnan(speed))
    time = flight_time_s(gap, speed, angle)
    rise = speed * np.sin(np.deg2rad(angle))
    assert rise * time - GRAVITY / 2 * time**2 == pytest.approx(-drop, abs=1e-8)


@given(speed=st.floats(3, 30), angle=angles, drop=st.floats(0, 8))
def test_energy_is_kept_in_flight(speed: float, angle: float, drop: float) -> None:
    landing = (
        landing_level_speed_m_per_s(speed, angle) ** 2
        + landing_sink_speed_m_per_s(speed, angle, drop) ** 2
    )
    assert landing == pytest.approx(speed**2 + 2 * GRAVITY * drop, rel=1e-12)


@given(speed=st.floats(3, 30), angle=angles)
def test_apex_is_where_the_climb_ends(speed: float, angle: float) -> None:
    above = float(apex_height_m(speed, angle))
    assert landing_sink_speed_m_per_s(speed, angle, -above * (1 - 1e-9)) < 0.01
    assert np.isnan(landing_sink_speed_m_per_s(speed, angle, -above - 0.01))


def test_a_lip_that_points_down_has_its_apex_at_the_lip() -> None:
    assert apex_height_m(15, -10) == 0.0


def test_a_landing_above_the_line_of_the_lip_cannot_be_reached() -> None:
    speeds = takeoff_speed_for_gap_m_per_s(10, 10, [-2.0, -1.7])
    assert np.isnan(speeds[0])
    assert speeds[1] > 50


@given(gap=gaps, angle=st.floats(10, 45), length=st.floats(0.5, 15), slope=st.floats(0, 35))
def test_overshooting_takes_more_speed_than_clearing(
    gap: float, angle: float, length: float, slope: float
) -> None:
    assume(slope < angle - 0.1)  # a level gap is met as steeply as the lip is
    least = takeoff_speed_for_gap_m_per_s(gap, angle, 0)
    assert takeoff_speed_at_landing_end_m_per_s(gap, angle, 0, slope, length) > least
    same = takeoff_speed_at_landing_end_m_per_s(gap, angle, 0, slope, 0)
    assert same == pytest.approx(least, rel=1e-12)


def test_a_landing_steeper_than_the_flight_is_overshot_by_whoever_clears_the_gap() -> None:
    clears = takeoff_speed_for_gap_m_per_s(10, 10, 0)
    assert takeoff_speed_at_landing_end_m_per_s(10, 10, 0, 30, 3) < clears


def test_missing_stays_missing_and_rows_equal_scalar_calls() -> None:
    rows = takeoff_speed_for_gap_m_per_s([20.0, np.nan, 12.0], 30, [0.0, 0.0, 1.0])
    assert rows[0] == takeoff_speed_for_gap_m_per_s(20, 30, 0)
    assert np.isnan(rows[1])
    assert rows[2] == takeoff_speed_for_gap_m_per_s(12, 30, 1)
    assert np.isnan(takeoff_speed_for_gap_m_per_s(20, np.nan, 0))
    assert np.isnan(takeoff_speed_for_gap_m_per_s(20, 30, np.nan))
    assert np.isnan(landing_sink_speed_m_per_s(np.nan, 30, 0))
    assert np.isnan(flight_time_s(20, np.nan, 30))
    assert np.isnan(apex_height_m(15, np.nan))


def test_impossible_jumps_are_refused() -> None:
    with pytest.raises(ImpossibleValue, match="gap_m"):
        takeoff_speed_for_gap_m_per_s(0, 30, 0)
    with pytest.raises(ImpossibleValue, match="takeoff_angle_deg"):
        apex_height_m(15, 95)
