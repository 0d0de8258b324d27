"""How much each session counts: settled setup, the rider's mark, age.

A rider at one event has one unit of weight, however many sessions the day had: the setups of one
day are steps of one search, not independent findings. The setup the day ended on leads.
"""

from __future__ import annotations

import numpy as np

from setupadvisor.learning.sessions import Booleans, Floats, Integers, Sessions

# Weight of the session before the settled one against the settled one, and again for each session
# further back. A choice, not a published value: the way to a setup says less than its end.
EARLIER_SESSION = 0.25
BEST_MARK = 5.0


def settled_setups(sessions: Sessions) -> Booleans:
    """Find the setup that each rider's day at an event ended on, setting by setting.

    A setting that was not written down in the last session counts where it was last written down.

    Parameters
    ----------
    sessions : Sessions
        n sessions over S settings.

    Returns
    -------
    (n, S) array of bool
        True where the value is the last recorded one of its rider, event and day.
    """
    settled: Booleans = _sessions_before_the_end(sessions) == 0
    return settled


def shares(sessions: Sessions) -> Floats:
    """Share one unit of weight among the sessions of each rider at each event.

    Parameters
    ----------
    sessions : Sessions
        n sessions over S settings.

    Returns
    -------
    (n, S) array
        Weights that sum to 1 over the recorded values of one rider at one event; 0 where not
        recorded.
    """
    before = _sessions_before_the_end(sessions)
    raw = np.where(before < 0, 0.0, EARLIER_SESSION ** np.maximum(before, 0))
    group = sessions.rider * max(len(sessions.event_name), 1) + sessions.event
    _, group = np.unique(group, return_inverse=True)
    total = np.zeros((group.max(initial=-1) + 1, raw.shape[1]))
    np.add.at(total, group, raw)
    return np.divide(raw, total[group], out=np.zeros_like(raw), where=raw > 0)


def worth(mark: Floats, usual: float | None = None) -> Floats:
    """Weigh sessions by the rider's mark, in proportion.

    Parameters
    ----------
    mark : (n,) array
        Marks from 1 to 5; NaN where missing.
    usual : float, optional
        Average mark where these are not all sessions; that of these if not given.

    Returns
    -------
    (n,) array
        Weights up to 1. A session without a mark counts as the average marked one, and as 1 where
        no session has a mark.

    Examples
    --------
    >>> worth(np.array([5.0, 2.5, np.nan])).tolist()
    [1.0, 0.5, 0.75]
    """
    known = ~np.isnan(mark)
    weights = np.asarray(mark, dtype=np.float64) / BEST_MARK
    if usual is not None:
        return np.where(known, weights, usual / BEST_MARK)
    return np.where(known, weights, weights[known].mean() if known.any() else 1.0)


def age(days: Floats, half_life: float) -> Floats:
    """Weigh by age: half after one half-life.

    Parameters
    ----------
    days : array
        Days between two sessions, of either sign.
    half_life : float
        Days; infinite where age does not matter.

    Returns
    -------
    array
        Weights from 0 to 1.

    Examples
    --------
    >>> age(np.array([0.0, 365.0, -730.0]), 365.0).tolist()
    [1.0, 0.5, 0.25]
    """
    weights: Floats = np.exp2(np.abs(days) * (-1.0 / half_life))
    return weights


def _sessions_before_the_end(sessions: Sessions) -> Integers:
    """Count recorded values that come after, within rider, event and day; -1 if not recorded."""
    n, n_settings = sessions.values.shape
    recorded = np.isfinite(sessions.values) & np.isfinite(sessions.house)
    by_time = np.lexsort((sessions.order, sessions.day, sessions.event, sessions.rider))
    key = np.column_stack([sessions.rider, sessions.event, np.floor(sessions.day)])[by_time]
    starts = np.ones(n, dtype=bool)
    starts[1:] = (key[1:] != key[:-1]).any(axis=1)
    count = np.zeros((n + 1, n_settings), dtype=np.int64)
    np.cumsum(recorded[by_time], axis=0, out=count[1:])
    block = np.cumsum(starts) - 1
    last_row_of_block = np.append(np.flatnonzero(starts)[1:], n)
    after = count[last_row_of_block[block]] - count[1:] if n else count[1:]
    result = np.full((n, n_settings), -1, dtype=np.int64)
    result[by_time] = np.where(recorded[by_time], after, -1)
    return result
