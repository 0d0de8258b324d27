"""The command `retrain` on an archive: a model in a folder, measured on a sample of events."""

from __future__ import annotations

import argparse
import json
import sys

from setupadvisor.advice.archive_learning import judged, learn_from_archive
from setupadvisor.advice.archive_sample import sample_of
from setupadvisor.advice.season_learning import learn_and_evaluate
from setupadvisor.advice.workshop import Workshop
from setupadvisor.cli.cluster import on_cluster
from setupadvisor.cli.error_table import error_table
from setupadvisor.cli.progress import Progress
from setupadvisor.entries.archive import open_archive
from setupadvisor.entries.new_folder import refuse_unwritable
from setupadvisor.entries.season import NEEDED
from setupadvisor.learning.in_parts import is_model_in_parts


def retrain_on_archive(options: argparse.Namespace, workshop: Workshop) -> int:
    """Train on an archive part by part, write the model's folder, print what a sample says.

    Parameters
    ----------
    options : argparse.Namespace
        The command line.
    workshop : Workshop
        The machine and its rules.

    Returns
    -------
    int
        0.

    Raises
    ------
    InputError
        With a bounded number of the mistakes of all parts; nothing is written then.
    """
    refuse_unwritable(options.output, folder=True, replaceable=is_model_in_parts)
    archive = open_archive(options.season, NEEDED)
    progress = Progress()
    name = options.season.resolve().name
    with on_cluster(options.cluster, options.jobs) as jobs:
        found = judged(
            archive,
            workshop.machine,
            options.rules,
            leave_out_bad_rows=options.leave_out_bad_rows,
            progress=progress,
            jobs=jobs,
        )
        progress.done()
        for said in (*found.notices, *(f"left out: {mistake}" for mistake in found.left_out)):
            print(said, file=sys.stderr)
        _, provenance = learn_from_archive(
            found, name, workshop, options.output, level=options.level, progress=progress, jobs=jobs
        )
        sample = sample_of(found.parts, found.sessions, name)
        learnt = learn_and_evaluate(
            sample,
            workshop,
            {**archive.machines, workshop.machine.name: workshop.machine},
            options.rules,
            level=options.level,
            progress=progress,
            jobs=jobs,
            forest=not options.no_forest,
        )
        progress.done()
    if options.json:
        told = {
            "model": provenance,
            "sample": {"sessions": len(sample), "events": len(set(sample.event))},
            "evaluation": learnt.evaluation.to_json(),
        }
        json.dump(told, sys.stdout, allow_nan=False, indent=1)
        print()
        return 0
    print(
        f"The archive: {found.sessions} sessions, "
        f"{found.events} event{'' if found.events == 1 else 's'}, "
        f"{len(found.parts)} part{'s' if len(found.parts) > 1 else ''}."
    )
    if len(sample) < found.sessions:
        print(
            f"Measured on {len(sample)} of its sessions, whole events spread evenly over it: what "
            "follows is\nlearnt from these alone, and the model knows all of them.\n"
        )
    print(error_table(learnt, workshop.machine), end="")
    print(f"\nWrote {options.output}. Next: setupadvisor advise WALK --model {options.output}")
    return 0
