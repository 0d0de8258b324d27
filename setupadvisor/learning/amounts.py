"""Amounts that learn: the posterior of rules and habits for one setting.

For one setting, with y the value less the house value,

    y_i = sum over rules of amount_r * degree_ri + habit_g(i) + event_e(i) + noise_i

    amount_r ~ N(as written, (relative spread * |as written|)^2)
    habit_g  ~ N(0, habit^2),  event_e ~ N(0, event^2),  noise_i ~ N(0, noise^2 / weight_i)

The deviation of a whole event is integrated out: riders at one event share its ground, and without
it one odd day with many riders would count as many findings. Weights enter as powers of the
likelihood, so that the sessions of one day do not pretend to be many.

References
----------
Bishop, C. M. (2006), Pattern Recognition and Machine Learning, sections 3.3 to 3.5 (from memory).
Gelman, A. et al. (2013), Bayesian Data Analysis, 3rd edition, ch. 14 and 15 (from memory).
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from setupadvisor.learning.sessions import Floats, Integers

# The search for the three spreads starts at one scale of the setting (habit and noise) and half of
# it (event), and is held there loosely: a factor of e either way costs half a unit of log evidence.
# Choices, not published values; they only matter while there are few sessions.
START_NOISE, START_HABIT, START_EVENT = 1.0, 1.0, 0.5
LOOSENESS = 1.0
FIRST_STRIDE, LAST_STRIDE = np.log(4.0), np.log(1.02)


@dataclass(frozen=True)
class Totals:
    """Weighted sums that the posterior of one setting needs, for each of K folds of whole events.

    Parameters
    ----------
    gram : (K, P, P) array
        Sum of weight * column * column over the fold's sessions, for the Q rules and G riders.
    moment : (K, P) array
        Sum of weight * column * target.
    square : (K,) array
        Sum of weight * target^2.
    weight : (K,) array
        Sum of weights.
    event_fold : (E,) array
        The fold of each event.
    event_weight, event_target : (E,) array
        Sum of weights and of weight * target over the event.
    event_columns : (E, P) array
        Sum of weight * column over the event.
    """

    gram: Floats
    moment: Floats
    square: Floats
    weight: Floats
    event_fold: Integers
    event_weight: Floats
    event_target: Floats
    event_columns: Floats


def totals(
    degrees: Floats,
    target: Floats,
    weight: Floats,
    *,
    rider: Integers,
    event: Integers,
    fold: Integers,
    n_riders: int,
    n_folds: int,
) -> Totals:
    """Sum up the recorded sessions of one setting.

    Parameters
    ----------
    degrees : (n, Q) array
        Degrees of the rules that touch the setting.
    target : (n,) array
        Value less house value less the rules as written.
    weight : (n,) array
        Weights above 0.
    rider, event, fold : (n,) integer array
        Codes; a fold holds whole events.
    n_riders, n_folds : int
        How many riders and folds there are.

    Returns
    -------
    Totals
        Sums by fold and by event.
    """
    n_rules = degrees.shape[1]
    width = n_rules + n_riders
    events, event = np.unique(event, return_inverse=True)
    n_events = len(events)
    weighted = degrees * weight[:, None]
    gram = np.zeros((n_folds, width, width))
    moment = np.zeros((n_folds, width))
    by_rider = fold * n_riders + rider
    riders = np.arange(n_rules, width)
    gram[:, riders, riders] = _sums(by_rider, weight, n_folds * n_riders).reshape(n_folds, n_riders)
    moment[:, n_rules:] = _sums(by_rider, weight * target, n_folds * n_riders).reshape(
        n_folds, n_riders
    )
    event_columns = np.zeros((n_events, width))
    by_event = event * n_riders + rider
    event_columns[:, n_rules:] = _sums(by_event, weight, n_events * n_riders).reshape(
        n_events, n_riders
    )
    for q in range(n_rules):
        cross = _sums(by_rider, weighted[:, q], n_folds * n_riders).reshape(n_folds, n_riders)
        gram[:, q, n_rules:] = cross
        gram[:, n_rules:, q] = cross
        moment[:, q] = _sums(fold, weighted[:, q] * target, n_folds)
        event_columns[:, q] = _sums(event, weighted[:, q], n_events)
    for k in range(n_folds):
        rows = fold == k
        gram[k, :n_rules, :n_rules] = degrees[rows].T @ weighted[rows]
    event_fold = np.zeros(n_events, dtype=np.int64)
    event_fold[event] = fold
    return Totals(
        gram=gram,
        moment=moment,
        square=_sums(fold, weight * target**2, n_folds),
        weight=_sums(fold, weight, n_folds),
        event_fold=event_fold,
        event_weight=_sums(event, weight, n_events),
        event_target=_sums(event, weight * target, n_events),
        event_columns=event_columns,
    )


def log_evidence(
    sums: Totals, amount_sd: Floats, noise: Floats, habit: Floats, event: Floats
) -> Floats:
    """Log marginal likelihood of one setting's sessions for several candidate spreads.

    Parameters
    ----------
    sums : Totals
        Sums of the setting.
    amount_sd : (Q,) array
        Prior standard deviation of each rule's amount.
    noise, habit, event : (C,) array
        Candidate standard deviations, in the setting's number; `noise` above 0.

    Returns
    -------
    (C,) array
        Natural logarithm of the evidence, weights taken as powers of the likelihood.

    Examples
    --------
    One session 2.0 away, no rules, one rider: a normal density with variance 1 + 4 + 1.

    >>> first = np.array([0])
    >>> one = totals(np.zeros((1, 0)), np.array([2.0]), np.array([1.0]), rider=first, event=first,
    ...              fold=first, n_riders=1, n_folds=1)
    >>> value = log_evidence(one, np.zeros(0), np.array([1.0]), np.array([2.0]), np.array([1.0]))
    >>> round(float(value[0]), 4) == round(float(-0.5 * np.log(2 * np.pi * 6) - 4 / 12), 4)
    True
    """
    gram, moment, square = sums.gram.sum(axis=0), sums.moment.sum(axis=0), sums.square.sum()
    n_riders = gram.shape[0] - len(amount_sd)
    ratio = (event / noise) ** 2
    shrink = ratio[:, None] / (1.0 + ratio[:, None] * sums.event_weight)
    distinct, where = np.unique(ratio, return_inverse=True)
    grams = np.stack(
        [
            gram - _reduced(sums.event_columns, r / (1.0 + r * sums.event_weight))
            for r in distinct.tolist()
        ]
    )[where]
    moments = moment - (shrink * sums.event_target) @ sums.event_columns
    squares = square - shrink @ sums.event_target**2
    prior_sd = np.concatenate(
        [
            np.broadcast_to(amount_sd, (len(noise), len(amount_sd))),
            np.broadcast_to(habit[:, None], (len(noise), n_riders)),
        ],
        axis=1,
    )
    precision = 1.0 / noise**2
    scaled = moments * prior_sd * precision[:, None]
    root = np.linalg.cholesky(_whitened(grams * precision[:, None, None], prior_sd))
    half = np.linalg.solve(root, scaled[:, :, None])[:, :, 0]
    log_determinant = 2.0 * np.log(np.diagonal(root, axis1=1, axis2=2)).sum(axis=1)
    result: Floats = -0.5 * (
        sums.weight.sum() * np.log(2.0 * np.pi * noise**2)
        + np.log1p(ratio[:, None] * sums.event_weight).sum(axis=1)
        + log_determinant
        + squares * precision
        - (half**2).sum(axis=1)
    )
    return result


def choose_spreads(sums: Totals, amount_sd: Floats, scale: float) -> tuple[float, float, float]:
    """Choose noise, habit and event spread of one setting by marginal likelihood.

    Parameters
    ----------
    sums : Totals
        Sums of the setting.
    amount_sd : (Q,) array
        Prior standard deviation of each rule's amount.
    scale : float
        What one usual change of the setting is, in its number; where the search starts.

    Returns
    -------
    tuple of float
        Standard deviations of noise, habit and event, in the setting's number.

    Notes
    -----
    The logarithm of each spread has a loose normal prior around its start, so that one session
    neither makes the noise vanish nor the habit explode. The search is a fixed sequence of small
    grids, so that the same season always gives the same spreads.
    """
    start = np.log(scale * np.array([START_NOISE, START_HABIT, START_EVENT]))
    if sums.weight.sum() == 0:
        return _as_three(np.exp(start))
    offsets = np.stack(np.meshgrid(*[[-1.0, 0.0, 1.0]] * 3, indexing="ij"), axis=-1).reshape(-1, 3)
    centre, stride = start, FIRST_STRIDE
    while stride > LAST_STRIDE:
        candidates = centre + stride * offsets
        noise, habit, event = np.exp(candidates).T
        merit = log_evidence(sums, amount_sd, noise, habit, event)
        merit -= (((candidates - start) / LOOSENESS) ** 2).sum(axis=1) / 2.0
        best = int(np.argmax(merit))
        if merit[best] <= merit[len(offsets) // 2]:
            stride /= 2.0
        else:
            centre = candidates[best]
    return _as_three(np.exp(centre))


def posterior(
    sums: Totals, amount_sd: Floats, noise: float, habit: float, event: float
) -> tuple[Floats, Floats]:
    """Posterior of amounts and habits, with every fold left out in turn and with none left out.

    Parameters
    ----------
    sums : Totals
        Sums of the setting, over K folds.
    amount_sd : (Q,) array
        Prior standard deviation of each rule's amount.
    noise, habit, event : float
        Spreads of the setting, in its number.

    Returns
    -------
    mean : (K + 1, P) array
        Posterior means of the amounts' shifts from the prior (Q) and the habits (G), in the
        setting's number. Row k is without fold k; the last row is with everything.
    covariance : (K + 1, P, P) array
        Posterior covariances, likewise.
    """
    n_folds, width = sums.moment.shape
    ratio = (event / noise) ** 2
    shrink = ratio / (1.0 + ratio * sums.event_weight)
    gram = sums.gram.copy()
    moment = sums.moment.copy()
    for k in range(n_folds):
        rows = sums.event_fold == k
        columns = sums.event_columns[rows]
        gram[k] -= _reduced(columns, shrink[rows])
        moment[k] -= (shrink[rows] * sums.event_target[rows]) @ columns
    left_gram = np.concatenate([gram.sum(axis=0) - gram, gram.sum(axis=0)[None]])
    left_moment = np.concatenate([moment.sum(axis=0) - moment, moment.sum(axis=0)[None]])
    prior_sd = np.concatenate([amount_sd, np.full(width - len(amount_sd), habit)])
    inverse = np.linalg.inv(_whitened(left_gram / noise**2, prior_sd[None]))
    covariance = inverse * (prior_sd[:, None] * prior_sd)
    covariance = (covariance + covariance.transpose(0, 2, 1)) / 2.0
    mean = (covariance @ left_moment[:, :, None])[:, :, 0] / noise**2
    return mean, covariance


def _sums(codes: Integers, weights: Floats, length: int) -> Floats:
    """Sum weights by code."""
    return np.bincount(codes, weights=weights, minlength=length).astype(np.float64, copy=False)


def _reduced(columns: Floats, shrink: Floats) -> Floats:
    """Return what integrating out the events takes from the Gram matrix."""
    product: Floats = columns.T @ (columns * shrink[:, None])
    return product


def _whitened(gram: Floats, prior_sd: Floats) -> Floats:
    """Return the posterior precision in units of the prior's standard deviations."""
    scaled: Floats = gram * prior_sd[:, :, None] * prior_sd[:, None, :]
    width = scaled.shape[-1]
    scaled[:, np.arange(width), np.arange(width)] += 1.0
    return scaled


def _as_three(values: Floats) -> tuple[float, float, float]:
    noise, habit, event = values.tolist()
    return noise, habit, event
