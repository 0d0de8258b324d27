"""Sums over the past sessions: what they weigh for each walk, and what they still say.

Distances are worked out a tile at a time, turned into weights and summed up at once, so that the
distances of all walks to all sessions for all settings never have to be held.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace

import numpy as np

from setupadvisor.learning.fast_sums import Scanned, compiled_pays, scanned
from setupadvisor.learning.in_threads import in_threads
from setupadvisor.learning.model import Model
from setupadvisor.learning.past_sessions import (
    Reals,
    distance_tiles,
    kernel,
    outing_weights,
)
from setupadvisor.learning.sessions import Floats, Integers
from setupadvisor.learning.touching import degrees_touching
from setupadvisor.learning.walk_tables import Comparison, WalkTable

# Past walks that one thread sums up at a time.
PAST_AT_ONCE = 49_152


def past_sums(
    *,
    asked: WalkTable,
    past: WalkTable,
    table: Reals,
    comparison: Comparison,
    training: bool = False,
) -> Floats:
    """Sum the past sessions up for each setting.

    Parameters
    ----------
    asked, past : WalkTable
        m walks, and U distinct walks of the past.
    table : (S, w, U) array
        What is to be summed, as rows of `Model.lookup`.
    comparison : Comparison
        How walks are compared.
    training : bool, optional
        Whether many such sums are under way, so that compiled code pays sooner.

    Returns
    -------
    (S, m, w) array
        Sums weighted by similarity, venue and age.
    """
    if compiled_pays(asked, past, comparison.weights, training=training):
        return _of_outing(_scanned(asked, past, table, comparison), comparison)

    def of_part(columns: slice) -> Floats:
        return _plain_sums(asked, past.taken(columns), table[:, :, columns], comparison)

    total: Floats = sum(in_threads(of_part, _parts(past)), start=_no_sums(asked, table))
    return total


def past_sums_and_nearness(
    *, asked: WalkTable, past: WalkTable, table: Reals, comparison: Comparison
) -> tuple[Floats, Reals, Reals]:
    """Sum the past sessions up, and say how near each distinct walk is as a whole.

    Parameters
    ----------
    asked, past, table, comparison
        As for `past_sums`, but with one more set of field weights: that of the walk as a whole.

    Returns
    -------
    sums : (S, m, w) array
        As from `past_sums`.
    weight : (m, U) array
        Similarity, venue and age of the walk as a whole.
    distance : (m, U) array
        Gower's distance of the walk as a whole; NaN where nothing is known of both.
    """
    if compiled_pays(asked, past, comparison.weights):
        found = _scanned(asked, past, table, comparison, nearness=True)
        # Age is in it already.
        outing = _outing_weights(asked, past, replace(comparison, half_life=np.inf))
        nearness = found.near if outing is None else found.near * outing
        return _of_outing(found, comparison), nearness, found.far
    near: Reals = np.empty((len(asked.day), len(past.day)), dtype=np.float32)
    far: Reals = np.empty_like(near)

    def of_part(columns: slice) -> Floats:
        nearness = (near[:, columns], far[:, columns])
        return _plain_sums(asked, past.taken(columns), table[:, :, columns], comparison, nearness)

    total: Floats = sum(in_threads(of_part, _parts(past)), start=_no_sums(asked, table))
    return total, near, far


def lookup_without(model: Model, k: int) -> Reals:
    """Take what the sessions of the other folds say under the model without a fold.

    Parameters
    ----------
    model : Model
        A trained model.
    k : int
        The fold.

    Returns
    -------
    (S, 2, U) array
        Weight * left-over, and weight.
    """
    return np.ascontiguousarray(model.lookup[:, [k, len(model.rule_shift) + k]])


def walks_by_fold(
    model: Model, rows: Integers
) -> Iterator[tuple[int, Integers, Integers, Integers]]:
    """Deal sessions by fold, each with its distinct walks.

    Parameters
    ----------
    model : Model
        A model with its sessions.
    rows : (q,) integer array
        Sessions to predict.

    Yields
    ------
    fold : int
        A fold.
    where : integer array
        Positions in `rows` of that fold's sessions.
    walks : integer array
        Their distinct walks, in ascending order.
    walk : integer array
        For each of `where`, its place in `walks`.
    """
    for k in range(model.n_folds):
        where = np.flatnonzero(model.fold[rows] == k)
        if len(where):
            walks, walk = np.unique(model.walks.of_session[rows[where]], return_inverse=True)
            yield k, where, walks, walk


def explained_without_fold(model: Model, rows: Integers) -> Floats:
    """Habit and rules of some sessions, as the model without their fold has them.

    Parameters
    ----------
    model : Model
        A model with its sessions.
    rows : (q,) integer array
        Sessions to predict.

    Returns
    -------
    (q, S) array
        In the setting's number, without the house value.
    """
    fold = model.fold[rows]
    explained = model.habit[fold, model.rider[rows]]
    for s in range(len(model.setting)):
        degrees = degrees_touching(model.touching[s], model.counted_degrees[rows])
        explained[:, s] += (degrees * model.fitted_amounts[fold, s]).sum(axis=1)
    return explained


def _parts(past: WalkTable) -> list[tuple[slice]]:
    """Cut the past into parts for several threads, in the same way however many there are."""
    return [
        (slice(first, first + PAST_AT_ONCE),) for first in range(0, len(past.day), PAST_AT_ONCE)
    ]


def _no_sums(asked: WalkTable, table: Reals) -> Floats:
    return np.zeros((len(table), len(asked.day), table.shape[1]))


def _plain_sums(
    asked: WalkTable,
    past: WalkTable,
    table: Reals,
    comparison: Comparison,
    nearness: tuple[Reals, Reals] | None = None,
) -> Floats:
    """Sum the past sessions up; fill in what the walk as a whole weighs, and its distances."""
    sums = _no_sums(asked, table)
    for rows, columns, overall, weight in _weighted_tiles(asked, past, comparison):
        if nearness is not None:
            near, far = nearness
            near[rows, columns], far[rows, columns] = weight[-1], overall
        sums[:, rows] += weight[: len(table)] @ table[:, :, columns].transpose(0, 2, 1)
    return sums


def _weighted_tiles(
    asked: WalkTable, past: WalkTable, comparison: Comparison
) -> Iterator[tuple[slice, slice, Reals, Reals]]:
    """Yield tiles of walks and past walks: the last row's distances, and all rows' weights."""
    for rows, columns, distance in distance_tiles(
        asked.conditions, past.conditions, comparison.weights, comparison.agree_or_not
    ):
        overall = distance[-1].copy()
        weight = kernel(distance, comparison.bandwidth)
        outing = _outing_weights(asked.taken(rows), past.taken(columns), comparison)
        if outing is not None:
            weight *= outing
        yield rows, columns, overall, weight


def _outing_weights(asked: WalkTable, past: WalkTable, comparison: Comparison) -> Reals | None:
    """Return weights by venue and age; None where all are 1."""
    return outing_weights(
        asked.venue,
        asked.day,
        venue=past.venue,
        day=past.day,
        venue_factor=comparison.venue_factor,
        half_life=comparison.half_life,
    )


def _scanned(
    asked: WalkTable,
    past: WalkTable,
    table: Reals,
    comparison: Comparison,
    *,
    nearness: bool = False,
) -> Scanned:
    """Scan the past by compiled code."""
    return scanned(
        asked,
        past,
        table,
        weights=comparison.weights,
        agree_or_not=comparison.agree_or_not,
        bandwidth=comparison.bandwidth,
        half_lives=[comparison.half_life],
        nearness=nearness,
    )


def _of_outing(found: Scanned, comparison: Comparison) -> Floats:
    """Let the same venue count as often as it does."""
    sums: Floats = found.everywhere[0] + (comparison.venue_factor - 1.0) * found.same_venue[0]
    return sums
