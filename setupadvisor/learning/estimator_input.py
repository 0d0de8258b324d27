"""What an estimator is given, checked: tables, targets, weights, groups."""

from __future__ import annotations

from typing import Any

import numpy as np
from sklearn.utils.validation import check_array, check_consistent_length, validate_data

from setupadvisor.learning.estimator_columns import (
    EstimatorInputError,
    Table,
    column_names,
    holds_numbers,
    is_missing,
    sorted_names,
)
from setupadvisor.learning.sessions import Floats, Integers


def validated(estimator: object, X: Any, *, with_words: bool, reset: bool = False) -> Table:
    """Check a table as scikit-learn does, missing entries allowed.

    Parameters
    ----------
    estimator : estimator
        Whose table it is.
    X : (n, p) array-like or frame
        The table.
    with_words : bool
        Whether some columns of an array may hold words; a frame's types say so by themselves.
    reset : bool, optional
        Whether the estimator learns the columns' number and names from this table.

    Returns
    -------
    (n, p) array
        Numbers, or Python objects where some columns hold words.
    """
    if column_names(X) is not None and hasattr(X, "iloc"):
        with_words = not all(holds_numbers(X.iloc[:, number]) for number in range(X.shape[1]))
        if with_words:
            X = X.astype(object)
    kind = None if with_words else np.float64
    table: Table = validate_data(
        estimator, X, reset=reset, dtype=kind, ensure_all_finite="allow-nan"
    )
    return table


def checked_targets(estimator: object, y: Any, n_rows: int) -> Floats:
    """Check targets: numbers, one column an output, NaN where not recorded.

    Parameters
    ----------
    estimator : estimator
        Whose targets they are.
    y : (n,) or (n, O) array-like
        The targets.
    n_rows : int
        How many there must be.

    Returns
    -------
    (n,) or (n, O) array
        The targets.

    Raises
    ------
    ValueError
        Where they are not numbers, not as many, or none is recorded.
    """
    if y is None:
        raise EstimatorInputError(
            "y",
            f"{type(estimator).__name__} requires y to be passed, but the target y is None",
            "give y",
        )
    targets: Floats = check_array(
        y,
        dtype=np.float64,
        ensure_2d=False,
        ensure_all_finite="allow-nan",
        input_name="y",
        estimator=estimator,
    )
    check_consistent_length(targets, np.empty(n_rows))
    if np.isnan(targets).all():
        raise EstimatorInputError("y", "only NaN", "give rows with a recorded target")
    return targets


def row_weights(sample_weight: Any, n_rows: int) -> Floats:
    """Check weights of rows.

    Parameters
    ----------
    sample_weight : (n,) array-like or None
        Weights; None is 1 for each row.
    n_rows : int
        How many there must be.

    Returns
    -------
    (n,) array
        Weights of 0 or more, not all 0.

    Raises
    ------
    EstimatorInputError
        Where a weight cannot be.
    """
    if sample_weight is None:
        return np.ones(n_rows)
    weights: Floats = check_array(
        sample_weight, dtype=np.float64, ensure_2d=False, input_name="sample_weight"
    )
    if weights.shape != (n_rows,):
        raise EstimatorInputError(
            "sample_weight", f"an array of shape {weights.shape}", f"give shape {(n_rows,)}"
        )
    if (weights < 0).any():
        raise EstimatorInputError("sample_weight", "a negative weight", "give 0 or more")
    if not (weights > 0).any():
        raise EstimatorInputError("sample_weight", "every weight is zero", "give some above zero")
    return weights


def group_codes(groups: object, table: Table) -> Integers:
    """Give a code to each group that is left out together.

    Parameters
    ----------
    groups : (n,) array-like or None
        A name or number of each row's group; None takes rows with equal entries for one group.
    table : (n, F) array
        Numbers and codes; NaN where missing.

    Returns
    -------
    (n,) integer array
        Codes from 0.

    Raises
    ------
    EstimatorInputError
        Where there is not one group for each row.

    Examples
    --------
    >>> group_codes(None, np.array([[1.0, np.nan], [2.0, 5.0], [1.0, np.nan]])).tolist()
    [0, 1, 0]
    """
    if groups is None:
        known = ~np.isnan(table)
        entries = np.hstack([np.where(known, table, 0.0), known])
        codes = np.unique(entries, axis=0, return_inverse=True)[1]
        return np.asarray(codes, dtype=np.int64).reshape(-1)
    listed = np.asarray(groups, dtype=object)
    if listed.shape != (len(table),) or is_missing(listed).any():
        raise EstimatorInputError(
            "groups",
            f"an array of shape {listed.shape}",
            f"name the group of all {len(table)} rows",
        )
    names = {name: code for code, name in enumerate(sorted_names(set(listed.tolist())))}
    return np.array([names[name] for name in listed.tolist()], dtype=np.int64)
