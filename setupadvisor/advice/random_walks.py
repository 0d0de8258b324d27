"""Random walks, and their facts at several points of one entry."""

from __future__ import annotations

import warnings
from typing import Any

import numpy as np

from setupadvisor.advice.workshop import Workshop
from setupadvisor.entries.quantity import Quantity, Word
from setupadvisor.errors import OutsideValidRange
from setupadvisor.facts.catalogue import FACTS
from setupadvisor.facts.columns import Columns, condition_fields
from setupadvisor.facts.table import PLACE, FactTable
from setupadvisor.facts.valid_range import FloatArray

JUMPS = 4
SHARE_NOT_ENTERED = 0.05
# Entries that only a statement about them gives: they would contradict the texture class, or
# stand for it.
_NOT_DRAWN = (
    "walk.ground.strength.",
    "walk.ground.ribbon_",
    "walk.ground.sand_pct",
    "walk.ground.silt_pct",
    "walk.ground.clay_pct",
)


def random_walks(how_many: int, random: np.random.Generator) -> Columns:
    """Draw walks and riders as they can be entered, plausible or not together.

    Parameters
    ----------
    how_many : int
        Rows.
    random : numpy.random.Generator
        Where chance comes from.

    Returns
    -------
    dict of str to numpy.ndarray
        Numbers evenly over what is met in practice, words evenly; here and there nothing.
    """
    columns: Columns = {}
    for path, field in condition_fields().items():
        if path.startswith(_NOT_DRAWN):
            continue
        shape = (how_many, JUMPS) if field.listed else (how_many,)
        kind = field.kind
        if isinstance(kind, Word):
            values = random.integers(0, len(kind.choices), shape).astype(np.float64)
        elif isinstance(kind, Quantity):
            values = random.uniform(kind.plausible[0], kind.plausible[-1], shape)
            values = np.round(values) if kind.whole else values
        columns[path] = np.where(random.random(shape) < SHARE_NOT_ENTERED, np.nan, values)
    return columns


def facts_along(
    workshop: Workshop, base: FactTable, conditions: Columns, path: str, points: FloatArray
) -> FactTable:
    """Calculate anew only what depends on one entry or fact, at several points of it.

    Parameters
    ----------
    workshop : Workshop
        Gives the machine's constants.
    base : FactTable
        Facts of the rows as they are.
    conditions : dict of str to numpy.ndarray
        The rows' columns.
    path : str
        The entry's path, or the fact's name.
    points : numpy.ndarray, shape (rows, points)
        Its values.

    Returns
    -------
    FactTable
        The points of the first row, then those of the second, and so on.
    """
    each = points.shape[1]
    column: FloatArray = points.ravel()
    repeated: dict[str, FloatArray] = {}
    values = np.repeat(base.values, each, axis=1)
    shared: dict[Any, Any] = {}
    if path in PLACE:
        values[PLACE[path]] = column
    elif condition_fields()[path].listed:
        # The first of the list is moved, the others stay.
        column = np.repeat(conditions[path], each, axis=0)
        column[:, 0] = points.ravel()
    repeated[path] = column
    changed = {path}

    def known(name: str) -> FloatArray:
        if name in PLACE and name not in repeated:
            row: FloatArray = values[PLACE[name]]
            return row
        if name not in repeated:
            constant = workshop.constants.get(name)
            own = conditions.get(name)
            missing = np.full(points.size, np.nan)
            below: FloatArray = missing if own is None else np.repeat(own, each, axis=0)
            repeated[name] = below if constant is None else constant
        return repeated[name]

    with warnings.catch_warnings():
        warnings.simplefilter("ignore", OutsideValidRange)
        for name, fact in FACTS.items():
            if name in changed or not changed & set(fact.inputs):
                continue
            changed.add(name)
            machine = (path for path in fact.inputs if path.startswith("machine."))
            if all(path in workshop.constants for path in machine):
                key = (fact.function, fact.inputs)
                if key not in shared:
                    shared[key] = fact.function(*map(known, fact.inputs))
                values[PLACE[name]] = shared[key] if fact.part is None else shared[key][fact.part]
    return FactTable(values, ())
