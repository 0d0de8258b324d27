"""The folder of a model in parts: what was learnt in one file, and the files of each part.

The file of what was learnt lists every other file with its size and SHA-256 checksum.
"""

from __future__ import annotations

import contextlib
import os
import shutil
import tempfile
from collections.abc import Iterator
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

import numpy as np

from setupadvisor.errors import InputError, Mistake
from setupadvisor.learning.in_parts_files import DAMAGED, MISSING, RETRAIN, digest_of
from setupadvisor.learning.in_parts_part import Part, event_names_of, lookup_file, sessions_of
from setupadvisor.learning.in_parts_prepare import CODES, SESSIONS
from setupadvisor.learning.many_cores import run_each
from setupadvisor.learning.model import Model
from setupadvisor.learning.model_file import load_model, save_model
from setupadvisor.learning.prediction import Prediction
from setupadvisor.learning.sessions import Integers
from setupadvisor.learning.stores import OF_SESSIONS

KIND = "setupadvisor model in parts"
LEARNT, PARTS = "learnt.safetensors", "parts"


@dataclass(frozen=True)
class ModelInParts:
    """What an archive taught, and where its sessions are.

    Parameters
    ----------
    folder : pathlib.Path
        Where the model is.
    learnt : Model
        What was learnt; it holds no sessions and no names of events.
    parts : tuple of Part
        Where the sessions are.
    """

    folder: Path
    learnt: Model
    parts: tuple[Part, ...]

    @property
    def n_sessions(self) -> int:
        """Number of sessions."""
        return sum(part.n_sessions for part in self.parts)

    @property
    def n_events(self) -> int:
        """Number of events."""
        return sum(part.n_events for part in self.parts)

    def taken(self, rows: Integers) -> Model:
        """Return what was learnt with some sessions alone.

        Parameters
        ----------
        rows : (k,) integer array
            Sessions of the archive, as `Nearest.session` names them.

        Returns
        -------
        Model
            Its k sessions are those, in this order, and its events are theirs.
        """
        rows = np.asarray(rows, dtype=np.int64)
        arrays: dict[str, list[Any]] = {name: [] for name in OF_SESSIONS}
        names: list[str] = []
        ascending = np.argsort(rows, kind="stable")
        for part in self.parts:
            ends = [part.first_session, part.first_session + part.n_sessions]
            start, stop = np.searchsorted(rows[ascending], ends).tolist()
            if stop > start:
                own = rows[ascending[start:stop]] - part.first_session
                some, of_part = sessions_of(part, self.learnt, own), event_names_of(part)
                codes, event = np.unique(some.event, return_inverse=True)
                for name in OF_SESSIONS:
                    arrays[name].append(getattr(some, name))
                arrays["event"][-1] = event + len(names)
                names += [of_part[code] for code in codes.tolist()]
        if not names:
            return self.learnt
        back = np.argsort(ascending)
        joined: dict[str, Any] = {name: np.concatenate(arrays[name])[back] for name in OF_SESSIONS}
        return replace(self.learnt, event_name=tuple(names), **joined)

    def moved(self, folder: Path) -> ModelInParts:
        """Return the same model in another folder.

        Parameters
        ----------
        folder : pathlib.Path
            Where it is now.

        Returns
        -------
        ModelInParts
            There.
        """
        parts = tuple(
            replace(part, folder=folder / part.folder.relative_to(self.folder))
            for part in self.parts
        )
        return ModelInParts(folder, self.learnt, parts)


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
        What was learnt, with the nearest sessions alone.
    prediction : Prediction
        The same, its `nearest.session` the rows of that model.
    """
    named = prediction.nearest.session
    rows = np.unique(named[named >= 0])
    places = np.where(named >= 0, np.searchsorted(rows, named), -1)
    nearest = replace(prediction.nearest, session=places)
    return model.taken(rows), replace(prediction, nearest=nearest)


def is_model_in_parts(path: str | os.PathLike[str]) -> bool:
    """Say whether a path is the folder of a model in parts.

    Parameters
    ----------
    path : path
        Any path.

    Returns
    -------
    bool
        Whether what was learnt stands there; it may be damaged.
    """
    return (Path(path) / LEARNT).is_file()


def describe(model: ModelInParts, provenance: dict[str, Any], n_jobs: int | None) -> None:
    """Write down what was learnt, with a list of all other files.

    Parameters
    ----------
    model : ModelInParts
        A model whose parts are complete.
    provenance : dict
        What JSON can hold.
    n_jobs : int, optional
        Parts at once.
    """
    name = lookup_file(model.learnt)
    tasks = ({"part": part, "names": (SESSIONS, CODES, name)} for part in model.parts)
    listed = run_each(_listed, tasks, n_jobs=n_jobs)
    parts = [
        {"sessions": part.n_sessions, "events": part.n_events, "files": files}
        for part, files in zip(model.parts, listed, strict=True)
    ]
    if not parts:
        shutil.rmtree(model.folder / PARTS, ignore_errors=True)
    save_model(
        model.learnt, model.folder / LEARNT, {"parts": parts, "provenance": provenance}, kind=KIND
    )


def load_in_parts(
    path: str | os.PathLike[str], *, thorough: bool = False, n_jobs: int | None = 1
) -> tuple[ModelInParts, dict[str, Any]]:
    """Read the folder of a model in parts.

    Parameters
    ----------
    path : path
        The folder.
    thorough : bool, optional
        Whether to read all parts and compare their checksums, and not only their sizes.
    n_jobs : int, optional
        Parts at once.

    Returns
    -------
    model : ModelInParts
        The model.
    provenance : dict
        What was given when it was trained.

    Raises
    ------
    InputError
        Where the folder or a part is missing, damaged, cut short, of another kind or version.
    """
    folder = Path(path)
    if not is_model_in_parts(folder):
        raise InputError(
            Mistake(str(folder), "not the folder of a model", "give one that retrain has made")
        )
    learnt, told = load_model(folder / LEARNT, kind=KIND)
    parts, session, event, tasks = [], 0, 0, []
    for number, one in enumerate(told["parts"]):
        part = Part(
            part_folder(folder.absolute(), number), session, one["sessions"], event, one["events"]
        )
        session, event = session + part.n_sessions, event + part.n_events
        parts.append(part)
        tasks.append({"part": part, "files": one["files"], "thorough": thorough})
    mistakes = [found for some in run_each(_wrong, tasks, n_jobs=n_jobs) for found in some]
    if mistakes:
        raise InputError(mistakes)
    return ModelInParts(folder.absolute(), learnt, tuple(parts)), told["provenance"]


def part_folder(folder: Path, number: int) -> Path:
    """Say where the files of a part are.

    Parameters
    ----------
    folder : pathlib.Path
        The model's folder.
    number : int
        Number of the part, from 0.

    Returns
    -------
    pathlib.Path
        The part's folder.
    """
    return folder / PARTS / f"{number:06d}"


@contextlib.contextmanager
def replacing(target: Path) -> Iterator[Path]:
    """Make a folder beside the target and move it into place once it is complete.

    Parameters
    ----------
    target : pathlib.Path
        Where the folder is to be: not there yet, empty, or a model in parts.

    Yields
    ------
    pathlib.Path
        Where to write. Nothing of it is left behind where something goes wrong.

    Raises
    ------
    InputError
        Where the target holds something else, or cannot be written.
    """
    there = target.is_symlink() or target.exists()
    if there and not (target.is_dir() and (is_model_in_parts(target) or not any(target.iterdir()))):
        raise InputError(
            Mistake(str(target), "holds something other than a model", "choose another folder")
        )
    try:
        # In full, since workers may stand in another folder.
        beside = target.absolute().parent
        temporary = Path(tempfile.mkdtemp(dir=beside, prefix=f".{target.name}.", suffix=".part"))
    except OSError as error:
        raise InputError(
            Mistake(str(target), f"cannot be written ({error.strerror})", "choose another folder")
        ) from error
    old = temporary / "old"
    try:
        place = temporary / "new"
        # An ordinary folder, with the rights of any new one.
        place.mkdir()
        yield place
        if there:
            target.replace(old)
        try:
            place.replace(target)
        except OSError:
            if there:
                old.replace(target)
            raise
    finally:
        shutil.rmtree(temporary, ignore_errors=True)


def _listed(*, part: Part, names: tuple[str, ...]) -> dict[str, list[Any]]:
    """Size and checksum of each file of a part."""
    paths = [part.folder / name for name in names]
    return {path.name: [path.stat().st_size, digest_of(path)] for path in paths}


def _wrong(*, part: Part, files: dict[str, list[Any]], thorough: bool) -> list[Mistake]:
    """List what is missing or damaged of a part."""
    mistakes = []
    for name, (size, digest) in files.items():
        path = part.folder / name
        if not path.is_file():
            mistakes.append(Mistake(str(path), MISSING, RETRAIN))
        elif path.stat().st_size != size:
            mistakes.append(Mistake(str(path), DAMAGED, RETRAIN))
        elif thorough and digest_of(path) != digest:
            mistakes.append(Mistake(str(path), "the content does not match its checksum", RETRAIN))
    return mistakes
