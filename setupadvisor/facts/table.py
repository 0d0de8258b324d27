"""The facts of one walk or of a million: every formula of the catalogue, in order, on arrays."""

from __future__ import annotations

import warnings
from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np

from setupadvisor.errors import OutsideValidRange
from setupadvisor.facts.catalogue import FACTS
from setupadvisor.facts.columns import Columns
from setupadvisor.facts.valid_range import FloatArray

NAMES = tuple(FACTS)
PLACE = {name: place for place, name in enumerate(NAMES)}


@dataclass(frozen=True)
class FactTable:
    """Facts by name and row.

    Parameters
    ----------
    values : numpy.ndarray, shape (facts, rows)
        Numbers in each fact's unit, categories as their place in the fact's choices, NaN where
        missing; rows of the array stand in the catalogue's order.
    warnings : tuple of str
        Formulas used outside their range, each once.
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
        The machine's constants, see `columns_from_machine`.
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
    values = np.empty((len(NAMES), rows))
    with warnings.catch_warnings(record=True) as caught:
        warnings.simplefilter("always", OutsideValidRange)
        for place, (name, fact) in enumerate(FACTS.items()):
            inputs = [known.get(path, missing) for path in fact.inputs]
            values[place] = fact.function(*inputs)
            known[name] = values[place]
    texts = dict.fromkeys(
        str(warning.message) for warning in caught if warning.category is OutsideValidRange
    )
    return FactTable(values, tuple(texts))
