"""Water that a soil can hold and let through, from its sand, clay and organic matter."""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
from numpy.typing import ArrayLike

from setupadvisor.facts.valid_range import FloatArray, possible, within

_SAXTON_RAWLS = "the soil water equations of Saxton & Rawls 2006"
# The organic matter of the paper's Table 3; a race track's ground is seldom analysed for it.
_USUAL_ORGANIC_MATTER_PCT = 2.5


class WaterContents(NamedTuple):
    """What a soil holds at its three states, as volumetric water.

    Attributes
    ----------
    wilting_point, field_capacity, saturation : numpy.ndarray
        Water content [m3/m3].
    """

    wilting_point: FloatArray
    field_capacity: FloatArray
    saturation: FloatArray


def _parts(
    sand_pct: ArrayLike, clay_pct: ArrayLike, organic_matter_pct: ArrayLike
) -> tuple[FloatArray, FloatArray, FloatArray]:
    """Sand and clay as fractions, organic matter in per cent, each inside the paper's range."""
    mend = "a share of the soil is 0 to 100 %"
    sand = possible(sand_pct, "sand_pct", mend, at_least=0.0, at_most=100.0)
    clay = possible(clay_pct, "clay_pct", mend, at_least=0.0, at_most=100.0)
    possible(sand + clay, "sand_pct + clay_pct", "they sum to 100 % at most", at_most=100.0 + 1e-9)
    organic = possible(organic_matter_pct, "organic_matter_pct", mend, at_least=0.0, at_most=100.0)
    within(clay, "clay", 0.0, 60.0, "%", _SAXTON_RAWLS)
    within(organic, "organic matter", 0.0, 8.0, "%", _SAXTON_RAWLS)
    return sand / 100.0, clay / 100.0, organic


def _wilting_point(sand: FloatArray, clay: FloatArray, organic: FloatArray) -> FloatArray:
    first = (
        -0.024 * sand
        + 0.487 * clay
        + 0.006 * organic
        + 0.005 * sand * organic
        - 0.013 * clay * organic
        + 0.068 * sand * clay
        + 0.031
    )
    return np.asarray(first + (0.14 * first - 0.02))


def _field_capacity(sand: FloatArray, clay: FloatArray, organic: FloatArray) -> FloatArray:
    first = (
        -0.251 * sand
        + 0.195 * clay
        + 0.011 * organic
        + 0.006 * sand * organic
        - 0.027 * clay * organic
        + 0.452 * sand * clay
        + 0.299
    )
    return np.asarray(first + (1.283 * first**2 - 0.374 * first - 0.015))


def _saturation(
    sand: FloatArray, clay: FloatArray, organic: FloatArray, field_capacity: FloatArray
) -> FloatArray:
    first = (
        0.278 * sand
        + 0.034 * clay
        + 0.022 * organic
        - 0.018 * sand * organic
        - 0.027 * clay * organic
        - 0.584 * sand * clay
        + 0.078
    )
    drained = first + (0.636 * first - 0.107)
    return np.asarray(field_capacity + drained - 0.097 * sand + 0.043)


def wilting_point(
    sand_pct: ArrayLike,
    clay_pct: ArrayLike,
    organic_matter_pct: ArrayLike = _USUAL_ORGANIC_MATTER_PCT,
) -> FloatArray:
    """Water held at 1500 kPa suction: the dry end of available water.

    Parameters
    ----------
    sand_pct : array_like
        Sand [% of mass].
    clay_pct : array_like
        Clay [% of mass], 0 to 60.
    organic_matter_pct : array_like, optional
        Organic matter [% of mass], 0 to 8; 2.5 unless given.

    Returns
    -------
    numpy.ndarray
        Volumetric water [m3/m3].

    Raises
    ------
    ImpossibleValue
        If a share is outside 0 to 100 %.

    Warns
    -----
    OutsideValidRange
        If clay or organic matter is outside the paper's samples.

    References
    ----------
    Saxton & Rawls 2006, Soil Science Society of America Journal 70:1569, equation 1.

    Examples
    --------
    >>> round(float(wilting_point(20, 20)), 4)
    0.1365
    """
    return _wilting_point(*_parts(sand_pct, clay_pct, organic_matter_pct))


def field_capacity(
    sand_pct: ArrayLike,
    clay_pct: ArrayLike,
    organic_matter_pct: ArrayLike = _USUAL_ORGANIC_MATTER_PCT,
) -> FloatArray:
    """Water held at 33 kPa suction: what stays when free water has drained.

    Parameters
    ----------
    sand_pct : array_like
        Sand [% of mass].
    clay_pct : array_like
        Clay [% of mass], 0 to 60.
    organic_matter_pct : array_like, optional
        Organic matter [% of mass], 0 to 8; 2.5 unless given.

    Returns
    -------
    numpy.ndarray
        Volumetric water [m3/m3].

    Raises
    ------
    ImpossibleValue
        If a share is outside 0 to 100 %.

    Warns
    -----
    OutsideValidRange
        If clay or organic matter is outside the paper's samples.

    References
    ----------
    Saxton & Rawls 2006, Soil Science Society of America Journal 70:1569, equation 2.

    Examples
    --------
    >>> round(float(field_capacity(20, 20)), 4)
    0.3209
    """
    return _field_capacity(*_parts(sand_pct, clay_pct, organic_matter_pct))


def saturation(
    sand_pct: ArrayLike,
    clay_pct: ArrayLike,
    organic_matter_pct: ArrayLike = _USUAL_ORGANIC_MATTER_PCT,
) -> FloatArray:
    """Water held when every pore is full.

    Parameters
    ----------
    sand_pct : array_like
        Sand [% of mass].
    clay_pct : array_like
        Clay [% of mass], 0 to 60.
    organic_matter_pct : array_like, optional
        Organic matter [% of mass], 0 to 8; 2.5 unless given.

    Returns
    -------
    numpy.ndarray
        Volumetric water [m3/m3].

    Raises
    ------
    ImpossibleValue
        If a share is outside 0 to 100 %.

    Warns
    -----
    OutsideValidRange
        If clay or organic matter is outside the paper's samples.

    References
    ----------
    Saxton & Rawls 2006, Soil Science Society of America Journal 70:1569, equations 3 and 5.

    Examples
    --------
    >>> round(float(saturation(20, 20)), 4)
    0.4821
    """
    sand, clay, organic = _parts(sand_pct, clay_pct, organic_matter_pct)
    return _saturation(sand, clay, organic, _field_capacity(sand, clay, organic))


def water_contents(
    sand_pct: ArrayLike,
    clay_pct: ArrayLike,
    organic_matter_pct: ArrayLike = _USUAL_ORGANIC_MATTER_PCT,
) -> WaterContents:
    """Wilting point, field capacity and saturation at once.

    Parameters
    ----------
    sand_pct : array_like
        Sand [% of mass].
    clay_pct : array_like
        Clay [% of mass], 0 to 60.
    organic_matter_pct : array_like, optional
        Organic matter [% of mass], 0 to 8; 2.5 unless given.

    Returns
    -------
    WaterContents
        The three of `wilting_point`, `field_capacity` and `saturation`.

    Raises
    ------
    ImpossibleValue
        If a share is outside 0 to 100 %.

    Warns
    -----
    OutsideValidRange
        If clay or organic matter is outside the paper's samples.

    References
    ----------
    Saxton & Rawls 2006, Soil Science Society of America Journal 70:1569, equations 1 to 5.

    Examples
    --------
    >>> [round(float(content), 3) for content in water_contents(20, 20)]
    [0.137, 0.321, 0.482]
    """
    sand, clay, organic = _parts(sand_pct, clay_pct, organic_matter_pct)
    drained = _field_capacity(sand, clay, organic)
    return WaterContents(
        _wilting_point(sand, clay, organic), drained, _saturation(sand, clay, organic, drained)
    )


def saturated_conductivity_mm_per_h(
    sand_pct: ArrayLike,
    clay_pct: ArrayLike,
    organic_matter_pct: ArrayLike = _USUAL_ORGANIC_MATTER_PCT,
) -> FloatArray:
    """How fast water runs through the soil when every pore is full.

    Parameters
    ----------
    sand_pct : array_like
        Sand [% of mass].
    clay_pct : array_like
        Clay [% of mass], 0 to 60.
    organic_matter_pct : array_like, optional
        Organic matter [% of mass], 0 to 8; 2.5 unless given.

    Returns
    -------
    numpy.ndarray
        Saturated conductivity [mm/h]; NaN where the equations leave no pores to drain.

    Raises
    ------
    ImpossibleValue
        If a share is outside 0 to 100 %.

    Warns
    -----
    OutsideValidRange
        If clay or organic matter is outside the paper's samples.

    Notes
    -----
    For soil of usual density. A packed track drains slower, a freshly ripped one faster.

    References
    ----------
    Saxton & Rawls 2006, Soil Science Society of America Journal 70:1569, equations 15, 16, 18.

    Examples
    --------
    >>> round(float(saturated_conductivity_mm_per_h(40, 20)), 1)
    15.5
    """
    sand, clay, organic = _parts(sand_pct, clay_pct, organic_matter_pct)
    dry = _wilting_point(sand, clay, organic)
    drained = _field_capacity(sand, clay, organic)
    full = _saturation(sand, clay, organic, drained)
    with np.errstate(invalid="ignore", divide="ignore"):
        slope = (np.log(drained) - np.log(dry)) / (np.log(1500.0) - np.log(33.0))
        return np.asarray(1930.0 * (full - drained) ** (3.0 - slope))
