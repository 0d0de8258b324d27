"""Damping ratio and equivalent damping."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from setupadvisor.errors import ImpossibleValue, OutsideValidRange
from setupadvisor.facts.damping import (
    damping_ratio,
    equivalent_damping_n_s_per_m,
    wheel_damping_n_s_per_m,
)

DIGRESSIVE = ([50.0, 150.0, 400.0, 1000.0], [120.0, 260.0, 420.0, 700.0])


def test_critical_damping_is_where_the_characteristic_roots_meet() -> None:
    """m s^2 + c s + k: numpy's root finder sees one double root at ratio 1."""
    mass, rate = 80.0, 15.0
    critical = 2.0 * np.sqrt(rate * 1e3 * mass)
    roots = np.roots([mass, critical, rate * 1e3])
    np.testing.assert_allclose(roots, [roots[0].real] * 2, rtol=1e-6)
    np.testing.assert_allclose(damping_ratio(critical, rate, mass), 1.0, rtol=1e-12)


@given(st.floats(0.05, 0.9))
def test_logarithmic_decrement_gives_the_ratio_back(ratio: float) -> None:
    """Decay of free vibration: real over modulus of the complex root is the damping ratio."""
    mass, rate = 95.0, 12.0
    damping = ratio * 2.0 * np.sqrt(rate * 1e3 * mass)
    root = np.roots([mass, damping, rate * 1e3])[0]
    np.testing.assert_allclose(
        damping_ratio(damping, rate, mass), -root.real / abs(root), rtol=1e-9
    )


@given(st.floats(10.0, 900.0), st.floats(0.2, 5.0))
def test_a_straight_damper_curve_gives_its_own_slope(amplitude: float, slope: float) -> None:
    speeds = np.array([100.0, 300.0, 900.0])
    got = equivalent_damping_n_s_per_m(amplitude, speeds, slope * speeds)
    np.testing.assert_allclose(got, slope * 1e3, rtol=1e-9)


@given(st.floats(20.0, 1000.0))
def test_the_equivalent_dissipates_the_energy_of_the_curve(amplitude: float) -> None:
    """Same cycle energy by brute force: the midpoint rule over a quarter period."""
    angles = (np.arange(40_000) + 0.5) * (np.pi / 2.0) / 40_000
    speed = amplitude * np.cos(angles)
    force = np.interp(speed, [0.0, *DIGRESSIVE[0]], [0.0, *DIGRESSIVE[1]])
    step = (np.pi / 2.0) / 40_000
    wanted = np.sum(force * np.cos(angles)) * step
    coefficient = equivalent_damping_n_s_per_m(amplitude, *DIGRESSIVE) * 1e-3
    linear = np.sum(coefficient * speed * np.cos(angles)) * step
    np.testing.assert_allclose(linear, wanted, rtol=1e-6)


def test_a_digressive_damper_loses_coefficient_with_speed() -> None:
    got = equivalent_damping_n_s_per_m([50.0, 200.0, 600.0, 1000.0], *DIGRESSIVE)
    assert np.all(np.diff(got) < 0.0)


def test_motion_beyond_the_measured_curve_is_warned_about() -> None:
    with pytest.warns(OutsideValidRange, match="damper velocity 2000"):
        beyond = equivalent_damping_n_s_per_m(2000.0, [100.0, 500.0], [200.0, 1000.0])
    np.testing.assert_allclose(beyond, 2000.0, rtol=1e-9)


def test_a_falling_list_of_velocities_is_refused() -> None:
    with pytest.raises(ImpossibleValue, match="rising velocities"):
        equivalent_damping_n_s_per_m(100.0, [500.0, 100.0], [200.0, 1000.0])


def test_missing_values_pass_and_rows_equal_single_calls() -> None:
    amplitude = np.array([100.0, np.nan, 700.0])
    got = equivalent_damping_n_s_per_m(amplitude, *DIGRESSIVE)
    assert np.isnan(got).tolist() == [False, True, False]
    assert got[2] == equivalent_damping_n_s_per_m(700.0, *DIGRESSIVE)
    assert np.isnan(damping_ratio(np.nan, 15.0, 80.0))


@given(st.floats(0.2, 0.9), st.floats(100.0, 20000.0))
def test_damping_power_is_the_same_at_wheel_and_damper(ratio: float, damping: float) -> None:
    wheel_speed = 0.7
    at_wheel = wheel_damping_n_s_per_m(damping, ratio) * wheel_speed**2
    np.testing.assert_allclose(at_wheel, damping * (ratio * wheel_speed) ** 2, rtol=1e-12)
