"""Facts about the start: launch limits, the lock depth where they meet, time and clutch heat."""

from __future__ import annotations

import numpy as np

from setupadvisor.facts.drive_force import Drive
from setupadvisor.facts.fact import Fact, entered
from setupadvisor.facts.front_lock import (
    hardest_launch_depth_mm,
    launch_limits,
    limits_of_stance,
    lock_depth_for_start,
)
from setupadvisor.facts.gaps import first_known, or_usual
from setupadvisor.facts.geometry import ReferenceGeometry
from setupadvisor.facts.grip_facts import USUAL_RIDER_KG
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
# Grip by feel counts as what is left for driving: it is good to 0.1, and the resistance that Wismer
# & Luth give for tractor tyres, taken off on top, would hardly let a machine leave a muddy gate.
# The ground's resistance is set against the engine's pull only.

# The question asked at the gate: what do 10 mm more bring?
DEEPER_MM = 10.0
# Where no weather was entered; 10 % either way move a start by less than a hundredth of a second.
USUAL_AIR_KG_PER_M3 = 1.2


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
    rider = or_usual(rider_mass, USUAL_RIDER_KG)
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


def _lock_depths(
    house: FloatArray,
    gate: FloatArray,
    gate_length: FloatArray,
    after: FloatArray,
    lowest: FloatArray,
    highest: FloatArray,
    sag: FloatArray,
    *stance: FloatArray,
) -> tuple[FloatArray, FloatArray, FloatArray]:
    """Depth where the limits meet, depth of the hardest launch, and the depth to set."""
    reference, _ = stance_at_start(*stance)
    found, _ = lock_depth_for_start(
        reference,
        gate_grip_coefficient=first_known(gate, after),
        gate_distance_m=or_usual(gate_length, USUAL_GATE_LENGTH_M),
        ground_grip_coefficient=after,
        ground_distance_m=FIRST_METRES,
        depth_low_mm=lowest,
        depth_high_mm=highest,
        front_sag_mm=sag,
    )
    hardest = hardest_launch_depth_mm(found, lowest, highest)
    wish = np.clip(LOCK_SHARE * (hardest - house), -LOCK_LIMIT_MM, LOCK_LIMIT_MM)
    return found.depth_mm, hardest, house + wish


def _start(
    house: FloatArray,
    depth: FloatArray,
    sag: FloatArray,
    gate: FloatArray,
    after: FloatArray,
    rolling: FloatArray,
    distance: FloatArray,
    gate_length: FloatArray,
    density: FloatArray,
    power: FloatArray,
    curve_speed: FloatArray,
    torque: FloatArray,
    gears: FloatArray,
    start_gear: FloatArray,
    primary: FloatArray,
    front_teeth: FloatArray,
    rear_teeth: FloatArray,
    wheel_radius: FloatArray,
    start_speed: FloatArray,
    *stance: FloatArray,
) -> tuple[FloatArray, ...]:
    """Wheelie limit, both traction limits, time, clutch heat, gain of a deeper lock."""
    reference, mass = stance_at_start(*stance)
    locked = first_known(depth, house)
    stands = launch_limits(
        reference,
        np.stack([np.broadcast_to(house, locked.shape), locked, locked + DEEPER_MM]),
        after,
        front_sag_mm=sag,
    )
    at_gate = limits_of_stance(stands.attitude, first_known(gate, after))
    first = max(int(start_gear) - 1, 0)
    run = start_run(
        mass,
        distance,
        stands.acceleration_m_s2[1:],
        Drive(
            curve_speed,
            torque,
            gears[first:] * primary * rear_teeth / front_teeth,
            float(wheel_radius),
            float(np.clip(start_speed, curve_speed[0], curve_speed[-1])),
        ),
        gate_distance_m=np.minimum(or_usual(gate_length, USUAL_GATE_LENGTH_M), 0.9 * distance),
        gate_limit_m_s2=at_gate.acceleration_m_s2[1:],
        rolling_resistance_coefficient=rolling,
        air_density_kg_m3=or_usual(density, USUAL_AIR_KG_PER_M3),
        power_factor=or_usual(power, 1.0),
    )
    # Where the ground resists more than the engine pulls there is no start to time.
    time, heat = (
        np.where(np.isfinite(run.time_s), part, np.nan)
        for part in (run.time_s, run.clutch_heat_j / 1000.0)
    )
    return (
        stands.wheelie_limit_m_s2[0],
        np.where(np.isnan(gate), np.nan, at_gate.traction_limit_m_s2[0]),
        stands.traction_limit_m_s2[0],
        time[0],
        heat[0],
        100.0 * (time[0] - time[1]),
    )


_LOCK_INPUTS = (
    "machine.house.start_lock_depth",
    "gate_grip",
    "walk.start.surface_length_m",
    "after_gate_grip",
    "machine.start_device.lowest_mm",
    "machine.start_device.highest_mm",
    "machine.fork.race_sag_mm",
    *STANCE,
)
_START_INPUTS = (
    "machine.house.start_lock_depth",
    "start_lock_depth_for_grip_mm",
    "machine.fork.race_sag_mm",
    "gate_grip",
    "after_gate_grip",
    "after_gate_rolling_resistance",
    "start_straight_m",
    "walk.start.surface_length_m",
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
        _lock_depths,
        _LOCK_INPUTS,
        "wheelie limit and traction limit, gate and first 12 m weighed by time; none where they do "
        "not meet inside the start device's range",
        f"{_LIMITS}; weighing: this project's choice",
        part=0,
    ),
    Fact(
        "hardest_launch_lock_depth_mm",
        "Lock depth that accelerates hardest",
        "mm",
        0.0,
        300.0,
        _lock_depths,
        _LOCK_INPUTS,
        "where the limits meet; the shallowest lock where the rear always spins first, the deepest "
        "where the front always lifts first",
        f"{_LIMITS}; weighing: this project's choice",
        part=1,
    ),
    Fact(
        "start_lock_depth_for_grip_mm",
        "Lock depth that the grip asks for",
        "mm",
        0.0,
        300.0,
        _lock_depths,
        _LOCK_INPUTS,
        "a third of the way from the house depth to the hardest launch, 25 mm at most; on loose "
        "ground the front never lifts, and shallower is harder",
        "common practice, no source",
        part=2,
    ),
    Fact(
        "wheelie_limit_mps2",
        "Acceleration at which the front lifts, at the usual lock depth",
        "m/s²",
        1.0,
        20.0,
        _start,
        _START_INPUTS,
        "g b / h with the front locked",
        _LIMITS,
        part=0,
    ),
    *(
        Fact(
            f"{name}_traction_limit_mps2",
            f"Acceleration at which the rear spins {where}, at the usual lock depth",
            "m/s²",
            0.0,
            20.0,
            _start,
            _START_INPUTS,
            "grip times the rear's share of the load",
            _LIMITS,
            part=part,
        )
        for part, name, where in (
            (1, "gate", "at the gate"),
            (2, "after_gate", "just after the gate"),
        )
    ),
    Fact(
        "start_time_s",
        "Time from the gate to the first corner",
        "s",
        0.5,
        90.0,
        _start,
        _START_INPUTS,
        "integrated at the lowest of wheelie limit, traction limit and engine, at the lock depth "
        "that the grip asks for",
        f"{_LIMITS}; kinematics",
        part=3,
    ),
    Fact(
        "start_clutch_heat_kj",
        "Heat one start puts into the clutch",
        "kJ",
        0.0,
        400.0,
        _start,
        _START_INPUTS,
        "torque times slip speed over the start",
        "Shigley, Mechanical Engineering Design, ch. 16",
        part=4,
    ),
    Fact(
        "deeper_lock_gain_hundredths",
        "Hundredths of a second to the first corner won by locking 10 mm deeper",
        "",
        -200.0,
        200.0,
        _start,
        _START_INPUTS,
        "difference of two starts",
        f"{_LIMITS}; kinematics",
        part=5,
    ),
)
