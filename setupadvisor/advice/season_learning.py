"""From a season to a model: house values and degrees of every session, then learning."""

from __future__ import annotations

import hashlib
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np
from numpy.typing import NDArray

from setupadvisor.advice.workshop import (
    Workshop,
    field_values,
    knowledge,
    open_workshop,
    situations,
)
from setupadvisor.entries.machine import Machine
from setupadvisor.entries.season import Season
from setupadvisor.facts.valid_range import FloatArray
from setupadvisor.learning.model import LEVEL, Model
from setupadvisor.learning.sessions import Sessions
from setupadvisor.learning.training import Progress, train

if TYPE_CHECKING:
    from setupadvisor.learning.evaluation import Evaluation


def sessions_from(
    season: Season,
    workshop: Workshop,
    machines: Mapping[str, Machine],
    rule_folders: Sequence[Path] = (),
) -> Sessions:
    """Work out house values and degrees of every session.

    Sessions on another machine count where that machine has the same setting in the same unit.

    Parameters
    ----------
    season : Season
        Sound rows only.
    workshop : Workshop
        The machine the model is for, and its rules.
    machines : mapping of str to Machine
        All machines of the season.
    rule_folders : sequence of pathlib.Path
        A team's own rules.

    Returns
    -------
    Sessions
        What the learning floor needs.
    """
    rows_of, found = [], []
    for name in sorted(set(season.machine)):
        own = (
            workshop
            if name == workshop.machine.name
            else open_workshop(machines[name], rule_folders)
        )
        rows_of.append(np.flatnonzero(season.machine == name))
        found.append(_on_one_machine(season, rows_of[-1], workshop, own))
    degrees, fields, values, house = (
        _in_order(rows_of, arrays) for arrays in zip(*found, strict=True)
    )
    riders, rider = _codes(season.rider)
    events, event = _codes(season.event)
    venues, venue = _codes(season.venue, missing="")
    return Sessions(
        setting=workshop.settings,
        rule=tuple(rule.id for rule in workshop.rulebase.rules),
        field=workshop.fields,
        rider_name=riders,
        event_name=events,
        venue_name=venues,
        values=values,
        house=house,
        degrees=degrees,
        rider=rider,
        event=event,
        venue=venue,
        day=season.day,
        order=season.order,
        mark=season.mark,
        fields=fields,
    )


def _on_one_machine(
    season: Season, rows: NDArray[np.int64], workshop: Workshop, own: Workshop
) -> tuple[FloatArray, FloatArray, FloatArray, FloatArray]:
    """Work out degrees, fields, values and house values of the sessions on one machine."""
    first, place_of = different_rows(season.conditions, rows)
    conditions = {path: column[first] for path, column in season.conditions.items()}
    found = situations(own, conditions, len(first))
    values = np.full((len(rows), len(workshop.settings)), np.nan)
    house = np.full_like(values, np.nan)
    for place, setting in enumerate(workshop.settings):
        if setting in season.settings and _same_scale(workshop.machine, own.machine, setting):
            values[:, place] = season.values[rows, season.settings.index(setting)]
            house[:, place] = found.house[place_of, own.settings.index(setting)]
    degrees = np.take(np.ascontiguousarray(found.degrees), place_of, axis=0)
    return degrees, field_values(own, conditions, found.facts)[place_of], values, house


def _in_order(rows_of: Sequence[NDArray[np.int64]], arrays: Sequence[FloatArray]) -> FloatArray:
    """Put the rows of several machines back into the season's order."""
    if len(arrays) == 1:
        return arrays[0]
    result = np.empty((sum(map(len, rows_of)), arrays[0].shape[1]))
    for rows, array in zip(rows_of, arrays, strict=True):
        result[rows] = array
    return result


@dataclass(frozen=True)
class Learnt:
    """A model, where it came from, and how well it did on events left out.

    Parameters
    ----------
    model : Model
        The trained model.
    provenance : dict
        For the model file.
    evaluation : Evaluation
        Its errors beside those of simpler ways.
    """

    model: Model
    provenance: dict[str, Any]
    evaluation: Evaluation

    def to_json(self) -> dict[str, Any]:
        """Give the object that `retrain --json` prints."""
        return {"model": self.provenance, "evaluation": self.evaluation.to_json()}


def learn(
    season: Season,
    workshop: Workshop,
    machines: Mapping[str, Machine],
    rule_folders: Sequence[Path] = (),
    *,
    level: float = LEVEL,
    progress: Progress | None = None,
    jobs: int = 1,
) -> tuple[Model, dict[str, Any]]:
    """Train a model on a season.

    Parameters
    ----------
    season : Season
        Sound rows only.
    workshop : Workshop
        The machine and its rules.
    machines : mapping of str to Machine
        All machines of the season.
    rule_folders : sequence of pathlib.Path
        A team's own rules.
    level : float
        Level of the ranges.
    progress : callable, optional
        Called as the work goes on.
    jobs : int
        Processes to use.

    Returns
    -------
    tuple of Model and dict
        The model, and its provenance for the model file.
    """
    sessions = sessions_from(season, workshop, machines, rule_folders)
    model = train(sessions, knowledge(workshop), level=level, progress=progress, n_jobs=jobs)
    return model, provenance_of(season, workshop)


def learn_and_evaluate(
    season: Season,
    workshop: Workshop,
    machines: Mapping[str, Machine],
    rule_folders: Sequence[Path] = (),
    *,
    level: float = LEVEL,
    progress: Progress | None = None,
    jobs: int = 1,
    forest: bool = True,
) -> Learnt:
    """Train a model on a season and measure it against simpler ways on events left out.

    Parameters
    ----------
    season, workshop, machines, rule_folders, level, progress, jobs
        As for `learn`.
    forest : bool
        Whether to ask random forests, by far the slowest.

    Returns
    -------
    Learnt
        Model, provenance and errors.
    """
    from setupadvisor.learning.evaluation import evaluate  # noqa: PLC0415 - brings scikit-learn

    sessions = sessions_from(season, workshop, machines, rule_folders)
    known = knowledge(workshop)
    model = train(sessions, known, level=level, progress=progress, n_jobs=jobs)
    evaluation = evaluate(
        sessions, known, model=model, progress=progress, n_jobs=jobs, forest=forest
    )
    return Learnt(model, provenance_of(season, workshop), evaluation)


def different_rows(
    conditions: Mapping[str, FloatArray], rows: NDArray[np.int64]
) -> tuple[NDArray[np.int64], NDArray[np.int64]]:
    """Find the first row of each set of conditions, and the place of each row's set among them.

    A rider's sessions of one day have the same conditions: facts are worked out once for them.

    Parameters
    ----------
    conditions : mapping of str to numpy.ndarray
        Walk and rider columns.
    rows : numpy.ndarray, shape (n,)
        The rows to look at.

    Returns
    -------
    tuple of numpy.ndarray
        Rows with different conditions, and for each of the n rows its place among those.
    """
    columns = [column.reshape(len(column), -1) for column in conditions.values() if column.size]
    if not columns:
        return rows[:1], np.zeros(len(rows), dtype=np.int64)
    key = np.concatenate(columns, axis=1)[rows]
    key[np.isnan(key)] = np.nan
    key += 0.0
    as_one = np.ascontiguousarray(key).view(np.dtype((np.void, key.shape[1] * key.itemsize)))
    _, first, place_of = np.unique(as_one.ravel(), return_index=True, return_inverse=True)
    return rows[first], place_of


def provenance_of(season: Season, workshop: Workshop) -> dict[str, Any]:
    """Say what a model is made of.

    Parameters
    ----------
    season : Season
        The season.
    workshop : Workshop
        The machine and its rules.

    Returns
    -------
    dict
        Plain values; no dates or paths, so that the same season gives the same file.
    """
    content = hashlib.sha256()
    for text in season.session_id:
        content.update(str(text).encode())
    content.update(np.nan_to_num(season.values, nan=-1e300).tobytes())
    return {
        **made_with(workshop),
        "season": Path(season.source).name,
        "season_digest": content.hexdigest(),
        "sessions": len(season),
        "events": len(set(season.event)),
    }


def made_with(workshop: Workshop) -> dict[str, Any]:
    """Say which rules, machine and versions a model is made with.

    Parameters
    ----------
    workshop : Workshop
        The machine and its rules.

    Returns
    -------
    dict
        Plain values.
    """
    from importlib.metadata import version  # noqa: PLC0415 - slow, and only for this

    return {
        "rules": workshop.rulebase.meaning,
        "machine": workshop.machine.name,
        "settings": list(workshop.settings),
        "setupadvisor": version("setupadvisor"),
        "numpy": np.__version__,
    }


def _same_scale(one: Machine, other: Machine, name: str) -> bool:
    if name not in other.settings:
        return False
    ours, theirs = one.settings[name], other.settings[name]
    return (ours.unit, ours.up, ours.names) == (theirs.unit, theirs.up, theirs.names)


def _codes(names: Any, missing: str | None = None) -> tuple[tuple[str, ...], Any]:
    known = sorted({str(name) for name in names} - ({missing} if missing is not None else set()))
    place = {name: code for code, name in enumerate(known)}
    codes = np.array([place.get(str(name), -1) for name in names], dtype=np.int64)
    return tuple(known), codes
