"""The ground later in the day."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from setupadvisor.entries import words
from setupadvisor.entries.quantity import Quantity, Word
from setupadvisor.errors import ImpossibleValue, InputError
from setupadvisor.facts.columns import Columns, condition_fields
from setupadvisor.facts.drying import evaporation_mm_per_h, volumetric_water_after_hours
from setupadvisor.facts.soil_moisture import available_water_pct, volumetric_water
from setupadvisor.facts.soil_strength import cone_index_at_moisture_kpa
from setupadvisor.facts.soil_water import saturated_conductivity_mm_per_h, water_contents
from setupadvisor.facts.table import facts_from
from setupadvisor.facts.through_the_day import later
from tests.facts.random_walks import random_walks

WATER, CONE = "walk.ground.available_water_pct", "walk.ground.cone_index_kpa"


def walk(texture: str = "loam", **changes: float) -> Columns:
    columns = {
        "walk.air.temperature_c": 26.0,
        "walk.air.humidity_pct": 45.0,
        "walk.air.pressure_kpa": 100.0,
        "walk.air.wind": 1.0,
        "walk.air.rain": 0.0,
        "walk.ground.texture": float(words.TEXTURES.index(texture)),
        WATER: 80.0,
        CONE: 700.0,
        **{f"walk.{path.replace('__', '.')}": value for path, value in changes.items()},
    }
    return {path: np.array([value]) for path, value in columns.items()}


def test_a_dry_afternoon_is_the_three_formulas_one_after_the_other() -> None:
    """Loam by Saxton & Rawls, evaporation by FAO-56, strength by the moisture power law."""
    changed = later(walk(), 4.0, watering_mm=3.0, sky="clear")
    contents = water_contents(40.0, 20.0)
    before = volumetric_water(80.0, *contents)
    evaporation = evaporation_mm_per_h(26.0, 45.0, 2.5, 1.0, pressure_kpa=100.0)
    after = volumetric_water_after_hours(
        before,
        4.0,
        evaporation,
        3.0,
        **contents._asdict(),
        saturated_conductivity_mm_per_h=saturated_conductivity_mm_per_h(40.0, 20.0),
    )
    cone = cone_index_at_moisture_kpa(
        700.0,
        2.0,
        before,
        after,
        field_capacity=contents.field_capacity,
        saturation=contents.saturation,
    )
    np.testing.assert_allclose(changed.evaporation_mm_per_h, evaporation, rtol=1e-12)
    np.testing.assert_allclose(
        changed.conditions[WATER], available_water_pct(after, *contents), rtol=1e-12
    )
    np.testing.assert_allclose(changed.conditions[CONE], cone, rtol=1e-12)


def test_sun_dries_and_hardens_and_water_wets_and_softens() -> None:
    dried = later(walk(), 5.0, sky="clear").conditions
    watered = later(walk(), 0.5, watering_mm=8.0, sky="overcast").conditions
    assert dried[WATER] < 80.0 < watered[WATER]
    assert dried[CONE] > 700.0 > watered[CONE]


def test_dry_sand_is_firmer_after_watering() -> None:
    """Common practice: the truck holds a sand track together."""
    sand = walk("sand", ground__available_water_pct=15.0, ground__cone_index_kpa=200.0)
    assert later(sand, 0.5, watering_mm=5.0).conditions[CONE] > 200.0


def test_rain_and_the_truck_wet_alike() -> None:
    truck = later(walk(), 2.0, watering_mm=5.0, rain_mm=1.0, sky="overcast")
    rain = later(walk(), 2.0, rain_mm=6.0, sky="overcast")
    np.testing.assert_array_equal(truck.conditions[WATER], rain.conditions[WATER])


def test_more_sun_dries_more() -> None:
    waters = [
        float(later(walk(), 4.0, sky=sky).conditions[WATER][0])
        for sky in ("clear", "partly_cloudy", "overcast")
    ]
    assert waters == sorted(waters)
    assert waters[0] < waters[2]


@given(st.floats(0.0, 12.0), st.floats(0.0, 30.0), st.integers(0, 2**32 - 1))
@settings(max_examples=30, deadline=None)
def test_later_conditions_can_be_entered_again(hours: float, water: float, start: int) -> None:
    """Every number and word is a possible entry, whatever was walked, and nothing gets lost."""
    rows = 40
    walks = random_walks(rows, start, missing=0.3)
    changed = later(walks, hours, watering_mm=water).conditions
    for path, values in changed.items():
        kind = condition_fields()[path].kind
        known = values[~np.isnan(values)]
        if isinstance(kind, Word):
            assert np.isin(known, np.arange(len(kind.choices))).all(), path
        elif isinstance(kind, Quantity):
            assert np.all((known >= kind.low) & (known <= kind.high)), path
        assert not np.any(np.isnan(values) & ~np.isnan(walks[path])), path
    facts_from(changed, {}, rows)


def test_now_without_water_nothing_changes() -> None:
    walks = random_walks(50, 3, missing=0.3)
    same = later(walks, 0.0).conditions
    assert same.keys() == walks.keys()
    for path, values in walks.items():
        np.testing.assert_array_equal(same[path], values, err_msg=path)


def test_the_walk_itself_is_left_alone() -> None:
    walks = random_walks(20, 4)
    copies = {path: values.copy() for path, values in walks.items()}
    later(walks, 4.0, rain_mm=5.0)
    for path, values in copies.items():
        np.testing.assert_array_equal(walks[path], values, err_msg=path)


def test_rows_equal_single_walks() -> None:
    walks = random_walks(25, 5, missing=0.2)
    together = later(walks, np.linspace(0.5, 8.0, 25), rain_mm=np.linspace(0.0, 20.0, 25))
    for row in range(25):
        alone = later(
            {path: values[row : row + 1] for path, values in walks.items()},
            np.linspace(0.5, 8.0, 25)[row],
            rain_mm=np.linspace(0.0, 20.0, 25)[row],
        )
        for path, values in alone.conditions.items():
            np.testing.assert_allclose(
                together.conditions[path][row], values[0], rtol=1e-9, err_msg=path
            )


def test_words_follow_the_numbers_where_words_were_entered() -> None:
    by_feel = walk()
    del by_feel[WATER], by_feel[CONE]
    moist, dents = words.MOISTURES.index("moist"), words.HEELS.index("dents")
    by_feel["walk.ground.moisture"] = np.array([float(moist)])
    by_feel["walk.ground.firmness"] = np.array([float(dents)])
    dried = later(by_feel, 9.0, sky="clear").conditions
    assert dried["walk.ground.moisture"] < moist
    assert dried["walk.ground.firmness"] >= dents
    measured = later(walk(), 9.0, sky="clear").conditions
    assert "walk.ground.moisture" not in measured
    assert "walk.ground.firmness" not in measured


def test_the_gate_dries_by_its_own_soil() -> None:
    """Sand just after the gate, loam around the lap, both with the same water and strength."""
    both = walk(start__after_cone_index_kpa=700.0)
    own = walk(start__after_cone_index_kpa=700.0, start__after_texture=0.0)
    shared, sandy = (later(entered, 5.0, sky="clear").conditions for entered in (both, own))
    np.testing.assert_allclose(shared["walk.start.after_cone_index_kpa"], shared[CONE], rtol=1e-12)
    assert sandy["walk.start.after_cone_index_kpa"] < 700.0 < sandy[CONE]


@pytest.mark.parametrize("path", ["walk.ground.texture", WATER, "walk.air.temperature_c"])
def test_what_cannot_be_worked_out_stays_as_walked_and_is_said(path: str) -> None:
    unknown = walk()
    del unknown[path]
    changed = later(unknown, 4.0, watering_mm=5.0)
    assert changed.conditions.keys() == unknown.keys()
    assert changed.conditions[CONE] == 700.0
    assert any("around the lap" in note and "as walked" in note for note in changed.notes)


def test_what_was_assumed_is_said() -> None:
    known = later(walk(), 3.0, sky="clear").notes
    assert not any("assumed" in note for note in known)
    assert any("Ruts, bumps, dust" in note for note in known)
    guessed = walk()
    del guessed["walk.air.wind"], guessed["walk.air.humidity_pct"]
    notes = " ".join(later(guessed, 3.0).notes)
    for word in ("Wind", "Humidity", "sky"):
        assert word in notes


def test_likely_rain_means_no_sun() -> None:
    raining = later(walk(air__rain=float(words.RAINS.index("raining"))), 3.0)
    dry = later(walk(), 3.0)
    overcast = later(walk(), 3.0, sky="overcast")
    assert raining.evaporation_mm_per_h == overcast.evaporation_mm_per_h
    assert raining.evaporation_mm_per_h < dry.evaporation_mm_per_h


def test_a_formula_outside_its_range_is_noted() -> None:
    clay = walk()
    del clay["walk.ground.texture"]
    clay["walk.ground.clay_pct"], clay["walk.ground.sand_pct"] = np.array([75.0]), np.array([10.0])
    assert any("0 to 60 %" in note for note in later(clay, 3.0).notes)


def test_hours_and_water_below_nought_and_unknown_skies_are_refused() -> None:
    with pytest.raises(ImpossibleValue, match="hours"):
        later(walk(), -1.0)
    with pytest.raises(ImpossibleValue, match="watering_mm"):
        later(walk(), 1.0, rain_mm=-3.0)
    with pytest.raises(InputError, match="partly_cloudy"):
        later(walk(), 1.0, sky="sunny")
