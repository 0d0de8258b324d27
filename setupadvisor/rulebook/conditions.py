"""Conditions: terms joined by all, any and not."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Any, Literal

from setupadvisor.entries.quantity import shown
from setupadvisor.entries.yaml_file import KeyPath
from setupadvisor.rulebook.reading import Reading

_HOW = "write a term, 'not' and a term, a list for all of them, or {any: [...]}"


@dataclass(frozen=True, slots=True)
class Condition:
    """A term, or conditions joined by all, any or not.

    Parameters
    ----------
    kind : str
        ``"term"``, ``"all"``, ``"any"`` or ``"not"``.
    term : str
        The term's name, where `kind` is ``"term"``.
    parts : tuple of Condition
        What is joined; one part under ``"not"``.

    Examples
    --------
    >>> both = Condition("all", parts=(Condition("term", "soft"), Condition("term", "wet")))
    >>> str(both)
    'soft and wet'
    """

    kind: Literal["term", "all", "any", "not"]
    term: str = ""
    parts: tuple[Condition, ...] = ()

    def __str__(self) -> str:
        return in_words(self)


def in_words(condition: Condition, *, inner: bool = False) -> str:
    """Say a condition in words.

    Parameters
    ----------
    condition : Condition
        The condition.
    inner : bool
        Whether it stands inside another one and may need brackets.

    Returns
    -------
    str
        ``"soft ground and not (wet or dusty)"``.
    """
    if condition.kind == "term":
        return condition.term.replace("_", " ")
    if condition.kind == "not":
        return f"not {in_words(condition.parts[0], inner=True)}"
    joined = {"all": " and ", "any": " or "}[condition.kind].join(
        in_words(part, inner=True) for part in condition.parts
    )
    return f"({joined})" if inner and len(condition.parts) > 1 else joined


def terms_in(condition: Condition) -> Iterator[str]:
    """Give the terms a condition names, in the order they are written, repeats included.

    Parameters
    ----------
    condition : Condition
        The condition.

    Yields
    ------
    str
        A term's name.
    """
    if condition.kind == "term":
        yield condition.term
    for part in condition.parts:
        yield from terms_in(part)


def read_condition(reading: Reading, path: KeyPath, written: Any) -> Condition | None:
    """Read a condition as written.

    Parameters
    ----------
    reading : Reading
        Takes the mistakes and the terms referred to.
    path : tuple of str and int
        Where it stands.
    written : object
        Text, list or mapping as read from YAML.

    Returns
    -------
    Condition or None
        None if anything in it is wrong.
    """
    if isinstance(written, str):
        return _read_text(reading, path, written)
    if isinstance(written, list):
        return _read_joined(reading, path, "all", written)
    if isinstance(written, dict):
        return _read_group(reading, path, written)
    reading.wrong(path, f"{shown(written)} is no condition", _HOW)
    return None


def _read_group(reading: Reading, path: KeyPath, written: dict[str, Any]) -> Condition | None:
    if len(written) != 1:
        found = f"{', '.join(written) or 'nothing'} in one group"
        reading.wrong(path, found, "one of any, all, not in each group; join groups by a list")
        return None
    ((key, value),) = written.items()
    here = (*path, key)
    if key == "not":
        part = read_condition(reading, here, value)
        return None if part is None else Condition("not", parts=(part,))
    if key not in {"all", "any"}:
        reading.wrong(here, f"{shown(key)} joins no terms", "write any, all or not")
        return None
    if not isinstance(value, list):
        reading.wrong(here, f"{shown(value)} is no list", f"write {key}: [term, term]")
        return None
    return _read_joined(reading, here, "all" if key == "all" else "any", value)


def _read_text(reading: Reading, path: KeyPath, written: str) -> Condition | None:
    words = written.split()
    negated = len(words) > 1 and words[0] == "not"
    if len(words) != 1 + negated:
        reading.wrong(path, f"{shown(written)} is no single term", _HOW)
        return None
    reading.refer("term", words[-1], path)
    term = Condition("term", words[-1])
    return Condition("not", parts=(term,)) if negated else term


def _read_joined(
    reading: Reading, path: KeyPath, kind: Literal["all", "any"], written: list[Any]
) -> Condition | None:
    if not written:
        reading.wrong(path, "the list is empty", _HOW)
        return None
    parts = [read_condition(reading, (*path, place), part) for place, part in enumerate(written)]
    good = tuple(part for part in parts if part is not None)
    if len(good) < len(parts):
        return None
    return good[0] if len(good) == 1 else Condition(kind, parts=good)
