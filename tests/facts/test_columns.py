"""From entries to columns."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from setupadvisor.entries import words
from setupadvisor.entries.files import bundled, load_entry
from setupadvisor.entries.machine import Machine
from setupadvisor.entries.quantity import Quantity, Word
from setupadvisor.entries.rider import Rider
from setupadvisor.entries.walk import Walk
from setupadvisor.facts.columns import (
    columns_from_entries,
    columns_from_machine,
    condition_fields,
    joined,
)
from setupadvisor.facts.table import facts_from


def walk_with(**sections: object) -> Walk:
    return Walk.model_validate({"event": "Invented", "date": "2026-05-17", **sections})


@pytest.fixture(scope="module")
def machine() -> Machine:
    return load_entry(bundled("datasets", "machines", "works-450.yaml"), Machine)


def test_conditions_are_numbers_and_words_of_walk_and_rider() -> None:
    fields = condition_fields()
    assert "walk.jumps.gap_m" in fields
    assert "rider.mass_kg" in fields
    assert not {"walk.event", "walk.date", "walk.note", "rider.name", "walk.jumps.name"} & {*fields}
    assert all(isinstance(field.kind, Quantity | Word) for field in fields.values())


def test_nothing_entered_is_no_column() -> None:
    assert columns_from_entries(None, None) == {}
    assert columns_from_entries(walk_with(), Rider(name="north")) == {}
    assert columns_from_entries(walk_with(air={}, jumps=[]), None) == {}


@given(st.floats(-25, 55), st.floats(20, 180))
def test_numbers_come_through_as_they_were_entered(temperature: float, mass: float) -> None:
    rider = Rider.model_validate({"name": "north", "mass": mass})
    columns = columns_from_entries(walk_with(air={"temperature": temperature}), rider)
    assert {path: values.tolist() for path, values in columns.items()} == {
        "walk.air.temperature_c": [temperature],
        "rider.mass_kg": [mass],
    }


@pytest.mark.parametrize("word", words.HEELS)
def test_a_word_is_its_place_in_the_list(word: str) -> None:
    columns = columns_from_entries(walk_with(ground={"firmness": word}), None)
    assert columns["walk.ground.firmness"].tolist() == [words.HEELS.index(word)]


def test_units_are_converted_on_the_way_in() -> None:
    columns = columns_from_entries(walk_with(air={"temperature": "86 degF"}), None)
    np.testing.assert_allclose(columns["walk.air.temperature_c"], [30.0], atol=1e-9)


def test_a_list_is_a_row_of_places_with_gaps_where_a_place_says_nothing() -> None:
    walk = walk_with(jumps=[{"gap": 15, "landing": "flat"}, {"drop": 1.5}, {"gap": 8}])
    columns = columns_from_entries(walk, None)
    assert {path: values.shape for path, values in columns.items()} == {
        "walk.jumps.gap_m": (1, 3),
        "walk.jumps.drop_m": (1, 3),
        "walk.jumps.landing": (1, 3),
    }
    np.testing.assert_array_equal(columns["walk.jumps.gap_m"], [[15.0, np.nan, 8.0]])
    np.testing.assert_array_equal(columns["walk.jumps.landing"], [[1.0, np.nan, np.nan]])


def test_a_machine_is_constants_curves_and_house_values(machine: Machine) -> None:
    columns = columns_from_machine(machine)
    assert columns["machine.geometry.wheelbase_mm"].shape == ()
    assert columns["machine.geometry.wheelbase_mm"] == machine.geometry.wheelbase_mm
    assert columns["machine.shock.motion_ratio"].tolist() == machine.shock.motion_ratio
    assert columns["machine.engine.senses_air_pressure"] == 1.0
    for name, setting in machine.settings.items():
        assert columns[f"machine.house.{name}"] == setting.fixed_house
    assert not any(path.startswith("machine.settings") for path in columns)


def test_what_the_machine_file_leaves_out_is_no_column(machine: Machine) -> None:
    fork = machine.fork.model_copy(update={"damping_low_speed": None})
    columns = columns_from_machine(machine.model_copy(update={"fork": fork}))
    assert "machine.fork.damping_low_speed" not in columns


def test_joined_repeats_a_row_and_replaces_what_is_asked() -> None:
    walk = walk_with(air={"temperature": 20, "humidity": 50}, jumps=[{"gap": 15}, {"gap": 8}])
    columns = columns_from_entries(walk, None)
    changes = {
        "walk.air.temperature_c": np.array([np.nan, 30.0, np.nan]),
        "walk.ground.cone_index_kpa": np.array([np.nan, np.nan, 700.0]),
    }
    many = joined(columns, 3, changes)
    assert many["walk.air.temperature_c"].tolist() == [20.0, 30.0, 20.0]
    assert many["walk.air.humidity_pct"].tolist() == [50.0, 50.0, 50.0]
    np.testing.assert_array_equal(many["walk.ground.cone_index_kpa"], [np.nan, np.nan, 700.0])
    assert many["walk.jumps.gap_m"].tolist() == [[15.0, 8.0]] * 3
    assert columns["walk.air.temperature_c"].tolist() == [20.0]


def test_joined_takes_lists_too() -> None:
    gaps = np.array([[np.nan], [12.0]])
    many = joined({}, 2, {"walk.jumps.gap_m": gaps})
    np.testing.assert_array_equal(many["walk.jumps.gap_m"], gaps)


def test_what_ifs_in_one_call_are_the_facts_of_each(machine: Machine) -> None:
    constants = columns_from_machine(machine)
    base = columns_from_entries(
        walk_with(
            ground={"texture": "loam", "moisture": "moist", "firmness": "dents"},
            jumps=[{"gap": 15, "take_off_angle": 30, "landing": "slope"}],
        ),
        None,
    )
    heels = np.arange(5.0)
    many = facts_from(joined(base, 5, {"walk.ground.firmness": heels}), constants, 5)
    for row, heel in enumerate(heels):
        single = facts_from({**base, "walk.ground.firmness": np.array([heel])}, constants)
        np.testing.assert_allclose(many.values[:, row], single.values[:, 0], rtol=1e-12)
