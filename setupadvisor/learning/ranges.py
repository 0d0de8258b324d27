"""Honest ranges: CV+ with whole events left out.

References
----------
Barber, R. F., Candes, E. J., Ramdas, A., Tibshirani, R. J. (2021), Predictive inference with the
jackknife+, Annals of Statistics 49:486-507 (from memory). Results are checked against the
independent implementation in the MAPIE library.
Lee, Y., Barber, R. F., Willett, R. (2023), Distribution-free inference with hierarchical data
(from memory): with groups, every group shares one unit of mass and the new group has one more.
"""

from __future__ import annotations

import math
from statistics import NormalDist

import numpy as np

from setupadvisor.learning.sessions import Floats, Integers

MOST_FOLDS = 20
# Sums of many masses are not exact; a rank is not moved by this much.
ROUNDING = 1e-9


def events_needed(level: float) -> int:
    """Fewest events from which a range of a level can be given.

    Parameters
    ----------
    level : float
        Wanted coverage, between 0 and 1.

    Returns
    -------
    int
        Number of events.

    Examples
    --------
    >>> events_needed(0.8), events_needed(0.9)
    (4, 9)
    """
    return math.ceil(level / (1.0 - level) - ROUNDING)


def folds_of_events(event: Integers, day: Floats) -> tuple[Integers, int]:
    """Deal whole events into at most 20 folds, in the order of their first day.

    Parameters
    ----------
    event : (n,) integer array
        Codes of events.
    day : (n,) array
        Day of each session.

    Returns
    -------
    fold : (n,) integer array
        Fold of each session. Neighbouring events go to different folds.
    n_folds : int
        Number of folds.

    Examples
    --------
    >>> fold, n_folds = folds_of_events(np.array([2, 2, 0]), np.array([9.0, 9.0, 4.0]))
    >>> fold.tolist(), n_folds
    ([1, 1, 0], 2)
    """
    events, codes = np.unique(event, return_inverse=True)
    first_day = np.full(len(events), np.inf)
    np.minimum.at(first_day, codes, day)
    rank = np.empty(len(events), dtype=np.int64)
    rank[np.lexsort((events, first_day))] = np.arange(len(events))
    n_folds = min(len(events), MOST_FOLDS)
    return (rank % max(n_folds, 1))[codes], n_folds


def cv_plus(
    predictions: Floats, residuals: Floats, folds: Integers, masses: Floats, level: float
) -> tuple[Floats, Floats]:
    """CV+ interval from predictions without each fold and the residuals of that fold.

    Parameters
    ----------
    predictions : (m, K) array
        Prediction of each of m queries by the model without fold k.
    residuals : (m, n) or (n,) array
        Absolute residual of each session under the model without its fold, in the unit of the
        query's prediction.
    folds : (n,) integer array
        Fold of each session.
    masses : (n,) array
        Mass of each session: 1, or 1 over the number of residuals of its event. The new event has
        mass 1.
    level : float
        Wanted coverage, between 0 and 1.

    Returns
    -------
    low, high : (m,) array
        The interval; infinite where there are too few sessions or events for the level.

    Examples
    --------
    >>> low, high = cv_plus(np.array([[5.0, 6.0]]), np.array([1.0, 0.5, 2.0, 0.5]),
    ...                     np.array([0, 0, 1, 1]), np.ones(4), 0.6)
    >>> low.tolist(), high.tolist()
    ([4.0], [6.5])
    """
    centre = predictions[:, folds]
    wanted = level * (masses.sum() + 1.0) - ROUNDING
    high = _weighted_order(centre + residuals, masses, wanted)
    low = -_weighted_order(residuals - centre, masses, wanted)
    return low, high


def normal_half_width(spread: Floats, level: float) -> Floats:
    """Half the width of a central normal interval.

    Parameters
    ----------
    spread : array
        Standard deviation.
    level : float
        Wanted coverage, between 0 and 1.

    Returns
    -------
    array
        Half width, in the unit of `spread`.

    Examples
    --------
    >>> normal_half_width(np.array([1.0]), 0.95).round(2).tolist()
    [1.96]
    """
    return NormalDist().inv_cdf((1.0 + level) / 2.0) * spread


def _weighted_order(values: Floats, masses: Floats, wanted: float) -> Floats:
    """Return the value at which the sorted mass reaches what is wanted, or infinity."""
    if masses.sum() < wanted:
        return np.full(len(values), np.inf)
    order = np.argsort(values, axis=-1)
    reached = np.cumsum(masses[order], axis=-1) >= wanted
    rank = np.argmax(reached, axis=-1)
    rows = np.arange(len(values))
    result: Floats = values[rows, order[rows, rank]]
    return result
