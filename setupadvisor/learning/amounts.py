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

from setupadvisor.learning.sessions import Floats, Integers

# The search for the spreads starts at one scale of the setting (habit and noise) and half of it
# (event and venue), and is held there loosely: a factor of e either way costs half a unit of log
# evidence. Choices, not published values; they only matter while there are few sessions.
START_NOISE, START_HABIT, START_EVENT, START_VENUE = 1.0, 1.0, 0.5, 0.5
LOOSENESS = 1.0
# Spreads stay within this many powers of e of their start: further apart, sums of squares lose the
# digits that tell a posterior's precision from zero.
FURTHEST = 5.0
FIRST_STRIDE, LAST_STRIDE = np.log(4.0), np.log(1.02)


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
    event_venue : (E,) integer array
        The venue of each event, from 0 without gaps; an unknown one is that event's alone.
    """

    gram: Floats
    moment: Floats
    square: Floats
    weight: Floats
    event_fold: Integers
    event_weight: Floats
    event_target: Floats
    event_columns: Floats
    event_venue: Integers


def totals(
    degrees: Floats,
    target: Floats,
    weight: Floats,
    *,
    rider: Integers,
    event: Integers,
    venue: Integers,
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
    rider, event, venue, fold : (n,) integer array
        Codes; a fold holds whole events, and an event is at one venue, -1 where unknown.
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
    event_venue = np.zeros(n_events, dtype=np.int64)
    event_venue[event] = venue
    apart = event_venue.max(initial=-1) + 1 + np.arange(n_events)
    _, event_venue = np.unique(np.where(event_venue < 0, apart, event_venue), return_inverse=True)
    return Totals(
        gram=gram,
        moment=moment,
        square=_sums(fold, weight * target**2, n_folds),
        weight=_sums(fold, weight, n_folds),
        event_fold=event_fold,
        event_weight=_sums(event, weight, n_events),
        event_target=_sums(event, weight * target, n_events),
        event_columns=event_columns,
        event_venue=event_venue,
    )


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

    >>> first = np.array([0])
    >>> one = totals(np.zeros((1, 0)), np.array([2.0]), np.array([1.0]), rider=first, event=first,
    ...              venue=first, fold=first, n_riders=1, n_folds=1)
    >>> value = log_evidence(one, np.zeros(0), Spreads.of([[1.0, 2.0, 1.0, 1.0]]))
    >>> round(float(value[0]), 4) == round(float(-0.5 * np.log(2 * np.pi * 7) - 4 / 14), 4)
    True
    """
    noise, habit = spreads.noise, spreads.habit
    pairs = np.column_stack([spreads.event, spreads.venue]) / noise[:, None]
    distinct, where = np.unique(pairs, axis=0, return_inverse=True)
    where = where.ravel()
    parts = [_integrated(sums, event**2, venue**2) for event, venue in distinct.tolist()]
    grams, moments, squares = (
        np.stack([getattr(part, name) for part in parts])[where]
        for name in ("gram", "moment", "square")
    )
    opened = np.array([part.log_determinant for part in parts])[where]
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
        best = int(np.argmax(merit))
        if merit[best] <= merit[len(offsets) // 2]:
            stride /= 2.0
        else:
            centre = candidates[best]
    return Spreads.of(np.exp(centre))


def posterior(sums: Totals, amount_sd: Floats, spreads: Spreads) -> tuple[Floats, Floats]:
    """Posterior of amounts and habits, with every fold left out in turn and with none left out.

    Parameters
    ----------
    sums : Totals
        Sums of the setting, over K folds.
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
    event, venue = (float(spread / noise) ** 2 for spread in (spreads.event, spreads.venue))
    parts = [_integrated(sums, event, venue, without=k) for k in range(n_folds)]
    parts.append(_integrated(sums, event, venue))
    left_gram = np.stack([part.gram for part in parts])
    left_moment = np.stack([part.moment for part in parts])
    habits = np.full(width - len(amount_sd), float(spreads.habit))
    prior_sd = np.concatenate([amount_sd, habits])
    inverse = np.linalg.inv(_whitened(left_gram / noise**2, prior_sd[None]))
    covariance = inverse * (prior_sd[:, None] * prior_sd)
    covariance = (covariance + covariance.transpose(0, 2, 1)) / 2.0
    mean = (covariance @ left_moment[:, :, None])[:, :, 0] / noise**2
    return mean, covariance


@dataclass(frozen=True)
class _Integrated:
    """Sums with the deviations of events and venues integrated out."""

    gram: Floats
    moment: Floats
    square: float
    log_determinant: float


def _integrated(
    sums: Totals, event: float, venue: float, *, without: int | None = None
) -> _Integrated:
    """Integrate out events and venues whose variances are given over that of the noise.

    First the events; a venue then sees each of its events with what weight that left it.
    """
    folds = np.arange(len(sums.moment)) != (-1 if without is None else without)
    kept = np.ones(len(sums.event_fold), bool) if without is None else sums.event_fold != without
    columns, weight, target = (
        part[kept] for part in (sums.event_columns, sums.event_weight, sums.event_target)
    )
    of_venue, n_venues = sums.event_venue[kept], int(sums.event_venue.max(initial=-1)) + 1
    left = 1.0 / (1.0 + event * weight)
    shrink = event * left
    by_venue = np.zeros((n_venues, columns.shape[1]))
    np.add.at(by_venue, of_venue, columns * left[:, None])
    venue_weight = _sums(of_venue, weight * left, n_venues)
    venue_target = _sums(of_venue, target * left, n_venues)
    shrink_venue = venue / (1.0 + venue * venue_weight)
    return _Integrated(
        gram=sums.gram[folds].sum(axis=0)
        - columns.T @ (columns * shrink[:, None])
        - by_venue.T @ (by_venue * shrink_venue[:, None]),
        moment=sums.moment[folds].sum(axis=0)
        - (shrink * target) @ columns
        - (shrink_venue * venue_target) @ by_venue,
        square=float(
            sums.square[folds].sum() - shrink @ target**2 - shrink_venue @ venue_target**2
        ),
        log_determinant=float(
            np.log1p(event * weight).sum() + np.log1p(venue * venue_weight).sum()
        ),
    )


def _sums(codes: Integers, weights: Floats, length: int) -> Floats:
    """Sum weights by code."""
    return np.bincount(codes, weights=weights, minlength=length).astype(np.float64, copy=False)


def _whitened(gram: Floats, prior_sd: Floats) -> Floats:
    """Return the posterior precision in units of the prior's standard deviations."""
    scaled: Floats = gram * prior_sd[:, :, None] * prior_sd[:, None, :]
    width = scaled.shape[-1]
    scaled[:, np.arange(width), np.arange(width)] += 1.0
    return scaled
