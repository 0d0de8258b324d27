"""Landings: how hard a jump comes down, and which jump of the track is the hardest."""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike

from setupadvisor.facts.atmosphere import GRAVITY_M_PER_S2
from setupadvisor.facts.jumps import (
    angle_rad,
    landing_level_speed_m_per_s,
    landing_sink_speed_m_per_s,
    takeoff_speed_at_landing_end_m_per_s,
)
from setupadvisor.facts.valid_range import FloatArray, possible


def equivalent_fall_height_m(
    takeoff_speed_m_per_s: ArrayLike,
    takeoff_angle_deg: ArrayLike,
    drop_m: ArrayLike,
    landing_slope_deg: ArrayLike = 0.0,
) -> FloatArray:
    """Height of a straight fall onto flat ground that lands as hard.

    Parameters
    ----------
    takeoff_speed_m_per_s : array_like
        Speed at the lip [m/s].
    takeoff_angle_deg : array_like
        Angle of the lip above level [°].
    drop_m : array_like
        How far the landing lies below the lip [m]; negative when above.
    landing_slope_deg : array_like, optional
        Angle of the landing below level [°]; 0, flat, unless given.

    Returns
    -------
    numpy.ndarray
        Equivalent fall height [m]: h = (v sin(path angle - slope))^2 / 2g, v and path angle at
        the landing; NaN where the flight never reaches it.

    Raises
    ------
    ImpossibleValue
        If the speed is negative or an angle is outside -89 to 89 °.

    Notes
    -----
    Only the speed straight into the landing counts, so a landing along the flight path is
    soft however fast. Where the slope falls away steeper than the flight, the machine touches
    further down it, and just as hard as the formula says for here. No air drag.

    References
    ----------
    Hubbard 2009, Safer ski jump landing surface design limits normal velocity impact, Journal
    of ASTM International 6(1). The formula was read in a published page that cites it.

    Examples
    --------
    >>> flat = equivalent_fall_height_m(15.05, 30, 0)
    >>> matched = equivalent_fall_height_m(15.05, 30, 0, 25)
    >>> float(flat.round(2)), float(matched.round(2))
    (2.89, 0.09)
    """
    slope = angle_rad(landing_slope_deg, "landing_slope_deg")
    level = landing_level_speed_m_per_s(takeoff_speed_m_per_s, takeoff_angle_deg)
    sink = landing_sink_speed_m_per_s(takeoff_speed_m_per_s, takeoff_angle_deg, drop_m)
    into_ground = sink * np.cos(slope) - level * np.sin(slope)
    return np.asarray(into_ground**2 / (2.0 * GRAVITY_M_PER_S2))


def equivalent_fall_height_of_gap_m(
    gap_m: ArrayLike,
    takeoff_angle_deg: ArrayLike,
    drop_m: ArrayLike,
    landing_slope_deg: ArrayLike = 0.0,
    overshoot_m: ArrayLike = 0.0,
) -> FloatArray:
    """How hard a jump lands that is ridden just fast enough, or some metres too far.

    Parameters
    ----------
    gap_m : array_like
        Level distance from the lip to the start of the landing [m].
    takeoff_angle_deg : array_like
        Angle of the lip above level [°].
    drop_m : array_like
        How far the start of the landing lies below the lip [m].
    landing_slope_deg : array_like, optional
        Angle of the landing below level [°]; 0, flat, unless given.
    overshoot_m : array_like, optional
        Level distance flown past the start of the landing, still on its slope [m].

    Returns
    -------
    numpy.ndarray
        Equivalent fall height [m]; NaN where the gap cannot be cleared from that lip.

    Raises
    ------
    ImpossibleValue
        If gap or overshoot are out of range or an angle is outside -89 to 89 °.

    Notes
    -----
    A landing overshot onto the flat behind is asked for with the whole distance and slope 0.

    References
    ----------
    Hubbard 2009, Journal of ASTM International 6(1); ballistics, no air drag.

    Examples
    --------
    >>> float(equivalent_fall_height_of_gap_m(20, 30, 0).round(2))
    2.89
    """
    speed = takeoff_speed_at_landing_end_m_per_s(
        gap_m, takeoff_angle_deg, drop_m, landing_slope_deg, overshoot_m
    )
    past = np.asarray(overshoot_m, dtype=np.float64) * np.tan(
        angle_rad(landing_slope_deg, "landing_slope_deg")
    )
    drop = np.asarray(drop_m, dtype=np.float64) + past
    return equivalent_fall_height_m(speed, takeoff_angle_deg, drop, landing_slope_deg)


def largest_over_jumps(values: ArrayLike) -> FloatArray:
    """Largest value over the jumps of a track, leaving out jumps that were not entered.

    Parameters
    ----------
    values : array_like, shape (..., n_jumps)
        One value a jump, any unit; NaN where not entered.

    Returns
    -------
    numpy.ndarray, shape (...)
        The largest; NaN where no jump was entered.

    Examples
    --------
    >>> float(largest_over_jumps([1.2, float("nan"), 2.9]))
    2.9
    """
    array = np.asarray(values, dtype=np.float64)
    return np.asarray(np.fmax.reduce(array, axis=-1, initial=np.nan))


def landing_energy_j(mass_kg: ArrayLike, equivalent_fall_height_m: ArrayLike) -> FloatArray:
    """Energy that suspension, tyres and rider have to take up at a landing.

    Parameters
    ----------
    mass_kg : array_like
        Mass of machine and rider [kg].
    equivalent_fall_height_m : array_like
        Equivalent fall height [m].

    Returns
    -------
    numpy.ndarray
        Energy of the speed into the ground [J]; what the suspension's travel adds comes on top.

    Raises
    ------
    ImpossibleValue
        If the mass is not above 0 kg or the height negative.

    References
    ----------
    Mechanics: E = m g h.

    Examples
    --------
    >>> float(landing_energy_j(180, 1.0).round(1))
    1765.2
    """
    mass = possible(mass_kg, "mass_kg", "a mass is above 0 kg", above=0.0)
    height = possible(
        equivalent_fall_height_m, "equivalent_fall_height_m", "0 m or more", at_least=0.0
    )
    return np.asarray(mass * GRAVITY_M_PER_S2 * height)
