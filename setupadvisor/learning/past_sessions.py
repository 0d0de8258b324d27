"""Similarity of walks, and what similar sessions still say.

The distance is Gower's coefficient as a dissimilarity: the weighted mean, over the conditions
entered on both sides, of the range-scaled absolute difference (numbers) or of 0 / 1 (categories).

References
----------
Gower, J. C. (1971), A general coefficient of similarity and some of its properties, Biometrics
27:857-871 (from memory). Results are checked against `daisy` of the R package cluster.
Nadaraya, E. A. (1964) and Watson, G. S. (1964) for the kernel-weighted mean (from memory).
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Any, TypeAlias

import numpy as np
from numpy.typing import NDArray

from setupadvisor.learning.sessions import Booleans, Floats, Integers

# Distances are kept in single precision where they are many.
Reals: TypeAlias = NDArray[np.floating[Any]]
# Queries and pairs in one tile of distances, so that a tile stays in the processor's own memory.
TILE_QUERIES, TILE_PAIRS = 8, 24_576
# Fields that no query of a tile has are left out of it, unless more than this share is there:
# picking the others out has its price.
MANY_ENTERED = 0.75


@dataclass(frozen=True)
class Conditions:
    """Entered conditions made ready for differences: one row a field.

    Parameters
    ----------
    scaled : (F, n) array
        Numbers over their range, or codes of categories; NaN where missing.
    complete : bool
        Whether nothing is missing.
    """

    scaled: Reals
    complete: bool

    def known(self) -> Reals:
        """Say what was entered.

        Returns
        -------
        (F, n) array
            1 where entered, 0 where missing.
        """
        result: Reals = np.empty(self.scaled.shape, dtype=self.scaled.dtype)
        # What is missing does not even equal itself.
        np.equal(self.scaled, self.scaled, out=result)
        return result

    def taken(self, columns: slice | Integers) -> Conditions:
        """Return the conditions of some walks.

        Parameters
        ----------
        columns : slice or integer array
            Which walks.

        Returns
        -------
        Conditions
            Theirs alone.
        """
        return Conditions(self.scaled[:, columns], self.complete)

    def of_fields(self, which: slice | Integers) -> Conditions:
        """Return some of the conditions of all walks.

        Parameters
        ----------
        which : slice or integer array
            Which fields.

        Returns
        -------
        Conditions
            Those alone.
        """
        return Conditions(self.scaled[which], self.complete)


def field_ranges(fields: Floats, given: Floats) -> Floats:
    """Range of each field, as given or else over the sessions.

    Parameters
    ----------
    fields : (n, F) array
        Entered conditions; NaN where missing.
    given : (F,) array
        Known ranges; NaN where to be taken from the sessions.

    Returns
    -------
    (F,) array
        Ranges; 0 where all entered values agree or there are none.

    Examples
    --------
    >>> field_ranges(np.array([[1.0, 5.0], [3.0, np.nan]]), np.array([np.nan, np.nan])).tolist()
    [2.0, 0.0]
    """
    known = ~np.isnan(fields)
    low = np.where(known, fields, np.inf).min(axis=0, initial=np.inf)
    high = np.where(known, fields, -np.inf).max(axis=0, initial=-np.inf)
    spread = np.where(known.any(axis=0), high - np.where(np.isinf(low), 0.0, low), 0.0)
    return np.where(np.isnan(given), spread, given)


def conditions(
    fields: Floats, as_category: Booleans, ranges: Floats, kind: type = np.float32
) -> Conditions:
    """Scale entered conditions for `differences`.

    Parameters
    ----------
    fields : (n, F) array
        Entered conditions; NaN where missing.
    as_category : (F,) array of bool
        Whether two values either agree or not. A field whose range is 0 is treated likewise.
    ranges : (F,) array
        Range of each number.
    kind : type, optional
        Precision of the result.

    Returns
    -------
    Conditions
        The scaled conditions.
    """
    scale = np.where(as_category | ~(ranges > 0), 1.0, ranges)
    scaled = np.asarray(fields, dtype=np.float64).T / scale[:, None]
    return Conditions(
        scaled=np.ascontiguousarray(scaled, dtype=kind), complete=not np.isnan(scaled).any()
    )


def _entered(queries: Conditions) -> slice | Integers:
    """Return the fields worth comparing: those entered in some query, if that leaves out many."""
    some = np.asarray((~np.isnan(queries.scaled)).any(axis=1))
    if some.sum() > MANY_ENTERED * len(some):
        return slice(None)
    return np.flatnonzero(some)


def differences(queries: Conditions, sessions: Conditions, agree_or_not: Booleans) -> Reals:
    """Difference of each field between each query and each session.

    Parameters
    ----------
    queries, sessions : Conditions
        m queries and n sessions over F fields.
    agree_or_not : (F,) array of bool
        Fields whose difference is 0 or 1.

    Returns
    -------
    (F, m, n) array
        Differences; 0 where a side is missing.
    """
    shape = (len(agree_or_not), queries.scaled.shape[1], sessions.scaled.shape[1])
    result: Reals = np.empty(shape, dtype=sessions.scaled.dtype)
    # One field at a time: a row of conditions and a plane of differences stay near the core.
    for f in range(len(result)):
        plane = result[f]
        np.subtract(queries.scaled[f][:, None], sessions.scaled[f], out=plane)
        np.abs(plane, out=plane)
        if not (queries.complete and sessions.complete):
            np.fmax(plane, 0.0, out=plane)
        if agree_or_not[f]:
            np.not_equal(plane, 0.0, out=plane)
    return result


def distance_tiles(
    queries: Conditions, sessions: Conditions, weights: Reals, agree_or_not: Booleans
) -> Iterator[tuple[slice, slice, Reals]]:
    """Weighted Gower dissimilarity, a tile of queries and sessions at a time.

    Parameters
    ----------
    queries, sessions, weights, agree_or_not
        As for `gower`.

    Yields
    ------
    rows, columns : slice
        The queries and the sessions of the tile.
    distance : (S, rows, columns) array
        Their distances, for the taker to overwrite.
    """
    m, n = queries.scaled.shape[1], sessions.scaled.shape[1]
    complete = queries.complete and sessions.complete
    height = min(m, TILE_QUERIES)
    width = max(1, TILE_PAIRS // max(height, 1))
    for top in range(0, m, max(height, 1)):
        rows = slice(top, min(top + height, m))
        asked = queries.taken(rows)
        entered = _entered(asked)
        asked, weighed = asked.of_fields(entered), weights[:, entered]
        for left in range(0, n, width):
            columns = slice(left, min(left + width, n))
            past = sessions.taken(columns).of_fields(entered)
            difference = differences(asked, past, agree_or_not[entered])
            pairs = difference.shape[1] * difference.shape[2]
            distance: Reals = weighed @ difference.reshape(len(difference), pairs)
            distance = distance.reshape(len(weights), *difference.shape[1:])
            # What is known of both is a product over the two sides, and no (F, m, n) array.
            total: Reals = weighed.sum(axis=1)[:, None, None]
            if not complete:
                per_query = weighed[:, None, :] * asked.known().T
                per_query = per_query.reshape(
                    len(weights) * asked.scaled.shape[1], weighed.shape[1]
                )
                total = (per_query @ past.known()).reshape(distance.shape)
            with np.errstate(invalid="ignore"):
                distance /= total
            yield rows, columns, distance


def gower(
    queries: Conditions, sessions: Conditions, weights: Reals, agree_or_not: Booleans
) -> Reals:
    """Weighted Gower dissimilarity for several sets of weights in one pass.

    Parameters
    ----------
    queries, sessions : Conditions
        m queries and n sessions over F fields, from `conditions`.
    weights : (S, F) array
        Weight of each field, for each setting.
    agree_or_not : (F,) array of bool
        Fields whose difference is 0 or 1.

    Returns
    -------
    (S, m, n) array
        Distances, 0 to 1 within the fields' ranges and above 1 far outside them; NaN where no
        weighted field is entered on both sides.

    Examples
    --------
    >>> category = np.array([False, True])
    >>> ranges = np.array([8.0, np.nan])
    >>> past = conditions(np.array([[2.0, 0.0], [6.0, np.nan]]), category, ranges)
    >>> today = conditions(np.array([[4.0, 1.0]]), category, ranges)
    >>> gower(today, past, np.ones((1, 2), dtype=np.float32), category).tolist()
    [[[0.625, 0.25]]]
    """
    shape = (len(weights), queries.scaled.shape[1], sessions.scaled.shape[1])
    result: Reals = np.empty(shape, dtype=np.result_type(weights, sessions.scaled))
    for rows, columns, distance in distance_tiles(queries, sessions, weights, agree_or_not):
        result[:, rows, columns] = distance
    return result


def kernel(distance: Reals, bandwidth: Reals) -> Reals:
    """Gaussian weight of a distance; 0 where nothing is known in common.

    Parameters
    ----------
    distance : (S, m, n) array
        Distances, overwritten with the result.
    bandwidth : (S,) array
        Bandwidth of each setting, in the distance's unit.

    Returns
    -------
    (S, m, n) array
        exp(-(d / h)^2 / 2).
    """
    np.square(distance, out=distance)
    distance *= (-0.5 / bandwidth**2).astype(distance.dtype)[:, None, None]
    np.exp(distance, out=distance)
    if np.isnan(distance.min(initial=1.0)):
        np.nan_to_num(distance, copy=False, nan=0.0)
    return distance


def outing_weights(
    queries_venue: Integers,
    queries_day: Floats,
    *,
    venue: Integers,
    day: Floats,
    venue_factor: float,
    half_life: float,
    kind: type = np.float32,
) -> Reals | None:
    """Weight of each session for each query by venue and age.

    Parameters
    ----------
    queries_venue, venue : (m,), (n,) integer array
        Codes; -1 is an unknown venue and equals no other.
    queries_day, day : (m,), (n,) array
        Days since the same fixed date.
    venue_factor : float
        How many times a session at the same venue counts.
    half_life : float
        Days after which a session counts half; infinite where age does not matter.
    kind : type, optional
        Precision of the result.

    Returns
    -------
    (m, n) array or None
        Weights; None where all are 1.
    """
    weights: Reals | None = None
    if venue_factor != 1.0:
        same = (queries_venue[:, None] == venue) & (queries_venue[:, None] >= 0)
        weights = np.where(same, kind(venue_factor), kind(1.0))
    if np.isfinite(half_life):
        days = np.abs(queries_day[:, None] - day)
        days *= -1.0 / half_life
        aged: Reals = np.exp2(days.astype(kind))
        weights = aged if weights is None else weights * aged
    return weights


def left_over(weighted_sum: Reals, weight: Reals, kappa: Reals) -> Reals:
    """Correction by past sessions, drawn to zero by `kappa` pseudo-sessions at zero.

    Parameters
    ----------
    weighted_sum : array
        Sum of weight * left-over over the sessions.
    weight : array
        Sum of weights.
    kappa : array
        Pseudo-sessions.

    Returns
    -------
    array
        The correction; 0 where no session is near.

    Examples
    --------
    >>> left_over(np.array([6.0]), np.array([3.0]), np.array([1.0])).tolist()
    [1.5]
    """
    total = weight + kappa
    return np.divide(weighted_sum, total, out=np.zeros_like(total), where=total > 0)
