"""What a whole setup does to the motorcycle's stance: geometry and the limits of the start."""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np

from setupadvisor.advice.records import Together
from setupadvisor.entries.machine import Machine
from setupadvisor.facts.columns import Columns, columns_from_machine
from setupadvisor.facts.fork import Fork
from setupadvisor.facts.front_lock import launch_limits
from setupadvisor.facts.front_sag import front_sag_mm
from setupadvisor.facts.geometry import attitude, rear_ride_height_change_mm
from setupadvisor.facts.start_facts import STANCE, stance_at_start
from setupadvisor.facts.suspension import linkage, motion_ratio_at
from setupadvisor.facts.table import FactTable


def stance(
    machine: Machine, setup: Mapping[str, float], conditions: Columns, facts: FactTable
) -> dict[str, tuple[str, float]]:
    """Work out how the motorcycle stands with a setup.

    The machine file's geometry belongs to the house setup; what differs from it moves the frame.

    Parameters
    ----------
    machine : Machine
        The machine.
    setup : mapping of str to float
        Value by setting; a setting that is missing counts as at its house value.
    conditions : dict of str to numpy.ndarray
        One row's columns.
    facts : FactTable
        That row's facts.

    Returns
    -------
    dict of str to tuple of str and float
        Unit and value by name of the quantity.
    """
    constants = columns_from_machine(machine)
    missing = np.full(1, np.nan)
    reference, _ = stance_at_start(*(constants.get(p, conditions.get(p, missing)) for p in STANCE))

    def away(name: str) -> float:
        setting = machine.settings.get(name)
        if setting is None or name not in setup:
            return 0.0
        return setup[name] - setting.fixed_house

    curve = linkage(
        constants["machine.shock.curve_travel_mm"], constants["machine.shock.motion_ratio"]
    )
    ratio = motion_ratio_at(machine.shock.race_sag_mm, curve)
    rear = rear_ride_height_change_mm(away("shock_length"), ratio, away("race_sag"))
    moved = attitude(
        reference,
        fork_height_change_mm=away("fork_height"),
        front_sag_change_mm=_front_sag_change(machine, setup, facts),
        rear_ride_height_change_mm=rear,
        axle_position_change_mm=away("axle_position"),
    )
    found = {
        "Wheelbase": ("mm", moved.wheelbase_mm),
        "Rake": ("°", moved.rake_deg),
        "Trail": ("mm", moved.trail_mm),
        "Weight on the front wheel": ("%", 100.0 * moved.front_weight_share),
        "Swingarm angle": ("°", moved.swingarm_angle_deg),
    }
    depth = setup.get("start_lock_depth")
    if depth is not None:
        limits = launch_limits(
            reference._replace(
                rake_deg=moved.rake_deg,
                wheelbase_mm=moved.wheelbase_mm,
                centre_of_mass_to_rear_axle_mm=moved.centre_of_mass_to_rear_axle_mm,
                centre_of_mass_height_mm=moved.centre_of_mass_height_mm,
            ),
            depth,
            1.0,
            front_sag_mm=machine.fork.race_sag_mm,
        )
        found["Front lift limit at the start"] = ("m/s²", limits.wheelie_limit_m_s2)
    return {name: (unit, float(np.ravel(value)[0])) for name, (unit, value) in found.items()}


def _front_sag_change(machine: Machine, setup: Mapping[str, float], facts: FactTable) -> float:
    """Sag of the fork with this setup's springs, against the wanted sag; 0 where unknown."""
    load = facts["front_sprung_load_n"]
    if np.isnan(load).any() or "fork_spring" not in machine.settings:
        return 0.0

    def of(name: str, otherwise: float) -> float:
        setting = machine.settings.get(name)
        return setup.get(name, setting.fixed_house if setting else otherwise)

    oil = machine.settings.get("fork_oil_level")
    lower = (of("fork_oil_level", 0.0) - oil.fixed_house) if oil else 0.0
    fork = Fork(
        of("fork_spring", 0.0),
        of("fork_preload", 0.0),
        machine.fork.stroke_mm,
        machine.fork.air_column_mm + lower,
        machine.fork.bore_mm,
        air_gauge_pressure_kpa=of("fork_air", 0.0),
        spring_legs=machine.fork.legs_with_spring,
        exponent=machine.fork.air_exponent,
    )
    sag = front_sag_mm(load, fork, machine.geometry.rake_deg)
    return float(sag[0]) - machine.fork.race_sag_mm


def together(
    machine: Machine,
    before: Mapping[str, float],
    after: Mapping[str, float],
    conditions: Columns,
    facts: FactTable,
) -> tuple[Together, ...]:
    """Compare the motorcycle's stance before and after the changes.

    Parameters
    ----------
    machine : Machine
        The machine.
    before, after : mapping of str to float
        Value by setting.
    conditions : dict of str to numpy.ndarray
        One row's columns.
    facts : FactTable
        That row's facts.

    Returns
    -------
    tuple of Together
        Wheelbase, rake, trail, weight split, swingarm angle, front lift limit.
    """
    old, new = (stance(machine, setup, conditions, facts) for setup in (before, after))
    return tuple(
        Together(name, unit, value, new[name][1])
        for name, (unit, value) in old.items()
        if name in new
    )
