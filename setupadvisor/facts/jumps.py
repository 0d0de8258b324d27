"""Jumps: the speed a gap asks for, and the flight."""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike

from setupadvisor.facts.atmosphere import GRAVITY_M_PER_S2
from setupadvisor.facts.valid_range import FloatArray, possible


def angle_rad(angle_deg: ArrayLike, quantity: str) -> FloatArray:
    """Return a slope's angle in radians, refusing one that stands upright.

    Parameters
    ----------
    angle_deg : array_like
        Angle to the level [°].
    quantity : str
        The angle's name, with its unit at the end.

    Returns
    -------
    numpy.ndarray
        Angle [rad].

    Raises
    ------
    ImpossibleValue
        If it is outside -89 to 89 °.

    Examples
    --------
    >>> float(angle_rad(30, "takeoff_angle_deg").round(4))
    0.5236
    """
    degrees = possible(
        angle_deg, quantity, "an angle from -89 to 89 °", at_least=-89.0, at_most=89.0
    )
    return np.asarray(np.deg2rad(degrees))


def takeoff_speed_for_gap_m_per_s(
    gap_m: ArrayLike, takeoff_angle_deg: ArrayLike, drop_m: ArrayLike
) -> FloatArray:
    """Speed at the lip that lands just past a gap.

    Parameters
    ----------
    gap_m : array_like
        Level distance from the lip to where the wheels touch [m].
    takeoff_angle_deg : array_like
        Angle of the lip above level [°].
    drop_m : array_like
        How far the touching point lies below the lip [m]; negative when above.

    Returns
    -------
    numpy.ndarray
        Take-off speed [m/s]; NaN where that lip cannot throw that far up at any speed.

    Raises
    ------
    ImpossibleValue
        If the gap is not above 0 m or the angle is outside -89 to 89 °.

    Notes
    -----
    A point without air drag, leaving along the lip. A rider's push or squash at the lip
    changes it by some per cent.

    References
    ----------
    Ballistics: v^2 = g x^2 / (2 cos(a)^2 (x tan(a) + drop)).

    Examples
    --------
    >>> float(takeoff_speed_for_gap_m_per_s(20, 30, 0).round(2))
    15.05
    """
    gap = possible(gap_m, "gap_m", "a gap is longer than 0 m", above=0.0)
    angle = angle_rad(takeoff_angle_deg, "takeoff_angle_deg")
    below_line = gap * np.tan(angle) + np.asarray(drop_m, dtype=np.float64)
    with np.errstate(invalid="ignore", divide="ignore"):
        speed = gap / np.cos(angle) * np.sqrt(GRAVITY_M_PER_S2 / (2.0 * below_line))
    return np.where(below_line > 0.0, speed, np.nan)


def takeoff_speed_at_landing_end_m_per_s(
    gap_m: ArrayLike,
    takeoff_angle_deg: ArrayLike,
    drop_m: ArrayLike,
    landing_slope_deg: ArrayLike,
    landing_length_m: ArrayLike,
) -> FloatArray:
    """Speed at the lip above which the landing is overshot.

    Parameters
    ----------
    gap_m : array_like
        Level distance from the lip to the start of the landing [m].
    takeoff_angle_deg : array_like
        Angle of the lip above level [°].
    drop_m : array_like
        How far the start of the landing lies below the lip [m].
    landing_slope_deg : array_like
        Angle of the landing below level [°]; 0 is flat.
    landing_length_m : array_like
        Level length of the landing [m].

    Returns
    -------
    numpy.ndarray
        Take-off speed [m/s]; with `takeoff_speed_for_gap_m_per_s` the two bounds of the jump.
        Below that one where the landing falls away steeper than the flight: whoever clears the
        gap overshoots.

    Raises
    ------
    ImpossibleValue
        If gap or length are out of range or an angle is outside -89 to 89 °.

    References
    ----------
    Ballistics, no air drag.

    Examples
    --------
    >>> float(takeoff_speed_at_landing_end_m_per_s(20, 30, 0, 25, 6).round(2))
    15.75
    """
    gap = possible(gap_m, "gap_m", "a gap is longer than 0 m", above=0.0)
    length = possible(landing_length_m, "landing_length_m", "0 m or more", at_least=0.0)
    slope = angle_rad(landing_slope_deg, "landing_slope_deg")
    end_drop = np.asarray(drop_m, dtype=np.float64) + length * np.tan(slope)
    return takeoff_speed_for_gap_m_per_s(gap + length, takeoff_angle_deg, end_drop)


def flight_time_s(
    gap_m: ArrayLike, takeoff_speed_m_per_s: ArrayLike, takeoff_angle_deg: ArrayLike
) -> FloatArray:
    """Time in the air.

    Parameters
    ----------
    gap_m : array_like
        Level distance flown [m].
    takeoff_speed_m_per_s : array_like
        Speed at the lip [m/s].
    takeoff_angle_deg : array_like
        Angle of the lip above level [°].

    Returns
    -------
    numpy.ndarray
        Time of flight [s].

    Raises
    ------
    ImpossibleValue
        If gap or speed are not above 0 or the angle is outside -89 to 89 °.

    References
    ----------
    Ballistics, no air drag.

    Examples
    --------
    >>> float(flight_time_s(20, 15.05, 30).round(2))
    1.53
    """
    gap = possible(gap_m, "gap_m", "a gap is longer than 0 m", above=0.0)
    speed = possible(takeoff_speed_m_per_s, "takeoff_speed_m_per_s", "above 0 m/s", above=0.0)
    return np.asarray(gap / (speed * np.cos(angle_rad(takeoff_angle_deg, "takeoff_angle_deg"))))


def apex_height_m(takeoff_speed_m_per_s: ArrayLike, takeoff_angle_deg: ArrayLike) -> FloatArray:
    """How far the flight rises above the lip.

    Parameters
    ----------
    takeoff_speed_m_per_s : array_like
        Speed at the lip [m/s].
    takeoff_angle_deg : array_like
        Angle of the lip above level [°]; at and below 0 nothing rises.

    Returns
    -------
    numpy.ndarray
        Height of the highest point above the lip [m].

    Raises
    ------
    ImpossibleValue
        If the speed is negative or the angle is outside -89 to 89 °.

    References
    ----------
    Ballistics, no air drag.

    Examples
    --------
    >>> float(apex_height_m(15.05, 30).round(2))
    2.89
    """
    speed = possible(takeoff_speed_m_per_s, "takeoff_speed_m_per_s", "0 m/s or more", at_least=0.0)
    rise = np.maximum(speed * np.sin(angle_rad(takeoff_angle_deg, "takeoff_angle_deg")), 0.0)
    return np.asarray(rise**2 / (2.0 * GRAVITY_M_PER_S2))


def landing_level_speed_m_per_s(
    takeoff_speed_m_per_s: ArrayLike, takeoff_angle_deg: ArrayLike
) -> FloatArray:
    """Level part of the landing speed.

    Parameters
    ----------
    takeoff_speed_m_per_s : array_like
        Speed at the lip [m/s].
    takeoff_angle_deg : array_like
        Angle of the lip above level [°].

    Returns
    -------
    numpy.ndarray
        Level speed [m/s], the same all through the flight.

    Raises
    ------
    ImpossibleValue
        If the speed is negative or the angle is outside -89 to 89 °.

    References
    ----------
    Ballistics, no air drag.

    Examples
    --------
    >>> float(landing_level_speed_m_per_s(15.05, 30).round(2))
    13.03
    """
    speed = possible(takeoff_speed_m_per_s, "takeoff_speed_m_per_s", "0 m/s or more", at_least=0.0)
    return np.asarray(speed * np.cos(angle_rad(takeoff_angle_deg, "takeoff_angle_deg")))


def landing_sink_speed_m_per_s(
    takeoff_speed_m_per_s: ArrayLike, takeoff_angle_deg: ArrayLike, drop_m: ArrayLike
) -> FloatArray:
    """Downward part of the landing speed.

    Parameters
    ----------
    takeoff_speed_m_per_s : array_like
        Speed at the lip [m/s].
    takeoff_angle_deg : array_like
        Angle of the lip above level [°].
    drop_m : array_like
        How far the landing lies below the lip [m]; negative when above.

    Returns
    -------
    numpy.ndarray
        Downward speed [m/s]; NaN where the flight never rises to the landing.

    Raises
    ------
    ImpossibleValue
        If the speed is negative or the angle is outside -89 to 89 °.

    Notes
    -----
    On the way down: a landing above the lip is met after the highest point.

    References
    ----------
    Ballistics, no air drag.

    Examples
    --------
    >>> float(landing_sink_speed_m_per_s(15.05, 30, 0).round(2))
    7.52
    """
    speed = possible(takeoff_speed_m_per_s, "takeoff_speed_m_per_s", "0 m/s or more", at_least=0.0)
    rise = speed * np.sin(angle_rad(takeoff_angle_deg, "takeoff_angle_deg"))
    squared = rise**2 + 2.0 * GRAVITY_M_PER_S2 * np.asarray(drop_m, dtype=np.float64)
    with np.errstate(invalid="ignore"):
        return np.asarray(np.sqrt(squared))
