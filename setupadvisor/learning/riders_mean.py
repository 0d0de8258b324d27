"""What a rider usually ended on: the plainest thing past sessions can say."""

from __future__ import annotations

import numpy as np

from setupadvisor.learning.sessions import Floats, Integers
from setupadvisor.learning.sums_by_code import sums_by_code


def riders_means(
    settled: Floats, rider: Integers, fold: Integers, *, n_riders: int, n_folds: int
) -> Floats:
    """Mean settled setup of each rider, without each fold and with everything.

    Parameters
    ----------
    settled : (n, S) array
        Settled setups less house values; NaN elsewhere.
    rider, fold : (n,) integer array
        Codes.
    n_riders, n_folds : int
        How many riders (G) and folds (K) there are.

    Returns
    -------
    (K + 1, G + 1, S) array
        Means; the last rider is one never seen. A rider without a settled setup has the mean of
        all, and 0 where there is none at all.

    Examples
    --------
    >>> means = riders_means(np.array([[1.0], [3.0], [5.0]]), np.array([0, 0, 1]),
    ...                      np.array([0, 1, 1]), n_riders=2, n_folds=2)
    >>> means[:, :, 0].tolist()
    [[3.0, 5.0, 4.0], [1.0, 1.0, 1.0], [2.0, 5.0, 3.0]]
    """
    sums = settled_sums(settled, rider, fold, n_riders=n_riders, n_folds=n_folds)
    return means_of_sums(sums)


def settled_sums(
    settled: Floats, rider: Integers, fold: Integers, *, n_riders: int, n_folds: int
) -> Floats:
    """Sum up the settled setups of each rider in each fold; those of other events may be added.

    Parameters
    ----------
    settled, rider, fold, n_riders, n_folds
        As for `riders_means`.

    Returns
    -------
    (2, K, G, S) array
        How many there are, and their sum.
    """
    known = np.isfinite(settled)
    by_rider, shape = fold * n_riders + rider, (n_folds, n_riders, settled.shape[1])
    return np.stack(
        [
            sums_by_code(by_rider, part, n_folds * n_riders).reshape(shape)
            for part in (known.astype(np.float64), np.where(known, settled, 0.0))
        ]
    )


def means_of_sums(sums: Floats) -> Floats:
    """Mean settled setup of each rider, without each fold and with everything.

    Parameters
    ----------
    sums : (2, K, G, S) array
        From `settled_sums`.

    Returns
    -------
    (K + 1, G + 1, S) array
        As from `riders_means`.
    """
    count, total = (_without_each_fold(part) for part in sums)
    of_all, total_of_all = (part.sum(axis=1, keepdims=True) for part in (count, total))
    everybody = np.divide(total_of_all, of_all, out=np.zeros_like(of_all), where=of_all > 0)
    means = np.where(count > 0, total / np.maximum(count, 1.0), everybody)
    return np.concatenate([means, everybody], axis=1)


def _without_each_fold(by_fold: Floats) -> Floats:
    """Return the sums of the other folds, and last of all."""
    whole = by_fold.sum(axis=0)
    return np.concatenate([whole - by_fold, whole[None]])
