"""Grip: what riders know of each ground holds, nothing jumps, missing stays missing."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from setupadvisor.errors import ImpossibleValue, OutsideValidRange
from setupadvisor.facts.grip import (
    HARD_SURFACES,
    SURFACES,
    grip_coefficient,
    knobs_in_share,
    rolling_resistance_coefficient,
    soil_grip_coefficient,
)
from setupadvisor.facts.soil import TEXTURE_GROUPS
from setupadvisor.facts.wheel_on_soil import gross_traction_ratio, wheel_numeric

WHEEL = {"wheel_load_n": 1400.0, "wheel_width_mm": 110.0, "wheel_diameter_mm": 640.0}
SAND, LOAM, CLAY = (float(TEXTURE_GROUPS.index(name)) for name in ("coarse", "medium", "fine"))
SOIL = float(SURFACES.index("soil"))


@pytest.mark.parametrize(
    ("ground", "group", "water_pct", "cone_index_kpa", "expected"),
    [
        ("hard dry dirt", LOAM, 5, 4000, (0.60, 0.70)),
        ("hard dry clay", CLAY, 5, 4000, (0.60, 0.70)),
        ("tacky loam", LOAM, 60, 800, (0.90, 1.00)),
        ("deep soft dry sand", SAND, 20, 150, (0.30, 0.45)),
        ("deep damp sand", SAND, 100, 150, (0.35, 0.50)),
        ("soft wet clay", CLAY, 170, 200, (0.20, 0.40)),
        ("greasy hard clay", CLAY, 200, 3000, (0.25, 0.40)),
    ],
)
def test_grounds_that_every_rider_knows(
    ground: str,
    group: float,
    water_pct: float,
    cone_index_kpa: float,
    expected: tuple[float, float],
) -> None:
    """Common practice, no source."""
    grip = soil_grip_coefficient(group, water_pct, cone_index_kpa, **WHEEL)
    assert expected[0] <= grip <= expected[1], ground


@pytest.mark.parametrize(("water_pct", "published"), [(0, 0.68), (150, 0.55)])
def test_hard_loam_is_near_an_earth_road(water_pct: float, published: float) -> None:
    """Earth road, dry 0.68 and wet 0.55 at the peak: Taborek 1957 as printed in Wong, Theory of
    Ground Vehicles, chapter 1 (from memory). 0.08: road tyre there, knobbly tyre here."""
    grip = soil_grip_coefficient(LOAM, water_pct, 4000, **WHEEL)
    assert grip == pytest.approx(published, abs=0.08)


@pytest.mark.parametrize(
    ("surface", "published", "tolerance"),
    [("concrete_dry", 0.85, 0.06), ("hard_dirt_dry", 0.68, 0.05), ("hard_dirt_wet", 0.55, 0.06)],
)
def test_hard_surfaces_near_published_road_adhesion(
    surface: str, published: float, tolerance: float
) -> None:
    """Taborek 1957 as printed in Wong, Theory of Ground Vehicles, chapter 1 (from memory):
    concrete dry 0.8 to 0.9, earth road dry 0.68, wet 0.55. A knobbly tyre is below a road tyre."""
    grip = grip_coefficient(SURFACES.index(surface))
    assert published - tolerance <= grip <= published


def test_water_dust_and_mud_cost_grip_on_hard_surfaces() -> None:
    grip = {name: float(grip_coefficient(SURFACES.index(name))) for name in HARD_SURFACES}
    assert all(0.3 <= value <= 0.9 for value in grip.values())
    assert grip["concrete_dry"] > grip["concrete_damp"] > grip["concrete_wet"]
    assert grip["concrete_wet"] > grip["concrete_muddy"]
    assert grip["concrete_dry"] > grip["concrete_dusty"]
    assert grip["metal_grid_dry"] > grip["metal_grid_wet"] > grip["metal_grid_muddy"]
    assert grip["hard_dirt_damp"] > grip["hard_dirt_dry"] > grip["hard_dirt_dusty"]


@given(
    group=st.integers(0, 3),
    water=st.floats(0, 199),
    cone_index=st.floats(60, 5000),
    load=st.floats(600, 2500),
)
def test_grip_has_no_steps(group: int, water: float, cone_index: float, load: float) -> None:
    wheel = WHEEL | {"wheel_load_n": load}
    here = soil_grip_coefficient(group, water, cone_index, **wheel)
    assert 0 < here <= 1.0
    assert abs(soil_grip_coefficient(group, water + 1, cone_index, **wheel) - here) < 0.01
    assert abs(soil_grip_coefficient(group, water, cone_index * 1.01, **wheel) - here) < 0.01


@given(group=st.integers(0, 3), water=st.floats(0, 200), cone_index=st.floats(60, 600))
def test_soft_ground_grips_better_when_firmer_and_lighter_loaded(
    group: int, water: float, cone_index: float
) -> None:
    here = soil_grip_coefficient(group, water, cone_index, **WHEEL)
    assert soil_grip_coefficient(group, water, cone_index * 1.1, **WHEEL) > here
    lighter = WHEEL | {"wheel_load_n": 1200.0}
    assert soil_grip_coefficient(group, water, cone_index, **lighter) > here


@given(group=st.integers(0, 3), cone_index=st.floats(60, 5000))
def test_drowned_ground_never_beats_moist_ground(group: int, cone_index: float) -> None:
    moist = soil_grip_coefficient(group, 70, cone_index, **WHEEL)
    assert soil_grip_coefficient(group, 200, cone_index, **WHEEL) < moist


def test_yielding_follows_the_wheel_numeric() -> None:
    """Two strengths both soft enough for the knobs to bite fully: their grips differ as gross
    traction of Wismer & Luth 1974 does; 1 % for the share of the knobs left on top."""
    grip = soil_grip_coefficient(SAND, 0, [100.0, 200.0], **WHEEL)
    numeric = wheel_numeric([100.0, 200.0], 110, 640, 1400)
    gross = gross_traction_ratio(numeric, 0.3)
    assert grip[1] / grip[0] == pytest.approx(gross[1] / gross[0], rel=0.01)


@given(cone_index=st.floats(10, 5000))
def test_harder_ground_keeps_knobs_on_top(cone_index: float) -> None:
    assert 0 < knobs_in_share(cone_index * 1.1) < knobs_in_share(cone_index) <= 1


def test_rolling_resistance_soft_above_hard_above_concrete() -> None:
    soft, firm = rolling_resistance_coefficient(SOIL, [150.0, 1500.0], **WHEEL)
    concrete = rolling_resistance_coefficient(SURFACES.index("concrete_dry"))
    assert soft > 2 * firm > concrete > 0


def test_hard_surfaces_need_nothing_of_the_soil_and_soil_needs_all() -> None:
    assert grip_coefficient(SURFACES.index("metal_grid_dry")) == 0.65  # regression only
    assert np.isnan(grip_coefficient(SOIL, LOAM, 60, np.nan, **WHEEL))
    assert np.isnan(grip_coefficient(SOIL, LOAM, np.nan, 800, **WHEEL))
    assert np.isnan(grip_coefficient(SOIL, np.nan, 60, 800, **WHEEL))
    assert np.isnan(grip_coefficient(SOIL, LOAM, 60, 800))
    assert np.isnan(grip_coefficient(np.nan, LOAM, 60, 800, **WHEEL))
    assert np.isnan(rolling_resistance_coefficient(SOIL))


def test_rows_equal_scalar_calls() -> None:
    surfaces = [SOIL, float(SURFACES.index("concrete_wet")), SOIL]
    rows = grip_coefficient(surfaces, [LOAM, np.nan, CLAY], [60.0, np.nan, 120.0], 700.0, **WHEEL)
    assert rows[0] == grip_coefficient(SOIL, LOAM, 60, 700, **WHEEL)
    assert rows[1] == grip_coefficient(surfaces[1])
    assert rows[2] == grip_coefficient(SOIL, CLAY, 120, 700, **WHEEL)
    groups = soil_grip_coefficient([SAND, LOAM], 60.0, 700.0, **WHEEL)
    assert groups.shape == (2,)
    assert groups[1] == rows[0]


def test_only_soil_too_soft_for_the_formula_warns() -> None:
    mixed = rolling_resistance_coefficient(
        [SURFACES.index("concrete_dry"), SOIL], [50.0, 500.0], **WHEEL
    )
    assert mixed[0] == 0.03  # regression only
    with pytest.warns(OutsideValidRange, match="wheel numeric"):
        rolling_resistance_coefficient(SOIL, 50, **WHEEL)


def test_unknown_surfaces_are_refused() -> None:
    with pytest.raises(ImpossibleValue, match="surface"):
        grip_coefficient(len(SURFACES))
