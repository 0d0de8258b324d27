"""The command `retrain`: learn from a season, and say how well against simpler ways."""

from __future__ import annotations

import argparse
import json
import sys
from pathlib import Path

from setupadvisor.advice.season_learning import learn_and_evaluate
from setupadvisor.advice.workshop import open_workshop
from setupadvisor.cli.cluster import on_cluster
from setupadvisor.cli.error_table import error_table
from setupadvisor.cli.inputs import Gathering, read_machine, read_season_strictly
from setupadvisor.cli.progress import Progress
from setupadvisor.cli.retrain_archive import retrain_on_archive
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
    if isinstance(options.season, Path) and options.season.is_dir():
        return retrain_on_archive(options, workshop)
    season, machines = read_season_strictly(
        options.season, machine, leave_out_bad_rows=options.leave_out_bad_rows
    )
    _refuse_unwritable(options.output)
    progress = Progress()
    with on_cluster(options.cluster, options.jobs) as jobs:
        learnt = learn_and_evaluate(
            season,
            workshop,
            machines,
            options.rules,
            level=options.level,
            progress=progress,
            jobs=jobs,
            forest=not options.no_forest,
        )
        progress.done()
    save_model(learnt.model, options.output, learnt.provenance)
    if options.json:
        json.dump(learnt.to_json(), sys.stdout, allow_nan=False, indent=1)
        print()
    else:
        print(error_table(learnt, workshop.machine), end="")
        print(f"\nWrote {options.output}. Next: setupadvisor advise WALK --model {options.output}")
    return 0


def _refuse_unwritable(path: Path) -> None:
    """Refuse before the long work what could not be written after it."""
    if path.is_dir():
        raise InputError(Mistake(str(path), "this is a folder", "name a file in it"))
    if not path.parent.is_dir():
        raise InputError(Mistake(str(path), "its folder does not exist", "make the folder first"))
