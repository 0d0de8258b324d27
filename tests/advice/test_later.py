"""A walk later in the day: what was planned, what was reckoned, and times that cannot be."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from setupadvisor.advice.later import later_in_the_day
from setupadvisor.entries import words
from setupadvisor.entries.walk import Walk
from setupadvisor.errors import InputError
from setupadvisor.facts.columns import Columns, columns_from_entries
from setupadvisor.facts.through_the_day import later

CONE = "walk.ground.cone_index_kpa"
WATER = "walk.ground.available_water_pct"


def walk(*plans: dict[str, Any], **ground: Any) -> Walk:
    """Loam that dries, with plans for later."""
    content: dict[str, Any] = {
        "event": "invented",
        "date": "2026-05-17",
        "kind": "outdoor",
        "air": {"temperature": 24, "humidity": 50, "wind": "light", "elevation": 200},
        "ground": {"texture": "loam", "moisture": "very_moist", "cone_index": 700, **ground},
    }
    return Walk.model_validate({**content, **({"later": list(plans)} if plans else {})})


def at(when: str, entered: Walk) -> tuple[Columns, tuple[str, ...]]:
    return later_in_the_day(entered, columns_from_entries(entered, None), when, "walk.yaml")


def same(one: Columns, other: Columns) -> None:
    assert one.keys() == other.keys()
    for name, column in one.items():
        np.testing.assert_array_equal(column, other[name], err_msg=name)


PLAN = {"at": "moto 2", "after": 180, "watering": 3, "sky": "clear"}


def test_a_plan_hands_its_time_water_and_sky_to_the_model() -> None:
    entered = walk(PLAN)
    expected = later(columns_from_entries(entered, None), 3.0, watering_mm=3.0, sky="clear")
    same(at("moto 2", entered)[0], expected.conditions)


def test_what_was_planned_goes_before_what_was_reckoned() -> None:
    plan = {
        **PLAN,
        "temperature": 31,
        "rut_depth": 160,
        "braking_bump_height": 90,
        "loose_depth": 25,
        "wear": "rough",
    }
    found, _ = at("moto 2", walk(plan, rut_depth=40, wear="fresh"))
    assert {
        name: float(found[f"walk.{name}"][0])
        for name in (
            "air.temperature_c",
            "ground.rut_depth_mm",
            "ground.braking_bump_height_mm",
            "ground.loose_depth_mm",
            "ground.wear",
        )
    } == {
        "air.temperature_c": 31.0,
        "ground.rut_depth_mm": 160.0,
        "ground.braking_bump_height_mm": 90.0,
        "ground.loose_depth_mm": 25.0,
        "ground.wear": float(words.WEARS.index("rough")),
    }


@pytest.mark.parametrize("name", ["moto 2", "MOTO 2", "  Moto 2 "])
def test_a_plan_is_known_by_its_name_however_it_is_written(name: str) -> None:
    same(at(name, walk(PLAN))[0], at("moto 2", walk(PLAN))[0])


@pytest.mark.parametrize("time", ["3 h", "3h", "+3 h", " 180 min ", "180min", "10800 s", "3.0 h"])
def test_a_time_alone_is_enough(time: str) -> None:
    expected = later(columns_from_entries(walk(), None), 3.0).conditions
    found, _ = at(time, walk())
    assert found.keys() == expected.keys()
    for name, column in found.items():
        np.testing.assert_allclose(column, expected[name], rtol=1e-12, err_msg=name)


def test_no_time_changes_nothing() -> None:
    same(at("0 h", walk())[0], columns_from_entries(walk(), None))


@pytest.mark.parametrize(
    "time",
    ["moto 3", "", " ", "h", "3", "-3 h", "25 h", "1e9 h", "3 kg", "3 parsecs", "3 h later",
     "nan h", "9" * 400 + " h", "🏁", "'; --"],
)  # fmt: skip
def test_a_time_that_cannot_be_is_refused_with_what_was_planned(time: str) -> None:
    with pytest.raises(InputError) as error:
        at(time, walk(PLAN))
    (mistake,) = error.value.mistakes
    assert mistake.where == "walk.yaml later"
    assert "(planned: 'moto 2')" in mistake.found
    assert "--at '3 h'" in mistake.mend
    assert len(str(mistake)) < 700


def test_without_plans_none_are_named() -> None:
    with pytest.raises(InputError, match="planned: none"):
        at("moto 2", walk())


def test_it_is_said_that_the_ground_is_reckoned() -> None:
    _, notes = at("moto 2", walk(PLAN))
    assert notes[0].startswith("The ground at moto 2 is reckoned from the walk, not seen")


def test_nothing_is_said_to_be_assumed_where_nothing_was_reckoned() -> None:
    bare = Walk.model_validate(
        {"event": "x", "date": "2026-05-17", "kind": "outdoor", "ground": {"firmness": "dents"}}
    )
    changed, notes = at("3 h", bare)
    same(changed, columns_from_entries(bare, None))
    assert not any("assumed" in note for note in notes)
    assert any("counts as walked" in note for note in notes)


def test_the_walk_itself_is_left_alone() -> None:
    entered = walk(PLAN)
    columns = columns_from_entries(entered, None)
    before = {name: column.copy() for name, column in columns.items()}
    later_in_the_day(entered, columns, "moto 2", "walk.yaml")
    same(columns, before)


@settings(deadline=None)
@given(st.floats(0.0, 12.0), st.floats(0.0, 12.0))
def test_longer_in_the_sun_is_never_wetter(hours: float, more: float) -> None:
    one, other = (at(f"{time:.3f} h", walk())[0] for time in (hours, hours + more))
    water = [
        found.get(WATER, np.array([87.5]))[0]  # very moist, the middle of its class
        for found in (one, other)
    ]
    assert water[1] <= water[0] + 1e-9
