"""The nearest past sessions, in the crew's words: what they share and what differs."""

from __future__ import annotations

from datetime import date, timedelta

import numpy as np

from setupadvisor.advice.records import Likeness
from setupadvisor.entries.quantity import Word
from setupadvisor.facts.catalogue import FACTS
from setupadvisor.facts.columns import condition_fields
from setupadvisor.facts.valid_range import FloatArray
from setupadvisor.learning.model import Model
from setupadvisor.learning.nearest import Nearest, field_differences

ALIKE, UNLIKE = 0.12, 0.3
MOST_NAMED = 4
_EPOCH = date(1970, 1, 1)


def likenesses(model: Model, nearest: Nearest, fields: FloatArray) -> tuple[Likeness, ...]:
    """Describe the nearest sessions of one walk.

    Parameters
    ----------
    model : Model
        A trained model.
    nearest : Nearest
        Of one walk.
    fields : numpy.ndarray, shape (fields,)
        What the walk is compared by.

    Returns
    -------
    tuple of Likeness
        The nearest first.
    """
    rows = nearest.session[0]
    keep = rows >= 0
    rows, distances = rows[keep], nearest.distance[0][keep]
    if not len(rows):
        return ()
    differences = field_differences(model, fields, rows)
    return tuple(
        Likeness(
            event=model.event_name[model.event[row]],
            venue=model.venue_name[model.venue[row]] if model.venue[row] >= 0 else "",
            date=str(_EPOCH + timedelta(days=int(model.day[row]))),
            rider=model.rider_name[model.rider[row]],
            distance=float(distance),
            shares=_shared(model, fields, difference),
            differs=_different(model, fields, model.fields[row], difference),
        )
        for row, distance, difference in zip(rows, distances, differences, strict=True)
    )


def _shared(model: Model, here: FloatArray, difference: FloatArray) -> tuple[str, ...]:
    # Fields that some rule reads tell the crew more than the others.
    telling = model.reads.sum(axis=0)
    order = sorted(np.flatnonzero(difference <= ALIKE), key=lambda place: (-telling[place], place))
    return tuple(_said(model.field[place], here[place]) for place in order[:MOST_NAMED])


def _different(
    model: Model, here: FloatArray, there: FloatArray, difference: FloatArray
) -> tuple[str, ...]:
    order = sorted(
        np.flatnonzero(difference >= UNLIKE), key=lambda place: (-difference[place], place)
    )
    named = [(model.field[place], here[place], there[place]) for place in order[:MOST_NAMED]]
    return tuple(
        f"{_said(name, theirs)} (here {_value(name, ours)})" for name, ours, theirs in named
    )


def _said(name: str, value: float) -> str:
    title = FACTS[name].title if name in FACTS else condition_fields()[name].title
    return f"{title[:1].lower()}{title[1:]} {_value(name, value)}"


def _value(name: str, value: float) -> str:
    if name in FACTS:
        return f"{value:.3g} {FACTS[name].unit}".strip()
    kind = condition_fields()[name].kind
    if isinstance(kind, Word):
        return kind.choices[int(value)].replace("_", " ")
    return f"{value:.4g} {kind.unit if kind else ''}".strip()
