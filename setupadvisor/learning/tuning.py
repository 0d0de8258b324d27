"""How far past sessions reach: bandwidth, pseudo-sessions, venue, age, unread fields.

Each is chosen by leaving out whole events: every settled setup is predicted from the sessions of
the other folds, with the amounts and habits those folds support.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace

import numpy as np

from setupadvisor.learning.model import Model
from setupadvisor.learning.past_sessions import (
    Reals,
    conditions,
    gower,
    kernel,
    outing_weights,
)
from setupadvisor.learning.sessions import Floats, Integers
from setupadvisor.learning.weights import worth

# Fewest events from which past sessions' reach is chosen at all.
FEWEST_EVENTS = 3
# Each bandwidth is the one before over the square root of 2, so that its weights are the squares.
WIDEST, N_BANDWIDTHS = 0.5, 7
BANDWIDTHS = WIDEST / np.sqrt(2.0) ** np.arange(N_BANDWIDTHS)
KAPPAS = np.array([0.25, 0.5, 1.0, 2.0, 4.0, 8.0, 16.0, np.inf])
VENUE_FACTORS = np.array([1.0, 3.0, 10.0, 30.0])
UNREAD_WEIGHTS = (0.1, 0.3, 1.0)
HALF_LIVES = (np.inf, 1095.0, 547.5, 273.75)
# A setting's own sessions count against all settings' together as these many pseudo-sessions.
SHARED = 30.0
# What a choice away from the usual one must gain, as a share of the squared error.
WORTHWHILE = 0.01
# Numbers in one block of distances, and settled setups that are enough to choose by.
BLOCK = 4_000_000
ENOUGH_SETTLED, ENOUGH_PAIRS = 300, 3_000_000


def chosen_reach(model: Model, mark: Floats) -> Model:
    """Choose the reach of past sessions by leaving out whole events.

    Parameters
    ----------
    model : Model
        Model with amounts and habits for every fold; its bandwidth, pseudo-sessions, venue
        factor, half-life and weight of unread fields are where the search starts.
    mark : (n,) array
        The riders' marks; errors on well marked setups count more.

    Returns
    -------
    Model
        The model with its reach chosen, or as it was with fewer than three events.
    """
    if len(np.unique(model.event)) < FEWEST_EVENTS:
        return model
    rows = _rows_to_choose_by(model)
    error, weight = _errors_without_past(model, rows, worth(mark)[rows])
    best, best_loss = model, np.inf
    first = (BANDWIDTHS, model.unread_weight, model.half_life)
    trials = [first]
    for step in ("bandwidth", "unread_weight", "half_life"):
        if step == "unread_weight":
            trials = [
                (_around(best.bandwidth[0]), value, best.half_life)
                for value in UNREAD_WEIGHTS
                if value != best.unread_weight
            ]
        elif step == "half_life":
            trials = [
                (best.bandwidth[:1], best.unread_weight, value)
                for value in HALF_LIVES
                if value != best.half_life
            ]
        for bandwidths, unread, half_life in trials:
            sums = _past_sums(
                replace(model, unread_weight=unread, half_life=half_life), rows, bandwidths
            )
            losses, kappas, factors = _losses(sums, error, weight)
            here = int(np.argmin(losses))
            needed = best_loss * (1.0 - WORTHWHILE) if step != "bandwidth" else best_loss
            if losses[here] < needed:
                best_loss = float(losses[here])
                best = replace(
                    model,
                    unread_weight=unread,
                    half_life=half_life,
                    bandwidth=np.full(len(model.setting), bandwidths[here]),
                    kappa=kappas[here],
                    venue_factor=float(factors[here]),
                )
    return best


def blocks_by_fold(model: Model, rows: Integers) -> Iterator[tuple[int, Integers]]:
    """Deal rows into blocks of one fold whose distances to all sessions fit into memory.

    Parameters
    ----------
    model : Model
        A model with its sessions.
    rows : (q,) integer array
        Sessions to predict.

    Yields
    ------
    fold : int
        The fold that all rows of the block are in.
    where : integer array
        Positions in `rows`.
    """
    size = max(1, BLOCK // max((len(model.setting) + 1) * len(model.rider), 1))
    for k in range(model.n_folds):
        where = np.flatnonzero(model.fold[rows] == k)
        for start in range(0, len(where), size):
            yield k, where[start : start + size]


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
    amounts = model.touched_amounts[fold].transpose(1, 0, 2)
    of_rules = (model.touched_degrees(model.degrees[rows]) * amounts).sum(axis=-1).T
    explained: Floats = of_rules + model.habit[fold, model.rider[rows]]
    return explained


def _rows_to_choose_by(model: Model) -> Integers:
    """Pick settled sessions, evenly over the season if there are more than needed."""
    rows = np.flatnonzero(model.settled_at_all)
    enough = max(ENOUGH_SETTLED, ENOUGH_PAIRS // max(len(model.rider), 1))
    if len(rows) <= enough:
        return rows
    by_day = rows[np.lexsort((rows, model.day[rows]))]
    return np.sort(by_day[np.linspace(0, len(rows) - 1, enough).astype(np.int64)])


def _errors_without_past(model: Model, rows: Integers, row_worth: Floats) -> tuple[Floats, Floats]:
    """Left-over of the rows without their fold, and the weight of each; 0 where not settled."""
    error = model.target[rows] - explained_without_fold(model, rows)
    counted = model.settled[rows] & np.isfinite(error)
    return np.where(counted, error, 0.0), np.where(counted, row_worth[:, None], 0.0)


def _past_sums(model: Model, rows: Integers, bandwidths: Floats) -> Floats:
    """Return sums over the other folds: (H, q, S, 4) left-over and weight, all and same venue."""
    result = np.zeros((len(bandwidths), len(rows), len(model.setting), 4))
    width = model.n_folds + 1
    past = model.past_conditions
    for k, where in blocks_by_fold(model, rows):
        block = rows[where]
        today = conditions(model.fields[block], model.field_is_category, model.field_range)
        weights = model.field_weights[:-1]
        distance = gower(today, past, weights, model.agree_or_not)
        weight = kernel(distance, np.full(len(weights), bandwidths[0]))
        aged = outing_weights(
            model.venue[block],
            model.day[block],
            venue=model.venue,
            day=model.day,
            venue_factor=1.0,
            half_life=model.half_life,
        )
        same = model.venue[block][:, None] == model.venue
        same &= model.venue[block][:, None] >= 0
        table = np.ascontiguousarray(model.lookup[:, :, [k, width + k]])
        for h in range(len(bandwidths)):
            if h > 0:
                np.square(weight, out=weight)
            counted: Reals = weight if aged is None else weight * aged
            result[h, where, :, :2] = (counted @ table).transpose(1, 0, 2)
            result[h, where, :, 2:] = ((counted * same) @ table).transpose(1, 0, 2)
    return result


def _losses(sums: Floats, error: Floats, weight: Floats) -> tuple[Floats, Floats, Floats]:
    """Smallest pooled loss of each bandwidth, with its (H, S) kappas and (H,) venue factors."""
    n_bandwidths, _, n_settings, _ = sums.shape
    without = (weight * error**2).sum(axis=0)
    counts = (weight > 0).sum(axis=0).astype(np.float64)
    judged = (without > 0) & (counts > 0)
    losses = np.ones((n_bandwidths, len(VENUE_FACTORS), len(KAPPAS), n_settings))
    for v, factor in enumerate(VENUE_FACTORS):
        total = sums[..., :2] + (factor - 1.0) * sums[..., 2:]
        for c, kappa in enumerate(KAPPAS[:-1]):
            gap = error - total[..., 0] / (total[..., 1] + kappa)
            squared = (weight * gap**2).sum(axis=1)
            losses[:, v, c] = np.where(judged, squared / np.where(judged, without, 1.0), 1.0)
    pooled = losses @ counts / max(counts.sum(), 1.0)
    flat = pooled.reshape(n_bandwidths, -1)
    best = np.argmin(flat, axis=1)
    factor_index = best // len(KAPPAS)
    rows = np.arange(n_bandwidths)
    own = losses[rows, factor_index]
    together = pooled[rows, factor_index]
    blended = (own * counts + SHARED * together[:, :, None]) / (counts + SHARED)
    kappas = KAPPAS[np.argmin(blended, axis=1)]
    return flat[rows, best], kappas, VENUE_FACTORS[factor_index]


def _around(bandwidth: float) -> Floats:
    """Three bandwidths around the chosen one, widest first."""
    around: Floats = bandwidth * np.sqrt(2.0) ** np.array([1.0, 0.0, -1.0])
    return around
