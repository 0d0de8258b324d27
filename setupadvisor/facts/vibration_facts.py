"""Facts about vibration: ride frequencies, hopping wheels, damping, and the whoops against them."""

from __future__ import annotations

import numpy as np

from setupadvisor.facts.chassis_facts import (
    FORK,
    FRONT_SAG,
    LINKAGE,
    RAKE,
    REAR_SAG,
    STANDARD_PRELOAD,
    fork_of,
    machine_linkage,
)
from setupadvisor.facts.damping import damping_ratio, wheel_damping_n_s_per_m
from setupadvisor.facts.fact import Fact
from setupadvisor.facts.fork import axis_cosine, front_wheel_rate_n_per_mm
from setupadvisor.facts.springs import natural_frequency_hz
from setupadvisor.facts.suspension import STANDARD_GRAVITY_M_S2, rear_wheel_rate_n_per_mm
from setupadvisor.facts.valid_range import FloatArray

# Upright stiffness of a knobbly tyre at race pressure (common practice, no source); half as much
# again moves the wheel's frequency by a fifth.
TYRE_RATE_N_PER_MM = 100.0


def _front_frequency(
    load: FloatArray, sag: FloatArray, rake: FloatArray, rate: FloatArray, *rest: FloatArray
) -> FloatArray:
    wheel_rate = front_wheel_rate_n_per_mm(sag, fork_of(rate, *rest), rake)
    return natural_frequency_hz(wheel_rate, load / STANDARD_GRAVITY_M_S2)


def _rear_frequency(
    load: FloatArray,
    sag: FloatArray,
    rate: FloatArray,
    preload: FloatArray,
    travel: FloatArray,
    ratio: FloatArray,
) -> FloatArray:
    wheel_rate = rear_wheel_rate_n_per_mm(sag, rate, preload, machine_linkage(travel, ratio))
    return natural_frequency_hz(wheel_rate, load / STANDARD_GRAVITY_M_S2)


def _front_damping(
    damping: FloatArray,
    load: FloatArray,
    sag: FloatArray,
    rake: FloatArray,
    rate: FloatArray,
    *rest: FloatArray,
) -> FloatArray:
    at_wheel = wheel_damping_n_s_per_m(damping, 1.0 / axis_cosine(rake))
    wheel_rate = front_wheel_rate_n_per_mm(sag, fork_of(rate, *rest), rake)
    return damping_ratio(at_wheel, wheel_rate, load / STANDARD_GRAVITY_M_S2)


def _wheel_frequency(body: FloatArray, load: FloatArray, unsprung: FloatArray) -> FloatArray:
    # The body's frequency and mass give the wheel rate back; the tyre stands beside it.
    wheel_rate = (2.0 * np.pi * body) ** 2 * load / STANDARD_GRAVITY_M_S2 * 1e-3
    return natural_frequency_hz(TYRE_RATE_N_PER_MM + wheel_rate, unsprung)


def _whoops_to_wheels(whoops: FloatArray, front: FloatArray, rear: FloatArray) -> FloatArray:
    return whoops / np.minimum(front, rear)


def _whoops_to_body(whoops: FloatArray, body: FloatArray) -> FloatArray:
    return whoops / body


VIBRATION_FACTS = (
    Fact(
        "front_frequency_hz",
        "Ride frequency of the front",
        "Hz",
        0.5,
        6.0,
        _front_frequency,
        (
            "front_sprung_load_n",
            FRONT_SAG,
            RAKE,
            "fork_spring_for_rider_n_per_mm",
            *FORK,
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
            REAR_SAG,
            "shock_spring_for_rider_n_per_mm",
            STANDARD_PRELOAD,
            *LINKAGE,
        ),
        "undamped natural frequency at race sag",
        "Den Hartog, Mechanical Vibrations (from memory)",
    ),
    Fact(
        "front_damping_ratio",
        "Low-speed damping of the fork over critical",
        "",
        0.0,
        10.0,
        _front_damping,
        (
            "machine.fork.damping_low_speed",
            "front_sprung_load_n",
            FRONT_SAG,
            RAKE,
            "fork_spring_for_rider_n_per_mm",
            *FORK,
        ),
        "damping over twice the root of wheel rate times mass, at race sag",
        "Rao, Mechanical Vibrations, ch. 2 (from memory)",
    ),
    *(
        Fact(
            f"{end}_wheel_frequency_hz",
            f"Frequency at which the {end} wheel hops",
            "Hz",
            2.0,
            60.0,
            _wheel_frequency,
            (
                f"{end}_frequency_hz",
                f"{end}_sprung_load_n",
                f"machine.masses.unsprung_{end}_kg",
            ),
            "unsprung mass between tyre and spring, the body at rest",
            "Den Hartog, Mechanical Vibrations (from memory); tyre: common practice, no source",
        )
        for end in ("front", "rear")
    ),
    *(
        Fact(
            f"whoop_to_{end}_frequency",
            f"Whoop frequency over the {end}'s ride frequency",
            "",
            0.05,
            40.0,
            _whoops_to_body,
            ("whoop_frequency_hz", f"{end}_frequency_hz"),
            f"ratio of frequencies; near 1 the {end} is thrown higher with each whoop",
            "single-degree-of-freedom vibration",
        )
        for end in ("front", "rear")
    ),
    Fact(
        "whoop_to_wheel_frequency",
        "Whoop frequency over that at which a wheel hops",
        "",
        0.005,
        20.0,
        _whoops_to_wheels,
        ("whoop_frequency_hz", "front_wheel_frequency_hz", "rear_wheel_frequency_hz"),
        "ratio to the slower wheel; near 1 the wheels leave the ground whatever the body does",
        "single-degree-of-freedom vibration",
    ),
)
