"""Sums of rows that share a code."""

from __future__ import annotations

import numpy as np

from setupadvisor.learning.sessions import Floats, Integers


def sums_by_code(codes: Integers, values: Floats, length: int) -> Floats:
    """Sum up the rows of each code.

    Parameters
    ----------
    codes : (n,) integer array
        Codes from 0; rows of a code below 0 are left out.
    values : (n,) or (n, w) array
        What is to be summed.
    length : int
        Number of codes.

    Returns
    -------
    (length,) or (length, w) array
        Sums; 0 where a code has no row.

    Examples
    --------
    >>> sums_by_code(np.array([2, 0, 2, -1]), np.array([1.0, 2.0, 3.0, 4.0]), 3).tolist()
    [2.0, 0.0, 4.0]
    """
    result = np.zeros((length, *values.shape[1:]))
    # Sorted first: adding row by row to scattered places takes many times longer.
    if (codes[1:] < codes[:-1]).any():
        order = np.argsort(codes, kind="stable")
        codes, values = codes[order], values[order]
    if len(codes) and codes[0] < 0:
        known = int(np.searchsorted(codes, 0))
        codes, values = codes[known:], values[known:]
    if len(codes):
        starts = np.concatenate([[0], np.flatnonzero(codes[1:] != codes[:-1]) + 1])
        result[codes[starts]] = np.add.reduceat(values, starts, axis=0)
    return result
