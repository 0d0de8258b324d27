"""Tyre pressures: cold against hot, and what a change of elevation does to the gauge.

A tyre is taken as a closed volume of ideal gas. That leaves out the casing's stretch and moisture
in the air, which together make real tyres rise a little more or less than reckoned here; the gauge
after a hot lap decides. Pressures are gauge pressures, ambient pressures are absolute.
"""

from __future__ import annotations

from numpy.typing import ArrayLike

from setupadvisor.facts.atmosphere import (
    STANDARD_PRESSURE_KPA,
    ZERO_CELSIUS_K,
    standard_pressure_kpa,
)
from setupadvisor.facts.valid_range import FloatArray, possible


def pressure_when_hot_kpa(
    cold_pressure_kpa: ArrayLike,
    cold_temperature_c: ArrayLike,
    hot_temperature_c: ArrayLike,
    ambient_pressure_kpa: ArrayLike = STANDARD_PRESSURE_KPA,
) -> FloatArray:
    """Gauge pressure of a tyre set cold, once it is hot.

    Parameters
    ----------
    cold_pressure_kpa : array_like
        Gauge pressure as set, in kPa.
    cold_temperature_c : array_like
        Temperature of the tyre when set, in °C: the air's, if it stood in the shade.
    hot_temperature_c : array_like
        Temperature of the air in the tyre when ridden, in °C.
    ambient_pressure_kpa : array_like, optional
        Absolute air pressure at the track in kPa; the standard sea-level pressure if left out.

    Returns
    -------
    numpy.ndarray
        Gauge pressure when hot, in kPa; the inputs' broadcast shape.

    Raises
    ------
    ImpossibleValue
        For a negative gauge pressure, below absolute zero, or an ambient pressure of 0 or less.

    Notes
    -----
    Ideal gas at constant volume: absolute pressure goes with absolute temperature.

    Examples
    --------
    >>> round(float(pressure_when_hot_kpa(90.0, 15.0, 50.0)), 1)
    113.2
    """
    cold = _gauge_kpa(cold_pressure_kpa, "cold_pressure_kpa")
    ambient = _ambient_kpa(ambient_pressure_kpa, "ambient_pressure_kpa")
    warming = _kelvin(hot_temperature_c, "hot_temperature_c") / _kelvin(
        cold_temperature_c, "cold_temperature_c"
    )
    return (cold + ambient) * warming - ambient


def pressure_to_set_cold_kpa(
    hot_pressure_kpa: ArrayLike,
    hot_temperature_c: ArrayLike,
    cold_temperature_c: ArrayLike,
    ambient_pressure_kpa: ArrayLike = STANDARD_PRESSURE_KPA,
) -> FloatArray:
    """Gauge pressure to set cold for a wanted pressure when hot.

    Parameters
    ----------
    hot_pressure_kpa : array_like
        Gauge pressure wanted when ridden, in kPa.
    hot_temperature_c : array_like
        Temperature of the air in the tyre when ridden, in °C.
    cold_temperature_c : array_like
        Temperature of the tyre when set, in °C: the air's, if it stands in the shade.
    ambient_pressure_kpa : array_like, optional
        Absolute air pressure at the track in kPa; the standard sea-level pressure if left out.

    Returns
    -------
    numpy.ndarray
        Gauge pressure to set, in kPa; the inputs' broadcast shape. A negative value means that
        the wanted pressure is so low that a tyre left open to the air when cold exceeds it.

    Raises
    ------
    ImpossibleValue
        For a negative gauge pressure, below absolute zero, or an ambient pressure of 0 or less.

    Notes
    -----
    The exact inverse of `pressure_when_hot_kpa`. The lowest pressure that tyre and rim allow bounds
    what may be set.

    Examples
    --------
    >>> round(float(pressure_to_set_cold_kpa(113.2, 50.0, 15.0)), 1)
    90.0
    """
    hot = _gauge_kpa(hot_pressure_kpa, "hot_pressure_kpa")
    ambient = _ambient_kpa(ambient_pressure_kpa, "ambient_pressure_kpa")
    cooling = _kelvin(cold_temperature_c, "cold_temperature_c") / _kelvin(
        hot_temperature_c, "hot_temperature_c"
    )
    return (hot + ambient) * cooling - ambient


def gauge_shift_kpa(
    ambient_pressure_when_set_kpa: ArrayLike, ambient_pressure_kpa: ArrayLike
) -> FloatArray:
    """Rise of the gauge pressure of a sealed tyre carried into thinner air.

    Parameters
    ----------
    ambient_pressure_when_set_kpa : array_like
        Absolute air pressure where the tyre was set, in kPa.
    ambient_pressure_kpa : array_like
        Absolute air pressure where it is used, in kPa.

    Returns
    -------
    numpy.ndarray
        What the gauge gains (negative: loses) at the same temperature, in kPa; broadcast shape.

    Raises
    ------
    ImpossibleValue
        For a pressure of 0 or less.

    Notes
    -----
    The absolute pressure inside stays, the gauge reads the difference to the outside.

    Examples
    --------
    >>> round(float(gauge_shift_kpa(101.3, 89.9)), 1)
    11.4
    """
    when_set = _ambient_kpa(ambient_pressure_when_set_kpa, "ambient_pressure_when_set_kpa")
    now = _ambient_kpa(ambient_pressure_kpa, "ambient_pressure_kpa")
    return when_set - now


def gauge_shift_with_elevation_kpa(
    elevation_when_set_m: ArrayLike, elevation_m: ArrayLike
) -> FloatArray:
    """Rise of the gauge pressure of a sealed tyre carried to another elevation.

    Parameters
    ----------
    elevation_when_set_m : array_like
        Geometric elevation where the tyre was set, in m.
    elevation_m : array_like
        Geometric elevation where it is used, in m.

    Returns
    -------
    numpy.ndarray
        What the gauge gains (negative: loses) at the same temperature, in kPa; broadcast shape.

    Raises
    ------
    ImpossibleValue
        Below -500 m or above 9000 m, where there is no ground.

    Notes
    -----
    `gauge_shift_kpa` in the standard atmosphere of ISO 2533:1975.

    Examples
    --------
    >>> round(float(gauge_shift_with_elevation_kpa(0.0, 2000.0)), 1)
    21.8
    """
    return standard_pressure_kpa(elevation_when_set_m) - standard_pressure_kpa(elevation_m)


def _gauge_kpa(pressure_kpa: ArrayLike, name: str) -> FloatArray:
    return possible(pressure_kpa, name, "a tyre's gauge pressure is 0 kPa or more", at_least=0.0)


def _ambient_kpa(pressure_kpa: ArrayLike, name: str) -> FloatArray:
    return possible(pressure_kpa, name, "an absolute air pressure is above 0 kPa", above=0.0)


def _kelvin(temperature_c: ArrayLike, name: str) -> FloatArray:
    celsius = possible(temperature_c, name, "a temperature is above -273.15 °C", above=-273.15)
    return celsius + ZERO_CELSIUS_K
