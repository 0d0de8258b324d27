"""What a model says of walks, with its past sessions in memory or in parts of an archive."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from setupadvisor.facts.valid_range import FloatArray
from setupadvisor.learning.model import Model
from setupadvisor.learning.prediction import Prediction, predict

if TYPE_CHECKING:
    from setupadvisor.learning.in_parts import ModelInParts


@dataclass(frozen=True)
class Known:
    """What advice rests on.

    Parameters
    ----------
    model : Model
        The model, with all its sessions or with the nearest ones alone.
    sessions, events : int
        How many there are in all.
    """

    model: Model
    sessions: int
    events: int


def predicted(
    model: Model | ModelInParts, degrees: FloatArray, house: FloatArray, **asked: Any
) -> tuple[Prediction, Known]:
    """Ask a model of either kind.

    Parameters
    ----------
    model : Model or ModelInParts
        The model.
    degrees, house : numpy.ndarray, shape (walks, rules), (walks, settings)
        As for `predict`.
    **asked
        The other arguments of `predict`.

    Returns
    -------
    tuple of Prediction and Known
        What it says; the nearest sessions are rows of the known model.
    """
    if isinstance(model, Model):
        known = Known(model, len(model.event), len(model.event_name))
        return predict(model, degrees, house, **asked), known
    from setupadvisor.learning.in_parts import predict_in_parts, with_nearest  # noqa: PLC0415

    prediction = predict_in_parts(model, degrees, house, **asked)
    few, prediction = with_nearest(model, prediction)
    return prediction, Known(few, model.n_sessions, model.n_events)
