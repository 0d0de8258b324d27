"""What would give a missing fact: entries are filled in, all but one at a time, and facts watched.

So no formula has to say which of its inputs it could do without.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from functools import cache

import numpy as np
from numpy.typing import NDArray

from setupadvisor.entries.quantity import EntryField, Quantity, Word
from setupadvisor.facts.catalogue import FACTS
from setupadvisor.facts.columns import Columns, condition_fields
from setupadvisor.facts.table import NAMES, PLACE, FactTable, facts_from
from setupadvisor.facts.valid_range import FloatArray

# What serves instead of an entry by feel: entries that belong together, each group on its own.
INSTEAD: dict[str, tuple[tuple[str, ...], ...]] = {
    "walk.air.elevation_m": (("walk.air.pressure_kpa",),),
    "walk.ground.texture": (
        ("walk.ground.sand_pct", "walk.ground.clay_pct"),
        ("walk.ground.ribbon_length_mm", "walk.ground.ribbon_feel"),
    ),
    "walk.ground.moisture": (("walk.ground.available_water_pct",),),
    "walk.ground.firmness": (("walk.ground.cone_index_kpa",),),
    "walk.start.after_firmness": (("walk.start.after_cone_index_kpa",),),
    "walk.jumps.landing": (("walk.jumps.landing_angle_deg",),),
}
# Entries that refine what others give already, or need an instrument: never the first thing to
# go back for.
REFINING = frozenset(
    {
        "walk.ground.silt_pct",
        "walk.start.after_texture",
        "walk.start.after_moisture",
        *(path for groups in INSTEAD.values() for group in groups for path in group),
        *(path for path in condition_fields() if path.startswith("walk.ground.strength.")),
    }
)


def needed(
    conditions: Mapping[str, FloatArray], constants: Columns, found: FactTable
) -> dict[str, tuple[str, ...]]:
    """Find what would give each missing fact of one walk.

    Parameters
    ----------
    conditions : mapping of str to numpy.ndarray, shape (1,) or (1, places)
        One walk's columns.
    constants : dict of str to numpy.ndarray
        The machine's columns.
    found : FactTable
        The walk's facts.

    Returns
    -------
    dict of str to tuple of str
        By missing fact: keys as written in the files, all of them needed, each with what serves
        instead in brackets; where any one of several would do they stand in one, with "or".
        None where no entry would help: the fact does not apply to this walk.

    Examples
    --------
    >>> from setupadvisor.facts.table import facts_from
    >>> walk = {"walk.lap.length_m": np.array([1500.0])}
    >>> missing = needed(walk, {}, facts_from(walk, {}))
    >>> missing["mean_speed_kmh"], missing["cone_index_kpa"]
    (('lap.time',), ('ground.firmness (or ground.cone_index)',))
    """
    unknown = [name for name in NAMES if np.isnan(found[name]).any()]
    open_entries = [
        path
        for path in condition_fields()
        if path not in REFINING and np.isnan(conditions.get(path, np.nan)).any()
    ]
    # All of them filled in, then all but each.
    everything = set(open_entries)
    trials = [everything, *(everything - {path} for path in open_entries)]
    gives = _times_known(conditions, constants, trials) > 0
    needs = {
        name: {
            path
            for place, path in enumerate(open_entries)
            if gives[PLACE[name], 0] and not gives[PLACE[name], place + 1]
        }
        for name in unknown
    }
    choices = _choices(conditions, constants, open_entries, needs)
    result: dict[str, tuple[str, ...]] = {}
    for name in unknown:
        absent = sorted(
            path for path in _behind(name) if path.startswith("machine.") and path not in constants
        )
        if absent:
            result[name] = tuple(f"machine {path.removeprefix('machine.')}" for path in absent)
        elif gives[PLACE[name], 0]:
            listed = [path for path in open_entries if path in needs[name]]
            result[name] = (*(with_instead(path, name) for path in listed), *choices[name])
        else:
            result[name] = ()
    return result


def written(path: str) -> str:
    """Write an entry's path as its key in the file.

    Parameters
    ----------
    path : str
        ``walk.ground.firmness``.

    Returns
    -------
    str
        Of a walk the key alone, of a rider with the word before it.

    Examples
    --------
    >>> written("walk.ground.firmness"), written("rider.mass_kg")
    ('ground.firmness', 'rider mass')
    """
    field = condition_fields()[path]
    return field.key if path.startswith("walk.") else f"rider {field.key}"


def with_instead(path: str, name: str) -> str:
    """Write an entry's key, with what serves instead of it for a fact in brackets.

    Parameters
    ----------
    path : str
        The entry.
    name : str
        The fact.

    Returns
    -------
    str
        The key or keys.

    Examples
    --------
    >>> with_instead("walk.jumps.landing", "hardest_fall_height_m")
    'jumps.landing (or jumps.landing_angle)'
    >>> with_instead("walk.jumps.landing", "flat_landing")
    'jumps.landing'
    """
    groups = [
        " and ".join(written(other) for other in group)
        for group in INSTEAD.get(path, ())
        if _behind(name).issuperset(group)
    ]
    return f"{written(path)} (or {', or '.join(groups)})" if groups else written(path)


@cache
def _behind(name: str) -> frozenset[str]:
    """List the entries that a fact can follow from, through other facts."""
    found: set[str] = set()
    for path in FACTS[name].inputs:
        found |= _behind(path) if path in FACTS else {path}
    return frozenset(found)


def _choices(
    conditions: Mapping[str, FloatArray],
    constants: Columns,
    open_entries: Sequence[str],
    needs: Mapping[str, set[str]],
) -> dict[str, tuple[str, ...]]:
    """Where the needed entries do not suffice, list those of which any one completes them."""
    questions: list[tuple[str, str | None]] = []
    for name, already in needs.items():
        others = [path for path in open_entries if path in _behind(name) - already]
        questions += [(name, path) for path in (None, *others)]
    trials = [needs[name] | ({path} if path else set()) for name, path in questions]
    times_known = _times_known(conditions, constants, trials)
    # Once in three is an answer that only some values give: no whoops have no height.
    gives = times_known >= 2
    enough: set[str] = set()
    completing: dict[str, list[str]] = {name: [] for name in needs}
    for place, (name, path) in enumerate(questions):
        if gives[PLACE[name], place] and path is None:
            enough.add(name)
        elif gives[PLACE[name], place] and path is not None:
            completing[name].append(written(path))
    return {
        name: (" or ".join(keys),) if keys and name not in enough else ()
        for name, keys in completing.items()
    }


def _times_known(
    conditions: Mapping[str, FloatArray], constants: Columns, trials: Sequence[set[str]]
) -> NDArray[np.intp]:
    """Count how often facts are known with some entries filled in; shape (facts, trials).

    Each is tried with low, middle and high values: not every formula has an answer everywhere.
    """
    rows = 3 * len(trials)
    trial = {path: np.repeat(column, rows, axis=0) for path, column in conditions.items()}
    jumps = max((column.shape[1] for column in conditions.values() if column.ndim > 1), default=1)
    for path in set().union(*trials):
        field = condition_fields()[path]
        own = trial.get(path, np.full((rows, jumps) if field.listed else rows, np.nan))
        levels = np.full(rows, np.nan)
        for place, value in enumerate(_plausible(field)):
            levels[place::3] = [value if path in filled else np.nan for filled in trials]
        trial[path] = np.where(np.isnan(own), levels.reshape(rows, *(1,) * (own.ndim - 1)), own)
    known = ~np.isnan(facts_from(trial, constants, rows).values)
    return np.asarray(np.count_nonzero(known.reshape(len(NAMES), len(trials), 3), axis=2))


def _plausible(field: EntryField) -> tuple[float, float, float]:
    if isinstance(field.kind, Word):
        last = len(field.kind.choices) - 1
        return 0.0, float(last // 2), float(last)
    values = field.kind.plausible if isinstance(field.kind, Quantity) else (np.nan,)
    return values[0], values[len(values) // 2], values[-1]
