"""Damping of one end: ratio to critical, and the linear equivalent of a damper's curve."""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike

from setupadvisor.errors import ImpossibleValue
from setupadvisor.facts.valid_range import FloatArray, possible, within


def damping_ratio(
    damping_n_s_per_m: ArrayLike, rate_n_per_mm: ArrayLike, mass_kg: ArrayLike
) -> FloatArray:
    """Damping as a fraction of critical, all three taken at the wheel.

    Parameters
    ----------
    damping_n_s_per_m : array_like
        Damping coefficient at the wheel, N s/m.
    rate_n_per_mm : array_like
        Wheel rate, N/mm.
    mass_kg : array_like
        Sprung mass this wheel carries, kg.

    Returns
    -------
    numpy.ndarray
        Damping ratio; 1 is critical.

    Notes
    -----
    ``c / (2 sqrt(k m))`` (Rao, Mechanical Vibrations ch. 2; from memory).

    Examples
    --------
    >>> round(float(damping_ratio(700.0, 15.0, 80.0)), 2)
    0.32
    """
    damping = possible(
        damping_n_s_per_m, "damping_n_s_per_m", "damping is not below 0", at_least=0.0
    )
    rate = possible(rate_n_per_mm, "rate_n_per_mm", "a wheel rate is above 0 N/mm", above=0.0)
    mass = possible(mass_kg, "mass_kg", "a mass is above 0 kg", above=0.0)
    return np.asarray(damping / (2.0 * np.sqrt(rate * 1e3 * mass)))


def wheel_damping_n_s_per_m(damping_n_s_per_m: ArrayLike, motion_ratio: ArrayLike) -> FloatArray:
    """Damping at the wheel from damping at the damper.

    Parameters
    ----------
    damping_n_s_per_m : array_like
        Damping coefficient along the damper (of both fork legs together), N s/m.
    motion_ratio : array_like
        Damper travel per vertical wheel travel: the linkage's motion ratio at the rear,
        1/cos(rake) at the fork.

    Returns
    -------
    numpy.ndarray
        Damping coefficient at the wheel, N s/m.

    Notes
    -----
    Virtual work: force and velocity are both scaled, so the ratio enters squared.

    Examples
    --------
    >>> float(wheel_damping_n_s_per_m(8000.0, 0.5))
    2000.0
    """
    ratio = possible(motion_ratio, "motion_ratio", "a motion ratio is above 0", above=0.0)
    return np.asarray(np.asarray(damping_n_s_per_m, dtype=np.float64) * ratio**2)


def equivalent_damping_n_s_per_m(
    velocity_amplitude_mm_per_s: ArrayLike,
    table_velocity_mm_per_s: ArrayLike,
    table_force_n: ArrayLike,
) -> FloatArray:
    """Linear damping coefficient that takes up the same energy as a measured damper curve.

    Parameters
    ----------
    velocity_amplitude_mm_per_s : array_like
        Highest damper velocity of the sinusoidal motion, mm/s.
    table_velocity_mm_per_s : array_like, shape (points,)
        Damper velocities of the curve, rising, mm/s. The force is zero at zero velocity.
    table_force_n : array_like, shape (points,)
        Damper force at these velocities, N, of one direction (compression or rebound).

    Returns
    -------
    numpy.ndarray
        Equivalent coefficient of this direction, N s/m. Of a whole cycle it is the mean of
        compression and rebound.

    Raises
    ------
    ImpossibleValue
        When the curve is not a rising list of velocities with a force each.

    Warns
    -----
    OutsideValidRange
        When the motion is faster than the curve was measured; its last slope is continued.

    Notes
    -----
    Equal energy per cycle of a harmonic motion (Rao, Mechanical Vibrations ch. 3, equivalent
    viscous damping; from memory): ``c = 4/(pi V) * integral of F(V cos t) cos t`` over a
    quarter of a period, integrated exactly along the straight lines between the points.

    Examples
    --------
    >>> round(float(equivalent_damping_n_s_per_m(400.0, [100.0, 500.0], [200.0, 1000.0])))
    2000
    """
    speeds, forces = _curve(table_velocity_mm_per_s, table_force_n)
    amplitude = possible(
        velocity_amplitude_mm_per_s,
        "velocity_amplitude_mm_per_s",
        "a velocity amplitude is above 0 mm/s",
        above=0.0,
    )
    within(amplitude, "damper velocity", 0.0, float(speeds[-1]), "mm/s", "this damper's curve")
    energy = np.zeros_like(amplitude)
    last = speeds.size - 2
    for index in range(last + 1):
        slope = (forces[index + 1] - forces[index]) / (speeds[index + 1] - speeds[index])
        offset = forces[index] - slope * speeds[index]
        # The slow end of a segment comes late in the quarter period, hence the larger angle.
        late = np.arccos(np.minimum(speeds[index] / amplitude, 1.0))
        fast = amplitude * 0.0 + 1.0 if index == last else speeds[index + 1] / amplitude
        early = np.arccos(np.minimum(fast, 1.0))
        energy = (
            energy
            + offset * (np.sin(late) - np.sin(early))
            + slope
            * amplitude
            * ((late - early) / 2.0 + (np.sin(2.0 * late) - np.sin(2.0 * early)) / 4.0)
        )
    return np.asarray(4.0 * energy / (np.pi * amplitude) * 1e3)


def _curve(
    table_velocity_mm_per_s: ArrayLike, table_force_n: ArrayLike
) -> tuple[FloatArray, FloatArray]:
    """Check a damper curve and let it start at rest."""
    speeds = np.atleast_1d(np.asarray(table_velocity_mm_per_s, dtype=np.float64))
    forces = np.atleast_1d(np.asarray(table_force_n, dtype=np.float64))
    rising = speeds.ndim == 1 and bool(np.all(np.diff(speeds) > 0.0)) and speeds[0] >= 0.0
    if not rising or speeds.shape != forces.shape or speeds[-1] <= 0.0:
        raise ImpossibleValue(
            "table_velocity_mm_per_s",
            f"a curve of {speeds.size} velocities and {forces.size} forces",
            "list rising velocities from 0 mm/s up with one force each",
        )
    if speeds[0] > 0.0:
        speeds = np.concatenate(([0.0], speeds))
        forces = np.concatenate(([0.0], forces))
    return speeds, forces
