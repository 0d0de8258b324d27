"""One part of an archive, as a model that holds that part's sessions alone."""

from __future__ import annotations

import hashlib
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

import numpy as np

from setupadvisor.learning.distinct import DistinctWalks
from setupadvisor.learning.in_parts_files import mapped_arrays, write_arrays
from setupadvisor.learning.in_parts_prepare import CODES, SESSIONS, rules_that_touch
from setupadvisor.learning.model import Model
from setupadvisor.learning.sessions import Floats, Integers


@dataclass(frozen=True)
class Part:
    """One part of an archive.

    Parameters
    ----------
    folder : pathlib.Path
        Where its files are.
    first_session, n_sessions : int
        Its sessions in the archive.
    first_event, n_events : int
        Its events in the archive.
    """

    folder: Path
    first_session: int
    n_sessions: int
    first_event: int
    n_events: int


def sessions_of(part: Part, learnt: Model) -> Model:
    """Return what was learnt, with all that is known of a part's sessions.

    Parameters
    ----------
    part : Part
        The part.
    learnt : Model
        What was learnt.

    Returns
    -------
    Model
        Its events are the part's own.
    """
    arrays, codes = _mapped(part)
    degrees = np.full((part.n_sessions, len(learnt.rule)), np.nan)
    degrees[:, rules_that_touch(learnt.amounts)] = arrays["degrees"][arrays["degrees_of_session"]]
    model = replace(
        learnt,
        fields=arrays["walk_fields"][arrays["walk_of_session"]],
        degrees=degrees,
        target=arrays["target"],
        weight=arrays["share"] * codes["worth"][:, None],
        settled=arrays["settled"],
        rider=codes["rider"].astype(np.int64),
        event=arrays["event"].astype(np.int64),
        venue=codes["venue"].astype(np.int64),
        fold=codes["fold"].astype(np.int64),
        day=arrays["day"],
    )
    return _knowing(model, walks=_walks(arrays, codes))


def past_of(part: Part, learnt: Model) -> Model:
    """Return what was learnt, with what sums over a part's past sessions need, and no more.

    Parameters
    ----------
    part : Part
        The part.
    learnt : Model
        What was learnt.

    Returns
    -------
    Model
        It knows its walks, what is looked up in sums, and what sessions count whatever the walk.
    """
    arrays, codes = _mapped(part)
    walks = _walks(arrays, codes)
    past = learnt.walk_table(arrays["walk_fields"], walks.venue, arrays["day"][walks.first])
    return _knowing(
        replace(learnt),
        walks=walks,
        past=past,
        lookup=_lookup(part, learnt),
        overall_weight=codes["overall_weight"],
        settled_at_all=codes["settled_at_all"],
    )


def taken_from(part: Part, learnt: Model, rows: Integers) -> tuple[Model, list[str]]:
    """Take some sessions out of a part.

    Parameters
    ----------
    part : Part
        The part.
    learnt : Model
        What was learnt.
    rows : integer array
        Rows of the part.

    Returns
    -------
    model : Model
        What was learnt with those sessions alone; its events are the part's own.
    event_name : list of str
        Names of the part's events.
    """
    from setupadvisor.learning.stores import with_sessions  # noqa: PLC0415

    _, words = mapped_arrays(part.folder / SESSIONS)
    return with_sessions(learnt, sessions_of(part, learnt), rows), words["event_name"]


def worth_of(part: Part) -> Floats:
    """Return what the rider's mark is worth in each of a part's sessions.

    Parameters
    ----------
    part : Part
        The part.

    Returns
    -------
    (n,) array
        Worth.
    """
    return mapped_arrays(part.folder / CODES)[0]["worth"]


def lookup_file(learnt: Model) -> str:
    """Name the file of what is looked up in sums: it follows from amounts and habits.

    Parameters
    ----------
    learnt : Model
        What was learnt.

    Returns
    -------
    str
        The file's name.
    """
    mark = hashlib.sha256(learnt.rule_shift.tobytes() + learnt.habit.tobytes()).hexdigest()
    return f"lookup-{mark[:16]}.safetensors"


def _lookup(part: Part, learnt: Model) -> Any:
    """Map what is looked up in sums, written down the first time it is asked for."""
    path = part.folder / lookup_file(learnt)
    if not path.exists():
        for other in part.folder.glob("lookup-*"):
            other.unlink()
        written = path.with_suffix(".part")
        write_arrays(written, {"lookup": sessions_of(part, learnt).lookup})
        written.replace(path)
    return mapped_arrays(path)[0]["lookup"]


def _mapped(part: Part) -> tuple[dict[str, Any], dict[str, Any]]:
    arrays, _ = mapped_arrays(part.folder / SESSIONS)
    codes, _ = mapped_arrays(part.folder / CODES)
    return arrays, codes


def _walks(arrays: dict[str, Any], codes: dict[str, Any]) -> DistinctWalks:
    return DistinctWalks(
        first=arrays["walk_first"],
        of_session=arrays["walk_of_session"],
        venue=codes["walk_venue"],
    )


def _knowing(model: Model, **known: Any) -> Model:
    """Tell a model what it would work out by itself: cached properties are kept by their name."""
    model.__dict__.update(known)
    return model
