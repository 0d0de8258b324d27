"""Water in the soil now: the feel method and the available water number."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from setupadvisor.entries.words import MOISTURES, TEXTURES
from setupadvisor.errors import ImpossibleValue
from setupadvisor.facts.soil import (
    representative_clay_pct,
    representative_sand_pct,
)
from setupadvisor.facts.soil_moisture import (
    available_water_from_feel_high_pct,
    available_water_from_feel_low_pct,
    available_water_from_feel_pct,
    available_water_pct,
    degree_of_saturation,
    volumetric_water,
)
from setupadvisor.facts.soil_water import field_capacity, saturation, wilting_point

LOAM = (0.14, 0.28, 0.46)


@pytest.mark.parametrize(
    ("texture", "feel", "least", "most"),
    [
        ("loamy_sand", "dry", 0.5, 1.2),
        ("sandy_loam", "dry", 1.0, 1.7),
        ("loam", "dry", 1.1, 2.1),
        ("clay_loam", "dry", 1.2, 2.4),
        ("sandy_loam", "slightly_moist", 0.7, 1.3),
        ("clay_loam", "slightly_moist", 0.8, 1.8),
        ("loamy_sand", "moist", 0.2, 0.6),
        ("sandy_loam", "moist", 0.3, 0.9),
        ("loam", "moist", 0.4, 1.1),
        ("clay_loam", "moist", 0.4, 1.2),
        ("loamy_sand", "very_moist", 0.0, 0.3),
        ("sandy_loam", "very_moist", 0.0, 0.4),
        ("loam", "very_moist", 0.0, 0.5),
        ("clay_loam", "very_moist", 0.0, 0.6),
        ("loamy_sand", "wet", 0.0, 0.0),
        ("clay_loam", "wet", 0.0, 0.0),
    ],
)
def test_deficit_of_each_feel_lies_in_the_printed_range(
    texture: str, feel: str, least: float, most: float
) -> None:
    """USDA NRCS, Estimating Soil Moisture by Feel and Appearance: soil moisture deficit [inch
    per foot] of each texture group and quarter; from "moist" on from memory, but for loamy sand
    moist. An outside check of the feel numbers and the soil water equations together; the
    printed range is the tolerance."""
    code = TEXTURES.index(texture)
    sand, clay = representative_sand_pct(code), representative_clay_pct(code)
    contents = wilting_point(sand, clay), field_capacity(sand, clay), saturation(sand, clay)
    available = available_water_from_feel_pct(MOISTURES.index(feel))
    deficit_in_per_ft = 12.0 * (contents[1] - volumetric_water(available, *contents))
    assert least - 1e-9 <= deficit_in_per_ft <= most + 1e-9


def test_feels_cover_the_range_without_gaps() -> None:
    """The four quarters and field capacity of the feel and appearance method; exact."""
    every = np.arange(len(MOISTURES), dtype=float)
    low, high = available_water_from_feel_low_pct(every), available_water_from_feel_high_pct(every)
    np.testing.assert_array_equal(low[:4], [0, 25, 50, 75])
    np.testing.assert_array_equal(high[:-1], low[1:])
    middle = available_water_from_feel_pct(every)
    np.testing.assert_array_equal(middle, (low + high) / 2)


@given(available=st.floats(0, 200))
def test_available_water_round_trip(available: float) -> None:
    back = available_water_pct(volumetric_water(available, *LOAM), *LOAM)
    assert back == pytest.approx(available, abs=1e-9)


@given(available=st.floats(0, 199), more=st.floats(0.01, 1))
def test_more_available_water_is_more_water(available: float, more: float) -> None:
    assert volumetric_water(available + more, *LOAM) > volumetric_water(available, *LOAM)


def test_the_three_marks_of_available_water() -> None:
    np.testing.assert_allclose(volumetric_water([0, 100, 200], *LOAM), LOAM, rtol=1e-15)


def test_drier_than_the_wilting_point_is_below_zero_and_never_negative_water() -> None:
    assert available_water_pct(0.07, *LOAM) == pytest.approx(-50.0)
    assert volumetric_water(-500, *LOAM) == 0.0


def test_more_than_full_is_refused() -> None:
    with pytest.raises(ImpossibleValue, match="available_water_pct"):
        volumetric_water(201, *LOAM)


def test_contents_that_do_not_rise_give_no_answer() -> None:
    assert np.isnan(available_water_pct(0.2, 0.3, 0.3, 0.4))


def test_missing_stays_missing_and_rows_equal_scalar_calls() -> None:
    result = volumetric_water([50.0, np.nan, 150.0], *LOAM)
    assert np.isnan(result[1])
    np.testing.assert_array_equal(
        result[[0, 2]], [volumetric_water(50, *LOAM), volumetric_water(150, *LOAM)]
    )
    assert np.isnan(degree_of_saturation(np.nan, 0.4))
    assert np.isnan(available_water_from_feel_pct(np.nan))


def test_degree_of_saturation_of_half_full_pores() -> None:
    assert degree_of_saturation(0.23, 0.46) == pytest.approx(0.5)
    with pytest.raises(ImpossibleValue, match="saturation"):
        degree_of_saturation(0.2, 0.0)
