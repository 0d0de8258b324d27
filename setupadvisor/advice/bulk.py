"""Advice for many walks: what `advise` says of each, as rows of a table."""

from __future__ import annotations

from collections.abc import Mapping
from typing import TYPE_CHECKING, Any

import numpy as np

from setupadvisor.advice.bulk_fitting import fit_walks, widen_each
from setupadvisor.advice.season_learning import different_rows
from setupadvisor.advice.workshop import Workshop, field_values, situations
from setupadvisor.entries.walk_rows import WalkRows
from setupadvisor.facts.valid_range import FloatArray
from setupadvisor.learning.model import Model
from setupadvisor.learning.prediction import Prediction, predict

if TYPE_CHECKING:
    import pandas as pd

    from setupadvisor.learning.in_parts import ModelInParts

ADVISED = "advised."
LOW, HIGH = ".low", ".high"


def advised_rows(
    workshop: Workshop,
    model: Model | ModelInParts,
    walks: WalkRows,
    *,
    level: float | None = None,
    jobs: int = 1,
) -> pd.DataFrame:
    """Advise on many walks.

    Parameters
    ----------
    workshop : Workshop
        The machine and its rules.
    model : Model or ModelInParts
        Trained on a season or an archive.
    walks : WalkRows
        The walks; nothing is known of what is on the motorcycle.
    level : float, optional
        Level of the ranges; the model's own when missing.
    jobs : int
        Processes for a model in parts.

    Returns
    -------
    pandas.DataFrame
        One row a walk: its names, and for each setting ``advised.NAME``, ``advised.NAME.low`` and
        ``advised.NAME.high``, values that can be set.
    """
    import pandas as pd  # noqa: PLC0415

    prediction = _prediction(workshop, model, walks, level, jobs)
    settings = workshop.machine.settings
    fitted = fit_walks(
        workshop.machine, dict(zip(workshop.settings, prediction.value.T, strict=True))
    )
    columns: dict[str, Any] = {
        name: pd.Series(cells, dtype="str") for name, cells in walks.names.items()
    }
    for place, (name, value) in enumerate(fitted.items()):
        low, high = widen_each(settings[name], prediction.low[:, place], prediction.high[:, place])
        columns[f"{ADVISED}{name}"] = value
        columns[f"{ADVISED}{name}{LOW}"] = np.fmin(low, value)
        columns[f"{ADVISED}{name}{HIGH}"] = np.fmax(high, value)
    return pd.DataFrame(columns)


def _prediction(
    workshop: Workshop,
    model: Model | ModelInParts,
    walks: WalkRows,
    level: float | None,
    jobs: int,
) -> Prediction:
    rows = np.arange(len(walks))
    first, place_of = different_rows(walks.conditions, rows)
    conditions = {path: column[first] for path, column in walks.conditions.items()}
    found = situations(workshop, conditions, len(first))
    degrees = np.take(np.ascontiguousarray(found.degrees), place_of, axis=0)
    house: FloatArray = found.house[place_of]
    asked: Mapping[str, Any] = {
        "rider": [name or None for name in walks.rider],
        "fields": field_values(workshop, conditions, found.facts)[place_of],
        "venue": [name or None for name in walks.venue],
        "day": walks.day,
        "level": level,
        "n_nearest": 0,
    }
    if isinstance(model, Model):
        return predict(model, degrees, house, **asked)
    from setupadvisor.learning.in_parts import predict_in_parts  # noqa: PLC0415

    return predict_in_parts(model, degrees, house, n_jobs=jobs, **asked)
