"""Formulas as the catalogue puts them together, against sums written out here.

The sums use textbook formulas and the machine file's numbers; the tolerance is rounding alone,
unless said otherwise.
"""

from __future__ import annotations

import numpy as np
import pytest
from CoolProp.CoolProp import PropsSI

from setupadvisor.entries import words
from setupadvisor.entries.files import bundled, load_entry
from setupadvisor.entries.machine import Machine
from setupadvisor.facts.columns import Columns, columns_from_machine
from setupadvisor.facts.table import FactTable, facts_from

G = 9.80665
EXACT = {"rtol": 1e-9}


@pytest.fixture(scope="module")
def constants() -> Columns:
    return columns_from_machine(
        load_entry(bundled("datasets", "machines", "works-450.yaml"), Machine)
    )


@pytest.fixture(scope="module")
def machine(constants: Columns) -> dict[str, float]:
    """The machine's plain numbers, by the last two parts of their names."""
    return {
        name.removeprefix("machine."): float(value)
        for name, value in constants.items()
        if np.ndim(value) == 0
    }


def column(*values: float) -> np.ndarray:
    return np.array(values, dtype=np.float64)


def facts(constants: Columns, **entries: float | np.ndarray) -> FactTable:
    conditions = {
        name.replace("__", "."): np.atleast_1d(np.asarray(value, dtype=np.float64))
        for name, value in entries.items()
    }
    return facts_from(conditions, constants, len(next(iter(conditions.values()))))


def test_cold_tyre_pressure_is_the_hot_one_of_an_ideal_gas_cooled_down(
    constants: Columns, machine: dict[str, float]
) -> None:
    found = facts(constants, walk__air__temperature_c=12.0, walk__air__pressure_kpa=98.0)
    for end in ("front", "rear"):
        hot = machine[f"tyres.{end}_hot_pressure_kpa"]
        warmer = 12.0 + machine["tyres.warm_up_c"]
        cold = (hot + 98.0) * (12.0 + 273.15) / (warmer + 273.15) - 98.0
        np.testing.assert_allclose(found[f"{end}_tyre_pressure_for_heat_kpa"], cold, **EXACT)


def test_margin_to_boiling_is_that_of_water_at_cap_and_air_pressure(
    constants: Columns, machine: dict[str, float]
) -> None:
    """IAPWS-95 as in CoolProp; the industrial formulation stays within 7 mK of it here."""
    found = facts(constants, walk__air__temperature_c=30.0, walk__air__pressure_kpa=90.0)
    boiling = PropsSI("T", "P", 1e3 * (90.0 + machine["house.radiator_cap"]), "Q", 0, "Water")
    expected = boiling - 273.15 - (30.0 + machine["cooling.coolant_above_air_c"])
    np.testing.assert_allclose(found["boiling_margin_c"], expected, atol=0.007)


@pytest.mark.parametrize(
    ("clay", "water", "sticks"),
    [
        (35.0, 110.0, 1.0),
        (22.5, 90.0, 0.25),
        (10.0, 110.0, 0.0),
        (40.0, 60.0, 0.0),
        (40.0, 200.0, 0.5),
    ],
)
def test_clay_sticks_when_wet_and_slurry_less(
    constants: Columns, clay: float, water: float, sticks: float
) -> None:
    """Common practice, no source: from a tenth of clay and 70 % of water on."""
    found = facts(constants, walk__ground__clay_pct=clay, walk__ground__available_water_pct=water)
    np.testing.assert_allclose(found["stickiness"], sticks, atol=1e-12)


def test_the_rear_wheel_carries_its_share_of_machine_fuel_and_rider(
    constants: Columns, machine: dict[str, float]
) -> None:
    found = facts(constants, rider__mass_kg=[60.0, 95.0])
    base = machine["geometry.wheelbase_mm"]
    ahead = machine["geometry.centre_of_mass_to_rear_axle_mm"]
    rider_ahead = machine["geometry.rider_to_rear_axle_mm"]
    own = machine["masses.machine_kg"] + machine["masses.fuel_kg"]
    expected = G * (own * (1 - ahead / base) + column(60.0, 95.0) * (1 - rider_ahead / base))
    np.testing.assert_allclose(found["rear_wheel_load_n"], expected, **EXACT)


def test_sprung_loads_and_unsprung_masses_are_the_whole_weight(
    constants: Columns, machine: dict[str, float]
) -> None:
    found = facts(constants, rider__mass_kg=82.0)
    unsprung = machine["masses.unsprung_front_kg"] + machine["masses.unsprung_rear_kg"]
    whole = machine["masses.machine_kg"] + machine["masses.fuel_kg"] + 82.0
    np.testing.assert_allclose(
        found["front_sprung_load_n"] + found["rear_sprung_load_n"], G * (whole - unsprung), **EXACT
    )


def test_coils_and_air_of_the_fork_carry_the_front_at_the_wanted_sag(
    constants: Columns, machine: dict[str, float]
) -> None:
    """Two coils, and two columns of air closed at the outside pressure: p (V1 / V2)^n."""
    found = facts(constants, rider__mass_kg=82.0)
    sag, column_mm = machine["fork.race_sag_mm"], machine["fork.air_column_mm"]
    ratio = column_mm / (column_mm - sag)
    area_mm2 = np.pi / 4.0 * machine["fork.bore_mm"] ** 2
    air = 2.0 * 0.101325 * (ratio ** machine["fork.air_exponent"] - 1.0) * area_mm2
    coils = 2.0 * found["fork_spring_for_rider_n_per_mm"] * (machine["house.fork_preload"] + sag)
    load = found["front_sprung_load_n"] * np.cos(np.radians(machine["geometry.rake_deg"]))
    np.testing.assert_allclose(coils + air, load, rtol=1e-6)


def linkage(constants: Columns, travel: float) -> tuple[float, float]:
    """Motion ratio and shock stroke at a wheel travel, straight between the file's points."""
    at = np.asarray(constants["machine.shock.curve_travel_mm"])
    ratio = np.asarray(constants["machine.shock.motion_ratio"])
    fine = np.linspace(0.0, travel, 20_001)
    return float(np.interp(travel, at, ratio)), float(
        np.trapezoid(np.interp(fine, at, ratio), fine)
    )


def test_the_shock_spring_carries_the_rear_at_race_sag_by_virtual_work(
    constants: Columns, machine: dict[str, float]
) -> None:
    found = facts(constants, rider__mass_kg=82.0)
    ratio, stroke = linkage(constants, machine["shock.race_sag_mm"])
    rate = found["shock_spring_for_rider_n_per_mm"]
    force = rate * (machine["shock.standard_preload_mm"] + stroke)
    np.testing.assert_allclose(force * ratio, found["rear_sprung_load_n"], rtol=1e-6)
    static_ratio, static_stroke = linkage(constants, float(found["static_sag_mm"][0]))
    force = rate * (machine["shock.standard_preload_mm"] + static_stroke)
    np.testing.assert_allclose(force * static_ratio, found["static_rear_sprung_load_n"], rtol=1e-6)


def flat_drop(height: float) -> dict[str, np.ndarray]:
    return {
        "walk__jumps__gap_m": np.array([[0.0]]),
        "walk__jumps__drop_m": np.array([[height]]),
        "walk__jumps__take_off_angle_deg": np.array([[0.0]]),
        "walk__jumps__landing": np.array([[float(words.LANDINGS.index("flat"))]]),
    }


def test_the_rear_bottoms_where_its_energy_is_less_than_the_landings(
    constants: Columns, machine: dict[str, float]
) -> None:
    """The spring from sag to the stop, and half of m g (height + travel) for the damper."""
    found = facts(constants, rider__mass_kg=82.0, **flat_drop(1.2))
    preload = machine["shock.standard_preload_mm"]
    sag, stop = machine["shock.race_sag_mm"], machine["shock.wheel_travel_mm"]
    ends = [preload + linkage(constants, travel)[1] for travel in (sag, stop)]
    spring_j = 0.5e-3 * found["shock_spring_for_rider_n_per_mm"] * (ends[1] ** 2 - ends[0] ** 2)
    needed_j = found["rear_sprung_load_n"] * (1.2 + (stop - sag) / 1e3)
    np.testing.assert_allclose(
        found["rear_bottoming_margin"], (spring_j + 0.5 * needed_j) / needed_j, rtol=1e-6
    )


def test_harder_landings_leave_less_margin_at_both_ends(constants: Columns) -> None:
    margins = [facts(constants, rider__mass_kg=82.0, **flat_drop(height)) for height in (0.5, 1.5)]
    for end in ("front", "rear"):
        low, high = (float(found[f"{end}_bottoming_margin"][0]) for found in margins)
        assert high < low


def test_the_ride_frequency_is_that_of_the_mass_on_the_wheel_rate(
    constants: Columns, machine: dict[str, float]
) -> None:
    """Wheel rate as the slope of the wheel load over a tenth of a millimetre of travel."""
    found = facts(constants, rider__mass_kg=82.0)
    preload, sag = machine["shock.standard_preload_mm"], machine["shock.race_sag_mm"]
    rate = float(found["shock_spring_for_rider_n_per_mm"][0])
    loads = []
    for travel in (sag - 0.05, sag + 0.05):
        ratio, stroke = linkage(constants, travel)
        loads.append(rate * (preload + stroke) * ratio)
    wheel_rate = (loads[1] - loads[0]) / 0.1 * 1e3
    mass = found["rear_sprung_load_n"] / G
    expected = np.sqrt(wheel_rate / mass) / (2.0 * np.pi)
    np.testing.assert_allclose(found["rear_frequency_hz"], expected, rtol=1e-4)


def test_the_lap_is_counted_and_timed(constants: Columns) -> None:
    found = facts(
        constants,
        walk__lap__length_m=1500.0,
        walk__lap__time_s=100.0,
        walk__corners__flat=2.0,
        walk__corners__banked=6.0,
    )
    np.testing.assert_allclose(found["mean_speed_kmh"], 54.0, **EXACT)
    np.testing.assert_allclose(found["corner_count"], 8.0)
    np.testing.assert_allclose(found["corners_per_km"], 8.0 / 1.5, **EXACT)
    shares = [float(found[f"{kind}_corner_share_pct"][0]) for kind in ("flat", "banked", "rutted")]
    assert shares == [25.0, 75.0, 0.0]


def test_whoops_are_met_at_a_speed_below_the_laps_mean_or_near_it(
    constants: Columns, machine: dict[str, float]
) -> None:
    """Frequency times spacing is a speed; what share of the mean it is, is common practice."""
    found = facts(
        constants,
        walk__lap__length_m=1500.0,
        walk__lap__time_s=100.0,
        walk__whoops__count=10.0,
        walk__whoops__spacing_m=4.0,
    )
    share = found["whoop_frequency_hz"] * 4.0 / 15.0
    assert 0.5 < float(share[0]) < 1.2
    np.testing.assert_allclose(
        found["wheelbase_to_whoop_spacing"], machine["geometry.wheelbase_mm"] / 4000.0, **EXACT
    )
    none = facts(constants, walk__whoops__count=0.0, walk__whoops__spacing_m=4.0)
    assert none["whoop_height_mm"] == 0.0


def test_jumps_are_counted_and_the_longest_found(constants: Columns) -> None:
    found = facts(
        constants,
        walk__jumps__gap_m=np.array([[8.0, 14.0, np.nan]]),
        walk__jumps__landing=np.array([[0.0, 1.0, np.nan]]),
    )
    assert (found["jump_count"], found["longest_gap_m"], found["flat_landing"]) == (2.0, 14.0, 1.0)


@pytest.mark.parametrize("radius", [3.0, 6.0, 12.0])
def test_the_tightest_corner_is_ridden_on_its_lateral_grip(
    constants: Columns, radius: float
) -> None:
    """v = sqrt(mu g r) with seven tenths of a grip of 0.6 (common practice, no source)."""
    found = facts(constants, walk__corners__tightest_radius_m=radius)
    expected = 3.6 * np.sqrt(0.7 * 0.6 * G * radius)
    np.testing.assert_allclose(found["tightest_corner_speed_kmh"], expected, **EXACT)


def test_the_wanted_final_drive_reaches_the_straights_speed_at_the_wanted_engine_speed(
    constants: Columns, machine: dict[str, float]
) -> None:
    found = facts(constants, walk__lap__top_speed_kmh=90.0)
    gears = np.asarray(constants["machine.engine.gears"])
    gear = gears[int(machine["engine.straight_gear"]) - 1]
    wheel = 90.0 / 3.6 / (machine["geometry.rear_wheel_radius_mm"] / 1e3)
    engine = machine["engine.straight_speed_rpm"] * 2.0 * np.pi / 60.0
    wanted = engine / wheel / (machine["engine.primary_ratio"] * gear)
    np.testing.assert_allclose(found["wanted_final_drive"], wanted, **EXACT)
    front, rear = machine["house.front_sprocket"], machine["house.rear_sprocket"]
    moved = np.clip(0.5 * (wanted * front - rear), -1.5, 1.5)
    np.testing.assert_allclose(found["rear_sprocket_for_ratio_teeth"], rear + moved, **EXACT)


def test_the_clutch_holds_by_uniform_wear(constants: Columns, machine: dict[str, float]) -> None:
    """N f F (D + d) / 4 against the largest torque times the primary ratio (Shigley, ch. 16)."""
    found = facts(constants, rider__mass_kg=82.0)
    clamp = (
        machine["clutch.springs"]
        * machine["house.clutch_springs"]
        * machine["clutch.spring_compression_mm"]
    )
    rings_m = (machine["clutch.outer_diameter_mm"] + machine["clutch.inner_diameter_mm"]) / 4e3
    holds = machine["clutch.friction_faces"] * machine["clutch.friction"] * clamp * rings_m
    asked = np.max(constants["machine.engine.torque_nm"]) * machine["engine.primary_ratio"]
    np.testing.assert_allclose(found["clutch_margin"], holds / asked, **EXACT)


def test_the_lock_goes_a_third_of_the_way_to_the_hardest_launch(
    constants: Columns, machine: dict[str, float]
) -> None:
    """And 25 mm at most (common practice, no source)."""
    found = facts(
        constants,
        walk__start__surface=[float(words.GATE_SURFACES.index("dirt"))] * 3,
        walk__start__condition=[float(words.GATE_CONDITIONS.index("damp"))] * 3,
        walk__ground__texture=[float(words.TEXTURES.index("loam"))] * 3,
        walk__start__after_firmness=[
            float(words.HEELS.index(heel)) for heel in ("dents", "marks", "no_mark")
        ],
        walk__start__after_moisture=[float(words.MOISTURES.index("moist"))] * 3,
        rider__mass_kg=[82.0] * 3,
    )
    house = machine["house.start_lock_depth"]
    way = (found["hardest_launch_lock_depth_mm"] - house) / 3.0
    np.testing.assert_allclose(
        found["start_lock_depth_for_grip_mm"], house + np.clip(way, -25.0, 25.0), rtol=1e-6
    )


def test_an_engine_without_sensor_gets_fuel_by_the_mass_of_air(
    constants: Columns, machine: dict[str, float]
) -> None:
    plain = {**constants, "machine.engine.senses_air_pressure": np.asarray(0.0)}
    high = {"walk__air__temperature_c": 20.0, "walk__air__elevation_m": 1800.0}
    with_sensor, without = facts(constants, **high), facts(plain, **high)
    assert with_sensor["fuel_trim_for_air_pct"] == 0.0
    assert not np.signbit(with_sensor["fuel_trim_for_air_pct"]).any(), "nought, not -0 %"
    np.testing.assert_allclose(
        without["fuel_trim_for_air_pct"], without["mapped_density_change_pct"], **EXACT
    )
    assert without["fuel_trim_for_air_pct"] < -10.0


def test_a_grid_lets_dust_through_and_concrete_does_not(constants: Columns) -> None:
    def grip(surface: str, condition: str) -> float:
        found = facts(
            constants,
            walk__start__surface=float(words.GATE_SURFACES.index(surface)),
            walk__start__condition=float(words.GATE_CONDITIONS.index(condition)),
        )
        return float(found["gate_grip"][0])

    assert grip("metal_grid", "dusty") == grip("metal_grid", "dry")
    assert grip("concrete", "dusty") < grip("concrete", "dry")
    assert grip("metal_grid", "wet") < grip("metal_grid", "dry")
