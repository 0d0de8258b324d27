"""Texture: the triangle against a drawing of it and its written rules; the ribbon chart."""

from __future__ import annotations

import numpy as np
import pytest
import soiltexture
from hypothesis import assume, given
from hypothesis import strategies as st

from setupadvisor.entries.words import RIBBON_FEELS, TEXTURES
from setupadvisor.errors import ImpossibleValue
from setupadvisor.facts.soil import (
    TEXTURE_GROUPS,
    representative_clay_pct,
    representative_sand_pct,
    representative_silt_pct,
    texture_class,
    texture_class_from_ribbon,
    texture_group,
)


def word(code: object) -> str:
    return TEXTURES[int(np.asarray(code))]


@pytest.mark.parametrize(
    ("sand", "silt", "clay", "expected"),
    [
        (92, 3, 5, "sand"),
        (82, 12, 6, "loamy_sand"),
        (40, 42, 18, "loam"),
        (7, 87, 6, "silt"),
        (33, 34, 33, "clay_loam"),
        (10, 56, 34, "silty_clay_loam"),
        (52, 6, 42, "sandy_clay"),
        (20, 20, 60, "clay"),
    ],
)
def test_class_inside_the_triangle(sand: int, silt: int, clay: int, expected: str) -> None:
    """USDA Soil Survey Manual (Handbook 18), chapter 3; exact, as a class is a word."""
    assert word(texture_class(sand, silt, clay)) == expected


@pytest.mark.parametrize(
    ("sand", "silt", "clay", "expected"),
    [
        (85, 15, 0, "loamy_sand"),
        (45, 28, 27, "clay_loam"),
        (45, 20, 35, "clay_loam"),
        (20, 53, 27, "silty_clay_loam"),
        (20, 40, 40, "silty_clay"),
        (43, 50, 7, "silt_loam"),
        (80, 0, 20, "sandy_clay_loam"),
        (53, 27, 20, "sandy_clay_loam"),
    ],
)
def test_on_a_boundary_the_written_inequalities_decide(
    sand: int, silt: int, clay: int, expected: str
) -> None:
    """Soil Survey Manual's written rules, from memory; exact."""
    assert word(texture_class(sand, silt, clay)) == expected


def test_agrees_with_a_drawn_triangle_away_from_its_lines() -> None:
    """The soiltexture library's USDA polygons (Soil Survey Manual 1993), every 1 % of the
    triangle where its class is the same 0.6 % around: only the lines themselves may differ."""
    around = [(0.0, 0.0), (0.6, 0.0), (-0.6, 0.0), (0.0, 0.6), (0.0, -0.6)]
    compared = 0
    for sand in np.arange(1.0, 99.0):
        for clay in np.arange(1.0, 99.0 - sand):
            drawn = {soiltexture.getTexture(sand + ds, clay + dc) for ds, dc in around}
            if len(drawn) > 1 or None in drawn:
                continue
            compared += 1
            expected = drawn.pop().strip().replace(" ", "_")
            assert word(texture_class(sand, 100.0 - sand - clay, clay)) == expected, (sand, clay)
    assert compared > 3500  # of 4753 points: the comparison covers most of the triangle


@given(sand=st.floats(0, 100), clay=st.floats(0, 100))
def test_every_soil_has_a_class(sand: float, clay: float) -> None:
    assume(sand + clay <= 100.0)
    assert 0 <= float(texture_class(sand, 100.0 - sand - clay, clay)) < len(TEXTURES)


def test_parts_rounded_to_99_or_101_are_scaled_and_others_refused() -> None:
    assert word(texture_class(40, 42, 19)) == "loam"
    with pytest.raises(ImpossibleValue, match="sum of 110"):
        texture_class(40, 40, 30)
    with pytest.raises(ImpossibleValue, match="clay_pct"):
        texture_class(60, 45, -5)


def test_a_part_just_below_zero_by_rounding_counts_as_none() -> None:
    silt = 100.0 - 64.4 - 35.6
    assert silt < 0
    assert word(texture_class(64.4, silt, 35.6)) == "sandy_clay"


def test_a_missing_part_leaves_the_class_missing() -> None:
    result = texture_class([40.0, np.nan], [42.0, 42.0], [18.0, 18.0])
    np.testing.assert_array_equal(result, [TEXTURES.index("loam"), np.nan])


def test_the_typical_soil_of_each_class_lies_in_that_class() -> None:
    every = np.arange(len(TEXTURES), dtype=float)
    parts = [
        representative_sand_pct(every),
        representative_silt_pct(every),
        representative_clay_pct(every),
    ]
    np.testing.assert_array_equal(sum(parts), 100.0)
    np.testing.assert_array_equal(texture_class(*parts), every)


@pytest.mark.parametrize(
    ("length_mm", "feel", "expected"),
    [
        (10, "gritty", "sandy_loam"),
        (10, "smooth", "silt_loam"),
        (10, "neither", "loam"),
        (25.4, "gritty", "sandy_clay_loam"),
        (35, "smooth", "silty_clay_loam"),
        (50, "neither", "clay_loam"),
        (60, "gritty", "sandy_clay"),
        (60, "smooth", "silty_clay"),
        (60, "neither", "clay"),
        (0, "smooth", "loamy_sand"),
    ],
)
def test_ribbon_chart(length_mm: float, feel: str, expected: str) -> None:
    """Thien 1979, Journal of Agronomic Education 8:54; from memory; exact."""
    assert word(texture_class_from_ribbon(length_mm, RIBBON_FEELS.index(feel))) == expected


def test_a_handful_that_falls_apart_is_sand_whatever_else_was_entered() -> None:
    np.testing.assert_array_equal(
        texture_class_from_ribbon([np.nan, 30.0], [np.nan, 0.0], 0.0), [0.0, 0.0]
    )


def test_a_ribbon_without_feel_or_a_feel_without_ribbon_decides_nothing() -> None:
    result = texture_class_from_ribbon([30.0, np.nan, 0.0], [np.nan, 1.0, np.nan])
    np.testing.assert_array_equal(result, [np.nan, np.nan, TEXTURES.index("loamy_sand")])


@given(short=st.floats(0.1, 100), longer=st.floats(0, 100), feel=st.integers(0, 2))
def test_a_longer_ribbon_never_means_less_clay(short: float, longer: float, feel: int) -> None:
    first = representative_clay_pct(texture_class_from_ribbon(short, feel))
    second = representative_clay_pct(texture_class_from_ribbon(short + longer, feel))
    assert second >= first


def test_groups_of_the_feel_method() -> None:
    """USDA NRCS, Estimating Soil Moisture by Feel and Appearance, from memory; exact."""
    named = {
        "loamy_sand": "coarse",
        "sandy_loam": "moderately_coarse",
        "loam": "medium",
        "silt_loam": "medium",
        "sandy_clay_loam": "medium",
        "clay_loam": "fine",
        "silty_clay_loam": "fine",
        "clay": "fine",
    }
    for texture, group in named.items():
        assert TEXTURE_GROUPS[int(texture_group(TEXTURES.index(texture)))] == group
    assert np.isnan(texture_group(np.nan))
