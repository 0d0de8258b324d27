"""Drying and watering of the track's top layer over some hours."""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike

from setupadvisor.entries import words
from setupadvisor.facts.categories import look_up
from setupadvisor.facts.valid_range import FloatArray, possible, within

SKIES = words.SKIES

# Share of possible sunshine hours of each sky (common practice, no source).
_SUNSHINE_SHARE = np.array([1.0, 0.5, 0.0])

# Sun on level ground with no cloud, mean of the hours around noon in the racing season of the
# middle latitudes [W/m2] (common practice, no source); 0 at night.
USUAL_CLEAR_SKY_W_PER_M2 = 800.0

_STEFAN_BOLTZMANN_MJ_PER_H = 4.903e-9 / 24.0  # FAO-56, hourly [MJ/(K4 m2 h)]
_ALBEDO = 0.23  # FAO-56 reference surface; moist bare ground is near it
# Evaporation of wet bare ground over the reference: FAO-56 chapters 6 and 7 (from memory).
_WET_GROUND_FACTOR = 1.15
# Share of the evaporable water that leaves at the full rate: mean of REW / TEW over the soils
# of FAO-56 Table 19 (from memory), 0.39 for clay to 0.52 for loamy sand.
_READILY_EVAPORABLE_SHARE = 0.45


def sunshine_share(sky: ArrayLike) -> FloatArray:
    """Share of possible sunshine under a sky as seen.

    Parameters
    ----------
    sky : array_like
        Code into `SKIES`.

    Returns
    -------
    numpy.ndarray
        Share of possible sunshine [-], 0 to 1.

    Raises
    ------
    ImpossibleValue
        If a code is unknown.

    Notes
    -----
    Common practice, no source.

    Examples
    --------
    >>> float(sunshine_share(SKIES.index("partly_cloudy")))
    0.5
    """
    return look_up(_SUNSHINE_SHARE, sky, "sky")


def _saturation_vapour_kpa(temperature_c: FloatArray) -> FloatArray:
    return np.asarray(0.6108 * np.exp(17.27 * temperature_c / (temperature_c + 237.3)))


def evaporation_mm_per_h(
    temperature_c: ArrayLike,
    relative_humidity_pct: ArrayLike,
    wind_m_per_s: ArrayLike,
    sunshine: ArrayLike,
    *,
    clear_sky_w_per_m2: ArrayLike = USUAL_CLEAR_SKY_W_PER_M2,
    pressure_kpa: ArrayLike = 101.325,
) -> FloatArray:
    """Evaporation that the weather would draw from a well watered surface.

    Parameters
    ----------
    temperature_c : array_like
        Air temperature [°C].
    relative_humidity_pct : array_like
        Relative humidity [%].
    wind_m_per_s : array_like
        Wind at 2 m height [m/s].
    sunshine : array_like
        Share of possible sunshine [-], 0 to 1; see `sunshine_share`.
    clear_sky_w_per_m2 : array_like, optional
        Sun on level ground under a cloudless sky [W/m2]; 800 unless given, 0 at night.
    pressure_kpa : array_like, optional
        Air pressure [kPa].

    Returns
    -------
    numpy.ndarray
        Reference evaporation [mm/h], 0 where the formula gives dew.

    Raises
    ------
    ImpossibleValue
        If humidity or sunshine is outside its range, or wind, sun or pressure are negative.

    Warns
    -----
    OutsideValidRange
        If the temperature is outside -5 to 50 °C.

    Notes
    -----
    Chosen over temperature-only formulas because over some hours sun, wind and dry air
    decide, and a crew chief can see all three.

    References
    ----------
    FAO Irrigation and Drainage Paper 56 (Allen et al. 1998): hourly equation 53, radiation
    equations 35 to 40, from memory.

    Examples
    --------
    >>> round(float(evaporation_mm_per_h(25, 50, 2.0, 1.0)), 2)
    0.54
    """
    temperature = within(
        temperature_c, "air temperature", -5.0, 50.0, "°C", "the FAO-56 evaporation formula"
    )
    humidity = possible(
        relative_humidity_pct, "relative_humidity_pct", "0 to 100 %", at_least=0.0, at_most=100.0
    )
    wind = possible(wind_m_per_s, "wind_m_per_s", "0 m/s or more", at_least=0.0)
    share = possible(sunshine, "sunshine", "a share from 0 to 1", at_least=0.0, at_most=1.0)
    clear = possible(clear_sky_w_per_m2, "clear_sky_w_per_m2", "0 W/m2 or more", at_least=0.0)
    pressure = possible(pressure_kpa, "pressure_kpa", "air pressure is above 0 kPa", above=0.0)

    full_vapour = _saturation_vapour_kpa(temperature)
    vapour = full_vapour * humidity / 100.0
    slope = 4098.0 * full_vapour / (temperature + 237.3) ** 2
    psychrometric = 0.665e-3 * pressure
    cloud_ratio = (0.25 + 0.5 * share) / 0.75
    sun = clear * 0.0036 * cloud_ratio
    long_wave = (
        _STEFAN_BOLTZMANN_MJ_PER_H
        * (temperature + 273.16) ** 4
        * (0.34 - 0.14 * np.sqrt(vapour))
        * (1.35 * cloud_ratio - 0.35)
    )
    net = (1.0 - _ALBEDO) * sun - long_wave
    into_ground = np.where(clear > 0.0, 0.1, 0.5) * net
    reference = (
        0.408 * slope * (net - into_ground)
        + psychrometric * 37.0 / (temperature + 273.0) * wind * (full_vapour - vapour)
    ) / (slope + psychrometric * (1.0 + 0.34 * wind))
    return np.maximum(reference, 0.0)


def volumetric_water_after_hours(
    volumetric_water: ArrayLike,
    hours: ArrayLike,
    evaporation_mm_per_h: ArrayLike,
    water_added_mm: ArrayLike,
    *,
    wilting_point: ArrayLike,
    field_capacity: ArrayLike,
    saturation: ArrayLike,
    saturated_conductivity_mm_per_h: ArrayLike,
    layer_depth_mm: ArrayLike = 100.0,
) -> FloatArray:
    """Water in the top layer some hours on, with sun and wind, watering and rain.

    Parameters
    ----------
    volumetric_water : array_like
        Water content now [m3/m3].
    hours : array_like
        How far ahead [h].
    evaporation_mm_per_h : array_like
        What the weather would draw from a well watered surface [mm/h].
    water_added_mm : array_like
        Watering and rain together, as if all came at the start [mm].
    wilting_point, field_capacity, saturation : array_like
        The soil's water contents [m3/m3].
    saturated_conductivity_mm_per_h : array_like
        Drainage of the full soil [mm/h].
    layer_depth_mm : array_like, optional
        Depth of the layer looked at [mm]; 100 unless given.

    Returns
    -------
    numpy.ndarray
        Water content then [m3/m3], from half the wilting point to saturation.

    Raises
    ------
    ImpossibleValue
        If hours, evaporation, water added or conductivity are negative, or the depth not above 0.

    Warns
    -----
    OutsideValidRange
        If the layer is thinner than 50 mm or deeper than 150 mm.

    Notes
    -----
    One bucket, in this order: water added fills it to saturation and the rest runs off; what
    stands above field capacity drains with the time constant (saturation - field capacity) x
    depth / conductivity; then the sun takes water at the full rate until 45 % of what can
    evaporate is gone, and from there ever slower, towards half the wilting point. Water from
    below, standing puddles and packed ruts are not in here.

    References
    ----------
    FAO Irrigation and Drainage Paper 56 (Allen et al. 1998), chapter 7, equations 73 and 74,
    and the storage routing of the SWAT theory documentation (Neitsch et al. 2011, 2:3.2); both
    from memory. A range of 50 to 150 mm for the layer is ours, about FAO-56's 100 to 150 mm.

    Examples
    --------
    >>> loam = {"wilting_point": 0.14, "field_capacity": 0.28, "saturation": 0.46}
    >>> round(float(volumetric_water_after_hours(0.25, 4, 0.5, 0, **loam,
    ...     saturated_conductivity_mm_per_h=15.5)), 3)
    0.227
    """
    span = possible(hours, "hours", "0 h or more", at_least=0.0)
    weather = possible(evaporation_mm_per_h, "evaporation_mm_per_h", "0 mm/h or more", at_least=0.0)
    added = possible(water_added_mm, "water_added_mm", "0 mm or more", at_least=0.0)
    conductivity = possible(
        saturated_conductivity_mm_per_h,
        "saturated_conductivity_mm_per_h",
        "0 mm/h or more",
        at_least=0.0,
    )
    depth = possible(layer_depth_mm, "layer_depth_mm", "a layer is thicker than 0 mm", above=0.0)
    within(depth, "layer depth", 50.0, 150.0, "mm", "the drying bucket")
    full = np.asarray(saturation, dtype=np.float64) * depth
    drained = np.asarray(field_capacity, dtype=np.float64) * depth
    driest = 0.5 * np.asarray(wilting_point, dtype=np.float64) * depth
    start = np.clip(np.asarray(volumetric_water, dtype=np.float64) * depth, driest, full)

    wetted = np.minimum(start + added, full)
    with np.errstate(invalid="ignore", divide="ignore"):
        stays = np.exp(-span * conductivity / (full - drained))
    settled = np.where(wetted > drained, drained + (wetted - drained) * stays, wetted)

    rate = _WET_GROUND_FACTOR * weather
    evaporable = drained - driest
    knee = drained - _READILY_EVAPORABLE_SHARE * evaporable
    slow_store = knee - driest
    # A rate near 0 overflows to hours without end, which `span` then cuts off.
    with np.errstate(invalid="ignore", divide="ignore", over="ignore"):
        full_rate_hours = np.minimum(span, np.maximum(settled - knee, 0.0) / rate)
        full_rate_hours = np.where(rate > 0.0, full_rate_hours, 0.0 * rate)
        at_knee = settled - rate * full_rate_hours
        slow_hours = span - full_rate_hours
        left = driest + (at_knee - driest) * np.exp(-rate * slow_hours / slow_store)
        water = np.where(at_knee > knee, at_knee, left)
    return np.asarray(np.clip(water, driest, full) / depth)
