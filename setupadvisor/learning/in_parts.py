"""Training and prediction over an archive of sessions too large for memory, part by part.

The answers are those of `training.train` and `prediction.predict` on all sessions at once, but for
the order in which sums are added up. In memory at once are the arrays of one part a process, and
sums, however many sessions there are: for each setting and fold as many numbers as the square of
its rules and riders, and their product with the venues; and for each setting and fold a few for
each walk that is asked about. Beside these there are some 50 bytes an event, for dealing the events
into folds.
"""

from __future__ import annotations

import os
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace
from functools import cached_property
from pathlib import Path
from typing import Any

import numpy as np

from setupadvisor.errors import InputError, Mistake
from setupadvisor.learning.even_choice import Events
from setupadvisor.learning.in_parts_folder import (
    ModelInParts,
    describe,
    is_model_in_parts,
    load_in_parts,
    part_folder,
    replacing,
    with_nearest,
)
from setupadvisor.learning.in_parts_part import Part, event_names_of
from setupadvisor.learning.in_parts_prediction import predict_in_parts
from setupadvisor.learning.in_parts_prepare import Loader, Summary, encode, prepare
from setupadvisor.learning.in_parts_store import OnFiles
from setupadvisor.learning.many_cores import run_in_turn
from setupadvisor.learning.model import LEVEL, Model, untrained
from setupadvisor.learning.past_sessions import field_ranges
from setupadvisor.learning.ranges import folds_of_events
from setupadvisor.learning.sessions import Floats, Integers, Knowledge
from setupadvisor.learning.training import (
    Progress,
    check_level,
    learnt,
    with_usual,
    without_sessions,
)

__all__ = [
    "Loader",
    "ModelInParts",
    "is_model_in_parts",
    "load_in_parts",
    "predict_in_parts",
    "train_in_parts",
    "with_nearest",
]


def train_in_parts(
    loaders: Sequence[Loader],
    knowledge: Knowledge,
    folder: str | os.PathLike[str],
    provenance: Mapping[str, Any],
    *,
    level: float = LEVEL,
    progress: Progress | None = None,
    n_jobs: int | None = 1,
) -> ModelInParts:
    """Train a model on the parts of an archive, and write it into a folder.

    Parameters
    ----------
    loaders : sequence of callable
        Each gives the sessions of one part, in names and codes of its own, and is called once. All
        sessions of an event stand in one part. With `n_jobs` other than 1 they can be pickled.
    knowledge : Knowledge
        Rules and settings.
    folder : path
        Where the model is to be. It must not be there yet, or be empty, or hold a model in parts,
        which is replaced once the new one is complete.
    provenance : mapping
        What JSON can hold: the rule base, the archive and the versions it was trained with.
    level : float, optional
        Coverage of the ranges.
    progress : callable, optional
        Called with what is being done, how much is done and how much there is.
    n_jobs : int, optional
        Parts at once, in joblib's sense; None leaves it to `joblib.parallel_config`. On a cluster
        all machines reach the folder under the same path. The result does not depend on it.

    Returns
    -------
    ModelInParts
        The trained model.

    Raises
    ------
    InputError
        Where an event stands in two parts, where sessions and knowledge do not speak of the same
        settings, rules and fields, or where the folder cannot be written to. Nothing is left
        behind then.

    Notes
    -----
    Values and ranges are those of `train` to a millionth of a step: sums of single precision are
    added up in another order. Only where two choices are equally good to so many digits may another
    one be taken.
    """
    check_level(level)
    tell = progress or (lambda what, done, total: None)
    with replacing(Path(folder)) as place:
        found = _prepared(loaders, knowledge, place, tell, n_jobs)
        _refuse_split_events(found)
        start = _with_names(untrained(knowledge, level=level), knowledge, found)
        parts = tuple(found.parts) if any(part.n_sessions for part in found.parts) else ()
        if parts:
            store = OnFiles(found.events, parts, n_jobs)
            model = learnt(_encoded(start, found, n_jobs), store, knowledge, tell, n_jobs)
        else:
            model = without_sessions(start, start.rider_name, (), start.venue_name)
        trained = ModelInParts(place, model, parts)
        describe(trained, dict(provenance), n_jobs)
    return trained.moved(Path(folder).absolute())


@dataclass
class _Found:
    """What the parts say together before anything is learnt."""

    parts: list[Part] = field(default_factory=list)
    of_events: list[Events] = field(default_factory=list)
    rider_names: set[str] = field(default_factory=set)
    degree_sums: dict[str, Floats] = field(default_factory=dict)
    degree_sum: Floats | float = 0.0
    bounds: list[Floats] = field(default_factory=list)
    marks: float = 0.0
    marked: float = 0.0
    last_day: float = -np.inf
    events_by_setting: Integers | int = 0

    @cached_property
    def events(self) -> Events:
        """Events of all parts, one part after another."""
        return Events.joined(self.of_events)

    def add(self, folder: Path, one: Summary) -> None:
        """Add a part to those before it."""
        session, event = 0, 0
        if self.parts:
            last = self.parts[-1]
            session = last.first_session + last.n_sessions
            event = last.first_event + last.n_events
        self.parts.append(Part(folder, session, one.n_sessions, event, len(one.events.key)))
        self.of_events.append(one.events)
        self.rider_names.update(one.rider_name)
        for place, name in enumerate(one.venue_name):
            self.degree_sums[name] = self.degree_sums.get(name, 0.0) + one.degree_sums[:, place]
        self.degree_sum = self.degree_sum + one.degree_sums[:, -1]
        both = np.array([*self.bounds, one.fields_low, one.fields_high])
        self.bounds = [extreme(both, axis=0) for extreme in (np.fmin.reduce, np.fmax.reduce)]
        self.marks, self.marked = self.marks + one.marks, self.marked + one.marked
        self.last_day = max(self.last_day, one.last_day)
        self.events_by_setting = self.events_by_setting + one.events_by_setting


def _prepared(
    loaders: Sequence[Loader],
    knowledge: Knowledge,
    place: Path,
    tell: Progress,
    n_jobs: int | None,
) -> _Found:
    """Call every loader once, and write its part down."""
    folders = [part_folder(place, number) for number in range(len(loaders))]
    for one in folders:
        one.mkdir(parents=True)
    tasks = (
        {"loader": loader, "knowledge": knowledge, "folder": one}
        for loader, one in zip(loaders, folders, strict=True)
    )
    found = _Found()
    tell("reading parts", 0, len(loaders))
    for one, summary in zip(folders, run_in_turn(prepare, tasks, n_jobs=n_jobs), strict=True):
        found.add(one, summary)
        tell("reading parts", len(found.parts), len(loaders))
    return found


def _refuse_split_events(found: _Found) -> None:
    """Refuse events whose sessions stand in more than one part."""
    key, starts = found.events.key, [part.first_event for part in found.parts]
    order = np.argsort(key, kind="stable")
    mistakes = []
    for at in np.flatnonzero(key[order][1:] == key[order][:-1]).tolist():
        names, numbers = [], []
        for event in order[[at, at + 1]].tolist():
            number = int(np.searchsorted(starts, event, side="right"))
            part = found.parts[number - 1]
            names.append(event_names_of(part)[event - part.first_event])
            numbers.append(number)
        # Two names might share a key.
        if names[0] == names[1]:
            mistakes.append(
                Mistake(
                    f"event {names[0]!r}",
                    f"its sessions stand in parts {numbers[0]} and {numbers[1]}",
                    "put all sessions of an event into one part",
                )
            )
    if mistakes:
        raise InputError(mistakes)


def _with_names(start: Model, knowledge: Knowledge, found: _Found) -> Model:
    """Tell a model the names, conditions and days that the parts say."""
    ranges, bounds = start.field_range, np.array(found.bounds)
    return replace(
        start,
        rider_name=tuple(sorted(found.rider_names)),
        venue_name=tuple(sorted(found.degree_sums)),
        field_range=field_ranges(bounds, knowledge.field_range) if len(bounds) else ranges,
        last_day=float(found.last_day) if np.isfinite(found.last_day) else start.last_day,
        events_by_setting=start.events_by_setting + found.events_by_setting,
    )


def _encoded(start: Model, found: _Found, n_jobs: int | None) -> Model:
    """Write down what each part's sessions are in the archive, and sum up what is usual."""
    fold, n_folds = folds_of_events(found.events.key, found.events.first_day)
    tasks = (
        {
            "folder": part.folder,
            "rider_name": start.rider_name,
            "venue_name": start.venue_name,
            "event_fold": fold[part.first_event : part.first_event + part.n_events],
            "usual_mark": found.marks / found.marked if found.marked else None,
            "n_folds": n_folds,
        }
        for part in found.parts
    )
    of_riders = sum(run_in_turn(encode, tasks, n_jobs=n_jobs))
    of_venues = [found.degree_sums[name] for name in start.venue_name]
    of_degrees = np.stack([*of_venues, found.degree_sum], axis=1)
    return with_usual(start, of_degrees, np.asarray(of_riders))
