"""Boiling points against IAPWS."""

from __future__ import annotations

import numpy as np
import pytest
from CoolProp.CoolProp import PropsSI
from hypothesis import given
from hypothesis import strategies as st

from setupadvisor.errors import ImpossibleValue
from setupadvisor.facts import cooling
from setupadvisor.facts.atmosphere import standard_pressure_at_geopotential_kpa

CAPS_KPA = st.floats(0.0, 250.0)
AMBIENT_KPA = st.floats(60.0, 108.0)

# IAPWS-95 against IAPWS-IF97: the industrial formulation is a fit to it, and IAPWS R7-97 keeps the
# saturation pressure within 0.025 %: at these pressures 7 mK.
IF97_AGAINST_95_C = 0.007


def test_saturation_at_600_k_is_that_of_the_iapws_verification_table():
    """IAPWS R7-97, table 35: 12.3443146 MPa at 600 K; 9 digits of pressure are 1e-6 K here."""
    assert cooling.boiling_point_at_pressure_c(12_344.3146) + 273.15 == pytest.approx(
        600.0, abs=2e-6
    )


# IAPWS R7-97, table 36 (from memory), printed to 9 digits.
@pytest.mark.parametrize(
    ("pressure_mpa", "temperature_k"),
    [(0.1, 372.755919), (1.0, 453.035632), (10.0, 584.149488)],
)
def test_boiling_points_are_those_of_the_iapws_verification_table(pressure_mpa, temperature_k):
    assert cooling.boiling_point_at_pressure_c(pressure_mpa * 1000) + 273.15 == pytest.approx(
        temperature_k, abs=6e-7
    )


# CoolProp 8.0.0, IAPWS-95.
@pytest.mark.parametrize(
    ("cap_bar", "boiling_c"),
    [(0.0, 99.97429584766638), (1.6, 128.87711792399023), (2.0, 133.6727580751912)],
)
def test_water_under_a_cap_boils_where_iapws_95_says(cap_bar, boiling_c):
    assert cooling.boiling_point_c(cap_bar * 100, 101.325) == pytest.approx(
        boiling_c, abs=IF97_AGAINST_95_C
    )


# CoolProp 8.0.0, IAPWS-95, and the pressure of ISO 2533 by geopotential height.
@pytest.mark.parametrize(
    ("cap_bar", "geopotential_m", "boiling_c"),
    [
        (0.0, 1000.0, 96.64886083590096),
        (1.1, 2000.0, 118.51289235587467),
        (1.8, 2000.0, 128.64384143669855),
    ],
)
def test_elevation_lowers_the_boiling_point_under_any_cap(cap_bar, geopotential_m, boiling_c):
    ambient_kpa = standard_pressure_at_geopotential_kpa(geopotential_m)
    assert cooling.boiling_point_c(cap_bar * 100, ambient_kpa) == pytest.approx(
        boiling_c, abs=IF97_AGAINST_95_C
    )


def test_every_pressure_of_a_cooling_system_agrees_with_iapws_95():
    pressure_kpa = np.geomspace(50.0, 400.0, 60)
    outside_c = PropsSI("T", "P", pressure_kpa * 1000, "Q", np.zeros(60), "Water") - 273.15
    np.testing.assert_allclose(
        cooling.boiling_point_at_pressure_c(pressure_kpa), outside_c, atol=IF97_AGAINST_95_C
    )


@given(CAPS_KPA, AMBIENT_KPA)
def test_cap_and_air_pressure_count_alike_and_more_boils_later(cap_kpa, ambient_kpa):
    here = cooling.boiling_point_c(cap_kpa, ambient_kpa)
    assert cooling.boiling_point_c(cap_kpa + 1.0, ambient_kpa) > here
    assert cooling.boiling_point_c(cap_kpa + 1.0, ambient_kpa - 1.0) == pytest.approx(here)


@given(CAPS_KPA, AMBIENT_KPA)
def test_the_margin_is_gone_at_the_boiling_point(cap_kpa, ambient_kpa):
    boiling_c = cooling.boiling_point_c(cap_kpa, ambient_kpa)
    assert cooling.margin_to_boiling_c(boiling_c, cap_kpa, ambient_kpa) == 0.0
    assert cooling.margin_to_boiling_c(boiling_c + 5.0, cap_kpa, ambient_kpa) == pytest.approx(-5.0)


def test_missing_cap_air_or_coolant_stays_missing():
    margin = cooling.margin_to_boiling_c(
        [100.0, np.nan, 100.0, 100.0],
        [110.0, 110.0, np.nan, 110.0],
        [95.0, 95.0, 95.0, np.nan],
    )
    assert np.isnan(margin).tolist() == [False, True, True, True]
    assert margin[0] == cooling.margin_to_boiling_c(100.0, 110.0, 95.0)


def test_a_negative_cap_pressure_is_refused():
    with pytest.raises(ImpossibleValue, match="a gauge pressure"):
        cooling.boiling_point_c(-10.0, 101.0)
    with pytest.raises(ImpossibleValue, match="kPa absolute"):
        cooling.boiling_point_at_pressure_c(0.1)
