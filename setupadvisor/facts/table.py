"""The facts of one walk or of a million: every formula of the catalogue, in order, on arrays."""

from __future__ import annotations

import warnings
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from typing import Any

import numpy as np

from setupadvisor.errors import OutsideValidRange
from setupadvisor.facts.catalogue import FACTS
from setupadvisor.facts.columns import Columns
from setupadvisor.facts.fact import AS_ENTERED, Fact
from setupadvisor.facts.valid_range import FloatArray

NAMES = tuple(FACTS)
PLACE = {name: place for place, name in enumerate(NAMES)}
_MACHINE_INPUTS = frozenset(
    path for fact in FACTS.values() for path in fact.inputs if path.startswith("machine.")
)


_LOW, _HIGH = (
    np.array([[getattr(fact, end)] for fact in FACTS.values()]) for end in ("low", "high")
)
_Shared = dict[tuple[Callable[..., Any], tuple[str, ...]], tuple[FloatArray, ...]]


@dataclass(frozen=True)
class FactTable:
    """Facts by name and row.

    Parameters
    ----------
    values : numpy.ndarray, shape (facts, rows)
        Numbers in each fact's unit, categories as their place in the fact's choices, NaN where
        missing; rows of the array stand in the catalogue's order.
    warnings : tuple of str
        Formulas used outside their range, and facts outside the range they can reach, each once.
    """

    values: FloatArray
    warnings: tuple[str, ...]

    def __getitem__(self, name: str) -> FloatArray:
        """Give one fact for every row."""
        row: FloatArray = self.values[PLACE[name]]
        return row


def facts_from(conditions: Mapping[str, FloatArray], machine: Columns, rows: int = 1) -> FactTable:
    """Calculate all facts.

    Parameters
    ----------
    conditions : mapping of str to numpy.ndarray, shape (rows,) or (rows, places)
        Walk and rider columns; a missing column is missing in every row.
    machine : dict of str to numpy.ndarray
        The machine's constants, see `columns_from_machine`; facts that need one that is missing
        are missing in every row.
    rows : int
        How many rows.

    Returns
    -------
    FactTable
        All facts of the catalogue.

    Raises
    ------
    ImpossibleValue
        If a physically impossible value reaches a formula.
    """
    missing = np.full(rows, np.nan)
    known: dict[str, FloatArray] = {**machine, **conditions}
    values = np.full((len(NAMES), rows), np.nan)
    shared: _Shared = {}
    absent = _MACHINE_INPUTS - machine.keys()
    with warnings.catch_warnings(record=True) as caught:
        warnings.simplefilter("always", OutsideValidRange)
        for place, (name, fact) in enumerate(FACTS.items()):
            if fact.formula == AS_ENTERED:
                if fact.inputs[0] in known:
                    values[place] = known[fact.inputs[0]]
            elif not absent or absent.isdisjoint(fact.inputs):
                values[place] = _calculated(fact, known, missing, shared)
            known[name] = values[place]
    texts = [str(warning.message) for warning in caught if warning.category is OutsideValidRange]
    return FactTable(values, tuple(dict.fromkeys([*texts, *_out_of_reach(values)])))


def _out_of_reach(values: FloatArray) -> list[str]:
    """Say which facts left the range they can reach: entries that do not belong together."""
    outside = (values < _LOW) | (values > _HIGH)
    texts = []
    for place in np.flatnonzero(outside.any(axis=1)):
        fact, found = FACTS[NAMES[place]], values[place, outside[place]]
        worst = found[np.argmax(np.maximum(fact.low - found, found - fact.high))]
        texts.append(
            f"{fact.title}: {f'{worst:.4g} {fact.unit}'.strip()} is outside "
            f"{f'{fact.low:g} to {fact.high:g} {fact.unit}'.strip()}: check the entries behind it"
        )
    return texts


def _calculated(
    fact: Fact, known: Mapping[str, FloatArray], missing: FloatArray, shared: _Shared
) -> FloatArray:
    inputs = [known.get(path, missing) for path in fact.inputs]
    if fact.part is None:
        return np.asarray(fact.function(*inputs))
    key = (fact.function, fact.inputs)
    if key not in shared:
        shared[key] = fact.function(*inputs)
    return np.asarray(shared[key][fact.part])
