"""Attitude of the motorcycle on the ground: rake, trail, wheelbase, weight split, swingarm angle.

Plane geometry, exact: the frame is turned until both tyres touch the ground, instead of adding
up small-angle tables. x points forward, y up.
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
from numpy.typing import ArrayLike

from setupadvisor.facts.valid_range import FloatArray, possible


class ReferenceGeometry(NamedTuple):
    """A motorcycle as measured once, standing at the height it is ridden at.

    Attributes
    ----------
    rake_deg : array_like
        Steering axis from the vertical, deg.
    wheelbase_mm : array_like
        Horizontal distance of the axles, mm.
    fork_offset_mm : array_like
        Front axle ahead of the steering axis, square to it (clamp offset plus the axle's own
        lead), mm.
    front_wheel_radius_mm, rear_wheel_radius_mm : array_like
        Axle height, tyre loaded, mm.
    swingarm_length_mm : array_like
        Pivot to rear axle, mm.
    pivot_height_mm : array_like
        Swingarm pivot above the ground, mm.
    centre_of_mass_to_rear_axle_mm : array_like
        Machine and rider, horizontally ahead of the rear axle, mm.
    centre_of_mass_height_mm : array_like
        Machine and rider, above the ground, mm.
    """

    rake_deg: ArrayLike
    wheelbase_mm: ArrayLike
    fork_offset_mm: ArrayLike
    front_wheel_radius_mm: ArrayLike
    rear_wheel_radius_mm: ArrayLike
    swingarm_length_mm: ArrayLike = np.nan
    pivot_height_mm: ArrayLike = np.nan
    centre_of_mass_to_rear_axle_mm: ArrayLike = np.nan
    centre_of_mass_height_mm: ArrayLike = np.nan


class Attitude(NamedTuple):
    """How the motorcycle stands after changes.

    Attributes
    ----------
    rake_deg, trail_mm, normal_trail_mm, wheelbase_mm : numpy.ndarray
        Steering geometry; normal trail is square to the steering axis.
    swingarm_angle_deg : numpy.ndarray
        Swingarm above the horizontal, seen from the axle to the pivot, deg.
    front_weight_share : numpy.ndarray
        Share of the weight on the front wheel at rest.
    centre_of_mass_height_mm, centre_of_mass_to_rear_axle_mm : numpy.ndarray
        Machine and rider, mm.
    pitch_change_deg : numpy.ndarray
        How far the frame turned, nose up positive, deg.
    """

    rake_deg: FloatArray
    trail_mm: FloatArray
    normal_trail_mm: FloatArray
    wheelbase_mm: FloatArray
    swingarm_angle_deg: FloatArray
    front_weight_share: FloatArray
    centre_of_mass_height_mm: FloatArray
    centre_of_mass_to_rear_axle_mm: FloatArray
    pitch_change_deg: FloatArray


def trail_mm(
    rake_deg: ArrayLike, wheel_radius_mm: ArrayLike, fork_offset_mm: ArrayLike
) -> FloatArray:
    """Trail on the ground.

    Parameters
    ----------
    rake_deg : array_like
        Steering axis from the vertical, deg.
    wheel_radius_mm : array_like
        Front axle height, mm.
    fork_offset_mm : array_like
        Front axle ahead of the steering axis, square to it, mm.

    Returns
    -------
    numpy.ndarray
        Trail, mm; positive when the tyre touches behind the steering axis.

    Notes
    -----
    ``(R sin(rake) - d) / cos(rake)``; Cossalter, Motorcycle Dynamics ch. 1, from memory.

    Examples
    --------
    >>> round(float(trail_mm(27.0, 340.0, 48.0)), 1)
    119.4
    """
    rake = _radians(rake_deg)
    radius = np.asarray(wheel_radius_mm, dtype=np.float64)
    offset = np.asarray(fork_offset_mm, dtype=np.float64)
    return np.asarray((radius * np.sin(rake) - offset) / np.cos(rake))


def normal_trail_mm(trail: ArrayLike, rake_deg: ArrayLike) -> FloatArray:
    """Distance of the front contact point from the steering axis, square to the axis.

    Parameters
    ----------
    trail : array_like
        Trail on the ground, mm.
    rake_deg : array_like
        Steering axis from the vertical, deg.

    Returns
    -------
    numpy.ndarray
        Normal trail, mm.

    Notes
    -----
    ``trail cos(rake)``; Cossalter, Motorcycle Dynamics ch. 1, from memory.

    Examples
    --------
    >>> round(float(normal_trail_mm(80.0, 18.0)), 2)
    76.08
    """
    return np.asarray(np.asarray(trail, dtype=np.float64) * np.cos(_radians(rake_deg)))


def fork_offset_mm(trail: ArrayLike, rake_deg: ArrayLike, wheel_radius_mm: ArrayLike) -> FloatArray:
    """Fork offset that belongs to a stated trail.

    Parameters
    ----------
    trail : array_like
        Trail on the ground, mm.
    rake_deg : array_like
        Steering axis from the vertical, deg.
    wheel_radius_mm : array_like
        Front axle height, mm.

    Returns
    -------
    numpy.ndarray
        Front axle ahead of the steering axis, square to it, mm.

    Examples
    --------
    >>> round(float(fork_offset_mm(119.4, 27.0, 340.0)), 1)
    48.0
    """
    radius = np.asarray(wheel_radius_mm, dtype=np.float64)
    return np.asarray(radius * np.sin(_radians(rake_deg)) - normal_trail_mm(trail, rake_deg))


def rear_ride_height_change_mm(
    shock_length_change_mm: ArrayLike,
    motion_ratio: ArrayLike,
    rear_sag_change_mm: ArrayLike = 0.0,
) -> FloatArray:
    """Change of the rear ride height from shock length and sag.

    Parameters
    ----------
    shock_length_change_mm : array_like
        Shock longer (above 0) or shorter between its eyes, mm.
    motion_ratio : array_like
        Shock travel per wheel travel of the linkage there.
    rear_sag_change_mm : array_like, optional
        More sag (above 0) at the wheel, mm.

    Returns
    -------
    numpy.ndarray
        Rear of the frame higher (above 0) or lower over the axle, mm.

    Notes
    -----
    For the few millimetres a shock is shimmed; over these the motion ratio is constant.

    Examples
    --------
    >>> round(float(rear_ride_height_change_mm(3.0, 0.4, 2.0)), 2)
    5.5
    """
    ratio = possible(motion_ratio, "motion_ratio", "a motion ratio is above 0", above=0.0)
    longer = np.asarray(shock_length_change_mm, dtype=np.float64)
    sag = np.asarray(rear_sag_change_mm, dtype=np.float64)
    return np.asarray(longer / ratio - sag)


def attitude(
    reference: ReferenceGeometry,
    *,
    fork_height_change_mm: ArrayLike = 0.0,
    front_sag_change_mm: ArrayLike = 0.0,
    rear_ride_height_change_mm: ArrayLike = 0.0,
    axle_position_change_mm: ArrayLike = 0.0,
    clamp_offset_change_mm: ArrayLike = 0.0,
    front_wheel_radius_change_mm: ArrayLike = 0.0,
    rear_wheel_radius_change_mm: ArrayLike = 0.0,
) -> Attitude:
    """How the motorcycle stands after changes to fork, shock, axle, clamps and tyres.

    Parameters
    ----------
    reference : ReferenceGeometry
        The motorcycle as measured.
    fork_height_change_mm : array_like, optional
        Fork tubes raised in the clamps (above 0: lower front, steeper), mm.
    front_sag_change_mm : array_like, optional
        More (above 0) compression of the fork along its axis, mm.
    rear_ride_height_change_mm : array_like, optional
        Rear of the frame higher (above 0) over the axle, mm: longer shock or less sag.
    axle_position_change_mm : array_like, optional
        Rear axle further back (above 0) along the swingarm, mm.
    clamp_offset_change_mm : array_like, optional
        More (above 0) offset of the fork clamps, mm.
    front_wheel_radius_change_mm, rear_wheel_radius_change_mm : array_like, optional
        Bigger (above 0) wheel, mm.

    Returns
    -------
    Attitude
        Steering geometry, swingarm angle, weight split and centre of mass. What needs a
        measurement that is missing (NaN) is NaN, the rest is known: without a swingarm
        measured, changes of the fork still give the rake.

    Raises
    ------
    ImpossibleValue
        For lengths not above 0, a rake outside 0 to 60 deg, or a swingarm that does not reach.

    Notes
    -----
    In the frame, the front axle moves along the steering axis and square to it, the rear axle
    about the pivot and along the swingarm; then the frame turns by the angle that puts both
    tyres on the ground. The centre of mass is taken as fixed to the frame: the wheels' own
    small shift against it is left out.

    Examples
    --------
    >>> machine = ReferenceGeometry(27.0, 1480.0, 48.0, 340.0, 330.0, 590.0, 420.0, 700.0, 650.0)
    >>> raised = attitude(machine, fork_height_change_mm=5.0)
    >>> round(float(raised.rake_deg), 2), round(float(raised.trail_mm), 1)
    (26.83, 118.2)
    """
    rake = _radians(reference.rake_deg)
    wheelbase, front_radius, rear_radius = (
        possible(value, name, "a length is above 0 mm", above=0.0)
        for value, name in (
            (reference.wheelbase_mm, "wheelbase_mm"),
            (reference.front_wheel_radius_mm, "front_wheel_radius_mm"),
            (reference.rear_wheel_radius_mm, "rear_wheel_radius_mm"),
        )
    )
    offset_change = np.asarray(clamp_offset_change_mm, dtype=np.float64)
    up_the_fork = np.asarray(fork_height_change_mm, dtype=np.float64) + np.asarray(
        front_sag_change_mm, dtype=np.float64
    )
    back, down, arm_angle = _rear_axle_shift(
        reference, rear_ride_height_change_mm, axle_position_change_mm
    )
    # Axle to axle in the frame; the steering axis runs forward and down along (sin, -cos).
    across = wheelbase - up_the_fork * np.sin(rake) + offset_change * np.cos(rake) + back
    rise = (
        front_radius
        - rear_radius
        + up_the_fork * np.cos(rake)
        + offset_change * np.sin(rake)
        + down
    )
    front_wheel = front_radius + np.asarray(front_wheel_radius_change_mm, dtype=np.float64)
    rear_wheel = rear_radius + np.asarray(rear_wheel_radius_change_mm, dtype=np.float64)
    between = np.hypot(across, rise)
    slope = np.arcsin(np.clip((front_wheel - rear_wheel) / between, -1.0, 1.0))
    turn = slope - np.arctan2(rise, across)

    new_rake = rake + turn
    new_wheelbase = between * np.cos(slope)
    offset = np.asarray(reference.fork_offset_mm, dtype=np.float64) + offset_change
    normal = front_wheel * np.sin(new_rake) - offset
    ahead = np.asarray(reference.centre_of_mass_to_rear_axle_mm, dtype=np.float64) + back
    height = np.asarray(reference.centre_of_mass_height_mm, dtype=np.float64)
    above = height - rear_radius + down
    to_rear = ahead * np.cos(turn) - above * np.sin(turn)
    return Attitude(
        rake_deg=np.degrees(new_rake),
        trail_mm=normal / np.cos(new_rake),
        normal_trail_mm=normal,
        wheelbase_mm=new_wheelbase,
        swingarm_angle_deg=np.degrees(arm_angle + turn),
        front_weight_share=to_rear / new_wheelbase,
        centre_of_mass_height_mm=rear_wheel + ahead * np.sin(turn) + above * np.cos(turn),
        centre_of_mass_to_rear_axle_mm=to_rear,
        pitch_change_deg=np.degrees(turn),
    )


def front_sag_change_for_lean_mm(
    reference: ReferenceGeometry,
    ahead_over_height: ArrayLike,
    *,
    rear_ride_height_change_mm: ArrayLike = 0.0,
) -> FloatArray:
    """Fork compression that puts the centre of mass on a line through the rear contact.

    Parameters
    ----------
    reference : ReferenceGeometry
        The motorcycle as measured.
    ahead_over_height : array_like
        Wanted distance of the mass ahead of the rear contact over its height: the acceleration
        at which the front lifts, over g.
    rear_ride_height_change_mm : array_like, optional
        Rear of the frame higher (above 0) over the axle, mm.

    Returns
    -------
    numpy.ndarray
        Change of the fork's compression along its axis, mm, as `attitude` takes it; minus
        infinity where no extension puts the mass so far back.

    Notes
    -----
    The inverse of `attitude`. With b and z of the mass ahead of and above the rear axle of radius
    R, and p the wanted ratio, the frame has to turn by t so that ``(b - p z) cos t - (z + p b)
    sin t = p R``; and the front tyre is on the ground at that angle where the compression u
    solves an equation that is linear in it.

    Examples
    --------
    >>> machine = ReferenceGeometry(27.0, 1480.0, 48.0, 340.0, 330.0, 590.0, 420.0, 700.0, 650.0)
    >>> lowered = front_sag_change_for_lean_mm(machine, 1.12)
    >>> stands = attitude(machine, front_sag_change_mm=lowered)
    >>> ratio = stands.centre_of_mass_to_rear_axle_mm / stands.centre_of_mass_height_mm
    >>> round(float(lowered), 1), round(float(ratio), 6)
    (41.8, 1.12)
    """
    rake = _radians(reference.rake_deg)
    front_radius, rear_radius, lean = (
        np.asarray(value, dtype=np.float64)
        for value in (
            reference.front_wheel_radius_mm,
            reference.rear_wheel_radius_mm,
            ahead_over_height,
        )
    )
    back, down, _ = _rear_axle_shift(reference, rear_ride_height_change_mm, 0.0)
    ahead = np.asarray(reference.centre_of_mass_to_rear_axle_mm, dtype=np.float64) + back
    above = np.asarray(reference.centre_of_mass_height_mm, dtype=np.float64) - rear_radius + down
    across, along = ahead - lean * above, above + lean * ahead
    share = lean * rear_radius / np.hypot(across, along)
    drop = front_radius - rear_radius
    with np.errstate(divide="ignore", invalid="ignore"):
        turn = np.arccos(share) - np.arctan2(along, across)
        square = np.cos(rake + turn)
        change = (
            drop
            - (drop + down) * np.cos(turn)
            - (np.asarray(reference.wheelbase_mm, dtype=np.float64) + back) * np.sin(turn)
        ) / square
    # With the fork level or pointing up, extending it lifts the front no further.
    return np.where(square <= 0.0, -np.inf, change)


def _rear_axle_shift(
    reference: ReferenceGeometry,
    rear_ride_height_change_mm: ArrayLike,
    axle_position_change_mm: ArrayLike,
) -> tuple[FloatArray, FloatArray, FloatArray]:
    """Rear axle back and down in the frame (mm), and the swingarm's angle there (rad)."""
    raised = np.asarray(rear_ride_height_change_mm, dtype=np.float64)
    further = np.asarray(axle_position_change_mm, dtype=np.float64)
    arm = possible(
        reference.swingarm_length_mm, "swingarm_length_mm", "a swingarm is above 0 mm", above=0.0
    )
    drop = np.asarray(reference.pivot_height_mm, dtype=np.float64) - np.asarray(
        reference.rear_wheel_radius_mm, dtype=np.float64
    )
    limits = "the axle cannot be further above or below the pivot than the swingarm is long"
    before = np.arcsin(
        possible(drop / arm, "swingarm drop over length", limits, at_least=-1.0, at_most=1.0)
    )
    after = np.arcsin(
        possible(
            (drop + raised) / arm, "swingarm drop over length", limits, at_least=-1.0, at_most=1.0
        )
    )
    back = (arm + further) * np.cos(after) - arm * np.cos(before)
    down = (arm + further) * np.sin(after) - arm * np.sin(before)
    untouched = (raised == 0.0) & (further == 0.0)
    return np.where(untouched, 0.0, back), np.where(untouched, 0.0, down), after


def _radians(rake_deg: ArrayLike) -> FloatArray:
    rake = possible(rake_deg, "rake_deg", "rake is 0 to 60 deg", at_least=0.0, at_most=60.0)
    return np.asarray(np.radians(rake))
