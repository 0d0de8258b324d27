"""Fork: coils and air along the fork axis, sag, preload, coil rate and air pressure."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from setupadvisor.errors import ImpossibleValue
from setupadvisor.facts.fork import (
    Fork,
    air_force_n,
    air_rate_n_per_mm,
    fork_energy_j,
    fork_force_n,
    fork_rate_n_per_mm,
    front_wheel_load_n,
    front_wheel_rate_n_per_mm,
)
from setupadvisor.facts.front_sag import (
    air_pressure_for_sag_kpa,
    front_preload_for_sag_mm,
    front_rate_for_sags_n_per_mm,
    front_sag_mm,
)

COIL = Fork(4.8, 5.0, travel_mm=300.0, air_column_mm=420.0, bore_mm=43.0)
AIR = Fork(0.0, 0.0, 300.0, 400.0, 37.0, air_gauge_pressure_kpa=500.0, spring_legs=0, air_legs=1)
DRY = Fork(4.8, 5.0, 300.0, 1000.0, 43.0, air_legs=0)
strokes = st.floats(0.0, 299.0)


def test_two_legs_without_air_are_two_springs_in_parallel() -> None:
    """Statics: 2 * 4.8 N/mm * (5 + 60) mm = 624 N."""
    np.testing.assert_allclose(fork_force_n(60.0, DRY), 624.0, rtol=1e-12)
    np.testing.assert_allclose(fork_rate_n_per_mm(60.0, DRY), 9.6, rtol=1e-12)


def test_one_charged_air_leg_has_the_force_and_rate_of_the_gas_spring() -> None:
    """The polytropic column: 301 325 Pa, 0.3 m, 43 mm bore, 0.15 m stroke; exact arithmetic."""
    fork = Fork(0.0, 0.0, 290.0, 300.0, 43.0, 200.0, spring_legs=0, air_legs=1)
    np.testing.assert_allclose(air_force_n(150.0, fork), 1007.6482052047103, rtol=1e-12)
    np.testing.assert_allclose(air_rate_n_per_mm(150.0, fork), 10.778063260648694, rtol=1e-9)
    assert fork_force_n(150.0, fork) == air_force_n(150.0, fork)


@given(strokes, st.floats(0.0, 40.0))
def test_work_at_the_wheel_equals_work_along_the_fork(stroke: float, rake: float) -> None:
    """Vertical travel is stroke times cosine, so load over cosine keeps the work the same."""
    wheel = front_wheel_load_n(stroke, COIL, rake) * np.cos(np.radians(rake))
    np.testing.assert_allclose(wheel, fork_force_n(stroke, COIL), rtol=1e-12)


@given(st.floats(1.0, 298.0), st.floats(0.0, 40.0), st.sampled_from([COIL, AIR, DRY]))
def test_wheel_rate_is_the_slope_of_wheel_load_over_vertical_travel(
    stroke: float, rake: float, fork: Fork
) -> None:
    loads = front_wheel_load_n([stroke - 0.01, stroke + 0.01], fork, rake)
    vertical = 0.02 * np.cos(np.radians(rake))
    got = front_wheel_rate_n_per_mm(stroke, fork, rake)
    np.testing.assert_allclose((loads[1] - loads[0]) / vertical, got, rtol=1e-6)


@given(st.floats(0.0, 299.0), st.sampled_from([COIL, AIR, DRY]))
def test_energy_is_the_area_under_the_force(stroke: float, fork: Fork) -> None:
    nodes, weights = np.polynomial.legendre.leggauss(40)
    places = np.clip(stroke / 2.0 * (nodes + 1.0), 0.0, stroke)
    area = np.sum(weights * fork_force_n(places, fork)) * stroke / 2.0 * 1e-3
    np.testing.assert_allclose(fork_energy_j(0.0, stroke, fork), area, rtol=1e-8, atol=1e-9)


@given(
    st.floats(0.5, 299.0),
    st.floats(0.0, 6.0),
    st.floats(0.0, 20.0),
    st.floats(302.0, 700.0),
    st.floats(0.0, 900.0),
)
def test_sag_gives_back_the_stroke_whose_load_it_was_given(
    stroke: float, rate: float, preload: float, column: float, pressure: float
) -> None:
    fork = Fork(rate, preload, 300.0, column, 40.0, pressure)
    load = front_wheel_load_n(stroke, fork, 27.0)
    np.testing.assert_allclose(front_sag_mm(load, fork, 27.0), stroke, atol=1e-6)


def test_a_fork_that_cannot_or_need_not_move_stays_at_its_ends() -> None:
    assert front_sag_mm([0.0, 20.0, 1e6], DRY, 27.0).tolist() == [0.0, 0.0, 300.0]
    assert front_sag_mm([0.0, 1e6], COIL, 27.0).tolist() == [0.0, 300.0]


def test_preload_coil_rate_and_air_pressure_for_a_sag_give_that_sag() -> None:
    preload = front_preload_for_sag_mm(65.0, 850.0, COIL, 27.0)
    assert preload > 0.0
    np.testing.assert_allclose(front_sag_mm(850.0, COIL._replace(preload_mm=preload), 27.0), 65.0)

    rate = front_rate_for_sags_n_per_mm(
        65.0, 32.0, race_load_n=850.0, static_load_n=430.0, fork=COIL, rake_deg=27.0
    )
    changed = COIL._replace(spring_rate_n_per_mm=rate)
    changed = changed._replace(preload_mm=front_preload_for_sag_mm(65.0, 850.0, changed, 27.0))
    np.testing.assert_allclose(front_sag_mm([850.0, 430.0], changed, 27.0), [65.0, 32.0])

    pressure = air_pressure_for_sag_kpa(65.0, 850.0, AIR, 27.0)
    pumped = AIR._replace(air_gauge_pressure_kpa=pressure)
    np.testing.assert_allclose(front_sag_mm(850.0, pumped, 27.0), 65.0)


def test_what_the_fork_does_not_have_is_not_known() -> None:
    assert np.isnan(front_preload_for_sag_mm(70.0, 850.0, AIR, 27.0))
    assert np.isnan(air_pressure_for_sag_kpa(70.0, 850.0, DRY, 27.0))
    assert np.isnan(
        front_rate_for_sags_n_per_mm(
            30.0, 30.0, race_load_n=850.0, static_load_n=430.0, fork=COIL, rake_deg=27.0
        )
    )


def test_strokes_and_air_columns_that_cannot_be_are_refused() -> None:
    with pytest.raises(ImpossibleValue, match="stay within the travel"):
        fork_force_n(301.0, COIL)
    with pytest.raises(ImpossibleValue, match="column"):
        fork_force_n(290.0, COIL._replace(air_column_mm=280.0))
    with pytest.raises(ImpossibleValue, match="rake_deg"):
        front_wheel_load_n(60.0, COIL, 95.0)


def test_missing_values_pass_and_rows_equal_single_calls() -> None:
    load = np.array([700.0, np.nan, 900.0])
    sag = front_sag_mm(load, COIL, 27.0)
    assert np.isnan(sag).tolist() == [False, True, False]
    assert sag[2] == front_sag_mm(900.0, COIL, 27.0)
    for missing in ("spring_rate_n_per_mm", "preload_mm", "air_column_mm", "travel_mm"):
        assert np.isnan(front_sag_mm(800.0, COIL._replace(**{missing: np.nan}), 27.0)), missing
