"""Model files: arrays and JSON in one safetensors file, and nothing that could run.

The file's own description holds one JSON text: the kind of file, its format number, the plain
values of the model, the provenance given by the caller, and a SHA-256 checksum over all of it and
the arrays. The same model and provenance always give the same bytes.

References
----------
The safetensors format: an 8-byte length, a JSON header, raw arrays. FIPS 180-4 for SHA-256.
"""

from __future__ import annotations

import contextlib
import hashlib
import json
import os
import tempfile
from dataclasses import fields
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

from setupadvisor.errors import InputError, Mistake
from setupadvisor.learning.advised import FALLBACKS
from setupadvisor.learning.model import Model

KIND = "setupadvisor model"
FORMAT = 3
DESCRIPTION = "setupadvisor"
NAMES = ("setting", "rule", "field", "rider_name", "event_name", "venue_name")
NUMBERS = ("venue_factor", "half_life", "unread_weight", "last_day", "level")
ARRAYS = tuple(
    part.name for part in fields(Model) if part.name not in NAMES and part.name not in NUMBERS
)
RETRAIN = "train it again from the season"


def save_model(
    model: Model, path: str | os.PathLike[str], provenance: dict[str, Any], *, kind: str = KIND
) -> None:
    """Write a model to a file, all of it or nothing.

    Parameters
    ----------
    model : Model
        A trained model.
    path : path
        Where to write. A file already there is replaced once the new one is complete.
    provenance : dict
        What JSON can hold: the rule base, the season and the versions it was trained with.
    kind : str, optional
        What kind of file it says it is.

    Raises
    ------
    InputError
        Where the folder cannot be written to.
    """
    target = Path(path)
    try:
        _replace_file(target, model_bytes(model, provenance, kind=kind))
    except OSError as error:
        raise InputError(
            Mistake(str(target), f"cannot be written ({error.strerror})", "choose another folder")
        ) from error


def model_bytes(model: Model, provenance: dict[str, Any], *, kind: str = KIND) -> bytes:
    """Return the bytes of a model file.

    Parameters
    ----------
    model : Model
        A trained model.
    provenance : dict
        What JSON can hold.
    kind : str, optional
        What kind of file it says it is.

    Returns
    -------
    bytes
        Always the same for the same model and provenance.
    """
    from safetensors.numpy import save  # noqa: PLC0415

    arrays = {name: np.ascontiguousarray(getattr(model, name)) for name in ARRAYS}
    content = {
        "kind": kind,
        "format": FORMAT,
        "names": {name: list(getattr(model, name)) for name in NAMES},
        # JSON has no infinity; a model without ageing has an infinite half-life.
        "numbers": {name: repr(float(getattr(model, name))) for name in NUMBERS},
        "provenance": provenance,
    }
    content["sha256"] = _checksum(arrays, content)
    result: bytes = save(arrays, metadata={DESCRIPTION: _json(content)})
    return result


def load_model(path: str | os.PathLike[str], *, kind: str = KIND) -> tuple[Model, dict[str, Any]]:
    """Read a model file.

    Parameters
    ----------
    path : path
        The file.
    kind : str, optional
        The kind of file that is wanted.

    Returns
    -------
    model : Model
        The model.
    provenance : dict
        What was given when it was saved.

    Raises
    ------
    InputError
        Where the file is missing, damaged, cut short, of another kind or of another version.
    """
    from safetensors import SafetensorError, safe_open  # noqa: PLC0415

    where = str(path)
    if not Path(path).is_file():
        raise InputError(Mistake(where, "no such file", "check the path, or train a model first"))
    try:
        with safe_open(where, framework="numpy") as opened:
            description = (opened.metadata() or {}).get(DESCRIPTION)
            arrays = {name: opened.get_tensor(name) for name in opened.keys()}  # noqa: SIM118
    except (SafetensorError, OSError, ValueError, TypeError, KeyError) as error:
        raise InputError(
            Mistake(where, "not a model file, or damaged or cut short", RETRAIN)
        ) from error
    content = _described(where, description, kind)
    if content.pop("sha256", None) != _checksum(arrays, content):
        raise InputError(Mistake(where, "the content does not match its checksum", RETRAIN))
    return _model(where, arrays, content), content["provenance"]


def _described(where: str, description: str | None, kind: str) -> dict[str, Any]:
    """Read the JSON description, and refuse other kinds and versions."""
    try:
        content = json.loads(description or "")
    except ValueError:
        content = None
    if not isinstance(content, dict) or content.get("kind") != kind:
        raise InputError(Mistake(where, "a file of another kind, not a model", "give a model file"))
    version = content.get("format")
    if version != FORMAT:
        newer = isinstance(version, int) and version > FORMAT
        raise InputError(
            Mistake(
                where,
                f"a model of format {version}, and this version reads format {FORMAT}",
                "update setupadvisor" if newer else RETRAIN,
            )
        )
    return content


def _model(where: str, arrays: dict[str, NDArray[Any]], content: dict[str, Any]) -> Model:
    """Put the model together; a file whose parts do not fit each other is refused."""
    try:
        parts: dict[str, Any] = {name: arrays[name] for name in ARRAYS}
        parts |= {name: tuple(map(str, content["names"][name])) for name in NAMES}
        parts |= {name: float(content["numbers"][name]) for name in NUMBERS}
        model = Model(**parts)
        fits = _fits(model)
    except (KeyError, TypeError, ValueError, IndexError, AttributeError) as error:
        raise InputError(Mistake(where, "a model whose parts do not fit", RETRAIN)) from error
    if not fits:
        raise InputError(Mistake(where, "a model whose parts do not fit", RETRAIN))
    return model


def _fits(model: Model) -> bool:
    """Say whether shapes, kinds and codes of a model's arrays belong together."""
    settings, rules, conditions = len(model.setting), len(model.rule), len(model.field)
    riders, n, width = len(model.rider_name), len(model.day), len(model.rule_shift)
    judged, venues = len(model.residual), len(model.venue_name)
    most = model.touching.shape[1]
    shapes: dict[str, tuple[int, ...]] = {
        "amounts": (rules, settings),
        "relative_spread": (rules,),
        "reads": (settings, conditions),
        "field_is_category": (conditions,),
        "field_range": (conditions,),
        "touching": (settings, most),
        "rule_shift": (width, settings, most),
        "rule_covariance": (width, settings, most, most),
        "habit": (width, riders, settings),
        "habit_variance": (width, riders, settings),
        "riders_means": (width, riders + 1, settings),
        "usual_degree": (venues + 1, rules),
        "residual": (judged, settings),
        "residual_event": (judged,),
        "residual_fold": (judged,),
        "fields": (n, conditions),
        "degrees": (n, rules),
    }
    by_setting = ["step", "low", "high", "bandwidth", "kappa"]
    by_setting += ["noise_sd", "habit_sd", "event_sd", "venue_sd"]
    shapes |= dict.fromkeys((*by_setting, "fallback", "events_by_setting"), (settings,))
    shapes |= dict.fromkeys(("target", "weight", "settled"), (n, settings))
    shapes |= dict.fromkeys(("rider", "event", "venue", "fold", "day"), (n,))
    kinds = dict.fromkeys(shapes, "f")
    kinds |= dict.fromkeys(("reads", "field_is_category", "settled"), "b")
    whole = ("touching", "rider", "event", "venue", "fold", "fallback")
    kinds |= dict.fromkeys((*whole, "residual_event", "residual_fold", "events_by_setting"), "i")
    codes = {
        "touching": (-1, rules),
        "rider": (0, riders),
        "event": (0, len(model.event_name)),
        "venue": (-1, venues),
        "fold": (0, width - 1),
        "residual_fold": (0, width - 1),
        "fallback": (0, len(FALLBACKS)),
    }
    arrays = {name: getattr(model, name) for name in ARRAYS}
    return (
        set(shapes) == set(arrays)
        and all(arrays[name].shape == shape for name, shape in shapes.items())
        and all(arrays[name].dtype.kind == kind for name, kind in kinds.items())
        and all(
            bool(((arrays[name] >= lowest) & (arrays[name] < above)).all())
            for name, (lowest, above) in codes.items()
        )
    )


def _checksum(arrays: dict[str, NDArray[Any]], content: dict[str, Any]) -> str:
    """SHA-256 over the description and every array with its name, kind and shape."""
    digest = hashlib.sha256(_json(content).encode())
    for name in sorted(arrays):
        array = np.ascontiguousarray(arrays[name])
        digest.update(f"\n{name} {array.dtype.str} {array.shape}\n".encode())
        digest.update(array.tobytes())
    return digest.hexdigest()


def _json(content: dict[str, Any]) -> str:
    return json.dumps(content, sort_keys=True, ensure_ascii=False, allow_nan=False)


def _replace_file(target: Path, content: bytes) -> None:
    """Write beside the target and move into place, so that no half-written file is ever seen."""
    handle, temporary = tempfile.mkstemp(
        dir=target.parent, prefix=f".{target.name}.", suffix=".part"
    )
    try:
        with os.fdopen(handle, "wb") as file:
            file.write(content)
            file.flush()
            os.fsync(file.fileno())
        # mkstemp keeps the file to its owner; a model is for the team, as any new file would be.
        mask = os.umask(0)
        os.umask(mask)
        Path(temporary).chmod(0o666 & ~mask)
        Path(temporary).replace(target)
    except BaseException:
        with contextlib.suppress(OSError):
            Path(temporary).unlink()
        raise
