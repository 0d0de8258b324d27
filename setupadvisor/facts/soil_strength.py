"""Strength of the ground as a cone index: from a heel, from a penetrometer, after a change."""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike

from setupadvisor.facts.categories import look_up
from setupadvisor.facts.soil import TEXTURE_GROUPS
from setupadvisor.facts.valid_range import FloatArray, possible

# Cone index [kPa] of each word of entries.words.HEELS, a firm stamp with the heel of a boot: sinks
# more than 50 mm, 20 to 50 mm, dents 5 to 20 mm, marks less than 5 mm, no mark. Common practice,
# no source; an 80 kg person's stamp is 200 to 400 kPa under the heel, ground that just carries it
# measures about as much again.
_HEEL_LOW_KPA = np.array([70.0, 200.0, 450.0, 1000.0, 2000.0])
_HEEL_MID_KPA = np.array([140.0, 320.0, 700.0, 1500.0, 3000.0])
_HEEL_HIGH_KPA = np.array([250.0, 550.0, 1100.0, 2300.0, 5000.0])

# ASABE S313.3: 30 degree cones, 20.27 mm base for soft soils, 12.83 mm for hard soils.
SOFT_SOIL_CONE_MM = 20.27
HARD_SOIL_CONE_MM = 12.83

# Exponent b of CI ~ water^-b, by texture group: SM 1.1949, ML 1.565, CL 1.848 of Table 5.2.1
# in the US Army's SR-04-1 (after Sullivan et al. 1997), read in a published page; that sand
# strengthens with water as ^+0.815 (SP, SW) is that table's number with our reading of its sign.
_MOISTURE_EXPONENT = np.array([-0.815, 1.1949, 1.565, 1.848])
# Clean sand full of water has lost the pull between damp grains: half its best strength
# (common practice, no source).
_FLOODED_SAND = 0.5
# What a cone or a heel can still tell apart.
_WEAKEST_KPA, _STRONGEST_KPA = 20.0, 7000.0


def cone_index_from_heel_kpa(heel: ArrayLike) -> FloatArray:
    """Middle cone index of the ground that a stamped heel marks so.

    Parameters
    ----------
    heel : array_like
        Code into `setupadvisor.entries.words.HEELS`: sinks more than 50 mm, sinks 20 to
        50 mm, dents 5 to 20 mm, marks less than 5 mm, no mark.

    Returns
    -------
    numpy.ndarray
        Cone index [kPa].

    Raises
    ------
    ImpossibleValue
        If a code is unknown.

    Notes
    -----
    Common practice, no source. A penetrometer replaces it.

    Examples
    --------
    >>> from setupadvisor.entries.words import HEELS
    >>> float(cone_index_from_heel_kpa(HEELS.index("dents")))
    700.0
    """
    return look_up(_HEEL_MID_KPA, heel, "heel")


def cone_index_from_heel_low_kpa(heel: ArrayLike) -> FloatArray:
    """Weakest ground that a stamped heel would mark so.

    Parameters
    ----------
    heel : array_like
        Code into `setupadvisor.entries.words.HEELS`.

    Returns
    -------
    numpy.ndarray
        Cone index [kPa].

    Raises
    ------
    ImpossibleValue
        If a code is unknown.

    Notes
    -----
    Common practice, no source.

    Examples
    --------
    >>> from setupadvisor.entries.words import HEELS
    >>> float(cone_index_from_heel_low_kpa(HEELS.index("dents")))
    450.0
    """
    return look_up(_HEEL_LOW_KPA, heel, "heel")


def cone_index_from_heel_high_kpa(heel: ArrayLike) -> FloatArray:
    """Strongest ground that a stamped heel would mark so.

    Parameters
    ----------
    heel : array_like
        Code into `setupadvisor.entries.words.HEELS`.

    Returns
    -------
    numpy.ndarray
        Cone index [kPa].

    Raises
    ------
    ImpossibleValue
        If a code is unknown.

    Notes
    -----
    Common practice, no source.

    Examples
    --------
    >>> from setupadvisor.entries.words import HEELS
    >>> float(cone_index_from_heel_high_kpa(HEELS.index("dents")))
    1100.0
    """
    return look_up(_HEEL_HIGH_KPA, heel, "heel")


def cone_index_from_penetrometer_kpa(
    force_n: ArrayLike, cone_base_mm: ArrayLike = SOFT_SOIL_CONE_MM
) -> FloatArray:
    """Cone index from the force on a penetrometer pushed in slowly.

    Parameters
    ----------
    force_n : array_like
        Force on the cone [N], at about 30 mm/s.
    cone_base_mm : array_like, optional
        Diameter of the cone's base [mm]; the soft soil cone unless given.

    Returns
    -------
    numpy.ndarray
        Cone index [kPa].

    Raises
    ------
    ImpossibleValue
        If the force is below 0 N or the diameter not above 0 mm.

    References
    ----------
    ASABE S313.3, Soil cone penetrometer; EP542 for its use.

    Examples
    --------
    >>> round(float(cone_index_from_penetrometer_kpa(500)))
    1549
    """
    force = possible(force_n, "force_n", "a push is 0 N or more", at_least=0.0)
    base = possible(cone_base_mm, "cone_base_mm", "a cone is wider than 0 mm", above=0.0)
    return np.asarray(force / (np.pi / 4.0 * base**2) * 1000.0)


def _relative_strength(
    group: FloatArray, water: FloatArray, field_capacity: FloatArray, saturation: FloatArray
) -> FloatArray:
    """Strength at a water content, up to a factor that one soil's two states share."""
    exponent = look_up(_MOISTURE_EXPONENT, group, "group")
    damp = water / field_capacity
    power = damp**-exponent
    flood = np.clip((water - field_capacity) / (saturation - field_capacity), 0.0, 1.0)
    sand = np.where(damp <= 1.0, power, 1.0 - (1.0 - _FLOODED_SAND) * flood)
    return np.where(group == TEXTURE_GROUPS.index("coarse"), sand, power)


def cone_index_at_moisture_kpa(
    cone_index_kpa: ArrayLike,
    group: ArrayLike,
    volumetric_water_then: ArrayLike,
    volumetric_water_now: ArrayLike,
    *,
    field_capacity: ArrayLike,
    saturation: ArrayLike,
) -> FloatArray:
    """Cone index after the ground has dried or been wetted since it was measured.

    Parameters
    ----------
    cone_index_kpa : array_like
        Cone index as measured [kPa].
    group : array_like
        Code into `setupadvisor.facts.soil.TEXTURE_GROUPS`.
    volumetric_water_then, volumetric_water_now : array_like
        Water content when measured, and at the time asked for [m3/m3].
    field_capacity, saturation : array_like
        The soil's water contents [m3/m3].

    Returns
    -------
    numpy.ndarray
        Cone index [kPa], kept within 20 to 7000; the measured one where no water changed.

    Raises
    ------
    ImpossibleValue
        If the cone index or a water content is not above 0, or a code is unknown.

    Notes
    -----
    Soils with fines: CI is proportional to water^-b, so only b matters for the ratio of two
    states of one soil. Sand: strengthens to field capacity, then loses half its strength on
    the way to saturation. Density is taken as unchanged: ripping, packing and ruts are not in
    here, and water content stands for water by mass (same density, same ratio).

    References
    ----------
    Soil Moisture Strength Prediction model: Sullivan et al. 1997, coefficients as printed in
    US Army CRREL SR-04-1, Table 5.2.1; the form CI = exp(a - b ln MC) is from memory. A peak of
    strength at a middle moisture: Ayers & Perumpral 1982, Transactions of the ASAE 25:1169
    (from memory). The fall of flooded sand: common practice, no source.

    Examples
    --------
    >>> clay = TEXTURE_GROUPS.index("fine")
    >>> round(float(cone_index_at_moisture_kpa(1000, clay, 0.25, 0.35,
    ...     field_capacity=0.36, saturation=0.48)))
    537
    """
    measured = possible(
        cone_index_kpa, "cone_index_kpa", "ground resists with more than 0 kPa", above=0.0
    )
    mend = "ground holds more than 0 m3/m3 of water"
    then = possible(volumetric_water_then, "volumetric_water_then", mend, above=0.0)
    now = possible(volumetric_water_now, "volumetric_water_now", mend, above=0.0)
    drained = possible(field_capacity, "field_capacity", mend, above=0.0)
    full = np.asarray(saturation, dtype=np.float64)
    code = np.asarray(group, dtype=np.float64)
    with np.errstate(invalid="ignore", divide="ignore"):
        ratio = _relative_strength(code, now, drained, full) / _relative_strength(
            code, then, drained, full
        )
        changed = np.clip(measured * ratio, _WEAKEST_KPA, _STRONGEST_KPA)
    return np.where(now == then, np.where(np.isnan(ratio), np.nan, measured), changed)
