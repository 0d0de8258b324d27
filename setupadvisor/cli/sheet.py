"""The command `sheet`: the setup and the day's history on one page."""

from __future__ import annotations

import argparse
import json
import sys
from collections.abc import Mapping
from pathlib import Path

from setupadvisor.advice.consult import consult
from setupadvisor.advice.day_next import records_of, remarks_of, tried_of
from setupadvisor.advice.day_records import DaySheet
from setupadvisor.advice.day_sheet import SetupsOfDay, day_sheet, setups_of
from setupadvisor.advice.next_change import next_change
from setupadvisor.advice.next_records import NextChange
from setupadvisor.advice.records import Advice
from setupadvisor.advice.workshop import Workshop, open_workshop, situations
from setupadvisor.cli.advise import model_for
from setupadvisor.cli.book_day import WrittenDay, machine_of_day, read_day
from setupadvisor.cli.inputs import Gathering, read_machine, read_setup
from setupadvisor.entries.files import load_entry, write_atomic
from setupadvisor.entries.messages import nearest, shown
from setupadvisor.entries.rider import Rider
from setupadvisor.entries.walk import Walk
from setupadvisor.errors import InputError, Mistake
from setupadvisor.facts.columns import columns_from_entries

ENDINGS = (".html", ".htm")


def run(options: argparse.Namespace) -> int:
    """Read files or the logbook, put the sheet together, print or write it.

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
        With every mistake in the files, or when the book knows nothing of the day.
    """
    if options.html is not None and options.html.suffix.lower() not in ENDINGS:
        found = "this does not end in .html"
        raise InputError(Mistake(str(options.html), found, f"write {options.html.stem}.html"))
    sheet = _from_files(options) if options.walk is not None else _from_book(options)
    if options.html is not None:
        from setupadvisor.cli.sheet_html import sheet_html  # noqa: PLC0415 - only where asked for

        write_atomic(options.html, sheet_html(sheet).encode())
        print(
            f"{options.html} is written: print it from a browser, on A4 or Letter.",
            file=sys.stderr,
        )
    if options.json:
        json.dump(sheet.to_json(), sys.stdout, allow_nan=False, indent=1)
        print()
    elif options.html is None:
        from setupadvisor.cli.sheet_text import sheet_text  # noqa: PLC0415 - only where asked for

        print(sheet_text(sheet), end="")
    return 0


def _from_files(options: argparse.Namespace) -> DaySheet:
    if options.book is not None or options.event is not None:
        mend = "give either WALK, or --event and --rider with --book"
        raise InputError(Mistake("sheet", "both a walk file and the logbook are named", mend))
    files = Gathering()
    walk = files.take(lambda: load_entry(options.walk, Walk))
    machine = files.take(lambda: read_machine(options.machine))
    rider = files.take(lambda: load_entry(Path(options.rider), Rider)) if options.rider else None
    on_bike: dict[str, float] | None = None
    if machine is not None and options.on_bike:
        on_bike = files.take(lambda: read_setup(options.on_bike, machine))
    files.done()
    if walk is None or machine is None:
        raise AssertionError("files.done() refuses missing inputs")
    workshop = open_workshop(machine, options.rules)
    advice = _advice(options, workshop, walk, rider, on_bike)
    return day_sheet(machine, advice=advice, setup=on_bike)


def _from_book(options: argparse.Namespace) -> DaySheet:
    written = read_day(options)
    if not written.day.outings and options.rider not in written.riders:
        near = nearest(options.rider, written.riders)
        mend = f"did you mean {near}?" if near else "log show lists the riders"
        found = f"no rider {shown(options.rider)} is in the book"
        raise InputError(Mistake("--rider", found, mend))
    machine = machine_of_day(options, written)
    workshop = open_workshop(machine, options.rules)
    rider = written.riders.get(options.rider) or Rider(name=options.rider)
    day, setups = written.day, setups_of(machine, written.day)
    advice = None
    if day.walk is not None:
        advice = _advice(options, workshop, day.walk, rider, setups.now or None)
    proposed = _proposed(options, workshop, rider, written, setups)
    return day_sheet(machine, advice=advice, day=day, proposed=proposed)


def _advice(
    options: argparse.Namespace,
    workshop: Workshop,
    walk: Walk,
    rider: Rider | None,
    on_bike: Mapping[str, float] | None,
) -> Advice:
    model, provenance = model_for(options, workshop)
    return consult(
        workshop,
        walk,
        model,
        rider=rider,
        on_bike=on_bike,
        minutes=options.minutes,
        provenance=provenance,
    )


def _proposed(
    options: argparse.Namespace,
    workshop: Workshop,
    rider: Rider,
    written: WrittenDay,
    setups: SetupsOfDay,
) -> NextChange | None:
    """Propose a change where the rider said something after the last outing."""
    day = written.day
    if day.walk is None or not day.outings:
        return None
    remarks, unclear = remarks_of(day.outings[-1].remarks, workshop.rulebase.remarks)
    for clause in unclear:
        print(f"not understood, and does not count: {shown(clause)}", file=sys.stderr)
    if not remarks:
        return None
    return next_change(
        workshop,
        situations(workshop, columns_from_entries(day.walk, rider), 1),
        setups.now,
        remarks,
        tried=tried_of(day.changes, workshop.machine),
        records=records_of(written.counts, workshop.machine, workshop.rulebase.remarks),
        minutes=options.minutes,
    )
