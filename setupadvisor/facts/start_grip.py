"""Grip at the start: the gate's ground and the first metres after it, weighted by time."""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
from numpy.typing import ArrayLike

from setupadvisor.facts.valid_range import FloatArray, possible


class StartGrip(NamedTuple):
    """Grip of the gate and of the first metres after it, weighted by time.

    Attributes
    ----------
    grip_coefficient : numpy.ndarray
        Weighted grip.
    gate_time_share : numpy.ndarray
        Share of the time the rear wheel is on the gate's ground, 0 to 1.
    """

    grip_coefficient: FloatArray
    gate_time_share: FloatArray


def start_grip(
    gate_grip_coefficient: ArrayLike,
    gate_distance_m: ArrayLike,
    gate_acceleration_m_s2: ArrayLike,
    *,
    ground_grip_coefficient: ArrayLike,
    ground_distance_m: ArrayLike,
    ground_acceleration_m_s2: ArrayLike,
) -> StartGrip:
    """Grip of gate and first metres, weighted by how long the rear wheel is on each.

    Parameters
    ----------
    gate_grip_coefficient : array_like
        Grip of the pad the rear wheel starts on.
    gate_distance_m : array_like
        How far the rear wheel runs on it, m.
    gate_acceleration_m_s2 : array_like
        Acceleration there, m/s2.
    ground_grip_coefficient : array_like
        Grip of the ground after the gate.
    ground_distance_m : array_like
        How many metres of it count, m.
    ground_acceleration_m_s2 : array_like
        Acceleration there, m/s2.

    Returns
    -------
    StartGrip
        Weighted grip and the gate's share of the time.

    Notes
    -----
    Constant acceleration from rest on the gate, then constant acceleration from the speed
    reached. Weighting by time is a choice of this project: a tenth of g counts as much on
    either ground as the seconds it lasts.

    Examples
    --------
    >>> weighted = start_grip(
    ...     0.9,
    ...     1.0,
    ...     8.0,
    ...     ground_grip_coefficient=0.6,
    ...     ground_distance_m=9.0,
    ...     ground_acceleration_m_s2=5.0,
    ... )
    >>> round(float(weighted.gate_time_share), 2), round(float(weighted.grip_coefficient), 2)
    (0.28, 0.69)
    """
    gate, ground = (
        possible(value, name, "a distance is not below 0 m", at_least=0.0)
        for value, name in (
            (gate_distance_m, "gate_distance_m"),
            (ground_distance_m, "ground_distance_m"),
        )
    )
    gate_acceleration, ground_acceleration = (
        possible(value, name, "the motorcycle has to gain speed", above=0.0)
        for value, name in (
            (gate_acceleration_m_s2, "gate_acceleration_m_s2"),
            (ground_acceleration_m_s2, "ground_acceleration_m_s2"),
        )
    )
    speed_squared = 2.0 * gate_acceleration * gate
    gate_time = np.sqrt(2.0 * gate / gate_acceleration)
    gained = np.sqrt(speed_squared + 2.0 * ground_acceleration * ground) - np.sqrt(speed_squared)
    ground_time = gained / ground_acceleration
    with np.errstate(invalid="ignore"):
        share = gate_time / (gate_time + ground_time)
    gate_grip = np.asarray(gate_grip_coefficient, dtype=np.float64)
    ground_grip = np.asarray(ground_grip_coefficient, dtype=np.float64)
    return StartGrip(share * gate_grip + (1.0 - share) * ground_grip, share)
