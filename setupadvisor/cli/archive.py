"""The command `archive`: make an archive of one or more seasons."""

from __future__ import annotations

import argparse
import json
import sys
from functools import partial
from pathlib import Path

from setupadvisor.cli.inputs import Gathering, machines_beside, read_machine, riders_beside
from setupadvisor.cli.progress import Progress
from setupadvisor.entries.archive import is_archive, open_archive
from setupadvisor.entries.archive_blocks import Source
from setupadvisor.entries.archive_writing import write_archive
from setupadvisor.entries.machine import Machine
from setupadvisor.entries.new_folder import refuse_unwritable
from setupadvisor.entries.season import NEEDED
from setupadvisor.errors import InputError, Mistake


def run(options: argparse.Namespace) -> int:
    """Read the tables, write the archive, say what it holds.

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
        With every mistake in the tables; nothing is written then.
    """
    refuse_unwritable(options.output, folder=True)
    machine = read_machine(options.machine)
    files = Gathering()
    sources: list[Source] = []
    for path in options.seasons:
        sources += files.take(partial(_sources, path, machine)) or []
    files.done()
    progress = Progress()
    written = write_archive(
        sources,
        options.output,
        options.rows,
        leave_out_bad_rows=options.leave_out_bad_rows,
        progress=progress,
    )
    progress.done()
    for notice in written.notices:
        print(notice, file=sys.stderr)
    for mistake in written.left_out:
        print(f"left out: {mistake}", file=sys.stderr)
    if options.json:
        told = {"parts": written.parts, "sessions": written.sessions, "events": written.events}
        json.dump({**told, "folder": str(options.output)}, sys.stdout)
        print()
    else:
        print(
            f"Wrote {options.output}: {written.sessions} session{_s(written.sessions)}, "
            f"{written.events} event{_s(written.events)}, {written.parts} part{_s(written.parts)}. "
            f"Next: setupadvisor retrain {options.output} -o MODEL"
        )
    return 0


def _s(count: int) -> str:
    return "" if count == 1 else "s"


def _sources(path: Path, machine: Machine) -> list[Source]:
    if path.is_dir():
        if not is_archive(path):
            mend = "name a table, or the folder of an archive"
            raise InputError(Mistake(str(path), "there is no Parquet file in this folder", mend))
        archive = open_archive(path, NEEDED)
        machines = {**archive.machines, machine.name: machine}
        riders = archive.riders
        return [Source(part, machines, riders) for part in archive.parts]
    return [Source(path, machines_beside(path, machine), riders_beside(path))]
