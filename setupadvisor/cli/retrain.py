"""The command `retrain`: learn from a season, and say how well against simpler ways."""

from __future__ import annotations

import argparse
import json
import sys
from pathlib import Path

from setupadvisor.advice.season_learning import learn_and_evaluate
from setupadvisor.advice.workshop import open_workshop
from setupadvisor.cli.error_table import error_table
from setupadvisor.cli.inputs import Gathering, machines_beside, read_machine, riders_beside
from setupadvisor.cli.progress import Progress
from setupadvisor.entries.machine import Machine
from setupadvisor.entries.season import Season, read_season
from setupadvisor.errors import InputError, Mistake
from setupadvisor.learning.model_file import save_model


def run(options: argparse.Namespace) -> int:
    """Train, measure, write the model, print the errors.

    Parameters
    ----------
    options : argparse.Namespace
        The command line.

    Returns
    -------
    int
        0.

    Raises
    ------
    InputError
        With every mistake in the season; nothing is written then.
    """
    files = Gathering()
    machine = files.take(lambda: read_machine(options.machine))
    files.done()
    if machine is None:
        raise AssertionError("files.done() refuses missing inputs")
    workshop = open_workshop(machine, options.rules)
    season, machines = read_season_strictly(
        options.season, machine, leave_out_bad_rows=options.leave_out_bad_rows
    )
    _refuse_unwritable(options.output)
    progress = Progress()
    learnt = learn_and_evaluate(
        season,
        workshop,
        machines,
        options.rules,
        level=options.level,
        progress=progress,
        jobs=options.jobs,
        compare=not options.no_comparison,
    )
    progress.done()
    save_model(learnt.model, options.output, learnt.provenance)
    if options.json:
        json.dump(learnt.to_json(), sys.stdout, ensure_ascii=False, indent=1)
        print()
    else:
        print(error_table(learnt, workshop.machine), end="")
        print(f"\nWrote {options.output}. Next: setupadvisor advise WALK --model {options.output}")
    return 0


def read_season_strictly(
    path: Path, machine: Machine, *, leave_out_bad_rows: bool = False
) -> tuple[Season, dict[str, Machine]]:
    """Read a season with the riders and machines beside it.

    Parameters
    ----------
    path : pathlib.Path
        The season.
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
    machines = machines_beside(path, machine)
    season, mistakes = read_season(path, machines, riders_beside(path))
    for notice in season.notices:
        print(notice, file=sys.stderr)
    if mistakes and not leave_out_bad_rows:
        hint = Mistake(
            str(path),
            f"{len({_row(mistake) for mistake in mistakes})} faulty rows",
            "mend them, or give --leave-out-bad-rows to go on without them",
        )
        raise InputError([*mistakes, hint])
    for mistake in mistakes:
        print(f"left out: {mistake}", file=sys.stderr)
    if not len(season):
        raise InputError(
            Mistake(str(path), "no sound session is left", "mend the rows listed above")
        )
    return season, machines


def _row(mistake: Mistake) -> str:
    return mistake.where.split(" ", 1)[0]


def _refuse_unwritable(path: Path) -> None:
    """Refuse before the long work what could not be written after it."""
    if path.is_dir():
        raise InputError(Mistake(str(path), "this is a folder", "name a file in it"))
    if not path.parent.is_dir():
        raise InputError(Mistake(str(path), "its folder does not exist", "make the folder first"))
