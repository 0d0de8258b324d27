"""The run from the gate to the first corner: time, speed and heat into the clutch.

The rider is taken to hold the motorcycle at the lowest of wheelie limit, traction limit and what
the engine pulls, slipping the clutch until the engine turns fast enough. Real starts lose time
against that; differences between two setups are more certain than times.
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
from numpy.typing import ArrayLike

from setupadvisor.facts.drive_force import (
    Drive,
    clutch_closed_speed_m_per_s,
    drive_force_n,
    top_speed_m_per_s,
)
from setupadvisor.facts.front_lock import launch_limits
from setupadvisor.facts.geometry import ReferenceGeometry
from setupadvisor.facts.remembered import remembered
from setupadvisor.facts.speed_steps import Riding, SpeedSteps, ride_stretch, speed_steps
from setupadvisor.facts.suspension import STANDARD_GRAVITY_M_S2
from setupadvisor.facts.valid_range import FloatArray, possible

_SPEED_STEPS = 160
"""Halving the step moves a 60 m time by less than a thousandth of a second (measured)."""

_ROWS_AT_ONCE = 100
"""Rows whose steps stay in the processor's own memory; only speed depends on it."""


class StartRun(NamedTuple):
    """A run from standstill over a distance.

    Attributes
    ----------
    time_s : numpy.ndarray
        Time, s; infinite where the motorcycle cannot move off.
    speed_m_per_s : numpy.ndarray
        Speed at the end, m/s.
    clutch_heat_j : numpy.ndarray
        Heat into the clutch, J.
    clutch_slip_time_s : numpy.ndarray
        How long the clutch slips, s.
    """

    time_s: FloatArray
    speed_m_per_s: FloatArray
    clutch_heat_j: FloatArray
    clutch_slip_time_s: FloatArray


def start_run(
    mass_kg: ArrayLike,
    distance_m: ArrayLike,
    limit_m_s2: ArrayLike,
    drive: Drive,
    *,
    gate_distance_m: ArrayLike = 0.0,
    gate_limit_m_s2: ArrayLike | None = None,
    rolling_resistance_coefficient: ArrayLike = 0.0,
    gate_rolling_resistance_coefficient: ArrayLike = 0.0,
    drag_area_m2: ArrayLike = 0.6,
    air_density_kg_m3: ArrayLike = 1.2,
    power_factor: ArrayLike = 1.0,
    speed_step_count: int = _SPEED_STEPS,
) -> StartRun:
    """Run from standstill to the first corner at the lowest of all limits.

    Parameters
    ----------
    mass_kg : array_like
        Machine and rider, kg.
    distance_m : array_like
        From the gate to where the rider brakes, m.
    limit_m_s2 : array_like
        Lower of wheelie limit and traction limit on the ground after the gate, m/s2.
    drive : Drive
        Engine, gears and rear wheel of one machine.
    gate_distance_m : array_like, optional
        How far the rear wheel runs on the gate's own ground, m.
    gate_limit_m_s2 : array_like, optional
        Lower of the two limits on the gate's ground, m/s2; as after it when not given.
    rolling_resistance_coefficient : array_like, optional
        Resistance of the ground after the gate over weight, against the engine's force. The
        traction limit has to be given with it already taken off.
    gate_rolling_resistance_coefficient : array_like, optional
        The same of the gate's ground; next to none on a hard pad.
    drag_area_m2 : array_like, optional
        Drag coefficient times frontal area; the 0.6 m2 of an upright rider is an estimate,
        from memory.
    air_density_kg_m3 : array_like, optional
        Air density, kg/m3.
    power_factor : array_like, optional
        Torque today over torque of the curve, for thin air.
    speed_step_count : int, optional
        Steps of speed from the closing of the clutch to the engine's limit.

    Returns
    -------
    StartRun
        Time, speed at the end, heat into the clutch and how long it slips.

    Notes
    -----
    Way and time are integrated over steps of speed, see `speed_steps.ride_stretch`: a constant
    acceleration is exact. Air drag acts at the centre of mass and comes off the limits.
    The clutch passes just the torque the motorcycle uses, at the held engine speed: heat is
    that torque times slip. What heats the machine's own spinning parts is left out.

    Examples
    --------
    >>> engine = Drive([4000, 9000, 13000], [35, 45, 30], [19.0, 15.0], 340.0, 8000.0)
    >>> run = start_run(200.0, 60.0, 7.0, engine, gate_distance_m=1.0, gate_limit_m_s2=8.0)
    >>> round(float(run.time_s), 2), round(float(run.clutch_heat_j / 1e3), 1)
    (4.15, 25.2)
    """
    mass = possible(mass_kg, "mass_kg", "a mass is above 0 kg", above=0.0)
    distance = possible(distance_m, "distance_m", "a distance is above 0 m", above=0.0)
    limit = np.asarray(limit_m_s2, dtype=np.float64)
    gate = np.minimum(
        possible(gate_distance_m, "gate_distance_m", "not below 0 m", at_least=0.0), distance
    )
    gate_limit = limit if gate_limit_m_s2 is None else np.asarray(gate_limit_m_s2, dtype=np.float64)
    gate_limit = np.where(gate > 0.0, gate_limit, limit)
    resistance, gate_resistance = (
        STANDARD_GRAVITY_M_S2 * np.asarray(coefficient, dtype=np.float64)
        for coefficient in (rolling_resistance_coefficient, gate_rolling_resistance_coefficient)
    )
    drag = np.asarray(air_density_kg_m3, dtype=np.float64) * np.asarray(drag_area_m2) / 2.0 / mass
    engine = np.asarray(power_factor, dtype=np.float64) / mass

    steps, forces = _forces(*drive, speed_step_count)
    shape = np.broadcast_shapes(
        distance.shape,
        gate.shape,
        limit.shape,
        gate_limit.shape,
        drag.shape,
        engine.shape,
        resistance.shape,
        gate_resistance.shape,
    )
    even = np.zeros(shape)
    columns = [
        (column + even).reshape(-1)
        for column in (
            gate,
            distance - gate,
            gate_limit,
            limit,
            gate_resistance,
            resistance,
            engine,
            drag,
        )
    ]
    found = np.empty((4, columns[0].size))
    for start in range(0, columns[0].size, _ROWS_AT_ONCE):
        part = slice(start, start + _ROWS_AT_ONCE)
        found[:, part] = _both_stretches(
            *(column[part] for column in columns), steps=steps, forces=forces
        )
    time, speed, work, slip_time = found.reshape(4, *shape)
    with np.errstate(invalid="ignore"):
        heat = np.where(np.isinf(time), np.inf, mass * work / drive.efficiency)
    return StartRun(time, speed, heat, slip_time)


@remembered
def _forces(
    engine_speed_rpm: FloatArray,
    torque_nm: FloatArray,
    overall_ratios: FloatArray,
    wheel_radius_mm: FloatArray,
    clutch_slip_speed_rpm: FloatArray,
    efficiency: FloatArray,
    count: FloatArray,
) -> tuple[SpeedSteps, FloatArray]:
    """Cut the machine's speeds into steps, and find its force at their ends."""
    drive = Drive(
        engine_speed_rpm,
        torque_nm,
        overall_ratios,
        float(wheel_radius_mm),
        float(clutch_slip_speed_rpm),
        float(efficiency),
    )
    steps = speed_steps(
        1.001 * top_speed_m_per_s(drive), clutch_closed_speed_m_per_s(drive), int(count)
    )
    return steps, drive_force_n(steps.speed_m_per_s, drive)


def _both_stretches(
    gate: FloatArray,
    after: FloatArray,
    gate_limit: FloatArray,
    limit: FloatArray,
    gate_resistance: FloatArray,
    resistance: FloatArray,
    engine: FloatArray,
    drag: FloatArray,
    *,
    steps: SpeedSteps,
    forces: FloatArray,
) -> tuple[FloatArray, FloatArray, FloatArray, FloatArray]:
    """Time, speed, slip work and slip time over the gate's ground and the ground after it."""
    pulled = engine[:, None] * forces
    first, second = (
        Riding(np.minimum((held + resists)[:, None], pulled), resists, drag)
        for held, resists in ((gate_limit, gate_resistance), (limit, resistance))
    )
    left = ride_stretch(steps, first, np.zeros_like(gate), gate)
    came = ride_stretch(steps, second, left.speed_m_per_s, after)
    return (
        left.time_s + came.time_s,
        came.speed_m_per_s,
        left.slip_work_m2_s2 + came.slip_work_m2_s2,
        left.slip_time_s + came.slip_time_s,
    )


def deeper_lock_gain_hundredths(
    reference: ReferenceGeometry,
    lock_depth_mm: ArrayLike,
    deeper_mm: ArrayLike,
    drive: Drive,
    *,
    mass_kg: ArrayLike,
    distance_m: ArrayLike,
    grip_coefficient: ArrayLike,
    gate_distance_m: ArrayLike = 0.0,
    gate_grip_coefficient: ArrayLike | None = None,
    front_sag_mm: ArrayLike = 0.0,
    rolling_resistance_coefficient: ArrayLike = 0.0,
    gate_rolling_resistance_coefficient: ArrayLike = 0.0,
) -> FloatArray:
    """Hundredths of a second to the first corner won by locking the front deeper.

    Parameters
    ----------
    reference : ReferenceGeometry
        The motorcycle with the rider in the start position.
    lock_depth_mm : array_like
        Depth to compare with, from full extension, mm.
    deeper_mm : array_like
        How much deeper (below 0: shallower), mm.
    drive : Drive
        Engine, gears and rear wheel.
    mass_kg : array_like
        Machine and rider, kg.
    distance_m : array_like
        From the gate to the first corner, m.
    grip_coefficient : array_like
        Gross traction over wheel load on the ground after the gate.
    gate_distance_m : array_like, optional
        How far the rear wheel runs on the gate's own ground, m.
    gate_grip_coefficient : array_like, optional
        Grip of the gate's ground; as after it when not given.
    front_sag_mm : array_like, optional
        Fork compression at which `reference` was measured, mm.
    rolling_resistance_coefficient : array_like, optional
        Resistance of the ground after the gate over weight.
    gate_rolling_resistance_coefficient : array_like, optional
        The same of the gate's ground; next to none on a hard pad.

    Returns
    -------
    numpy.ndarray
        Hundredths of a second won; below 0 lost.

    Examples
    --------
    >>> machine = ReferenceGeometry(27.0, 1480.0, 48.0, 340.0, 330.0, 590.0, 420.0, 700.0, 800.0)
    >>> engine = Drive([4000, 9000, 13000], [35, 45, 30], [19.0, 15.0], 340.0, 8000.0)
    >>> won = deeper_lock_gain_hundredths(
    ...     machine, 80.0, 20.0, engine, mass_kg=200.0, distance_m=60.0, grip_coefficient=1.1
    ... )
    >>> round(float(won), 1)
    3.0
    """
    depth = np.asarray(lock_depth_mm, dtype=np.float64)
    gate_grip = grip_coefficient if gate_grip_coefficient is None else gate_grip_coefficient
    times = []
    for tried in (depth, depth + np.asarray(deeper_mm, dtype=np.float64)):
        after, gate = (
            launch_limits(
                reference,
                tried,
                grip,
                front_sag_mm=front_sag_mm,
                rolling_resistance_coefficient=resistance,
            ).acceleration_m_s2
            for grip, resistance in (
                (grip_coefficient, rolling_resistance_coefficient),
                (gate_grip, gate_rolling_resistance_coefficient),
            )
        )
        run = start_run(
            mass_kg,
            distance_m,
            after,
            drive,
            gate_distance_m=gate_distance_m,
            gate_limit_m_s2=gate,
            rolling_resistance_coefficient=rolling_resistance_coefficient,
            gate_rolling_resistance_coefficient=gate_rolling_resistance_coefficient,
        )
        times.append(run.time_s)
    with np.errstate(invalid="ignore"):
        return np.asarray((times[0] - times[1]) * 100.0)
