"""Coil springs and natural frequency."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from setupadvisor.errors import ImpossibleValue, OutsideValidRange
from setupadvisor.facts.springs import (
    helical_spring_rate_n_per_mm,
    natural_frequency_hz,
    springs_in_parallel_n_per_mm,
    springs_in_series_n_per_mm,
)

rates = st.floats(0.5, 100.0)


def test_a_helical_spring_has_the_rate_of_the_closed_formula() -> None:
    """k = G d^4/(8 n D^3), Shigley ch. 10, from memory; exact arithmetic, hence 1e-12."""
    rate = helical_spring_rate_n_per_mm(11.0, 65.0, 5.5, 79.3)
    np.testing.assert_allclose(rate, 96.08402366863903, rtol=1e-12)


def test_a_helical_spring_agrees_with_energy_stored_in_torsion() -> None:
    """Castigliano by hand: torque F D/2 along the wire's length pi D n, polar moment pi d^4/32."""
    force, d, big_d, coils, modulus = 100.0, 5.0, 40.0, 14.0, 79.3e3
    polar = np.pi * d**4 / 32.0
    deflection = force * (big_d / 2.0) ** 2 * (np.pi * big_d * coils) / (modulus * polar)
    np.testing.assert_allclose(
        helical_spring_rate_n_per_mm(d, big_d, coils), force / deflection, rtol=1e-12
    )


def test_a_spring_index_no_spring_maker_winds_is_warned_about() -> None:
    with pytest.warns(OutsideValidRange, match="spring index"):
        helical_spring_rate_n_per_mm(5.0, 70.0, 10.0)


def test_two_fork_springs_side_by_side_add_up() -> None:
    """Statics; 4.5 and 5.0 N/mm are 9.5 N/mm."""
    np.testing.assert_allclose(springs_in_parallel_n_per_mm(4.5, 5.0), 9.5, rtol=1e-12)


@given(rates, rates)
def test_in_series_is_softer_than_the_softest_and_in_parallel_stiffer_than_the_stiffest(
    first: float, second: float
) -> None:
    assert springs_in_series_n_per_mm(first, second) < min(first, second)
    assert springs_in_parallel_n_per_mm(first, second) > max(first, second)


def test_natural_frequency_of_a_mass_on_a_spring() -> None:
    """15 000 N/m under 80 kg: 2.179318811747052 Hz (Rao, Mechanical Vibrations, from memory)."""
    np.testing.assert_allclose(natural_frequency_hz(15.0, 80.0), 2.179318811747052, rtol=1e-12)


@given(st.floats(10.0, 120.0), st.floats(5.0, 60.0))
def test_natural_frequency_follows_from_the_deflection_under_its_own_weight(
    static_deflection_mm: float, mass_kg: float
) -> None:
    """f = sqrt(g / deflection) / (2 pi) needs neither mass nor rate."""
    rate = mass_kg * 9.80665 / static_deflection_mm
    expected = np.sqrt(9.80665 / (static_deflection_mm * 1e-3)) / (2.0 * np.pi)
    np.testing.assert_allclose(natural_frequency_hz(rate, mass_kg), expected, rtol=1e-12)


def test_what_is_missing_stays_missing_and_what_cannot_be_is_refused() -> None:
    out = natural_frequency_hz([np.nan, 15.0], 80.0)
    assert np.isnan(out[0])
    assert out[1] == natural_frequency_hz(15.0, 80.0)
    assert np.isnan(springs_in_series_n_per_mm(np.nan, 5.0))
    assert np.isnan(helical_spring_rate_n_per_mm(np.nan, 65.0, 5.5))
    with pytest.raises(ImpossibleValue, match="mass_kg"):
        natural_frequency_hz(15.0, 0.0)
    with pytest.raises(ImpossibleValue, match="above 0 N/mm"):
        springs_in_series_n_per_mm(0.0, 5.0)
