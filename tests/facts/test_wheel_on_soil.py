"""A wheel on yielding ground: hand arithmetic of the cited formulas, limits and trends."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from setupadvisor.errors import ImpossibleValue, OutsideValidRange
from setupadvisor.facts.wheel_on_soil import (
    compaction_resistance_n,
    gross_traction_ratio,
    largest_shear_force_n,
    motion_resistance_ratio,
    net_traction_ratio,
    shear_fraction,
    sinkage_mm,
    wheel_numeric,
)

# Exponent n, kc [kN/m^(n+1)], kphi [kN/m^(n+2)], cohesion [kPa], friction angle [°] of Wong, Theory
# of Ground Vehicles, 4th ed. 2008, Table 2.3, read in public code that cites it: the same soil
# drier, then wetter (moisture % by mass).
DRIER_AND_WETTER = {
    "sandy loam, 15 and 22 %": ((0.7, 5.27, 1515.04, 1.72, 29), (0.2, 2.56, 43.12, 1.38, 38)),
    "sandy loam, 26 and 32 %": ((0.3, 2.79, 141.11, 13.79, 22), (0.5, 0.77, 51.91, 5.17, 11)),
    "lean clay, 22 and 32 %": ((0.2, 16.43, 1724.69, 68.95, 20), (0.15, 1.52, 119.61, 13.79, 11)),
}


def test_wheel_numeric_is_strength_times_area_over_load() -> None:
    """Wismer & Luth 1974, from memory, units by hand: 500 kPa x 0.11 m x 0.64 m / 1.4 kN."""
    assert wheel_numeric(500, 110, 640, 1400) == pytest.approx(500 * 0.11 * 0.64 / 1.4, rel=1e-12)


def test_traction_of_the_1974_equations() -> None:
    """Wismer & Luth 1974, from memory, by hand at Cn 30 and slip 0.2: 0.75 (1 - e^-1.8) and
    1.2 / 30 + 0.04; arithmetic."""
    assert gross_traction_ratio(30, 0.2) == pytest.approx(0.75 * (1 - 0.165298888), rel=1e-8)
    assert motion_resistance_ratio(30) == pytest.approx(0.08, rel=1e-12)
    assert net_traction_ratio(30, 0.2) == pytest.approx(0.62602583 - 0.08, rel=1e-7)


@given(numeric=st.floats(5, 100), slip=st.floats(0.01, 0.9))
def test_firmer_ground_and_more_slip_give_more_traction(numeric: float, slip: float) -> None:
    gross = gross_traction_ratio(numeric, slip)
    assert 0 < gross <= 0.75
    assert gross_traction_ratio(numeric + 1, slip) >= gross
    assert gross_traction_ratio(numeric, slip + 0.05) >= gross
    assert motion_resistance_ratio(numeric + 1) < motion_resistance_ratio(numeric)
    assert net_traction_ratio(numeric, 0.0) < 0


def test_ground_too_soft_for_the_formula_warns() -> None:
    with pytest.warns(OutsideValidRange, match=r"wheel numeric 2 .*Wismer & Luth"):
        motion_resistance_ratio([2.0, 30.0])


def test_largest_shear_force_on_dry_sand() -> None:
    """Mohr-Coulomb, Wong chapter 2: 0.01 m2, 1.04 kPa, 1500 N, 28 °; arithmetic of the named
    formula (from memory), so 1e-12."""
    assert largest_shear_force_n(0.01, 1.04, 1500, 28) == pytest.approx(
        807.9641474922181, rel=1e-12
    )


def test_shear_fraction_at_a_slip() -> None:
    """Janosi & Hanamoto 1961, Wong chapter 2: slip 0.2, patch 0.2 m, K 0.025 m; arithmetic of the
    named formula (from memory), so 1e-12."""
    assert shear_fraction(0.2, 200, 25) == pytest.approx(0.5011853237466596, rel=1e-12)


def test_shear_fraction_starts_at_zero_without_a_step() -> None:
    assert shear_fraction(0.0, 200, 25) == 0.0
    around = shear_fraction(np.array([0.99e-6, 1.01e-6]) * 25 / 200, 200, 25)
    np.testing.assert_allclose(around, [0.495e-6, 0.505e-6], rtol=1e-3)


@given(slip=st.floats(0, 0.98), more=st.floats(0.001, 0.02))
def test_more_slip_uses_more_of_the_ground(slip: float, more: float) -> None:
    assert 0 <= shear_fraction(slip, 250, 15) < shear_fraction(slip + more, 250, 15) < 1


def test_sinkage_in_dry_sand() -> None:
    """Bekker 1956 / 1969, Wong chapter 2: 50 kPa, 0.1 m wide, dry sand n 1.1, kc 0.99, kphi
    1528.43; read in a published page and recomputed; arithmetic, so 1e-12."""
    assert sinkage_mm(50, 100, 1.1, 0.99, 1528.43) == pytest.approx(44.38134399337953, rel=1e-12)


@pytest.mark.parametrize("soil", DRIER_AND_WETTER)
def test_the_wetter_of_two_measured_soils_sinks_deeper(soil: str) -> None:
    """Wong, Theory of Ground Vehicles, Table 2.3: at 60 kPa under a 100 mm patch."""
    drier, wetter = DRIER_AND_WETTER[soil]
    assert sinkage_mm(60, 100, *wetter[:3]) > sinkage_mm(60, 100, *drier[:3])


def test_the_measured_lean_clay_shears_easier_wet() -> None:
    """Wong, Theory of Ground Vehicles, Table 2.3, lean clay (WES) at 22 and 32 % moisture."""
    drier, wetter = DRIER_AND_WETTER["lean clay, 22 and 32 %"]
    assert largest_shear_force_n(0.01, *(wetter[3], 1400, wetter[4])) < 0.5 * largest_shear_force_n(
        0.01, *(drier[3], 1400, drier[4])
    )


@given(pressure=st.floats(1, 200), n=st.floats(0.2, 1.2))
def test_compaction_resistance_is_the_work_of_the_rut(pressure: float, n: float) -> None:
    """Its derivative over depth is width times the pressure at that depth (Bekker)."""
    width, soil = 100.0, (n, 5.0, 800.0)
    depth = float(sinkage_mm(pressure, width, *soil))
    step = depth * 1e-4
    resistance = compaction_resistance_n([depth - step, depth + step], width, *soil)
    slope_n_per_mm = (resistance[1] - resistance[0]) / (2 * step)
    assert slope_n_per_mm == pytest.approx(pressure * width / 1000.0, rel=1e-5)


def test_missing_stays_missing_and_rows_equal_scalar_calls() -> None:
    numeric = wheel_numeric([500.0, np.nan], 110, 640, [1400.0, 1400.0])
    assert numeric[0] == wheel_numeric(500, 110, 640, 1400)
    assert np.isnan(numeric[1])
    net = net_traction_ratio([30.0, np.nan, 20.0], [0.2, 0.2, np.nan])
    assert net[0] == net_traction_ratio(30, 0.2)
    assert np.isnan(net[1:]).all()
    assert np.isnan(shear_fraction(np.nan, 200, 25))
    assert np.isnan(sinkage_mm(50, np.nan, 1.1, 0.99, 1528.43))
    assert np.isnan(compaction_resistance_n(np.nan, 100, 1.1, 0.99, 1528.43))


def test_impossible_wheels_and_soils_are_refused() -> None:
    with pytest.raises(ImpossibleValue, match="wheel_load_n"):
        wheel_numeric(500, 110, 640, 0)
    with pytest.raises(ImpossibleValue, match="slip"):
        gross_traction_ratio(30, 1.2)
    with pytest.raises(ImpossibleValue, match="cohesive and frictional modulus"):
        sinkage_mm(50, 100, 1.1, 0.0, 0.0)
