"""Simple ways to choose a setup, which learning must beat.

Each says how far from the house value to go for some sessions, having seen the settled setups of
others. All see the same: the house value, the conditions, who rides and where; the random forest
also sees how far each rule applies.

References
----------
Breiman, L. (2001), Random Forests, Machine Learning 45:5-32, and Fix, E., Hodges, J. L. (1951) for
nearest neighbours (both from memory), in scikit-learn's implementation.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property
from typing import Any

import numpy as np

from setupadvisor.learning.riders_mean import riders_means
from setupadvisor.learning.sessions import Booleans, Floats, Integers, Knowledge, Sessions
from setupadvisor.learning.weights import settled_setups

# Numbers of neighbours that leaving events out chooses from, and how neighbours are weighed.
NEIGHBOURS = (1, 2, 3, 5, 8, 12, 20, 30)
NEIGHBOUR_WEIGHTS = ("uniform", "distance")
# A forest on more settled setups than these learns from as many drawn for each tree.
TREES, MOST_ROWS_A_TREE = 40, 2_000
NEAR = 1e-9


@dataclass(frozen=True)
class Cases:
    """Sessions as simple ways see them: n rows.

    Parameters
    ----------
    sessions : Sessions
        The sessions.
    settled : (n, S) array
        Settled setups less house values; NaN elsewhere.
    """

    sessions: Sessions
    settled: Floats

    def taken(self, rows: Integers | Booleans) -> Cases:
        """Return some of the sessions.

        Parameters
        ----------
        rows : integer or boolean array
            Which.

        Returns
        -------
        Cases
            Those sessions.
        """
        return Cases(self.sessions.taken(rows), self.settled[rows])

    @cached_property
    def columns(self) -> Floats:
        """(n, F + 2 + R) array: conditions, rider, venue, degrees; NaN where missing."""
        sessions = self.sessions
        return np.column_stack([sessions.fields, sessions.rider, sessions.venue, sessions.degrees])


def cases_of(sessions: Sessions) -> Cases:
    """Make sessions ready for simple ways; those that settled nothing are left out.

    Parameters
    ----------
    sessions : Sessions
        A season.

    Returns
    -------
    Cases
        The sessions in which at least one setting was settled.
    """
    value = sessions.values - sessions.house
    settled = np.where(settled_setups(sessions) & np.isfinite(value), value, np.nan)
    return Cases(sessions, settled).taken(np.flatnonzero(np.isfinite(settled).any(axis=1)))


def rules_as_written(knowledge: Knowledge, asked: Sessions) -> Floats:
    """Follow the rules as they are written.

    Parameters
    ----------
    knowledge : Knowledge
        The rules.
    asked : Sessions
        m sessions.

    Returns
    -------
    (m, S) array
        Shift from the house value, in the setting's number.
    """
    return np.nan_to_num(asked.degrees, nan=0.0) @ knowledge.amounts


def riders_mean(seen: Cases, asked: Sessions) -> Floats:
    """Give each rider what that rider usually ended on, or what all did.

    Parameters
    ----------
    seen : Cases
        Settled setups.
    asked : Sessions
        m sessions, with the same codes.

    Returns
    -------
    (m, S) array
        Shift from the house value, in the setting's number.
    """
    n_riders = len(seen.sessions.rider_name)
    nobody = np.zeros(len(seen.settled), dtype=np.int64)
    means = riders_means(seen.settled, seen.sessions.rider, nobody, n_riders=n_riders, n_folds=1)
    mean: Floats = means[-1][asked.rider]
    return mean


def same_venue_last_time(seen: Cases, asked: Sessions) -> Floats:
    """Give what the rider ended on at the same venue last time, or the rider's mean.

    Parameters
    ----------
    seen : Cases
        Settled setups.
    asked : Sessions
        m sessions, with the same codes.

    Returns
    -------
    (m, S) array
        Shift from the house value, in the setting's number. Where the rider was there only later,
        that visit counts.
    """
    result = riders_mean(seen, asked)
    past = seen.sessions
    by_day = np.lexsort((past.order, past.day))
    for i in range(len(result)):
        here = (past.venue[by_day] == asked.venue[i]) & (past.rider[by_day] == asked.rider[i])
        visits = by_day[here & (past.venue[by_day] >= 0)]
        earlier = past.day[visits] < asked.day[i]
        for visit in (*visits[~earlier][::-1], *visits[earlier]):
            known = np.isfinite(seen.settled[visit])
            result[i, known] = seen.settled[visit, known]
    return result


def nearest_sessions(seen: Cases, asked: Cases, knowledge: Knowledge) -> Floats:
    """Average the settled setups of the nearest sessions, in every way that is tried.

    Parameters
    ----------
    seen : Cases
        Settled setups.
    asked : Cases
        m sessions, with the same codes.
    knowledge : Knowledge
        Which conditions are categories.

    Returns
    -------
    (T, m, S) array
        Shift from the house value, in the setting's number, for every number of neighbours and
        both weightings; NaN for a setting that no session seen has settled.

    Notes
    -----
    scikit-learn's nearest neighbours by Euclidean distance; conditions scaled by their range over
    the sessions seen, missing ones at their mean, categories, rider and venue as 0 / 1 columns.
    """
    from sklearn.neighbors import NearestNeighbors  # noqa: PLC0415

    n_trials = len(NEIGHBOURS) * len(NEIGHBOUR_WEIGHTS)
    result = np.full((n_trials, *asked.settled.shape), np.nan)
    if len(seen.settled) == 0:
        return result
    columns = _columns(knowledge, with_degrees=False).fit(seen.columns)
    past, today = columns.transform(seen.columns), columns.transform(asked.columns)
    for rows, settings in _recorded_together(seen.settled):
        most = min(max(NEIGHBOURS), len(rows))
        search = NearestNeighbors(n_neighbors=most, algorithm="brute").fit(past[rows])
        distance, nearest = search.kneighbors(today)
        of_nearest = seen.settled[rows][:, settings][nearest]
        weights = (np.ones_like(distance), 1.0 / np.maximum(distance, NEAR))
        for w, weight in enumerate(weights):
            for t, count in enumerate(NEIGHBOURS):
                part = weight[:, :count, None]
                value = (of_nearest[:, :count] * part).sum(axis=1) / part.sum(axis=1)
                result[w * len(NEIGHBOURS) + t][:, settings] = value
    return result


def random_forest(seen: Cases, asked: Cases, knowledge: Knowledge, *, trees: int = TREES) -> Floats:
    """Ask a random forest for each setting.

    Parameters
    ----------
    seen : Cases
        Settled setups.
    asked : Cases
        m sessions, with the same codes.
    knowledge : Knowledge
        Which conditions are categories.
    trees : int, optional
        Trees in each forest.

    Returns
    -------
    (m, S) array
        Shift from the house value, in the setting's number; NaN for a setting that no session seen
        has settled.

    Notes
    -----
    scikit-learn's forest, a third of the columns tried at each split, on the columns of the nearest
    sessions and the degrees of the rules.
    """
    from sklearn.ensemble import RandomForestRegressor  # noqa: PLC0415

    result = np.full(asked.settled.shape, np.nan)
    if len(seen.settled) == 0:
        return result
    columns = _columns(knowledge, with_degrees=True).fit(seen.columns)
    past = columns.transform(seen.columns).astype(np.float32)
    today = columns.transform(asked.columns).astype(np.float32)
    for rows, settings in _recorded_together(seen.settled):
        many = len(rows) > MOST_ROWS_A_TREE
        for s in np.flatnonzero(settings).tolist():
            forest = RandomForestRegressor(
                n_estimators=trees,
                max_features=1.0 / 3.0,
                max_samples=MOST_ROWS_A_TREE if many else None,
                random_state=0,
            )
            result[:, s] = forest.fit(past[rows], seen.settled[rows, s]).predict(today)
    return result


def _columns(knowledge: Knowledge, *, with_degrees: bool) -> Any:
    """Return scikit-learn's usual preparation of mixed columns with gaps."""
    from sklearn.compose import ColumnTransformer  # noqa: PLC0415
    from sklearn.impute import SimpleImputer  # noqa: PLC0415
    from sklearn.pipeline import make_pipeline  # noqa: PLC0415
    from sklearn.preprocessing import MinMaxScaler, OneHotEncoder  # noqa: PLC0415

    n_fields = len(knowledge.field)
    numbers = np.flatnonzero(~knowledge.field_is_category).tolist()
    if with_degrees:
        numbers += range(n_fields + 2, n_fields + 2 + len(knowledge.rule))
    words = [*np.flatnonzero(knowledge.field_is_category).tolist(), n_fields, n_fields + 1]
    scaled = make_pipeline(SimpleImputer(keep_empty_features=True), MinMaxScaler())
    apart = OneHotEncoder(handle_unknown="ignore", sparse_output=False)
    return ColumnTransformer([("numbers", scaled, numbers), ("words", apart, words)])


def _recorded_together(settled: Floats) -> list[tuple[Integers, Booleans]]:
    """Return groups of settings that were settled in the same rows, with those rows."""
    known = np.isfinite(settled)
    patterns, which = np.unique(known.T, axis=0, return_inverse=True)
    return [
        (np.flatnonzero(pattern), which.ravel() == place)
        for place, pattern in enumerate(patterns)
        if pattern.any()
    ]
