"""Facts about springs, sag, landings and frequencies, for this rider on this machine."""

from __future__ import annotations

from functools import partial

import numpy as np

from setupadvisor.facts.fact import Fact, entered
from setupadvisor.facts.fork import (
    Fork,
    air_force_n,
    axis_cosine,
    coils,
    fork_energy_j,
    possible_stroke_mm,
)
from setupadvisor.facts.landings import landing_energy_j
from setupadvisor.facts.rear_sag import rear_sag_mm
from setupadvisor.facts.remembered import remembered
from setupadvisor.facts.suspension import (
    STANDARD_GRAVITY_M_S2,
    bottoming_margin,
    energy_to_absorb_j,
    linkage,
    rear_spring_energy_j,
    rear_wheel_load_n,
    sprung_load_n,
)
from setupadvisor.facts.valid_range import FloatArray

# Share of a hard landing that the dampers take while springs and air take the rest (common
# practice, no source: compression damping is set so that a hard landing just uses the travel).
DAMPED_SHARE = 0.5


def _sprung_load(
    machine: FloatArray,
    fuel: FloatArray,
    machine_ahead: FloatArray,
    wheelbase: FloatArray,
    rider_ahead: FloatArray,
    unsprung: FloatArray,
    rider: FloatArray,
    *,
    front: bool,
) -> FloatArray:
    machine_share, rider_share = machine_ahead / wheelbase, rider_ahead / wheelbase
    return sprung_load_n(
        machine + fuel,
        machine_share if front else 1.0 - machine_share,
        unsprung,
        rider,
        rider_share if front else 1.0 - rider_share,
    )


machine_linkage = remembered(linkage)
_front_load = partial(_sprung_load, front=True)
_rear_load = partial(_sprung_load, front=False)
_static_rear_load = partial(_sprung_load, front=False, rider=np.asarray(0.0))


def fork_of(
    rate: FloatArray,
    preload: FloatArray,
    stroke: FloatArray,
    column: FloatArray,
    bore: FloatArray,
    legs: FloatArray,
    exponent: FloatArray,
) -> Fork:
    """Put a fork together from a coil's rate and the columns of `FORK`.

    Parameters
    ----------
    rate : numpy.ndarray
        Rate of one leg's coil [N/mm].
    preload, stroke, column, bore : numpy.ndarray
        Preload, stroke, air column and bore [mm].
    legs : numpy.ndarray
        Legs with a coil.
    exponent : numpy.ndarray
        Polytropic exponent of the air.

    Returns
    -------
    Fork
        Bled of pressure at full extension.
    """
    return Fork(rate, preload, stroke, column, bore, spring_legs=legs, exponent=exponent)


def _fork_spring(
    load: FloatArray, sag: FloatArray, rake: FloatArray, preload: FloatArray, *rest: FloatArray
) -> FloatArray:
    unit = fork_of(np.asarray(1.0), preload, *rest)
    per_rate = coils(unit)[0] * (preload + possible_stroke_mm(sag, unit))
    return (load * axis_cosine(rake) - air_force_n(sag, unit)) / per_rate


def _shock_spring(
    load: FloatArray, sag: FloatArray, preload: FloatArray, travel: FloatArray, ratio: FloatArray
) -> FloatArray:
    return load / rear_wheel_load_n(sag, 1.0, preload, machine_linkage(travel, ratio))


def _static_sag(
    load: FloatArray, rate: FloatArray, preload: FloatArray, travel: FloatArray, ratio: FloatArray
) -> FloatArray:
    return rear_sag_mm(load, rate, preload, machine_linkage(travel, ratio))


def _front_margin(
    load: FloatArray,
    fall_height: FloatArray,
    rate: FloatArray,
    sag: FloatArray,
    preload: FloatArray,
    stroke: FloatArray,
    *rest: FloatArray,
) -> FloatArray:
    spring = fork_energy_j(sag, stroke, fork_of(rate, preload, stroke, *rest))
    return _margin(load, fall_height, stroke - sag, spring)


def _rear_margin(
    load: FloatArray,
    fall_height: FloatArray,
    rate: FloatArray,
    sag: FloatArray,
    preload: FloatArray,
    wheel_travel: FloatArray,
    travel: FloatArray,
    ratio: FloatArray,
) -> FloatArray:
    curve = machine_linkage(travel, ratio)
    spring = rear_spring_energy_j(sag, wheel_travel, rate, preload, curve)
    return _margin(load, fall_height, wheel_travel - sag, spring)


def _margin(
    load: FloatArray, fall_height: FloatArray, travel: FloatArray, spring: FloatArray
) -> FloatArray:
    mass = load / STANDARD_GRAVITY_M_S2
    needed = energy_to_absorb_j(landing_energy_j(mass, fall_height), mass, travel)
    return 1.0 + bottoming_margin(spring, needed, DAMPED_SHARE * needed)


def _outside_window(sag: FloatArray, low: FloatArray, high: FloatArray) -> FloatArray:
    return sag - np.minimum(np.maximum(sag, low), high)


_MASSES = (
    "machine.masses.machine_kg",
    "machine.masses.fuel_kg",
    "machine.geometry.centre_of_mass_to_rear_axle_mm",
    "machine.geometry.wheelbase_mm",
    "machine.geometry.rider_to_rear_axle_mm",
)
FORK = (
    "machine.house.fork_preload",
    "machine.fork.stroke_mm",
    "machine.fork.air_column_mm",
    "machine.fork.bore_mm",
    "machine.fork.legs_with_spring",
    "machine.fork.air_exponent",
)
FRONT_SAG, RAKE = "machine.fork.race_sag_mm", "machine.geometry.rake_deg"
REAR_SAG, STANDARD_PRELOAD = "machine.shock.race_sag_mm", "machine.shock.standard_preload_mm"
LINKAGE = ("machine.shock.curve_travel_mm", "machine.shock.motion_ratio")
_STATICS = "statics; moment balance"
_VIRTUAL_WORK = "virtual work through the linkage"

CHASSIS_FACTS = (
    entered("rider_mass_kg", "rider.mass_kg"),
    entered("rider_height_cm", "rider.height_cm"),
    entered("rider_skill", "rider.skill"),
    entered("clutch_hand", "rider.clutch_hand"),
    entered("throttle_hand", "rider.throttle_hand"),
    entered("braking_hand", "rider.braking"),
    entered("arm_pump", "rider.arm_pump"),
    Fact(
        "front_sprung_load_n",
        "Load on the fork springs, rider aboard",
        "N",
        50.0,
        2500.0,
        _front_load,
        (*_MASSES, "machine.masses.unsprung_front_kg", "rider.mass_kg"),
        "moment balance less the unsprung mass",
        _STATICS,
    ),
    Fact(
        "rear_sprung_load_n",
        "Load on the shock spring at the wheel, rider aboard",
        "N",
        50.0,
        3500.0,
        _rear_load,
        (*_MASSES, "machine.masses.unsprung_rear_kg", "rider.mass_kg"),
        "moment balance less the unsprung mass",
        _STATICS,
    ),
    Fact(
        "static_rear_sprung_load_n",
        "Load on the shock spring at the wheel, no rider",
        "N",
        20.0,
        2500.0,
        _static_rear_load,
        (*_MASSES, "machine.masses.unsprung_rear_kg"),
        "moment balance less the unsprung mass",
        _STATICS,
    ),
    Fact(
        "fork_spring_for_rider_n_per_mm",
        "Fork spring that gives the wanted sag under this rider",
        "N/mm",
        0.0,
        15.0,
        _fork_spring,
        ("front_sprung_load_n", FRONT_SAG, RAKE, *FORK),
        "coil and air carry the load at the wanted sag",
        "statics; polytropic air spring",
    ),
    Fact(
        "shock_spring_for_rider_n_per_mm",
        "Shock spring that gives the wanted sag under this rider",
        "N/mm",
        5.0,
        300.0,
        _shock_spring,
        ("rear_sprung_load_n", REAR_SAG, STANDARD_PRELOAD, *LINKAGE),
        _VIRTUAL_WORK,
        "statics; linkage curve of the machine file",
    ),
    Fact(
        "static_sag_mm",
        "Static sag that goes with that shock spring",
        "mm",
        0.0,
        150.0,
        _static_sag,
        (
            "static_rear_sprung_load_n",
            "shock_spring_for_rider_n_per_mm",
            STANDARD_PRELOAD,
            *LINKAGE,
        ),
        _VIRTUAL_WORK,
        "statics; linkage curve of the machine file",
    ),
    Fact(
        "static_sag_miss_mm",
        "Static sag above (below 0: under) its window with that spring",
        "mm",
        -90.0,
        150.0,
        _outside_window,
        ("static_sag_mm", "machine.shock.static_sag_low_mm", "machine.shock.static_sag_high_mm"),
        "distance to the machine's window; above it a softer spring with more preload fits both "
        "sags better, under it a stiffer one",
        "statics; window from the machine file",
    ),
    Fact(
        "front_bottoming_margin",
        "What the fork takes before the stop, over the hardest landing",
        "",
        0.0,
        60.0,
        _front_margin,
        (
            "front_sprung_load_n",
            "hardest_fall_height_m",
            "fork_spring_for_rider_n_per_mm",
            FRONT_SAG,
            *FORK,
        ),
        "energy of springs and air over energy of the landing; dampers take half",
        "energy balance; damped half: common practice, no source",
    ),
    Fact(
        "rear_bottoming_margin",
        "What the shock takes before the stop, over the hardest landing",
        "",
        0.0,
        60.0,
        _rear_margin,
        (
            "rear_sprung_load_n",
            "hardest_fall_height_m",
            "shock_spring_for_rider_n_per_mm",
            REAR_SAG,
            STANDARD_PRELOAD,
            "machine.shock.wheel_travel_mm",
            *LINKAGE,
        ),
        "energy of the spring over energy of the landing; dampers take half",
        "energy balance; damped half: common practice, no source",
    ),
)
