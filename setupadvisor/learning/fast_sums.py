"""Sums over the past sessions by compiled code, where numba is there and the work is worth it.

Whether it is depends on nothing but the amount of work, so that the same season always goes the
same way on a machine. The environment variable SETUPADVISOR_FAST says otherwise: `never`, or
`always`.
"""

from __future__ import annotations

import os
from collections.abc import Iterable
from dataclasses import dataclass
from functools import cache
from importlib.util import find_spec
from itertools import product

import numpy as np

from setupadvisor.learning.in_threads import in_threads
from setupadvisor.learning.past_sessions import Reals
from setupadvisor.learning.sessions import Booleans, Floats
from setupadvisor.learning.walk_tables import WalkTable

VARIABLE, NEVER, ALWAYS = "SETUPADVISOR_FAST", "never", "always"
# Differences (walks x past walks x fields x settings) from which compiled code pays: it takes a
# second to be loaded, and training asks many times over.
WORTH_IT_ONCE, WORTH_IT_IN_TRAINING = 1e10, 2e7
# Past walks that one thread scans at a time, walks that ask at a time, and how many such tiles.
PAST_AT_ONCE, ASKED_AT_ONCE, TILES_AT_ONCE = 49_152, 16, 8


@dataclass(frozen=True)
class Scanned:
    """What a scan of the past gives.

    Parameters
    ----------
    everywhere, same_venue : (H * L, T, m, w) array
        Sums over all past walks, and over those at the same venue, for every bandwidth and
        half-life.
    far, near : (m, U) array
        Distance by the last setting's weights, and similarity times the weight by age; of no rows
        if not asked for.
    """

    everywhere: Floats
    same_venue: Floats
    far: Reals
    near: Reals


def compiled_pays(
    asked: WalkTable, past: WalkTable, weights: Reals, *, training: bool = False
) -> bool:
    """Say whether sums are to be worked out by compiled code.

    Parameters
    ----------
    asked, past : WalkTable
        m walks, and U distinct walks of the past.
    weights : (S, F) array
        Weight of each field, for each setting.
    training : bool, optional
        Whether many such scans are under way.

    Returns
    -------
    bool
        False without numba, and where the weights or the precision are not the scan's.
    """
    wish = os.environ.get(VARIABLE, "")
    bar = WORTH_IT_IN_TRAINING if training else WORTH_IT_ONCE
    work = float(len(asked.day)) * len(past.day) * weights.size
    return (
        wish != NEVER
        and (work >= bar or wish == ALWAYS)
        and weights.size > 0
        and past.conditions.scaled.dtype == np.float32
        and _numba_is_there()
        and _two_levels(weights) is not None
    )


def scanned(
    asked: WalkTable,
    past: WalkTable,
    table: Reals,
    *,
    weights: Reals,
    agree_or_not: Booleans,
    bandwidth: Floats,
    half_lives: Iterable[float],
    n_bandwidths: int = 1,
    nearness: bool = False,
) -> Scanned:
    """Scan the past by compiled code, on as many threads as there are cores.

    Parameters
    ----------
    asked, past : WalkTable
        m walks, and U distinct walks of the past.
    table : (T, w, U) array
        What is to be summed, for the first T settings.
    weights : (S, F) array
        Weight of each field; each setting has one or two different ones.
    agree_or_not : (F,) array of bool
        Fields whose difference is 0 or 1.
    bandwidth : (S,) array
        First bandwidth of each setting.
    half_lives : iterable of float
        Days to half weight.
    n_bandwidths : int, optional
        Each further bandwidth is the one before over the square root of 2.
    nearness : bool, optional
        Whether distance and similarity by the last setting's weights are wanted.

    Returns
    -------
    Scanned
        The sums. They do not depend on the number of threads.
    """
    from setupadvisor.learning.compiled_scan import scan  # noqa: PLC0415 - brings numba

    levels = _two_levels(weights)
    if levels is None:
        raise ValueError("a setting's fields have more than two weights")
    base, more, listed_fields = levels
    listed, group = np.unique(listed_fields, axis=1, return_inverse=True)
    listed, group = np.ascontiguousarray(listed), group.ravel().astype(np.int64)
    ages = np.array(list(half_lives), dtype=np.float64)
    scale = (-0.5 / np.asarray(bandwidth) ** 2).astype(np.float32)
    conditions = np.ascontiguousarray(asked.conditions.scaled.T, dtype=np.float32)
    table = np.ascontiguousarray(table, dtype=np.float32)
    m, n_past = len(asked.day), len(past.day)
    sums = np.zeros((n_bandwidths * len(ages), len(table), m, 2, table.shape[1]))
    far: Reals = np.empty((m if nearness else 0, n_past), dtype=np.float32)
    near: Reals = np.empty_like(far)
    # Plain arrays, also where a worker process has them from a file.
    past_conditions = np.ascontiguousarray(past.conditions.scaled)
    past_venue, past_day = np.ascontiguousarray(past.venue), np.ascontiguousarray(past.day)
    venue, day = np.ascontiguousarray(asked.venue), np.ascontiguousarray(asked.day)
    agree_or_not = np.ascontiguousarray(agree_or_not)

    def of_part(rows: slice, start: int) -> Floats:
        part: Floats = np.zeros(sums[:, :, rows].shape)
        scan(
            conditions[rows],
            venue[rows],
            day[rows],
            past_conditions,
            past_venue,
            past_day,
            base,
            more,
            listed,
            group,
            agree_or_not,
            scale,
            n_bandwidths,
            ages,
            table,
            start,
            min(start + PAST_AT_ONCE, n_past),
            part,
            far[rows] if nearness else far,
            near[rows] if nearness else near,
        )
        return part

    # A few at a time, since what each found is held until it is added.
    tiles = [slice(top, min(top + ASKED_AT_ONCE, m)) for top in range(0, m, ASKED_AT_ONCE)]
    for first in range(0, len(tiles), TILES_AT_ONCE):
        tasks = list(product(tiles[first : first + TILES_AT_ONCE], range(0, n_past, PAST_AT_ONCE)))
        for (rows, _), part in zip(tasks, in_threads(of_part, tasks), strict=True):
            sums[:, :, rows] += part
    return Scanned(sums[:, :, :, 0], sums[:, :, :, 1], far, near)


def _two_levels(weights: Reals) -> tuple[Reals, Reals, Booleans] | None:
    """Split weights into a common one, and what some listed fields have beyond it."""
    low, high = weights.min(axis=1), weights.max(axis=1)
    at_high = weights == high[:, None]
    if not (at_high | (weights == low[:, None])).all():
        return None
    mostly_high = at_high.mean(axis=1) > 0.5
    base = np.where(mostly_high, high, low).astype(np.float32)
    more = np.where(mostly_high, low - high, high - low).astype(np.float32)
    return base, more, np.where(mostly_high[:, None], ~at_high, at_high)


@cache
def _numba_is_there() -> bool:
    return find_spec("numba") is not None
