"""Grip and rolling resistance of a knobbly tyre on soil, concrete, metal and hard dirt."""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike, NDArray

from setupadvisor.facts.categories import indices, look_up
from setupadvisor.facts.soil import TEXTURE_GROUPS
from setupadvisor.facts.valid_range import FloatArray, possible
from setupadvisor.facts.wheel_on_soil import (
    gross_traction_ratio,
    motion_resistance_ratio,
    wheel_numeric,
)

HARD_SURFACES = (
    "concrete_dry",
    "concrete_dusty",
    "concrete_damp",
    "concrete_wet",
    "concrete_muddy",
    "metal_grid_dry",
    "metal_grid_wet",
    "metal_grid_muddy",
    "hard_dirt_dry",
    "hard_dirt_dusty",
    "hard_dirt_damp",
    "hard_dirt_wet",
)

SURFACES = ("soil", *HARD_SURFACES)

# Peak grip of road tyres: concrete dry 0.8 to 0.9, wet 0.8; earth road dry 0.68, wet 0.55
# (Taborek 1957 as printed in Wong, Theory of Ground Vehicles, ch. 1; from memory). A knobbly tyre
# has a third of the rubber on the ground and tall knobs that fold, so concrete sits at the low end.
# Dust, mud, damp dirt and all metal rows: common practice, no source. "soil" is calculated.
_HARD_GRIP = np.array(
    [np.nan, 0.80, 0.60, 0.70, 0.60, 0.40, 0.65, 0.45, 0.35, 0.65, 0.55, 0.80, 0.50]
)
# Knobbly tyre on hard ground: common practice, no source.
_HARD_ROLLING = np.array([np.nan, *([0.03] * 8), *([0.04] * 4)])

# Water of a soil (available water %: 0 wilting point, 100 field capacity, 200 saturation) at
# which the two tables below give grip; straight lines between. Rows: TEXTURE_GROUPS. Common
# practice, no source, anchored at: earth road 0.68 dry and 0.55 wet (above); tan of sand's
# internal friction, 0.6 to 0.65 (Wong Table 2.3); tacky loam the best of all, near 1.
_WATER_PCT = np.array([0.0, 60.0, 100.0, 150.0, 200.0])
_GRIP_KNOBS_IN = np.array(
    [
        [0.65, 0.80, 0.85, 0.80, 0.65],
        [0.68, 0.94, 0.94, 0.78, 0.58],
        [0.70, 1.00, 0.92, 0.68, 0.48],
        [0.70, 0.98, 0.82, 0.55, 0.40],
    ]
)
_GRIP_KNOBS_ON_TOP = np.array(
    [
        [0.60, 0.70, 0.70, 0.65, 0.60],
        [0.62, 0.74, 0.72, 0.60, 0.52],
        [0.65, 0.76, 0.70, 0.50, 0.42],
        [0.65, 0.75, 0.64, 0.42, 0.32],
    ]
)
# A knob is about as big as a penetrometer's cone, and a rear wheel's load on the handful of
# knobs that carry it presses about as hard as ground of this cone index resists: softer ground
# lets knobs in, harder ground holds them on top.
_KNOB_PRESSURE_KPA = 1500.0
_KNOB_SHARPNESS = 4.0

# Slip at which a rider getting away still has the machine in hand (common practice, no source).
USABLE_SLIP = 0.3
# Limit of gross traction in Wismer & Luth 1974: what is left when it is divided out is how
# much of its grip a wheel gets on ground that yields.
_TRACTOR_LIMIT = 0.75


def _over_water(
    row: NDArray[np.intp], water: FloatArray, *tables: FloatArray
) -> tuple[FloatArray, ...]:
    """Interpolate a row of each table at `water`; NaN water is NaN."""
    known = np.minimum(np.maximum(water, _WATER_PCT[0]), _WATER_PCT[-1])
    left = np.searchsorted(_WATER_PCT[1:-1], known, side="right")  # NaN goes last
    share = (known - _WATER_PCT[left]) / (_WATER_PCT[left + 1] - _WATER_PCT[left])
    return tuple(
        table[row, left] + share * (table[row, left + 1] - table[row, left]) for table in tables
    )


def knobs_in_share(cone_index_kpa: ArrayLike) -> FloatArray:
    """Share of its height that a knob works in the ground instead of on it.

    Parameters
    ----------
    cone_index_kpa : array_like
        Cone index of the ground [kPa].

    Returns
    -------
    numpy.ndarray
        Share [-]: near 1 on soft ground, 0.5 at 1500 kPa, towards 0 on hard ground.

    Raises
    ------
    ImpossibleValue
        If the cone index is not above 0.

    Notes
    -----
    Common practice, no source: 1 / (1 + (CI / 1500 kPa)^4). A knob (150 to 300 mm2) is about a
    penetrometer cone's size (129 and 323 mm2, ASABE S313.3), so its pressure compares with the
    cone index: 1400 N on four to six knobs is 1 to 2 MPa.

    Examples
    --------
    >>> float(knobs_in_share(700).round(2))
    0.95
    """
    strength = possible(cone_index_kpa, "cone_index_kpa", "above 0 kPa", above=0.0)
    return np.asarray(1.0 / (1.0 + (strength / _KNOB_PRESSURE_KPA) ** _KNOB_SHARPNESS))


def soil_grip_coefficient(
    group: ArrayLike,
    available_water_pct: ArrayLike,
    cone_index_kpa: ArrayLike,
    *,
    wheel_load_n: ArrayLike,
    wheel_width_mm: ArrayLike,
    wheel_diameter_mm: ArrayLike,
) -> FloatArray:
    """Thrust over load that a driven knobbly tyre finds on soil.

    Parameters
    ----------
    group : array_like
        Code into `setupadvisor.facts.soil.TEXTURE_GROUPS`.
    available_water_pct : array_like
        Available water [%]: 0 wilting point, 100 field capacity, 200 saturation; drier and
        wetter count as the ends.
    cone_index_kpa : array_like
        Cone index of the ground [kPa].
    wheel_load_n : array_like
        Load on the wheel [N].
    wheel_width_mm, wheel_diameter_mm : array_like
        Section width and outside diameter of the tyre [mm].

    Returns
    -------
    numpy.ndarray
        Grip coefficient [-], before rolling resistance is taken off; NaN where any is missing.

    Raises
    ------
    ImpossibleValue
        If a code is unknown, or cone index, load or size are not above 0.

    Notes
    -----
    Grip = (knobs in x share in + knobs on top x share on top) x what yielding ground leaves.
    The two knob grips are tables over texture and water, the share is `knobs_in_share`, the
    last factor is gross traction of Wismer & Luth at 0.3 slip over its own limit of 0.75. So
    hard dry dirt is 0.6 to 0.7, tacky loam 0.9 to 1.0, deep soft sand near 0.4, wet soft clay
    0.2 to 0.4, with no steps between. Good to about 0.1 (common practice, no source).

    References
    ----------
    Wismer & Luth 1974, Transactions of the ASAE 17:8 (from memory); tables as noted beside them.

    Examples
    --------
    >>> loam = TEXTURE_GROUPS.index("medium")
    >>> float(soil_grip_coefficient(loam, 60, 800, wheel_load_n=1400,
    ...     wheel_width_mm=110, wheel_diameter_mm=640).round(2))
    0.96
    """
    row, missing = indices(group, len(TEXTURE_GROUPS), "group")
    water = np.where(missing, np.nan, np.asarray(available_water_pct, dtype=np.float64))
    row = np.broadcast_to(row, water.shape)
    share_in = knobs_in_share(cone_index_kpa)
    knobs_in, knobs_on_top = _over_water(row, water, _GRIP_KNOBS_IN, _GRIP_KNOBS_ON_TOP)
    knobs = share_in * knobs_in + (1.0 - share_in) * knobs_on_top
    numeric = wheel_numeric(cone_index_kpa, wheel_width_mm, wheel_diameter_mm, wheel_load_n)
    return np.asarray(knobs * gross_traction_ratio(numeric, USABLE_SLIP) / _TRACTOR_LIMIT)


def hard_grip_coefficient(surface: ArrayLike) -> FloatArray:
    """Thrust over load that a driven knobbly tyre finds on a hard surface.

    Parameters
    ----------
    surface : array_like
        Code into `SURFACES`.

    Returns
    -------
    numpy.ndarray
        Grip coefficient [-]; NaN for "soil", which is no hard surface, and where missing.

    Raises
    ------
    ImpossibleValue
        If a code is unknown.

    References
    ----------
    Taborek 1957 as printed in Wong, Theory of Ground Vehicles, chapter 1 (from memory), the
    rest common practice, no source.

    Examples
    --------
    >>> float(hard_grip_coefficient(SURFACES.index("concrete_dry")))
    0.8
    """
    return look_up(_HARD_GRIP, surface, "surface")


def grip_coefficient(
    surface: ArrayLike,
    group: ArrayLike = np.nan,
    available_water_pct: ArrayLike = np.nan,
    cone_index_kpa: ArrayLike = np.nan,
    *,
    wheel_load_n: ArrayLike = np.nan,
    wheel_width_mm: ArrayLike = np.nan,
    wheel_diameter_mm: ArrayLike = np.nan,
) -> FloatArray:
    """Thrust over load that a driven knobbly tyre finds on any surface.

    Parameters
    ----------
    surface : array_like
        Code into `SURFACES`; the other arguments matter for "soil" only.
    group : array_like, optional
        Code into `setupadvisor.facts.soil.TEXTURE_GROUPS`.
    available_water_pct : array_like, optional
        Available water [%]: 0 wilting point, 100 field capacity, 200 saturation.
    cone_index_kpa : array_like, optional
        Cone index of the ground [kPa].
    wheel_load_n : array_like, optional
        Load on the wheel [N].
    wheel_width_mm, wheel_diameter_mm : array_like, optional
        Section width and outside diameter of the tyre [mm].

    Returns
    -------
    numpy.ndarray
        Grip coefficient [-], before rolling resistance is taken off; NaN where the surface is
        missing, or is soil and one of its values is missing.

    Raises
    ------
    ImpossibleValue
        If a code is unknown, or cone index, load or size are not above 0.

    References
    ----------
    Hard surfaces: Taborek 1957 as printed in Wong, Theory of Ground Vehicles, chapter 1 (from
    memory), the rest common practice, no source. Soil: `soil_grip_coefficient`.

    Examples
    --------
    >>> float(grip_coefficient(SURFACES.index("concrete_dry")))
    0.8
    """
    code = np.asarray(surface, dtype=np.float64)
    hard = hard_grip_coefficient(code)
    soil = soil_grip_coefficient(
        group,
        available_water_pct,
        cone_index_kpa,
        wheel_load_n=wheel_load_n,
        wheel_width_mm=wheel_width_mm,
        wheel_diameter_mm=wheel_diameter_mm,
    )
    return np.where(code == 0.0, soil, hard)


def rolling_resistance_coefficient(
    surface: ArrayLike,
    cone_index_kpa: ArrayLike = np.nan,
    *,
    wheel_load_n: ArrayLike = np.nan,
    wheel_width_mm: ArrayLike = np.nan,
    wheel_diameter_mm: ArrayLike = np.nan,
) -> FloatArray:
    """Force to roll a wheel over its load, on any surface.

    Parameters
    ----------
    surface : array_like
        Code into `SURFACES`; the other arguments matter for "soil" only.
    cone_index_kpa : array_like, optional
        Cone index of the ground [kPa].
    wheel_load_n : array_like, optional
        Load on the wheel [N].
    wheel_width_mm, wheel_diameter_mm : array_like, optional
        Section width and outside diameter of the tyre [mm].

    Returns
    -------
    numpy.ndarray
        Rolling resistance coefficient [-]; NaN where the surface is missing, or is soil and
        one of its values is missing.

    Raises
    ------
    ImpossibleValue
        If a code is unknown, or cone index, load or size are not above 0.

    Warns
    -----
    OutsideValidRange
        If the ground is too soft for the load (wheel numeric below 5) and the surface is soil.

    References
    ----------
    Soil: Wismer & Luth 1974, Transactions of the ASAE 17:8 (from memory). Hard surfaces:
    common practice, no source.

    Examples
    --------
    >>> float(rolling_resistance_coefficient(0, 500, wheel_load_n=1400,
    ...     wheel_width_mm=110, wheel_diameter_mm=640).round(3))
    0.088
    """
    code = np.asarray(surface, dtype=np.float64)
    hard = look_up(_HARD_ROLLING, code, "surface")
    numeric = wheel_numeric(cone_index_kpa, wheel_width_mm, wheel_diameter_mm, wheel_load_n)
    soil = motion_resistance_ratio(np.where(code == 0.0, numeric, np.nan))
    return np.where(code == 0.0, soil, hard)
