"""Tables as the estimators read them: columns by name or number, categories, missing values."""

from __future__ import annotations

from collections.abc import Hashable, Iterable
from typing import Any, TypeAlias

import numpy as np
from numpy.typing import NDArray

from setupadvisor.errors import InputError, Mistake
from setupadvisor.learning.sessions import Booleans, Floats, Integers

Table: TypeAlias = NDArray[Any]
Categories: TypeAlias = tuple[Hashable, ...] | None


class EstimatorInputError(InputError, ValueError):
    """A parameter or an argument of an estimator cannot be; scikit-learn expects a ValueError.

    Parameters
    ----------
    where, found, mend : str
        As in `Mistake`.

    Examples
    --------
    >>> print(EstimatorInputError("kappa", "-1", "give 0 or more"))
    kappa: -1; give 0 or more
    """

    def __init__(self, where: str, found: str, mend: str) -> None:
        super().__init__(Mistake(where, found, mend))

    def __reduce__(self) -> tuple[type[EstimatorInputError], tuple[str, str, str]]:
        mistake = self.mistakes[0]
        return type(self), (mistake.where, mistake.found, mistake.mend)


def column_names(table: object) -> list[Hashable] | None:
    """Return the names of a frame's columns, or None for an array.

    Parameters
    ----------
    table : array-like or frame
        What was given as X or y.

    Returns
    -------
    list or None
        The names.
    """
    columns = getattr(table, "columns", None)
    return None if columns is None else list(columns)


def column_numbers(
    chosen: object, *, names: list[Hashable] | None, n_columns: int, parameter: str
) -> Integers:
    """Turn column names or numbers into numbers.

    Parameters
    ----------
    chosen : None, str, int, sequence of these, or (n_columns,) sequence of bool
        The columns; None is none of them.
    names : list or None
        Names of the table's columns.
    n_columns : int
        How many columns the table has.
    parameter : str
        The parameter that names them, for messages.

    Returns
    -------
    (k,) integer array
        Numbers from 0, in the order asked for.

    Raises
    ------
    EstimatorInputError
        Where a column is not there.

    Examples
    --------
    >>> column_numbers(["b", 0], names=["a", "b"], n_columns=2, parameter="fields").tolist()
    [1, 0]
    """
    if chosen is None:
        return np.zeros(0, dtype=np.int64)
    if isinstance(chosen, str | int | np.integer):
        chosen = [chosen]
    listed = list(chosen)  # type: ignore[call-overload]
    if listed and all(isinstance(one, bool | np.bool_) for one in listed):
        if len(listed) != n_columns:
            raise EstimatorInputError(
                parameter, f"a mask of {len(listed)}", f"give one for each of {n_columns} columns"
            )
        return np.flatnonzero(listed)
    result = []
    for one in listed:
        if isinstance(one, int | np.integer) and (names is None or one not in names):
            if not -n_columns <= one < n_columns:
                raise EstimatorInputError(
                    parameter, f"no column {one}", f"the table has {n_columns} columns, from 0"
                )
            result.append(int(one) % n_columns)
        elif names is None:
            raise EstimatorInputError(
                parameter, f"column {one!r} of a table without names", "give a frame, or a number"
            )
        elif one not in names:
            there = ", ".join(str(name) for name in names[:20])
            raise EstimatorInputError(parameter, f"no column {one!r}", f"the table has {there}")
        else:
            result.append(names.index(one))
    return np.array(result, dtype=np.int64)


def category_mask(
    chosen: object, table: object, *, names: list[Hashable] | None, n_columns: int
) -> Booleans:
    """Find the columns whose values either agree or not.

    Parameters
    ----------
    chosen : "from_dtype", None, or columns
        The parameter `categorical_features`.
    table : array-like or frame
        What was given as X; "from_dtype" looks at a frame's types, and takes every column that is
        not of numbers.
    names : list or None
        Names of the table's columns.
    n_columns : int
        How many columns the table has.

    Returns
    -------
    (n_columns,) array of bool
        True for categories.
    """
    mask = np.zeros(n_columns, dtype=bool)
    if names_categories(chosen):
        numbers = column_numbers(
            chosen, names=names, n_columns=n_columns, parameter="categorical_features"
        )
        mask[numbers] = True
    elif chosen is not None and hasattr(table, "iloc"):
        for number in range(n_columns):
            mask[number] = not holds_numbers(table.iloc[:, number])
    return mask


def holds_numbers(column: Any) -> bool:
    """Say whether a frame's column holds numbers.

    Parameters
    ----------
    column : series
        The column.

    Returns
    -------
    bool
        False for words, categories and yes or no.
    """
    from pandas.api import types  # noqa: PLC0415

    if column.dtype == object:
        numbers = {"integer", "floating", "mixed-integer-float", "decimal", "empty"}
        return types.infer_dtype(column, skipna=True) in numbers
    return bool(types.is_numeric_dtype(column) and not types.is_bool_dtype(column))


def names_categories(chosen: object) -> bool:
    """Say whether the parameter `categorical_features` names columns by itself.

    Parameters
    ----------
    chosen : "from_dtype", None, or columns
        The parameter.

    Returns
    -------
    bool
        False where it leaves it to a frame's types, or names none.
    """
    return chosen is not None and not (isinstance(chosen, str) and chosen == "from_dtype")


def is_missing(column: Table) -> Booleans:
    """Find missing entries: NaN, None and the like.

    Parameters
    ----------
    column : (n,) array
        Of any type.

    Returns
    -------
    (n,) array of bool
        True where missing.
    """
    if column.dtype.kind == "f":
        return np.isnan(column)
    if column.dtype.kind != "O":
        return np.zeros(column.shape, dtype=bool)
    from pandas import isna  # noqa: PLC0415

    return np.asarray(isna(column), dtype=bool)


def as_numbers(column: Table, name: object) -> Floats:
    """Turn a column into numbers, NaN where missing.

    Parameters
    ----------
    column : (n,) array
        Of any type.
    name : object
        The column's name or number, for messages.

    Returns
    -------
    (n,) array
        The numbers.

    Raises
    ------
    EstimatorInputError
        Where a number is infinite.
    """
    if column.dtype.kind == "O":
        column = np.where(is_missing(column), np.nan, column)
    numbers: Floats = column.astype(np.float64)
    if np.isinf(numbers).any():
        raise EstimatorInputError(
            f"column {name}", "infinity in X", "leave the entry empty if it is not known"
        )
    return numbers


def categories_of(column: Table) -> tuple[Hashable, ...]:
    """List the values of a column in the order in which they come, without the missing ones.

    Parameters
    ----------
    column : (n,) array
        Of any type.

    Returns
    -------
    tuple
        The values.
    """
    return tuple(dict.fromkeys(column[~is_missing(column)].tolist()))


def as_codes(column: Table, categories: tuple[Hashable, ...]) -> Floats:
    """Turn a column of categories into codes.

    Parameters
    ----------
    column : (n,) array
        Of any type.
    categories : tuple
        What the codes from 0 stand for.

    Returns
    -------
    (n,) array
        Codes; NaN where missing; for a value not among the categories a code that none has.

    Examples
    --------
    >>> as_codes(np.array(["loam", None, "sand", "clay"], dtype=object), ("clay", "loam")).tolist()
    [1.0, nan, 2.0, 0.0]
    """
    code = {value: float(number) for number, value in enumerate(categories)}
    unknown = float(len(categories))
    missing = is_missing(column)
    return np.array(
        [
            np.nan if gone else code.get(value, unknown)
            for value, gone in zip(column.tolist(), missing.tolist(), strict=True)
        ],
        dtype=np.float64,
    )


def encoded(table: Table, columns: Integers, categories: tuple[Categories, ...]) -> Floats:
    """Turn some columns of a table into numbers and codes.

    Parameters
    ----------
    table : (n, p) array
        Of any type.
    columns : (F,) integer array
        Which columns.
    categories : tuple of (tuple or None)
        Categories of each of these columns; None for numbers.

    Returns
    -------
    (n, F) array
        Numbers and codes; NaN where missing.
    """
    result = np.empty((len(table), len(columns)))
    for place, (number, values) in enumerate(zip(columns.tolist(), categories, strict=True)):
        column = table[:, number]
        if values is None:
            result[:, place] = as_numbers(column, number)
        else:
            result[:, place] = as_codes(column, values)
    return result


def sorted_names(names: Iterable[Any]) -> list[Any]:
    """Sort names, as text where they are of several kinds.

    Parameters
    ----------
    names : iterable
        Names or numbers.

    Returns
    -------
    list
        The names in order.

    Examples
    --------
    >>> sorted_names(["b", 10, 9, "a"])
    [10, 9, 'a', 'b']
    """
    listed = list(names)
    try:
        return sorted(listed)
    except TypeError:
        return sorted(listed, key=lambda name: (type(name).__name__, str(name)))
