"""Evaporation against a worked example, and the bucket of the top layer."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from setupadvisor.errors import ImpossibleValue, OutsideValidRange
from setupadvisor.facts.drying import (
    SKIES,
    evaporation_mm_per_h,
    sunshine_share,
    volumetric_water_after_hours,
)

LOAM = {
    "wilting_point": 0.14,
    "field_capacity": 0.28,
    "saturation": 0.46,
    "saturated_conductivity_mm_per_h": 15.5,
}


def test_worked_example_of_the_hourly_formula() -> None:
    """FAO-56 Example 19, from memory: 38 °C, 52 %, 3.3 m/s, sun 2.450 of a clear sky's 2.658
    MJ/m2 in the hour gives 0.63 mm/h; 28 °C, 90 %, 1.9 m/s at night, cloud ratio 0.8, gives
    0.00 mm/h. Printed to 0.01, so half a digit and a little for our rounded constants."""
    ratio = 2.450 / 2.658
    day = evaporation_mm_per_h(
        38, 52, 3.3, (0.75 * ratio - 0.25) / 0.5, clear_sky_w_per_m2=2.658 / 0.0036
    )
    night = evaporation_mm_per_h(28, 90, 1.9, 0.7, clear_sky_w_per_m2=0.0)
    assert day == pytest.approx(0.63, abs=0.006)
    assert night == pytest.approx(0.00, abs=0.006)


def test_clouds_dampen_evaporation() -> None:
    shares = sunshine_share(np.arange(len(SKIES), dtype=float))
    rates = evaporation_mm_per_h(25, 50, 2, shares)
    assert (np.diff(rates) < 0).all()
    assert np.isnan(sunshine_share(np.nan))


@given(
    temperature=st.floats(0, 40),
    humidity=st.floats(0, 95),
    wind=st.floats(0, 10),
    sunshine=st.floats(0, 0.9),
)
def test_sun_and_dry_air_never_slow_evaporation(
    temperature: float, humidity: float, wind: float, sunshine: float
) -> None:
    base = evaporation_mm_per_h(temperature, humidity, wind, sunshine)
    assert base >= 0
    assert evaporation_mm_per_h(temperature, humidity, wind, sunshine + 0.1) >= base - 1e-12


@given(humidity=st.floats(5, 100))
def test_wind_dries_more_in_dry_air(humidity: float) -> None:
    dry = evaporation_mm_per_h(25, humidity - 5, 3, 0.5)
    assert dry > evaporation_mm_per_h(25, humidity, 3, 0.5)


def test_dew_is_no_negative_evaporation() -> None:
    assert evaporation_mm_per_h(5, 100, 0.5, 1.0, clear_sky_w_per_m2=0.0) == 0.0


def test_nothing_happens_in_no_time_or_without_weather() -> None:
    for water in (0.10, 0.20, 0.28):
        assert volumetric_water_after_hours(water, 0, 0.5, 0, **LOAM) == pytest.approx(water)
        assert volumetric_water_after_hours(water, 5, 0, 0, **LOAM) == pytest.approx(water)


def test_moist_ground_dries_at_the_full_rate() -> None:
    """Water balance by hand: 1.15 x 0.5 mm/h x 4 h = 2.3 mm out of 100 mm is 0.023; FAO-56's
    factor of wet bare ground, from memory."""
    assert volumetric_water_after_hours(0.28, 4, 0.5, 0, **LOAM) == pytest.approx(0.257, abs=1e-12)


def test_drainage_follows_the_time_constant() -> None:
    """SWAT's storage routing, from memory: after (saturation - capacity) x depth / conductivity
    hours 1/e of the excess is left; 18 mm / 15.5 mm/h."""
    hours = 18.0 / 15.5
    left = volumetric_water_after_hours(0.46, hours, 0, 0, **LOAM)
    assert left == pytest.approx(0.28 + 0.18 / np.e, rel=1e-12)


@given(
    water=st.floats(0.0, 0.5),
    hours=st.floats(0, 200),
    rate=st.floats(0, 1.2),
    added=st.floats(0, 60),
)
def test_water_stays_between_air_dry_and_full(
    water: float, hours: float, rate: float, added: float
) -> None:
    then = volumetric_water_after_hours(water, hours, rate, added, **LOAM)
    assert 0.07 - 1e-12 <= then <= 0.46 + 1e-12


@given(water=st.floats(0.08, 0.46), hours=st.floats(0, 48), rate=st.floats(0.01, 1.0))
def test_longer_drying_is_drier_and_watering_wetter(
    water: float, hours: float, rate: float
) -> None:
    then = volumetric_water_after_hours(water, hours, rate, 0, **LOAM)
    assert volumetric_water_after_hours(water, hours + 1, rate, 0, **LOAM) <= then + 1e-12
    assert volumetric_water_after_hours(water, hours, rate, 3, **LOAM) >= then - 1e-12


@given(hours=st.floats(0.1, 30), rate=st.floats(0.05, 1.0), water=st.floats(0.08, 0.28))
def test_two_spans_dry_as_one(hours: float, rate: float, water: float) -> None:
    halfway = volumetric_water_after_hours(water, hours, rate, 0, **LOAM)
    twice = volumetric_water_after_hours(halfway, hours, rate, 0, **LOAM)
    once = volumetric_water_after_hours(water, 2 * hours, rate, 0, **LOAM)
    assert twice == pytest.approx(once, rel=1e-9)


def test_missing_stays_missing_and_rows_equal_scalar_calls() -> None:
    rows = volumetric_water_after_hours([0.3, np.nan, 0.1], [2.0, 2.0, 9.0], 0.4, 1.0, **LOAM)
    assert np.isnan(rows[1])
    assert rows[0] == volumetric_water_after_hours(0.3, 2, 0.4, 1.0, **LOAM)
    assert rows[2] == volumetric_water_after_hours(0.1, 9, 0.4, 1.0, **LOAM)
    missing = volumetric_water_after_hours(0.3, [2.0, np.nan], [np.nan, 0.4], 0, **LOAM)
    assert np.isnan(missing).all()
    rates = evaporation_mm_per_h([20.0, np.nan], 50, 2, 1)
    assert rates[0] == evaporation_mm_per_h(20, 50, 2, 1)
    assert np.isnan(rates[1])


def test_impossible_weather_is_refused_and_extremes_warn() -> None:
    with pytest.raises(ImpossibleValue, match="relative_humidity_pct"):
        evaporation_mm_per_h(20, 120, 1, 1)
    with pytest.raises(ImpossibleValue, match="hours"):
        volumetric_water_after_hours(0.2, -1, 0.3, 0, **LOAM)
    with pytest.warns(OutsideValidRange, match="air temperature"):
        evaporation_mm_per_h(60, 20, 1, 1)
    with pytest.warns(OutsideValidRange, match="layer depth"):
        volumetric_water_after_hours(0.2, 1, 0.3, 0, layer_depth_mm=20, **LOAM)
