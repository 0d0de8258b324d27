"""Guards of the physics: what a formula's source covers, and what cannot be at all."""

from __future__ import annotations

import warnings
from typing import NoReturn

import numpy as np
from numpy.typing import ArrayLike, NDArray

from setupadvisor.errors import ImpossibleValue, OutsideValidRange

FloatArray = NDArray[np.float64]


def within(
    value: ArrayLike, quantity: str, low: float, high: float, unit: str, formula: str
) -> FloatArray:
    """Return `value` as floats and warn when any of it is outside a formula's range.

    Missing values (NaN) are passed through and never warned about.

    Parameters
    ----------
    value : array_like
        The quantity, any shape.
    quantity : str
        Its name in words, for the warning.
    low, high : float
        The range the formula's source covers, in `unit`.
    unit : str
        The unit as printed.
    formula : str
        The formula's name.

    Returns
    -------
    numpy.ndarray
        `value` as float64, same shape.

    Warns
    -----
    OutsideValidRange
        Naming the quantity, what was given, the range and the formula.

    Examples
    --------
    >>> float(within(20.0, "air temperature", 15, 27, "°C", "CIPM-2007"))
    20.0
    """
    array = np.asarray(value, dtype=np.float64)
    numbers = array.item() if array.size == 1 else array
    if _some(numbers < low) or _some(numbers > high):
        worst = array[(array < low) | (array > high)]
        given = float(worst[np.argmax(np.maximum(low - worst, worst - high))])
        warnings.warn(
            f"{quantity} {f'{given:g} {unit}'.strip()} is {_beyond(low, high, unit)}, "
            f"the range of {formula}: its result is less certain",
            OutsideValidRange,
            stacklevel=3,
        )
    return array


def _beyond(low: float, high: float, unit: str) -> str:
    if high == np.inf:
        return f"below {low:g} {unit}".strip()
    if low == -np.inf:
        return f"above {high:g} {unit}".strip()
    return f"outside {low:g} to {high:g} {unit}".strip()


def possible(
    value: ArrayLike,
    quantity: str,
    mend: str,
    *,
    above: float | None = None,
    at_least: float | None = None,
    at_most: float | None = None,
) -> FloatArray:
    """Return `value` as floats, refusing what physics forbids.

    Parameters
    ----------
    value : array_like
        The quantity, any shape; missing values (NaN) pass.
    quantity : str
        The quantity's name, with its unit at the end.
    mend : str
        What would be possible, for the message.
    above : float, optional
        Exclusive lower bound.
    at_least, at_most : float, optional
        Inclusive bounds.

    Returns
    -------
    numpy.ndarray
        `value` as float64, same shape.

    Raises
    ------
    ImpossibleValue
        If any element breaks a bound.

    Examples
    --------
    >>> possible([60.0, 80.0], "mass_kg", "a mass is above 0 kg", above=0.0).tolist()
    [60.0, 80.0]
    """
    array = np.asarray(value, dtype=np.float64)
    # These guards are most of what one walk costs, and comparing a Python number is the cheapest
    # question there is about a single one; about many, counting is.
    numbers = array.item() if array.size == 1 else array
    if above is not None and _some(numbers <= above):
        _refuse(array[array <= above], quantity, mend)
    if at_least is not None and _some(numbers < at_least):
        _refuse(array[array < at_least], quantity, mend)
    if at_most is not None and _some(numbers > at_most):
        _refuse(array[array > at_most], quantity, mend)
    return array


def _some(answer: bool | NDArray[np.bool_]) -> bool:
    return answer if isinstance(answer, bool) else bool(np.count_nonzero(answer))


def _refuse(broken: FloatArray, quantity: str, mend: str) -> NoReturn:
    raise ImpossibleValue(quantity, f"{float(broken.flat[0]):g}", mend)
