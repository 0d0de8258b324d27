"""A walk later in the day: the ground dried or watered, and what was planned for that time."""

from __future__ import annotations

import re

import numpy as np

from setupadvisor.entries import words
from setupadvisor.entries.units import NotThisUnit, convert
from setupadvisor.entries.walk import Later, Walk
from setupadvisor.errors import InputError, Mistake
from setupadvisor.facts.columns import Columns
from setupadvisor.facts.through_the_day import later

_DURATION = re.compile(r"\s*\+?\s*(\d+(?:\.\d+)?)\s*([a-zA-Z]+)\s*")
# What a plan may say of the ground then, and the column it stands for.
_PLANNED = {
    "temperature_c": "walk.air.temperature_c",
    "rut_depth_mm": "walk.ground.rut_depth_mm",
    "braking_bump_height_mm": "walk.ground.braking_bump_height_mm",
    "loose_depth_mm": "walk.ground.loose_depth_mm",
}


def later_in_the_day(
    walk: Walk, conditions: Columns, at: str, source: str
) -> tuple[Columns, tuple[str, ...]]:
    """Change a walk's conditions to a later time.

    Parameters
    ----------
    walk : Walk
        The walk, with its plans under `later`.
    conditions : dict of str to numpy.ndarray
        Its columns, one row.
    at : str
        The name of a plan, or how long after the walk: ``3 h``.
    source : str
        The walk's file, for messages.

    Returns
    -------
    tuple of dict and tuple of str
        The changed columns, and notes for the cautions.

    Raises
    ------
    InputError
        If there is no such plan and it is no time.
    """
    plan = _plan(walk, at, source)
    changed = later(
        conditions,
        plan.after_min / 60.0,
        watering_mm=plan.watering_mm,
        rain_mm=plan.rain_mm,
        sky=plan.sky,
    )
    columns = dict(changed.conditions)
    for name, path in _PLANNED.items():
        value = getattr(plan, name)
        if value is not None:
            columns[path] = np.array([value])
    if plan.wear is not None:
        columns["walk.ground.wear"] = np.array([float(words.WEARS.index(plan.wear))])
    told = f"The ground at {plan.at} is reckoned from the walk, not seen: look again before then."
    return columns, (told, *changed.notes)


def _plan(walk: Walk, at: str, source: str) -> Later:
    plans = {plan.at.lower(): plan for plan in walk.later or ()}
    if at.strip().lower() in plans:
        return plans[at.strip().lower()]
    match = _DURATION.fullmatch(at)
    if match:
        try:
            minutes = convert(float(match[1]), match[2], "min")
        except NotThisUnit:
            minutes = -1.0
        if 0 <= minutes <= 1440:
            return Later.model_validate({"at": at.strip(), "after": minutes})
    known = ", ".join(repr(plan.at) for plan in walk.later or ()) or "none"
    raise InputError(
        Mistake(
            f"{source} later",
            f"there is no time {at!r} (planned: {known})",
            "add it under `later` with `at` and `after`, or give a time such as --at '3 h'",
        )
    )
