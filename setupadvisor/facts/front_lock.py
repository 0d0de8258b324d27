"""Locking the front down for the start: how deep, for the grip of gate and first metres.

Locking the front down lowers and shifts the centre of mass: the front lifts later, and the rear
spins earlier. At the depth where both limits meet, the motorcycle can accelerate hardest.
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
from numpy.typing import ArrayLike, NDArray

from setupadvisor.facts.geometry import (
    Attitude,
    ReferenceGeometry,
    attitude,
    front_sag_change_for_lean_mm,
)
from setupadvisor.facts.launch import traction_limit_m_s2, wheelie_limit_m_s2
from setupadvisor.facts.start_grip import StartGrip, start_grip
from setupadvisor.facts.suspension import STANDARD_GRAVITY_M_S2
from setupadvisor.facts.valid_range import FloatArray, possible


class LaunchLimits(NamedTuple):
    """What limits the acceleration at a front lock depth.

    Attributes
    ----------
    acceleration_m_s2, wheelie_limit_m_s2, traction_limit_m_s2 : numpy.ndarray
        The lower of the two limits, and the two, m/s2.
    attitude : Attitude
        How the motorcycle stands at this depth.
    """

    acceleration_m_s2: FloatArray
    wheelie_limit_m_s2: FloatArray
    traction_limit_m_s2: FloatArray
    attitude: Attitude


class LockDepth(NamedTuple):
    """The front lock depth at which wheelie limit and traction limit meet.

    Attributes
    ----------
    depth_mm : numpy.ndarray
        Fork compression held by the start device, from full extension, mm; NaN where the
        limits do not meet within the range or something is not known.
    wheelie_limit_always_above : numpy.ndarray of bool
        The rear wheel spins first at every depth: the shallowest lock accelerates hardest.
    wheelie_limit_always_below : numpy.ndarray of bool
        The front lifts first at every depth: the deepest lock accelerates hardest.
    """

    depth_mm: FloatArray
    wheelie_limit_always_above: NDArray[np.bool_]
    wheelie_limit_always_below: NDArray[np.bool_]


def launch_limits(
    reference: ReferenceGeometry,
    lock_depth_mm: ArrayLike,
    grip_coefficient: ArrayLike,
    *,
    front_sag_mm: ArrayLike = 0.0,
    rear_squat_mm: ArrayLike = 0.0,
    rolling_resistance_coefficient: ArrayLike = 0.0,
) -> LaunchLimits:
    """Wheelie limit and traction limit with the front locked down.

    Parameters
    ----------
    reference : ReferenceGeometry
        The motorcycle with the rider in the start position.
    lock_depth_mm : array_like
        Fork compression the start device holds, from full extension, mm; 0 without a device.
    grip_coefficient : array_like
        Gross traction over wheel load at the rear.
    front_sag_mm : array_like, optional
        Fork compression, from full extension, at which `reference` was measured, mm.
    rear_squat_mm : array_like, optional
        How much further than in `reference` the rear is compressed in the launch, mm.
    rolling_resistance_coefficient : array_like, optional
        Resistance of the ground over wheel load.

    Returns
    -------
    LaunchLimits
        The limits and the attitude they belong to.

    Notes
    -----
    Where it matters, the front carries next to nothing and the fork extends until the device
    (or its own end) holds it: the depth itself is the fork's compression.

    Examples
    --------
    >>> machine = ReferenceGeometry(27.0, 1480.0, 48.0, 340.0, 330.0, 590.0, 420.0, 700.0, 800.0)
    >>> limits = launch_limits(machine, [0.0, 120.0], 0.8, front_sag_mm=60.0)
    >>> limits.wheelie_limit_m_s2.round(2).tolist()
    [8.12, 9.08]
    >>> limits.traction_limit_m_s2.round(2).tolist()
    [7.63, 6.93]
    """
    depth = possible(lock_depth_mm, "lock_depth_mm", "a depth is not below 0 mm", at_least=0.0)
    sag = np.asarray(front_sag_mm, dtype=np.float64)
    stands = attitude(
        reference,
        front_sag_change_mm=depth - sag,
        rear_ride_height_change_mm=-np.asarray(rear_squat_mm, dtype=np.float64),
    )
    return limits_of_stance(
        stands, grip_coefficient, rolling_resistance_coefficient=rolling_resistance_coefficient
    )


def limits_of_stance(
    stands: Attitude,
    grip_coefficient: ArrayLike,
    *,
    rolling_resistance_coefficient: ArrayLike = 0.0,
) -> LaunchLimits:
    """Wheelie limit and traction limit of a motorcycle as it stands.

    Parameters
    ----------
    stands : Attitude
        Wheelbase and centre of mass, as of `launch_limits`.
    grip_coefficient : array_like
        Gross traction over wheel load at the rear.
    rolling_resistance_coefficient : array_like, optional
        Resistance of the ground over wheel load.

    Returns
    -------
    LaunchLimits
        The limits and the attitude as given.

    Examples
    --------
    >>> machine = ReferenceGeometry(27.0, 1480.0, 48.0, 340.0, 330.0, 590.0, 420.0, 700.0, 800.0)
    >>> gate, after = (limits_of_stance(attitude(machine), grip) for grip in (1.0, 0.6))
    >>> round(float(gate.traction_limit_m_s2), 2), round(float(after.traction_limit_m_s2), 2)
    (11.25, 4.59)
    """
    ahead, height = stands.centre_of_mass_to_rear_axle_mm, stands.centre_of_mass_height_mm
    wheelie = wheelie_limit_m_s2(ahead, height)
    traction = traction_limit_m_s2(
        grip_coefficient,
        stands.wheelbase_mm,
        ahead,
        height,
        rolling_resistance_coefficient=rolling_resistance_coefficient,
    )
    return LaunchLimits(np.minimum(wheelie, traction), wheelie, traction, stands)


def lock_depth_where_limits_meet(
    reference: ReferenceGeometry,
    grip_coefficient: ArrayLike,
    depth_low_mm: ArrayLike,
    depth_high_mm: ArrayLike,
    *,
    front_sag_mm: ArrayLike = 0.0,
    rear_squat_mm: ArrayLike = 0.0,
    rolling_resistance_coefficient: ArrayLike = 0.0,
) -> LockDepth:
    """Front lock depth at which the front lifts just when the rear spins.

    Parameters
    ----------
    reference : ReferenceGeometry
        The motorcycle with the rider in the start position.
    grip_coefficient : array_like
        Gross traction over wheel load at the rear, as from `start_grip`.
    depth_low_mm, depth_high_mm : array_like
        Range of depths the start device and the fork allow, mm.
    front_sag_mm : array_like, optional
        Fork compression at which `reference` was measured, mm.
    rear_squat_mm : array_like, optional
        How much further than in `reference` the rear is compressed in the launch, mm.
    rolling_resistance_coefficient : array_like, optional
        Resistance of the ground over wheel load.

    Returns
    -------
    LockDepth
        The depth, or which limit is the lower one all the way.

    Notes
    -----
    At that depth the lower of the two limits is highest. There the whole weight is on the rear
    wheel, so that ``b = (mu - c) h``: see `geometry.front_sag_change_for_lean_mm`.

    Examples
    --------
    >>> machine = ReferenceGeometry(27.0, 1480.0, 48.0, 340.0, 330.0, 590.0, 420.0, 700.0, 800.0)
    >>> found = lock_depth_where_limits_meet(machine, [0.87, 1.3], 20.0, 140.0, front_sag_mm=60.0)
    >>> found.depth_mm.round(1).tolist()
    [53.8, nan]
    >>> found.wheelie_limit_always_below.tolist()
    [False, True]
    """
    grip = possible(grip_coefficient, "grip_coefficient", "grip is not below 0", at_least=0.0)
    low = possible(depth_low_mm, "depth_low_mm", "a depth is not below 0 mm", at_least=0.0)
    high = np.asarray(depth_high_mm, dtype=np.float64)
    possible(high - low, "depth_high_mm less depth_low_mm", "high is above low", at_least=0.0)
    depth = np.asarray(front_sag_mm, dtype=np.float64) + front_sag_change_for_lean_mm(
        reference,
        grip - np.asarray(rolling_resistance_coefficient, dtype=np.float64),
        rear_ride_height_change_mm=-np.asarray(rear_squat_mm, dtype=np.float64),
    )
    always_above, always_below = depth < low, depth > high
    known = ~(np.isnan(low) | np.isnan(high))
    inside = known & (depth >= low) & (depth <= high)
    return LockDepth(np.where(inside, depth, np.nan), always_above, always_below)


def hardest_launch_depth_mm(
    found: LockDepth, depth_low_mm: ArrayLike, depth_high_mm: ArrayLike
) -> FloatArray:
    """Depth of a range that accelerates hardest, where the limits meet or not.

    Parameters
    ----------
    found : LockDepth
        What `lock_depth_where_limits_meet` found in this range.
    depth_low_mm, depth_high_mm : array_like
        The range, mm.

    Returns
    -------
    numpy.ndarray
        Depth, mm: where the limits meet, else the shallow end where the rear spins first all
        the way, else the deep end; NaN where something is not known.

    Examples
    --------
    >>> spins_first = LockDepth(np.array(np.nan), np.array(True), np.array(False))
    >>> float(hardest_launch_depth_mm(spins_first, 60.0, 140.0))
    60.0
    """
    ends = np.where(found.wheelie_limit_always_below, depth_high_mm, np.nan)
    ends = np.where(found.wheelie_limit_always_above, depth_low_mm, ends)
    return np.where(np.isnan(found.depth_mm), ends, found.depth_mm)


def lock_depth_for_start(
    reference: ReferenceGeometry,
    *,
    gate_grip_coefficient: ArrayLike,
    gate_distance_m: ArrayLike,
    ground_grip_coefficient: ArrayLike,
    ground_distance_m: ArrayLike,
    depth_low_mm: ArrayLike,
    depth_high_mm: ArrayLike,
    front_sag_mm: ArrayLike = 0.0,
    rolling_resistance_coefficient: ArrayLike = 0.0,
) -> tuple[LockDepth, StartGrip]:
    """Front lock depth for the grip of gate and first metres together.

    Parameters
    ----------
    reference : ReferenceGeometry
        The motorcycle with the rider in the start position.
    gate_grip_coefficient, gate_distance_m : array_like
        Grip of the gate's ground and how far the rear wheel runs on it, m.
    ground_grip_coefficient, ground_distance_m : array_like
        Grip of the ground after it and how many metres of it count, m.
    depth_low_mm, depth_high_mm : array_like
        Range of depths the start device and the fork allow, mm.
    front_sag_mm : array_like, optional
        Fork compression at which `reference` was measured, mm.
    rolling_resistance_coefficient : array_like, optional
        Resistance of the ground after the gate over wheel load.

    Returns
    -------
    tuple of LockDepth and StartGrip
        The depth, and the weighted grip it was found for.

    Notes
    -----
    The weights need the accelerations and these the depth: one pass with all weight on the rear
    wheel, one more with the limits at the depth found. Follow the start device's instructions
    and the event's rules; a front that does not release is dangerous.

    Examples
    --------
    >>> machine = ReferenceGeometry(27.0, 1480.0, 48.0, 340.0, 330.0, 590.0, 420.0, 700.0, 800.0)
    >>> found, weighted = lock_depth_for_start(
    ...     machine,
    ...     gate_grip_coefficient=1.0,
    ...     gate_distance_m=1.0,
    ...     ground_grip_coefficient=0.9,
    ...     ground_distance_m=10.0,
    ...     depth_low_mm=40.0,
    ...     depth_high_mm=160.0,
    ...     front_sag_mm=60.0,
    ... )
    >>> round(float(found.depth_mm)), round(float(weighted.grip_coefficient), 2)
    (124, 0.93)
    """
    gate_grip, ground_grip, resistance = (
        np.asarray(value, dtype=np.float64)
        for value in (
            gate_grip_coefficient,
            ground_grip_coefficient,
            rolling_resistance_coefficient,
        )
    )

    def at_accelerations(
        gate_m_s2: FloatArray, ground_m_s2: FloatArray
    ) -> tuple[LockDepth, StartGrip]:
        weighted = start_grip(
            gate_grip,
            gate_distance_m,
            np.where(gate_m_s2 > 0.0, gate_m_s2, np.nan),
            ground_grip_coefficient=ground_grip,
            ground_distance_m=ground_distance_m,
            ground_acceleration_m_s2=np.where(ground_m_s2 > 0.0, ground_m_s2, np.nan),
        )
        found = lock_depth_where_limits_meet(
            reference,
            weighted.grip_coefficient,
            depth_low_mm,
            depth_high_mm,
            front_sag_mm=front_sag_mm,
            rolling_resistance_coefficient=(1.0 - weighted.gate_time_share) * resistance,
        )
        return found, weighted

    found, _ = at_accelerations(
        STANDARD_GRAVITY_M_S2 * gate_grip, STANDARD_GRAVITY_M_S2 * (ground_grip - resistance)
    )
    depth = hardest_launch_depth_mm(found, depth_low_mm, depth_high_mm)
    gate = launch_limits(reference, depth, gate_grip, front_sag_mm=front_sag_mm)
    ground = limits_of_stance(gate.attitude, ground_grip, rolling_resistance_coefficient=resistance)
    return at_accelerations(gate.acceleration_m_s2, ground.acceleration_m_s2)
