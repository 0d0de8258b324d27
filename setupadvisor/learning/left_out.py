"""Errors of settled setups under models that have not seen their event.

The design itself, and what needs no more than sums beside it: amounts and habits without past
sessions, the rules as written, and the rider's mean.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from setupadvisor.learning.even_choice import Events, chosen_settled
from setupadvisor.learning.model import Model
from setupadvisor.learning.past_sessions import left_over
from setupadvisor.learning.past_sums import explained_without_fold, past_sums, walks_by_fold
from setupadvisor.learning.sessions import Floats, Integers
from setupadvisor.learning.stores import InMemory, Store

# Settled setups that are enough for ranges and errors, where the pairs of walks to compare for all
# of them would be more than these; and fewer still where there are millions of walks, so that the
# pairs grow no faster than the walks, from so many on.
ENOUGH_SETTLED, ENOUGH_PAIRS_OF_WALKS = 4_000, 100_000_000
FEWEST_SETTLED, MOST_PAIRS = 1_000, 1_000_000_000


@dataclass(frozen=True)
class LeftOut:
    """Values less predictions of q sessions whose fold was left out, in the setting's number.

    Parameters
    ----------
    rows : (q,) integer array
        The sessions.
    design, amounts_only, written, riders_mean : (q, S) array
        Errors; NaN where the value is not a settled setup.
    weight : (q, S) array
        Weight of the past sessions behind the design's correction.
    """

    rows: Integers
    design: Floats
    amounts_only: Floats
    written: Floats
    riders_mean: Floats
    weight: Floats


def left_out_errors(model: Model, *, n_jobs: int | None = 1) -> LeftOut:
    """Predict settled setups without their fold.

    Parameters
    ----------
    model : Model
        A trained model, whose fallbacks are passed over.
    n_jobs : int, optional
        Folds at once, in joblib's sense.

    Returns
    -------
    LeftOut
        Errors of all settled setups, or of 4,000 (1,000 from a million walks on) spread evenly over
        a season so large and varied that comparing every walk with every other would take too long.
    """
    return judged_without_fold(model, InMemory.of(model, n_jobs=n_jobs))[1]


def judged_without_fold(model: Model, store: Store) -> tuple[Model, LeftOut]:
    """Predict settled setups of a store without their fold.

    Parameters
    ----------
    model : Model
        A trained model, whose fallbacks are passed over.
    store : Store
        Where its sessions are.

    Returns
    -------
    judged : Model
        The model with the sessions that were judged alone.
    left_out : LeftOut
        Their errors.
    """
    taken = store.judged(model, chosen_settled(store.events, _enough(store.events)))
    judged = taken.model
    past, weight = past_without_fold(model, judged, store)
    explained = explained_without_fold(judged, np.arange(len(taken.rows)))
    target = np.where(judged.settled, judged.target, np.nan)
    left_out = LeftOut(
        rows=taken.rows,
        design=target - explained - past,
        amounts_only=target - explained,
        written=target - np.nan_to_num(judged.degrees, nan=0.0) @ judged.amounts,
        riders_mean=target - judged.riders_means[judged.fold, judged.rider],
        weight=weight,
    )
    return judged, left_out


def _enough(events: Events) -> int:
    """Say how many settled sessions are enough: all, where pairs of walks are few."""
    walks, settled_walks = int(events.walks.sum()), int(events.settled_walks.sum())
    if settled_walks * walks <= ENOUGH_PAIRS_OF_WALKS:
        return int(events.settled.sum())
    return max(FEWEST_SETTLED, min(ENOUGH_SETTLED, MOST_PAIRS // walks))


def past_without_fold(model: Model, judged: Model, store: Store) -> tuple[Floats, Floats]:
    """Correct sessions by the past sessions of the other folds.

    Parameters
    ----------
    model : Model
        What was learnt.
    judged : Model
        The same with the q sessions to correct alone.
    store : Store
        Where the past sessions are.

    Returns
    -------
    past : (q, S) array
        The correction, in the setting's number.
    weight : (q, S) array
        Weight of the past sessions behind it.
    """
    past, weight = np.zeros((2, *judged.target.shape))
    folds = list(walks_by_fold(judged, np.arange(len(past))))
    asked = [(k, judged.past.taken(walks)) for k, _, walks, _ in folds]
    shared = {"comparison": model.comparison.of_settings(len(model.setting)), "training": True}
    found = store.past_without_folds(past_sums, model, asked, shared)
    for (_, where, _, walk), sums in zip(folds, found, strict=True):
        correction = left_over(sums[:, :, 0], sums[:, :, 1], model.kappa[:, None])
        past[where] = correction.T[walk]
        weight[where] = sums[:, :, 1].T[walk]
    return past, weight
