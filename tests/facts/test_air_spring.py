"""Air as a spring."""

from __future__ import annotations

import numpy as np
import pytest
from CoolProp import CoolProp
from hypothesis import given
from hypothesis import strategies as st

from setupadvisor.errors import ImpossibleValue
from setupadvisor.facts.air_spring import (
    air_column_mm,
    gas_spring_energy_j,
    gas_spring_force_n,
    gas_spring_rate_n_per_mm,
    oil_level_change_mm,
    oil_level_force_change_n,
    polytropic_pressure_kpa,
)

strokes = st.floats(1.0, 280.0)
pressures = st.floats(0.0, 1200.0)
exponents = st.floats(1.0, 1.4)


def test_adiabatic_compression_of_air() -> None:
    """p2 = p1 r^1.4 from 101 325 Pa at 1.5: 178 749.3104 Pa; exact arithmetic."""
    np.testing.assert_allclose(polytropic_pressure_kpa(101.325, 1.5), 178.7493104359688, rtol=1e-12)


def test_adiabatic_compression_agrees_with_real_air_at_constant_entropy() -> None:
    """CoolProp's equation of state for air; it departs from 1.4 by well under 1 % here."""
    entropy = CoolProp.PropsSI("S", "P", 101325.0, "T", 293.15, "Air")
    density = CoolProp.PropsSI("D", "P", 101325.0, "T", 293.15, "Air")
    real_kpa = CoolProp.PropsSI("P", "S", entropy, "D", 1.5 * density, "Air") / 1e3
    np.testing.assert_allclose(polytropic_pressure_kpa(101.325, 1.5), real_kpa, rtol=0.005)


def test_force_and_rate_of_a_charged_column_at_half_its_length() -> None:
    """301 325 Pa absolute, 0.3 m column, 43 mm bore, 0.15 m stroke, n 1.4; exact arithmetic."""
    np.testing.assert_allclose(
        gas_spring_force_n(150.0, 200.0, 300.0, 43.0), 1007.6482052047103, rtol=1e-12
    )
    np.testing.assert_allclose(
        gas_spring_rate_n_per_mm(150.0, 200.0, 300.0, 43.0), 10.778063260648694, rtol=1e-9
    )


@given(strokes, pressures, exponents)
def test_rate_is_the_slope_of_force(stroke: float, pressure: float, exponent: float) -> None:
    ends = gas_spring_force_n(
        [stroke - 0.01, stroke + 0.01], pressure, 400.0, 40.0, exponent=exponent
    )
    rate = gas_spring_rate_n_per_mm(stroke, pressure, 400.0, 40.0, exponent=exponent)
    # Central difference over 0.02 mm of a force of up to some 10 kN.
    np.testing.assert_allclose((ends[1] - ends[0]) / 0.02, rate, rtol=1e-6)


@given(strokes, pressures, st.sampled_from([1.0, 1.0 + 1e-7, 1.2, 1.4]))
def test_energy_is_the_area_under_the_force(
    stroke: float, pressure: float, exponent: float
) -> None:
    nodes, weights = np.polynomial.legendre.leggauss(40)
    places = stroke / 2.0 * (nodes + 1.0)
    area = (
        np.sum(weights * gas_spring_force_n(places, pressure, 400.0, 40.0, exponent=exponent))
        * (stroke / 2.0)
        * 1e-3
    )
    energy = gas_spring_energy_j(
        0.0,
        stroke,
        gauge_pressure_kpa=pressure,
        column_mm=400.0,
        bore_mm=40.0,
        exponent=exponent,
    )
    # Near n = 1 the closed form divides a small difference by n - 1: some 1e-7 J are lost.
    np.testing.assert_allclose(energy, area, rtol=1e-6, atol=1e-5)


def test_an_unsealed_column_does_not_push_at_full_extension() -> None:
    assert gas_spring_force_n(0.0, 0.0, 300.0, 43.0) == 0.0


def test_the_column_never_runs_out_unnoticed() -> None:
    with pytest.raises(ImpossibleValue, match="lower the oil level"):
        gas_spring_force_n(300.0, 0.0, 300.0, 43.0)


def test_more_oil_shortens_the_column_and_stiffens_the_end_of_the_stroke_most() -> None:
    change = oil_level_change_mm(14.52, 43.0)
    np.testing.assert_allclose(change, -10.0, rtol=1e-3)
    column = air_column_mm(110.0, 300.0, 43.0)
    extra = oil_level_force_change_n([50.0, 150.0, 290.0], change, column, 43.0)
    assert np.all(np.diff(extra) > 0.0)
    assert extra[0] < 0.05 * extra[2]


def test_the_spring_in_the_leg_takes_air_away() -> None:
    area_mm2 = np.pi / 4.0 * 43.0**2
    shorter = air_column_mm(110.0, 300.0, 43.0, spring_volume_ml=area_mm2 * 20.0 / 1e3)
    np.testing.assert_allclose(shorter, 390.0, rtol=1e-12)


def test_missing_values_pass_and_rows_equal_single_calls() -> None:
    stroke = np.array([20.0, np.nan, 200.0])
    pressure = np.array([0.0, 100.0, 300.0])
    force = gas_spring_force_n(stroke, pressure, 400.0, 40.0)
    assert np.isnan(force).tolist() == [False, True, False]
    for row in (0, 2):
        assert force[row] == gas_spring_force_n(stroke[row], pressure[row], 400.0, 40.0)
