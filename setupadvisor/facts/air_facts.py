"""Facts about the air: pressure, density, and what they do to the engine and the tyres."""

from __future__ import annotations

import numpy as np

from setupadvisor.facts.air import air_density_kg_per_m3, dry_air_pressure_kpa
from setupadvisor.facts.atmosphere import standard_pressure_kpa
from setupadvisor.facts.cooling import boiling_point_c
from setupadvisor.facts.engine_air import fuel_trim_pct, gearing_teeth_to_keep_pull, power_ratio
from setupadvisor.facts.fact import Fact, entered
from setupadvisor.facts.gaps import filled, or_usual
from setupadvisor.facts.tyres import pressure_to_set_cold_kpa
from setupadvisor.facts.valid_range import FloatArray

# Where no humidity was entered. At 30 °C the air's density is within 1 % and the engine's power
# within 2.5 % of this for any humidity (CIPM-2007, SAE J1349).
USUAL_HUMIDITY_PCT = 50.0


def _pressure(pressure: FloatArray, elevation: FloatArray) -> FloatArray:
    return filled(pressure, lambda: standard_pressure_kpa(elevation))


def _density(temperature: FloatArray, pressure: FloatArray, humidity: FloatArray) -> FloatArray:
    return air_density_kg_per_m3(temperature, pressure, or_usual(humidity, USUAL_HUMIDITY_PCT))


def _power(temperature: FloatArray, pressure: FloatArray, humidity: FloatArray) -> FloatArray:
    return power_ratio(
        dry_air_pressure_kpa(temperature, pressure, or_usual(humidity, USUAL_HUMIDITY_PCT)),
        temperature,
    )


def _mapped_density(temperature: FloatArray, elevation: FloatArray) -> FloatArray:
    return air_density_kg_per_m3(temperature, standard_pressure_kpa(elevation), USUAL_HUMIDITY_PCT)


def _density_change(
    density: FloatArray, mapped_temperature: FloatArray, mapped_elevation: FloatArray
) -> FloatArray:
    return 100.0 * (density / _mapped_density(mapped_temperature, mapped_elevation) - 1.0)


def _teeth_to_keep_pull(
    power: FloatArray,
    mapped_temperature: FloatArray,
    mapped_elevation: FloatArray,
    teeth: FloatArray,
) -> FloatArray:
    mapped = _power(
        mapped_temperature, standard_pressure_kpa(mapped_elevation), np.asarray(USUAL_HUMIDITY_PCT)
    )
    return gearing_teeth_to_keep_pull(power / mapped, teeth)


def _fuel_trim(
    density: FloatArray,
    mapped_temperature: FloatArray,
    mapped_elevation: FloatArray,
    senses_air_pressure: FloatArray,
) -> FloatArray:
    trim = fuel_trim_pct(density, _mapped_density(mapped_temperature, mapped_elevation))
    return np.where(senses_air_pressure > 0, 0.0 * np.abs(trim), trim)


def _cold_pressure(
    hot_pressure: FloatArray, warm_up: FloatArray, temperature: FloatArray, pressure: FloatArray
) -> FloatArray:
    return pressure_to_set_cold_kpa(hot_pressure, temperature + warm_up, temperature, pressure)


def _boiling_margin(
    cap: FloatArray, pressure: FloatArray, temperature: FloatArray, above_air: FloatArray
) -> FloatArray:
    return boiling_point_c(cap, pressure) - (temperature + above_air)


_MAPPED = ("machine.engine.mapped_temperature_c", "machine.engine.mapped_elevation_m")
_WEATHER = ("air_temperature_c", "air_pressure_kpa", "relative_humidity_pct")
_COLD = ("machine.tyres.warm_up_c", "air_temperature_c", "air_pressure_kpa")
_IDEAL_GAS = "ideal gas at constant volume; warm-up from the machine file"

AIR_FACTS = (
    entered("air_temperature_c", "walk.air.temperature_c"),
    entered("elevation_m", "walk.air.elevation_m"),
    Fact(
        "air_pressure_kpa",
        "Air pressure at the track",
        "kPa",
        54.0,
        110.0,
        _pressure,
        ("walk.air.pressure_kpa", "walk.air.elevation_m"),
        "as entered, else standard atmosphere at the (geometric) elevation",
        "ISO 2533:1975",
    ),
    entered("relative_humidity_pct", "walk.air.humidity_pct"),
    entered("rain", "walk.air.rain"),
    entered("wind", "walk.air.wind"),
    Fact(
        "air_density_kg_per_m3",
        "Air density",
        "kg/m³",
        0.5,
        1.6,
        _density,
        _WEATHER,
        "moist air density; 50 % humidity where not entered",
        "CIPM-2007 (Picard and others 2008, Metrologia 45:149)",
    ),
    Fact(
        "power_ratio",
        "Engine power today over the standard day",
        "",
        0.3,
        1.3,
        _power,
        _WEATHER,
        "inverse of the power correction factor; 50 % humidity where not entered",
        "SAE J1349 (JUN90)",
    ),
    Fact(
        "mapped_density_change_pct",
        "Air density today against the day of mapping",
        "%",
        -60.0,
        40.0,
        _density_change,
        ("air_density_kg_per_m3", *_MAPPED),
        "ratio of air densities",
        "CIPM-2007; ISO 2533:1975",
    ),
    Fact(
        "gearing_teeth_to_keep_pull",
        "Teeth more (below 0: fewer) at the rear that give back the pull which the air took",
        "",
        -15.0,
        110.0,
        _teeth_to_keep_pull,
        ("power_ratio", *_MAPPED, "machine.house.rear_sprocket"),
        "power today against the day of the mapping; the whole of it, of which practice takes a "
        "part",
        "SAE J1349; how much of it: common practice, no source",
    ),
    Fact(
        "fuel_trim_for_air_pct",
        "Fuel that the air asks for, engine without pressure sensor",
        "%",
        -60.0,
        40.0,
        _fuel_trim,
        ("air_density_kg_per_m3", *_MAPPED, "machine.engine.senses_air_pressure"),
        "fuel follows the air's mass; 0 for an engine that measures the pressure",
        "Heywood, Internal Combustion Engine Fundamentals, ch. 2 (from memory)",
    ),
    *(
        Fact(
            f"{end}_tyre_pressure_for_heat_kpa",
            f"Cold pressure for the wanted hot one, {end}",
            "kPa",
            10.0,
            250.0,
            _cold_pressure,
            (f"machine.tyres.{end}_hot_pressure_kpa", *_COLD),
            _IDEAL_GAS,
            "ideal gas law",
        )
        for end in ("front", "rear")
    ),
    Fact(
        "boiling_margin_c",
        "Coolant's margin to boiling in hard riding",
        "°C",
        -60.0,
        110.0,
        _boiling_margin,
        (
            "machine.house.radiator_cap",
            "air_pressure_kpa",
            "air_temperature_c",
            "machine.cooling.coolant_above_air_c",
        ),
        "boiling point of water under the cap less air temperature and the machine's warm-up",
        "IAPWS R7-97 region 4; warm-up: common practice, no source",
    ),
)
