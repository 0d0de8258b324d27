"""The entries that ship with the package: they load, fit together, and are workable by hand."""

from __future__ import annotations

from itertools import pairwise
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from setupadvisor.entries.files import bundled, load_entry
from setupadvisor.entries.machine import House, Machine
from setupadvisor.entries.quantity import Entry
from setupadvisor.entries.rider import Rider
from setupadvisor.entries.session import Setup
from setupadvisor.entries.walk import Walk
from setupadvisor.entries.yaml_file import read_yaml
from setupadvisor.facts.catalogue import FACTS
from setupadvisor.facts.columns import columns_from_entries, columns_from_machine
from setupadvisor.facts.drive import centre_distance_mm
from setupadvisor.facts.geometry import trail_mm
from setupadvisor.facts.suspension import linkage
from setupadvisor.facts.table import facts_from

MODELS: dict[str, type[Entry]] = {
    "machines": Machine,
    "riders": Rider,
    "walks": Walk,
    "setups": Setup,
}
FILES = sorted(path for folder in MODELS for path in bundled("datasets", folder).glob("*.yaml"))
MACHINES = ("works-450", "works-250")


def machine_named(name: str) -> Machine:
    return load_entry(bundled("datasets", "machines", f"{name}.yaml"), Machine)


def walk_named(name: str) -> Walk:
    return load_entry(bundled("datasets", "walks", f"{name}.yaml"), Walk)


def setup_named(name: str) -> Setup:
    return load_entry(bundled("datasets", "setups", f"{name}.yaml"), Setup)


def changes_in(content: Any) -> list[dict[str, Any]]:
    """Every ``change`` in a rule file, however deep."""
    if isinstance(content, dict):
        own = [content["change"]] if isinstance(content.get("change"), dict) else []
        return own + [found for value in content.values() for found in changes_in(value)]
    if isinstance(content, list):
        return [found for value in content for found in changes_in(value)]
    return []


@pytest.fixture(params=MACHINES)
def machine(request: pytest.FixtureRequest) -> Machine:
    return machine_named(request.param)


@pytest.mark.parametrize("path", FILES, ids=lambda path: path.stem)
def test_bundled_entry_loads_without_a_mistake(path: Path) -> None:
    assert isinstance(load_entry(path, MODELS[path.parent.name]), MODELS[path.parent.name])


@pytest.mark.parametrize("path", FILES, ids=lambda path: path.stem)
def test_bundled_entry_says_in_its_first_line_that_it_is_invented(path: Path) -> None:
    first = path.read_text(encoding="utf-8").splitlines()[0]
    assert first.startswith("#")
    assert "invented" in first.lower()


def test_all_the_entries_are_bundled() -> None:
    names = {
        folder: {path.stem for path in FILES if path.parent.name == folder} for folder in MODELS
    }
    assert names["machines"] == set(MACHINES)
    assert names["riders"] == {"north", "south", "east"}
    assert len(names["walks"]) >= 8
    assert names["setups"] == {"on-bike-450", "on-bike-partial"}


@pytest.mark.parametrize("folder", ["machines", "riders"])
def test_machine_and_rider_files_carry_the_name_of_what_is_in_them(folder: str) -> None:
    for path in FILES:
        if path.parent.name == folder:
            assert load_entry(path, MODELS[folder]).name == path.stem  # type: ignore[attr-defined]


def test_every_house_value_can_be_set(machine: Machine) -> None:
    for name, setting in machine.settings.items():
        house = setting.house.otherwise if isinstance(setting.house, House) else setting.house
        assert any(house == pytest.approx(value) for value in setting.values), name


def test_every_house_formula_is_in_the_catalogue_in_the_setting_s_unit(machine: Machine) -> None:
    endings = {"N/mm": "_n_per_mm", "kPa": "_kpa", "mm": "_mm", "teeth": "_teeth", "%": "_pct"}
    calculated = {
        name: setting
        for name, setting in machine.settings.items()
        if isinstance(setting.house, House)
    }
    assert set(calculated) == {
        "fork_spring",
        "shock_spring",
        "front_tyre_pressure",
        "rear_tyre_pressure",
        "start_lock_depth",
        "rear_sprocket",
        "fuel_trim",
    }
    for name, setting in calculated.items():
        assert isinstance(setting.house, House)
        assert setting.house.fact in FACTS, name
        assert setting.house.fact.endswith(endings[setting.unit]), name


def test_no_two_jobs_stand_in_the_same_place_of_the_working_order(machine: Machine) -> None:
    orders = [setting.order for setting in machine.settings.values()]
    assert len(set(orders)) == len(orders)


def test_what_a_job_disturbs_is_set_after_it(machine: Machine) -> None:
    """Common practice, no source."""
    order = {name: setting.order for name, setting in machine.settings.items()}
    chains = [
        ("fork_spring", "fork_oil_level", "fork_preload", "fork_height", "race_sag"),
        ("shock_spring", "shock_length", "race_sag"),
        ("front_sprocket", "rear_sprocket", "chain_links", "axle_position", "race_sag"),
        ("front_tyre", "front_tyre_pressure"),
        ("rear_tyre", "axle_position", "rear_tyre_pressure"),
        ("clutch_plates", "clutch_springs", "clutch_free_play"),
        ("radiator_cap", "idle_speed"),  # cap on a cold engine, idle on a warm one
        ("bar_position", "bar_height", "lever_angle", "front_brake_lever_reach"),
        ("idle_speed", "engine_map", "fuel_trim", "start_map", "start_lock_depth"),
    ]
    for chain in chains:
        for first, then in pairwise(chain):
            assert order[first] < order[then], f"{first} before {then}"
    clickers = [name for name, setting in machine.settings.items() if setting.unit == "clicks"]
    suspension = [name for name in clickers if name.startswith(("fork", "shock"))]
    assert suspension
    assert all(order["race_sag"] < order[name] for name in suspension)
    assert max(order, key=order.__getitem__) == "start_lock_depth"


@pytest.mark.parametrize(
    ("name", "word"),
    [
        ("fork_spring", "cap"),
        ("shock_spring", "compressor"),
        ("shock_spring", "gas"),
        ("shock_length", "gas"),
        ("radiator_cap", "scald"),
        ("front_tyre", "rim"),
        ("rear_tyre", "axle nut"),
        ("rear_sprocket", "finger"),
        ("chain_links", "finger"),
        ("front_brake_lever_reach", "travel left"),
        ("start_lock_depth", "release"),
        ("fuel_trim", "melt"),
        ("idle_speed", "exhaust gas"),
    ],
)
def test_a_job_that_can_hurt_carries_its_caution(machine: Machine, name: str, word: str) -> None:
    assert word in " ".join(machine.settings[name].cautions).lower()


def test_adjusters_counted_out_from_closed_get_softer_with_more_clicks(machine: Machine) -> None:
    counted = {k: s for k, s in machine.settings.items() if "just stops" in s.check}
    assert len(counted) >= 5
    assert all((s.up, s.down) == ("softer", "stiffer") for s in counted.values())


def test_ranges_agree_with_the_parts_that_set_them(machine: Machine) -> None:
    depth, axle = machine.settings["start_lock_depth"], machine.settings["axle_position"]
    assert depth.lowest == machine.start_device.lowest_mm
    assert depth.highest == machine.start_device.highest_mm
    assert (axle.lowest, axle.highest) == (0.0, machine.drive.slot_length_mm)
    for gear in (
        machine.engine.start_gear,
        machine.engine.corner_gear,
        machine.engine.straight_gear,
    ):
        assert gear <= len(machine.engine.gears)
    assert machine.settings["race_sag"].fixed_house == machine.shock.race_sag_mm


def test_house_sprockets_and_chain_put_the_axle_where_the_house_says(machine: Machine) -> None:
    """Chain length of ISO 10823; 1 mm is less than the slack's own share."""
    house = {name: setting.fixed_house for name, setting in machine.settings.items()}
    centre = centre_distance_mm(
        [house["chain_links"], house["chain_links"] + 2],
        house["front_sprocket"],
        house["rear_sprocket"],
        machine.drive.chain_pitch_mm,
    )
    position, longer = centre - machine.drive.centre_distance_at_slot_front_mm
    assert position == pytest.approx(house["axle_position"], abs=1.0)
    assert position < longer < machine.drive.slot_length_mm


def test_every_rear_sprocket_fits_the_slot_with_some_chain(machine: Machine) -> None:
    rear = np.array(machine.settings["rear_sprocket"].values)
    links = np.array(machine.settings["chain_links"].values)
    front = machine.settings["front_sprocket"].fixed_house
    centre = centre_distance_mm(links[:, np.newaxis], front, rear, machine.drive.chain_pitch_mm)
    position = centre - machine.drive.centre_distance_at_slot_front_mm
    assert ((position >= 0) & (position <= machine.drive.slot_length_mm)).any(axis=0).all()


def test_shock_stroke_is_what_the_linkage_uses(machine: Machine) -> None:
    """A millimetre: the stroke is given in whole ones."""
    curve = linkage(machine.shock.curve_travel_mm, machine.shock.motion_ratio)
    assert curve.wheel_travel_mm[-1] == machine.shock.wheel_travel_mm
    assert curve.shock_stroke_mm[-1] == pytest.approx(machine.shock.stroke_mm, abs=1.0)


def test_air_column_is_the_stroke_and_the_house_oil_level(machine: Machine) -> None:
    """Fully compressed, the tube's rim stands the oil level above the oil."""
    level = machine.settings["fork_oil_level"].fixed_house
    assert machine.fork.air_column_mm == machine.fork.stroke_mm + level


def test_trail_is_that_of_an_off_road_race_motorcycle(machine: Machine) -> None:
    """100 mm to 130 mm: common practice, no source."""
    geometry = machine.geometry
    trail = trail_mm(geometry.rake_deg, geometry.front_wheel_radius_mm, geometry.fork_offset_mm)
    assert 100.0 < float(trail) < 130.0


def test_the_lighter_sister_has_fewer_settings_and_no_steering_damper_or_fork_air() -> None:
    big, small = (set(machine_named(name).settings) for name in MACHINES)
    assert small < big
    assert len(small) >= 32
    assert {"steering_damper", "fork_air"} <= big - small


def test_full_sheet_holds_every_setting_at_a_value_that_can_be_set() -> None:
    setup = setup_named("on-bike-450")
    settings = machine_named("works-450").settings
    assert set(setup.settings) == set(settings)
    for name, written in setup.settings.items():
        value = settings[name].read(written)
        assert any(value == pytest.approx(known) for known in settings[name].values), name


def test_partial_sheet_holds_ten_settings_within_their_ranges() -> None:
    setup = setup_named("on-bike-partial")
    settings = machine_named("works-450").settings
    values = {name: settings[name].read(written) for name, written in setup.settings.items()}
    assert len(values) == 10
    assert values["race_sag"] == pytest.approx(104.14)  # 4.1 in of 25.4 mm
    assert values["engine_map"] == 2.0


@pytest.mark.parametrize("rider", ["north", "south", "east"])
def test_springs_that_the_riders_need_are_on_the_shelf(machine: Machine, rider: str) -> None:
    """Strictly inside, so that a rule can still go a step either way."""
    entry = load_entry(bundled("datasets", "riders", f"{rider}.yaml"), Rider)
    facts = facts_from(columns_from_entries(None, entry), columns_from_machine(machine))
    for setting in ("fork_spring", "shock_spring"):
        shelf, needed = machine.settings[setting].values, facts[f"{setting}_for_rider_n_per_mm"]
        assert shelf[1] < float(needed[0]) < shelf[-2]
    low, high = machine.shock.static_sag_low_mm, machine.shock.static_sag_high_mm
    assert low < float(facts["static_sag_mm"][0]) < high


@pytest.mark.parametrize("name", ["on-bike-450", "on-bike-partial"])
def test_sheets_name_a_bundled_machine_and_rider(name: str) -> None:
    setup = setup_named(name)
    assert bundled("datasets", "machines", f"{setup.machine}.yaml").is_file()
    assert bundled("datasets", "riders", f"{setup.rider}.yaml").is_file()


def test_every_setting_that_a_bundled_rule_moves_is_on_the_works_450_with_its_words() -> None:
    settings = machine_named("works-450").settings
    paths = sorted(bundled("rules").glob("**/*.yaml"))
    changes = [change for path in paths for change in changes_in(read_yaml(path).content)]
    assert changes
    for change in changes:
        for name, amount in change.items():
            assert name in settings
            ways = (settings[name].up, settings[name].down)
            assert str(amount).endswith(ways), f"{name}: {amount}"


def test_afternoon_is_the_morning_s_event_drier_and_rougher() -> None:
    morning, afternoon = walk_named("morning"), walk_named("afternoon")
    assert (morning.event, morning.date, morning.venue) == (
        afternoon.event,
        afternoon.date,
        afternoon.venue,
    )
    assert morning.ground
    assert afternoon.ground
    assert (morning.ground.moisture, afternoon.ground.moisture) == ("very_moist", "slightly_moist")
    for rougher in ("rut_depth_mm", "braking_bump_height_mm", "cone_index_kpa"):
        assert getattr(afternoon.ground, rougher) > getattr(morning.ground, rougher)


def test_bare_walk_holds_event_date_and_three_answers() -> None:
    content = read_yaml(bundled("datasets", "walks", "bare-walk.yaml")).content
    answers = {key: value for key, value in content.items() if key not in {"event", "date"}}
    assert answers == {
        "kind": "outdoor",
        "ground": {"firmness": "dents"},
        "start": {"surface": "concrete"},
    }


def test_imperial_walk_is_read_in_the_fields_own_units() -> None:
    """Factors of NIST SP 811, appendix B.8; 1e-5 covers those printed to six digits."""
    walk = walk_named("imperial-units")
    assert walk.air
    assert walk.ground
    assert walk.start
    assert walk.lap
    assert walk.jumps
    read = {
        25.55556: walk.air.temperature_c,  # (78 - 32) / 1.8
        28.9 * 3.386389: walk.air.pressure_kpa,
        980 * 0.3048: walk.air.elevation_m,
        105 * 6.894757: walk.ground.cone_index_kpa,
        2.5 * 25.4: walk.ground.loose_depth_mm,
        95 * 0.9144: walk.start.straight_length_m,
        62 * 0.3048: walk.jumps[0].gap_m,
        1.05 * 1609.344: walk.lap.length_m,
        1.9 * 60: walk.lap.time_s,
        55 * 1.609344: walk.lap.top_speed_kmh,
        0.5 * 60: walk.lap.moto_min,
    }
    for expected, found in read.items():
        assert found == pytest.approx(expected, rel=1e-5)
