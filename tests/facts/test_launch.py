"""Wheelie, traction and rear-lift limits."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import assume, given
from hypothesis import strategies as st

from setupadvisor.errors import ImpossibleValue
from setupadvisor.facts.launch import (
    launch_limit_m_s2,
    lift_limit_braking_m_s2,
    rear_load_n,
    traction_limit_m_s2,
    wheelie_limit_m_s2,
)

grips = st.floats(0.1, 1.5)
resistances = st.floats(0.0, 0.09)
ahead = st.floats(450.0, 900.0)
heights = st.floats(500.0, 950.0)
GRAVITY = 9.80665


def test_wheelie_limit_of_the_moment_balance() -> None:
    """b = 0.6 m, h = 0.65 m: 9.052292307692307 m/s2 (Cossalter ch. 3, from memory)."""
    np.testing.assert_allclose(wheelie_limit_m_s2(600.0, 650.0), 9.052292307692307, rtol=1e-12)


def test_traction_limit_of_a_published_exercise_for_a_rear_driven_vehicle() -> None:
    """mu 0.7, L 2.6 m, b 1.3 m, h 0.7 m, g 9.81: 4.23085308056872 m/s2.

    A rear-drive exercise of vehicle dynamics (Wong ch. 3, Gillespie ch. 2), read on a published
    page; exact arithmetic, hence 1e-9.
    """
    got = traction_limit_m_s2(0.7, 2600.0, 1300.0, 700.0, gravity_m_s2=9.81)
    np.testing.assert_allclose(got, 4.23085308056872, rtol=1e-9)


def test_traction_limit_with_motorcycle_numbers() -> None:
    """mu 0.6, L 1.48 m, b 0.7 m, h 0.65 m: 4.210561651376147 m/s2; formula from memory."""
    got = traction_limit_m_s2(0.6, 1480.0, 700.0, 650.0)
    np.testing.assert_allclose(got, 4.210561651376147, rtol=1e-12)


def test_rear_load_of_the_moment_balance() -> None:
    """180 kg, L 1.48 m, b 0.7 m, h 0.65 m, a 4 m/s2: 1246.5227432432432 N; from memory."""
    got = rear_load_n(180.0, 1480.0, 700.0, 650.0, 4.0)
    np.testing.assert_allclose(got, 1246.5227432432432, rtol=1e-12)


@given(grips, resistances, ahead, heights)
def test_at_the_traction_limit_the_wheel_pulls_all_it_can(
    grip: float, resistance: float, b: float, h: float
) -> None:
    """Newton: traction of the loaded wheel less rolling resistance is mass times acceleration."""
    a = traction_limit_m_s2(grip, 1480.0, b, h, rolling_resistance_coefficient=resistance)
    wheelie = wheelie_limit_m_s2(b, h)
    assume(0.0 <= a <= wheelie)
    load = rear_load_n(200.0, 1480.0, b, h, a)
    np.testing.assert_allclose(
        grip * load - resistance * 200.0 * GRAVITY, 200.0 * a, rtol=1e-9, atol=1e-9
    )


@given(grips, ahead, heights)
def test_acceleration_is_never_above_either_limit(grip: float, b: float, h: float) -> None:
    a = launch_limit_m_s2(grip, 1480.0, b, h)
    assert a <= wheelie_limit_m_s2(b, h)
    assert a <= traction_limit_m_s2(grip, 1480.0, b, h)
    # No two-wheeler out-accelerates its grip, whatever its geometry.
    assert a <= grip * GRAVITY * (1.0 + 1e-12)


@given(ahead, heights)
def test_all_weight_is_on_the_rear_at_the_wheelie_limit_and_none_at_the_braking_limit(
    b: float, h: float
) -> None:
    weight = 200.0 * GRAVITY
    driving = rear_load_n(200.0, 1480.0, b, h, wheelie_limit_m_s2(b, h))
    braking = rear_load_n(200.0, 1480.0, b, h, -lift_limit_braking_m_s2(1480.0, b, h))
    np.testing.assert_allclose(driving, weight, rtol=1e-12)
    np.testing.assert_allclose(braking, 0.0, atol=1e-9)


def test_load_moved_back_faster_than_grip_is_used_means_no_traction_limit() -> None:
    """mu h >= L."""
    assert traction_limit_m_s2(2.0, 1400.0, 600.0, 700.0) == np.inf
    assert launch_limit_m_s2(2.0, 1400.0, 600.0, 700.0) == wheelie_limit_m_s2(600.0, 700.0)


def test_ground_that_resists_more_than_the_wheel_pulls_gives_a_negative_limit() -> None:
    got = traction_limit_m_s2(0.3, 1480.0, 700.0, 650.0, rolling_resistance_coefficient=0.4)
    assert got < 0.0


def test_missing_values_pass_rows_equal_single_calls_and_nonsense_is_refused() -> None:
    grip = np.array([0.5, np.nan, 0.9])
    rows = launch_limit_m_s2(grip, 1480.0, 700.0, 650.0)
    assert np.isnan(rows).tolist() == [False, True, False]
    assert rows[2] == launch_limit_m_s2(0.9, 1480.0, 700.0, 650.0)
    assert np.isnan(wheelie_limit_m_s2(600.0, np.nan))
    assert np.isnan(rear_load_n(180.0, np.nan, 700.0, 650.0, 4.0))
    with pytest.raises(ImpossibleValue, match="centre_of_mass_height_mm"):
        wheelie_limit_m_s2(600.0, 0.0)
    with pytest.raises(ImpossibleValue, match="grip_coefficient"):
        traction_limit_m_s2(-0.1, 1480.0, 700.0, 650.0)
