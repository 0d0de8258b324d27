"""Facts of whole walks against sums done by hand: entries, formulas and machine joined rightly."""

from __future__ import annotations

import numpy as np
import pytest

from setupadvisor.entries import words
from setupadvisor.entries.files import bundled, load_entry
from setupadvisor.entries.machine import Machine
from setupadvisor.facts.columns import Columns, columns_from_machine
from setupadvisor.facts.table import facts_from


@pytest.fixture(scope="module")
def constants() -> Columns:
    return columns_from_machine(
        load_entry(bundled("datasets", "machines", "works-450.yaml"), Machine)
    )


def column(*values: float) -> np.ndarray:
    return np.array(values, dtype=np.float64)


def test_the_fork_damping_ratio_is_damping_over_critical_at_the_wheel(constants: Columns) -> None:
    """c / (2 sqrt(k m)); k from the ride frequency, c along the fork over cos(rake)^2."""
    facts = facts_from({"rider.mass_kg": column(80.0)}, constants)
    mass = facts["front_sprung_load_n"] / 9.80665
    rate = (2.0 * np.pi * facts["front_frequency_hz"]) ** 2 * mass
    rake = np.radians(constants["machine.geometry.rake_deg"])
    damping = constants["machine.fork.damping_low_speed"] / np.cos(rake) ** 2
    np.testing.assert_allclose(
        facts["front_damping_ratio"], damping / (2.0 * np.sqrt(rate * mass)), rtol=1e-12
    )


def test_a_wheel_hops_between_tyre_and_spring(constants: Columns) -> None:
    """sqrt((tyre + spring) / unsprung mass) / 2 pi, with 100 N/mm for the tyre."""
    facts = facts_from({"rider.mass_kg": column(80.0)}, constants)
    mass = facts["rear_sprung_load_n"] / 9.80665
    spring = (2.0 * np.pi * facts["rear_frequency_hz"]) ** 2 * mass
    unsprung = constants["machine.masses.unsprung_rear_kg"]
    by_hand = np.sqrt((100e3 + spring) / unsprung) / (2.0 * np.pi)
    np.testing.assert_allclose(facts["rear_wheel_frequency_hz"], by_hand, rtol=1e-12)


def test_whoops_are_compared_with_body_and_wheels(constants: Columns) -> None:
    lap = {
        "walk.lap.length_m": column(1500.0),
        "walk.lap.time_s": column(100.0),
        "walk.whoops.count": column(8.0),
        "walk.whoops.spacing_m": column(3.0),
        "rider.mass_kg": column(80.0),
    }
    facts = facts_from(lap, constants)
    whoops = facts["whoop_frequency_hz"]
    for end in ("front", "rear"):
        np.testing.assert_allclose(
            facts[f"whoop_to_{end}_frequency"], whoops / facts[f"{end}_frequency_hz"], rtol=1e-12
        )
    slower = min(facts["front_wheel_frequency_hz"][0], facts["rear_wheel_frequency_hz"][0])
    np.testing.assert_allclose(facts["whoop_to_wheel_frequency"], whoops / slower, rtol=1e-12)
    without = facts_from({**lap, "walk.whoops.count": column(0.0)}, constants)
    assert np.isnan(without["whoop_to_wheel_frequency"]).all()


def test_static_sag_is_measured_against_the_machines_window(constants: Columns) -> None:
    """Nought inside, the distance to the nearer end outside, heavy riders under the window."""
    facts = facts_from({"rider.mass_kg": np.linspace(40.0, 130.0, 40)}, constants, 40)
    sag, miss = facts["static_sag_mm"], facts["static_sag_miss_mm"]
    low, high = (float(constants[f"machine.shock.static_sag_{end}_mm"]) for end in ("low", "high"))
    expected = np.where(sag < low, sag - low, np.where(sag > high, sag - high, 0.0))
    np.testing.assert_allclose(miss, expected, atol=1e-12)
    narrow = {
        **constants,
        "machine.shock.static_sag_low_mm": np.asarray(36.0),
        "machine.shock.static_sag_high_mm": np.asarray(37.0),
    }
    missed = facts_from({"rider.mass_kg": column(50.0, 120.0)}, narrow, 2)["static_sag_miss_mm"]
    assert missed[0] * missed[1] < 0.0


def test_thin_air_asks_for_teeth_and_the_day_of_the_mapping_for_none(constants: Columns) -> None:
    mapped = {
        "walk.air.temperature_c": constants["machine.engine.mapped_temperature_c"].reshape(1),
        "walk.air.elevation_m": constants["machine.engine.mapped_elevation_m"].reshape(1),
        "walk.air.humidity_pct": column(50.0),
    }
    same = facts_from(mapped, constants)
    np.testing.assert_allclose(same["gearing_teeth_to_keep_pull"], 0.0, atol=1e-9)
    high = facts_from({**mapped, "walk.air.elevation_m": column(1500.0)}, constants)
    house = float(constants["machine.house.rear_sprocket"])
    ratio = high["power_ratio"] / same["power_ratio"]
    np.testing.assert_allclose(high["gearing_teeth_to_keep_pull"], house * (1.0 / ratio - 1.0))
    assert high["gearing_teeth_to_keep_pull"] > 3.0


@pytest.mark.parametrize(("water", "filled"), [(0.0, 0.136 / 0.482), (100.0, 0.321 / 0.482)])
def test_pores_fill_from_wilting_point_to_full(water: float, filled: float) -> None:
    """Saxton & Rawls 2006, equations 1 to 5 for 20 % sand and 20 % clay: 13.6, 32.1, 48.2 %."""
    ground = {
        "walk.ground.sand_pct": column(20.0),
        "walk.ground.clay_pct": column(20.0),
        "walk.ground.available_water_pct": column(water),
    }
    np.testing.assert_allclose(
        facts_from(ground, {})["degree_of_saturation_pct"], 100.0 * filled, rtol=5e-3
    )


def test_sand_and_clay_that_contradict_each_other_leave_the_pores_unknown() -> None:
    """Nine tenths of sand, and a clay by the fingers (half of it clay)."""
    ground = {
        "walk.ground.sand_pct": column(90.0),
        "walk.ground.texture": column(words.TEXTURES.index("clay")),
        "walk.ground.available_water_pct": column(50.0),
    }
    assert np.isnan(facts_from(ground, {})["degree_of_saturation_pct"])


def test_two_shares_give_the_third() -> None:
    ground = {"walk.ground.sand_pct": column(30.0), "walk.ground.silt_pct": column(45.0)}
    facts = facts_from(ground, {})
    assert facts["clay_share_pct"] == 25.0
    assert words.TEXTURES[int(facts["texture"][0])] == "loam"


def test_a_heel_leaves_a_spread_and_a_penetrometer_none() -> None:
    heel = {"walk.ground.firmness": column(words.HEELS.index("dents"))}
    by_heel = facts_from(heel, {})
    assert (
        by_heel["cone_index_low_kpa"] < by_heel["cone_index_kpa"] < by_heel["cone_index_high_kpa"]
    )
    measured = facts_from({**heel, "walk.ground.cone_index_kpa": column(800.0)}, {})
    for name in ("cone_index_low_kpa", "cone_index_kpa", "cone_index_high_kpa"):
        assert measured[name] == 800.0


def test_a_step_down_without_a_gap_is_a_fall_from_its_height() -> None:
    """Onto a slope of 25 degrees only the part square to it counts: cos(25 deg)^2 = 0.821."""
    jumps = {
        "walk.jumps.gap_m": np.array([[0.0], [0.0], [0.0]]),
        "walk.jumps.drop_m": np.array([[1.2], [1.2], [-0.5]]),
        "walk.jumps.take_off_angle_deg": np.array([[0.0], [0.0], [20.0]]),
        "walk.jumps.landing": np.array([[1.0], [0.0], [1.0]]),
        "walk.jumps.landing_angle_deg": np.array([[np.nan], [25.0], [np.nan]]),
    }
    heights = facts_from(jumps, {}, 3)["hardest_fall_height_m"]
    np.testing.assert_allclose(heights, [1.2, 1.2 * 0.8214, 0.0], rtol=1e-4)


def start(after_grip_word: str, moisture: str) -> Columns:
    return {
        "walk.ground.texture": column(words.TEXTURES.index("loam")),
        "walk.start.surface": column(words.GATE_SURFACES.index("dirt")),
        "walk.start.condition": column(words.GATE_CONDITIONS.index("damp")),
        "walk.start.after_firmness": column(words.HEELS.index(after_grip_word)),
        "walk.start.after_moisture": column(words.MOISTURES.index(moisture)),
        "walk.start.straight_length_m": column(90.0),
        "rider.mass_kg": column(80.0),
    }


def test_a_deeper_lock_gains_on_tacky_ground_and_loses_on_slick(constants: Columns) -> None:
    tacky = facts_from(start("dents", "moist"), constants)
    slick = facts_from(start("no_mark", "wet"), constants)
    assert tacky["deeper_lock_gain_hundredths"] > 0.1
    assert slick["deeper_lock_gain_hundredths"] < -0.1
    assert tacky["start_lock_depth_for_grip_mm"] > slick["start_lock_depth_for_grip_mm"]


def test_the_hardest_launch_is_where_the_limits_meet_or_an_end_of_the_range(
    constants: Columns,
) -> None:
    low, high = (
        float(constants[f"machine.start_device.{end}_mm"]) for end in ("lowest", "highest")
    )
    slick = facts_from(start("no_mark", "wet"), constants)
    assert np.isnan(slick["lock_depth_where_limits_meet_mm"])
    assert slick["hardest_launch_lock_depth_mm"] == low
    between = facts_from(start("marks", "moist"), constants)
    assert low < between["lock_depth_where_limits_meet_mm"] < high
    assert between["hardest_launch_lock_depth_mm"] == between["lock_depth_where_limits_meet_mm"]
    tacky = facts_from(start("dents", "moist"), constants)
    assert np.isnan(tacky["lock_depth_where_limits_meet_mm"])
    assert tacky["hardest_launch_lock_depth_mm"] == high


def test_limits_are_those_of_the_usual_lock_depth_whatever_the_ground(constants: Columns) -> None:
    tacky = facts_from(start("dents", "moist"), constants)
    slick = facts_from(start("no_mark", "wet"), constants)
    assert tacky["wheelie_limit_mps2"] == slick["wheelie_limit_mps2"]
    assert tacky["after_gate_traction_limit_mps2"] > slick["after_gate_traction_limit_mps2"]
    assert tacky["start_time_s"] < slick["start_time_s"]


def test_ground_that_holds_the_machine_gives_no_start_time(constants: Columns) -> None:
    bog = {
        **start("sinks_deep", "waterlogged"),
        "walk.start.after_cone_index_kpa": column(5.0),
    }
    facts = facts_from(bog, constants)
    assert np.isnan(facts["start_time_s"])
    assert np.isnan(facts["start_clutch_heat_kj"])
    assert np.isnan(facts["deeper_lock_gain_hundredths"])
    assert facts.warnings
