"""Atmosphere: the pressure at an elevation, with or without a weather report.

Pressures are absolute and in kPa. A weather report and most barometers give pressure reduced to
sea level: put that through `station_pressure_kpa`, or 1000 m of elevation go unnoticed.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike

from setupadvisor.facts.valid_range import FloatArray, possible, within

# ISO 2533:1975, table 1 and clause 2
STANDARD_PRESSURE_KPA = 101.325
STANDARD_TEMPERATURE_K = 288.15
STANDARD_DENSITY_KG_PER_M3 = 1.225
GRAVITY_M_PER_S2 = 9.80665
DRY_AIR_GAS_CONSTANT_J_PER_KG_K = 287.05287
LAPSE_RATE_K_PER_M = 0.0065
EARTH_RADIUS_M = 6_356_766.0
ZERO_CELSIUS_K = 273.15

_PRESSURE_EXPONENT = GRAVITY_M_PER_S2 / (DRY_AIR_GAS_CONSTANT_J_PER_KG_K * LAPSE_RATE_K_PER_M)
_ELEVATION_MEND = "ground lies between -500 and 9000 m; check metres against feet"


def geopotential_height_m(elevation_m: ArrayLike) -> FloatArray:
    """Geopotential height of a geometric elevation (what a map or a GPS shows).

    Parameters
    ----------
    elevation_m : array_like
        Geometric elevation above mean sea level in m, any shape.

    Returns
    -------
    numpy.ndarray
        Geopotential height in m, same shape.

    Raises
    ------
    ImpossibleValue
        Below -500 m or above 9000 m, where there is no ground.

    Notes
    -----
    ISO 2533:1975, ``H = r h / (r + h)`` with the nominal earth radius r = 6 356 766 m.

    Examples
    --------
    >>> round(float(geopotential_height_m(2000.0)), 2)
    1999.37
    """
    elevation = possible(
        elevation_m, "elevation_m", _ELEVATION_MEND, at_least=-500.0, at_most=9000.0
    )
    return EARTH_RADIUS_M * elevation / (EARTH_RADIUS_M + elevation)


def standard_temperature_c(elevation_m: ArrayLike) -> FloatArray:
    """Temperature of the standard atmosphere at a geometric elevation.

    Parameters
    ----------
    elevation_m : array_like
        Geometric elevation above mean sea level in m, -500 to 9000, any shape.

    Returns
    -------
    numpy.ndarray
        Temperature in °C, same shape.

    Raises
    ------
    ImpossibleValue
        Below -500 m or above 9000 m, where there is no ground.

    Notes
    -----
    ISO 2533:1975: 15 °C at sea level, 6.5 K less for each 1000 m of geopotential height.

    Examples
    --------
    >>> round(float(standard_temperature_c(1000.0)), 3)
    8.501
    """
    return (
        STANDARD_TEMPERATURE_K
        - LAPSE_RATE_K_PER_M * geopotential_height_m(elevation_m)
        - ZERO_CELSIUS_K
    )


def standard_pressure_kpa(elevation_m: ArrayLike) -> FloatArray:
    """Pressure of the standard atmosphere at a geometric elevation (map, GPS).

    Parameters
    ----------
    elevation_m : array_like
        Geometric elevation above mean sea level in m, -500 to 9000, any shape.

    Returns
    -------
    numpy.ndarray
        Absolute pressure in kPa, same shape.

    Raises
    ------
    ImpossibleValue
        Below -500 m or above 9000 m, where there is no ground.

    See Also
    --------
    station_pressure_kpa : when a barometer or a weather report is at hand.

    Notes
    -----
    ISO 2533:1975. The weather of a day moves the real pressure by some 3 kPa either way.

    Examples
    --------
    >>> round(float(standard_pressure_kpa(1000.0)), 3)
    89.876
    """
    return standard_pressure_at_geopotential_kpa(geopotential_height_m(elevation_m))


def standard_pressure_at_geopotential_kpa(geopotential_m: ArrayLike) -> FloatArray:
    """Pressure of the standard atmosphere at a geopotential height.

    Parameters
    ----------
    geopotential_m : array_like
        Geopotential height in m, -500 to 9000, any shape.

    Returns
    -------
    numpy.ndarray
        Absolute pressure in kPa, same shape.

    Raises
    ------
    ImpossibleValue
        Below -500 m or above 9000 m, where there is no ground.

    Notes
    -----
    ISO 2533:1975, the layer with 6.5 K per 1000 m (up to 11 000 m).

    Examples
    --------
    >>> round(float(standard_pressure_at_geopotential_kpa(2000.0)), 4)
    79.4952
    """
    height = possible(
        geopotential_m, "geopotential_m", _ELEVATION_MEND, at_least=-500.0, at_most=9000.0
    )
    cooling = 1.0 - LAPSE_RATE_K_PER_M * height / STANDARD_TEMPERATURE_K
    return STANDARD_PRESSURE_KPA * cooling**_PRESSURE_EXPONENT


def station_pressure_kpa(
    sea_level_pressure_kpa: ArrayLike,
    elevation_m: ArrayLike,
    temperature_c: ArrayLike | None = None,
) -> FloatArray:
    """Pressure of the air at the track from a pressure reported "at sea level".

    Weather reports, telephones and most household barometers show pressure reduced to sea level,
    so that it reads about 101 kPa at any elevation. The engine breathes the pressure of the place.

    Parameters
    ----------
    sea_level_pressure_kpa : array_like
        The reported pressure in kPa.
    elevation_m : array_like
        Geometric elevation of the track in m, -500 to 9000.
    temperature_c : array_like, optional
        Air temperature at the track in °C. Given: undoes a weather service's reduction, which
        uses the day's temperature. Left out: undoes an airfield's altimeter setting (QNH), which
        uses the standard atmosphere.

    Returns
    -------
    numpy.ndarray
        Absolute pressure at the track in kPa, the inputs' broadcast shape.

    Raises
    ------
    ImpossibleValue
        For a pressure of 0 or less, an elevation without ground, or below absolute zero.

    Warns
    -----
    OutsideValidRange
        For a sea-level pressure outside 85 to 110 kPa (the weather of a whole century stays
        within 87 to 109), or outside -60 to 60 °C.

    Notes
    -----
    Hydrostatic law with the lapse rate of ISO 2533:1975, from the standard sea-level temperature
    or from the track's own temperature. At 1000 m and 30 °C the two differ by 0.8 kPa. Services
    differ in the temperature they take (often a 12-hour mean), worth about 0.1 kPa at 1000 m. A
    barometer set to read the pressure of the place beats both.

    Examples
    --------
    >>> round(float(station_pressure_kpa(101.325, 1000.0)), 3)
    89.876
    >>> round(float(station_pressure_kpa(101.325, 1000.0, 30.0)), 2)
    90.64
    """
    pressure = possible(
        sea_level_pressure_kpa,
        "sea_level_pressure_kpa",
        "an absolute air pressure is above 0 kPa",
        above=0.0,
    )
    within(pressure, "sea-level pressure", 85.0, 110.0, "kPa", "weather on this earth")
    warming = LAPSE_RATE_K_PER_M * geopotential_height_m(elevation_m)
    if temperature_c is None:
        at_sea_level = (pressure / STANDARD_PRESSURE_KPA) ** (1.0 / _PRESSURE_EXPONENT)
        cooling = at_sea_level - warming / STANDARD_TEMPERATURE_K
        return STANDARD_PRESSURE_KPA * (
            np.where(cooling > 0.0, cooling, np.nan) ** _PRESSURE_EXPONENT
        )
    celsius = possible(
        temperature_c,
        "temperature_c",
        "a temperature is above -273.15 °C",
        above=-ZERO_CELSIUS_K,
    )
    within(celsius, "air temperature", -60.0, 60.0, "°C", "reduction to sea level")
    temperature_k = celsius + ZERO_CELSIUS_K
    warmest_k = np.where(temperature_k + warming > 0.0, temperature_k + warming, np.nan)
    return pressure * (temperature_k / warmest_k) ** _PRESSURE_EXPONENT
