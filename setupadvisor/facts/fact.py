"""A fact: a number or category that follows from the entries, with its formula and source."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

from setupadvisor.entries.quantity import Word
from setupadvisor.facts.columns import condition_fields
from setupadvisor.facts.valid_range import FloatArray

AS_ENTERED = "as entered"


@dataclass(frozen=True)
class Fact:
    """One fact of the catalogue.

    Parameters
    ----------
    name : str
        With its SI-based unit at the end: ``cone_index_kpa``.
    title : str
        What a mechanic calls it.
    unit : str
        As printed; empty for ratios and categories.
    low, high : float
        The range it can reach; for a category 0 and the last place in `choices`.
    function : callable
        Takes the inputs' arrays in their order, returns an array.
    inputs : tuple of str
        Entry paths (``walk.air.temperature_c``) and other facts.
    formula : str
        The formula's name, or ``as entered``.
    source : str
        The published source, or ``common practice, no source``.
    choices : tuple of str
        The words of a category, in order; empty for numbers.
    part : int, optional
        Where one function gives several facts: this fact's place in its tuple. The function is
        called once for all of them.

    Examples
    --------
    >>> Fact("air_temperature_c", "Air temperature", "°C", -25, 55, lambda t: t,
    ...      ("walk.air.temperature_c",), "as entered", "entry").is_category
    False
    """

    name: str
    title: str
    unit: str
    low: float
    high: float
    function: Callable[..., Any]
    inputs: tuple[str, ...]
    formula: str
    source: str
    choices: tuple[str, ...] = ()
    part: int | None = None

    @property
    def is_category(self) -> bool:
        """Whether it is one word out of several."""
        return bool(self.choices)


def entered(name: str, path: str) -> Fact:
    """Make the fact that is one entry, as entered: title, unit and range stand in the entry.

    Parameters
    ----------
    name : str
        The fact's name.
    path : str
        The entry's path: ``walk.air.temperature_c``.

    Returns
    -------
    Fact
        The copy.

    Examples
    --------
    >>> entered("track_kind", "walk.kind").choices
    ('stadium', 'outdoor', 'sand')
    """
    kind = condition_fields()[path].kind
    if isinstance(kind, Word):
        high = float(len(kind.choices) - 1)
        return Fact(
            name, kind.title, "", 0.0, high, _same, (path,), AS_ENTERED, "entry", kind.choices
        )
    if kind is None:
        raise KeyError(path)
    return Fact(
        name, kind.title, kind.unit, kind.low, kind.high, _same, (path,), AS_ENTERED, "entry"
    )


def _same(values: FloatArray) -> FloatArray:
    return values
