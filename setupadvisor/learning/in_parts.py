"""Training and prediction over an archive of sessions whose parts are read one after another."""

from __future__ import annotations

import os
import tempfile
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, fields, replace
from pathlib import Path
from typing import Any, TypeAlias

import numpy as np

from setupadvisor.learning.asked import Who
from setupadvisor.learning.model import LEVEL, Model
from setupadvisor.learning.model_file import load_model, save_model
from setupadvisor.learning.prediction import Prediction, predict
from setupadvisor.learning.sessions import Floats, Integers, Knowledge, Sessions
from setupadvisor.learning.training import Progress, train

# Gives the sessions of one part, in the part's own names and codes.
Loader: TypeAlias = Callable[[], Sessions]
LEARNT = "learnt.safetensors"
ROWS = ("fields", "degrees", "target", "weight", "settled", "residual")
CODES = ("rider", "event", "venue", "fold", "day")


@dataclass(frozen=True)
class ModelInParts:
    """What an archive taught, and where its sessions are.

    Parameters
    ----------
    folder : pathlib.Path
        Where the model is.
    learnt : Model
        What was learnt.
    n_sessions, n_events : int
        How much of it there was.
    """

    folder: Path
    learnt: Model
    n_sessions: int
    n_events: int

    def taken(self, rows: Integers) -> Model:
        """Return the learnt model with some sessions alone.

        Parameters
        ----------
        rows : (k,) integer array
            Sessions of the archive, as `Nearest.session` names them.

        Returns
        -------
        Model
            Its k sessions are those, in this order.
        """
        some = {name: getattr(self.learnt, name)[rows] for name in (*ROWS, *CODES)}
        return replace(self.learnt, **some)


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
    """Train a model on the parts of an archive."""
    sessions = joined_sessions([loader() for loader in loaders])
    model = train(sessions, knowledge, level=level, progress=progress, n_jobs=n_jobs)
    target = Path(folder)
    temporary = Path(tempfile.mkdtemp(dir=target.parent, prefix=f".{target.name}.", suffix=".part"))
    save_model(model, temporary / LEARNT, dict(provenance))
    temporary.replace(target)
    return ModelInParts(target, model, len(model.day), len(model.event_name))


def is_model_in_parts(path: str | os.PathLike[str]) -> bool:
    """Say whether a path is the folder of a model in parts."""
    return (Path(path) / LEARNT).is_file()


def load_in_parts(path: str | os.PathLike[str]) -> tuple[ModelInParts, dict[str, Any]]:
    """Read the folder of a model in parts."""
    model, provenance = load_model(Path(path) / LEARNT)
    return ModelInParts(Path(path), model, len(model.day), len(model.event_name)), provenance


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
    """Predict settings for m walks, as `predict` does."""
    return predict(
        model.learnt,
        degrees,
        house,
        rider=rider,
        fields=fields,
        venue=venue,
        day=day,
        level=level,
        ranges=ranges,
        n_nearest=n_nearest,
    )


def with_nearest(model: ModelInParts, prediction: Prediction) -> tuple[Model, Prediction]:
    """Return a model with just the sessions a prediction names, and the prediction in its rows.

    Parameters
    ----------
    model : ModelInParts
        A trained model.
    prediction : Prediction
        From `predict_in_parts`.

    Returns
    -------
    model : Model
        The learnt model with the nearest sessions alone.
    prediction : Prediction
        The same, its `nearest.session` the rows of that model.
    """
    named = prediction.nearest.session
    rows = np.unique(named[named >= 0])
    places = np.where(named >= 0, np.searchsorted(rows, named), -1)
    nearest = replace(prediction.nearest, session=places)
    return model.taken(rows), replace(prediction, nearest=nearest)


def joined_sessions(parts: Sequence[Sessions]) -> Sessions:
    """Put parts together, with the names of all."""
    names: dict[str, Any] = {
        name: tuple(sorted({word for part in parts for word in getattr(part, name)}))
        for name in ("rider_name", "event_name", "venue_name")
    }
    places = {kind: {word: code for code, word in enumerate(names[kind])} for kind in names}
    codes: dict[str, Any] = {
        code: np.concatenate([_recoded(part, code, places[f"{code}_name"]) for part in parts])
        for code in ("rider", "event", "venue")
    }
    arrays: dict[str, Any] = {
        part.name: np.concatenate([getattr(one, part.name) for one in parts])
        for part in fields(Sessions)
        if part.name not in codes and isinstance(getattr(parts[0], part.name), np.ndarray)
    }
    return replace(parts[0], **names, **codes, **arrays)


def _recoded(part: Sessions, code: str, places: Mapping[str, int]) -> Integers:
    of_name = np.array([places[word] for word in getattr(part, f"{code}_name")] + [-1])
    recoded: Integers = of_name[getattr(part, code)]
    return recoded
