"""Where the rider's mass is, and the centre of mass of rider and machine together."""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
from numpy.typing import ArrayLike

from setupadvisor.facts.valid_range import FloatArray, possible

# Winter, Biomechanics and Motor Control of Human Movement, Table 4.1 and Figure 4.1 (mass share,
# length over stature, centre of mass from the upper or, for the trunk, the lower joint), from
# memory. Arms and head are counted into the trunk.
_TRUNK_MASS, _TRUNK_LENGTH, _TRUNK_CENTRE = 0.678, 0.288, 0.626
_THIGHS_MASS, _THIGH_LENGTH, _THIGH_CENTRE = 0.200, 0.245, 0.433
_SHANKS_MASS, _SHANK_LENGTH, _SHANK_CENTRE = 0.122, 0.246, 0.606

# Common practice, no source: estimates of how riders sit and stand.
_HIP_ABOVE_SEAT = 0.045
_ANKLE_ABOVE_FOOTPEG = 0.045
_ATTACK_HIP_ABOVE_FOOTPEG, _ATTACK_HIP_BEHIND_FOOTPEG = 0.46, 0.10
_SEATED_LEAN_DEG, _ATTACK_LEAN_DEG = 25.0, 50.0


class CentreOfMass(NamedTuple):
    """A mass and where it is.

    Attributes
    ----------
    to_rear_axle_mm : numpy.ndarray
        Horizontally ahead of the rear axle, mm.
    height_mm : numpy.ndarray
        Above the ground, mm.
    mass_kg : numpy.ndarray
        Mass, kg.
    """

    to_rear_axle_mm: FloatArray
    height_mm: FloatArray
    mass_kg: FloatArray


def combined_centre_of_mass(first: CentreOfMass, second: CentreOfMass) -> CentreOfMass:
    """Centre of mass of two masses, as of machine and rider.

    Parameters
    ----------
    first, second : CentreOfMass
        The two; values may be plain numbers.

    Returns
    -------
    CentreOfMass
        Both together.

    Examples
    --------
    >>> machine = CentreOfMass(690.0, 520.0, 112.0)
    >>> both = combined_centre_of_mass(machine, CentreOfMass(620.0, 1150.0, 85.0))
    >>> round(float(both.to_rear_axle_mm)), round(float(both.height_mm)), float(both.mass_kg)
    (660, 792, 197.0)
    """
    masses = [
        possible(part.mass_kg, "mass_kg", "a mass is not below 0 kg", at_least=0.0)
        for part in (first, second)
    ]
    total = possible(masses[0] + masses[1], "mass_kg", "masses together above 0 kg", above=0.0)
    return CentreOfMass(
        (masses[0] * first.to_rear_axle_mm + masses[1] * second.to_rear_axle_mm) / total,
        (masses[0] * first.height_mm + masses[1] * second.height_mm) / total,
        total,
    )


def machine_centre_of_mass(
    mass_kg: ArrayLike, front_share: ArrayLike, wheelbase_mm: ArrayLike, height_mm: ArrayLike
) -> CentreOfMass:
    """Centre of mass of the machine from two scales.

    Parameters
    ----------
    mass_kg : array_like
        Machine with fuel, kg.
    front_share : array_like
        Share on the front wheel, 0 to 1.
    wheelbase_mm : array_like
        Wheelbase, mm.
    height_mm : array_like
        Height of the centre of mass above the ground, mm.

    Returns
    -------
    CentreOfMass
        Of the machine alone.

    Examples
    --------
    >>> float(machine_centre_of_mass(112.0, 0.5, 1480.0, 520.0).to_rear_axle_mm)
    740.0
    """
    share = possible(front_share, "front_share", "between 0 and 1", at_least=0.0, at_most=1.0)
    return CentreOfMass(
        share * np.asarray(wheelbase_mm, dtype=np.float64),
        np.asarray(height_mm, dtype=np.float64),
        possible(mass_kg, "mass_kg", "a mass is above 0 kg", above=0.0),
    )


def seated_rider(
    mass_kg: ArrayLike,
    stature_mm: ArrayLike,
    *,
    seat_to_rear_axle_mm: ArrayLike,
    seat_height_mm: ArrayLike,
    footpeg_to_rear_axle_mm: ArrayLike,
    footpeg_height_mm: ArrayLike,
    lean_deg: ArrayLike = _SEATED_LEAN_DEG,
) -> CentreOfMass:
    """Centre of mass of a rider sitting with the feet on the footpegs.

    Parameters
    ----------
    mass_kg : array_like
        Rider with gear, kg.
    stature_mm : array_like
        Body height, mm.
    seat_to_rear_axle_mm : array_like
        Where the rider sits, ahead of the rear axle, mm.
    seat_height_mm : array_like
        Seat above the ground at the ridden height, mm.
    footpeg_to_rear_axle_mm, footpeg_height_mm : array_like
        Footpegs ahead of the rear axle and above the ground, mm.
    lean_deg : array_like, optional
        Upper body forward from the vertical, deg; at the start 40 and more.

    Returns
    -------
    CentreOfMass
        Of the rider.

    Notes
    -----
    Trunk, thighs and shanks after Winter, Biomechanics and Motor Control of Human Movement
    (from memory); the posture is an estimate, common practice, no source. Boots, helmet and
    the reach of the arms are left out: some centimetres uncertain.

    Examples
    --------
    >>> rider = seated_rider(
    ...     85.0,
    ...     1780.0,
    ...     seat_to_rear_axle_mm=560.0,
    ...     seat_height_mm=900.0,
    ...     footpeg_to_rear_axle_mm=560.0,
    ...     footpeg_height_mm=380.0,
    ... )
    >>> round(float(rider.to_rear_axle_mm)), round(float(rider.height_mm))
    (699, 1104)
    """
    stature = possible(stature_mm, "stature_mm", "a body height is above 0 mm", above=0.0)
    hip_height = np.asarray(seat_height_mm, dtype=np.float64) + _HIP_ABOVE_SEAT * stature
    return _rider(
        mass_kg,
        stature,
        hip=(np.asarray(seat_to_rear_axle_mm, dtype=np.float64), hip_height),
        footpeg=(footpeg_to_rear_axle_mm, footpeg_height_mm),
        lean_deg=lean_deg,
    )


def standing_rider(
    mass_kg: ArrayLike,
    stature_mm: ArrayLike,
    *,
    footpeg_to_rear_axle_mm: ArrayLike,
    footpeg_height_mm: ArrayLike,
    lean_deg: ArrayLike = _ATTACK_LEAN_DEG,
) -> CentreOfMass:
    """Centre of mass of a rider standing on the footpegs in the attack position.

    Parameters
    ----------
    mass_kg : array_like
        Rider with gear, kg.
    stature_mm : array_like
        Body height, mm.
    footpeg_to_rear_axle_mm, footpeg_height_mm : array_like
        Footpegs ahead of the rear axle and above the ground, mm.
    lean_deg : array_like, optional
        Upper body forward from the vertical, deg.

    Returns
    -------
    CentreOfMass
        Of the rider.

    Notes
    -----
    As `seated_rider`, with bent knees and the hips a little behind the footpegs; the posture is
    an estimate, common practice, no source.

    Examples
    --------
    >>> rider = standing_rider(
    ...     85.0, 1780.0, footpeg_to_rear_axle_mm=560.0, footpeg_height_mm=380.0
    ... )
    >>> round(float(rider.to_rear_axle_mm)), round(float(rider.height_mm))
    (602, 1241)
    """
    stature = possible(stature_mm, "stature_mm", "a body height is above 0 mm", above=0.0)
    peg = np.asarray(footpeg_to_rear_axle_mm, dtype=np.float64)
    peg_height = np.asarray(footpeg_height_mm, dtype=np.float64)
    hip = (
        peg - _ATTACK_HIP_BEHIND_FOOTPEG * stature,
        peg_height + _ATTACK_HIP_ABOVE_FOOTPEG * stature,
    )
    return _rider(mass_kg, stature, hip=hip, footpeg=(peg, peg_height), lean_deg=lean_deg)


def _rider(
    mass_kg: ArrayLike,
    stature: FloatArray,
    *,
    hip: tuple[FloatArray, FloatArray],
    footpeg: tuple[ArrayLike, ArrayLike],
    lean_deg: ArrayLike,
) -> CentreOfMass:
    lean = np.radians(np.asarray(lean_deg, dtype=np.float64))
    ankle_x = np.asarray(footpeg[0], dtype=np.float64)
    ankle_y = np.asarray(footpeg[1], dtype=np.float64) + _ANKLE_ABOVE_FOOTPEG * stature
    thigh, shank = _THIGH_LENGTH * stature, _SHANK_LENGTH * stature
    run, fall = ankle_x - hip[0], hip[1] - ankle_y
    reach = possible(
        np.hypot(run, fall),
        "hip to footpeg, mm",
        "the legs have to reach from the hip to the footpeg; check seat and footpeg",
        above=0.0,
    )
    # Law of cosines; a leg that is a little short is taken as stretched.
    bend = np.arccos(np.clip((reach**2 + thigh**2 - shank**2) / (2.0 * reach * thigh), -1.0, 1.0))
    direction = np.arctan2(run, fall) + bend
    knee_x, knee_y = hip[0] + thigh * np.sin(direction), hip[1] - thigh * np.cos(direction)
    trunk = _TRUNK_CENTRE * _TRUNK_LENGTH * stature
    x = (
        _TRUNK_MASS * (hip[0] + trunk * np.sin(lean))
        + _THIGHS_MASS * (hip[0] + _THIGH_CENTRE * (knee_x - hip[0]))
        + _SHANKS_MASS * (knee_x + _SHANK_CENTRE * (ankle_x - knee_x))
    )
    y = (
        _TRUNK_MASS * (hip[1] + trunk * np.cos(lean))
        + _THIGHS_MASS * (hip[1] + _THIGH_CENTRE * (knee_y - hip[1]))
        + _SHANKS_MASS * (knee_y + _SHANK_CENTRE * (ankle_y - knee_y))
    )
    mass = possible(mass_kg, "mass_kg", "a mass is above 0 kg", above=0.0)
    return CentreOfMass(np.asarray(x), np.asarray(y), mass)
