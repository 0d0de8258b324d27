"""The command `bulk`: the setup for every row of a table of walks."""

from __future__ import annotations

import argparse
import sys
from pathlib import Path

from setupadvisor.advice.bulk_tables import Asked, advise_tables, look_over, model_at, stamp_of
from setupadvisor.advice.workshop import open_workshop
from setupadvisor.cli.advise import check_model
from setupadvisor.cli.cluster import on_cluster
from setupadvisor.cli.inputs import Gathering, read_machine, riders_beside
from setupadvisor.cli.progress import Progress
from setupadvisor.entries.archive import open_archive
from setupadvisor.entries.rider import Rider
from setupadvisor.entries.table_writing import new_table
from setupadvisor.entries.walk_rows import NEEDED_OF_A_WALK
from setupadvisor.errors import InputError, Mistake
from setupadvisor.learning.model import Model
from setupadvisor.learning.ranges import events_needed


def run(options: argparse.Namespace) -> int:
    """Read the walks, advise on them, write the table.

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
        With every mistake in the files; nothing is written then.
    """
    if options.output.absolute() == options.table.absolute():
        mend = "name another with -o"
        raise InputError(Mistake(str(options.output), "this is the table of walks itself", mend))
    machine = read_machine(options.machine)
    files = Gathering()
    workshop = files.take(lambda: open_workshop(machine, options.rules))
    tables = files.take(lambda: _tables(options.table))
    read = files.take(lambda: model_at(options.model, stamp_of(options.model)))
    files.done()
    if workshop is None or tables is None or read is None:
        raise AssertionError("files.done() refuses missing inputs")
    model, provenance = read
    check_model(options.model, provenance, workshop)
    learnt = model if isinstance(model, Model) else model.learnt
    paths, riders = tables
    asked = Asked(
        tables=paths,
        where=options.table,
        model=options.model.absolute(),
        machine=machine,
        riders=riders,
        known_riders=frozenset(learnt.rider_name),
        rule_folders=tuple(folder.absolute() for folder in options.rules),
        level=options.level,
    )
    progress = Progress()
    seen = look_over(asked, progress)
    progress.done()
    for notice in seen.notices:
        print(notice, file=sys.stderr)
    if seen.mistakes and not options.leave_out_bad_rows:
        hint = Mistake(
            str(options.table),
            "there are faulty rows, listed above",
            "mend them, or go on without them: --leave-out-bad-rows",
        )
        raise InputError([*seen.mistakes, hint])
    for mistake in seen.mistakes:
        print(f"left out: {mistake}", file=sys.stderr)
    if not seen.walks:
        raise InputError(Mistake(str(options.table), "no sound walk stands there", "add a row"))
    with on_cluster(options.cluster, options.jobs) as jobs, new_table(options.output) as write:
        advise_tables(asked, write, seen.walks, progress=progress, jobs=jobs)
        progress.done()
    print(f"Wrote {options.output}: {seen.walks} walk{'s' if seen.walks > 1 else ''}.")
    level = learnt.level if options.level is None else options.level
    wide = sum(count < events_needed(level) for count in learnt.events_by_setting.tolist())
    if wide:
        print(
            f"Events are too few for ranges of {level:.0%} in {wide} settings: those show how firm "
            "the rules are.",
            file=sys.stderr,
        )
    return 0


def _tables(path: Path) -> tuple[tuple[Path, ...], dict[str, Rider]]:
    if path.is_dir():
        archive = open_archive(path, NEEDED_OF_A_WALK)
        return archive.parts, archive.riders
    return (path,), riders_beside(path)
