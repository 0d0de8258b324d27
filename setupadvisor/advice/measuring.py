"""What was not looked at: rules that could not be judged, and what is worth going back for."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from functools import cache

import numpy as np

from setupadvisor.advice.workshop import (
    Situations,
    Workshop,
    entries_behind,
    rules_alone,
    situations,
)
from setupadvisor.entries import words
from setupadvisor.entries.quantity import EntryField, Quantity, Word
from setupadvisor.facts.catalogue import FACTS
from setupadvisor.facts.columns import Columns, condition_fields, joined
from setupadvisor.facts.table import PLACE
from setupadvisor.facts.valid_range import FloatArray

# Entries that an instrument or a laboratory gives; the by-feel answer beside them decides the
# same facts, so the crew chief is sent for that one.
BY_INSTRUMENT = frozenset(
    {
        "walk.air.pressure_kpa",
        "walk.ground.sand_pct",
        "walk.ground.silt_pct",
        "walk.ground.clay_pct",
        "walk.ground.ribbon_length_mm",
        "walk.ground.ribbon_feel",
        "walk.ground.available_water_pct",
        "walk.ground.cone_index_kpa",
        "walk.ground.strength.cohesion_kpa",
        "walk.ground.strength.friction_angle_deg",
        "walk.ground.strength.shear_deformation_mm",
        "walk.ground.strength.sinkage_exponent",
        "walk.ground.strength.cohesive_modulus",
        "walk.ground.strength.frictional_modulus",
        "walk.start.after_cone_index_kpa",
        "walk.start.after_texture",
        "walk.jumps.landing_angle_deg",
    }
)
# Jumps as they are met, to ask what a list of jumps could change.
_PLAUSIBLE_JUMPS: dict[str, tuple[float, ...]] = {
    "walk.jumps.gap_m": (6.0, 14.0, 22.0, 12.0),
    "walk.jumps.drop_m": (0.0, 0.0, 0.5, 1.0),
    "walk.jumps.take_off_angle_deg": (22.0, 30.0, 34.0, 30.0),
    "walk.jumps.landing": tuple(
        float(words.LANDINGS.index(word)) for word in ("slope", "slope", "slope", "flat")
    ),
}
MOST_SETTINGS_NAMED = 3


@dataclass(frozen=True)
class WorthMeasuring:
    """An entry that is missing, and what it could move.

    Parameters
    ----------
    entry : str
        The key as written in the file: ``ground.firmness``.
    title : str
        What a person calls it.
    moves : dict of str to float
        By setting, how far the wish could move, in its unit; the most first.
    weight : float
        The same in steps, over all settings.
    """

    entry: str
    title: str
    moves: dict[str, float]
    weight: float


def not_judged(
    workshop: Workshop, found: Situations, conditions: Columns
) -> list[tuple[str, list[str]]]:
    """List the rules that could not be judged, each with the entries that would decide it.

    Parameters
    ----------
    workshop : Workshop
        The machine and its rules.
    found : Situations
        One row.
    conditions : dict of str to numpy.ndarray
        That row's columns.

    Returns
    -------
    list of tuple of str and list of str
        Rule id, and keys as written in the file. A rule over a fact that has no value here,
        whatever else is entered (limits that do not meet), does not apply and is not listed.
    """
    listed = []
    for place in np.flatnonzero(found.low[:, 0] < found.high[:, 0]):
        rule = workshop.rulebase.rules[place]
        missing = [
            name
            for name in workshop.rulebase.facts_read(rule)
            if np.isnan(found.facts.values[PLACE[name], 0])
        ]
        behind = {path for name in missing for path in entries_behind_missing(name, found)}
        paths = behind - conditions.keys()
        if paths:
            by_feel = paths - BY_INSTRUMENT
            listed.append((rule.id, keys(by_feel or paths)))
    return listed


def entries_behind_missing(name: str, found: Situations) -> set[str]:
    """Give the entries that a missing fact waits for, through other missing facts.

    Parameters
    ----------
    name : str
        The fact.
    found : Situations
        One row.

    Returns
    -------
    set of str
        Entry paths.
    """
    waiting: set[str] = set()
    for path in FACTS[name].inputs:
        if path in FACTS:
            if np.isnan(found.facts.values[PLACE[path], 0]):
                waiting |= entries_behind_missing(path, found)
        else:
            waiting |= entries_behind([path])
    return waiting


def keys(paths: Iterable[str]) -> list[str]:
    """Turn entry paths into keys as written.

    Parameters
    ----------
    paths : iterable of str
        Entry paths.

    Returns
    -------
    list of str
        Each once, sorted; jumps as one.
    """
    fields = condition_fields()
    named = {"jumps" if fields[path].listed else _written(fields[path]) for path in paths}
    return sorted(named)


def _written(field: EntryField) -> str:
    return field.key if field.path.startswith("walk.") else f"rider {field.key}"


def worth_measuring(workshop: Workshop, conditions: Columns) -> list[WorthMeasuring]:
    """Ask what each missing entry could move, and rank them.

    Each missing entry is tried at the values met in practice, with the other missing entries of
    its section at a middle value, all in one pass.

    Parameters
    ----------
    workshop : Workshop
        The machine and its rules.
    conditions : dict of str to numpy.ndarray
        One row's columns.

    Returns
    -------
    list of WorthMeasuring
        The most telling first; entries that move nothing by a step are left out.
    """
    questions = [question for question in _questions() if not _answered(question, conditions)]
    if not questions:
        return []
    rows = sum(len(_values(question)[0]) for question in questions)
    changes: Columns = {
        path: np.full((rows, 1) if condition_fields()[path].listed else rows, np.nan)
        for question in questions
        for path in question
    }
    spans: list[slice] = []
    start = 0
    for question in questions:
        values = _values(question)
        span = slice(start, start + len(values[0]))
        for other in questions:
            if other != question and _section(other) == _section(question):
                for path, middle in zip(other, _middle(other), strict=True):
                    changes[path][span] = middle
        for path, column in zip(question, values, strict=True):
            changes[path][span] = np.reshape(column, changes[path][span].shape)
        spans.append(span)
        start = span.stop
    wishes = rules_alone(workshop, situations(workshop, joined(conditions, rows, changes), rows))
    ranked = [
        _worth(workshop, question, wishes[span])
        for question, span in zip(questions, spans, strict=True)
    ]
    return sorted((found for found in ranked if found.moves), key=lambda found: -found.weight)


def _worth(workshop: Workshop, question: tuple[str, ...], wishes: FloatArray) -> WorthMeasuring:
    spread = wishes.max(axis=0) - wishes.min(axis=0)
    steps = spread / np.array(
        [_felt(workshop.machine.settings[name]) for name in workshop.settings]
    )
    order = [int(place) for place in np.argsort(-steps, kind="stable") if steps[place] >= 1.0]
    moves = {
        workshop.settings[place]: round(float(spread[place]), 3)
        for place in order[:MOST_SETTINGS_NAMED]
    }
    field = condition_fields()[question[0]]
    title = "The jumps: gap, drop, take-off angle, landing" if field.listed else field.title
    entry = "jumps" if field.listed else _written(field)
    return WorthMeasuring(entry, title, moves, float(steps[order].sum()))


def _felt(setting: object) -> float:
    felt = getattr(setting, "felt", None) or getattr(setting, "step", None)
    values = setting.values  # type: ignore[attr-defined]
    return float(felt or (values[-1] - values[0]) / max(len(values) - 1, 1))


@cache
def _questions() -> tuple[tuple[str, ...], ...]:
    single = [
        (path,)
        for path, field in condition_fields().items()
        if not field.listed and path not in BY_INSTRUMENT and _plausible(field)
    ]
    return (*single, tuple(_PLAUSIBLE_JUMPS))


def _answered(question: tuple[str, ...], conditions: Columns) -> bool:
    # Whoever lists jumps has looked at them; what is left out of one cannot be asked for all.
    if condition_fields()[question[0]].listed:
        return any(_section((path,)) == _section(question) for path in conditions)
    return not conditions.keys().isdisjoint(question)


def _section(question: tuple[str, ...]) -> str:
    return question[0].rsplit(".", 1)[0]


def _plausible(field: EntryField) -> tuple[float, ...]:
    if isinstance(field.kind, Word):
        return tuple(float(place) for place in range(len(field.kind.choices)))
    return field.kind.plausible if isinstance(field.kind, Quantity) else ()


def _values(question: tuple[str, ...]) -> list[tuple[float, ...]]:
    if len(question) > 1:
        return [_PLAUSIBLE_JUMPS[path] for path in question]
    return [_plausible(condition_fields()[question[0]])]


def _middle(question: tuple[str, ...]) -> list[float]:
    return [column[(len(column) - 1) // 2] for column in _values(question)]
