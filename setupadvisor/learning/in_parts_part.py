"""One part of an archive, as a model that holds that part's sessions alone."""

from __future__ import annotations

import hashlib
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

import numpy as np

from setupadvisor.learning.distinct import DistinctWalks
from setupadvisor.learning.even_choice import Chosen, settled_rows
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


def sessions_of(part: Part, learnt: Model, rows: Integers | None = None) -> Model:
    """Return what was learnt, with all that is known of a part's sessions.

    Parameters
    ----------
    part : Part
        The part.
    learnt : Model
        What was learnt.
    rows : (k,) integer array, optional
        Which sessions; all of them if not given.

    Returns
    -------
    Model
        Its events are the part's own.
    """
    arrays, codes = _mapped(part)
    taken: Integers | slice = slice(None) if rows is None else rows
    judged = arrays["degrees"][arrays["degrees_of_session"][taken]]
    degrees = np.full((len(judged), len(learnt.rule)), np.nan)
    degrees[:, rules_that_touch(learnt.amounts)] = judged
    model = replace(
        learnt,
        fields=arrays["walk_fields"][arrays["walk_of_session"][taken]],
        degrees=degrees,
        target=arrays["target"][taken],
        weight=arrays["share"][taken] * codes["worth"][taken, None],
        settled=arrays["settled"][taken],
        rider=codes["rider"][taken].astype(np.int64),
        event=arrays["event"][taken].astype(np.int64),
        venue=codes["venue"][taken].astype(np.int64),
        fold=codes["fold"][taken].astype(np.int64),
        day=arrays["day"][taken],
    )
    return model if rows is not None else _knowing(model, walks=_walks(arrays, codes))


def settled_rows_of(part: Part, chosen: Chosen) -> tuple[Integers, Floats]:
    """Find settled sessions of a part.

    Parameters
    ----------
    part : Part
        The part.
    chosen : Chosen
        Which, by events of the part.

    Returns
    -------
    rows : (q,) integer array
        Their rows, ascending.
    worth : (q,) array
        What the rider's mark is worth.
    """
    arrays, codes = _mapped(part)
    rows = settled_rows(chosen, arrays["event"], arrays["day"], codes["settled_at_all"])
    rows = np.sort(rows)
    return rows, codes["worth"][rows]


def rows_of_events(part: Part, events: Integers) -> Integers:
    """Find the sessions of some events of a part.

    Parameters
    ----------
    part : Part
        The part.
    events : integer array
        Events of the part.

    Returns
    -------
    integer array
        Rows, ascending.
    """
    among = np.zeros(part.n_events, dtype=bool)
    among[events] = True
    return np.flatnonzero(among[_mapped(part)[0]["event"]])


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


def event_names_of(part: Part) -> list[str]:
    """Name a part's events.

    Parameters
    ----------
    part : Part
        The part.

    Returns
    -------
    list of str
        Names, in the order of their codes.
    """
    names: list[str] = mapped_arrays(part.folder / SESSIONS)[1]["event_name"]
    return names


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
