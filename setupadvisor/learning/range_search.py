"""CV+ ranges of many walks from many residuals, without sorting the residuals for each walk.

The residuals of one fold are sorted once. Seen from one walk they are shifted by that fold's
prediction and stretched by the spread expected there, which leaves their order as it is; the wanted
rank over all folds is then found by halving, and read off exactly at the end.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from setupadvisor.learning.ranges import ROUNDING, cv_plus
from setupadvisor.learning.sessions import Booleans, Floats, Integers

# With fewer walks or residuals than these, sorting is quicker.
FEWEST_WALKS, FEWEST_RESIDUALS = 32, 400
# Halvings before the last ranks are walked one by one.
HALVINGS = 12


@dataclass(frozen=True)
class FoldResiduals:
    """Residuals of one setting: by fold, and ascending within the fold.

    Parameters
    ----------
    residual, mass : (n,) array
        Absolute residuals and their masses.
    fold : (n,) integer array
        Folds, ascending.
    start : (K + 1,) integer array
        Where each fold starts.
    reached : (n + K,) array
        For each fold, the mass of its first 0, 1, 2, ... residuals.
    """

    residual: Floats
    mass: Floats
    fold: Integers
    start: Integers
    reached: Floats

    def of_fold(self, k: int) -> tuple[Floats, Floats]:
        """Return the ascending residuals of a fold, and the mass of its first 0, 1, 2, ...

        Parameters
        ----------
        k : int
            A fold.

        Returns
        -------
        residual : (n_k,) array
            Residuals.
        reached : (n_k + 1,) array
            Masses.
        """
        start, stop = self.start[k], self.start[k + 1]
        return self.residual[start:stop], self.reached[start + k : stop + k + 1]


def fold_residuals(residual: Floats, fold: Integers, mass: Floats, n_folds: int) -> FoldResiduals:
    """Sort the residuals of one setting by fold and size.

    Parameters
    ----------
    residual, mass : (n,) array
        Absolute residuals and their masses.
    fold : (n,) integer array
        Fold of each.
    n_folds : int
        Number of folds.

    Returns
    -------
    FoldResiduals
        The same residuals, sorted.

    Examples
    --------
    >>> sorted_ones = fold_residuals(np.array([3.0, 1.0, 2.0]), np.array([1, 0, 1]), np.ones(3), 2)
    >>> sorted_ones.of_fold(1)[0].tolist()
    [2.0, 3.0]
    """
    order = np.lexsort((residual, fold))
    residual, fold, mass = residual[order], fold[order], mass[order]
    start = np.searchsorted(fold, np.arange(n_folds + 1))
    reached = [np.append(0.0, np.cumsum(mass[start[k] : start[k + 1]])) for k in range(n_folds)]
    return FoldResiduals(residual, mass, fold, start, np.concatenate([*reached, np.zeros(0)]))


def cv_plus_of_folds(
    centre: Floats, spread: Floats, residuals: FoldResiduals, level: float
) -> tuple[Floats, Floats]:
    """CV+ interval around predictions whose residuals are stretched by a spread.

    Parameters
    ----------
    centre, spread : (m, K) array
        Prediction of each of m walks by the model without fold k, and the spread expected there.
    residuals : FoldResiduals
        Absolute residuals over their own spreads.
    level : float
        Wanted coverage, between 0 and 1.

    Returns
    -------
    low, high : (m,) array
        As from `cv_plus` with residuals times spread; NaN where a prediction is NaN.

    Examples
    --------
    >>> ones = fold_residuals(np.array([1.0, 0.5, 2.0, 0.5]), np.array([0, 0, 1, 1]), np.ones(4), 2)
    >>> low, high = cv_plus_of_folds(np.array([[5.0, 6.0]]), np.ones((1, 2)), ones, 0.6)
    >>> low.tolist(), high.tolist()
    ([4.0], [6.5])
    """
    total = residuals.mass.sum()
    wanted = level * (total + 1.0) - ROUNDING
    known = np.isfinite(centre).all(axis=1) & np.isfinite(spread).all(axis=1)
    few = known.sum() < FEWEST_WALKS or len(residuals.residual) < FEWEST_RESIDUALS
    if few or total < wanted:
        stretched = residuals.residual * spread[:, residuals.fold]
        return cv_plus(centre, stretched, residuals.fold, residuals.mass, level)
    low, high = np.full(len(centre), np.nan), np.full(len(centre), np.nan)
    low[known] = -_value_at(-centre[known], spread[known], residuals, wanted)
    high[known] = _value_at(centre[known], spread[known], residuals, wanted)
    return low, high


def _value_at(centre: Floats, spread: Floats, residuals: FoldResiduals, wanted: float) -> Floats:
    """Return, for each walk, the smallest stretched residual at which the mass is reached."""
    below, above = _bracket(centre, spread, residuals, wanted)
    for _ in range(HALVINGS):
        middle = 0.5 * (below + above)
        enough = _mass_up_to(middle, centre, spread, residuals)[0] >= wanted
        above = np.where(enough, middle, above)
        below = np.where(enough, below, middle)
    result = np.full(len(centre), np.nan)
    left = np.arange(len(centre))
    at = _mass_up_to(below, centre, spread, residuals)[1]
    while len(left):
        reached, following = _mass_up_to(at[left], centre[left], spread[left], residuals)
        done = (reached >= wanted) | np.isinf(following)
        result[left[done]] = at[left[done]]
        left, following = left[~done], following[~done]
        at[left] = following
    return result


def _bracket(
    centre: Floats, spread: Floats, residuals: FoldResiduals, wanted: float
) -> tuple[Floats, Floats]:
    """Return values below and from which on the wanted mass is reached.

    Where every fold has reached its own part of the mass, so have all together; where none has, all
    together have not.
    """
    share = wanted / residuals.mass.sum()
    lowest, highest = np.full(len(centre), np.inf), np.full(len(centre), -np.inf)
    for k in range(centre.shape[1]):
        residual, reached = residuals.of_fold(k)
        if len(residual):
            place = np.searchsorted(reached[1:], share * reached[-1])
            sure = min(place + 1, len(residual) - 1)
            lowest = np.minimum(lowest, centre[:, k] + residual[max(place - 1, 0)] * spread[:, k])
            highest = np.maximum(highest, centre[:, k] + residual[sure] * spread[:, k])
    return np.nextafter(lowest, -np.inf), highest


def _mass_up_to(
    value: Floats, centre: Floats, spread: Floats, residuals: FoldResiduals
) -> tuple[Floats, Floats]:
    """Return the mass of stretched residuals up to a value, and the next one above it."""
    mass, following = np.zeros(len(value)), np.full(len(value), np.inf)
    for k in range(centre.shape[1]):
        residual, reached = residuals.of_fold(k)
        if len(residual) == 0:
            continue
        base, stretch = centre[:, k], spread[:, k]
        count = np.searchsorted(residual, (value - base) / stretch, side="right")
        count = _exact(count, residual, base, stretch, value)
        mass += reached[count]
        inside = count < len(residual)
        ahead = base + residual[np.minimum(count, len(residual) - 1)] * stretch
        following = np.where(inside & (ahead < following), ahead, following)
    return mass, following


def _exact(
    count: Integers, residual: Floats, base: Floats, stretch: Floats, value: Floats
) -> Integers:
    """Mend counts by one where the division rounded across a residual."""
    last = len(residual) - 1
    while True:
        more: Booleans = (count <= last) & (
            base + residual[np.minimum(count, last)] * stretch <= value
        )
        less: Booleans = (count > 0) & (base + residual[np.maximum(count - 1, 0)] * stretch > value)
        if not (more | less).any():
            return count
        count = count + more - less
