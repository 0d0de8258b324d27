"""Columns with gaps: the most trusted source that is known, or what is usual."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np

from setupadvisor.facts.valid_range import FloatArray


def first_known(*columns: FloatArray) -> FloatArray:
    """Take for each row the first column that is not missing.

    Parameters
    ----------
    *columns : numpy.ndarray
        From the most to the least trusted, same shape.

    Returns
    -------
    numpy.ndarray
        NaN where all are missing.

    Examples
    --------
    >>> first_known(np.array([1.0, np.nan]), np.array([5.0, 6.0])).tolist()
    [1.0, 6.0]
    """
    result = np.asarray(columns[0], dtype=np.float64)
    for column in columns[1:]:
        result = np.where(np.isnan(result), column, result)
    return result


def any_known(*columns: FloatArray) -> bool:
    """Tell whether some row has a value in any of the columns.

    Parameters
    ----------
    *columns : numpy.ndarray
        Any shape.

    Returns
    -------
    bool
        Whether something is not missing.

    Examples
    --------
    >>> any_known(np.array([np.nan]), np.array([1.0])), any_known(np.array([np.nan]))
    (True, False)
    """
    return any(np.count_nonzero(column == column) for column in columns)  # noqa: PLR0124


def or_usual(column: FloatArray, usual: float) -> FloatArray:
    """Take a usual number where a column is missing.

    Parameters
    ----------
    column : numpy.ndarray
        As known.
    usual : float
        What stands in, in the column's unit.

    Returns
    -------
    numpy.ndarray
        Without gaps.

    Examples
    --------
    >>> or_usual(np.array([1.0, np.nan]), 5.0).tolist()
    [1.0, 5.0]
    """
    return np.where(np.isnan(column), usual, column)


def filled(column: FloatArray, otherwise: Callable[[], FloatArray]) -> FloatArray:
    """Fill the gaps of a column by a calculation that is made only where there are gaps.

    Parameters
    ----------
    column : numpy.ndarray
        The more trusted source.
    otherwise : callable
        Gives the other one, same shape.

    Returns
    -------
    numpy.ndarray
        NaN where both are missing.

    Examples
    --------
    >>> filled(np.array([1.0, np.nan]), lambda: np.array([5.0, 6.0])).tolist()
    [1.0, 6.0]
    >>> filled(np.array([1.0]), lambda: 1.0 / 0.0).tolist()
    [1.0]
    """
    gaps = np.isnan(column)
    if not np.count_nonzero(gaps):
        return column
    return np.where(gaps, otherwise(), column)
