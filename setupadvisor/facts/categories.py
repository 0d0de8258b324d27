"""Categories on arrays: a word of a fixed tuple is its index as a float, missing is NaN."""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike, NDArray

from setupadvisor.errors import ImpossibleValue
from setupadvisor.facts.valid_range import FloatArray


def indices(
    code: ArrayLike, count: int, quantity: str
) -> tuple[NDArray[np.intp], NDArray[np.bool_]]:
    """Return whole-number indices of a category code, and where the code is missing.

    Parameters
    ----------
    code : array_like
        Float codes, any shape; NaN is missing.
    count : int
        How many categories there are.
    quantity : str
        What the code names, for the message.

    Returns
    -------
    index : numpy.ndarray of int
        Same shape as `code`; 0 where missing.
    missing : numpy.ndarray of bool
        True where `code` is NaN.

    Raises
    ------
    ImpossibleValue
        If a code is not a whole number from 0 to `count` - 1.

    Examples
    --------
    >>> index, missing = indices([2.0, float("nan")], 3, "texture")
    >>> index.tolist(), missing.tolist()
    ([2, 0], [False, True])
    """
    array = np.asarray(code, dtype=np.float64)
    missing = np.isnan(array)
    known = np.where(missing, 0.0, array)
    with np.errstate(invalid="ignore"):
        index = known.astype(np.intp)
    wrong = (index != known) | (index < 0) | (index >= count)
    if np.count_nonzero(wrong):
        raise ImpossibleValue(
            quantity,
            f"category code {float(known[wrong].flat[0]):g}",
            f"a whole number from 0 to {count - 1}, or missing",
        )
    return index, missing


def look_up(table: FloatArray, code: ArrayLike, quantity: str) -> FloatArray:
    """Return a category's number from a table in the order of the categories.

    Parameters
    ----------
    table : numpy.ndarray, shape (n_categories,)
        One number a category.
    code : array_like
        Float codes, any shape; NaN is missing.
    quantity : str
        What the code names, for the message.

    Returns
    -------
    numpy.ndarray
        The table's number at each code, same shape; NaN where missing.

    Raises
    ------
    ImpossibleValue
        If a code is outside the table.

    Examples
    --------
    >>> look_up(np.array([10.0, 20.0]), [1.0, float("nan")], "texture").tolist()
    [20.0, nan]
    """
    index, missing = indices(code, len(table), quantity)
    return np.where(missing, np.nan, table[index])
