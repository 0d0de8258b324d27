"""Water that a soil can hold, against the table printed with the equations."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import assume, given
from hypothesis import strategies as st

from setupadvisor.errors import ImpossibleValue, OutsideValidRange
from setupadvisor.facts.soil_water import (
    field_capacity,
    saturated_conductivity_mm_per_h,
    saturation,
    wilting_point,
)

# Saxton & Rawls 2006, Soil Science Society of America Journal 70:1569, Table 3, organic matter
# 2.5 %. Water is printed to 0.01, so half a digit and rounding: 0.006. Read in a published page
# and recomputed; the sandy clay and clay rows are from memory.
WATER = [
    (wilting_point, 88, 5, 0.05),
    (field_capacity, 88, 5, 0.10),
    (saturation, 88, 5, 0.46),
    (wilting_point, 80, 5, 0.05),
    (field_capacity, 80, 5, 0.12),
    (saturation, 80, 5, 0.46),
    (wilting_point, 65, 10, 0.08),
    (field_capacity, 65, 10, 0.18),
    (saturation, 65, 10, 0.45),
    (wilting_point, 40, 20, 0.14),
    (field_capacity, 40, 20, 0.28),
    (saturation, 40, 20, 0.46),
    (field_capacity, 20, 15, 0.31),
    (saturation, 20, 15, 0.48),
    (wilting_point, 10, 5, 0.06),
    (field_capacity, 10, 5, 0.30),
    (saturation, 10, 5, 0.48),
    (wilting_point, 60, 25, 0.17),
    (field_capacity, 60, 25, 0.27),
    (saturation, 60, 25, 0.43),
    (wilting_point, 30, 35, 0.22),
    (field_capacity, 30, 35, 0.36),
    (saturation, 30, 35, 0.48),
    (wilting_point, 10, 35, 0.22),
    (saturation, 10, 35, 0.51),
    (field_capacity, 10, 45, 0.41),
    (saturation, 10, 45, 0.52),
    (field_capacity, 50, 40, 0.36),
    (saturation, 50, 40, 0.44),
    (wilting_point, 25, 50, 0.30),
    (field_capacity, 25, 50, 0.42),
]


@pytest.mark.parametrize(("function", "sand", "clay", "expected"), WATER)
def test_water_contents_as_printed(function, sand, clay, expected) -> None:  # type: ignore[no-untyped-def]
    assert function(sand, clay) == pytest.approx(expected, abs=0.006)


@pytest.mark.parametrize(
    ("sand", "clay", "expected"),
    [
        (80, 5, 96.7),
        (65, 10, 50.3),
        (40, 20, 15.5),
        (20, 15, 16.1),
        (60, 25, 11.3),
        (30, 35, 4.3),
        (10, 35, 5.7),
        (10, 45, 3.7),
        (50, 40, 1.4),
    ],
)
def test_saturated_conductivity_as_printed(sand: int, clay: int, expected: float) -> None:
    """Saxton & Rawls 2006, Table 3; printed to 0.1 mm/h, so 0.06. Sandy clay from memory."""
    assert saturated_conductivity_mm_per_h(sand, clay) == pytest.approx(expected, abs=0.06)


def test_worked_example_of_the_equations() -> None:
    """Documentation of the HydroTools.R package for equations 1, 2 and 5 of Saxton & Rawls 2006,
    sand and clay 20 %, organic matter 2.5 %; it prints seven digits, so 1e-6 of the value."""
    found = [wilting_point(20, 20), field_capacity(20, 20), saturation(20, 20)]
    np.testing.assert_allclose(found, [0.1365448, 0.3208775, 0.482125], rtol=1e-6)


@given(sand=st.floats(0, 95), clay=st.floats(5, 60), organic=st.floats(0.5, 5))
def test_water_contents_rise_from_wilting_to_full(sand: float, clay: float, organic: float) -> None:
    assume(sand + clay <= 100)
    # The paper's own limits leave a corner of sandy clay where its equations cross.
    assume(sand + 1.3 * clay <= 100)
    dry = wilting_point(sand, clay, organic)
    drained = field_capacity(sand, clay, organic)
    full = saturation(sand, clay, organic)
    assert 0.0 < dry < drained < full < 1.0


def test_missing_stays_missing_and_rows_equal_scalar_calls() -> None:
    sand, clay = np.array([40.0, np.nan, 65.0]), np.array([20.0, 20.0, 10.0])
    for function in (wilting_point, field_capacity, saturation, saturated_conductivity_mm_per_h):
        result = function(sand, clay)
        assert np.isnan(result[1])
        np.testing.assert_array_equal(result[[0, 2]], [function(40, 20), function(65, 10)])


def test_clay_beyond_the_papers_samples_warns() -> None:
    with pytest.warns(OutsideValidRange, match=r"clay 70 % .*Saxton & Rawls"):
        wilting_point(20, 70)


def test_sand_and_clay_above_the_whole_are_refused() -> None:
    with pytest.raises(ImpossibleValue, match=r"sand_pct \+ clay_pct"):
        field_capacity(70, 40)
