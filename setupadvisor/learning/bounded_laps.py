"""Slow laps with bounded weight: traffic, a mistake, a tired lap.

Such laps only ever cost time, and no rule can name them one by one. So a lap pulls the level of
its run no further than a lap `SLOW_BOUND` spreads slow would, or `FAST_BOUND` spreads fast
(Huber's M-estimate of location and slope with an asymmetric bound). The laps are then replaced by
pseudo-values, from which ordinary least squares gives the M-estimate and its standard errors, so
that everything after this step may reckon with normal errors. Without a lap beyond the bounds the
pseudo-values are the laps themselves.

References
----------
Huber, P. J., Ronchetti, E. M. (2009), Robust Statistics, 2nd ed., ch. 7 (modified residuals,
covariance estimates (7.81) with the correction factor K), from memory. Checked against the
independent implementation in statsmodels (RLM, HuberT, covariance H1).
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from setupadvisor.learning.sessions import Booleans, Floats, Integers

# 1.345 loses 5 % where errors are normal and none of the laps is slow for a reason (Huber).
SLOW_BOUND = 1.345
FAST_BOUND = 2.5
MAD_SHARE = 0.6744897501960817
# A slope over the laps of a run needs something to be told from.
LEAST_LAPS_FOR_SLOPE = 12
_LEAST_SCALE = 0.05
_LEAST_SHARE = 0.6
_MOST_STEPS = 200
_CLOSE = 1e-8


@dataclass(frozen=True)
class BoundedLaps:
    """Laps with bounded influence.

    Parameters
    ----------
    pseudo_s : (n,) array
        Pseudo-values in seconds.
    run_level_s : (runs,) array
        Robust level of each run at the middle of its laps.
    bounded : (n,) boolean array
        Which laps were beyond a bound.
    """

    pseudo_s: Floats
    run_level_s: Floats
    bounded: Booleans


def bound_laps(
    lap_s: Floats,
    run: Integers,
    day: Integers,
    hours: Floats,
    spread_s: Floats,
    *,
    slow: float = SLOW_BOUND,
    fast: float = FAST_BOUND,
) -> BoundedLaps:
    """Bound the influence of slow and fast laps.

    Parameters
    ----------
    lap_s : (n,) array
        Lap times in seconds.
    run, day : (n,) integer array
        Codes; the runs without a gap from 0.
    hours : (n,) array
        When each lap was ridden.
    spread_s : (n,) array
        Lap-to-lap spread to be expected, alike within a run; only its proportions matter.
    slow, fast : float
        Bounds in robust spreads.

    Returns
    -------
    BoundedLaps
        Pseudo-values, levels of runs, and which laps were bounded.

    Examples
    --------
    >>> laps = bound_laps(np.array([90.0, 90.2, 89.9, 90.1, 92.0]), np.zeros(5, int),
    ...                   np.zeros(5, int), np.arange(5.0), np.ones(5))
    >>> laps.bounded.tolist(), laps.run_level_s.round(2).tolist()
    ([False, False, False, False, True], [90.11])
    """
    laps = np.bincount(run)
    day_laps = np.bincount(day)
    day_of_run = np.zeros(len(laps), dtype=np.int64)
    day_of_run[run] = day
    runs_of_day = np.bincount(day_of_run, minlength=len(day_laps))
    middle = np.bincount(run, weights=hours) / laps
    away = hours - middle[run]
    leverage = np.bincount(day, weights=(away / spread_s) ** 2)
    sloped = (leverage > 1e-12) & (day_laps - runs_of_day >= LEAST_LAPS_FOR_SLOPE)
    parameters = len(laps) + int(sloped.sum())
    level = _medians(lap_s, run, laps)
    slope = np.zeros(len(day_laps))
    correction = np.sqrt(len(lap_s) / max(len(lap_s) - parameters, 1))
    for _ in range(_MOST_STEPS):
        residual = (lap_s - level[run] - slope[day] * away) / spread_s
        scale = max(float(np.median(np.abs(residual))) / MAD_SHARE * correction, _LEAST_SCALE)
        held = np.clip(residual, -fast * scale, slow * scale)
        # Longer steps where many laps are held, yet never so long that runs without any overshoot.
        stride = 1.0 / max(float((held == residual).mean()), _LEAST_SHARE)
        step = stride * np.bincount(run, weights=held * spread_s) / laps
        turn = np.zeros(len(day_laps))
        if sloped.any():
            pull = np.bincount(day, weights=held * away / spread_s)
            turn[sloped] = stride * pull[sloped] / leverage[sloped]
        level = level + step
        slope = slope + turn
        if max(np.abs(step).max(initial=0.0), np.abs(turn).max(initial=0.0)) < _CLOSE:
            break
    bounded: Booleans = held != residual
    share = 1.0 - float(bounded.mean())
    factor = 1.0
    if bounded.any():
        factor = (1.0 + parameters / len(lap_s) * (1.0 - share) / share) / share
    fitted = lap_s - residual * spread_s
    pseudo = np.where(bounded.any(), fitted + factor * held * spread_s, lap_s)
    return BoundedLaps(pseudo, level, bounded)


def _medians(lap_s: Floats, run: Integers, laps: Integers) -> Floats:
    order = np.lexsort((lap_s, run))
    begin = np.cumsum(laps) - laps
    low, high = order[begin + (laps - 1) // 2], order[begin + laps // 2]
    result: Floats = (lap_s[low] + lap_s[high]) / 2.0
    return result
