"""Water in the soil now: by the feel of a handful, as volume, as share of the pores."""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike

from setupadvisor.facts.categories import look_up
from setupadvisor.facts.valid_range import FloatArray, possible

# Available water [%] of each word of entries.words.MOISTURES: the method's four quarters and
# field capacity.
# "waterlogged" is ours: anywhere from field capacity (100) to saturation (200), halfway at best.
_FEEL_LOW_PCT = np.array([0.0, 25.0, 50.0, 75.0, 100.0, 100.0])
_FEEL_MID_PCT = np.array([12.5, 37.5, 62.5, 87.5, 100.0, 150.0])
_FEEL_HIGH_PCT = np.array([25.0, 50.0, 75.0, 100.0, 100.0, 200.0])


def available_water_from_feel_pct(feel: ArrayLike) -> FloatArray:
    """Middle of the available water that a handful's feel stands for.

    Parameters
    ----------
    feel : array_like
        Code into `setupadvisor.entries.words.MOISTURES`.

    Returns
    -------
    numpy.ndarray
        Available water [%]: 0 wilting point, 100 field capacity, 200 saturation.

    Raises
    ------
    ImpossibleValue
        If a code is unknown.

    Notes
    -----
    The method's own quarters; "waterlogged" at 150 is ours (common practice, no
    source). With practice the method is good to about 5 % of available water.

    References
    ----------
    USDA NRCS, Estimating Soil Moisture by Feel and Appearance (Program Aid 1619).

    Examples
    --------
    >>> from setupadvisor.entries.words import MOISTURES
    >>> float(available_water_from_feel_pct(MOISTURES.index("moist")))
    62.5
    """
    return look_up(_FEEL_MID_PCT, feel, "feel")


def available_water_from_feel_low_pct(feel: ArrayLike) -> FloatArray:
    """Least available water that a handful's feel stands for.

    Parameters
    ----------
    feel : array_like
        Code into `setupadvisor.entries.words.MOISTURES`.

    Returns
    -------
    numpy.ndarray
        Available water [%]: 0 wilting point, 100 field capacity, 200 saturation.

    Raises
    ------
    ImpossibleValue
        If a code is unknown.

    References
    ----------
    USDA NRCS, Estimating Soil Moisture by Feel and Appearance (Program Aid 1619).

    Examples
    --------
    >>> from setupadvisor.entries.words import MOISTURES
    >>> float(available_water_from_feel_low_pct(MOISTURES.index("moist")))
    50.0
    """
    return look_up(_FEEL_LOW_PCT, feel, "feel")


def available_water_from_feel_high_pct(feel: ArrayLike) -> FloatArray:
    """Most available water that a handful's feel stands for.

    Parameters
    ----------
    feel : array_like
        Code into `setupadvisor.entries.words.MOISTURES`.

    Returns
    -------
    numpy.ndarray
        Available water [%]: 0 wilting point, 100 field capacity, 200 saturation.

    Raises
    ------
    ImpossibleValue
        If a code is unknown.

    References
    ----------
    USDA NRCS, Estimating Soil Moisture by Feel and Appearance (Program Aid 1619).

    Examples
    --------
    >>> from setupadvisor.entries.words import MOISTURES
    >>> float(available_water_from_feel_high_pct(MOISTURES.index("moist")))
    75.0
    """
    return look_up(_FEEL_HIGH_PCT, feel, "feel")


def volumetric_water(
    available_water_pct: ArrayLike,
    wilting_point: ArrayLike,
    field_capacity: ArrayLike,
    saturation: ArrayLike,
) -> FloatArray:
    """Volumetric water of a soil from its available water.

    Parameters
    ----------
    available_water_pct : array_like
        Available water [%]: 0 wilting point, 100 field capacity, 200 saturation, straight
        lines between; below 0 drier than the wilting point.
    wilting_point, field_capacity, saturation : array_like
        The soil's water contents [m3/m3].

    Returns
    -------
    numpy.ndarray
        Volumetric water [m3/m3], never below 0.

    Raises
    ------
    ImpossibleValue
        If available water is above 200 % (wetter than full).

    Notes
    -----
    Up to 100 the usual definition of available water; the second hundred, from field capacity
    to saturation, is this project's so that one number holds the whole range.

    Examples
    --------
    >>> round(float(volumetric_water(50, 0.14, 0.28, 0.46)), 3)
    0.21
    """
    available = possible(
        available_water_pct, "available_water_pct", "200 % is a soil full of water", at_most=200.0
    )
    dry = np.asarray(wilting_point, dtype=np.float64)
    drained = np.asarray(field_capacity, dtype=np.float64)
    full = np.asarray(saturation, dtype=np.float64)
    below = dry + available / 100.0 * (drained - dry)
    above = drained + (available / 100.0 - 1.0) * (full - drained)
    return np.maximum(np.where(available <= 100.0, below, above), 0.0)


def available_water_pct(
    volumetric_water: ArrayLike,
    wilting_point: ArrayLike,
    field_capacity: ArrayLike,
    saturation: ArrayLike,
) -> FloatArray:
    """Available water of a soil from its volumetric water: the inverse of `volumetric_water`.

    Parameters
    ----------
    volumetric_water : array_like
        Volumetric water [m3/m3].
    wilting_point, field_capacity, saturation : array_like
        The soil's water contents [m3/m3], rising in this order.

    Returns
    -------
    numpy.ndarray
        Available water [%]: 0 wilting point, 100 field capacity, 200 saturation; below 0 drier
        than the wilting point. NaN where the three contents do not rise.

    Raises
    ------
    ImpossibleValue
        If volumetric water is below 0.

    Examples
    --------
    >>> round(float(available_water_pct(0.21, 0.14, 0.28, 0.46)), 3)
    50.0
    """
    water = possible(
        volumetric_water, "volumetric_water", "water content is 0 m3/m3 or more", at_least=0.0
    )
    dry = np.asarray(wilting_point, dtype=np.float64)
    drained = np.asarray(field_capacity, dtype=np.float64)
    full = np.asarray(saturation, dtype=np.float64)
    rising = (dry < drained) & (drained < full)
    with np.errstate(invalid="ignore", divide="ignore"):
        below = 100.0 * (water - dry) / (drained - dry)
        above = 100.0 + 100.0 * (water - drained) / (full - drained)
    return np.where(rising, np.where(water <= drained, below, above), np.nan)


def degree_of_saturation(volumetric_water: ArrayLike, saturation: ArrayLike) -> FloatArray:
    """Share of the pores that is filled with water.

    Parameters
    ----------
    volumetric_water : array_like
        Volumetric water [m3/m3].
    saturation : array_like
        Water content with every pore full [m3/m3].

    Returns
    -------
    numpy.ndarray
        Degree of saturation [-].

    Raises
    ------
    ImpossibleValue
        If volumetric water is below 0 or saturation not above 0.

    References
    ----------
    Definition, any soil mechanics text.

    Examples
    --------
    >>> float(degree_of_saturation(0.23, 0.46))
    0.5
    """
    water = possible(
        volumetric_water, "volumetric_water", "water content is 0 m3/m3 or more", at_least=0.0
    )
    full = possible(saturation, "saturation", "pores hold more than 0 m3/m3", above=0.0)
    return np.asarray(water / full)
