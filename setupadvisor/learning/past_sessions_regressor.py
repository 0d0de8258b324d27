"""Past sessions alone, as an estimator after scikit-learn's conventions."""

from __future__ import annotations

from typing import Any, TypeAlias

import numpy as np
from sklearn.base import BaseEstimator, RegressorMixin
from sklearn.utils.validation import check_is_fitted

from setupadvisor.learning.estimator_columns import (
    EstimatorInputError,
    categories_of,
    category_mask,
    column_names,
    encoded,
    names_categories,
)
from setupadvisor.learning.estimator_input import (
    checked_targets,
    group_codes,
    row_weights,
    validated,
)
from setupadvisor.learning.model import BANDWIDTH, KAPPA
from setupadvisor.learning.past_rows import PastRows, losses_without_group, weighted_mean
from setupadvisor.learning.past_sessions import field_ranges, kernel, left_over
from setupadvisor.learning.sessions import Floats, Integers
from setupadvisor.learning.tuning import BANDWIDTHS, FEWEST_EVENTS, KAPPAS

Numbers: TypeAlias = Any


class PastSessionsRegressor(RegressorMixin, BaseEstimator):  # type: ignore[misc]
    """Regression on similar past rows: Gower's distance, a Gaussian kernel, and a pull to a centre.

    Parameters
    ----------
    bandwidth : float, optional
        Bandwidth of the Gaussian kernel, in Gower's distance (0 to 1). None chooses it by leaving
        out whole groups.
    kappa : float or (n_outputs,) array-like, optional
        Pseudo-rows at the centre: with these many like rows the prediction is half way. 0 is a
        plain weighted mean; infinity leaves the past out. None chooses it likewise, output by
        output.
    centre : "mean" or float, default="mean"
        What predictions fall back to far from all experience: each output's weighted mean, or a
        number. 0 where the target is what rules and habits leave over.
    field_weights : (n_features,) or (n_outputs, n_features) array-like, optional
        Weight of each column in the distance, for all outputs or for each its own; None weighs
        all alike.
    categorical_features : "from_dtype", None, or columns, default="from_dtype"
        Columns whose values either agree or not: names, numbers or a mask. "from_dtype" takes a
        frame's columns that are not of numbers.
    field_ranges : (n_features,) array-like, optional
        Range that scales each column's differences; NaN, or None for all, takes it from the rows.

    Attributes
    ----------
    bandwidth_ : float
        Bandwidth used.
    kappa_ : (n_outputs,) array
        Pseudo-rows used.
    centre_ : (n_outputs,) array
        Centres used; NaN for an output that was never recorded.
    categories_ : tuple
        For each column the values it had in `fit`, or None for numbers.
    n_features_in_ : int
        Number of columns.
    feature_names_in_ : (n_features,) array
        Their names, if all are text.

    See Also
    --------
    setupadvisor.learning.setup_regressor.SetupRegressor : Rules, habits and past sessions.

    Notes
    -----
    A missing entry (NaN, None) on either side drops out of the distance; a row that shares no
    entry with the query counts nothing, and a query that shares none with any row gets the centre.
    A missing target does not count for its output. A category never seen agrees with none.

    Groups are given to `fit` by scikit-learn's metadata routing. Without groups, rows with equal
    entries are one group: riders at one event share its ground, and a row written down twice must
    not recommend itself. With fewer than three groups nothing is chosen, and the usual bandwidth
    and pseudo-rows are taken.

    References
    ----------
    Gower, J. C. (1971), A general coefficient of similarity and some of its properties, Biometrics
    27:857-871 (from memory).
    Nadaraya, E. A. (1964) and Watson, G. S. (1964) for the kernel-weighted mean (from memory).

    Examples
    --------
    Clicks by cone index (kPa) and kind of ground; the third walk was entered only in part.

    >>> import pandas as pd
    >>> walks = pd.DataFrame(
    ...     {"cone_index_kpa": [300.0, 900.0, None], "ground": ["sand", "clay", "clay"]}
    ... )
    >>> regressor = PastSessionsRegressor(bandwidth=0.2, kappa=0.0).fit(walks, [8.0, 12.0, 14.0])
    >>> regressor.predict(walks).round(1).tolist()
    [8.0, 13.0, 13.0]
    >>> nothing_known = pd.DataFrame({"cone_index_kpa": [None], "ground": [None]})
    >>> regressor.predict(nothing_known).round(2).tolist()
    [11.33]
    """

    def __init__(
        self,
        *,
        bandwidth: float | None = None,
        kappa: Numbers = None,
        centre: str | float = "mean",
        field_weights: Numbers = None,
        categorical_features: Any = "from_dtype",
        field_ranges: Numbers = None,
    ) -> None:
        self.bandwidth = bandwidth
        self.kappa = kappa
        self.centre = centre
        self.field_weights = field_weights
        self.categorical_features = categorical_features
        self.field_ranges = field_ranges

    def fit(
        self, X: Any, y: Any, sample_weight: Any = None, groups: Any = None
    ) -> PastSessionsRegressor:
        """Keep the past rows and choose their reach.

        Parameters
        ----------
        X : (n, n_features) array-like or frame
            Past rows; entries may be missing.
        y : (n,) or (n, n_outputs) array-like
            Targets; NaN where not recorded.
        sample_weight : (n,) array-like, optional
            Weight of each row; 2 is the same as the row twice, 0 as no row.
        groups : (n,) array-like, optional
            Groups to leave out whole.

        Returns
        -------
        PastSessionsRegressor
            Itself, fitted.

        Raises
        ------
        ValueError
            Where a parameter, table or weight cannot be.
        """
        table = validated(
            self, X, with_words=names_categories(self.categorical_features), reset=True
        )
        targets = checked_targets(self, y, len(table))
        self._one_output = targets.ndim == 1
        targets = targets.reshape(len(table), -1)
        weight = row_weights(sample_weight, len(table))
        n_columns = table.shape[1]
        is_category = category_mask(
            self.categorical_features, X, names=column_names(X), n_columns=n_columns
        )
        if groups is not None:
            groups = np.asarray(groups, dtype=object)
            if groups.shape != weight.shape:
                raise EstimatorInputError(
                    "groups", f"an array of shape {groups.shape}", f"give shape {weight.shape}"
                )
            groups = groups[weight > 0]
        table, targets, weight = (rows[weight > 0] for rows in (table, targets, weight))
        self.categories_ = tuple(
            categories_of(table[:, f]) if is_category[f] else None for f in range(n_columns)
        )
        fields = encoded(table, np.arange(n_columns), self.categories_)
        recorded = np.isfinite(targets)
        row_weight = weight[:, None] * recorded
        self.centre_ = self._centre(np.where(recorded, targets, 0.0), row_weight)
        self._past = PastRows(
            fields=fields,
            is_category=is_category,
            ranges=field_ranges(fields, self._given_ranges(n_columns)),
            field_weights=self._field_weights(targets.shape[1], n_columns),
            gap=np.where(recorded, targets - self.centre_, 0.0),
            weight=row_weight,
        )
        self.bandwidth_, self.kappa_ = self._reach(group_codes(groups, fields))
        return self

    def predict(self, X: Any) -> Floats:
        """Predict from the past rows most like each row.

        Parameters
        ----------
        X : (m, n_features) array-like or frame
            Rows; entries may be missing.

        Returns
        -------
        (m,) or (m, n_outputs) array
            Predictions; NaN for an output that was never recorded.
        """
        total, weight = self._sums(X)
        correction = left_over(total, weight, self._kappas(weight))
        return self._shaped(np.asarray(self.centre_ + correction, dtype=np.float64))

    def support(self, X: Any) -> Floats:
        """Say how far the past, and not the centre, decides each prediction.

        Parameters
        ----------
        X : (m, n_features) array-like or frame
            Rows; entries may be missing.

        Returns
        -------
        (m,) or (m, n_outputs) array
            From 0, far from all experience, to 1.
        """
        _, weight = self._sums(X)
        share = left_over(weight, weight, self._kappas(weight))
        return self._shaped(np.asarray(share, dtype=np.float64))

    def __sklearn_tags__(self) -> Any:
        tags = super().__sklearn_tags__()
        tags.input_tags.allow_nan = True
        tags.target_tags.multi_output = True
        return tags

    def _sums(self, X: Any) -> tuple[Floats, Floats]:
        """Sum over the past rows, for each query and output."""
        check_is_fitted(self)
        table = validated(self, X, with_words=names_categories(self.categorical_features))
        queries = encoded(table, np.arange(table.shape[1]), self.categories_)
        past = self._past
        total, weight = np.empty((2, len(queries), past.gap.shape[1]))
        bandwidth = np.full(len(past.field_weights), self.bandwidth_)
        for block in past.blocks(len(queries)):
            likeness = kernel(past.distances(queries[block]), bandwidth)
            total[block], weight[block] = past.sums(likeness)
        return total, weight

    def _kappas(self, weight: Floats) -> Floats:
        return np.broadcast_to(self.kappa_, weight.shape)

    def _shaped(self, values: Floats) -> Floats:
        return values[:, 0] if self._one_output else values

    def _centre(self, targets: Floats, weight: Floats) -> Floats:
        if isinstance(self.centre, str):
            if self.centre != "mean":
                raise EstimatorInputError("centre", repr(self.centre), "give 'mean' or a number")
            return weighted_mean(targets, weight)
        if not np.isfinite(self.centre):
            raise EstimatorInputError("centre", repr(self.centre), "give 'mean' or a number")
        seen = weight.sum(axis=0) > 0
        return np.where(seen, float(self.centre), np.nan)

    def _given_ranges(self, n_columns: int) -> Floats:
        if self.field_ranges is None:
            return np.full(n_columns, np.nan)
        ranges = np.asarray(self.field_ranges, dtype=np.float64)
        if ranges.shape != (n_columns,) or (ranges < 0).any() or np.isinf(ranges).any():
            raise EstimatorInputError(
                "field_ranges", repr(self.field_ranges), f"give {n_columns} ranges of 0 or more"
            )
        return ranges

    def _field_weights(self, n_outputs: int, n_columns: int) -> Floats:
        if self.field_weights is None:
            return np.ones((1, n_columns))
        weights = np.asarray(self.field_weights, dtype=np.float64)
        fits = weights.shape in {(n_columns,), (n_outputs, n_columns)}
        if not fits or not np.isfinite(weights).all() or (weights < 0).any():
            raise EstimatorInputError(
                "field_weights",
                f"an array of shape {weights.shape}",
                f"give {n_columns} weights of 0 or more, or as many for each of the "
                f"{n_outputs} outputs",
            )
        return weights.reshape(-1, n_columns)

    def _reach(self, group: Integers) -> tuple[float, Floats]:
        """Bandwidth and pseudo-rows: as given, or chosen by leaving out whole groups."""
        n_outputs = self._past.gap.shape[1]
        kappa = None if self.kappa is None else np.asarray(self.kappa, dtype=np.float64)
        if self.bandwidth is not None and not self.bandwidth > 0:
            raise EstimatorInputError("bandwidth", repr(self.bandwidth), "give a number above 0")
        if kappa is not None:
            if kappa.shape not in {(), (n_outputs,)} or not (kappa >= 0).all():
                raise EstimatorInputError(
                    "kappa", repr(self.kappa), "give 0 or more, once or for each output"
                )
            kappa = np.broadcast_to(kappa, n_outputs)
        if group.max() + 1 < FEWEST_EVENTS or (self.bandwidth is not None and kappa is not None):
            usual = np.full(n_outputs, KAPPA)
            return (
                BANDWIDTH if self.bandwidth is None else float(self.bandwidth),
                usual if kappa is None else kappa,
            )
        bandwidths = BANDWIDTHS if self.bandwidth is None else np.array([float(self.bandwidth)])
        kappas = np.tile(KAPPAS[:, None], n_outputs) if kappa is None else kappa[None]
        moves = isinstance(self.centre, str)
        losses = losses_without_group(self._past, group, bandwidths, kappas, moves)
        best = int(np.argmin(losses.min(axis=1).sum(axis=1)))
        chosen: Floats = kappas[np.argmin(losses[best], axis=0), np.arange(n_outputs)]
        return float(bandwidths[best]), chosen
