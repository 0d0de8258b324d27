"""Sums over the past sessions for several bandwidths and half-lives at once.

The distances are the same for all of them and are worked out once.
"""

from __future__ import annotations

import numpy as np

from setupadvisor.learning.fast_sums import compiled_pays, scanned
from setupadvisor.learning.past_sessions import Reals, distance_tiles, kernel
from setupadvisor.learning.sessions import Booleans, Floats
from setupadvisor.learning.walk_tables import WalkTable
from setupadvisor.learning.weights import age


def trial_sums(
    *,
    asked: WalkTable,
    past: WalkTable,
    table: Reals,
    weights: Reals,
    agree_or_not: Booleans,
    bandwidths: Floats,
    half_lives: tuple[float, ...],
) -> Floats:
    """Sum the past sessions up for every bandwidth and half-life.

    Parameters
    ----------
    asked, past : WalkTable
        m walks, and U distinct walks of the past, both in ascending order of venue.
    table : (S, 2, U) array
        What is to be summed, from `past_sums.lookup_without`.
    weights : (S, F) array
        Weight of each field, for each setting.
    agree_or_not : (F,) array of bool
        Fields whose difference is 0 or 1.
    bandwidths : (H,) array
        Bandwidths, each the one before over the square root of 2.
    half_lives : tuple of L floats
        Days to half weight.

    Returns
    -------
    (H * L, S, m, 4) array
        Sums over all of the past, then over the same venue's alone. Parts of the past add up.
    """
    if compiled_pays(asked, past, weights, training=True):
        found = scanned(
            asked,
            past,
            table,
            weights=weights,
            agree_or_not=agree_or_not,
            bandwidth=np.full(len(weights), bandwidths[0]),
            half_lives=half_lives,
            n_bandwidths=len(bandwidths),
        )
        return np.concatenate([found.everywhere, found.same_venue], axis=-1)
    n_trials = len(bandwidths) * len(half_lives)
    sums = np.zeros((n_trials, len(table), len(asked.day), 4))
    trials = (weights, agree_or_not, bandwidths, half_lives)
    _add_trials(sums[..., :2], asked, past, table, *trials)
    for venue in np.unique(asked.venue[asked.venue >= 0]).tolist():
        # Walks of one venue are next to each other.
        here, there = (
            slice(*np.searchsorted(walks.venue, [venue, venue + 1]).tolist())
            for walks in (asked, past)
        )
        _add_trials(
            sums[:, :, here, 2:], asked.taken(here), past.taken(there), table[:, :, there], *trials
        )
    return sums


def _add_trials(
    sums: Floats,
    asked: WalkTable,
    past: WalkTable,
    table: Reals,
    weights: Reals,
    agree_or_not: Booleans,
    bandwidths: Floats,
    half_lives: tuple[float, ...],
) -> None:
    """Add to `sums` what past walks weigh in every trial; distances are worked out once."""
    widest = np.full(len(weights), bandwidths[0])
    for rows, columns, distance in distance_tiles(
        asked.conditions, past.conditions, weights, agree_or_not
    ):
        weight = kernel(distance, widest)
        days = asked.day[rows][:, None] - past.day[columns]
        for h in range(len(bandwidths)):
            if h > 0:
                np.square(weight, out=weight)
            for place, half_life in enumerate(half_lives):
                counted = weight
                if np.isfinite(half_life):
                    counted = weight * age(days, half_life).astype(weight.dtype)
                sums[h * len(half_lives) + place, :, rows] += counted @ table[
                    :, :, columns
                ].transpose(0, 2, 1)
