"""Prediction over the parts of an archive: sums over parts add up, nearest sessions are merged."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import fields as dataclass_fields
from dataclasses import replace

import numpy as np

from setupadvisor.learning.asked import Walks, Who, as_walks
from setupadvisor.learning.in_parts_folder import ModelInParts
from setupadvisor.learning.in_parts_part import Part, past_of
from setupadvisor.learning.many_cores import run_in_turn
from setupadvisor.learning.model import Model
from setupadvisor.learning.nearest import Nearest
from setupadvisor.learning.one_thread import one_thread
from setupadvisor.learning.prediction import (
    Prediction,
    block_of,
    finished,
    joined,
    level_of,
    summed_up,
)
from setupadvisor.learning.sessions import Floats

# Sums held for one run over the parts.
MOST_SUMS = 2_000_000


def predict_in_parts(
    model: ModelInParts,
    degrees: Floats,
    house: Floats,
    *,
    rider: Who,
    fields: Floats,
    venue: Who,
    day: Floats,
    level: float | None = None,
    ranges: bool = True,
    n_nearest: int = 5,
    n_jobs: int | None = 1,
) -> Prediction:
    """Predict settings for m walks from the parts of an archive.

    Parameters
    ----------
    model : ModelInParts
        Trained on an archive.
    degrees, house, rider, fields, venue, day, level, ranges, n_nearest
        As for `prediction.predict`.
    n_jobs : int, optional
        Parts at once, in joblib's sense; None leaves it to `joblib.parallel_config`.

    Returns
    -------
    Prediction
        As from `prediction.predict`; the nearest sessions are rows of the archive.

    Raises
    ------
    InputError
        Where an array or the level does not fit the model, or a part is missing.
    """
    learnt = model.learnt
    level = level_of(learnt, level)
    walks = as_walks(learnt, degrees, house, rider=rider, fields=fields, venue=venue, day=day)
    width = 2 * (learnt.n_folds + 1) if ranges else 2
    size = max(1, MOST_SUMS // (max(len(learnt.setting), 1) * width))
    blocks = []
    with one_thread():
        for start in range(0, max(len(walks.day), 1), size):
            some = walks.taken(slice(start, start + size))
            tasks = (
                {
                    "part": part,
                    "learnt": learnt,
                    "walks": some,
                    "ranges": ranges,
                    "n_nearest": n_nearest,
                }
                for part in model.parts
            )
            found = run_in_turn(summed_of_part, tasks, n_jobs=n_jobs)
            sums, nearest = _all_together(found, learnt, some, ranges, n_nearest)
            blocks.append(finished(learnt, some, sums, nearest, level, ranges=ranges))
    return joined(blocks)


def summed_of_part(
    *, part: Part, learnt: Model, walks: Walks, ranges: bool, n_nearest: int
) -> tuple[Floats, Nearest]:
    """Sum up the past sessions of a part.

    Parameters
    ----------
    part : Part
        The part.
    learnt : Model
        What was learnt.
    walks : Walks
        m walks.
    ranges : bool
        Whether ranges are wanted.
    n_nearest : int
        How many of the nearest sessions to list.

    Returns
    -------
    sums : (S, m, w) array
        As from `summed_up`.
    nearest : Nearest
        The part's nearest sessions, in rows of the archive.
    """
    model = past_of(part, learnt)
    size = block_of(learnt, len(model.walks.first))
    sums, listed = [], []
    for start in range(0, max(len(walks.day), 1), size):
        some = walks.taken(slice(start, start + size))
        of_block, nearest = summed_up(learnt, model, some, ranges=ranges, n_nearest=n_nearest)
        sums.append(of_block)
        listed.append(nearest)
    found = _beside(listed, axis=0)
    session = np.where(found.session >= 0, found.session + part.first_session, -1)
    return np.concatenate(sums, axis=1), replace(found, session=session)


def _all_together(
    found: Iterable[tuple[Floats, Nearest]],
    learnt: Model,
    walks: Walks,
    ranges: bool,
    n_nearest: int,
) -> tuple[Floats, Nearest]:
    """Add up the sums of all parts, and merge their nearest sessions, part after part."""
    # The sums over no session at all, and no nearest one.
    sums, nearest = summed_up(learnt, learnt, walks, ranges=ranges, n_nearest=n_nearest)
    for more, others in found:
        sums = sums + more
        both = _beside([nearest, others], axis=1)
        heaviest = np.argsort(-both.weight, axis=1, kind="stable")[:, :n_nearest]
        nearest = Nearest(
            *(
                np.take_along_axis(getattr(both, part.name), heaviest, axis=1)
                for part in dataclass_fields(Nearest)
            )
        )
    return sums, nearest


def _beside(listed: Sequence[Nearest], axis: int) -> Nearest:
    return Nearest(
        *(
            np.concatenate([getattr(one, part.name) for one in listed], axis=axis)
            for part in dataclass_fields(Nearest)
        )
    )
