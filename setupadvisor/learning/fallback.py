"""Where something simpler does clearly better, a setting falls back to it.

A setting whose rules are better left as they are, or better left aside, is not helped by learning.
Whether that is so is judged on events the models have not seen, one number an event, since sessions
of one event are not independent findings.

References
----------
Student (1908), The probable error of a mean, Biometrika 6:1-25, for the paired comparison;
Bonferroni's inequality for the number of comparisons (both from memory).
"""

from __future__ import annotations

import numpy as np

from setupadvisor.learning.advised import AS_WRITTEN, RIDERS_MEAN
from setupadvisor.learning.left_out import LeftOut
from setupadvisor.learning.sessions import Floats, Integers
from setupadvisor.learning.student_t import t_cdf

# With fewer events one odd day decides. A choice, not a published value.
FEWEST_EVENTS = 8
# Chance that any setting of a season falls back though nothing simpler is better there.
FALSE_ALARMS = 0.05
# What falling back must gain, as a share of the error.
WORTHWHILE = 0.05


def chosen_fallbacks(left_out: LeftOut, event: Integers) -> Integers:
    """Choose what each setting falls back to.

    Parameters
    ----------
    left_out : LeftOut
        Errors of q sessions without their fold.
    event : (q,) integer array
        Event of each.

    Returns
    -------
    (S,) integer array
        Into `advised.FALLBACKS`.

    Notes
    -----
    A setting falls back where a simpler way has a mean absolute error smaller by at least 5 %, and
    the gain, averaged over each event, is above zero by a one-sided paired t test over at least
    eight events. The level of the test is 5 % over all settings and both simpler ways.
    """
    ways = {AS_WRITTEN: left_out.written, RIDERS_MEAN: left_out.riders_mean}
    n_settings = left_out.design.shape[1]
    alarm = FALSE_ALARMS / max(len(ways) * n_settings, 1)
    result = np.zeros(n_settings, dtype=np.int64)
    best = _mean_error(left_out.design)
    for code, errors in ways.items():
        error = _mean_error(errors)
        chance = chances_of_no_gain(left_out.design, errors, event)
        worthwhile = error < (1.0 - WORTHWHILE) * _mean_error(left_out.design)
        here = (chance < alarm) & worthwhile & (error < best)
        result = np.where(here, code, result)
        best = np.where(here, error, best)
    return result


def chances_of_no_gain(design: Floats, other: Floats, event: Integers) -> Floats:
    """One-sided p-value of each setting: that another way's errors are no smaller.

    Parameters
    ----------
    design, other : (q, S) array
        Errors; NaN where there is no settled setup.
    event : (q,) integer array
        Event of each session.

    Returns
    -------
    (S,) array
        From a paired t test over events; 1 where there are fewer than eight.

    Examples
    --------
    >>> gains = np.array([0.5, 0.4, 0.6, 0.5, 0.3, 0.7, 0.5, 0.5])
    >>> chances_of_no_gain(1.0 + gains[:, None], np.ones((8, 1)), np.arange(8)).round(6).tolist()
    [3e-06]
    """
    gain = np.abs(design) - np.abs(other)
    events, place = np.unique(event, return_inverse=True)
    known = np.isfinite(gain)
    total, count = np.zeros((len(events), gain.shape[1])), np.zeros((len(events), gain.shape[1]))
    np.add.at(total, place, np.where(known, gain, 0.0))
    np.add.at(count, place, known.astype(np.float64))
    seen = count > 0
    by_event = np.divide(total, count, out=np.zeros_like(total), where=seen)
    n = seen.sum(axis=0)
    mean = by_event.sum(axis=0) / np.maximum(n, 1)
    squares = (np.where(seen, by_event - mean, 0.0) ** 2).sum(axis=0)
    error = np.sqrt(squares / np.maximum(n - 1, 1) / np.maximum(n, 1))
    chance = np.ones(len(n))
    for s in np.flatnonzero(n >= FEWEST_EVENTS).tolist():
        t = mean[s] / error[s] if error[s] > 0 else float(np.sign(mean[s])) * np.inf
        chance[s] = t_cdf(np.array(-t), float(n[s] - 1)) if mean[s] != 0 else 0.5
    return chance


def _mean_error(errors: Floats) -> Floats:
    """Mean absolute error of each setting; infinite where there is none."""
    known = np.isfinite(errors)
    total = np.where(known, np.abs(errors), 0.0).sum(axis=0)
    count = known.sum(axis=0)
    return np.where(count > 0, total / np.maximum(count, 1), np.inf)
