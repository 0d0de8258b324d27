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
    front_wheel_rate_n_per_mm,
    possible_stroke_mm,
)
from setupadvisor.facts.landings import landing_energy_j
from setupadvisor.facts.rear_sag import rear_sag_mm
from setupadvisor.facts.remembered import remembered
from setupadvisor.facts.springs import natural_frequency_hz
from setupadvisor.facts.suspension import (
    STANDARD_GRAVITY_M_S2,
    bottoming_margin,
    energy_to_absorb_j,
    linkage,
    rear_spring_energy_j,
    rear_wheel_load_n,
    rear_wheel_rate_n_per_mm,
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


_linkage = remembered(linkage)
_front_load = partial(_sprung_load, front=True)
_rear_load = partial(_sprung_load, front=False)
_static_rear_load = partial(_sprung_load, front=False, rider=np.asarray(0.0))


def _fork(
    rate: FloatArray,
    preload: FloatArray,
    stroke: FloatArray,
    column: FloatArray,
    bore: FloatArray,
    legs: FloatArray,
    exponent: FloatArray,
) -> Fork:
    return Fork(rate, preload, stroke, column, bore, spring_legs=legs, exponent=exponent)


def _fork_spring(
    load: FloatArray, sag: FloatArray, rake: FloatArray, preload: FloatArray, *rest: FloatArray
) -> FloatArray:
    unit = _fork(np.asarray(1.0), preload, *rest)
    per_rate = coils(unit)[0] * (preload + possible_stroke_mm(sag, unit))
    return (load * axis_cosine(rake) - air_force_n(sag, unit)) / per_rate


def _shock_spring(
    load: FloatArray, sag: FloatArray, preload: FloatArray, travel: FloatArray, ratio: FloatArray
) -> FloatArray:
    return load / rear_wheel_load_n(sag, 1.0, preload, _linkage(travel, ratio))


def _static_sag(
    load: FloatArray, rate: FloatArray, preload: FloatArray, travel: FloatArray, ratio: FloatArray
) -> FloatArray:
    return rear_sag_mm(load, rate, preload, _linkage(travel, ratio))


def _front_margin(
    load: FloatArray,
    fall_height: FloatArray,
    rate: FloatArray,
    sag: FloatArray,
    preload: FloatArray,
    stroke: FloatArray,
    *rest: FloatArray,
) -> FloatArray:
    spring = fork_energy_j(sag, stroke, _fork(rate, preload, stroke, *rest))
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
    curve = _linkage(travel, ratio)
    spring = rear_spring_energy_j(sag, wheel_travel, rate, preload, curve)
    return _margin(load, fall_height, wheel_travel - sag, spring)


def _margin(
    load: FloatArray, fall_height: FloatArray, travel: FloatArray, spring: FloatArray
) -> FloatArray:
    mass = load / STANDARD_GRAVITY_M_S2
    needed = energy_to_absorb_j(landing_energy_j(mass, fall_height), mass, travel)
    return 1.0 + bottoming_margin(spring, needed, DAMPED_SHARE * needed)


def _front_frequency(
    load: FloatArray, sag: FloatArray, rake: FloatArray, rate: FloatArray, *rest: FloatArray
) -> FloatArray:
    wheel_rate = front_wheel_rate_n_per_mm(sag, _fork(rate, *rest), rake)
    return natural_frequency_hz(wheel_rate, load / STANDARD_GRAVITY_M_S2)


def _rear_frequency(
    load: FloatArray,
    sag: FloatArray,
    rate: FloatArray,
    preload: FloatArray,
    travel: FloatArray,
    ratio: FloatArray,
) -> FloatArray:
    wheel_rate = rear_wheel_rate_n_per_mm(sag, rate, preload, _linkage(travel, ratio))
    return natural_frequency_hz(wheel_rate, load / STANDARD_GRAVITY_M_S2)


def _whoops_to_body(whoops: FloatArray, body: FloatArray) -> FloatArray:
    return whoops / body


_MASSES = (
    "machine.masses.machine_kg",
    "machine.masses.fuel_kg",
    "machine.geometry.centre_of_mass_to_rear_axle_mm",
    "machine.geometry.wheelbase_mm",
    "machine.geometry.rider_to_rear_axle_mm",
)
_FORK = (
    "machine.house.fork_preload",
    "machine.fork.stroke_mm",
    "machine.fork.air_column_mm",
    "machine.fork.bore_mm",
    "machine.fork.legs_with_spring",
    "machine.fork.air_exponent",
)
_FRONT_SAG, _RAKE = "machine.fork.race_sag_mm", "machine.geometry.rake_deg"
_REAR_SAG, _PRELOAD = "machine.shock.race_sag_mm", "machine.shock.standard_preload_mm"
_CURVE = ("machine.shock.curve_travel_mm", "machine.shock.motion_ratio")
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
        ("front_sprung_load_n", _FRONT_SAG, _RAKE, *_FORK),
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
        ("rear_sprung_load_n", _REAR_SAG, _PRELOAD, *_CURVE),
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
        ("static_rear_sprung_load_n", "shock_spring_for_rider_n_per_mm", _PRELOAD, *_CURVE),
        _VIRTUAL_WORK,
        "statics; linkage curve of the machine file",
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
            _FRONT_SAG,
            *_FORK,
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
            _REAR_SAG,
            _PRELOAD,
            "machine.shock.wheel_travel_mm",
            *_CURVE,
        ),
        "energy of the spring over energy of the landing; dampers take half",
        "energy balance; damped half: common practice, no source",
    ),
    Fact(
        "front_frequency_hz",
        "Ride frequency of the front",
        "Hz",
        0.5,
        6.0,
        _front_frequency,
        (
            "front_sprung_load_n",
            _FRONT_SAG,
            _RAKE,
            "fork_spring_for_rider_n_per_mm",
            *_FORK,
        ),
        "undamped natural frequency at race sag",
        "Den Hartog, Mechanical Vibrations (from memory)",
    ),
    Fact(
        "rear_frequency_hz",
        "Ride frequency of the rear",
        "Hz",
        0.5,
        6.0,
        _rear_frequency,
        (
            "rear_sprung_load_n",
            _REAR_SAG,
            "shock_spring_for_rider_n_per_mm",
            _PRELOAD,
            *_CURVE,
        ),
        "undamped natural frequency at race sag",
        "Den Hartog, Mechanical Vibrations (from memory)",
    ),
    Fact(
        "whoop_to_rear_frequency",
        "Whoop frequency over the rear's ride frequency",
        "",
        0.05,
        40.0,
        _whoops_to_body,
        ("whoop_frequency_hz", "rear_frequency_hz"),
        "ratio of frequencies; near 1 the rear is thrown higher with each whoop",
        "single-degree-of-freedom vibration",
    ),
)
