"""A machine and a rule base joined: from conditions to facts, degrees, house values and wishes."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from functools import cache, cached_property
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from setupadvisor.entries.files import bundled, load_entry
from setupadvisor.entries.machine import House, Machine, Setting
from setupadvisor.entries.quantity import Word
from setupadvisor.errors import InputError, Mistake
from setupadvisor.facts.catalogue import FACTS
from setupadvisor.facts.columns import Columns, columns_from_machine, condition_fields
from setupadvisor.facts.table import NAMES, PLACE, FactTable, facts_from
from setupadvisor.facts.valid_range import FloatArray
from setupadvisor.learning.sessions import Knowledge
from setupadvisor.rulebook.cache import load_compiled
from setupadvisor.rulebook.compiled import Compiled
from setupadvisor.rulebook.degrees import degrees
from setupadvisor.rulebook.rulebase import RuleBase, signed_amounts
from setupadvisor.rulebook.settings import SettingWords

# What jumps do to the motorcycle stands in these facts, as places in a list compare with nothing.
_FACTS_AS_FIELDS = ("hardest_fall_height_m", "longest_gap_m", "jump_count")


@dataclass(frozen=True)
class Workshop:
    """What stays the same from walk to walk.

    Parameters
    ----------
    machine : Machine
        The motorcycle.
    rulebase : RuleBase
        The rules.
    compiled : Compiled
        Their conditions, ready for arrays.
    amounts : numpy.ndarray, shape (rules, settings)
        What each rule at full degree adds to each of the machine's settings, in its number.
    """

    machine: Machine
    rulebase: RuleBase
    compiled: Compiled
    amounts: NDArray[np.float64]

    @cached_property
    def settings(self) -> tuple[str, ...]:
        """The machine's settings, in the order of the file."""
        return tuple(self.machine.settings)

    @cached_property
    def constants(self) -> Columns:
        """The machine's columns."""
        return columns_from_machine(self.machine)

    @cached_property
    def fields(self) -> tuple[str, ...]:
        """What walks are compared by: entered conditions of the walk, and what jumps amount to."""
        entered = [
            path
            for path, field in condition_fields().items()
            if path.startswith("walk.") and not field.listed
        ]
        return (*entered, *_FACTS_AS_FIELDS)


@dataclass(frozen=True)
class Situations:
    """What follows from the entries, for one row or many.

    Parameters
    ----------
    facts : FactTable
        All facts.
    low, high : numpy.ndarray, shape (rules, rows)
        Degree of each rule at the least and at the most; they differ where facts are missing.
    house : numpy.ndarray, shape (rows, settings)
        House values, given or calculated.
    """

    facts: FactTable
    low: FloatArray
    high: FloatArray
    house: FloatArray

    @cached_property
    def degrees(self) -> FloatArray:
        """Degree of each rule, shape (rows, rules); NaN where it could not be judged."""
        return np.where(self.low == self.high, self.low, np.nan).T


def setting_words(settings: Mapping[str, Setting]) -> dict[str, SettingWords]:
    """Tell the rule base what it must know of settings.

    Parameters
    ----------
    settings : mapping of str to Setting
        A machine's settings.

    Returns
    -------
    dict of str to SettingWords
        By name.
    """
    return {
        name: SettingWords(
            setting.unit, setting.up, setting.down, setting.step, setting.lowest, setting.highest
        )
        for name, setting in settings.items()
    }


def open_workshop(machine: Machine, rule_folders: Sequence[Path] = ()) -> Workshop:
    """Join a machine and a rule base.

    Parameters
    ----------
    machine : Machine
        The motorcycle.
    rule_folders : sequence of pathlib.Path
        A team's own rules, on top of the bundled ones.

    Returns
    -------
    Workshop
        Ready for walks.

    Raises
    ------
    InputError
        With every mistake in the rules, where a house value names an unknown fact, and where a
        setting that the bundled rules speak of has another unit or other direction words.
    """
    _check_house_formulas(machine)
    known = _words_of_rules(machine)
    rulebase, compiled = load_compiled([bundled("rules"), *rule_folders], FACTS, known, NAMES)
    amounts = signed_amounts(rulebase, known)
    places = {name: place for place, name in enumerate(known)}
    order = [places[name] for name in machine.settings]
    return Workshop(machine, rulebase, compiled, amounts[:, order])


def known_settings(machine: Machine) -> dict[str, Setting]:
    """Give the settings that rules may speak of.

    Parameters
    ----------
    machine : Machine
        The motorcycle.

    Returns
    -------
    dict of str to Setting
        The bundled machine's and its own: the bundled rules speak of more settings than a plain
        machine has, and those are passed over.
    """
    return {**house_machine().settings, **machine.settings}


def _words_of_rules(machine: Machine) -> dict[str, SettingWords]:
    known = setting_words(known_settings(machine))
    usual = setting_words(house_machine().settings)
    mistakes = []
    for name in machine.settings:
        if name not in usual:
            continue
        ours, theirs = known[name], usual[name]
        if (ours.unit, {ours.up, ours.down}) != (theirs.unit, {theirs.up, theirs.down}):
            mistakes.append(
                Mistake(
                    f"machine {machine.name}: settings.{name}",
                    f"it goes {_scale(ours)}, in the bundled rules {_scale(theirs)}",
                    "use that unit and those words, or give the setting another name",
                )
            )
        # An amount that is more than this machine's range is no mistake in the bundled rules.
        low, high = min(ours.low, theirs.low), max(ours.high, theirs.high)
        known[name] = replace(ours, low=low, high=high)
    if mistakes:
        raise InputError(mistakes)
    return known


def _scale(words: SettingWords) -> str:
    unit = f" in {words.unit}" if words.unit else ""
    return f"{words.up!r} or {words.down!r}{unit}"


@cache
def house_machine() -> Machine:
    """Load the bundled machine.

    Returns
    -------
    Machine
        An invented 450.
    """
    return load_entry(bundled("datasets", "machines", "works-450.yaml"), Machine)


def _check_house_formulas(machine: Machine) -> None:
    mistakes = [
        Mistake(
            f"machine {machine.name}: settings.{name}.house",
            f"the fact {setting.house.fact!r} is unknown",
            "name a fact that `setupadvisor facts` lists, or give a number",
        )
        for name, setting in machine.settings.items()
        if isinstance(setting.house, House) and setting.house.fact not in FACTS
    ]
    if mistakes:
        raise InputError(mistakes)


def situations(workshop: Workshop, conditions: Mapping[str, FloatArray], rows: int) -> Situations:
    """Work out facts, degrees and house values.

    Parameters
    ----------
    workshop : Workshop
        The machine and its rules.
    conditions : mapping of str to numpy.ndarray
        Walk and rider columns.
    rows : int
        Their length.

    Returns
    -------
    Situations
        For every row.
    """
    facts = facts_from(conditions, workshop.constants, rows)
    low, high = degrees(workshop.compiled, facts.values)
    return Situations(facts, low, high, house_values(workshop.machine, facts))


def house_values(machine: Machine, facts: FactTable) -> FloatArray:
    """Give the house value of every setting: the number given, or the fact that calculates it.

    Parameters
    ----------
    machine : Machine
        The machine.
    facts : FactTable
        Facts of the rows.

    Returns
    -------
    numpy.ndarray, shape (rows, settings)
        Inside each setting's range.
    """
    rows = facts.values.shape[1]
    house = np.empty((rows, len(machine.settings)))
    for place, setting in enumerate(machine.settings.values()):
        house[:, place] = setting.fixed_house
        if isinstance(setting.house, House):
            calculated = facts.values[PLACE[setting.house.fact]]
            known = np.isfinite(calculated)
            house[known, place] = np.clip(calculated[known], setting.lowest, setting.highest)
    return house


def rules_alone(workshop: Workshop, found: Situations) -> FloatArray:
    """Give what house values and rules as written wish for, before rider and past sessions.

    Parameters
    ----------
    workshop : Workshop
        The machine and its rules.
    found : Situations
        Rows to wish for.

    Returns
    -------
    numpy.ndarray, shape (rows, settings)
        In each setting's number. A rule that could not be judged does not speak.
    """
    judged = np.where(found.low == found.high, found.low, 0.0)
    return found.house + judged.T @ workshop.amounts


def field_values(
    workshop: Workshop, conditions: Mapping[str, FloatArray], facts: FactTable
) -> FloatArray:
    """Lay out what walks are compared by.

    Parameters
    ----------
    workshop : Workshop
        Names the fields.
    conditions : mapping of str to numpy.ndarray
        Walk and rider columns.
    facts : FactTable
        The rows' facts.

    Returns
    -------
    numpy.ndarray, shape (rows, fields)
        NaN where not entered.
    """
    rows = facts.values.shape[1]
    missing = np.full(rows, np.nan)
    return np.column_stack(
        [
            facts[name]
            if name in PLACE and name in _FACTS_AS_FIELDS
            else conditions.get(name, missing)
            for name in workshop.fields
        ]
    )


def entries_behind(names: Sequence[str]) -> set[str]:
    """Give the entries that facts follow from, through other facts.

    Parameters
    ----------
    names : sequence of str
        Facts.

    Returns
    -------
    set of str
        Entry paths (``walk.ground.texture``); the machine's are left out.
    """
    found: set[str] = set()
    todo = list(names)
    while todo:
        name = todo.pop()
        if name in FACTS:
            todo.extend(FACTS[name].inputs)
        elif name.startswith(("walk.", "rider.")):
            found.add(name)
    return found


def knowledge(workshop: Workshop) -> Knowledge:
    """Tell the learning floor what is known without any session.

    Parameters
    ----------
    workshop : Workshop
        The machine and its rules.

    Returns
    -------
    Knowledge
        Amounts, spreads and which field each setting's rules read.
    """
    fields = workshop.fields
    behind = [
        {*entries_behind(read), *read}
        for read in (workshop.rulebase.facts_read(rule) for rule in workshop.rulebase.rules)
    ]
    reads = np.zeros((len(workshop.settings), len(fields)), dtype=bool)
    for rule, entries in enumerate(behind):
        moved = workshop.amounts[rule] != 0
        of_rule = np.array([name in entries for name in fields])
        reads[np.ix_(moved, of_rule)] = True
    settings = workshop.machine.settings.values()
    return Knowledge(
        setting=workshop.settings,
        rule=tuple(rule.id for rule in workshop.rulebase.rules),
        field=fields,
        amounts=workshop.amounts,
        relative_spread=np.array([rule.spread for rule in workshop.rulebase.rules]),
        reads=reads,
        field_is_category=np.array([_is_unordered(name) for name in fields]),
        field_range=np.full(len(fields), np.nan),
        step=np.array([_step(setting) for setting in settings]),
        low=np.array([setting.lowest for setting in settings]),
        high=np.array([setting.highest for setting in settings]),
    )


def _is_unordered(name: str) -> bool:
    # By-feel answers stand in their natural order, so that "dents" is nearer to "marks" than to
    # "sinks deep"; kinds, textures and surfaces have no order.
    if name in _FACTS_AS_FIELDS:
        return False
    kind = condition_fields()[name].kind
    return isinstance(kind, Word) and name.rsplit(".", 1)[-1] in {
        "kind",
        "texture",
        "after_texture",
        "ribbon_feel",
        "surface",
        "condition",
    }


def _step(setting: Setting) -> float:
    values = setting.values
    if setting.step is not None:
        return setting.step
    return (values[-1] - values[0]) / (len(values) - 1) if len(values) > 1 else 1.0
