"""What all changes together do to the motorcycle's stance."""

from __future__ import annotations

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from setupadvisor.advice.together import stance, together
from setupadvisor.advice.workshop import situations
from setupadvisor.entries.rider import Rider
from setupadvisor.entries.walk import Walk
from setupadvisor.facts.columns import columns_from_entries
from tests.advice.invented import (
    MACHINES,
    WALKS,
    advice,
    bundled_rider,
    bundled_walk,
    riders,
    walks,
    workshop,
)

NAMES = (
    "Wheelbase",
    "Rake",
    "Trail",
    "Weight on the front wheel",
    "Swingarm angle",
    "Front lift limit at the start",
)


def standing(machine: str = "works-450", **setup: float) -> dict[str, float]:
    """The stance with a few settings away from the house, by quantity."""
    own = workshop(machine)
    conditions = columns_from_entries(bundled_walk("high-and-hot-outdoor"), bundled_rider("south"))
    facts = situations(own, conditions, 1).facts
    house = {name: setting.fixed_house for name, setting in own.machine.settings.items()}
    found = stance(own.machine, {**house, **setup}, conditions, facts)
    return {name: value for name, (_, value) in found.items()}


@pytest.mark.parametrize("machine", MACHINES)
def test_the_house_setup_stands_as_the_machine_file_says(machine: str) -> None:
    """Weight split and swingarm angle move with the rider; wheelbase and rake with sag a little."""
    found = standing(machine)
    geometry = workshop(machine).machine.geometry
    assert tuple(found) == NAMES
    assert found["Wheelbase"] == pytest.approx(geometry.wheelbase_mm, abs=5.0)
    assert found["Rake"] == pytest.approx(geometry.rake_deg, abs=0.5)


@given(st.sampled_from(MACHINES), walks(), riders())
@settings(max_examples=25, deadline=None)
def test_without_changes_nothing_moves(machine: str, walk: Walk, rider: Rider | None) -> None:
    first = advice(walk, machine, rider=rider)
    on_bike = {setting.setting: setting.value for setting in first.settings}
    again = advice(walk, machine, rider=rider, on_bike=on_bike)
    assert again.changes == ()
    for item in again.together:
        assert item.before == item.after, item.name


@pytest.mark.parametrize("walk", WALKS)
def test_all_six_quantities_are_told_with_their_units(walk: str) -> None:
    found = advice(bundled_walk(walk), rider=bundled_rider("north")).together
    assert tuple(item.name for item in found) == NAMES
    assert [item.unit for item in found] == ["mm", "°", "mm", "%", "°", "m/s²"]


def test_axle_further_back_is_a_longer_wheelbase_and_more_weight_in_front() -> None:
    """The swingarm slopes by a few degrees: the wheelbase grows by nearly the axle's way."""
    house, back = standing(), standing(axle_position=30.0)
    assert back["Wheelbase"] - house["Wheelbase"] == pytest.approx(10.0, abs=0.2)
    assert back["Weight on the front wheel"] > house["Weight on the front wheel"]
    assert back["Front lift limit at the start"] > house["Front lift limit at the start"]


def test_fork_tubes_further_up_in_the_clamps_steepen_the_rake() -> None:
    """10 mm over a wheelbase of 1480 mm turn the frame by 0.3 to 0.4 degrees."""
    low, high = standing(fork_height=0.0), standing(fork_height=10.0)
    assert 0.3 < low["Rake"] - high["Rake"] < 0.45
    assert high["Trail"] < low["Trail"]


def test_a_longer_shock_raises_the_rear_and_steepens_the_rake() -> None:
    house, longer = standing(), standing(shock_length=489.0)
    assert longer["Rake"] < house["Rake"]
    assert longer["Swingarm angle"] > house["Swingarm angle"]


def test_more_rear_sag_does_the_opposite() -> None:
    house, deeper = standing(), standing(race_sag=112.0)
    assert deeper["Rake"] > house["Rake"]
    assert deeper["Swingarm angle"] < house["Swingarm angle"]


def test_stiffer_fork_springs_raise_the_front() -> None:
    assert standing(fork_spring=5.2)["Rake"] > standing()["Rake"]


def test_a_deeper_lock_allows_a_harder_start() -> None:
    shallow, deep = standing(start_lock_depth=60.0), standing(start_lock_depth=150.0)
    limit = "Front lift limit at the start"
    assert deep[limit] > shallow[limit]
    assert {k: v for k, v in deep.items() if k != limit} == {
        k: v for k, v in shallow.items() if k != limit
    }


def test_clickers_leave_the_stance_alone() -> None:
    assert standing(fork_rebound_low=20.0, shock_compression_high=3.0) == standing()


def test_together_compares_before_with_after() -> None:
    own = workshop()
    conditions = columns_from_entries(bundled_walk("mud"), None)
    facts = situations(own, conditions, 1).facts
    house = {name: setting.fixed_house for name, setting in own.machine.settings.items()}
    found = together(own.machine, house, {**house, "axle_position": 25.0}, conditions, facts)
    by_name = {item.name: item for item in found}
    assert by_name["Wheelbase"].after > by_name["Wheelbase"].before
