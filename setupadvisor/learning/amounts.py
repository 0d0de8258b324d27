"""Amounts that learn: the posterior of rules and habits for one setting.

For one setting, with y the value less the house value,

    y_i = sum over rules of amount_r * degree_ri + habit_g(i) + event_e(i) + venue_v(i) + noise_i

    amount_r ~ N(as written, (relative spread * |as written|)^2)
    habit_g  ~ N(0, habit^2),  noise_i ~ N(0, noise^2 / weight_i)
    event_e  ~ N(0, event^2),  venue_v ~ N(0, venue^2)

The deviations of a whole event and of a venue are integrated out: riders at one event share its
ground, and a venue has its ground year after year; without them one odd day with many riders, or
one odd venue with many days, would count as many findings about the rules that spoke there. Weights
enter as powers of the likelihood, so that the sessions of one day do not pretend to be many.

References
----------
Bishop, C. M. (2006), Pattern Recognition and Machine Learning, sections 3.3 to 3.5 (from memory).
Gelman, A. et al. (2013), Bayesian Data Analysis, 3rd edition, ch. 14 and 15 (from memory).
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from setupadvisor.learning.amount_sums import (
    FoldSums,
    Totals,
    candidates_integrated,
    events_integrated,
)
from setupadvisor.learning.sessions import Floats

# The search for the spreads starts at one scale of the setting (habit and noise) and half of it
# (event and venue), and is held there loosely: a factor of e either way costs half a unit of log
# evidence. Choices, not published values; they only matter while there are few sessions.
START_NOISE, START_HABIT, START_EVENT, START_VENUE = 1.0, 1.0, 0.5, 0.5
LOOSENESS = 1.0
# Spreads stay within this many powers of e of their start: further apart, sums of squares lose the
# digits that tell a posterior's precision from zero.
FURTHEST = 5.0
FIRST_STRIDE, LAST_STRIDE = np.log(4.0), np.log(1.02)
# Candidates whose log evidence differs by no more are equally good, and the first of them is taken:
# the order in which sums were added up does not decide.
ROUNDING = 1e-6


@dataclass(frozen=True)
class Spreads:
    """Standard deviations of one setting, in its number, or several candidates for them.

    Parameters
    ----------
    noise, habit, event, venue : float or (C,) array
        Of settled setups, riders' habits, whole events and venues; `noise` above 0.
    """

    noise: Floats
    habit: Floats
    event: Floats
    venue: Floats

    @classmethod
    def of(cls, values: Floats) -> Spreads:
        """Take them from the last axis of an array.

        Parameters
        ----------
        values : (..., 4) array
            Noise, habit, event, venue.

        Returns
        -------
        Spreads
            The same.
        """
        return cls(*np.moveaxis(np.asarray(values, dtype=np.float64), -1, 0))


def log_evidence(sums: Totals, amount_sd: Floats, spreads: Spreads) -> Floats:
    """Log marginal likelihood of one setting's sessions for several candidate spreads.

    Parameters
    ----------
    sums : Totals
        Sums of the setting.
    amount_sd : (Q,) array
        Prior standard deviation of each rule's amount.
    spreads : Spreads
        C candidates.

    Returns
    -------
    (C,) array
        Natural logarithm of the evidence, weights taken as powers of the likelihood.

    Examples
    --------
    One session 2.0 away, no rules, one rider: a normal density with variance 1 + 4 + 1 + 1.

    >>> from setupadvisor.learning.amount_sums import Recorded, totals
    >>> first = np.array([0])
    >>> one = Recorded(np.zeros((1, 0)), np.array([2.0]), np.array([1.0]), *[first] * 4)
    >>> one = totals(one, n_riders=1, n_folds=1, n_venues=1)
    >>> value = log_evidence(one, np.zeros(0), Spreads.of([[1.0, 2.0, 1.0, 1.0]]))
    >>> round(float(value[0]), 4) == round(float(-0.5 * np.log(2 * np.pi * 7) - 4 / 14), 4)
    True
    """
    noise, habit = spreads.noise, spreads.habit
    pairs = np.column_stack([spreads.event, spreads.venue]) / noise[:, None]
    distinct, where = np.unique(pairs, axis=0, return_inverse=True)
    where = where.ravel()
    whole = sums.of_one_fold()
    parts = candidates_integrated(whole, *distinct.T**2)
    grams, moments, squares, opened = (
        np.concatenate(columns)[where] for columns in zip(*parts, strict=True)
    )
    n_riders = grams.shape[-1] - len(amount_sd)
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
        + opened
        + log_determinant
        + squares * precision
        - (half**2).sum(axis=1)
    )
    return result


def choose_spreads(sums: Totals, amount_sd: Floats, scale: float) -> Spreads:
    """Choose noise, habit, event and venue spread of one setting by marginal likelihood.

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
    Spreads
        The ones chosen.

    Notes
    -----
    The logarithm of each spread has a loose normal prior around its start, so that one session
    neither makes the noise vanish nor the habit explode. The search is a fixed sequence of small
    grids, so that the same season always gives the same spreads.
    """
    start = np.log(scale * np.array([START_NOISE, START_HABIT, START_EVENT, START_VENUE]))
    if sums.weight.sum() == 0:
        return Spreads.of(np.exp(start))
    steps = np.meshgrid(*[[-1.0, 0.0, 1.0]] * len(start), indexing="ij")
    offsets = np.stack(steps, axis=-1).reshape(-1, len(start))
    centre, stride = start, FIRST_STRIDE
    while stride > LAST_STRIDE:
        candidates = np.clip(centre + stride * offsets, start - FURTHEST, start + FURTHEST)
        merit = log_evidence(sums, amount_sd, Spreads.of(np.exp(candidates)))
        merit -= (((candidates - start) / LOOSENESS) ** 2).sum(axis=1) / 2.0
        best = int(np.argmax(merit >= merit.max() - ROUNDING))
        if merit[best] <= merit[len(offsets) // 2] + ROUNDING:
            stride /= 2.0
        else:
            centre = candidates[best]
    return Spreads.of(np.exp(centre))


def integrated(sums: Totals, spreads: Spreads) -> FoldSums:
    """Integrate the events' deviations out, with the spreads that were chosen.

    Parameters
    ----------
    sums : Totals
        Sums of the setting.
    spreads : Spreads
        Spreads of the setting.

    Returns
    -------
    FoldSums
        What `posterior` needs; the sums of parts of an archive add up.
    """
    noise = float(spreads.noise)
    event, venue = (float(spread / noise) ** 2 for spread in (spreads.event, spreads.venue))
    return events_integrated(sums, event, venue)


def posterior(sums: FoldSums, amount_sd: Floats, spreads: Spreads) -> tuple[Floats, Floats]:
    """Posterior of amounts and habits, with every fold left out in turn and with none left out.

    Parameters
    ----------
    sums : FoldSums
        Sums of the setting over K folds, from `integrated`.
    amount_sd : (Q,) array
        Prior standard deviation of each rule's amount.
    spreads : Spreads
        Spreads of the setting.

    Returns
    -------
    mean : (K + 1, P) array
        Posterior means of the amounts' shifts from the prior (Q) and the habits (G), in the
        setting's number. Row k is without fold k; the last row is with everything.
    covariance : (K + 1, P, P) array
        Posterior covariances, likewise.
    """
    n_folds, width = sums.moment.shape
    noise = float(spreads.noise)
    kept = np.vstack([1.0 - np.eye(n_folds), np.ones((1, n_folds))])
    gram, moment, _, _ = sums.of_folds(kept).venues_integrated(float(spreads.venue / noise) ** 2)
    habits = np.full(width - len(amount_sd), float(spreads.habit))
    prior_sd = np.concatenate([amount_sd, habits])
    inverse = np.linalg.inv(_whitened(gram / noise**2, prior_sd[None]))
    covariance = inverse * (prior_sd[:, None] * prior_sd)
    covariance = (covariance + covariance.transpose(0, 2, 1)) / 2.0
    mean = (covariance @ moment[:, :, None])[:, :, 0] / noise**2
    return mean, covariance


def _whitened(gram: Floats, prior_sd: Floats) -> Floats:
    """Return the posterior precision in units of the prior's standard deviations."""
    scaled: Floats = gram * prior_sd[:, :, None] * prior_sd[:, None, :]
    width = scaled.shape[-1]
    scaled[:, np.arange(width), np.arange(width)] += 1.0
    return scaled
