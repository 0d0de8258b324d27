"""Fitting to steps, shelf and names; sprockets, chain and axle as one choice."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from setupadvisor.advice.fitting import (
    DRIVE_SETTINGS,
    FRONT_TOOTH_COST,
    choose_drive,
    fit,
    fit_all,
)
from setupadvisor.entries.rider import Rider
from setupadvisor.entries.walk import Walk
from setupadvisor.facts.drive import centre_distance_mm
from tests.advice.invented import MACHINES, advice, riders, walks, workshop

NAMES = sorted(workshop().machine.settings)


def machine(name: str = "works-450"):
    return workshop(name).machine


@given(st.sampled_from(MACHINES), st.data(), st.floats(-1e6, 1e6))
def test_a_fitted_wish_is_the_nearest_value_that_can_be_set(
    name: str, data: st.DataObject, wish: float
) -> None:
    setting = data.draw(st.sampled_from(list(machine(name).settings.values())))
    if data.draw(st.booleans()):
        wish = data.draw(st.floats(setting.lowest - 3, setting.highest + 3))
    value = fit(setting, wish)
    assert min(abs(value - known) for known in setting.values) < 1e-9
    nearest = min(abs(wish - known) for known in setting.values)
    assert abs(wish - value) <= nearest + 1e-9 * max(1.0, abs(wish))


@given(st.sampled_from(NAMES))
def test_what_can_be_set_already_stays(name: str) -> None:
    setting = machine().settings[name]
    assert [fit(setting, value) for value in setting.values] == pytest.approx(setting.values)


@given(st.sampled_from(NAMES), st.floats(-500, 500), st.floats(0, 50))
def test_a_higher_wish_is_never_fitted_lower(name: str, wish: float, more: float) -> None:
    setting = machine().settings[name]
    assert fit(setting, wish) <= fit(setting, wish + more)


def test_halfway_goes_up() -> None:
    settings_450 = machine().settings
    assert fit(settings_450["fork_height"], 4.5) == 5
    assert fit(settings_450["clutch_springs"], 9.75) == 10
    assert fit(settings_450["front_tyre"], 2.5) == 3


def test_a_fitted_value_reads_as_it_is_written_on_a_sheet() -> None:
    """1.15, and not 1.1499999999999999."""
    setting = (
        machine()
        .settings["clutch_free_play"]
        .model_copy(update={"range": [1.0, 2.2], "step": 0.05})
    )
    assert fit(setting, 1.16) == 1.15
    assert fit(setting, 5.0) == 2.2


@pytest.mark.parametrize("name", NAMES)
def test_a_missing_wish_is_refused(name: str) -> None:
    with pytest.raises(ValueError, match="missing"):
        fit(machine().settings[name], math.nan)


@given(
    st.sampled_from(MACHINES),
    st.floats(11, 16),
    st.floats(44, 56),
    st.floats(0, 45),
)
@settings(deadline=None)
def test_the_drive_chosen_goes_together(
    name: str, front: float, rear: float, position: float
) -> None:
    """Chain length of ISO 10823: the axle stands where these links put it, inside its slot."""
    drive = machine(name).drive
    choice = choose_drive(
        machine(name),
        {"front_sprocket": front, "rear_sprocket": rear, "axle_position": position},
    )
    assert choice.best is not None
    assert choice.runner_up is not None
    for found in (choice.best, choice.runner_up):
        assert found.links % 2 == 0
        assert found.front_teeth in machine(name).settings["front_sprocket"].values
        assert found.rear_teeth in machine(name).settings["rear_sprocket"].values
        assert found.links in machine(name).settings["chain_links"].values
        assert 0 <= found.axle_position_mm <= drive.slot_length_mm
        centre = centre_distance_mm(
            found.links, found.front_teeth, found.rear_teeth, drive.chain_pitch_mm
        )
        assert float(centre) - drive.centre_distance_at_slot_front_mm == pytest.approx(
            found.axle_position_mm
        )
    assert choice.best != choice.runner_up


@given(st.floats(11, 16), st.floats(44, 56), st.floats(0, 45))
@settings(deadline=None, max_examples=40)
def test_no_other_combination_serves_the_wishes_better(
    front: float, rear: float, position: float
) -> None:
    """Every combination is tried here, with the cost written out by hand."""
    wishes = {"front_sprocket": front, "rear_sprocket": rear, "axle_position": position}
    choice = choose_drive(machine(), wishes)
    own = machine().settings
    drive = machine().drive
    best = math.inf
    for teeth in own["front_sprocket"].values:
        for behind in own["rear_sprocket"].values:
            for links in own["chain_links"].values:
                centre = centre_distance_mm(links, teeth, behind, drive.chain_pitch_mm)
                axle = float(centre) - drive.centre_distance_at_slot_front_mm
                if 0 <= axle <= drive.slot_length_mm:
                    ratio = 100 * abs(behind / teeth / (rear / front) - 1)
                    cost = ratio + 0.2 * abs(axle - position) + FRONT_TOOTH_COST * abs(teeth - 13)
                    best = min(best, cost)
    assert choice.best is not None
    chosen = choice.best.cost + FRONT_TOOTH_COST * abs(choice.best.front_teeth - 13)
    assert chosen == pytest.approx(best)


@given(st.sampled_from(MACHINES), walks(), riders())
@settings(max_examples=25, deadline=None)
def test_the_advice_never_asks_for_a_drive_that_does_not_fit(
    name: str, walk: Walk, rider: Rider | None
) -> None:
    """A millimetre of slack: the axle is shown in whole millimetres."""
    value = {s.setting: s.value for s in advice(walk, name, rider=rider).settings}
    drive = machine(name).drive
    centre = centre_distance_mm(
        value["chain_links"],
        value["front_sprocket"],
        value["rear_sprocket"],
        drive.chain_pitch_mm,
    )
    axle = float(centre) - drive.centre_distance_at_slot_front_mm
    assert -0.5 <= axle <= drive.slot_length_mm + 0.5
    assert axle == pytest.approx(value["axle_position"], abs=0.5 + 1e-9)


def test_a_machine_without_chain_lengths_fits_each_setting_alone() -> None:
    wishes = {"front_sprocket": 13.2, "rear_sprocket": 50.6}
    fitted, choice = fit_all(machine(), wishes)
    assert choice is None
    assert fitted == {"front_sprocket": 13.0, "rear_sprocket": 51.0}


def test_a_shelf_on_which_nothing_fits_is_said_and_not_hidden() -> None:
    odd = machine().model_copy(
        update={
            "drive": machine().drive.model_copy(update={"centre_distance_at_slot_front_mm": 880.0})
        }
    )
    house = {name: odd.settings[name].fixed_house for name in DRIVE_SETTINGS}
    fitted, choice = fit_all(odd, house)
    assert choice is not None
    assert choice.best is None
    assert fitted == house


def test_all_settings_are_fitted_at_once() -> None:
    wishes = {name: s.fixed_house + 0.3 for name, s in machine().settings.items()}
    fitted, _ = fit_all(machine(), wishes)
    assert set(fitted) == set(wishes)
    assert np.isfinite(list(fitted.values())).all()
