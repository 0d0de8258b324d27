"""Machine files: settings, house values, and machines that cannot be."""

from __future__ import annotations

import re

import pytest
from hypothesis import given
from hypothesis import strategies as st
from pydantic_core import PydanticCustomError

from setupadvisor.entries.files import bundled, entry_from
from setupadvisor.entries.machine import House, Machine, Setting
from setupadvisor.entries.yaml_file import parse_yaml
from setupadvisor.errors import InputError

MACHINE = bundled("datasets", "machines", "works-450.yaml").read_text(encoding="utf-8")
CLICKS = """\
title: Clicks
group: Fork
unit: clicks
range: [2, 24]
step: 1
up: softer
down: stiffer
house: 12
minutes: 1
tools: []
order: 10
check: Counted out from closed.
undo: Back to the number noted.
"""


def setting(*changes: tuple[str, str]) -> Setting:
    return entry_from(parse_yaml(changed(CLICKS, changes), "s.yaml"), Setting)


def changed(text: str, changes: tuple[tuple[str, str], ...]) -> str:
    for old, new in changes:
        assert text.count(old) >= 1, old
        text = text.replace(old, new, 1)
    return text


def messages(model: type[Setting] | type[Machine], text: str) -> list[str]:
    with pytest.raises(InputError) as caught:
        entry_from(parse_yaml(text, "m.yaml"), model)
    return str(caught.value).split("\n")


RANGE = "range: [2, 24]\nstep: 1\n"
NAMES = "names: [mild, standard, sharp]\n"

BROKEN_SETTINGS = {
    "no scale": (
        (RANGE, ""),
        "m.yaml:1: the setting has no clear scale; "
        "give range and step, or shelf (a list of numbers), or names (a list of words)",
    ),
    "two scales": (
        (RANGE, RANGE + "shelf: [2, 4]\n"),
        "m.yaml:1: the setting has no clear scale; "
        "give range and step, or shelf (a list of numbers), or names (a list of words)",
    ),
    "range without step": (
        ("step: 1\n", ""),
        "m.yaml:1: the setting has no clear scale; "
        "give range and step, or shelf (a list of numbers), or names (a list of words)",
    ),
    "range upside down": (
        ("[2, 24]", "[24, 2]"),
        "m.yaml:4 range: 24 to 2 is no range; write range: [lowest, highest]",
    ),
    "range of one number": (("[2, 24]", "[2]"), "m.yaml:4 range: 1 stands here; write at least 2"),
    "range that is no list": (
        ("[2, 24]", "24"),
        "m.yaml:4 range: 24 does not fit here; write a list: one item a line, each behind a dash",
    ),
    "range of words": (
        ("[2, 24]", "[2, many]"),
        "m.yaml:4 range.2: 'many' is no number; write a number in clicks",
    ),
    "range in another unit": (
        ("[2, 24]", "[2 mm, 24]"),
        "m.yaml:4 range.1: '2 mm': 'mm' is no unit for this; write a number in clicks",
    ),
    "range that ends between steps": (
        ("step: 1\n", "step: 3\n"),
        "m.yaml:4 range: 2 to 24 is no whole number of steps of 3; "
        "end the range on a step, at 23 or 26",
    ),
    "step of nothing": (
        ("step: 1\n", "step: 0\n"),
        "m.yaml:5 step: 0 cannot be right; write a number above 0",
    ),
    "step that would make a list without end": (
        ("step: 1\n", "step: 1e-12\n"),
        "m.yaml:5 step: 2.2e+13 steps of 1e-12 from 2 to 24; write a larger step: at most 2000 fit",
    ),
    "infinite range": (
        ("[2, 24]", "[2, 1e999]"),
        "m.yaml:4 range.2: inf clicks cannot be right; write a number in clicks",
    ),
    "names twice": (
        (RANGE, "names: [mild, Mild]\n"),
        "m.yaml:4 names.2: 'Mild' stands twice; give each its own name",
    ),
    "one direction word twice": (
        ("up: softer", "up: stiffer"),
        "m.yaml:7 down: up and down are both 'stiffer'; give two direction words",
    ),
    "house value outside": (
        ("house: 12", "house: 30"),
        "m.yaml:8 house: the house value 30 is outside 2 to 24; move the house value or the range",
    ),
    "house value that is none": (
        ("house: 12", "house: .nan"),
        "m.yaml:8 house: '.nan' is no number; write a number in clicks",
    ),
    "house value of a truth": (
        ("house: 12", "house: true"),
        "m.yaml:8 house: true is no number; write a number in clicks",
    ),
    "house formula without a number": (
        ("house: 12", "house: {fact: some_fact}"),
        "m.yaml:8 house.otherwise: the key is missing; add it",
    ),
    "house formula with a strange key": (
        ("house: 12", "house: {fact: some_fact, otherwise: 12, els: 3}"),
        "m.yaml:8 house.els: the key is unknown; known here: fact, otherwise",
    ),
    "house formula outside": (
        ("house: 12", "house: {fact: some_fact, otherwise: 90}"),
        "m.yaml:8 house: the house value 90 is outside 2 to 24; move the house value or the range",
    ),
    "no minutes": (
        ("minutes: 1", "minutes: 0"),
        "m.yaml:9 minutes: 0 min cannot be right; write a number from 0.1 to 600 min (or h)",
    ),
    "place in the order that is none": (
        ("order: 10", "order: first"),
        "m.yaml:11 order: 'first' is no number; write a whole number from 0 to 100000",
    ),
    "tools that are no list": (
        ("tools: []", "tools: spanner"),
        "m.yaml:10 tools: 'spanner' does not fit here; "
        "write a list: one item a line, each behind a dash",
    ),
}


@pytest.mark.parametrize("failure", BROKEN_SETTINGS)
def test_a_setting_with_one_mistake_gets_its_one_message(failure: str) -> None:
    change, expected = BROKEN_SETTINGS[failure]
    assert messages(Setting, changed(CLICKS, (change,))) == [expected]


def test_a_house_value_by_a_name_that_is_none_is_refused_with_the_names() -> None:
    text = changed(CLICKS, ((RANGE, NAMES), ("house: 12", "house: shrap")))
    assert messages(Setting, text) == [
        "m.yaml:7 house: 'shrap' is none of the names; write one of mild, standard, sharp"
    ]


def test_every_number_of_a_setting_may_carry_a_unit() -> None:
    found = setting(
        ("unit: clicks", "unit: mm"),
        ("range: [2, 24]", "range: [0.2 cm, 24 mm]"),
        ("step: 1", "step: 0.1 cm"),
        ("house: 12", "house: {fact: some_fact, otherwise: 1.2 cm}"),
        ("minutes: 1", "felt: 2 mm\nminutes: 0.5 h"),
    )
    assert (found.low, found.high, found.step) == pytest.approx((2.0, 24.0, 1.0))
    assert (found.fixed_house, found.felt, found.minutes) == pytest.approx((12.0, 2.0, 30.0))
    assert isinstance(found.house, House)


def test_values_of_a_range_are_its_steps_without_the_dust_of_adding_them_up() -> None:
    """0.1 times 3 is 0.30000000000000004 on a computer."""
    found = setting(("[2, 24]", "[0, 0.6]"), ("step: 1", "step: 0.1"), ("house: 12", "house: 0.3"))
    assert found.values == (0.0, 0.1, 0.2, 0.3, 0.4, 0.5, 0.6)
    assert (found.lowest, found.highest) == (0.0, 0.6)


def test_values_of_a_shelf_are_in_order_and_stand_once() -> None:
    found = setting((RANGE, "shelf: [13, 11, 13, 12]\n"))
    assert found.values == (11.0, 12.0, 13.0)
    assert (found.lowest, found.highest, found.low) == (11.0, 13.0, None)


def test_names_are_numbered_from_one() -> None:
    found = setting((RANGE, NAMES), ("house: 12", "house: standard"))
    assert found.values == (1.0, 2.0, 3.0)
    assert found.fixed_house == 2.0
    assert [found.show(value) for value in found.values] == ["mild", "standard", "sharp"]


@pytest.mark.parametrize(
    "written", ["sand and mud", "Sand-and-Mud", " sand_and  mud ", 1, "1", 1.0]
)
def test_a_name_forgives_case_spaces_and_hyphens(written: float | str) -> None:
    found = setting((RANGE, "names: [sand and mud, hard]\n"), ("house: 12", "house: hard"))
    assert found.read(written) == 1.0


@pytest.mark.parametrize(
    ("written", "found"),
    [
        ("shrap", "'shrap' is none of its names"),
        (2.5, "2.5 is no whole number"),
        (0, "0 cannot be right"),
        (4, "4 cannot be right"),
    ],
)
def test_what_is_none_of_the_names_is_refused_with_them(written: float | str, found: str) -> None:
    with pytest.raises(PydanticCustomError) as caught:
        setting((RANGE, NAMES), ("house: 12", "house: mild")).read(written)
    assert str(caught.value) == f"{found}; write one of mild, standard, sharp"


@pytest.mark.parametrize(
    ("written", "found"),
    [
        (25, "25 clicks cannot be right; write a number from 2 to 24 clicks"),
        ("25 clicks", "'25 clicks' cannot be right; write a number from 2 to 24 clicks"),
        ("12 mm", "'12 mm': 'mm' is no unit for this; write a number from 2 to 24 clicks"),
        ("", "'' is no number; write a number from 2 to 24 clicks"),
        (float("nan"), "nan clicks cannot be right; write a number from 2 to 24 clicks"),
    ],
)
def test_a_value_off_the_range_is_refused_with_it(written: float | str, found: str) -> None:
    with pytest.raises(PydanticCustomError) as caught:
        setting().read(written)
    assert str(caught.value) == found


@given(st.integers(-50, 50), st.integers(1, 60), st.sampled_from([0.05, 0.1, 0.5, 1, 2, 5]))
def test_every_value_of_a_range_is_read_back_as_shown(low: int, steps: int, step: float) -> None:
    high = round(low + steps * step, 6)
    found = Setting.model_validate(
        {
            **parse_yaml(CLICKS, "s.yaml").content,
            "range": [low, high],
            "step": step,
            "house": low,
        }
    )
    assert len(found.values) == steps + 1
    assert (found.values[0], found.values[-1]) == (low, high)
    assert all(found.read(found.show(value)) == pytest.approx(value) for value in found.values)


IMPOSSIBLE_MACHINES = {
    "mass beyond the front wheel": (
        ("centre_of_mass_to_rear_axle: ", "centre_of_mass_to_rear_axle: 1200 # "),
        ("wheelbase: 1480 mm", "wheelbase: 1100 mm"),
        "geometry.centre_of_mass_to_rear_axle: the centre of mass lies 1200 mm ahead of the rear "
        "axle, beyond the wheelbase of 1100 mm; "
        "measure it from the rear axle; it lies between the wheels",
    ),
    "wheels heavier than the machine": (
        ("machine: 106 kg", "machine: 30 kg"),
        "masses.machine: 30 kg, with unsprung parts of 32 kg; weigh the whole machine, "
        "wheels included",
    ),
    "fork that sags beyond its stroke": (
        ("stroke: 305 mm", "stroke: 51 mm"),
        "fork.race_sag: 52 mm of sag in 51 mm of stroke; measure the sag along the fork",
    ),
    "fork full of oil": (
        ("air_column: 415 mm", "air_column: 300 mm"),
        "fork.air_column: 300 mm of air, less than 305 mm of stroke; "
        "give the air column with the fork extended: stroke plus oil level",
    ),
    "linkage curve of unequal lists": (
        ("curve_travel: [0, 50, ", "curve_travel: [50, "),
        "shock.motion_ratio: 7 travels beside 8 ratios; "
        "give one motion ratio for each wheel travel",
    ),
    "linkage curve that turns back": (
        ("curve_travel: [0, 50, 100,", "curve_travel: [0, 100, 50,"),
        "shock.curve_travel: the wheel travels do not rise; list them from 0 upward",
    ),
    "sag beyond the travel": (
        ("wheel_travel: 310 mm", "wheel_travel: 100 mm"),
        "shock.race_sag: 104 mm of sag in 100 mm of travel; measure the sag at the wheel",
    ),
    "least above most": (
        ("static_sag_low: 30 mm", "static_sag_low: 60 mm"),
        "shock.static_sag_low: at least 60 mm, but at most 45 mm; swap the two",
    ),
    "rider who lifts the machine": (
        ("  race_sag: 104 mm", "  race_sag: 40 mm"),
        "shock.static_sag_high: 45 mm without the rider, 40 mm with the rider; "
        "the rider adds to the sag: give more race sag or less static sag",
    ),
    "torque curve of unequal lists": (
        ("torque: [28, ", "torque: ["),
        "engine.torque: 12 engine speeds beside 11 torques; give one torque for each engine speed",
    ),
    "gears from top to first": (
        ("gears: [1.867, 1.563,", "gears: [1.563, 1.867,"),
        "engine.gears: the gear ratios do not fall; "
        "list them from first gear, the largest ratio, to top gear",
    ),
    "gear that is not there": (
        ("straight_gear: 3", "straight_gear: 7"),
        "engine.straight_gear: gear 7 of 5; write a gear from 1 to 5",
    ),
    "corner faster than the straight": (
        ("straight_speed: 9500 rpm", "straight_speed: 4000 rpm"),
        ("corner_speed: 2700 rpm", "corner_speed: 5000 rpm"),
        "engine.corner_speed: 5000 rpm, the straight 4000 rpm; "
        "the engine turns faster at the end of the straight than in a corner",
    ),
    "lining without width": (
        ("inner_diameter: 118 mm", "inner_diameter: 145 mm"),
        "clutch.inner_diameter: 145 mm inside, 145 mm outside; the lining is a ring; swap the two",
    ),
    "start device that cannot move": (
        ("lowest: 40 mm", "lowest: 170 mm"),
        "start_device.lowest: 170 mm at the least, 170 mm at the most; swap the two",
    ),
    "start device deeper than the fork": (
        ("stroke: 305 mm", "stroke: 160 mm"),
        "start_device.highest: the fork held 170 mm down, with 160 mm of stroke; "
        "measure how far the lock holds it down",
    ),
}


@pytest.mark.parametrize("failure", IMPOSSIBLE_MACHINES)
def test_a_machine_that_cannot_be_gets_its_one_message(failure: str) -> None:
    *changes, expected = IMPOSSIBLE_MACHINES[failure]
    found = messages(Machine, changed(MACHINE, tuple(changes)))  # type: ignore[arg-type]
    assert [re.sub(r"^m\.yaml:\d+ ", "", each) for each in found] == [expected]


def test_line_of_a_mistake_is_where_the_key_stands() -> None:
    found = messages(Machine, changed(MACHINE, (("straight_gear: 3", "straight_gear: 7"),)))
    line = MACHINE[: MACHINE.index("straight_gear: 3")].count("\n") + 1
    assert found[0].startswith(f"m.yaml:{line} engine.straight_gear: ")


def test_mistakes_of_several_groups_and_settings_are_told_at_once() -> None:
    text = changed(
        MACHINE,
        (
            ("rake: ", "rakk: "),
            ("straight_gear: 3", "straight_gear: 7"),
            ("minutes: 50", "minutes: long"),
            ("range: [80, 150]", "range: [150, 80]"),
        ),
    )
    assert [
        re.sub(r"^m\.yaml:\d+ ", "", each).split(": ")[0] for each in messages(Machine, text)
    ] == [
        "geometry.rake",
        "geometry.rakk",
        "engine.straight_gear",
        "settings.fork_spring.minutes",
        "settings.fork_oil_level.range",
    ]


def test_a_difference_of_temperatures_in_fahrenheit_has_no_zero_of_its_own() -> None:
    """18 °F of warming are 10 °C; 18 °F on the thermometer would be -7.8 °C."""
    text = changed(MACHINE, (("warm_up: 18 °C", "warm_up: 18 °F"),))
    assert entry_from(parse_yaml(text, "m.yaml"), Machine).tyres.warm_up_c == pytest.approx(10.0)


def test_what_is_missing_is_named_with_what_may_stand_there() -> None:
    found = messages(Machine, "name: x\n")
    assert (
        "m.yaml:1 cooling: the key is missing; add it, with keys below it: coolant_above_air"
        in found
    )
    assert len(found) == 11
    text = re.sub(r"  rake: .*\n", "", MACHINE)
    assert messages(Machine, text)[0].endswith(
        "geometry.rake: the key is missing; add it, with a number from 15 to 40 °"
    )


def test_more_settings_than_any_machine_has_are_refused() -> None:
    one = "".join(f"    {line}\n" for line in CLICKS.splitlines())
    many = MACHINE[: MACHINE.index("settings:")] + "settings:\n"
    many += "".join(f"  s{number}:\n{one}" for number in range(201))
    found = messages(Machine, many)
    assert len(found) == 1
    assert found[0].endswith("settings: more than 200 stand here; write at most 200")
