"""Facts about the ground around the lap and just after the gate, and the grip they give."""

from __future__ import annotations

import numpy as np

from setupadvisor.entries import words
from setupadvisor.facts.fact import Fact, entered
from setupadvisor.facts.grip import (
    SURFACES,
    hard_grip_coefficient,
    soil_grip_coefficient,
)
from setupadvisor.facts.soil import (
    TEXTURE_GROUPS,
    representative_clay_pct,
    representative_sand_pct,
    texture_class,
    texture_class_from_ribbon,
    texture_group,
)
from setupadvisor.facts.soil_moisture import available_water_from_feel_pct
from setupadvisor.facts.soil_strength import cone_index_from_heel_kpa
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


def first_known(*columns: FloatArray) -> FloatArray:
    """Take for each row the first column that is not missing.

    Parameters
    ----------
    *columns : numpy.ndarray
        From the most to the least trusted, same shape.

    Returns
    -------
    numpy.ndarray
        NaN where all are missing.

    Examples
    --------
    >>> first_known(np.array([1.0, np.nan]), np.array([5.0, 6.0])).tolist()
    [1.0, 6.0]
    """
    result = np.asarray(columns[0], dtype=np.float64)
    for column in columns[1:]:
        result = np.where(np.isnan(result), column, result)
    return result


def any_known(*columns: FloatArray) -> bool:
    """Tell whether some row has a value in any of the columns.

    Parameters
    ----------
    *columns : numpy.ndarray
        Any shape.

    Returns
    -------
    bool
        Whether something is not missing.

    Examples
    --------
    >>> any_known(np.array([np.nan]), np.array([1.0])), any_known(np.array([np.nan]))
    (True, False)
    """
    return any(np.count_nonzero(column == column) for column in columns)  # noqa: PLR0124


def or_usual(column: FloatArray, usual: float) -> FloatArray:
    """Take a usual number where a column is missing.

    Parameters
    ----------
    column : numpy.ndarray
        As known.
    usual : float
        What stands in, in the column's unit.

    Returns
    -------
    numpy.ndarray
        Without gaps.

    Examples
    --------
    >>> or_usual(np.array([1.0, np.nan]), 5.0).tolist()
    [1.0, 5.0]
    """
    return np.where(np.isnan(column), usual, column)


def _texture(
    entered_class: FloatArray,
    sand: FloatArray,
    silt: FloatArray,
    clay: FloatArray,
    ribbon_length: FloatArray,
    ribbon_feel: FloatArray,
) -> FloatArray:
    # Few crews have a laboratory's numbers: what nobody entered is not worked out.
    by_share = by_ribbon = entered_class
    if any_known(sand, silt, clay):
        by_share = _texture_by_share(sand, silt, clay)
    if any_known(ribbon_length):
        by_ribbon = texture_class_from_ribbon(ribbon_length, ribbon_feel)
    return first_known(entered_class, by_share, by_ribbon)


def _texture_by_share(sand: FloatArray, silt: FloatArray, clay: FloatArray) -> FloatArray:
    # Two shares give the third; one alone gives nothing.
    silt = first_known(silt, 100.0 - sand - clay)
    sand = first_known(sand, 100.0 - silt - clay)
    clay = first_known(clay, 100.0 - sand - silt)
    whole = np.abs(sand + silt + clay - 100.0) < 1.0
    total = np.where(whole, sand + silt + clay, np.nan)
    return texture_class(100.0 * sand / total, 100.0 * silt / total, 100.0 * clay / total)


def _sand(sand: FloatArray, texture: FloatArray) -> FloatArray:
    return first_known(sand, representative_sand_pct(texture))


def _clay(clay: FloatArray, texture: FloatArray) -> FloatArray:
    return first_known(clay, representative_clay_pct(texture))


def _water(available: FloatArray, feel: FloatArray) -> FloatArray:
    return first_known(available, available_water_from_feel_pct(feel))


def _cone_index(measured: FloatArray, heel: FloatArray) -> FloatArray:
    return first_known(measured, cone_index_from_heel_kpa(heel))


def _stickiness(clay: FloatArray, water: FloatArray) -> FloatArray:
    clayey = np.clip((clay - 10.0) / 25.0, 0.0, 1.0)
    wet = np.clip((water - 70.0) / 40.0, 0.0, 1.0)
    flooded = np.clip((water - 150.0) / 100.0, 0.0, 0.5)
    return clayey * (wet - flooded)


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
    by_feel = _soil_grip(group, water, cone, load, width, radius)
    if not any_known(cohesion, friction_angle, shear_deformation):
        return by_feel
    patch = PATCH_LENGTH_TO_WIDTH * width
    measured = (
        largest_shear_force_n(patch * width * 1e-6, cohesion, load, friction_angle)
        / load
        * shear_fraction(HARD_DRIVING_SLIP, patch, shear_deformation)
    )
    return first_known(measured, by_feel)


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
    by_cone = _rolling_by_cone(cone, load, width, radius)
    if not any_known(exponent, cohesive, frictional):
        return by_cone
    pressure = load / (PATCH_LENGTH_TO_WIDTH * width * width) * 1e3
    sinkage = sinkage_mm(pressure, width, exponent, cohesive, frictional)
    measured = compaction_resistance_n(sinkage, width, exponent, cohesive, frictional) / load
    return first_known(measured, by_cone)


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

GROUND_FACTS = (
    entered("track_kind", "walk.kind"),
    Fact(
        "texture",
        "Soil texture class",
        "",
        0.0,
        float(len(words.TEXTURES) - 1),
        _texture,
        (
            "walk.ground.texture",
            "walk.ground.sand_pct",
            "walk.ground.silt_pct",
            "walk.ground.clay_pct",
            "walk.ground.ribbon_length_mm",
            "walk.ground.ribbon_feel",
        ),
        "as entered, else by sand, silt and clay, else by ribbon test",
        "USDA Soil Survey Manual ch. 3; ribbon test of USDA NRCS (from memory)",
        words.TEXTURES,
    ),
    Fact(
        "texture_group",
        "Texture group",
        "",
        0.0,
        float(len(TEXTURE_GROUPS) - 1),
        texture_group,
        ("texture",),
        "group of the texture class",
        "USDA NRCS, Estimating Soil Moisture by Feel and Appearance",
        TEXTURE_GROUPS,
    ),
    Fact(
        "sand_share_pct",
        "Sand in the soil",
        "%",
        0.0,
        100.0,
        _sand,
        ("walk.ground.sand_pct", "texture"),
        "as entered, else typical of the texture class",
        "Saxton & Rawls 2006, SSSAJ 70:1569, Table 3",
    ),
    Fact(
        "clay_share_pct",
        "Clay in the soil",
        "%",
        0.0,
        100.0,
        _clay,
        ("walk.ground.clay_pct", "texture"),
        "as entered, else typical of the texture class",
        "Saxton & Rawls 2006, SSSAJ 70:1569, Table 3",
    ),
    Fact(
        "available_water_pct",
        "Available water in the ground",
        "%",
        0.0,
        200.0,
        _water,
        ("walk.ground.available_water_pct", "walk.ground.moisture"),
        "as entered, else middle of the feel class",
        "USDA NRCS, Estimating Soil Moisture by Feel and Appearance",
    ),
    Fact(
        "cone_index_kpa",
        "Cone index of the ground",
        "kPa",
        5.0,
        9000.0,
        _cone_index,
        ("walk.ground.cone_index_kpa", "walk.ground.firmness"),
        "as measured, else middle of the heel test's class",
        "ASABE S313.3; heel test: common practice, no source",
    ),
    entered("loose_depth_mm", "walk.ground.loose_depth_mm"),
    entered("rut_depth_mm", "walk.ground.rut_depth_mm"),
    entered("braking_bump_height_mm", "walk.ground.braking_bump_height_mm"),
    entered("stones", "walk.ground.stones"),
    entered("dust", "walk.ground.dust"),
    entered("track_wear", "walk.ground.wear"),
    Fact(
        "stickiness",
        "How much the ground packs on the motorcycle",
        "",
        0.0,
        1.0,
        _stickiness,
        ("clay_share_pct", "available_water_pct"),
        "clay times wetness; slurry sticks less",
        "common practice, no source",
    ),
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
        0.02,
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
        1.0,
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
        "after_gate_texture_group",
        "Texture group just after the gate",
        "",
        0.0,
        float(len(TEXTURE_GROUPS) - 1),
        lambda after, lap: texture_group(first_known(after, lap)),
        ("walk.start.after_texture", "texture"),
        "as entered, else the lap's",
        "USDA NRCS, Estimating Soil Moisture by Feel and Appearance",
        TEXTURE_GROUPS,
    ),
    Fact(
        "after_gate_cone_index_kpa",
        "Cone index just after the gate",
        "kPa",
        5.0,
        9000.0,
        _cone_index,
        ("walk.start.after_cone_index_kpa", "walk.start.after_firmness"),
        "as measured, else middle of the heel test's class",
        "ASABE S313.3; heel test: common practice, no source",
    ),
    Fact(
        "after_gate_available_water_pct",
        "Available water just after the gate",
        "%",
        0.0,
        200.0,
        lambda feel, lap: first_known(available_water_from_feel_pct(feel), lap),
        ("walk.start.after_moisture", "available_water_pct"),
        "middle of the feel class, else the lap's",
        "USDA NRCS, Estimating Soil Moisture by Feel and Appearance",
    ),
    Fact(
        "after_gate_grip",
        "Grip of the rear wheel just after the gate",
        "",
        0.02,
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
        0.02,
        1.4,
        _gate_grip,
        ("walk.start.surface", "walk.start.condition", "after_gate_grip"),
        "table of surfaces; a dirt gate as the ground just after it",
        "Taborek 1957 in Wong ch. 1 (from memory); the rest common practice, no source",
    ),
)
