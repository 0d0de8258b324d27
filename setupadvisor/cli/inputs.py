"""Files named on the command line, read together so that all their mistakes are shown at once."""

from __future__ import annotations

import sys
from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from pathlib import Path
from typing import TYPE_CHECKING, TypeVar

import numpy as np
from pydantic_core import PydanticCustomError

from setupadvisor.advice.workshop import house_machine
from setupadvisor.entries.archive import is_archive
from setupadvisor.entries.files import load_entry
from setupadvisor.entries.logbook.location import is_book
from setupadvisor.entries.machine import Machine
from setupadvisor.entries.rider import Rider
from setupadvisor.entries.session import Setup
from setupadvisor.entries.yaml_file import read_yaml
from setupadvisor.errors import InputError, Mistake

if TYPE_CHECKING:
    from setupadvisor.entries.season import Season

Found = TypeVar("Found")


@dataclass
class Gathering:
    """Collects the mistakes of several inputs before anything is refused.

    Parameters
    ----------
    mistakes : list of Mistake
        Those found so far.
    """

    mistakes: list[Mistake] = field(default_factory=list)

    def take(self, read: Callable[[], Found]) -> Found | None:
        """Read one input, keeping its mistakes for later."""
        try:
            return read()
        except InputError as error:
            self.mistakes.extend(error.mistakes)
            return None

    def done(self) -> None:
        """Refuse all inputs together if any had a mistake.

        Raises
        ------
        InputError
            With all mistakes.
        """
        if self.mistakes:
            raise InputError(self.mistakes)


def read_machine(path: Path | None) -> Machine:
    """Read a machine file, or the bundled machine.

    Parameters
    ----------
    path : pathlib.Path or None
        The file.

    Returns
    -------
    Machine
        The machine.
    """
    return house_machine() if path is None else load_entry(path, Machine)


def read_setup(path: Path, machine: Machine) -> dict[str, float]:
    """Read what is on a motorcycle, checked against its settings.

    Parameters
    ----------
    path : pathlib.Path
        The setup file.
    machine : Machine
        The machine it belongs to.

    Returns
    -------
    dict of str to float
        Value by setting.

    Raises
    ------
    InputError
        With every unknown setting and every value that cannot be.
    """
    document = read_yaml(path)
    setup = load_entry(path, Setup)
    mistakes = []
    values: dict[str, float] = {}
    if setup.machine is not None and setup.machine != machine.name:
        mistakes.append(
            Mistake(
                document.where(("machine",)),
                f"the setup is of {setup.machine!r}, the machine is {machine.name!r}",
                "give the setup's own machine with --machine",
            )
        )
    for name, written in setup.settings.items():
        where = document.where(("settings", name))
        setting = machine.settings.get(name)
        if setting is None:
            mistakes.append(
                Mistake(
                    where,
                    f"{machine.name} has no setting {name!r}",
                    _near(name, machine.settings),
                )
            )
            continue
        try:
            values[name] = setting.read(written)
        except PydanticCustomError as error:
            context = error.context or {}
            mistakes.append(Mistake(where, context["found"], context["mend"]))
    if mistakes:
        raise InputError(mistakes)
    return values


def _near(name: str, known: Mapping[str, object]) -> str:
    from difflib import get_close_matches  # noqa: PLC0415 - only for a message

    near = get_close_matches(name, known, n=1)
    return f"did you mean {near[0]}?" if near else f"known here: {', '.join(known)}"


def riders_beside(season: Path) -> dict[str, Rider]:
    """Read the rider files that belong to a season: the folder `riders` beside it.

    Parameters
    ----------
    season : pathlib.Path
        The season's file.

    Returns
    -------
    dict of str to Rider
        By name.
    """
    return {rider.name: rider for rider in _folder(season.parent / "riders", Rider)}


def machines_beside(season: Path, machine: Machine) -> dict[str, Machine]:
    """Read the machine files that belong to a season: the folder `machines` beside it.

    Parameters
    ----------
    season : pathlib.Path
        The season's file.
    machine : Machine
        The machine named on the command line, which takes precedence.

    Returns
    -------
    dict of str to Machine
        By name.
    """
    found = {entry.name: entry for entry in _folder(season.parent / "machines", Machine)}
    return {**found, machine.name: machine}


EntryType = TypeVar("EntryType", Rider, Machine)


def _folder(folder: Path, model: type[EntryType]) -> list[EntryType]:
    return [load_entry(path, model) for path in sorted(folder.glob("*.yaml"))]


def read_season_strictly(
    path: str | Path, machine: Machine, *, leave_out_bad_rows: bool = False
) -> tuple[Season, dict[str, Machine]]:
    """Read a season with the riders and machines beside it, or a logbook with those in it.

    Parameters
    ----------
    path : str or pathlib.Path
        The season: a table, a book in a file, or the address of a book on a server.
    machine : Machine
        The machine named on the command line.
    leave_out_bad_rows : bool
        Whether faulty rows are listed and left out instead of refused.

    Returns
    -------
    tuple of Season and dict of str to Machine
        The sound rows, and the machines by name.

    Raises
    ------
    InputError
        With every mistake, unless faulty rows are left out; always when none is sound.
    """
    if is_book(path):
        from setupadvisor.entries.logbook.book import season_from_book  # noqa: PLC0415

        season, mistakes, machines = season_from_book(path, {machine.name: machine})
    else:
        from setupadvisor.entries.season import read_season  # noqa: PLC0415 - brings pandas

        if is_archive(path):
            mend = f"learn from it once: setupadvisor retrain {path} -o MODEL, then --model MODEL"
            raise InputError(Mistake(str(path), "this is an archive, no season's table", mend))
        machines = machines_beside(Path(path), machine)
        season, mistakes = read_season(path, machines, riders_beside(Path(path)))
    for notice in season.notices:
        print(notice, file=sys.stderr)
    if mistakes and not leave_out_bad_rows:
        hint = Mistake(
            str(path),
            "there are faulty rows, listed above",
            "mend them, or go on without them: retrain --leave-out-bad-rows",
        )
        raise InputError([*mistakes, hint])
    for mistake in mistakes:
        print(f"left out: {mistake}", file=sys.stderr)
    if not len(season):
        raise InputError(
            Mistake(str(path), "no sound session is left", "mend the rows listed above")
        )
    if len(season) == 1:
        mend = "a season needs two or more to compare them: add sessions, or go without --season"
        raise InputError(Mistake(str(path), "there is one session alone", mend))
    if np.isnan(season.values).all():
        mend = "add columns such as setup.fork_height: what was on the motorcycle"
        raise InputError(Mistake(str(path), "no session says what was set", mend))
    return season, machines
