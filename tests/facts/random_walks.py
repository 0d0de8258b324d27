"""Invented walks by the thousand: any mixture of values met in practice, with gaps."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from setupadvisor.entries.quantity import Quantity, Word
from setupadvisor.facts.columns import Columns, condition_fields

SHARES = ("walk.ground.sand_pct", "walk.ground.silt_pct", "walk.ground.clay_pct")


def random_walks(rows: int, start: int, *, missing: float = 0.15, jumps: int = 5) -> Columns:
    """Make `rows` walks and riders as columns.

    Numbers are spread over the values that the entry calls plausible, words over all words; a
    share `missing` of all cells is not entered. Jump lists differ in length.
    """
    generator = np.random.default_rng(start)
    columns: Columns = {}
    for path, field in condition_fields().items():
        shape = (rows, jumps) if field.listed else (rows,)
        if isinstance(field.kind, Word):
            values = generator.integers(0, len(field.kind.choices), shape).astype(np.float64)
        else:
            assert isinstance(field.kind, Quantity)
            plausible = field.kind.plausible
            values = generator.uniform(min(plausible), max(plausible), shape)
            if field.kind.whole:
                values = np.round(values)
        columns[path] = values
    parts = generator.dirichlet([2.0, 2.0, 1.0], rows) * 100.0
    for place, path in enumerate(SHARES):
        columns[path] = parts[:, place]
    for values in columns.values():
        values[generator.random(values.shape) < missing] = np.nan
    lengths = generator.integers(0, jumps + 1, rows)
    for path, values in columns.items():
        if condition_fields()[path].listed:
            values[np.arange(jumps) >= lengths[:, None]] = np.nan
    return columns


def one_row(columns: Columns, row: int) -> Columns:
    """Take one walk out, as a single walk's columns would be: without what it does not have."""
    taken = {path: values[row : row + 1] for path, values in columns.items()}
    kept: Columns = {}
    for path, values in taken.items():
        if np.isnan(values).all():
            continue
        entered: NDArray[np.float64] = values
        if values.ndim == 2:
            # A single walk's list is only as long as the walk has jumps.
            jumped = [~np.isnan(taken[other][0]) for other in taken if taken[other].ndim == 2]
            entered = values[:, : int(np.flatnonzero(np.any(jumped, axis=0))[-1]) + 1]
        kept[path] = entered
    return kept
