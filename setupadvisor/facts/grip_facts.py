"""Facts about the load and the grip of the rear wheel, around the lap and at the gate."""

from __future__ import annotations

import numpy as np

from setupadvisor.entries import words
from setupadvisor.facts.fact import Fact, entered
from setupadvisor.facts.gaps import any_known, filled, first_known, or_usual
from setupadvisor.facts.grip import SURFACES, hard_grip_coefficient, soil_grip_coefficient
from setupadvisor.facts.suspension import STANDARD_GRAVITY_M_S2
from setupadvisor.facts.valid_range import FloatArray
from setupadvisor.facts.wheel_on_soil import (
    compaction_resistance_n,
    largest_shear_force_n,
    motion_resistance_ratio,
    shear_fraction,
    sinkage_mm,
    wheel_numeric,
)

# A rider with gear, where none was entered, for wheel loads only (common practice, no source);
# 20 kg either way move the grip coefficient by about 0.01.
USUAL_RIDER_KG = 78.0
# Contact patch of a knobbly tyre on yielding ground over its width, and the slip of hard driving
# (common practice, no source).
PATCH_LENGTH_TO_WIDTH = 1.6
HARD_DRIVING_SLIP = 0.25


def _rear_load(
    machine: FloatArray,
    fuel: FloatArray,
    to_rear: FloatArray,
    wheelbase: FloatArray,
    rider_to_rear: FloatArray,
    rider: FloatArray,
) -> FloatArray:
    mass = or_usual(rider, USUAL_RIDER_KG)
    front = ((machine + fuel) * to_rear + mass * rider_to_rear) / wheelbase
    return (machine + fuel + mass - front) * STANDARD_GRAVITY_M_S2


def _soil_grip(
    group: FloatArray,
    water: FloatArray,
    cone: FloatArray,
    load: FloatArray,
    width: FloatArray,
    radius: FloatArray,
) -> FloatArray:
    return soil_grip_coefficient(
        group,
        water,
        cone,
        wheel_load_n=load,
        wheel_width_mm=width,
        wheel_diameter_mm=2.0 * radius,
    )


def _track_grip(
    group: FloatArray,
    water: FloatArray,
    cone: FloatArray,
    load: FloatArray,
    width: FloatArray,
    radius: FloatArray,
    cohesion: FloatArray,
    friction_angle: FloatArray,
    shear_deformation: FloatArray,
) -> FloatArray:
    def by_feel() -> FloatArray:
        return _soil_grip(group, water, cone, load, width, radius)

    if not any_known(cohesion, friction_angle, shear_deformation):
        return by_feel()
    patch = PATCH_LENGTH_TO_WIDTH * width
    measured = (
        largest_shear_force_n(patch * width * 1e-6, cohesion, load, friction_angle)
        / load
        * shear_fraction(HARD_DRIVING_SLIP, patch, shear_deformation)
    )
    return filled(measured, by_feel)


def _rolling_by_cone(
    cone: FloatArray, load: FloatArray, width: FloatArray, radius: FloatArray
) -> FloatArray:
    return motion_resistance_ratio(wheel_numeric(cone, width, 2.0 * radius, load))


def _rolling(
    cone: FloatArray,
    load: FloatArray,
    width: FloatArray,
    radius: FloatArray,
    exponent: FloatArray,
    cohesive: FloatArray,
    frictional: FloatArray,
) -> FloatArray:
    def by_cone() -> FloatArray:
        return _rolling_by_cone(cone, load, width, radius)

    if not any_known(exponent, cohesive, frictional):
        return by_cone()
    pressure = load / (PATCH_LENGTH_TO_WIDTH * width * width) * 1e3
    sinkage = sinkage_mm(pressure, width, exponent, cohesive, frictional)
    measured = compaction_resistance_n(sinkage, width, exponent, cohesive, frictional) / load
    return filled(measured, by_cone)


# The state of a gate that a crew chief sees, as a surface of the grip table.
_GATE_SURFACE = {
    ("concrete", "dry"): "concrete_dry",
    ("concrete", "damp"): "concrete_damp",
    ("concrete", "wet"): "concrete_wet",
    ("concrete", "dusty"): "concrete_dusty",
    ("metal_grid", "dry"): "metal_grid_dry",
    ("metal_grid", "damp"): "metal_grid_wet",
    ("metal_grid", "wet"): "metal_grid_wet",
    ("metal_grid", "dusty"): "metal_grid_dry",  # dust falls through the grid
    ("dirt", "dry"): "hard_dirt_dry",
    ("dirt", "damp"): "hard_dirt_damp",
    ("dirt", "wet"): "hard_dirt_wet",
    ("dirt", "dusty"): "hard_dirt_dusty",
}
_GATE_CODE = np.array(
    [
        [float(SURFACES.index(_GATE_SURFACE[surface, state])) for state in words.GATE_CONDITIONS]
        for surface in words.GATE_SURFACES
    ]
)


def _gate_grip(surface: FloatArray, condition: FloatArray, after: FloatArray) -> FloatArray:
    known = ~(np.isnan(surface) | np.isnan(condition))
    code = np.full(np.shape(surface), np.nan)
    code[known] = _GATE_CODE[surface[known].astype(int), condition[known].astype(int)]
    on_table = hard_grip_coefficient(code)
    # A dirt gate is the same ground as just after it, where that was looked at.
    dirt = surface == words.GATE_SURFACES.index("dirt")
    return np.where(dirt, first_known(after, on_table), on_table)


_WHEEL = ("machine.tyres.rear_width_mm", "machine.geometry.rear_wheel_radius_mm")
_STRENGTH = "walk.ground.strength."
_GRIP_SOURCE = "Wismer & Luth 1974; knobs in or on the ground: common practice, no source"

GRIP_FACTS = (
    Fact(
        "rear_wheel_load_n",
        "Load of the rear wheel at rest",
        "N",
        200.0,
        4000.0,
        _rear_load,
        (
            "machine.masses.machine_kg",
            "machine.masses.fuel_kg",
            "machine.geometry.centre_of_mass_to_rear_axle_mm",
            "machine.geometry.wheelbase_mm",
            "machine.geometry.rider_to_rear_axle_mm",
            "rider.mass_kg",
        ),
        "moment balance; a rider of 78 kg where not entered",
        "statics",
    ),
    Fact(
        "track_grip",
        "Grip of the rear wheel around the lap",
        "",
        0.0,
        1.4,
        _track_grip,
        (
            "texture_group",
            "available_water_pct",
            "cone_index_kpa",
            "rear_wheel_load_n",
            *_WHEEL,
            f"{_STRENGTH}cohesion_kpa",
            f"{_STRENGTH}friction_angle_deg",
            f"{_STRENGTH}shear_deformation_mm",
        ),
        "Mohr-Coulomb with shear displacement where entered, else wheel numeric and knob bite",
        f"Wong, Theory of Ground Vehicles; {_GRIP_SOURCE}",
    ),
    Fact(
        "track_rolling_resistance",
        "Rolling resistance of the rear wheel around the lap",
        "",
        0.0,
        5.0,
        _rolling,
        (
            "cone_index_kpa",
            "rear_wheel_load_n",
            *_WHEEL,
            f"{_STRENGTH}sinkage_exponent",
            f"{_STRENGTH}cohesive_modulus",
            f"{_STRENGTH}frictional_modulus",
        ),
        "sinkage and compaction where entered, else wheel numeric",
        "Bekker 1956; Wismer & Luth 1974",
    ),
    entered("gate_surface", "walk.start.surface"),
    entered("gate_condition", "walk.start.condition"),
    Fact(
        "after_gate_grip",
        "Grip of the rear wheel just after the gate",
        "",
        0.0,
        1.4,
        _soil_grip,
        (
            "after_gate_texture_group",
            "after_gate_available_water_pct",
            "after_gate_cone_index_kpa",
            "rear_wheel_load_n",
            *_WHEEL,
        ),
        "wheel numeric and knob bite",
        _GRIP_SOURCE,
    ),
    Fact(
        "after_gate_rolling_resistance",
        "Rolling resistance of the rear wheel just after the gate",
        "",
        0.0,
        5.0,
        _rolling_by_cone,
        ("after_gate_cone_index_kpa", "rear_wheel_load_n", *_WHEEL),
        "wheel numeric",
        "Wismer & Luth 1974 (from memory)",
    ),
    Fact(
        "gate_grip",
        "Grip of the rear wheel at the gate",
        "",
        0.0,
        1.4,
        _gate_grip,
        ("walk.start.surface", "walk.start.condition", "after_gate_grip"),
        "table of surfaces; a dirt gate as the ground just after it",
        "Taborek 1957 in Wong ch. 1 (from memory); the rest common practice, no source",
    ),
)
