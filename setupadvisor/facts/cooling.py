"""Cooling: where the coolant boils under its cap, and how far off that is.

Reckoned for plain water. A mixture with glycol boils later (half and half some 7 °C later at
sea-level pressure: from memory, a common handbook figure), so the water's margin is the cautious
one. No closed formula for mixtures with a source that can be opened was found: none is given.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike

from setupadvisor.facts.atmosphere import STANDARD_PRESSURE_KPA, ZERO_CELSIUS_K
from setupadvisor.facts.valid_range import FloatArray, possible

# IAPWS R7-97(2012), table 34
_N = (
    0.11670521452767e4,
    -0.72421316703206e6,
    -0.17073846940092e2,
    0.12020824702470e5,
    -0.32325550322333e7,
    0.14915108613530e2,
    -0.48232657361591e4,
    0.40511340542057e6,
    -0.23855557567849,
    0.65017534844798e3,
)
# IAPWS R7-97(2012), clause 8.2: from 0 °C to the critical point
_LOWEST_PRESSURE_KPA = 0.611213
_HIGHEST_PRESSURE_KPA = 22064.0


def boiling_point_at_pressure_c(pressure_kpa: ArrayLike) -> FloatArray:
    """Boiling point of water at an absolute pressure.

    Parameters
    ----------
    pressure_kpa : array_like
        Absolute pressure in kPa, 0.611213 to 22064, any shape.

    Returns
    -------
    numpy.ndarray
        Temperature in °C, same shape.

    Raises
    ------
    ImpossibleValue
        Outside the range above: there is no boiling water.

    Notes
    -----
    IAPWS-IF97 region 4 backward equation (IAPWS R7-97(2012), equation 31), closed form.

    Examples
    --------
    >>> round(float(boiling_point_at_pressure_c(101.325)), 2)
    99.97
    """
    pressure = possible(
        pressure_kpa,
        "pressure_kpa",
        f"water boils between {_LOWEST_PRESSURE_KPA:g} and {_HIGHEST_PRESSURE_KPA:g} kPa absolute",
        at_least=_LOWEST_PRESSURE_KPA,
        at_most=_HIGHEST_PRESSURE_KPA,
    )
    n1, n2, n3, n4, n5, n6, n7, n8, n9, n10 = _N
    beta = (pressure / 1000.0) ** 0.25
    e = beta**2 + n3 * beta + n6
    f = n1 * beta**2 + n4 * beta + n7
    g = n2 * beta**2 + n5 * beta + n8
    d = 2.0 * g / (-f - np.sqrt(f**2 - 4.0 * e * g))
    kelvin = (n10 + d - np.sqrt((n10 + d) ** 2 - 4.0 * (n9 + n10 * d))) / 2.0
    return kelvin - ZERO_CELSIUS_K


def boiling_point_c(
    cap_pressure_kpa: ArrayLike, ambient_pressure_kpa: ArrayLike = STANDARD_PRESSURE_KPA
) -> FloatArray:
    """Boiling point of water in a cooling system closed by a pressure cap.

    Parameters
    ----------
    cap_pressure_kpa : array_like
        Pressure printed on the cap, a gauge pressure, in kPa (1.1 bar = 110 kPa). 0 for a system
        that is open or leaks.
    ambient_pressure_kpa : array_like, optional
        Absolute air pressure at the track in kPa; the standard sea-level pressure if left out.

    Returns
    -------
    numpy.ndarray
        Temperature in °C, the inputs' broadcast shape.

    Raises
    ------
    ImpossibleValue
        For a negative cap pressure or an ambient pressure at which water cannot boil.

    Notes
    -----
    The cap opens at its pressure above the air's, so elevation takes its share with any cap.
    A cap holds back only the pressure that has built up: after a short run, with little coolant
    or a tired seal, the system boils earlier than this. Never open a cap on a hot engine.

    Examples
    --------
    >>> round(float(boiling_point_c(110.0, 101.325)), 1)
    122.0
    """
    cap = possible(
        cap_pressure_kpa,
        "cap_pressure_kpa",
        "a cap's pressure is 0 kPa or more, a gauge pressure",
        at_least=0.0,
    )
    ambient = possible(
        ambient_pressure_kpa,
        "ambient_pressure_kpa",
        "an absolute air pressure is above 0 kPa",
        above=0.0,
    )
    return boiling_point_at_pressure_c(cap + ambient)


def margin_to_boiling_c(
    coolant_temperature_c: ArrayLike,
    cap_pressure_kpa: ArrayLike,
    ambient_pressure_kpa: ArrayLike = STANDARD_PRESSURE_KPA,
) -> FloatArray:
    """How far the coolant is from boiling.

    Parameters
    ----------
    coolant_temperature_c : array_like
        Hottest coolant temperature, measured, in °C. It is not estimated here.
    cap_pressure_kpa : array_like
        Pressure printed on the cap, a gauge pressure, in kPa.
    ambient_pressure_kpa : array_like, optional
        Absolute air pressure at the track in kPa; the standard sea-level pressure if left out.

    Returns
    -------
    numpy.ndarray
        Margin in K (the same steps as °C), negative when plain water would boil; broadcast shape.

    Raises
    ------
    ImpossibleValue
        Below absolute zero, or as `boiling_point_c`.

    Notes
    -----
    `boiling_point_c` less the coolant's temperature. Metal next to the combustion chamber is
    hotter than the gauge shows; steam pockets there start before the margin is used up.

    Examples
    --------
    >>> round(float(margin_to_boiling_c(105.0, 110.0, 89.9)), 1)
    15.2
    """
    coolant = possible(
        coolant_temperature_c,
        "coolant_temperature_c",
        "a temperature is above -273.15 °C",
        above=-ZERO_CELSIUS_K,
    )
    return boiling_point_c(cap_pressure_kpa, ambient_pressure_kpa) - coolant
