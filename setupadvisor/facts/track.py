"""The track: whoops, lap speed, and the share of the lap on each kind of ground."""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike

from setupadvisor.facts.valid_range import FloatArray, possible

# Speed through whoops over the lap's mean speed: lowest, usual, highest (common practice, no
# source; whoops stand on straights, but are braked for).
_WHOOP_SPEED_SHARE = (0.8, 1.1, 1.4)


def whoop_passing_frequency_hz(speed_m_per_s: ArrayLike, spacing_m: ArrayLike) -> FloatArray:
    """How often a wheel meets a whoop.

    Parameters
    ----------
    speed_m_per_s : array_like
        Speed through the whoops [m/s].
    spacing_m : array_like
        Distance from crest to crest [m].

    Returns
    -------
    numpy.ndarray
        Passing frequency [Hz].

    Raises
    ------
    ImpossibleValue
        If the speed is negative or the spacing not above 0 m.

    Notes
    -----
    With the rear wheel following in every hollow; a machine that skims from crest to crest
    meets them as often, but not as deep.

    References
    ----------
    Kinematics.

    Examples
    --------
    >>> float(whoop_passing_frequency_hz(15, 3))
    5.0
    """
    speed = possible(speed_m_per_s, "speed_m_per_s", "0 m/s or more", at_least=0.0)
    spacing = possible(spacing_m, "spacing_m", "crests are more than 0 m apart", above=0.0)
    return np.asarray(speed / spacing)


def wheelbase_to_spacing_ratio(wheelbase_mm: ArrayLike, spacing_m: ArrayLike) -> FloatArray:
    """Wheelbase over the distance between whoops.

    Parameters
    ----------
    wheelbase_mm : array_like
        Wheelbase [mm].
    spacing_m : array_like
        Distance from crest to crest [m].

    Returns
    -------
    numpy.ndarray
        Ratio [-]. Near a whole number both wheels rise together (heave), near a half one rises
        while the other falls (pitch).

    Raises
    ------
    ImpossibleValue
        If an argument is not above 0.

    References
    ----------
    Geometry; wheelbase filtering, Gillespie, Fundamentals of Vehicle Dynamics, chapter 5
    (from memory).

    Examples
    --------
    >>> float(wheelbase_to_spacing_ratio(1480, 2.96))
    0.5
    """
    wheelbase = possible(wheelbase_mm, "wheelbase_mm", "above 0 mm", above=0.0)
    spacing = possible(spacing_m, "spacing_m", "crests are more than 0 m apart", above=0.0)
    return np.asarray(wheelbase / (1000.0 * spacing))


def mean_lap_speed_m_per_s(lap_length_m: ArrayLike, lap_time_s: ArrayLike) -> FloatArray:
    """Mean speed of a lap.

    Parameters
    ----------
    lap_length_m : array_like
        Length of the lap [m].
    lap_time_s : array_like
        Lap time [s].

    Returns
    -------
    numpy.ndarray
        Mean speed [m/s].

    Raises
    ------
    ImpossibleValue
        If an argument is not above 0.

    References
    ----------
    Kinematics.

    Examples
    --------
    >>> float(mean_lap_speed_m_per_s(1600, 100))
    16.0
    """
    length = possible(lap_length_m, "lap_length_m", "a lap is longer than 0 m", above=0.0)
    time = possible(lap_time_s, "lap_time_s", "a lap takes more than 0 s", above=0.0)
    return np.asarray(length / time)


def whoop_speed_m_per_s(mean_lap_speed_m_per_s: ArrayLike) -> FloatArray:
    """Usual speed through the whoops of a lap whose mean speed is known.

    Parameters
    ----------
    mean_lap_speed_m_per_s : array_like
        Mean speed of the lap [m/s].

    Returns
    -------
    numpy.ndarray
        Speed through the whoops [m/s]: 1.1 times the mean.

    Raises
    ------
    ImpossibleValue
        If the speed is negative.

    Notes
    -----
    Common practice, no source. A measured speed replaces it.

    Examples
    --------
    >>> float(whoop_speed_m_per_s(12).round(1))
    13.2
    """
    return _whoop_speed(mean_lap_speed_m_per_s, _WHOOP_SPEED_SHARE[1])


def whoop_speed_low_m_per_s(mean_lap_speed_m_per_s: ArrayLike) -> FloatArray:
    """Lowest likely speed through the whoops of a lap whose mean speed is known.

    Parameters
    ----------
    mean_lap_speed_m_per_s : array_like
        Mean speed of the lap [m/s].

    Returns
    -------
    numpy.ndarray
        Speed through the whoops [m/s]: 0.8 times the mean.

    Raises
    ------
    ImpossibleValue
        If the speed is negative.

    Notes
    -----
    Common practice, no source.

    Examples
    --------
    >>> float(whoop_speed_low_m_per_s(12).round(1))
    9.6
    """
    return _whoop_speed(mean_lap_speed_m_per_s, _WHOOP_SPEED_SHARE[0])


def whoop_speed_high_m_per_s(mean_lap_speed_m_per_s: ArrayLike) -> FloatArray:
    """Highest likely speed through the whoops of a lap whose mean speed is known.

    Parameters
    ----------
    mean_lap_speed_m_per_s : array_like
        Mean speed of the lap [m/s].

    Returns
    -------
    numpy.ndarray
        Speed through the whoops [m/s]: 1.4 times the mean.

    Raises
    ------
    ImpossibleValue
        If the speed is negative.

    Notes
    -----
    Common practice, no source.

    Examples
    --------
    >>> float(whoop_speed_high_m_per_s(12).round(1))
    16.8
    """
    return _whoop_speed(mean_lap_speed_m_per_s, _WHOOP_SPEED_SHARE[2])


def _whoop_speed(mean_lap_speed_m_per_s: ArrayLike, share: float) -> FloatArray:
    mean = possible(mean_lap_speed_m_per_s, "mean_lap_speed_m_per_s", "0 m/s or more", at_least=0.0)
    return np.asarray(mean * share)


def share_of_lap(amounts: ArrayLike) -> FloatArray:
    """Share of the lap of each kind of ground, from lengths or paces counted on the walk.

    Parameters
    ----------
    amounts : array_like, shape (..., n_kinds)
        Metres, paces or sections of each kind, in any one unit; NaN where not counted.

    Returns
    -------
    numpy.ndarray, shape (..., n_kinds)
        Share of what was counted [-], summing to 1; NaN for a kind that was not counted, and
        for all kinds where nothing was.

    Raises
    ------
    ImpossibleValue
        If an amount is negative.

    References
    ----------
    Arithmetic.

    Examples
    --------
    >>> share_of_lap([300.0, 100.0, float("nan")]).tolist()
    [0.75, 0.25, nan]
    """
    counted = possible(amounts, "amounts", "0 or more of a kind of ground", at_least=0.0)
    total = np.nansum(counted, axis=-1, keepdims=True)
    with np.errstate(invalid="ignore", divide="ignore"):
        return np.where(total > 0.0, counted / total, np.nan)
