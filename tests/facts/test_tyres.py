"""Tyre pressures against the gas laws."""

from __future__ import annotations

import numpy as np
import pytest
from CoolProp.CoolProp import PropsSI
from hypothesis import given
from hypothesis import strategies as st

from setupadvisor.errors import ImpossibleValue
from setupadvisor.facts import tyres

GAUGE_KPA = st.floats(0.0, 250.0)
TEMPERATURES_C = st.floats(-20.0, 90.0)
AMBIENT_KPA = st.floats(60.0, 108.0)


def test_hot_pressure_is_that_of_an_ideal_gas_in_a_closed_volume():
    """(90 + 101.325) 323.15/288.15 - 101.325: arithmetic from the gas law, to rounding."""
    assert tyres.pressure_when_hot_kpa(90.0, 15.0, 50.0, 101.325) == pytest.approx(
        113.23919833420094, rel=1e-12
    )


def test_real_air_in_a_closed_volume_rises_as_reckoned():
    """Real air (CoolProp's Air, Lemmon et al. 2000) at constant density, 90 kPa from 15 to 50 °C.

    Its compressibility factor at 2 bar rises by some 0.05 % over these 35 °C, and the pressure with
    it: 0.11 kPa of the 215 kPa absolute. No gauge in a paddock reads that.
    """
    density = PropsSI("D", "T", 288.15, "P", 191_325.0, "Air")
    hot_kpa = PropsSI("P", "T", 323.15, "D", density, "Air") / 1000 - 101.325
    assert tyres.pressure_when_hot_kpa(90.0, 15.0, 50.0) == pytest.approx(hot_kpa, abs=0.12)


def test_a_sealed_tyre_gains_what_the_standard_atmosphere_loses():
    """From 0 to 2000 m: 111.82 from 90 kPa (constant absolute pressure; ISO 2533, geometric)."""
    assert 90.0 + tyres.gauge_shift_with_elevation_kpa(0.0, 2000.0) == pytest.approx(
        111.82358893151093, rel=1e-7
    )


@given(GAUGE_KPA, TEMPERATURES_C, TEMPERATURES_C, AMBIENT_KPA)
def test_setting_the_cold_pressure_gives_the_wanted_hot_one(hot_kpa, hot_c, cold_c, ambient_kpa):
    set_kpa = tyres.pressure_to_set_cold_kpa(hot_kpa, hot_c, cold_c, ambient_kpa)
    if set_kpa < 0.0:
        return
    assert tyres.pressure_when_hot_kpa(set_kpa, cold_c, hot_c, ambient_kpa) == pytest.approx(
        hot_kpa, abs=1e-9
    )


@given(GAUGE_KPA, TEMPERATURES_C, AMBIENT_KPA)
def test_without_warming_the_gauge_stays(gauge_kpa, temperature_c, ambient_kpa):
    assert tyres.pressure_when_hot_kpa(
        gauge_kpa, temperature_c, temperature_c, ambient_kpa
    ) == pytest.approx(gauge_kpa, abs=1e-9)


@given(GAUGE_KPA, st.floats(0.0, 40.0), st.floats(1.0, 50.0), AMBIENT_KPA)
def test_a_colder_morning_needs_less_in_the_tyre(hot_kpa, cold_c, warming_c, ambient_kpa):
    hot_c = cold_c + warming_c
    cooler = tyres.pressure_to_set_cold_kpa(hot_kpa, hot_c, cold_c - 10.0, ambient_kpa)
    assert cooler < tyres.pressure_to_set_cold_kpa(hot_kpa, hot_c, cold_c, ambient_kpa)


@given(AMBIENT_KPA, AMBIENT_KPA)
def test_going_up_and_coming_back_changes_nothing(one_kpa, other_kpa):
    there = tyres.gauge_shift_kpa(one_kpa, other_kpa)
    assert there + tyres.gauge_shift_kpa(other_kpa, one_kpa) == 0.0
    assert (there > 0.0) == (other_kpa < one_kpa)


def test_a_wanted_pressure_below_an_open_tyres_is_shown_as_negative():
    assert tyres.pressure_to_set_cold_kpa(5.0, 60.0, 10.0, 101.0) < 0.0


def test_missing_stays_missing_row_by_row():
    set_kpa = tyres.pressure_to_set_cold_kpa(
        [100.0, np.nan, 100.0, 100.0], 50.0, [15.0, 15.0, np.nan, 15.0], [95.0, 95.0, 95.0, np.nan]
    )
    assert np.isnan(set_kpa).tolist() == [False, True, True, True]
    assert set_kpa[0] == tyres.pressure_to_set_cold_kpa(100.0, 50.0, 15.0, 95.0)


def test_a_negative_gauge_pressure_is_refused():
    with pytest.raises(ImpossibleValue, match="cold_pressure_kpa: -1 is impossible"):
        tyres.pressure_when_hot_kpa(-1.0, 15.0, 50.0)
