"""Front sag, preload, coil rate and air pressure, from loads and the fork's springs."""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike

from setupadvisor.facts.fork import (
    Fork,
    air_force_n,
    air_rate_n_per_mm,
    axis_cosine,
    coils,
    possible_stroke_mm,
)
from setupadvisor.facts.valid_range import FloatArray, possible

_NEWTON_STEPS = 8
"""From above on a force that curves upwards: 1e-9 mm after five, two spare."""


def front_sag_mm(load_n: ArrayLike, fork: Fork, rake_deg: ArrayLike) -> FloatArray:
    """Front sag under a load, along the fork.

    Parameters
    ----------
    load_n : array_like
        Sprung vertical load at the front wheel, N.
    fork : Fork
        The fork's springs.
    rake_deg : array_like
        Fork angle from the vertical, deg.

    Returns
    -------
    numpy.ndarray
        Stroke from full extension, mm; 0 where preload and air hold the load, the travel where
        they cannot.

    Notes
    -----
    Newton steps from above: coil alone and air alone both sag more than the two together, and
    the force curves upwards, so that every step stays above the answer and none overshoots.

    Examples
    --------
    >>> fork = Fork(4.8, 5.0, travel_mm=300.0, air_column_mm=420.0, bore_mm=43.0)
    >>> round(float(front_sag_mm(780.0, fork, 27.0)), 1)
    60.0
    """
    load = possible(load_n, "load_n", "a load is not below 0 N", at_least=0.0)
    rate, preload = coils(fork)
    travel = possible(fork.travel_mm, "travel_mm", "a fork's travel is above 0 mm", above=0.0)
    wanted = load * axis_cosine(rake_deg)
    with np.errstate(divide="ignore", invalid="ignore", over="ignore"):
        coil_alone = np.where(rate > 0.0, wanted / rate - preload, np.inf)
    start = np.fmin(coil_alone, _air_alone_mm(wanted, fork))
    # An unknown spring gives NaN in the force below; the start only has to be a number.
    sag = np.clip(np.nan_to_num(start, nan=0.0), 0.0, travel)
    for _ in range(_NEWTON_STEPS):
        force = rate * (preload + sag) + air_force_n(sag, fork)
        slope = rate + air_rate_n_per_mm(sag, fork)
        with np.errstate(divide="ignore", invalid="ignore"):
            sag = np.clip(sag - (force - wanted) / slope, 0.0, travel)
    return np.asarray(sag)


def _air_alone_mm(wanted_n: FloatArray, fork: Fork) -> FloatArray:
    """Stroke at which the air without any coil would carry a force along the fork."""
    legs = possible(fork.air_legs, "air_legs", "0 to 2 legs", at_least=0.0, at_most=2.0)
    column = possible(fork.air_column_mm, "air_column_mm", "longer than 0 mm", above=0.0)
    area = np.pi / 4.0 * np.asarray(fork.bore_mm, dtype=np.float64) ** 2
    ambient = np.asarray(fork.ambient_pressure_kpa, dtype=np.float64)
    start = ambient + np.asarray(fork.air_gauge_pressure_kpa, dtype=np.float64)
    with np.errstate(divide="ignore", invalid="ignore"):
        ratio = (wanted_n * 1e3 / (area * legs) + ambient) / start
        stroke = column * (1.0 - ratio ** (-1.0 / np.asarray(fork.exponent, dtype=np.float64)))
    return np.where(legs > 0.0, stroke, np.inf)


def front_preload_for_sag_mm(
    sag_mm: ArrayLike, load_n: ArrayLike, fork: Fork, rake_deg: ArrayLike
) -> FloatArray:
    """Coil preload of a leg that gives a wanted front sag.

    Parameters
    ----------
    sag_mm : array_like
        Wanted stroke under the load, mm.
    load_n : array_like
        Sprung vertical load at the front wheel, N.
    fork : Fork
        The fork's springs; its own preload is not used.
    rake_deg : array_like
        Fork angle from the vertical, deg.

    Returns
    -------
    numpy.ndarray
        Preload, mm; below 0 the springs are too stiff, NaN where there is no coil.

    Examples
    --------
    >>> fork = Fork(4.8, 5.0, travel_mm=300.0, air_column_mm=420.0, bore_mm=43.0)
    >>> round(float(front_preload_for_sag_mm(60.0, 780.0, fork, 27.0)), 1)
    5.0
    """
    rate, _ = coils(fork)
    stroke = possible_stroke_mm(sag_mm, fork)
    air = air_force_n(stroke, fork)
    left = np.asarray(load_n, dtype=np.float64) * axis_cosine(rake_deg) - air
    return np.asarray(left / np.where(rate > 0.0, rate, np.nan) - stroke)


def front_rate_for_sags_n_per_mm(
    race_sag_mm: ArrayLike,
    static_sag_mm: ArrayLike,
    *,
    race_load_n: ArrayLike,
    static_load_n: ArrayLike,
    fork: Fork,
    rake_deg: ArrayLike,
) -> FloatArray:
    """Coil rate of a leg with which race sag and static sag are both as wanted.

    Parameters
    ----------
    race_sag_mm, static_sag_mm : array_like
        Wanted stroke with and without the rider, mm.
    race_load_n, static_load_n : array_like
        Sprung vertical load at the front wheel with and without the rider, N.
    fork : Fork
        The fork; its own coil rate and preload are not used.
    rake_deg : array_like
        Fork angle from the vertical, deg.

    Returns
    -------
    numpy.ndarray
        Rate of one leg, N/mm; NaN where the race sag is not more than the static sag.

    Examples
    --------
    >>> fork = Fork(4.8, 5.0, travel_mm=300.0, air_column_mm=420.0, bore_mm=43.0)
    >>> rate = front_rate_for_sags_n_per_mm(
    ...     65.0, 30.0, race_load_n=830.0, static_load_n=430.0, fork=fork, rake_deg=27.0
    ... )
    >>> round(float(rate), 2)
    4.44
    """
    legs = possible(fork.spring_legs, "spring_legs", "0 to 2 legs", at_least=0.0, at_most=2.0)
    race, static = possible_stroke_mm(race_sag_mm, fork), possible_stroke_mm(static_sag_mm, fork)
    air = air_force_n(race, fork) - air_force_n(static, fork)
    more = np.asarray(race_load_n, dtype=np.float64) - np.asarray(static_load_n, dtype=np.float64)
    between = np.where((race > static) & (legs > 0.0), (race - static) * legs, np.nan)
    return np.asarray((more * axis_cosine(rake_deg) - air) / between)


def air_pressure_for_sag_kpa(
    sag_mm: ArrayLike, load_n: ArrayLike, fork: Fork, rake_deg: ArrayLike
) -> FloatArray:
    """Air pressure at full extension that gives a wanted front sag.

    Parameters
    ----------
    sag_mm : array_like
        Wanted stroke under the load, mm.
    load_n : array_like
        Sprung vertical load at the front wheel, N.
    fork : Fork
        The fork; its own air pressure is not used.
    rake_deg : array_like
        Fork angle from the vertical, deg.

    Returns
    -------
    numpy.ndarray
        Gauge pressure, kPa; NaN where no leg holds air. Stay inside the service manual's range.

    Examples
    --------
    >>> air_fork = Fork(0.0, 0.0, 300.0, 400.0, 37.0, spring_legs=0, air_legs=1)
    >>> round(float(air_pressure_for_sag_kpa(65.0, 830.0, air_fork, 27.0)))
    514
    """
    rate, preload = coils(fork)
    stroke = possible_stroke_mm(sag_mm, fork)
    legs = possible(fork.air_legs, "air_legs", "0 to 2 legs", at_least=0.0, at_most=2.0)
    area = np.pi / 4.0 * np.asarray(fork.bore_mm, dtype=np.float64) ** 2
    ambient = np.asarray(fork.ambient_pressure_kpa, dtype=np.float64)
    column = possible(fork.air_column_mm, "air_column_mm", "longer than 0 mm", above=0.0)
    left = possible(column - stroke, "air column left, mm", "longer than the stroke", above=0.0)
    wanted = np.asarray(load_n, dtype=np.float64) * axis_cosine(rake_deg) - rate * (
        preload + stroke
    )
    absolute = wanted * 1e3 / (area * np.where(legs > 0.0, legs, np.nan)) + ambient
    return np.asarray(absolute * (left / column) ** np.asarray(fork.exponent) - ambient)
