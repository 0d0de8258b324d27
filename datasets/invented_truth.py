"""The hidden truth of the invented season: what each setting really wants, and each rider.

Invented from end to end, and none of it is advice: most of it is what a mechanic would believe,
some is what hardly anybody's rules say, and some was made up against the common rules on purpose,
so that there is something to find out. It does not read the rule base.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from setupadvisor.entries.machine import Machine
from setupadvisor.facts.catalogue import FACTS
from setupadvisor.facts.table import FactTable

FloatArray = NDArray[np.float64]


@dataclass(frozen=True)
class When:
    """Something about the track or the day, between not at all (0) and fully (1).

    Parameters
    ----------
    fact : str
        Name of a fact.
    none : float
        Where it begins.
    full : float or str
        Where it is full; or the one word of a category.
    """

    fact: str
    none: float
    full: float | str

    def degree(self, facts: FactTable) -> FloatArray:
        """Tell how far it holds in each row; not at all where the fact does not exist."""
        values = facts[self.fact]
        if isinstance(self.full, str):
            return (values == FACTS[self.fact].choices.index(self.full)).astype(np.float64)
        ramp = np.clip((values - self.none) / (self.full - self.none), 0.0, 1.0)
        return np.nan_to_num(ramp, nan=0.0)


def is_(fact: str, word: str) -> When:
    """Say that a category is one word."""
    return When(fact, 0.0, word)


STADIUM = is_("track_kind", "stadium")
LOOSE = When("loose_depth_mm", 40, 150)
SOFT = When("cone_index_kpa", 750, 280)
HARD = When("cone_index_kpa", 1400, 3000)
BUMPS = When("braking_bump_height_mm", 45, 160)
RUTS = When("rut_depth_mm", 90, 240)
FALL = When("hardest_fall_height_m", 0.8, 2.2)
WHOOPS = When("whoop_height_mm", 350, 650)
FAST = When("top_speed_kmh", 72, 96)
TIGHT = When("tightest_radius_m", 6.5, 4)
STONY = is_("stones", "some")
VERY_STONY = is_("stones", "heavy")
SLIPPERY = When("track_grip", 0.72, 0.5)
STICKY = When("stickiness", 0.25, 0.7)
COLD = When("air_temperature_c", 12, 3)
HOT = When("air_temperature_c", 22, 32)
SOFT_START = When("after_gate_cone_index_kpa", 750, 280)
FIRM_START = When("after_gate_cone_index_kpa", 900, 2200)

# Setting, what it adds to the setting's number when all of the following hold fully (degrees are
# multiplied). More clicks are softer; more rear teeth are shorter gearing.
Effect = tuple[str, float, *tuple[When, ...]]
BELIEVED: tuple[Effect, ...] = (  # what a mechanic would expect
    ("fork_spring", 0.3, STADIUM),
    ("fork_spring", 0.16, LOOSE),
    ("fork_oil_level", -9, FALL),
    ("fork_preload", 2, LOOSE),
    ("shock_spring", 3, STADIUM),
    ("shock_length", -1.3, LOOSE),
    ("shock_length", 1.1, TIGHT),
    ("front_tyre", -1.3, SOFT),
    ("front_tyre", 0.9, HARD),
    ("rear_tyre", -1.5, SOFT),
    ("rear_tyre", 0.8, HARD),
    ("rear_sprocket", 1.6, When("track_rolling_resistance", 0.06, 0.14)),
    ("rear_sprocket", -1.2, When("mean_speed_kmh", 48, 60)),
    ("axle_position", 5, WHOOPS),
    ("axle_position", 4, FAST),
    ("axle_position", -6, TIGHT),
    ("fork_height", -2.2, LOOSE),
    ("fork_height", 1.8, TIGHT),
    ("fork_height", -1.2, FAST),
    ("race_sag", 2, FAST, BUMPS),
    ("race_sag", -2.4, TIGHT),
    ("fork_compression_low", -2.8, LOOSE),
    ("fork_compression_low", 2.2, HARD),
    ("fork_compression_low", -2, STADIUM),
    ("fork_compression_low", 1.2, VERY_STONY),
    ("fork_compression_high", 2.8, BUMPS),
    ("fork_compression_high", -2.6, FALL),
    ("fork_compression_high", -1.3, WHOOPS),
    ("fork_rebound_low", 1.8, BUMPS),
    ("fork_rebound_low", -1.6, RUTS),
    ("fork_rebound_low", -1.5, LOOSE),
    ("fork_rebound_high", -1.8, FALL),
    ("fork_rebound_high", 1.6, COLD),
    ("shock_compression_low", -2.4, STADIUM),
    ("shock_compression_low", 1.9, HARD),
    ("shock_compression_low", -1.2, WHOOPS),
    ("shock_compression_high", -2.3, FALL),
    ("shock_compression_high", 1.8, BUMPS),
    ("shock_compression_high", -1.6, WHOOPS),
    ("shock_compression_high", 1.4, VERY_STONY),
    ("shock_rebound_low", -1.9, When("longest_gap_m", 13, 20)),
    ("shock_rebound_low", -1.4, HOT),
    ("shock_rebound_low", 1.4, BUMPS),
    ("shock_rebound_high", -2, WHOOPS),
    ("steering_damper", -3, FAST),
    ("steering_damper", 2.5, TIGHT),
    ("steering_damper", -1.5, VERY_STONY),
    ("lever_angle", 5, WHOOPS),
    ("front_tyre_pressure", 8, VERY_STONY),
    ("front_tyre_pressure", -7, SOFT),
    ("rear_tyre_pressure", 7, VERY_STONY),
    ("rear_tyre_pressure", 4, STONY),
    ("rear_tyre_pressure", -9, SOFT),
    ("engine_map", 0.9, When("track_rolling_resistance", 0.06, 0.14)),
    ("engine_map", -0.9, SLIPPERY),
    ("engine_braking", -0.8, BUMPS),
    ("engine_braking", 0.7, When("steepest_descent_deg", 12, 22)),
    ("fuel_trim", 1.2, When("air_temperature_c", 28, 36)),
    ("fuel_trim", -2, When("mapped_density_change_pct", -3, -14)),
    ("cooling_fan", 1.1, HOT),
    ("radiator_cap", 18, When("boiling_margin_c", 20, 8)),
    ("air_filter", 1.1, is_("dust", "heavy")),
    ("air_filter", 1.7, STICKY),
    ("air_filter", -0.9, STADIUM),
    ("clutch_plates", 0.8, LOOSE),
    ("clutch_springs", 0.5, LOOSE),
    ("clutch_free_play", 0.7, RUTS),
    ("brake_pedal_height", 3, RUTS),
    ("brake_pedal_height", -4, WHOOPS),
    ("start_lock_depth", -18, SOFT_START),
    ("start_lock_depth", 12, FIRM_START),
    ("start_rpm", 750, SOFT_START),
    ("start_rpm", -600, When("gate_grip", 0.62, 0.45)),
    ("start_rpm", 500, When("gate_grip", 0.62, 0.8)),
    ("start_rpm", 600, When("elevation_m", 600, 1600)),
    ("start_map", -0.8, When("gate_grip", 0.62, 0.45)),
    ("start_map", 0.8, SOFT_START),
)
UNHEARD_OF: tuple[Effect, ...] = (  # what hardly anybody's rules say
    ("shock_rebound_low", -1.8, When("whoop_count", 7, 12)),
    ("fork_compression_low", -1.5, When("corners_per_km", 8, 17)),
    ("rear_tyre_pressure", -5, When("steepest_climb_deg", 10, 20)),
    ("start_lock_depth", -8, is_("first_corner", "tight")),
    ("fork_preload", 2, When("clay_share_pct", 25, 40)),
    ("shock_compression_high", 1.2, When("lap_length_m", 900, 1700)),
    ("front_tyre_pressure", -4, When("clay_share_pct", 18, 35)),
    ("idle_speed", 80, When("rutted_corner_share_pct", 5, 40)),
    ("bar_height", 3, When("moto_length_min", 15, 30)),
    ("fork_rebound_high", 1.5, When("relative_humidity_pct", 45, 80)),
)
AGAINST_THE_RULES: tuple[Effect, ...] = (
    ("race_sag", -1.8, LOOSE),
    ("rear_tyre_pressure", 5, STICKY),
    ("steering_damper", 2, WHOOPS),
    ("fork_compression_high", -1.2, STONY),
    ("fork_height", -1.4, When("flat_corner_share_pct", 22, 45)),
    ("start_lock_depth", -7, is_("gate_surface", "metal_grid"), FIRM_START),
)
TOGETHER: tuple[Effect, ...] = (  # neither alone
    ("axle_position", 5, WHOOPS, When("sand_share_pct", 65, 88)),
    ("fork_rebound_low", 1.8, COLD, When("available_water_pct", 60, 100)),
    ("shock_compression_low", -1.8, LOOSE, BUMPS),
)
EFFECTS = (*BELIEVED, *UNHEARD_OF, *AGAINST_THE_RULES, *TOGETHER)

# fmt: off
HABITS: dict[str, dict[str, float]] = {
    "north": {
        "fork_compression_low": -2, "fork_compression_high": -1.5, "fork_preload": 1.5,
        "fork_height": -1, "shock_rebound_low": 1, "engine_map": 0.6, "start_rpm": 400,
        "clutch_springs": 0.6, "front_brake_lever_reach": 2, "bar_height": 4, "race_sag": 1,
        "brake_pedal_height": -3, "clutch_plates": 0.6,
    },
    "south": {
        "fork_compression_low": 1.5, "fork_rebound_low": 1.5, "shock_compression_low": 1.5,
        "engine_braking": -0.8, "engine_map": -0.5, "start_rpm": -300, "fork_height": 1,
        "bar_position": -4, "rear_tyre_pressure": -3, "steering_damper": 2, "race_sag": -1.5,
    },
    "east": {
        "fork_rebound_high": -1.5, "shock_compression_high": 1.5, "shock_rebound_high": -1,
        "lever_angle": -4, "front_brake_lever_reach": -2, "steering_damper": -2,
        "start_lock_depth": 7, "idle_speed": 60, "axle_position": 2, "front_tyre_pressure": 3,
    },
}
# fmt: on


def effects_on(machine: Machine, facts: FactTable) -> FloatArray:
    """Work out what every effect adds.

    Parameters
    ----------
    machine : Machine
        Its settings.
    facts : FactTable
        The rows' facts.

    Returns
    -------
    numpy.ndarray, shape (effects, rows, settings)
        In each setting's number.
    """
    places = {name: place for place, name in enumerate(machine.settings)}
    result = np.zeros((len(EFFECTS), facts.values.shape[1], len(places)))
    for effect, (setting, amount, *conditions) in enumerate(EFFECTS):
        degree = np.prod([condition.degree(facts) for condition in conditions], axis=0)
        result[effect, :, places[setting]] = amount * degree
    return result
