"""From an archive to a model: each part read, judged and worked out on its own."""

from __future__ import annotations

import hashlib
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from setupadvisor.advice.archive_parts import Looked, Part, look_at
from setupadvisor.advice.season_learning import made_with
from setupadvisor.advice.workshop import Workshop, knowledge
from setupadvisor.entries.archive import Archive, bounded
from setupadvisor.entries.archive_keys import doubled_sessions, split_events
from setupadvisor.entries.machine import Machine
from setupadvisor.errors import InputError, Mistake
from setupadvisor.learning.in_parts import ModelInParts, train_in_parts
from setupadvisor.learning.many_cores import run_in_turn
from setupadvisor.learning.model import LEVEL
from setupadvisor.learning.training import Progress

# Events in more than one part are named up to this many.
MOST_EVENTS_NAMED = 10


@dataclass(frozen=True)
class Judged:
    """An archive that can be learnt from.

    Parameters
    ----------
    parts : tuple of Part
        Those with a sound session.
    sessions, events : int
        Sound ones.
    digest : str
        Of identifiers and values.
    left_out : list of Mistake
        Mistakes of rows that are not learnt from.
    notices : tuple of str
        What is ignored.
    """

    parts: tuple[Part, ...]
    sessions: int
    events: int
    digest: str
    left_out: list[Mistake]
    notices: tuple[str, ...]


def judged(
    archive: Archive,
    machine: Machine,
    rule_folders: Sequence[Path] = (),
    *,
    leave_out_bad_rows: bool = False,
    progress: Progress | None = None,
    jobs: int = 1,
) -> Judged:
    """Read all parts once, and refuse the archive with the mistakes of all of them.

    Parameters
    ----------
    archive : Archive
        The archive.
    machine : Machine
        The machine the model is for; it goes before one of the same name in the archive.
    rule_folders : sequence of pathlib.Path
        A team's own rules.
    leave_out_bad_rows : bool
        Whether faulty rows are left out instead of refused.
    progress : callable, optional
        Called as the work goes on.
    jobs : int
        Processes to use.

    Returns
    -------
    Judged
        Its parts, ready to be read again.

    Raises
    ------
    InputError
        With a bounded number of mistakes: faulty rows and sessions that stand in two parts, unless
        they are left out; always with events that stand in two parts.
    """
    split = split_events(archive, MOST_EVENTS_NAMED, progress)
    if split:
        raise InputError(split)
    doubled, mistakes = doubled_sessions(archive, progress)
    machines = {**archive.machines, machine.name: machine}
    riders = archive.riders
    parts = [
        Part(
            shown=str(path),
            path=path.absolute(),
            machine=machine,
            machines=machines,
            riders=riders,
            rule_folders=tuple(folder.absolute() for folder in rule_folders),
            left_out=doubled.get(number, frozenset()),
            leave_out_bad_rows=leave_out_bad_rows,
        )
        for number, path in enumerate(archive.parts)
    ]
    tell = progress or (lambda what, done, total: None)
    looked: list[Looked] = []
    for one in run_in_turn(look_at, ({"part": part} for part in parts), n_jobs=jobs):
        looked.append(one)
        tell("parts looked at", len(looked), len(parts))
    mistakes += [mistake for one in looked for mistake in one.mistakes]
    more = sum(one.more_mistakes for one in looked)
    told = bounded(mistakes, archive.folder, more)
    if mistakes and not leave_out_bad_rows:
        hint = Mistake(
            str(archive.folder),
            "there are faulty rows, listed above",
            "mend them, or go on without them: --leave-out-bad-rows",
        )
        raise InputError([*told, hint])
    sessions = sum(one.sessions for one in looked)
    _refuse_too_little(archive, sessions, any(one.records_settings for one in looked))
    digest = hashlib.sha256("".join(one.digest for one in looked).encode()).hexdigest()
    return Judged(
        parts=tuple(part for part, one in zip(parts, looked, strict=True) if one.sessions),
        sessions=sessions,
        events=sum(one.events for one in looked),
        digest=digest,
        left_out=told,
        notices=_together(archive, [notice for one in looked for notice in one.notices]),
    )


def learn_from_archive(
    archive: Judged,
    name: str,
    workshop: Workshop,
    folder: Path,
    *,
    level: float = LEVEL,
    progress: Progress | None = None,
    jobs: int = 1,
) -> tuple[ModelInParts, dict[str, Any]]:
    """Train a model on an archive and write it into a folder.

    Parameters
    ----------
    archive : Judged
        The archive's parts.
    name : str
        What to call it.
    workshop : Workshop
        The machine and its rules.
    folder : pathlib.Path
        The model's folder, which must not exist yet.
    level : float
        Level of the ranges.
    progress : callable, optional
        Called as the work goes on.
    jobs : int
        Processes to use.

    Returns
    -------
    tuple of ModelInParts and dict
        The model, and what it is made of.
    """
    provenance = {
        **made_with(workshop),
        "season": name,
        "season_digest": archive.digest,
        "sessions": archive.sessions,
        "events": archive.events,
    }
    model = train_in_parts(
        archive.parts,
        knowledge(workshop),
        folder,
        provenance,
        level=level,
        progress=progress,
        n_jobs=jobs,
    )
    return model, provenance


def _refuse_too_little(archive: Archive, sessions: int, records_settings: bool) -> None:
    where = str(archive.folder)
    if not sessions:
        raise InputError(Mistake(where, "no sound session is left", "mend the rows listed above"))
    if sessions == 1:
        raise InputError(Mistake(where, "there is one session alone", "add sessions to compare"))
    if not records_settings:
        mend = "add columns such as setup.fork_height: what was on the motorcycle"
        raise InputError(Mistake(where, "no session says what was set", mend))


def _together(archive: Archive, notices: Sequence[str]) -> tuple[str, ...]:
    """Tell once what is ignored in many parts."""
    counts: dict[str, int] = {}
    for notice in notices:
        counts[notice] = counts.get(notice, 0) + 1
    many = len(archive.parts) > 1
    return tuple(
        f"{archive.folder}: {notice}" + (f" (parts: {count})" if many else "")
        for notice, count in counts.items()
    )
