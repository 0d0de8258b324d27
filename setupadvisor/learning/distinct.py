"""Sessions that share their walk: compared once, however many sessions rode on it.

Riders at one event ride on the same ground, and a rider's sessions of one day do too. What a walk
is compared by is the same for all of them, so distances are worked out for distinct walks only, and
the sessions of one walk enter the sums together. The sums are those over single sessions.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from setupadvisor.learning.sessions import Floats, Integers


@dataclass(frozen=True)
class DistinctWalks:
    """Distinct walks of n sessions, those of one venue next to each other.

    Parameters
    ----------
    first : (U,) integer array
        One session of each walk.
    of_session : (n,) integer array
        The walk of each session.
    venue : (U,) integer array
        Venue of each walk, in ascending order; -1 where unknown.
    """

    first: Integers
    of_session: Integers
    venue: Integers


def distinct_walks(fields: Floats, venue: Integers, day: Floats) -> DistinctWalks:
    """Find the sessions that share conditions, venue and day.

    Parameters
    ----------
    fields : (n, F) array
        Entered conditions; NaN where missing.
    venue : (n,) integer array
        Codes; -1 where unknown.
    day : (n,) array
        Days since a fixed date.

    Returns
    -------
    DistinctWalks
        Walks and the walk of each session.

    Examples
    --------
    >>> walks = distinct_walks(np.array([[1.0], [np.nan], [1.0], [np.nan]]),
    ...                        np.array([1, 0, 1, 0]), np.array([5.0, 5.0, 5.0, 6.0]))
    >>> walks.first.tolist(), walks.of_session.tolist()
    ([1, 3, 0], [2, 0, 2, 1])
    """
    key = np.column_stack([fields, venue.astype(np.float64), day])
    key[np.isnan(key)] = np.nan
    key += 0.0
    rows = np.ascontiguousarray(key).view(np.dtype((np.void, key.shape[1] * key.itemsize)))
    _, first, of_session = np.unique(rows.ravel(), return_index=True, return_inverse=True)
    order = np.lexsort((first, venue[first]))
    rank = np.empty(len(order), dtype=np.int64)
    rank[order] = np.arange(len(order))
    return DistinctWalks(
        first=first[order].astype(np.int64),
        of_session=rank[of_session],
        venue=venue[first[order]],
    )
