"""Drive: ratios, road speed, and the geometry of the final chain.

A ratio is turns in for one turn out; the final drive's is rear over front teeth, so a larger ratio
is a shorter gear. Wheel slip is left out: on soft ground the rear wheel turns faster than the
machine moves.
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
from numpy.typing import ArrayLike, NDArray

from setupadvisor.facts.valid_range import FloatArray, possible, within

# ISO 606, chain number 10B/10A: the 5/8 inch pitch of full-size off-road machines
CHAIN_PITCH_MM = 15.875

_TEETH_MEND = "a sprocket has 5 teeth or more"
_RATIO_MEND = "a ratio is above 0"


class FinalDriveWanted(NamedTuple):
    """Final-drive ratios that the track asks for.

    Parameters
    ----------
    for_straight : FloatArray
        The ratio that puts the fastest speed at the highest engine speed. Shorter (larger) runs
        into the limiter.
    for_corner : FloatArray
        The ratio that keeps the engine at its lowest useful speed in the tightest corner. Longer
        (smaller) bogs, or asks for the clutch or a lower gear.
    wanted : FloatArray
        `for_straight` if it also serves the corner, otherwise the geometric mean of the two.
    in_conflict : numpy.ndarray of bool
        Whether no single ratio serves both.
    """

    for_straight: FloatArray
    for_corner: FloatArray
    wanted: FloatArray
    in_conflict: NDArray[np.bool_]


def overall_ratio(
    primary_ratio: ArrayLike, gear_ratio: ArrayLike, front_teeth: ArrayLike, rear_teeth: ArrayLike
) -> FloatArray:
    """Crankshaft turns for each turn of the rear wheel.

    Parameters
    ----------
    primary_ratio : array_like
        Crankshaft turns for each turn of the clutch.
    gear_ratio : array_like
        Clutch turns for each turn of the front sprocket in the gear meant.
    front_teeth, rear_teeth : array_like
        Teeth of the sprockets.

    Returns
    -------
    numpy.ndarray
        Ratio, the inputs' broadcast shape.

    Raises
    ------
    ImpossibleValue
        For a ratio of 0 or less, or a sprocket of fewer than 5 teeth.

    Examples
    --------
    >>> round(float(overall_ratio(2.8, 1.5, 13, 50)), 3)
    16.154
    """
    primary = possible(primary_ratio, "primary_ratio", _RATIO_MEND, above=0.0)
    gear = possible(gear_ratio, "gear_ratio", _RATIO_MEND, above=0.0)
    return primary * gear * _teeth(rear_teeth, "rear_teeth") / _teeth(front_teeth, "front_teeth")


def speed_m_per_s(
    engine_speed_rpm: ArrayLike, overall_ratio: ArrayLike, rolling_radius_mm: ArrayLike
) -> FloatArray:
    """Road speed at an engine speed, clutch closed and wheel not slipping.

    Parameters
    ----------
    engine_speed_rpm : array_like
        Crankshaft speed in turns a minute.
    overall_ratio : array_like
        Crankshaft turns for each turn of the rear wheel (`overall_ratio`).
    rolling_radius_mm : array_like
        Rolling radius in mm: a turn's travel, measured with the rider on, over 2 pi.

    Returns
    -------
    numpy.ndarray
        Speed in m/s, the inputs' broadcast shape.

    Raises
    ------
    ImpossibleValue
        For a negative engine speed, or a ratio or radius of 0 or less.

    Examples
    --------
    >>> round(float(speed_m_per_s(9000.0, 16.154, 330.0)), 2)
    19.25
    """
    turns_rad_per_s = _engine_rad_per_s(engine_speed_rpm, "engine_speed_rpm")
    ratio = possible(overall_ratio, "overall_ratio", _RATIO_MEND, above=0.0)
    return turns_rad_per_s / ratio * _radius_m(rolling_radius_mm)


def final_drive_for_speed(
    speed_m_per_s: ArrayLike,
    engine_speed_rpm: ArrayLike,
    primary_ratio: ArrayLike,
    gear_ratio: ArrayLike,
    rolling_radius_mm: ArrayLike,
) -> FloatArray:
    """Final-drive ratio at which an engine speed gives a road speed.

    Parameters
    ----------
    speed_m_per_s : array_like
        Road speed in m/s.
    engine_speed_rpm : array_like
        Crankshaft speed wanted there, in turns a minute.
    primary_ratio : array_like
        Crankshaft turns for each turn of the clutch.
    gear_ratio : array_like
        Clutch turns for each turn of the front sprocket in the gear meant.
    rolling_radius_mm : array_like
        Rolling radius of the rear wheel in mm.

    Returns
    -------
    numpy.ndarray
        Rear over front teeth, the inputs' broadcast shape.

    Raises
    ------
    ImpossibleValue
        For a speed, ratio or radius of 0 or less, or a negative engine speed.

    Notes
    -----
    The inverse of `speed_m_per_s`.

    Examples
    --------
    >>> round(float(final_drive_for_speed(19.25, 9000.0, 2.8, 1.5, 330.0)), 3)
    3.847
    """
    speed = possible(speed_m_per_s, "speed_m_per_s", "a road speed is above 0 m/s", above=0.0)
    primary = possible(primary_ratio, "primary_ratio", _RATIO_MEND, above=0.0)
    gear = possible(gear_ratio, "gear_ratio", _RATIO_MEND, above=0.0)
    wheel_rad_per_s = speed / _radius_m(rolling_radius_mm)
    engine_rad_per_s = _engine_rad_per_s(engine_speed_rpm, "engine_speed_rpm")
    return engine_rad_per_s / (wheel_rad_per_s * primary * gear)


def final_drive_wanted(
    *,
    fastest_speed_m_per_s: ArrayLike,
    highest_engine_speed_rpm: ArrayLike,
    top_gear_ratio: ArrayLike,
    tightest_corner_speed_m_per_s: ArrayLike,
    lowest_useful_engine_speed_rpm: ArrayLike,
    corner_gear_ratio: ArrayLike,
    primary_ratio: ArrayLike,
    rolling_radius_mm: ArrayLike,
) -> FinalDriveWanted:
    """Final-drive ratio wanted by the fastest straight and the tightest corner.

    Parameters
    ----------
    fastest_speed_m_per_s : array_like
        Road speed at the end of the fastest straight in m/s.
    highest_engine_speed_rpm : array_like
        Engine speed not to be passed there, in turns a minute.
    top_gear_ratio : array_like
        Ratio of the gear used there.
    tightest_corner_speed_m_per_s : array_like
        Road speed in the tightest corner in m/s.
    lowest_useful_engine_speed_rpm : array_like
        Engine speed from which it pulls cleanly, in turns a minute.
    corner_gear_ratio : array_like
        Ratio of the gear in which the rider wants to take that corner.
    primary_ratio : array_like
        Crankshaft turns for each turn of the clutch.
    rolling_radius_mm : array_like
        Rolling radius of the rear wheel in mm.

    Returns
    -------
    FinalDriveWanted
        The two limits, the ratio wanted and whether they are in conflict, all of the inputs'
        broadcast shape. With one side missing (NaN) the other decides; with both, NaN.

    Raises
    ------
    ImpossibleValue
        As `final_drive_for_speed`.

    Notes
    -----
    Plain mechanics for the limits. That the straight decides while the corner allows it (all the
    pull there is without touching the limiter) is common practice, no source; so is meeting half
    way when they disagree.

    Examples
    --------
    >>> wanted = final_drive_wanted(
    ...     fastest_speed_m_per_s=27.0,
    ...     highest_engine_speed_rpm=10000.0,
    ...     top_gear_ratio=1.15,
    ...     tightest_corner_speed_m_per_s=6.5,
    ...     lowest_useful_engine_speed_rpm=4000.0,
    ...     corner_gear_ratio=2.0,
    ...     primary_ratio=2.8,
    ...     rolling_radius_mm=330.0,
    ... )
    >>> round(float(wanted.for_straight), 2), round(float(wanted.for_corner), 2)
    (3.97, 3.8)
    >>> round(float(wanted.wanted), 2), bool(wanted.in_conflict)
    (3.97, False)
    """
    for_straight = final_drive_for_speed(
        fastest_speed_m_per_s,
        highest_engine_speed_rpm,
        primary_ratio,
        top_gear_ratio,
        rolling_radius_mm,
    )
    for_corner = final_drive_for_speed(
        tightest_corner_speed_m_per_s,
        lowest_useful_engine_speed_rpm,
        primary_ratio,
        corner_gear_ratio,
        rolling_radius_mm,
    )
    in_conflict = np.asarray(for_corner > for_straight)
    both = np.where(in_conflict, np.sqrt(for_corner * for_straight), for_straight)
    wanted = np.where(
        np.isnan(for_straight), for_corner, np.where(np.isnan(for_corner), for_straight, both)
    )
    return FinalDriveWanted(for_straight, for_corner, wanted, in_conflict)


def pitch_diameter_mm(teeth: ArrayLike, pitch_mm: ArrayLike = CHAIN_PITCH_MM) -> FloatArray:
    """Diameter of the circle on which a sprocket carries the chain's pins.

    Parameters
    ----------
    teeth : array_like
        Number of teeth.
    pitch_mm : array_like, optional
        Chain pitch in mm.

    Returns
    -------
    numpy.ndarray
        Diameter in mm, the inputs' broadcast shape.

    Raises
    ------
    ImpossibleValue
        For fewer than 5 teeth or a pitch of 0 or less.

    Notes
    -----
    ISO 606, ``p / sin(180 deg / z)`` (from memory).

    Examples
    --------
    >>> round(float(pitch_diameter_mm(13)), 3)
    66.335
    """
    return _pitch_mm(pitch_mm) / np.sin(np.pi / _teeth(teeth, "teeth"))


def chain_length_links(
    centre_distance_mm: ArrayLike,
    front_teeth: ArrayLike,
    rear_teeth: ArrayLike,
    pitch_mm: ArrayLike = CHAIN_PITCH_MM,
) -> FloatArray:
    """Links of a taut chain over two sprockets.

    Parameters
    ----------
    centre_distance_mm : array_like
        Distance of the two sprockets' centres in mm.
    front_teeth, rear_teeth : array_like
        Teeth of the sprockets.
    pitch_mm : array_like, optional
        Chain pitch in mm.

    Returns
    -------
    numpy.ndarray
        Number of links, not rounded; the inputs' broadcast shape.

    Raises
    ------
    ImpossibleValue
        For a distance or pitch of 0 or less, or fewer than 5 teeth.

    Warns
    -----
    OutsideValidRange
        For sprocket centres closer than 20 or further than 80 pitches.

    Notes
    -----
    ``2 C/p + (z1 + z2)/2 + ((z2 - z1)/(2 pi))^2 p/C``: ISO 10823 and Shigley, ch. 17 (read in a
    design example quoting the handbook value; the standard itself was not at hand). It stays
    within 0.02 link of the tangents to the two pitch circles for motorcycle sprockets. Swingarm
    and chain guides are left out: measure the centre distance where the chain is tightest, with
    countershaft, swingarm pivot and axle in line.

    Examples
    --------
    >>> round(float(chain_length_links(648.1, 13, 50)), 2)
    114.0
    """
    pitch = _pitch_mm(pitch_mm)
    distance = possible(
        centre_distance_mm, "centre_distance_mm", "a centre distance is above 0 mm", above=0.0
    )
    pitches = distance / pitch
    within(pitches, "centre distance", 20.0, 80.0, "pitches", "the chain length of ISO 10823")
    front = _teeth(front_teeth, "front_teeth")
    rear = _teeth(rear_teeth, "rear_teeth")
    return 2.0 * pitches + (front + rear) / 2.0 + ((rear - front) / (2.0 * np.pi)) ** 2 / pitches


def centre_distance_mm(
    links: ArrayLike,
    front_teeth: ArrayLike,
    rear_teeth: ArrayLike,
    pitch_mm: ArrayLike = CHAIN_PITCH_MM,
) -> FloatArray:
    """Distance of the sprockets' centres at which a chain is taut.

    Parameters
    ----------
    links : array_like
        Number of links.
    front_teeth, rear_teeth : array_like
        Teeth of the sprockets.
    pitch_mm : array_like, optional
        Chain pitch in mm. A worn chain's own (20 links, pulled straight, over 20) shows how far
        back wear has brought the axle.

    Returns
    -------
    numpy.ndarray
        Distance in mm, the inputs' broadcast shape; missing (NaN) where the chain is too short to
        go round the sprockets.

    Raises
    ------
    ImpossibleValue
        For no links, fewer than 5 teeth or a pitch of 0 or less.

    Notes
    -----
    The exact inverse of `chain_length_links` (its larger root). The slack that the service manual
    asks for brings the axle a millimetre or two further forward.

    Examples
    --------
    >>> round(float(centre_distance_mm(114, 13, 50)), 1)
    648.1
    """
    number = possible(links, "links", "a chain has 1 link or more", at_least=1.0)
    front = _teeth(front_teeth, "front_teeth")
    rear = _teeth(rear_teeth, "rear_teeth")
    straight = number - (front + rear) / 2.0
    under_root = straight**2 - 8.0 * ((rear - front) / (2.0 * np.pi)) ** 2
    reaches = (straight > 0.0) & (under_root >= 0.0)
    root = np.sqrt(np.where(reaches, under_root, np.nan))
    return _pitch_mm(pitch_mm) * (straight + root) / 4.0


def _teeth(teeth: ArrayLike, name: str) -> FloatArray:
    return possible(teeth, name, _TEETH_MEND, at_least=5.0)


def _pitch_mm(pitch_mm: ArrayLike) -> FloatArray:
    return possible(pitch_mm, "pitch_mm", "a chain pitch is above 0 mm", above=0.0)


def _radius_m(rolling_radius_mm: ArrayLike) -> FloatArray:
    radius = possible(
        rolling_radius_mm, "rolling_radius_mm", "a wheel's radius is above 0 mm", above=0.0
    )
    return radius / 1000.0


def _engine_rad_per_s(engine_speed_rpm: ArrayLike, name: str) -> FloatArray:
    speed = possible(
        engine_speed_rpm, name, "an engine speed is 0 turns a minute or more", at_least=0.0
    )
    return speed * np.pi / 30.0
