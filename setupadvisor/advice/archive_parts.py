"""One part of an archive in any process: read, looked at, worked out."""

from __future__ import annotations

import hashlib
from collections.abc import Mapping
from dataclasses import dataclass, replace
from functools import lru_cache
from pathlib import Path

import numpy as np

from setupadvisor.advice.season_learning import sessions_from
from setupadvisor.advice.workshop import Workshop, open_workshop
from setupadvisor.entries.archive import MOST_TOLD
from setupadvisor.entries.machine import Machine
from setupadvisor.entries.rider import Rider
from setupadvisor.entries.season import Season, read_season
from setupadvisor.errors import InputError, Mistake
from setupadvisor.learning.sessions import Sessions


@dataclass(frozen=True)
class Part:
    """One part of an archive, and what it takes to read it in any process.

    Calling it gives its sessions.

    Parameters
    ----------
    shown : str
        The file as the user named it.
    path : pathlib.Path
        The file from wherever it is read.
    machine : Machine
        The machine the model is for.
    machines : mapping of str to Machine
        Machines by name.
    riders : mapping of str to Rider
        Riders by name.
    rule_folders : tuple of pathlib.Path
        A team's own rules.
    left_out : frozenset of str
        Sessions that stand in an earlier part already.
    leave_out_bad_rows : bool
        Whether faulty rows are left out instead of refused.
    """

    shown: str
    path: Path
    machine: Machine
    machines: Mapping[str, Machine]
    riders: Mapping[str, Rider]
    rule_folders: tuple[Path, ...] = ()
    left_out: frozenset[str] = frozenset()
    leave_out_bad_rows: bool = False

    def __call__(self) -> Sessions:
        """Read the part and work out house values and degrees of its sessions.

        Returns
        -------
        Sessions
            In the part's own names and codes.

        Raises
        ------
        InputError
            With the part's mistakes.
        """
        season, mistakes = self.read()
        if mistakes and not self.leave_out_bad_rows:
            raise InputError(mistakes)
        workshop = workshop_of(self.machine, self.rule_folders)
        try:
            return sessions_from(season, workshop, self.machines, self.rule_folders)
        except InputError as error:
            raise InputError(
                replace(mistake, where=f"{self.shown}: {mistake.where}")
                for mistake in error.mistakes
            ) from None

    def read(self) -> tuple[Season, list[Mistake]]:
        """Read the part's sound rows, and what is wrong with the others.

        Returns
        -------
        tuple of Season and list of Mistake
            As `read_season` gives them, without the sessions left out.

        Raises
        ------
        InputError
            If it cannot be read.
        """
        try:
            season, mistakes = read_season(self.path, self.machines, self.riders)
        except InputError as error:
            raise InputError(map(self._renamed, error.mistakes)) from None
        season = replace(
            season,
            source=self.shown,
            notices=tuple(notice.removeprefix(f"{self.path}: ") for notice in season.notices),
        )
        if self.left_out:
            season = season.take(~np.isin(season.session_id, list(self.left_out)))
        return season, list(map(self._renamed, mistakes))

    def _renamed(self, mistake: Mistake) -> Mistake:
        return Mistake(
            mistake.where.replace(str(self.path), self.shown),
            mistake.found.replace(str(self.path), self.shown),
            mistake.mend,
        )


@dataclass(frozen=True)
class Looked:
    """What a first look at a part found.

    Parameters
    ----------
    sessions, events : int
        Sound ones.
    records_settings : bool
        Whether any session says what was set.
    digest : str
        Of identifiers and values.
    mistakes : list of Mistake
        The first of them.
    more_mistakes : int
        How many there are besides.
    notices : tuple of str
        What is ignored.
    """

    sessions: int
    events: int
    records_settings: bool
    digest: str
    mistakes: list[Mistake]
    more_mistakes: int
    notices: tuple[str, ...]


def look_at(part: Part) -> Looked:
    """Read a part and say what it holds.

    Parameters
    ----------
    part : Part
        The part.

    Returns
    -------
    Looked
        Small enough to be sent from any process.
    """
    try:
        season, mistakes = part.read()
    except InputError as error:
        return Looked(0, 0, False, "", list(error.mistakes[:MOST_TOLD]), 0, ())
    content = hashlib.sha256("\n".join(map(str, season.session_id)).encode())
    content.update(np.nan_to_num(season.values, nan=-1e300).tobytes())
    return Looked(
        sessions=len(season),
        events=len(set(season.event)),
        records_settings=bool(np.isfinite(season.values).any()),
        digest=content.hexdigest(),
        mistakes=mistakes[:MOST_TOLD],
        more_mistakes=max(0, len(mistakes) - MOST_TOLD),
        notices=season.notices,
    )


def workshop_of(machine: Machine, rule_folders: tuple[Path, ...]) -> Workshop:
    """Open the workshop of a machine, once in each process.

    Parameters
    ----------
    machine : Machine
        The machine.
    rule_folders : tuple of pathlib.Path
        A team's own rules.

    Returns
    -------
    Workshop
        As `open_workshop` gives it.
    """
    return _opened(_Kept(machine, rule_folders))


@dataclass(frozen=True)
class _Kept:
    """What a workshop is opened with; machines are told apart by all they hold."""

    machine: Machine
    rule_folders: tuple[Path, ...]

    def __hash__(self) -> int:
        return hash((self.machine.name, self.rule_folders))


@lru_cache(maxsize=4)
def _opened(kept: _Kept) -> Workshop:
    return open_workshop(kept.machine, kept.rule_folders)
