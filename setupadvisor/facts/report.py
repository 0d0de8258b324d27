"""The facts of one walk, explained: value, formula, source, where from, and what is missing."""

from __future__ import annotations

from collections.abc import Mapping
from collections.abc import Set as AbstractSet
from dataclasses import dataclass

import numpy as np

from setupadvisor.entries.machine import Machine
from setupadvisor.facts.catalogue import FACTS
from setupadvisor.facts.columns import columns_from_machine, condition_fields
from setupadvisor.facts.needed import needed, with_instead, written
from setupadvisor.facts.origins import origins, used_inputs
from setupadvisor.facts.table import PLACE, FactTable, facts_from
from setupadvisor.facts.track_facts import JUMP_COLUMNS
from setupadvisor.facts.valid_range import FloatArray

_HARDEST = "hardest_fall_height_m"
JUMP_NEEDS = ("walk.jumps.gap_m", "walk.jumps.take_off_angle_deg", "walk.jumps.landing")


@dataclass(frozen=True)
class FactLine:
    """One fact of one walk, explained.

    Parameters
    ----------
    name, title : str
        The fact's name, and what a mechanic calls it.
    value : float or None
        The number, or the place of the word among the choices; None where missing.
    unit : str
        As printed; empty for ratios and words.
    word : str or None
        The word of a category.
    formula, source : str
        The formula's name and its source.
    from_entries : tuple of str
        Keys of the entries it came from, as written in the files, then the parts of the machine
        file; empty where missing.
    missing : tuple of str
        What would give a missing fact, all of them needed, each with what serves instead in
        brackets. Empty where no entry would: it does not apply to this walk.
    """

    name: str
    title: str
    value: float | None
    unit: str
    word: str | None
    formula: str
    source: str
    from_entries: tuple[str, ...]
    missing: tuple[str, ...]


def explain(
    conditions: Mapping[str, FloatArray], machine: Machine, facts: FactTable | None = None
) -> list[FactLine]:
    """Explain every fact of one walk.

    Parameters
    ----------
    conditions : mapping of str to numpy.ndarray, shape (1,) or (1, places)
        One walk's columns, see `columns_from_entries`.
    machine : Machine
        The machine.
    facts : FactTable, optional
        The walk's facts, where they are known already.

    Returns
    -------
    list of FactLine
        In the catalogue's order; after the hardest landing a line for every jump.
    """
    constants = columns_from_machine(machine)
    found = facts or facts_from(conditions, constants)
    came_from = origins(conditions, constants, found)
    missing = needed(conditions, constants, found)
    lines = []
    for name, fact in FACTS.items():
        value = _value(found.values[PLACE[name], 0])
        lines.append(
            FactLine(
                name,
                fact.title,
                value,
                fact.unit,
                fact.choices[int(value)] if fact.choices and value is not None else None,
                fact.formula,
                fact.source,
                _keys(came_from[name]),
                missing.get(name, ()),
            )
        )
        if name == _HARDEST:
            lines += _jumps(conditions)
    return lines


def _jumps(conditions: Mapping[str, FloatArray]) -> list[FactLine]:
    """Explain how hard each jump lands."""
    fact = FACTS[_HARDEST]
    columns = {path: conditions[path] for path in JUMP_COLUMNS if path in conditions}
    places = max((column.shape[1] for column in columns.values()), default=0)
    lines = []
    for place in range(places):
        jump = {
            path: column[:, place : place + 1]
            for path, column in columns.items()
            if not np.isnan(column[0, place])
        }
        height = _value(facts_from(jump, {})[_HARDEST][0])
        lines.append(
            FactLine(
                f"fall_height_of_jump_{place + 1}_m",
                f"Equivalent fall height of jump {place + 1}",
                height,
                fact.unit,
                None,
                fact.formula,
                fact.source,
                _keys(set(used_inputs(fact, jump))) if height is not None else (),
                tuple(
                    with_instead(path, _HARDEST)
                    for path in JUMP_NEEDS
                    if height is None and path not in jump
                ),
            )
        )
    return lines


def _value(number: float) -> float | None:
    return None if np.isnan(number) else float(number)


def _keys(paths: AbstractSet[str]) -> tuple[str, ...]:
    """Write entries as keys in their order, then the parts of the machine file."""
    parts = {path.split(".")[1] for path in paths if path.startswith("machine.")}
    named = sorted("settings" if part == "house" else part for part in parts)
    return (
        *(written(path) for path in condition_fields() if path in paths),
        *(f"machine {part}" for part in named),
    )
