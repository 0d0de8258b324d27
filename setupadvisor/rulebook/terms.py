"""Terms: words with a degree between 0 and 1 over one fact, or over other terms.

A term over a number is piecewise linear, as the TERM of IEC 61131-7 (fuzzy control
programming): breakpoints ``[value, degree]``, constant beyond the ends, a vertical side where a
value stands twice. On a vertical side the higher degree holds.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass
from itertools import pairwise
from typing import Any

from setupadvisor.entries.quantity import shown
from setupadvisor.entries.yaml_file import KeyPath
from setupadvisor.facts.fact import Fact
from setupadvisor.rulebook.conditions import Condition, read_condition
from setupadvisor.rulebook.forms import MOST_POINTS, TermForm
from setupadvisor.rulebook.reading import (
    Origin,
    Reading,
    check_shape,
    good_name,
    group,
    hint,
    known_word,
)

Points = tuple[tuple[float, float], ...]

_NO_MEMBERSHIP: tuple[str, Points, tuple[str, ...]] = ("", (), ())
_POINTS_EXAMPLE = "points: [[300, 1], [700, 0]]"


@dataclass(frozen=True, slots=True)
class Term:
    """A word with a degree.

    Parameters
    ----------
    name : str
        The word.
    fact : str
        The fact it is about; empty for a term over other terms.
    points : tuple of (float, float)
        Breakpoints (value of the fact, degree), the degree not everywhere the same; for a
        category, one for each of its words.
    choices : tuple of str
        The category's words it stands for; empty for numbers.
    when : Condition or None
        For a term over other terms.
    why : str
        The reason of the breakpoints.
    origin : Origin
        Where it stands.
    """

    name: str
    fact: str
    points: Points
    choices: tuple[str, ...]
    when: Condition | None
    why: str
    origin: Origin


def degree(points: Points, value: float) -> float:
    """Give the degree of a term over a number, one value at a time.

    Parameters
    ----------
    points : tuple of (float, float)
        Breakpoints (value, degree), values rising.
    value : float
        The fact's value.

    Returns
    -------
    float
        From 0 to 1; NaN where the value is missing.

    Examples
    --------
    >>> degree(((300.0, 1.0), (700.0, 0.0)), 400.0)
    0.75
    """
    if math.isnan(value):
        return math.nan
    at_value = [height for place, height in points if place == value]
    if at_value:
        return max(at_value)
    if value < points[0][0]:
        return points[0][1]
    for (left, before), (right, after) in pairwise(points):
        if left < value < right:
            return before + (after - before) * (value - left) / (right - left)
    return points[-1][1]


def read_terms(reading: Reading, facts: Mapping[str, Fact]) -> dict[str, Term | None]:
    """Read the terms of one document.

    Parameters
    ----------
    reading : Reading
        The document; takes mistakes and references.
    facts : mapping of str to Fact
        The facts there are.

    Returns
    -------
    dict of str to Term or None
        By name, in the order of the file; None where anything is wrong.
    """
    path = ("terms",)
    content = group(reading, path, reading.document.content["terms"], "a term's name and its keys")
    return {name: _read_term(reading, facts, name, term) for name, term in content.items()}


def _read_term(reading: Reading, facts: Mapping[str, Fact], name: str, content: Any) -> Term | None:
    path = ("terms", name)
    before = len(reading.mistakes)
    good_name(reading, path, name)
    if name == "not":
        reading.wrong(path, "'not' is no name", "give the term a name of its own")
    form = check_shape(reading, path, content, TermForm)
    if not isinstance(content, dict):
        return None
    when = None
    fact, points, choices = _NO_MEMBERSHIP
    if "when" in content:
        for key in ("fact", "points", "is"):
            if key in content:
                mend = "keep either when, or fact with points or is"
                reading.wrong((*path, key), f"{key} beside when", mend)
        when = read_condition(reading, (*path, "when"), content["when"])
    else:
        fact, points, choices = _read_membership(reading, path, content, facts)
    if form is None or len(reading.mistakes) > before:
        return None
    return Term(name, fact, points, choices, when, form.why, reading.origin(path))


def _read_membership(
    reading: Reading, path: KeyPath, content: dict[str, Any], facts: Mapping[str, Fact]
) -> tuple[str, Points, tuple[str, ...]]:
    name = content.get("fact")
    if name is None:
        reading.wrong(path, "the term is about nothing", "add fact, or when for other terms")
        return _NO_MEMBERSHIP
    fact = facts.get(name) if isinstance(name, str) else None
    if fact is None:
        if isinstance(name, str):
            otherwise = "see the list of facts; a term can only be about one of them"
            reading.wrong(
                (*path, "fact"), f"there is no fact {shown(name)}", hint(name, facts, otherwise)
            )
        return _NO_MEMBERSHIP
    key, other = ("is", "points") if fact.is_category else ("points", "is")
    if other in content:
        found = f"{fact.name} is a {'category' if fact.is_category else 'number'}"
        reading.wrong((*path, other), found, f"write {key} instead: {_example(fact)}")
        return _NO_MEMBERSHIP
    if key not in content:
        reading.wrong(path, f"the key {key!r} is missing", f"add {_example(fact)}")
        return _NO_MEMBERSHIP
    if fact.is_category:
        choices = _read_choices(reading, (*path, "is"), content["is"], fact)
        return fact.name, category_points(choices, fact.choices), choices
    return fact.name, _read_points(reading, (*path, "points"), content["points"], fact), ()


def _example(fact: Fact) -> str:
    return f"is: [{fact.choices[0]}]" if fact.is_category else _POINTS_EXAMPLE


def category_points(words: tuple[str, ...], choices: tuple[str, ...]) -> Points:
    """Give a category's term as breakpoints over the words' places.

    Parameters
    ----------
    words : tuple of str
        The words the term stands for.
    choices : tuple of str
        All words of the category, in their order.

    Returns
    -------
    tuple of (float, float)
        (place, 1 or 0) for every word.

    Examples
    --------
    >>> category_points(("wet",), ("dry", "damp", "wet"))
    ((0.0, 0.0), (1.0, 0.0), (2.0, 1.0))
    """
    return tuple((float(place), float(word in words)) for place, word in enumerate(choices))


def _read_choices(reading: Reading, path: KeyPath, written: Any, fact: Fact) -> tuple[str, ...]:
    items = written if isinstance(written, list) else [written]
    choices: list[str] = []
    for place, item in enumerate(items):
        here = (*path, place) if isinstance(written, list) else path
        word = known_word(reading, here, item, fact.choices)
        if word in choices:
            reading.wrong(here, f"{word} stands twice", "keep it once")
        elif word is not None:
            choices.append(word)
    if not items:
        reading.wrong(path, "the list is empty", f"write {_example(fact)}")
    elif len(choices) == len(fact.choices):
        reading.wrong(path, f"every word of {fact.name} is named", "such a term says nothing")
    return tuple(choices)


def _read_points(reading: Reading, path: KeyPath, written: Any, fact: Fact) -> Points:
    if not isinstance(written, list) or not 2 <= len(written) <= MOST_POINTS:
        found = f"{len(written)} points" if isinstance(written, list) else f"{shown(written)}"
        reading.wrong(path, f"{found} cannot be", f"write 2 to {MOST_POINTS}: {_POINTS_EXAMPLE}")
        return ()
    points = []
    for place, pair in enumerate(written):
        here = (*path, place)
        if not isinstance(pair, list) or len(pair) != 2 or not all(map(_is_number, pair)):
            unit = f" in {fact.unit}" if fact.unit else ""
            mend = f"write [value, degree], the value{unit} without its unit: {_POINTS_EXAMPLE}"
            reading.wrong(here, f"{shown(pair)} is no point", mend)
            continue
        if not 0 <= pair[1] <= 1:
            reading.wrong(here, f"{pair[1]:g} is no degree", "a degree is from 0 to 1")
        points.append((float(pair[0]), float(pair[1])))
    if len(points) == len(written):
        _check_order(reading, path, points)
    return tuple(points)


def _is_number(value: object) -> bool:
    return isinstance(value, int | float) and not isinstance(value, bool) and math.isfinite(value)


def _check_order(reading: Reading, path: KeyPath, points: list[tuple[float, float]]) -> None:
    values = [value for value, _ in points]
    for place, (left, right) in enumerate(pairwise(values), start=1):
        if right < left:
            found = f"{right:g} after {left:g}"
            reading.wrong((*path, place), found, "order the points by their first number")
    for place in range(2, len(points)):
        if values[place] == values[place - 1] == values[place - 2]:
            mend = "at most two points share a value: a vertical side"
            reading.wrong((*path, place), f"{values[place]:g} stands three times", mend)
    for place, (point, following) in enumerate(pairwise(points), start=1):
        if point == following:
            reading.wrong((*path, place), "the same point twice", "keep one of them")
    if len({height for _, height in points}) == 1:
        found = f"the degree is {points[0][1]:g} everywhere"
        reading.wrong(path, found, "such a term says nothing; let the degree change")
