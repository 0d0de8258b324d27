"""Cone index from heel and penetrometer, and after the ground dried or was wetted."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from setupadvisor.entries.words import HEELS
from setupadvisor.errors import ImpossibleValue
from setupadvisor.facts.soil import TEXTURE_GROUPS
from setupadvisor.facts.soil_strength import (
    HARD_SOIL_CONE_MM,
    SOFT_SOIL_CONE_MM,
    cone_index_at_moisture_kpa,
    cone_index_from_heel_high_kpa,
    cone_index_from_heel_kpa,
    cone_index_from_heel_low_kpa,
    cone_index_from_penetrometer_kpa,
)

COARSE, FINE = float(TEXTURE_GROUPS.index("coarse")), float(TEXTURE_GROUPS.index("fine"))


def test_cone_index_is_force_over_base_area() -> None:
    """CI = F / A, ASABE S313.3: 500 N on the 20.27 mm cone; arithmetic, so 1e-9."""
    assert cone_index_from_penetrometer_kpa(500) == pytest.approx(1549.4323728033203, rel=1e-9)


def test_standard_cones_have_the_printed_areas() -> None:
    """ASABE S313.3: 322.69 and 129.28 mm2 [0.5 and 0.2 square inch]; printed digits, 0.001."""
    for base_mm, area_mm2 in ((SOFT_SOIL_CONE_MM, 322.69), (HARD_SOIL_CONE_MM, 129.28)):
        force_n = area_mm2 / 1000.0  # gives 1 kPa
        assert cone_index_from_penetrometer_kpa(force_n, base_mm) == pytest.approx(1.0, rel=0.001)


def test_firmer_heel_tests_mean_stronger_ground_and_ranges_overlap() -> None:
    every = np.arange(len(HEELS), dtype=float)
    low, middle, high = (
        cone_index_from_heel_low_kpa(every),
        cone_index_from_heel_kpa(every),
        cone_index_from_heel_high_kpa(every),
    )
    assert (np.diff(middle) > 0).all()
    assert (low < middle).all()
    assert (middle < high).all()
    assert (low[1:] <= high[:-1]).all()


@pytest.mark.parametrize(
    ("group", "exponent"), [("moderately_coarse", 1.1949), ("medium", 1.565), ("fine", 1.848)]
)
def test_doubling_the_water_follows_the_published_exponent(group: str, exponent: float) -> None:
    """US Army CRREL SR-04-1, Table 5.2.1, cone index coefficient c2 of SM, ML and CL (after
    Sullivan et al. 1997), in ln CI = c1 - c2 ln MC (form from memory); arithmetic."""
    code = TEXTURE_GROUPS.index(group)
    wetter = cone_index_at_moisture_kpa(1000, code, 0.15, 0.30, field_capacity=0.3, saturation=0.45)
    assert wetter == pytest.approx(1000 * 2.0**-exponent, rel=1e-12)


def test_sand_is_strongest_damp() -> None:
    def sand_at(water: float) -> float:
        return float(
            cone_index_at_moisture_kpa(
                600, COARSE, 0.10, water, field_capacity=0.10, saturation=0.46
            )
        )

    assert sand_at(0.05) < sand_at(0.10) > sand_at(0.30) > sand_at(0.46)
    assert sand_at(0.46) == pytest.approx(300)  # regression only: half when flooded


@given(
    cone_index=st.floats(100, 2000),
    then=st.floats(0.15, 0.3),
    now=st.floats(0.15, 0.3),
    group=st.sampled_from(range(4)),
)
def test_there_and_back_gives_the_measured_strength(
    cone_index: float, then: float, now: float, group: int
) -> None:
    contents = {"field_capacity": 0.25, "saturation": 0.45}
    there = cone_index_at_moisture_kpa(cone_index, group, then, now, **contents)
    back = cone_index_at_moisture_kpa(there, group, now, then, **contents)
    assert back == pytest.approx(cone_index, rel=1e-9)


@given(now=st.floats(0.05, 0.44), more=st.floats(0.001, 0.02))
def test_clay_only_loses_strength_with_water(now: float, more: float) -> None:
    contents = {"field_capacity": 0.36, "saturation": 0.48}
    before = cone_index_at_moisture_kpa(800, FINE, 0.3, now, **contents)
    after = cone_index_at_moisture_kpa(800, FINE, 0.3, now + more, **contents)
    assert after <= before


def test_sand_has_no_step_at_field_capacity() -> None:
    contents = {"field_capacity": 0.10, "saturation": 0.46}
    below, above = cone_index_at_moisture_kpa(
        600, COARSE, 0.08, [0.1 - 1e-9, 0.1 + 1e-9], **contents
    )
    assert below == pytest.approx(above, rel=1e-6)


def test_missing_stays_missing_and_rows_equal_scalar_calls() -> None:
    contents = {"field_capacity": 0.3, "saturation": 0.45}
    rows = cone_index_at_moisture_kpa(
        [500.0, np.nan, 500.0, 500.0],
        [2.0, 2.0, np.nan, 0.0],
        0.2,
        [0.25, 0.25, 0.2, 0.25],
        **contents,
    )
    assert np.isnan(rows[[1, 2]]).all()
    for place, group in ((0, 2.0), (3, 0.0)):
        assert rows[place] == cone_index_at_moisture_kpa(500, group, 0.2, 0.25, **contents)


def test_unknown_ground_and_impossible_pushes_are_refused() -> None:
    with pytest.raises(ImpossibleValue, match="heel"):
        cone_index_from_heel_kpa(5)
    with pytest.raises(ImpossibleValue, match="force_n"):
        cone_index_from_penetrometer_kpa(-1)
    with pytest.raises(ImpossibleValue, match="cone_index_kpa"):
        cone_index_at_moisture_kpa(0, FINE, 0.2, 0.3, field_capacity=0.36, saturation=0.48)
