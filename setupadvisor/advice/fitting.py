"""Fitting wishes to what can be set: steps, ranges, the shelf, and the chain that ties it all."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np

from setupadvisor.entries.machine import Machine, Setting
from setupadvisor.facts.sprockets import (
    Combination,
    SprocketTable,
    best_combinations,
    sprocket_table,
)

DRIVE_SETTINGS = ("front_sprocket", "rear_sprocket", "chain_links", "axle_position")
# Another front sprocket wears the chain in a tighter bend and is more work than a rear one: as
# much as 1.5 % of ratio for each tooth (common practice, no source).
FRONT_TOOTH_COST = 1.5
MOST_COMBINATIONS = 200
# The dust of adding up, as a share of a step: single precision and the order of sums move a wish by
# less, and steps are often hit exactly.
SAME_PLACE = 1e-6


@dataclass(frozen=True)
class DriveChoice:
    """The sprockets, chain and axle position that serve the wishes best, and the next best.

    Parameters
    ----------
    wanted_final_drive : float
        Rear over front teeth, as wished.
    wanted_axle_position_mm : float
        As wished.
    best, runner_up : Combination or None
        None where no combination fits the slot.
    """

    wanted_final_drive: float
    wanted_axle_position_mm: float
    best: Combination | None
    runner_up: Combination | None


def fit(setting: Setting, wish: float, fitted: float | None = None) -> float:
    """Fit a wish to the nearest value that can be set.

    Parameters
    ----------
    setting : Setting
        The setting with its steps, shelf or names.
    wish : float
        Any number.
    fitted : float, optional
        What is on the motorcycle: of two values equally near the one nearer to it is taken.

    Returns
    -------
    float
        A value of the setting; the higher one when two are equally near and nothing is fitted.

    Raises
    ------
    ValueError
        If the wish is missing.

    Examples
    --------
    >>> clicks = Setting.model_validate({
    ...     "title": "Clicks", "group": "Fork", "unit": "clicks", "range": [2, 24], "step": 1,
    ...     "up": "softer", "down": "stiffer", "house": 12, "minutes": 1, "tools": [], "order": 1,
    ...     "check": "count", "undo": "back"})
    >>> fit(clicks, 13.4), fit(clicks, 99.0)
    (13.0, 24.0)
    """
    if math.isnan(wish):
        raise ValueError("a wish that is missing cannot be fitted")
    if setting.step is not None and setting.low is not None:
        inside = min(max(wish, setting.lowest), setting.highest)
        below = math.floor((inside - setting.low) / setting.step + SAME_PLACE)
        near = [
            min(round(setting.low + place * setting.step, 9), setting.highest)
            for place in (below, below + 1)
        ]
    else:
        near = list(setting.values)
    nearest = min(abs(value - wish) for value in near)
    tied = [value for value in near if abs(value - wish) <= nearest + same_place(setting)]
    return max(tied) if fitted is None else min(tied, key=lambda value: abs(value - fitted))


def same_place(setting: Setting) -> float:
    """Say how near two numbers of a setting are that are one and the same.

    Parameters
    ----------
    setting : Setting
        The setting.

    Returns
    -------
    float
        A millionth of its step, or of the smallest gap on its shelf.
    """
    if setting.step is not None:
        return SAME_PLACE * setting.step
    gaps = np.diff(setting.values)
    return SAME_PLACE * float(gaps.min()) if len(gaps) else SAME_PLACE


def fit_all(
    machine: Machine,
    wishes: Mapping[str, float],
    on_bike: Mapping[str, float] | None = None,
) -> tuple[dict[str, float], DriveChoice | None]:
    """Fit all wishes; sprockets, chain and axle position are one choice.

    Parameters
    ----------
    machine : Machine
        The machine with its settings.
    wishes : mapping of str to float
        Wished value by setting.
    on_bike : mapping of str to float, optional
        What is on the motorcycle, as far as it is known.

    Returns
    -------
    tuple of dict of str to float, and DriveChoice or None
        Fitted value by setting; the choice of the drive where the machine has all four settings.
    """
    known = on_bike or {}
    fitted = {
        name: fit(machine.settings[name], wish, known.get(name)) for name, wish in wishes.items()
    }
    if not all(name in wishes for name in DRIVE_SETTINGS):
        return fitted, None
    choice = choose_drive(machine, wishes)
    if choice.best is not None:
        fitted |= {
            "front_sprocket": float(choice.best.front_teeth),
            "rear_sprocket": float(choice.best.rear_teeth),
            "chain_links": float(choice.best.links),
            "axle_position": fit(
                machine.settings["axle_position"], float(choice.best.axle_position_mm)
            ),
        }
    return fitted, choice


def choose_drive(machine: Machine, wishes: Mapping[str, float]) -> DriveChoice:
    """Choose sprockets, chain and axle position together.

    Parameters
    ----------
    machine : Machine
        The machine: its shelf of sprockets and chains and the axle slot.
    wishes : mapping of str to float
        Wished `front_sprocket`, `rear_sprocket` and `axle_position`.

    Returns
    -------
    DriveChoice
        The best combination and the runner-up.
    """
    final_drive = wishes["rear_sprocket"] / wishes["front_sprocket"]
    position = wishes["axle_position"]
    table = drive_table(machine)
    house = machine.settings["front_sprocket"].fixed_house
    ranked = sorted(
        best_combinations(table, final_drive, position, how_many=MOST_COMBINATIONS),
        key=lambda found: found.cost + FRONT_TOOTH_COST * abs(found.front_teeth - house),
    )
    return DriveChoice(
        final_drive,
        position,
        ranked[0] if ranked else None,
        ranked[1] if len(ranked) > 1 else None,
    )


def drive_table(machine: Machine) -> SprocketTable:
    """List the combinations of sprockets and chain on a machine's shelf.

    Parameters
    ----------
    machine : Machine
        The machine with the four settings of its drive.

    Returns
    -------
    SprocketTable
        One row a combination, also those that its axle slot does not allow.
    """
    settings = machine.settings
    return sprocket_table(
        np.array(settings["front_sprocket"].values),
        np.array(settings["rear_sprocket"].values),
        machine.drive.centre_distance_at_slot_front_mm,
        min(machine.drive.slot_length_mm, settings["axle_position"].highest),
        links=np.array(settings["chain_links"].values),
        pitch_mm=machine.drive.chain_pitch_mm,
    )


def settable_range(setting: Setting, low: float, high: float) -> tuple[float, float]:
    """Widen a range to the nearest values that can be set.

    Parameters
    ----------
    setting : Setting
        The setting.
    low, high : float
        The range.

    Returns
    -------
    tuple of float
        Values of the setting at or outside the range, as far as there are any.
    """
    values, dust = setting.values, same_place(setting)
    below = [value for value in values if value <= low + dust]
    above = [value for value in values if value >= high - dust]
    return (max(below) if below else values[0]), (min(above) if above else values[-1])
