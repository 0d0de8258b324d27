"""Facts about the ground around the lap and just after the gate: soil, water, strength."""

from __future__ import annotations

import numpy as np

from setupadvisor.entries import words
from setupadvisor.facts.fact import Fact, entered
from setupadvisor.facts.gaps import any_known, filled, first_known
from setupadvisor.facts.soil import (
    TEXTURE_GROUPS,
    representative_clay_pct,
    representative_sand_pct,
    texture_class,
    texture_class_from_ribbon,
    texture_group,
)
from setupadvisor.facts.soil_moisture import (
    available_water_from_feel_pct,
    degree_of_saturation,
    volumetric_water,
)
from setupadvisor.facts.soil_strength import (
    cone_index_from_heel_high_kpa,
    cone_index_from_heel_kpa,
    cone_index_from_heel_low_kpa,
)
from setupadvisor.facts.soil_water import water_contents
from setupadvisor.facts.valid_range import FloatArray


def _texture(
    entered_class: FloatArray,
    sand: FloatArray,
    silt: FloatArray,
    clay: FloatArray,
    ribbon_length: FloatArray,
    ribbon_feel: FloatArray,
) -> FloatArray:
    def by_ribbon() -> FloatArray:
        return texture_class_from_ribbon(ribbon_length, ribbon_feel)

    def by_share() -> FloatArray:
        if not any_known(sand, silt, clay):
            return by_ribbon()
        return filled(_texture_by_share(sand, silt, clay), by_ribbon)

    return filled(entered_class, by_share)


def _texture_by_share(sand: FloatArray, silt: FloatArray, clay: FloatArray) -> FloatArray:
    # Two shares give the third; one alone gives nothing.
    silt = first_known(silt, 100.0 - sand - clay)
    sand = first_known(sand, 100.0 - silt - clay)
    clay = first_known(clay, 100.0 - sand - silt)
    whole = np.abs(sand + silt + clay - 100.0) < 1.0
    total = np.where(whole, sand + silt + clay, np.nan)
    return texture_class(100.0 * sand / total, 100.0 * silt / total, 100.0 * clay / total)


def _sand(sand: FloatArray, silt: FloatArray, clay: FloatArray, texture: FloatArray) -> FloatArray:
    rest = first_known(sand, 100.0 - silt - clay)
    return filled(rest, lambda: representative_sand_pct(texture))


def _clay(sand: FloatArray, silt: FloatArray, clay: FloatArray, texture: FloatArray) -> FloatArray:
    rest = first_known(clay, 100.0 - sand - silt)
    return filled(rest, lambda: representative_clay_pct(texture))


def _water(available: FloatArray, feel: FloatArray) -> FloatArray:
    return filled(available, lambda: available_water_from_feel_pct(feel))


def _cone_index(measured: FloatArray, heel: FloatArray) -> FloatArray:
    return filled(measured, lambda: cone_index_from_heel_kpa(heel))


def _cone_index_low(measured: FloatArray, heel: FloatArray) -> FloatArray:
    return filled(measured, lambda: cone_index_from_heel_low_kpa(heel))


def _cone_index_high(measured: FloatArray, heel: FloatArray) -> FloatArray:
    return filled(measured, lambda: cone_index_from_heel_high_kpa(heel))


def _pores_filled(sand: FloatArray, clay: FloatArray, water: FloatArray) -> FloatArray:
    # Sand as measured and clay of a class by feel can contradict each other: then nothing is known.
    sand = np.where(sand + clay <= 100.0, sand, np.nan)
    contents = water_contents(sand, clay)
    filled = degree_of_saturation(volumetric_water(water, *contents), contents.saturation)
    # On the heaviest clays the equations hold a little more drained than full.
    return np.minimum(100.0 * filled, 100.0)


def _stickiness(clay: FloatArray, water: FloatArray) -> FloatArray:
    clayey = np.minimum(np.maximum((clay - 10.0) / 25.0, 0.0), 1.0)
    wet = np.minimum(np.maximum((water - 70.0) / 40.0, 0.0), 1.0)
    flooded = np.minimum(np.maximum((water - 150.0) / 100.0, 0.0), 0.5)
    return np.asarray(clayey * (wet - flooded))


_SHARES = ("walk.ground.sand_pct", "walk.ground.silt_pct", "walk.ground.clay_pct")

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
            *_SHARES,
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
        (*_SHARES, "texture"),
        "as entered, else what the other two leave, else typical of the texture class",
        "Saxton & Rawls 2006, SSSAJ 70:1569, Table 3",
    ),
    Fact(
        "clay_share_pct",
        "Clay in the soil",
        "%",
        0.0,
        100.0,
        _clay,
        (*_SHARES, "texture"),
        "as entered, else what the other two leave, else typical of the texture class",
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
        "degree_of_saturation_pct",
        "Share of the soil's pores that is full of water",
        "%",
        0.0,
        100.0,
        _pores_filled,
        ("sand_share_pct", "clay_share_pct", "available_water_pct"),
        "available water between wilting point, field capacity and saturation",
        "Saxton & Rawls 2006, SSSAJ 70:1569; 2.5 % organic matter assumed",
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
    *(
        Fact(
            f"cone_index_{end}_kpa",
            f"{word} cone index that the heel test allows",
            "kPa",
            5.0,
            9000.0,
            function,
            ("walk.ground.cone_index_kpa", "walk.ground.firmness"),
            f"as measured, else {end} end of the heel test's class",
            "ASABE S313.3; heel test: common practice, no source",
        )
        for end, word, function in (
            ("low", "Lowest", _cone_index_low),
            ("high", "Highest", _cone_index_high),
        )
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
)
