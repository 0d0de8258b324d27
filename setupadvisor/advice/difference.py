"""What changes between two walks: the entries, the rules that speak, the settings that follow."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from setupadvisor.advice.records import Advice
from setupadvisor.advice.workshop import Situations, Workshop, situations
from setupadvisor.entries.quantity import EntryField, Word
from setupadvisor.facts.columns import Columns, condition_fields
from setupadvisor.facts.table import FactTable

# A rule that speaks this much more or less is named.
TELLING_DEGREE = 0.1
# Where such an entry is missing, these facts give it from what was felt.
_FELT = {
    "walk.ground.available_water_pct": "available_water_pct",
    "walk.ground.cone_index_kpa": "cone_index_kpa",
    "walk.start.after_cone_index_kpa": "after_gate_cone_index_kpa",
}


@dataclass(frozen=True)
class EntryDifference:
    """An entry that differs, as a crew reads it.

    Parameters
    ----------
    entry, title : str
        Its key and what a person calls it.
    before, after : str
        Values in words; ``not entered`` where missing, ``by feel`` where it was felt, not measured.
    """

    entry: str
    title: str
    before: str
    after: str


@dataclass(frozen=True)
class RuleDifference:
    """A rule that speaks more or less.

    Parameters
    ----------
    rule, title : str
        Its id and title.
    before, after : float or None
        Degrees; None where it could not be judged.
    """

    rule: str
    title: str
    before: float | None
    after: float | None


@dataclass(frozen=True)
class SettingDifference:
    """A setting that follows.

    Parameters
    ----------
    setting, title : str
        Its name and title.
    before, after : str
        As a mechanic reads them.
    """

    setting: str
    title: str
    before: str
    after: str


@dataclass(frozen=True)
class Difference:
    """All that differs between two walks.

    Parameters
    ----------
    entries : tuple of EntryDifference
        In the order of the walk file.
    rules : tuple of RuleDifference
        The most telling first.
    settings : tuple of SettingDifference
        In the order of the machine file.
    """

    entries: tuple[EntryDifference, ...]
    rules: tuple[RuleDifference, ...]
    settings: tuple[SettingDifference, ...]


def difference(
    workshop: Workshop, first: Columns, then: Columns, advised: Advice, advised_then: Advice
) -> Difference:
    """Compare two walks and what is advised for them.

    Parameters
    ----------
    workshop : Workshop
        The machine and its rules.
    first, then : dict of str to numpy.ndarray
        Columns of the two walks, one row each.
    advised, advised_then : Advice
        Their advice.

    Returns
    -------
    Difference
        Entries, rules and settings that differ.
    """
    later = {setting.setting: setting for setting in advised_then.settings}
    settings = tuple(
        SettingDifference(s.setting, s.title, s.shown, later[s.setting].shown)
        for s in advised.settings
        if s.setting in later and s.value != later[s.setting].value
    )
    found = (situations(workshop, first, 1), situations(workshop, then, 1))
    return Difference(
        _entries(first, then, found[0].facts, found[1].facts), _rules(workshop, *found), settings
    )


def _entries(
    first: Columns, then: Columns, facts: FactTable, facts_then: FactTable
) -> tuple[EntryDifference, ...]:
    found = []
    for path, field in condition_fields().items():
        before, after = _said(first, path, field), _said(then, path, field)
        if before != after:
            before = before or _felt(facts, path, field)
            after = after or _felt(facts_then, path, field)
            key = "jumps" if field.listed else field.key
            found.append(EntryDifference(key, field.title, before, after))
    return tuple(found)


def _said(columns: Columns, path: str, field: EntryField) -> str:
    values = np.ravel(columns.get(path, np.nan)).tolist()
    while values and np.isnan(values[-1]):
        values.pop()
    told = ", ".join(_told(value, field) for value in values)
    unit = field.kind.unit if field.kind and not isinstance(field.kind, Word) else ""
    return f"{told} {unit}".strip() if told else ""


def _told(value: float, field: EntryField) -> str:
    if np.isnan(value):
        return "–"  # a jump of which this was not entered
    if isinstance(field.kind, Word):
        return field.kind.choices[int(value)].replace("_", " ")
    return f"{value:.4g}"


def _felt(facts: FactTable, path: str, field: EntryField) -> str:
    value = facts[_FELT[path]] if path in _FELT else np.array([np.nan])
    felt = _said({path: value}, path, field)
    return f"{felt} by feel" if felt else "not entered"


def _rules(workshop: Workshop, first: Situations, then: Situations) -> tuple[RuleDifference, ...]:
    before, after = first.degrees[0], then.degrees[0]
    moved = np.abs(np.nan_to_num(after) - np.nan_to_num(before))
    order = sorted(
        np.flatnonzero(moved >= TELLING_DEGREE), key=lambda place: (-moved[place], place)
    )
    return tuple(
        RuleDifference(
            workshop.rulebase.rules[place].id,
            workshop.rulebase.rules[place].title,
            _degree(before[place]),
            _degree(after[place]),
        )
        for place in order
    )


def _degree(value: float) -> float | None:
    return None if np.isnan(value) else round(float(value), 3)
