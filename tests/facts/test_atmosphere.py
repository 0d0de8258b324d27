"""Pressure at an elevation against ISO 2533 and independent libraries."""

from __future__ import annotations

import numpy as np
import psychrolib
import pytest
from ambiance import Atmosphere
from hypothesis import given
from hypothesis import strategies as st

from setupadvisor.errors import ImpossibleValue, OutsideValidRange
from setupadvisor.facts import atmosphere

ELEVATIONS_M = st.floats(-400.0, 8800.0)
SEA_LEVEL_KPA = st.floats(87.0, 109.0)


# ISO 2533:1975 by geometric altitude, computed with the library ambiance 1.3.1. Tolerance 1e-6:
# the libraries' constants have 6 to 7 digits in common.
@pytest.mark.parametrize(
    ("elevation_m", "pressure_pa"),
    [
        (0.0, 101325.0),
        (500.0, 95461.28549146843),
        (1000.0, 89876.27760234232),
        (3000.0, 70121.14406807562),
    ],
)
def test_pressure_at_an_elevation_is_that_of_iso_2533(elevation_m, pressure_pa):
    assert atmosphere.standard_pressure_kpa(elevation_m) * 1000 == pytest.approx(
        pressure_pa, rel=1e-6
    )


# As above.
@pytest.mark.parametrize(
    ("elevation_m", "temperature_k"),
    [
        (0.0, 288.15),
        (1000.0, 281.6510223716947),
        (1500.0, 278.4023001554197),
        (2000.0, 275.15408884365297),
        (3000.0, 268.65919845164115),
    ],
)
def test_temperature_at_an_elevation_is_that_of_iso_2533(elevation_m, temperature_k):
    assert atmosphere.standard_temperature_c(elevation_m) + 273.15 == pytest.approx(
        temperature_k, rel=1e-6
    )


# ISO 2533:1975 density by geometric altitude (ambiance 1.3.1), from pressure and temperature here
# through the ideal gas law. Tolerance 2e-6: two rounded constants enter.
@pytest.mark.parametrize(
    ("elevation_m", "density_kg_per_m3"),
    [
        (0.0, 1.225000018124288),
        (500.0, 1.1672732849512553),
        (1000.0, 1.1116596736996904),
        (1500.0, 1.0581044626479077),
        (2000.0, 1.0065537536106361),
    ],
)
def test_pressure_and_temperature_give_the_density_of_iso_2533(elevation_m, density_kg_per_m3):
    pressure_pa = atmosphere.standard_pressure_kpa(elevation_m) * 1000
    temperature_k = atmosphere.standard_temperature_c(elevation_m) + 273.15
    density = pressure_pa / (atmosphere.DRY_AIR_GAS_CONSTANT_J_PER_KG_K * temperature_k)
    assert density == pytest.approx(density_kg_per_m3, rel=2e-6)


# ISO 2533 closed form by geopotential altitude, confirmed with ambiance 1.3.1; same equation and
# constants, so only rounding remains.
@pytest.mark.parametrize(
    ("geopotential_m", "pressure_pa"), [(500.0, 95460.8353365313), (2000.0, 79495.20193405099)]
)
def test_pressure_at_a_geopotential_height_is_that_of_iso_2533(geopotential_m, pressure_pa):
    assert atmosphere.standard_pressure_at_geopotential_kpa(geopotential_m) * 1000 == pytest.approx(
        pressure_pa, rel=1e-8
    )


def test_whole_range_of_elevations_agrees_with_an_independent_library():
    elevation_m = np.linspace(-400.0, 8800.0, 93)
    outside = Atmosphere(elevation_m)
    np.testing.assert_allclose(
        atmosphere.standard_pressure_kpa(elevation_m) * 1000, outside.pressure, rtol=1e-6
    )
    np.testing.assert_allclose(
        atmosphere.standard_temperature_c(elevation_m) + 273.15, outside.temperature, rtol=1e-6
    )


# psychrolib 2.5.0 GetStationPressure (Hess 1959): a column at the mean of its two ends'
# temperatures instead of a constant lapse rate. Second order in the column's share of the
# temperature: below 1e-4 up to 3000 m. Leaving the temperature out would differ by up to 2e-2.
@pytest.mark.parametrize("elevation_m", [200.0, 1000.0, 2000.0, 3000.0])
@pytest.mark.parametrize("temperature_c", [-10.0, 15.0, 35.0])
def test_station_pressure_with_temperature_agrees_with_the_hypsometric_law(
    elevation_m, temperature_c
):
    psychrolib.SetUnitSystem(psychrolib.SI)
    outside = psychrolib.GetStationPressure(101325.0, elevation_m, temperature_c)
    here = atmosphere.station_pressure_kpa(101.325, elevation_m, temperature_c) * 1000
    assert here == pytest.approx(outside, rel=1e-4)


@given(ELEVATIONS_M)
def test_standard_pressure_at_sea_level_reduces_to_the_standard_pressure_of_the_place(elevation_m):
    assert atmosphere.station_pressure_kpa(101.325, elevation_m) == pytest.approx(
        atmosphere.standard_pressure_kpa(elevation_m), rel=1e-12
    )


@given(ELEVATIONS_M, SEA_LEVEL_KPA)
def test_standard_temperature_makes_both_reductions_nearly_equal(elevation_m, sea_level_kpa):
    """They part only by the weather's pressure: 10 % of it shifts the column by under 1 %."""
    temperature_c = atmosphere.standard_temperature_c(elevation_m)
    np.testing.assert_allclose(
        atmosphere.station_pressure_kpa(sea_level_kpa, elevation_m, temperature_c),
        atmosphere.station_pressure_kpa(sea_level_kpa, elevation_m),
        rtol=0.05 * abs(elevation_m) / 8800.0 + 1e-9,
    )


@given(SEA_LEVEL_KPA, st.floats(-40.0, 50.0))
def test_at_sea_level_nothing_is_reduced(sea_level_kpa, temperature_c):
    assert atmosphere.station_pressure_kpa(sea_level_kpa, 0.0) == pytest.approx(sea_level_kpa)
    assert atmosphere.station_pressure_kpa(sea_level_kpa, 0.0, temperature_c) == sea_level_kpa


@given(ELEVATIONS_M, ELEVATIONS_M)
def test_higher_is_thinner_and_colder(one_m, other_m):
    low, high = sorted((one_m, other_m))
    if high - low < 1e-3:
        return
    assert atmosphere.standard_pressure_kpa(high) < atmosphere.standard_pressure_kpa(low)
    assert atmosphere.standard_temperature_c(high) < atmosphere.standard_temperature_c(low)


def test_missing_elevation_or_weather_stays_missing_and_leaves_the_other_rows_alone():
    with_gap = atmosphere.station_pressure_kpa(
        [101.3, np.nan, 101.3, 101.3], [500.0, 500.0, np.nan, 500.0], [20.0, 20.0, 20.0, np.nan]
    )
    assert np.isnan(with_gap).tolist() == [False, True, True, True]
    assert with_gap[0] == atmosphere.station_pressure_kpa(101.3, 500.0, 20.0)
    assert np.isnan(atmosphere.standard_pressure_kpa(np.nan))


def test_feet_given_for_metres_are_refused_with_the_mend():
    with pytest.raises(ImpossibleValue, match="metres against feet"):
        atmosphere.standard_pressure_kpa(12_000.0)


def test_a_pressure_that_no_weather_has_at_sea_level_is_warned_about():
    with pytest.warns(OutsideValidRange, match="sea-level pressure 70 kPa"):
        atmosphere.station_pressure_kpa(70.0, 3000.0)
