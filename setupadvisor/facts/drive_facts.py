"""Facts about gearing and the clutch."""

from __future__ import annotations

import numpy as np

from setupadvisor.facts.clutch import spring_clamp_force_n, torque_capacity_nm, torque_margin_pct
from setupadvisor.facts.drive import final_drive_wanted
from setupadvisor.facts.fact import Fact
from setupadvisor.facts.gaps import first_known
from setupadvisor.facts.suspension import STANDARD_GRAVITY_M_S2
from setupadvisor.facts.valid_range import FloatArray

# Lateral grip of a corner whose ground was not looked at, and the share of the grip that a rider
# uses in a tight corner (common practice, no source).
USUAL_CORNER_GRIP = 0.6
CORNER_GRIP_SHARE = 0.7


def _corner_speed(radius: FloatArray, grip: FloatArray) -> FloatArray:
    usable = CORNER_GRIP_SHARE * first_known(grip, np.full(np.shape(grip), USUAL_CORNER_GRIP))
    return 3.6 * np.sqrt(usable * STANDARD_GRAVITY_M_S2 * radius)


def _gear(gears: FloatArray, number: FloatArray) -> float:
    return float(gears[min(int(number), len(gears)) - 1])


def _final_drive(
    top_speed: FloatArray,
    corner_speed: FloatArray,
    straight_rpm: FloatArray,
    corner_rpm: FloatArray,
    gears: FloatArray,
    straight_gear: FloatArray,
    corner_gear: FloatArray,
    primary: FloatArray,
    radius: FloatArray,
) -> FloatArray:
    return final_drive_wanted(
        fastest_speed_m_per_s=top_speed / 3.6,
        highest_engine_speed_rpm=straight_rpm,
        top_gear_ratio=_gear(gears, straight_gear),
        # Ground without any grip says nothing about the gearing.
        tightest_corner_speed_m_per_s=np.where(corner_speed > 0.0, corner_speed, np.nan) / 3.6,
        lowest_useful_engine_speed_rpm=corner_rpm,
        corner_gear_ratio=_gear(gears, corner_gear),
        primary_ratio=primary,
        rolling_radius_mm=radius,
    ).wanted


def _rear_sprocket(final_drive: FloatArray, front: FloatArray, rear: FloatArray) -> FloatArray:
    # The lap's wish pulls the house sprocket halfway, and by a tooth and a half: the rider knows
    # the house gearing, and the fastest straight is a small part of the lap. Common practice.
    return rear + np.clip(0.5 * (final_drive * front - rear), -1.5, 1.5)


def _clutch_margin(
    rate: FloatArray,
    compression: FloatArray,
    springs: FloatArray,
    friction: FloatArray,
    outer: FloatArray,
    inner: FloatArray,
    faces: FloatArray,
    torque: FloatArray,
    primary: FloatArray,
    power: FloatArray,
) -> FloatArray:
    clamp = spring_clamp_force_n(rate, compression, springs)
    capacity = torque_capacity_nm(clamp, friction, outer, inner, faces)
    today = np.max(torque) * first_known(power, np.ones(np.shape(power)))
    return 1.0 + torque_margin_pct(capacity, today, primary) / 100.0


def _displacement(displacement: FloatArray) -> FloatArray:
    return displacement


DRIVE_FACTS = (
    Fact(
        "engine_cc",
        "Engine displacement",
        "cc",
        40.0,
        800.0,
        _displacement,
        ("machine.engine.displacement_cc",),
        "as entered",
        "machine file",
    ),
    Fact(
        "tightest_corner_speed_kmh",
        "Speed in the tightest corner",
        "km/h",
        0.0,
        120.0,
        _corner_speed,
        ("tightest_radius_m", "track_grip"),
        "lateral grip, seven tenths of it used; grip 0.6 where not known",
        "statics; share used: common practice, no source",
    ),
    Fact(
        "wanted_final_drive",
        "Rear over front teeth that the lap asks for",
        "",
        0.5,
        60.0,
        _final_drive,
        (
            "top_speed_kmh",
            "tightest_corner_speed_kmh",
            "machine.engine.straight_speed_rpm",
            "machine.engine.corner_speed_rpm",
            "machine.engine.gears",
            "machine.engine.straight_gear",
            "machine.engine.corner_gear",
            "machine.engine.primary_ratio",
            "machine.geometry.rear_wheel_radius_mm",
        ),
        "engine speed at the end of the fastest straight and in the tightest corner",
        "kinematics; which of the two decides: common practice, no source",
    ),
    Fact(
        "rear_sprocket_for_ratio_teeth",
        "Rear sprocket that the lap asks for",
        "",
        20.0,
        80.0,
        _rear_sprocket,
        ("wanted_final_drive", "machine.house.front_sprocket", "machine.house.rear_sprocket"),
        "halfway from the house sprocket to the wanted ratio, a tooth and a half at most",
        "common practice, no source",
    ),
    Fact(
        "clutch_margin",
        "What the clutch holds over what the engine gives",
        "",
        0.2,
        10.0,
        _clutch_margin,
        (
            "machine.house.clutch_springs",
            "machine.clutch.spring_compression_mm",
            "machine.clutch.springs",
            "machine.clutch.friction",
            "machine.clutch.outer_diameter_mm",
            "machine.clutch.inner_diameter_mm",
            "machine.clutch.friction_faces",
            "machine.engine.torque_nm",
            "machine.engine.primary_ratio",
            "power_ratio",
        ),
        "uniform wear, house springs",
        "Shigley, Mechanical Engineering Design, ch. 16",
    ),
)
