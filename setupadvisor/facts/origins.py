"""Which entries a fact came from: inputs are taken away and nudged, and the formula is watched.

So no formula has to say which of its inputs it used and which it could do without.
"""

from __future__ import annotations

import warnings
from collections.abc import Callable, Mapping
from typing import Any

import numpy as np

from setupadvisor.entries.quantity import Quantity
from setupadvisor.errors import OutsideValidRange
from setupadvisor.facts.catalogue import FACTS
from setupadvisor.facts.columns import Columns, condition_fields
from setupadvisor.facts.fact import Fact
from setupadvisor.facts.table import FactTable
from setupadvisor.facts.valid_range import FloatArray

# Small enough to stay possible, large enough to be seen.
_NUDGE = 0.01
_TRIALS = 3
_Kept = dict[tuple[Callable[..., Any], str], Any]


def origins(
    conditions: Mapping[str, FloatArray], constants: Columns, found: FactTable
) -> dict[str, frozenset[str]]:
    """Find the entries that each fact of one walk came from.

    Parameters
    ----------
    conditions : mapping of str to numpy.ndarray, shape (1,) or (1, places)
        One walk's columns.
    constants : dict of str to numpy.ndarray
        The machine's columns.
    found : FactTable
        The walk's facts.

    Returns
    -------
    dict of str to frozenset of str
        Paths of walk, rider and machine by fact; none for a missing fact. What a better entry
        stood in for is not among them.

    Examples
    --------
    >>> from setupadvisor.facts.table import facts_from
    >>> pressure, elevation = "walk.air.pressure_kpa", "walk.air.elevation_m"
    >>> walk = {pressure: np.array([98.0]), elevation: np.array([300.0])}
    >>> sorted(origins(walk, {}, facts_from(walk, {}))["air_pressure_kpa"])
    ['walk.air.pressure_kpa']
    """
    known: dict[str, FloatArray] = {**constants, **conditions}
    kept: _Kept = {}
    result: dict[str, frozenset[str]] = {}
    with warnings.catch_warnings():
        warnings.simplefilter("ignore", OutsideValidRange)
        for name, fact in FACTS.items():
            came_from: set[str] = set()
            if not np.isnan(found[name]).any():
                for path in used_inputs(fact, known, kept):
                    came_from |= result.get(path, {path})
            result[name] = frozenset(came_from)
            known[name] = found[name]
    return result


def used_inputs(
    fact: Fact, known: Mapping[str, FloatArray], kept: _Kept | None = None
) -> list[str]:
    """Find the inputs without which, or with more or less of which, a fact is another.

    Parameters
    ----------
    fact : Fact
        The fact.
    known : mapping of str to numpy.ndarray, shape (1,) or (1, places)
        What is known of its inputs; the machine's as they are.
    kept : dict, optional
        Where results that facts of one function share are kept between calls for one walk.

    Returns
    -------
    list of str
        Among the fact's inputs.

    Examples
    --------
    >>> jump = {
    ...     "walk.jumps.gap_m": np.array([[8.0]]),
    ...     "walk.jumps.take_off_angle_deg": np.array([[25.0]]),
    ...     "walk.jumps.landing": np.array([[1.0]]),
    ... }
    >>> used_inputs(FACTS["longest_gap_m"], jump)
    ['walk.jumps.gap_m']
    """
    kept = {} if kept is None else kept
    moving = [
        path
        for path in fact.inputs
        if not path.startswith("machine.") and not np.isnan(known.get(path, np.nan)).all()
    ]
    rows = 1 + _TRIALS * len(moving)
    inputs = {path: _repeated(path, known, rows) for path in fact.inputs}
    for place, path in enumerate(moving):
        begin = 1 + _TRIALS * place
        inputs[path][begin : begin + _TRIALS] = _instead(path, inputs[path][0])
    given = _given(fact, inputs, rows)
    used = [
        path
        for place, path in enumerate(moving)
        if _differs(given[1 + _TRIALS * place :][:_TRIALS], given[0])
    ]
    constants = [path for path in fact.inputs if path.startswith("machine.")]
    if fact.part is None:
        return [*used, *constants]
    # A function that gives several facts does not need all of its constants for each.
    alone = {path: _repeated(path, known, 1) for path in fact.inputs}
    for path in constants:
        key = (fact.function, path)
        if key not in kept:
            less = {**alone, path: alone[path] * (1.0 - _NUDGE)}
            kept[key] = fact.function(*(less[other] for other in fact.inputs))
        if _differs(np.asarray(kept[key][fact.part]), given[0]):
            used.append(path)
    return used


def _repeated(path: str, known: Mapping[str, FloatArray], rows: int) -> FloatArray:
    if path.startswith("machine."):
        return known[path]
    return np.repeat(known[path], rows, axis=0) if path in known else np.full(rows, np.nan)


def _given(fact: Fact, inputs: Mapping[str, FloatArray], rows: int) -> FloatArray:
    result = fact.function(*(inputs[path] for path in fact.inputs))
    return np.broadcast_to(result if fact.part is None else result[fact.part], (rows,))


def _instead(path: str, value: FloatArray) -> FloatArray:
    """Make values to try instead: none, a little less, and for a word one far away."""
    kind = FACTS[path] if path in FACTS else condition_fields()[path].kind
    if isinstance(kind, Quantity) or (isinstance(kind, Fact) and not kind.is_category):
        step = 1.0 if isinstance(kind, Quantity) and kind.whole else _NUDGE * np.abs(value)
        # Downward only: parts of a whole never exceed it.
        less = np.maximum(value - step, kind.low)
        return np.stack([np.full_like(value, np.nan), less, less])
    last = len(kind.choices) - 1.0 if kind is not None else 0.0
    beside = np.where(value > 0.0, value - 1.0, value + 1.0)
    far = np.where(2.0 * value > last, 0.0, last)
    return np.stack([np.full_like(value, np.nan), beside, far])


def _differs(values: FloatArray, base: float) -> bool:
    """Tell whether some value differs from a base by more than rounding."""
    return not np.isclose(values, base, rtol=1e-9, atol=1e-12, equal_nan=True).all()
