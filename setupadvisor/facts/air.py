"""Air: humidity, and the density of what the engine breathes.

Pressures are absolute and in kPa, the pressure of the air at the track itself, not the one reduced
to sea level that weather reports give (`atmosphere.station_pressure_kpa` turns one into the other).
"""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike

from setupadvisor.facts.atmosphere import STANDARD_DENSITY_KG_PER_M3, ZERO_CELSIUS_K
from setupadvisor.facts.valid_range import FloatArray, possible, within

# CIPM-2007 (Picard, Davis, Glaeser, Fujii 2008, Metrologia 45:149, appendix A1). The paper was not
# at hand: the constants were read in public code that cites it and agree with memory.
_MOLAR_GAS_CONSTANT = 8.314472
_MOLAR_MASS_DRY_AIR = 28.96546e-3
_MOLAR_MASS_WATER = 18.01528e-3

_TEMPERATURE_MEND = "a temperature is above -273.15 °C"
_PRESSURE_MEND = "an absolute air pressure is above 0 kPa"
_HUMIDITY_MEND = "relative humidity lies between 0 and 100 %"
_ELEVATION_MEND = "ground lies between -500 and 9000 m; check metres against feet"


def saturation_vapour_pressure_kpa(temperature_c: ArrayLike) -> FloatArray:
    """Saturation pressure of pure water vapour over liquid water.

    Parameters
    ----------
    temperature_c : array_like
        Temperature in °C, any shape.

    Returns
    -------
    numpy.ndarray
        Vapour pressure in kPa, same shape. Below 0 °C still over (supercooled) water, as weather
        stations reckon relative humidity.

    Raises
    ------
    ImpossibleValue
        Below absolute zero.

    Warns
    -----
    OutsideValidRange
        Outside -40 to 60 °C, the range compared with other formulations.

    Notes
    -----
    CIPM-2007, appendix A1.1: Picard, Davis, Glaeser, Fujii 2008, Metrologia 45:149. The paper
    states it for 15 to 27 °C; from 0 to 60 °C it stays within 0.01 % of IAPWS-95.

    Examples
    --------
    >>> round(float(saturation_vapour_pressure_kpa(20.0)), 4)
    2.3392
    """
    return _saturation_pressure_pa(_weather_temperature_k(temperature_c)) / 1000.0


def vapour_pressure_kpa(
    temperature_c: ArrayLike, pressure_kpa: ArrayLike, relative_humidity_pct: ArrayLike
) -> FloatArray:
    """Partial pressure of the water vapour in moist air.

    Parameters
    ----------
    temperature_c : array_like
        Air temperature in °C.
    pressure_kpa : array_like
        Absolute pressure at the track in kPa.
    relative_humidity_pct : array_like
        Relative humidity in %, 0 to 100.

    Returns
    -------
    numpy.ndarray
        Vapour pressure in kPa, the inputs' broadcast shape.

    Raises
    ------
    ImpossibleValue
        Below absolute zero, at 0 kPa or less, or with a humidity outside 0 to 100 %.

    Warns
    -----
    OutsideValidRange
        Outside -40 to 60 °C or 50 to 110 kPa.

    Notes
    -----
    CIPM-2007 with its enhancement factor (real air holds about 0.4 % more vapour than vacuum).

    Examples
    --------
    >>> round(float(vapour_pressure_kpa(20.0, 101.325, 50.0)), 4)
    1.1743
    """
    temperature_k = _weather_temperature_k(temperature_c)
    pressure_pa = _weather_pressure_pa(pressure_kpa)
    fraction = _vapour_mole_fraction(temperature_k, pressure_pa, relative_humidity_pct)
    return fraction * pressure_pa / 1000.0


def dry_air_pressure_kpa(
    temperature_c: ArrayLike, pressure_kpa: ArrayLike, relative_humidity_pct: ArrayLike
) -> FloatArray:
    """Pressure of the dry part of moist air: what is left for burning fuel.

    Parameters
    ----------
    temperature_c : array_like
        Air temperature in °C.
    pressure_kpa : array_like
        Absolute pressure at the track in kPa.
    relative_humidity_pct : array_like
        Relative humidity in %, 0 to 100.

    Returns
    -------
    numpy.ndarray
        Dry-air pressure in kPa, the inputs' broadcast shape.

    Raises
    ------
    ImpossibleValue
        Below absolute zero, at 0 kPa or less, or with a humidity outside 0 to 100 %.

    Warns
    -----
    OutsideValidRange
        Outside -40 to 60 °C or 50 to 110 kPa.

    Notes
    -----
    Dalton: total pressure less `vapour_pressure_kpa`.

    Examples
    --------
    >>> round(float(dry_air_pressure_kpa(30.0, 95.0, 60.0)), 2)
    92.44
    """
    temperature_k = _weather_temperature_k(temperature_c)
    pressure_pa = _weather_pressure_pa(pressure_kpa)
    fraction = _vapour_mole_fraction(temperature_k, pressure_pa, relative_humidity_pct)
    return (1.0 - fraction) * pressure_pa / 1000.0


def air_density_kg_per_m3(
    temperature_c: ArrayLike, pressure_kpa: ArrayLike, relative_humidity_pct: ArrayLike
) -> FloatArray:
    """Density of moist air.

    Parameters
    ----------
    temperature_c : array_like
        Air temperature in °C.
    pressure_kpa : array_like
        Absolute pressure at the track in kPa.
    relative_humidity_pct : array_like
        Relative humidity in %, 0 to 100.

    Returns
    -------
    numpy.ndarray
        Density in kg/m3, the inputs' broadcast shape.

    Raises
    ------
    ImpossibleValue
        Below absolute zero, at 0 kPa or less, or with a humidity outside 0 to 100 %.

    Warns
    -----
    OutsideValidRange
        Outside -40 to 60 °C or 50 to 110 kPa.

    Notes
    -----
    CIPM-2007 with 0.0004 mol/mol of carbon dioxide: Picard, Davis, Glaeser, Fujii 2008,
    Metrologia 45:149. The paper promises 22 parts in a million for 15 to 27 °C and 60 to 110 kPa.
    Beyond that it remains the ideal-gas law with a compressibility within 0.1 % of 1, so weather
    outside the paper's range is not worth a warning; beyond any race day's weather there is one.

    Examples
    --------
    >>> round(float(air_density_kg_per_m3(20.0, 101.325, 50.0)), 4)
    1.1993
    """
    kelvin = _weather_temperature_k(temperature_c)
    pressure_pa = _weather_pressure_pa(pressure_kpa)
    fraction = _vapour_mole_fraction(kelvin, pressure_pa, relative_humidity_pct)
    celsius = kelvin - ZERO_CELSIUS_K
    per_kelvin = pressure_pa / kelvin
    compressibility = (
        1.0
        - per_kelvin
        * (
            1.58123e-6
            - 2.9331e-8 * celsius
            + 1.1043e-10 * celsius**2
            + (5.707e-6 - 2.051e-8 * celsius) * fraction
            + (1.9898e-4 - 2.376e-6 * celsius) * fraction**2
        )
        + per_kelvin**2 * (1.83e-11 - 0.765e-8 * fraction**2)
    )
    dry = per_kelvin * _MOLAR_MASS_DRY_AIR / (compressibility * _MOLAR_GAS_CONSTANT)
    return dry * (1.0 - fraction * (1.0 - _MOLAR_MASS_WATER / _MOLAR_MASS_DRY_AIR))


def air_density_ratio(density_kg_per_m3: ArrayLike) -> FloatArray:
    """Density over that of the standard atmosphere at sea level.

    Parameters
    ----------
    density_kg_per_m3 : array_like
        Air density in kg/m3, any shape.

    Returns
    -------
    numpy.ndarray
        Ratio, 1 at 15 °C, 101.325 kPa and dry; same shape.

    Raises
    ------
    ImpossibleValue
        For a density of 0 or less.

    Notes
    -----
    ISO 2533:1975: 1.225 kg/m3 at sea level.

    Examples
    --------
    >>> round(float(air_density_ratio(1.1116)), 4)
    0.9074
    """
    density = possible(
        density_kg_per_m3, "density_kg_per_m3", "a density is above 0 kg/m3", above=0.0
    )
    return density / STANDARD_DENSITY_KG_PER_M3


def _temperature_k(temperature_c: ArrayLike) -> FloatArray:
    celsius = possible(temperature_c, "temperature_c", _TEMPERATURE_MEND, above=-ZERO_CELSIUS_K)
    return celsius + ZERO_CELSIUS_K


def _weather_temperature_k(temperature_c: ArrayLike) -> FloatArray:
    kelvin = _temperature_k(temperature_c)
    within(
        kelvin - ZERO_CELSIUS_K, "air temperature", -40.0, 60.0, "°C", "CIPM-2007 as checked here"
    )
    return kelvin


def _weather_pressure_pa(pressure_kpa: ArrayLike) -> FloatArray:
    pressure = possible(pressure_kpa, "pressure_kpa", _PRESSURE_MEND, above=0.0)
    within(pressure, "air pressure", 50.0, 110.0, "kPa", "CIPM-2007 as checked here")
    return pressure * 1000.0


def _saturation_pressure_pa(kelvin: FloatArray) -> FloatArray:
    return np.exp(
        1.2378847e-5 * kelvin**2 - 1.9121316e-2 * kelvin + 33.93711047 - 6343.1645 / kelvin
    )


def _vapour_mole_fraction(
    kelvin: FloatArray, pressure_pa: FloatArray, relative_humidity_pct: ArrayLike
) -> FloatArray:
    humidity = possible(
        relative_humidity_pct, "relative_humidity_pct", _HUMIDITY_MEND, at_least=0.0, at_most=100.0
    )
    celsius = kelvin - ZERO_CELSIUS_K
    enhancement = 1.00062 + 3.14e-8 * pressure_pa + 5.6e-7 * celsius**2
    return humidity / 100.0 * enhancement * _saturation_pressure_pa(kelvin) / pressure_pa
