"""From entries to columns: the arrays the facts are calculated from."""

from __future__ import annotations

import math
from collections.abc import Mapping
from functools import cache
from typing import Any

import numpy as np

from setupadvisor.entries.machine import Machine
from setupadvisor.entries.quantity import Entry, EntryField, Word, entry_fields
from setupadvisor.entries.rider import Rider
from setupadvisor.entries.walk import Walk
from setupadvisor.facts.valid_range import FloatArray

Columns = dict[str, FloatArray]


@cache
def condition_fields() -> dict[str, EntryField]:
    """List every entered condition that facts can read: walk and rider, numbers and words.

    Returns
    -------
    dict of str to EntryField
        By path, in the entries' order.

    Examples
    --------
    >>> condition_fields()["walk.ground.cone_index_kpa"].key
    'ground.cone_index'
    """
    fields = {**entry_fields(Walk, "walk"), **entry_fields(Rider, "rider")}
    return {
        path: field
        for path, field in fields.items()
        if field.kind is not None and not path.startswith("walk.later.")  # a plan, not a condition
    }


def columns_from_entries(walk: Walk | None, rider: Rider | None) -> Columns:
    """Lay one walk and one rider out as columns of length one.

    Parameters
    ----------
    walk : Walk or None
        The walk.
    rider : Rider or None
        The rider.

    Returns
    -------
    dict of str to numpy.ndarray
        Only what was entered; words as their place in the field's list; fields inside a list
        have shape (1, places).

    Examples
    --------
    >>> rider = Rider.model_validate({"name": "north", "mass": "180 lb"})
    >>> columns_from_entries(None, rider)["rider.mass_kg"].round(1).tolist()
    [81.6]
    """
    columns: Columns = {}
    for path, field in condition_fields().items():
        entry: Entry | None = walk if path.startswith("walk.") else rider
        value = _follow(entry, path.split(".")[1:])
        if isinstance(value, list):
            numbers = [_number(item, field) for item in value]
            if any(number == number for number in numbers):  # noqa: PLR0124 - any not NaN
                columns[path] = np.array([numbers])
        elif value is not None:
            columns[path] = np.array([_number(value, field)])
    return columns


def columns_from_machine(machine: Machine) -> Columns:
    """Lay a machine out as constants: numbers without a shape, curves as one-dimensional arrays.

    Parameters
    ----------
    machine : Machine
        The machine.

    Returns
    -------
    dict of str to numpy.ndarray
        By path; what the file leaves out is missing here too. ``machine.house.NAME`` is the house
        value of a setting, before any formula.
    """
    columns: Columns = {}
    for path in entry_fields(Machine, "machine"):
        if path.startswith("machine.settings."):
            continue
        value = _follow(machine, path.split(".")[1:])
        if isinstance(value, int | float | list):
            columns[path] = np.asarray(value, dtype=np.float64)
    for name, setting in machine.settings.items():
        columns[f"machine.house.{name}"] = np.asarray(setting.fixed_house)
    return columns


def joined(
    columns: Mapping[str, FloatArray], count: int, changes: Mapping[str, FloatArray]
) -> Columns:
    """Repeat one row `count` times with some columns replaced, to ask many what-ifs at once.

    Parameters
    ----------
    columns : mapping of str to numpy.ndarray
        Columns of length one.
    count : int
        How many rows.
    changes : mapping of str to numpy.ndarray, shape (count,) or (count, places)
        Values where they differ; NaN keeps the row's own value.

    Returns
    -------
    dict of str to numpy.ndarray
        Columns of length `count`.
    """
    result: Columns = {}
    for path in {**columns, **changes}:
        own = columns.get(path)
        shape = (count, *((own if own is not None else changes[path]).shape[1:]))
        repeated = np.full(shape, math.nan) if own is None else np.broadcast_to(own, shape)
        changed = changes.get(path)
        result[path] = (
            np.array(repeated)
            if changed is None
            else np.where(np.isnan(changed), repeated, changed)
        )
    return result


def _follow(entry: Any, parts: list[str]) -> Any:
    for place, part in enumerate(parts):
        if entry is None:
            return None
        if isinstance(entry, list):
            return [_follow(item, parts[place:]) for item in entry]
        entry = getattr(entry, part)
    return entry


def _number(value: Any, field: EntryField) -> float:
    if value is None:
        return math.nan
    if isinstance(field.kind, Word):
        return float(field.kind.choices.index(value))
    return float(value)
