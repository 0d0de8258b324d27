"""Errors of settled setups under models that have not seen their event.

The design itself, and what needs no more than sums beside it: amounts and habits without past
sessions, the rules as written, and the rider's mean.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from setupadvisor.learning.model import Model
from setupadvisor.learning.past_sums import explained_without_fold, without_fold
from setupadvisor.learning.sessions import Floats, Integers

# Settled setups that are enough for ranges and errors, where the pairs of walks to compare for all
# of them would be more than these.
ENOUGH_SETTLED, ENOUGH_PAIRS_OF_WALKS = 4_000, 100_000_000


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
        Errors of all settled setups, or of 4,000 spread evenly over a season so large and varied
        that comparing every walk with every other would take too long.
    """
    rows = _rows(model)
    past, weight = without_fold(model, rows, n_jobs=n_jobs)
    explained = explained_without_fold(model, rows)
    target = np.where(model.settled[rows], model.target[rows], np.nan)
    return LeftOut(
        rows=rows,
        design=target - explained - past,
        amounts_only=target - explained,
        written=target - np.nan_to_num(model.degrees[rows], nan=0.0) @ model.amounts,
        riders_mean=target - model.riders_means[model.fold[rows], model.rider[rows]],
        weight=weight,
    )


def _rows(model: Model) -> Integers:
    """Pick settled sessions, evenly over the season if there are more than needed."""
    rows = np.flatnonzero(model.settled_at_all)
    walks = len(np.unique(model.walks.of_session[rows]))
    if len(rows) <= ENOUGH_SETTLED or walks * len(model.walks.first) <= ENOUGH_PAIRS_OF_WALKS:
        return rows
    by_day = rows[np.lexsort((rows, model.day[rows]))]
    spaced = np.linspace(0, len(rows) - 1, ENOUGH_SETTLED).astype(np.int64)
    return np.sort(by_day[spaced])
