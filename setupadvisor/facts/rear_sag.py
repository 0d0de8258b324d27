"""Rear sag, preload and the choice of a shock spring, from loads and the linkage."""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
from numpy.typing import ArrayLike

from setupadvisor.facts.suspension import Linkage, motion_ratio_at, shock_stroke_mm
from setupadvisor.facts.valid_range import FloatArray, possible

_NEWTON_STEPS = 8
"""Enough for 1e-9 mm: each step inside one straight piece of the curve doubles the digits."""

_LAST_STEP_MM = 1e-7


class RateWindow(NamedTuple):
    """Spring rates between which wanted sags can be met.

    Attributes
    ----------
    low_n_per_mm, high_n_per_mm : numpy.ndarray
        Softest and stiffest rate, N/mm.
    """

    low_n_per_mm: FloatArray
    high_n_per_mm: FloatArray


class SpringChoice(NamedTuple):
    """A spring from the shelf with its preload and the sags that follow.

    Attributes
    ----------
    spring_rate_n_per_mm, preload_mm, race_sag_mm, static_sag_mm : numpy.ndarray
        The choice and what it gives.
    fits : numpy.ndarray of bool
        Whether the wanted race sag is met within half a millimetre and the static sag stands
        inside its window.
    """

    spring_rate_n_per_mm: FloatArray
    preload_mm: FloatArray
    race_sag_mm: FloatArray
    static_sag_mm: FloatArray
    fits: np.ndarray[tuple[int, ...], np.dtype[np.bool_]]


def rear_sag_mm(
    load_n: ArrayLike, spring_rate_n_per_mm: ArrayLike, preload_mm: ArrayLike, curve: Linkage
) -> FloatArray:
    """Rear sag under a load: race sag with the rider's load, static sag with the machine's.

    Parameters
    ----------
    load_n : array_like
        Sprung load at the rear wheel, N.
    spring_rate_n_per_mm : array_like
        Shock spring rate, N/mm.
    preload_mm : array_like
        Preload, mm.
    curve : Linkage
        The machine's linkage.

    Returns
    -------
    numpy.ndarray
        Wheel travel from topped out, mm; 0 where the preload alone holds the load, the full
        travel where the spring cannot.

    Notes
    -----
    Solves ``rate (preload + stroke) ratio = load``: the piece of the curve by counting, the
    place in the piece by Newton steps kept inside their bracket. Friction is left out: measure
    sag twice, coming from above and from below, and take the middle (common practice, no
    source).

    Examples
    --------
    >>> from setupadvisor.facts.suspension import linkage
    >>> arm = linkage([0.0, 300.0], [0.40, 0.50])
    >>> rear_sag_mm([1050.0, 420.0], 48.0, 8.0, arm).round(1).tolist()
    [101.7, 32.8]
    """
    load = possible(load_n, "load_n", "a load is not below 0 N", at_least=0.0)
    rate = possible(
        spring_rate_n_per_mm, "spring_rate_n_per_mm", "a spring rate is above 0 N/mm", above=0.0
    )
    preload = possible(
        preload_mm, "preload_mm", "preload is not below 0 mm; take a softer spring", at_least=0.0
    )
    wanted, preload = np.broadcast_arrays(load / rate, preload)
    stroke, ratio, travel = curve.shock_stroke_mm, curve.motion_ratio, curve.wheel_travel_mm
    # The load rises along the curve: how many of its points carry less tells the piece.
    at_points = (preload[..., None] + stroke) * ratio
    low = np.count_nonzero(at_points[..., 1:] <= wanted[..., None], axis=-1)
    piece = np.minimum(low, travel.size - 2)
    past = _past_start_of_piece(wanted, preload + stroke[piece], piece, curve)
    sag = travel[piece] + past
    sag = np.where(preload * ratio[0] >= wanted, 0.0, sag)
    sag = np.where((preload + stroke[-1]) * ratio[-1] <= wanted, travel[-1], sag)
    return np.where(np.isnan(wanted) | np.isnan(preload), np.nan, sag)


def _past_start_of_piece(
    wanted: FloatArray,
    compressed: FloatArray,
    piece: np.ndarray[tuple[int, ...], np.dtype[np.intp]],
    curve: Linkage,
) -> FloatArray:
    """Travel past a piece's start at which spring compression times ratio is as wanted."""
    width = np.diff(curve.wheel_travel_mm)[piece]
    first, last = curve.motion_ratio[piece], curve.motion_ratio[piece + 1]
    slope = (last - first) / width
    at_first = compressed * first
    at_last = (compressed + (first + last) / 2.0 * width) * last
    low, high = np.zeros_like(wanted), width
    with np.errstate(divide="ignore", invalid="ignore"):
        # The straight line between the piece's ends is all but the answer.
        past = np.minimum(np.maximum(width * (wanted - at_first) / (at_last - at_first), low), high)
        for _ in range(_NEWTON_STEPS):
            ratio = first + slope * past
            length = compressed + (first + ratio) / 2.0 * past
            excess = length * ratio - wanted
            above = excess > 0.0
            high, low = np.where(above, past, high), np.where(above, low, past)
            step = past - excess / (ratio**2 + length * slope)
            before, past = past, np.minimum(np.maximum(step, low), high)
            # Digits double with a step: the next one would change nothing.
            if not np.count_nonzero(np.abs(past - before) > _LAST_STEP_MM):
                break
    return np.asarray(past)


def rear_preload_for_sag_mm(
    race_sag_mm: ArrayLike, load_n: ArrayLike, spring_rate_n_per_mm: ArrayLike, curve: Linkage
) -> FloatArray:
    """Preload that gives a wanted race sag.

    Parameters
    ----------
    race_sag_mm : array_like
        Wanted wheel travel under the load, mm.
    load_n : array_like
        Sprung load at the rear wheel with the rider, N.
    spring_rate_n_per_mm : array_like
        Shock spring rate, N/mm.
    curve : Linkage
        The machine's linkage.

    Returns
    -------
    numpy.ndarray
        Preload, mm. Below 0 no preload gives this sag: the spring is too stiff for the load.

    Examples
    --------
    >>> from setupadvisor.facts.suspension import linkage
    >>> arm = linkage([0.0, 300.0], [0.40, 0.50])
    >>> round(float(rear_preload_for_sag_mm(105.0, 1050.0, 48.0, arm)), 2)
    6.45
    """
    rate = possible(
        spring_rate_n_per_mm, "spring_rate_n_per_mm", "a spring rate is above 0 N/mm", above=0.0
    )
    load = np.asarray(load_n, dtype=np.float64)
    ratio = motion_ratio_at(race_sag_mm, curve)
    return np.asarray(load / (rate * ratio) - shock_stroke_mm(race_sag_mm, curve))


def rear_rate_for_sags_n_per_mm(
    race_sag_mm: ArrayLike,
    static_sag_mm: ArrayLike,
    race_load_n: ArrayLike,
    static_load_n: ArrayLike,
    curve: Linkage,
) -> FloatArray:
    """Spring rate with which race sag and static sag are both as wanted.

    Parameters
    ----------
    race_sag_mm, static_sag_mm : array_like
        Wanted wheel travel with and without the rider, mm.
    race_load_n, static_load_n : array_like
        Sprung load at the rear wheel with and without the rider, N.
    curve : Linkage
        The machine's linkage.

    Returns
    -------
    numpy.ndarray
        Spring rate, N/mm; NaN where the race sag is not more than the static sag.

    Notes
    -----
    Two equations, rate and preload unknown: the rate is the difference of the spring forces
    over the difference of the strokes. Less static sag at the same race sag asks for a
    softer spring with more preload.

    Examples
    --------
    >>> from setupadvisor.facts.suspension import linkage
    >>> arm = linkage([0.0, 300.0], [0.40, 0.50])
    >>> round(float(rear_rate_for_sags_n_per_mm(105.0, 35.0, 1050.0, 420.0, arm)), 1)
    47.0
    """
    race, static = (np.asarray(sag, dtype=np.float64) for sag in (race_sag_mm, static_sag_mm))
    race_force = np.asarray(race_load_n, dtype=np.float64) / motion_ratio_at(race, curve)
    static_force = np.asarray(static_load_n, dtype=np.float64) / motion_ratio_at(static, curve)
    between = shock_stroke_mm(race, curve) - shock_stroke_mm(static, curve)
    between = np.where(between > 0.0, between, np.nan)
    return np.asarray((race_force - static_force) / between)


def rear_rate_window_n_per_mm(
    *,
    race_sag_low_mm: ArrayLike,
    race_sag_high_mm: ArrayLike,
    static_sag_low_mm: ArrayLike,
    static_sag_high_mm: ArrayLike,
    race_load_n: ArrayLike,
    static_load_n: ArrayLike,
    curve: Linkage,
) -> RateWindow:
    """Spring rates that can meet a window of race sag and a window of static sag.

    Parameters
    ----------
    race_sag_low_mm, race_sag_high_mm : array_like
        Window of the wheel travel with the rider, mm.
    static_sag_low_mm, static_sag_high_mm : array_like
        Window of the wheel travel without the rider, mm.
    race_load_n, static_load_n : array_like
        Sprung load at the rear wheel with and without the rider, N.
    curve : Linkage
        The machine's linkage.

    Returns
    -------
    RateWindow
        Softest and stiffest rate, from the four corners of the two windows, N/mm.

    Examples
    --------
    >>> from setupadvisor.facts.suspension import linkage
    >>> arm = linkage([0.0, 300.0], [0.40, 0.50])
    >>> window = rear_rate_window_n_per_mm(
    ...     race_sag_low_mm=103.0,
    ...     race_sag_high_mm=107.0,
    ...     static_sag_low_mm=30.0,
    ...     static_sag_high_mm=40.0,
    ...     race_load_n=1050.0,
    ...     static_load_n=420.0,
    ...     curve=arm,
    ... )
    >>> round(float(window.low_n_per_mm), 1), round(float(window.high_n_per_mm), 1)
    (42.6, 52.5)
    """
    corners = [
        rear_rate_for_sags_n_per_mm(race, static, race_load_n, static_load_n, curve)
        for race in (race_sag_low_mm, race_sag_high_mm)
        for static in (static_sag_low_mm, static_sag_high_mm)
    ]
    stacked = np.stack(np.broadcast_arrays(*corners))
    return RateWindow(np.min(stacked, axis=0), np.max(stacked, axis=0))


def choose_rear_spring(
    shelf_rates_n_per_mm: ArrayLike,
    *,
    race_load_n: ArrayLike,
    static_load_n: ArrayLike,
    race_sag_mm: ArrayLike,
    static_sag_low_mm: ArrayLike,
    static_sag_high_mm: ArrayLike,
    preload_low_mm: ArrayLike,
    preload_high_mm: ArrayLike,
    curve: Linkage,
) -> SpringChoice:
    """Choose the spring on the shelf that serves wanted race sag and static sag best.

    Parameters
    ----------
    shelf_rates_n_per_mm : array_like, shape (springs,)
        Rates on the shelf, N/mm.
    race_load_n, static_load_n : array_like
        Sprung load at the rear wheel with and without the rider, N.
    race_sag_mm : array_like
        Wanted race sag, mm.
    static_sag_low_mm, static_sag_high_mm : array_like
        Window of the static sag, mm.
    preload_low_mm, preload_high_mm : array_like
        What the adjuster allows, mm.
    curve : Linkage
        The machine's linkage.

    Returns
    -------
    SpringChoice
        Shaped like the rows; NaN and not fitting where a load or a wish is missing.

    Notes
    -----
    Each spring gets the preload for the race sag, cut to what the adjuster allows. Chosen is
    the one with the least miss of the race sag plus miss of the static window, and among those
    that miss nothing the one nearest the window's middle.

    Examples
    --------
    >>> from setupadvisor.facts.suspension import linkage
    >>> arm = linkage([0.0, 300.0], [0.40, 0.50])
    >>> best = choose_rear_spring(
    ...     [42.0, 45.0, 48.0, 51.0],
    ...     race_load_n=1050.0,
    ...     static_load_n=420.0,
    ...     race_sag_mm=105.0,
    ...     static_sag_low_mm=30.0,
    ...     static_sag_high_mm=40.0,
    ...     preload_low_mm=3.0,
    ...     preload_high_mm=18.0,
    ...     curve=arm,
    ... )
    >>> float(best.spring_rate_n_per_mm), round(float(best.static_sag_mm), 1), bool(best.fits)
    (48.0, 36.4, True)
    """
    shelf = np.atleast_1d(np.asarray(shelf_rates_n_per_mm, dtype=np.float64))
    race_load, static_load, wanted, low, high, least, most = (
        np.asarray(value, dtype=np.float64)[..., None]
        for value in (
            race_load_n,
            static_load_n,
            race_sag_mm,
            static_sag_low_mm,
            static_sag_high_mm,
            preload_low_mm,
            preload_high_mm,
        )
    )
    preload = np.clip(rear_preload_for_sag_mm(wanted, race_load, shelf, curve), least, most)
    race = rear_sag_mm(race_load, shelf, preload, curve)
    static = rear_sag_mm(static_load, shelf, preload, curve)
    outside = np.maximum(np.maximum(low - static, static - high), 0.0)
    race_miss = np.abs(race - wanted)
    miss = race_miss + outside + 1e-3 * np.abs(static - (low + high) / 2.0)
    known = ~np.isnan(miss)
    best = np.argmin(np.where(known, miss, np.inf), axis=-1)[..., None]
    pick = [
        np.take_along_axis(np.where(known, np.broadcast_to(part, miss.shape), np.nan), best, -1)
        for part in (shelf, preload, race, static)
    ]
    fits = np.take_along_axis(known & (race_miss <= 0.5) & (outside <= 0.0), best, -1)
    rate, at_preload, race_sag, static_sag = (part[..., 0] for part in pick)
    return SpringChoice(rate, at_preload, race_sag, static_sag, fits[..., 0])
