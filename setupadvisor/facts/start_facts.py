"""Facts about the start: launch limits, the lock depth where they meet, time and clutch heat."""

from __future__ import annotations

import numpy as np

from setupadvisor.facts.drive_force import Drive
from setupadvisor.facts.fact import Fact, entered
from setupadvisor.facts.front_lock import (
    LockDepth,
    hardest_launch_depth_mm,
    launch_limits,
    lock_depth_for_start,
)
from setupadvisor.facts.geometry import ReferenceGeometry
from setupadvisor.facts.ground_facts import USUAL_RIDER_KG, first_known
from setupadvisor.facts.rider_position import CentreOfMass, combined_centre_of_mass
from setupadvisor.facts.start_run import start_run
from setupadvisor.facts.valid_range import FloatArray

# How far the rear wheel stays on the gate's own surface, where not entered, and how many metres
# after it decide the start: by then the machine is in its stride (common practice, no source).
USUAL_GATE_LENGTH_M = 1.5
FIRST_METRES = 12.0
# Grip judged by feel is known to about 0.1, and 0.1 of grip moves the depth where the limits meet
# by some 70 mm: the advice goes a third of the way from the house depth, and 25 mm at most (common
# practice, no source).
LOCK_SHARE = 1.0 / 3.0
LOCK_LIMIT_MM = 25.0


def stance_at_start(
    machine_mass: FloatArray,
    fuel: FloatArray,
    rider_mass: FloatArray,
    wheelbase: FloatArray,
    rake: FloatArray,
    fork_offset: FloatArray,
    front_radius: FloatArray,
    rear_radius: FloatArray,
    swingarm: FloatArray,
    pivot_height: FloatArray,
    machine_ahead: FloatArray,
    machine_height: FloatArray,
    rider_ahead: FloatArray,
    rider_height: FloatArray,
) -> tuple[ReferenceGeometry, FloatArray]:
    """Join machine and rider into one reference geometry.

    Parameters
    ----------
    machine_mass, fuel, rider_mass : numpy.ndarray
        Masses [kg]; a missing rider weighs as usual.
    wheelbase, fork_offset, front_radius, rear_radius, swingarm, pivot_height : numpy.ndarray
        Lengths [mm].
    rake : numpy.ndarray
        [°].
    machine_ahead, machine_height, rider_ahead, rider_height : numpy.ndarray
        Centres of mass ahead of the rear axle and above the ground [mm].

    Returns
    -------
    tuple of ReferenceGeometry and numpy.ndarray
        The geometry with the common centre of mass, and the whole mass [kg].
    """
    rider = first_known(rider_mass, np.full(np.shape(rider_mass), USUAL_RIDER_KG))
    both = combined_centre_of_mass(
        CentreOfMass(machine_ahead, machine_height, machine_mass + fuel),
        CentreOfMass(rider_ahead, rider_height, rider),
    )
    reference = ReferenceGeometry(
        rake,
        wheelbase,
        fork_offset,
        front_radius,
        rear_radius,
        swingarm,
        pivot_height,
        both.to_rear_axle_mm,
        both.height_mm,
    )
    return reference, np.asarray(both.mass_kg)


STANCE = (
    "machine.masses.machine_kg",
    "machine.masses.fuel_kg",
    "rider.mass_kg",
    "machine.geometry.wheelbase_mm",
    "machine.geometry.rake_deg",
    "machine.geometry.fork_offset_mm",
    "machine.geometry.front_wheel_radius_mm",
    "machine.geometry.rear_wheel_radius_mm",
    "machine.geometry.swingarm_length_mm",
    "machine.geometry.pivot_height_mm",
    "machine.geometry.centre_of_mass_to_rear_axle_mm",
    "machine.geometry.centre_of_mass_height_mm",
    "machine.geometry.rider_to_rear_axle_mm",
    "machine.geometry.rider_height_mm",
)
_LOCK_INPUTS = (
    "gate_grip",
    "walk.start.surface_length_m",
    "after_gate_grip",
    "machine.start_device.lowest_mm",
    "machine.start_device.highest_mm",
    "machine.fork.race_sag_mm",
)


def _gate_length(entered_length: FloatArray) -> FloatArray:
    return first_known(entered_length, np.full(np.shape(entered_length), USUAL_GATE_LENGTH_M))


def _lock_found(
    gate: FloatArray,
    gate_length: FloatArray,
    after: FloatArray,
    lowest: FloatArray,
    highest: FloatArray,
    sag: FloatArray,
    *stance: FloatArray,
) -> LockDepth:
    reference, _ = stance_at_start(*stance)
    found, _ = lock_depth_for_start(
        reference,
        gate_grip_coefficient=first_known(gate, after),
        gate_distance_m=_gate_length(gate_length),
        ground_grip_coefficient=after,
        ground_distance_m=FIRST_METRES,
        depth_low_mm=lowest,
        depth_high_mm=highest,
        front_sag_mm=sag,
    )
    return found


def _lock_depth(*inputs: FloatArray) -> FloatArray:
    return _lock_found(*inputs).depth_mm


def _lock_depth_by_feel(house: FloatArray, *inputs: FloatArray) -> FloatArray:
    lowest, highest = inputs[3], inputs[4]
    hardest = hardest_launch_depth_mm(_lock_found(*inputs), lowest, highest)
    wish = LOCK_SHARE * (hardest - house)
    return house + np.clip(wish, -LOCK_LIMIT_MM, LOCK_LIMIT_MM)


def _wheelie_limit(
    depth: FloatArray, house_depth: FloatArray, sag: FloatArray, *stance: FloatArray
) -> FloatArray:
    reference, _ = stance_at_start(*stance)
    locked = first_known(depth, np.broadcast_to(house_depth, np.shape(depth)))
    return launch_limits(reference, locked, 1.0, front_sag_mm=sag).wheelie_limit_m_s2


def _traction_limit(
    grip: FloatArray,
    depth: FloatArray,
    house_depth: FloatArray,
    sag: FloatArray,
    *stance: FloatArray,
) -> FloatArray:
    reference, _ = stance_at_start(*stance)
    locked = first_known(depth, np.broadcast_to(house_depth, np.shape(depth)))
    return launch_limits(reference, locked, grip, front_sag_mm=sag).traction_limit_m_s2


def _run(
    distance: FloatArray,
    wheelie: FloatArray,
    gate: FloatArray,
    after: FloatArray,
    gate_length: FloatArray,
    rolling: FloatArray,
    density: FloatArray,
    power: FloatArray,
    curve_rpm: FloatArray,
    torque: FloatArray,
    gears: FloatArray,
    start_gear: FloatArray,
    primary: FloatArray,
    front_teeth: FloatArray,
    rear_teeth: FloatArray,
    wheel_radius: FloatArray,
    start_rpm: FloatArray,
    mass: FloatArray,
    fuel: FloatArray,
    rider: FloatArray,
) -> tuple[FloatArray, FloatArray]:
    first = max(int(start_gear) - 1, 0)
    drive = Drive(
        curve_rpm,
        torque,
        gears[first:] * primary * rear_teeth / front_teeth,
        float(wheel_radius),
        float(np.clip(start_rpm, curve_rpm[0], curve_rpm[-1])),
    )
    rider = first_known(rider, np.full(np.shape(rider), USUAL_RIDER_KG))
    resistance = first_known(rolling, np.full(np.shape(rolling), 0.05))
    run = start_run(
        mass + fuel + rider,
        distance,
        np.minimum(wheelie, after),
        drive,
        gate_distance_m=np.minimum(_gate_length(gate_length), 0.9 * distance),
        gate_limit_m_s2=np.minimum(wheelie, first_known(gate, after)),
        rolling_resistance_coefficient=resistance,
        air_density_kg_m3=first_known(density, np.full(np.shape(density), 1.2)),
        power_factor=first_known(power, np.ones(np.shape(power))),
    )
    return run.time_s, run.clutch_heat_j / 1000.0


def _start_time(*inputs: FloatArray) -> FloatArray:
    return _run(*inputs)[0]


def _clutch_heat(*inputs: FloatArray) -> FloatArray:
    return _run(*inputs)[1]


_RUN_INPUTS = (
    "start_straight_m",
    "wheelie_limit_mps2",
    "gate_traction_limit_mps2",
    "after_gate_traction_limit_mps2",
    "walk.start.surface_length_m",
    "track_rolling_resistance",
    "air_density_kg_per_m3",
    "power_ratio",
    "machine.engine.curve_speed_rpm",
    "machine.engine.torque_nm",
    "machine.engine.gears",
    "machine.engine.start_gear",
    "machine.engine.primary_ratio",
    "machine.house.front_sprocket",
    "machine.house.rear_sprocket",
    "machine.geometry.rear_wheel_radius_mm",
    "machine.house.start_rpm",
    "machine.masses.machine_kg",
    "machine.masses.fuel_kg",
    "rider.mass_kg",
)
_AT_LOCK = (
    "lock_depth_where_limits_meet_mm",
    "machine.house.start_lock_depth",
    "machine.fork.race_sag_mm",
    *STANCE,
)
_LIMITS = (
    "Cossalter, Motorcycle Dynamics, ch. 3; Gillespie, Fundamentals of Vehicle Dynamics, ch. 2"
)

START_FACTS = (
    entered("start_straight_m", "walk.start.straight_length_m"),
    entered("first_corner", "walk.start.first_corner"),
    Fact(
        "lock_depth_where_limits_meet_mm",
        "Lock depth where the front lifts just when the rear spins",
        "mm",
        0.0,
        300.0,
        _lock_depth,
        (*_LOCK_INPUTS, *STANCE),
        "wheelie limit and traction limit, gate and first 12 m weighed by time",
        f"{_LIMITS}; weighing: this project's choice",
    ),
    Fact(
        "start_lock_depth_for_grip_mm",
        "Lock depth that the grip asks for",
        "mm",
        0.0,
        300.0,
        _lock_depth_by_feel,
        ("machine.house.start_lock_depth", *_LOCK_INPUTS, *STANCE),
        "a third of the way from the house depth to the hardest launch, 25 mm at most; on loose "
        "ground the front never lifts, and shallower is harder",
        "common practice, no source",
    ),
    Fact(
        "wheelie_limit_mps2",
        "Acceleration at which the front lifts",
        "m/s²",
        1.0,
        20.0,
        _wheelie_limit,
        _AT_LOCK,
        "g b / h with the front locked",
        _LIMITS,
    ),
    *(
        Fact(
            f"{name}_traction_limit_mps2",
            f"Acceleration at which the rear spins {where}",
            "m/s²",
            0.1,
            20.0,
            _traction_limit,
            (f"{name}_grip", *_AT_LOCK),
            "grip times the rear's share of the load",
            _LIMITS,
        )
        for name, where in (("gate", "at the gate"), ("after_gate", "just after the gate"))
    ),
    Fact(
        "start_time_s",
        "Time from the gate to the first corner",
        "s",
        0.5,
        40.0,
        _start_time,
        _RUN_INPUTS,
        "integrated at the lowest of wheelie limit, traction limit and engine",
        f"{_LIMITS}; Heun's method",
    ),
    Fact(
        "start_clutch_heat_kj",
        "Heat one start puts into the clutch",
        "kJ",
        0.0,
        400.0,
        _clutch_heat,
        _RUN_INPUTS,
        "torque times slip speed over the start",
        "Shigley, Mechanical Engineering Design, ch. 16",
    ),
)
