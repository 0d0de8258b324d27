"""One rider's day out of the logbook, as commands read it."""

from __future__ import annotations

import argparse
from collections.abc import Mapping
from dataclasses import dataclass

from setupadvisor.cli.inputs import read_machine
from setupadvisor.entries.logbook.records import ChangeCount, Day
from setupadvisor.entries.machine import Machine
from setupadvisor.entries.messages import nearest, shown
from setupadvisor.entries.rider import Rider
from setupadvisor.errors import InputError, Mistake


@dataclass(frozen=True)
class WrittenDay:
    """What the book holds of a day.

    Parameters
    ----------
    day : Day
        Outings, remarks, laps and changes.
    counts : tuple of ChangeCount
        How changes did over the whole book.
    riders, machines : mapping
        Entries by name.
    """

    day: Day
    counts: tuple[ChangeCount, ...]
    riders: Mapping[str, Rider]
    machines: Mapping[str, Machine]


def read_day(options: argparse.Namespace) -> WrittenDay:
    """Read what one rider did at one event.

    Parameters
    ----------
    options : argparse.Namespace
        With ``book``, ``event``, ``rider`` and ``on_bike``.

    Returns
    -------
    WrittenDay
        The day, and what stands beside it in the book.

    Raises
    ------
    InputError
        If it was not said whose day it is, or the book knows nothing of it.
    """
    missing = [name for name in ("event", "rider") if getattr(options, name) is None]
    if missing:
        named = " and ".join(f"--{name}" for name in missing)
        mend = f"give {named}, or a walk file to go without the logbook"
        raise InputError(Mistake("the logbook", "whose day it is was not said", mend))
    if options.on_bike:
        mend = "leave it out, or write the setup into the book as an outing or a change"
        raise InputError(Mistake("--on-bike", "the logbook says what is on the motorcycle", mend))
    from setupadvisor.entries.logbook.book import open_book  # noqa: PLC0415 - brings SQLAlchemy

    with open_book(options.book, create=False) as book:
        day = book.day(options.event, options.rider)
        if not day.outings and day.walk is None:
            found = f"nothing is written of {shown(options.event)} and rider {shown(options.rider)}"
            near = nearest(options.rider, book.riders())
            mend = f"did you mean the rider {near}?" if near else "log show lists what is there"
            raise InputError(Mistake(book.where, found, mend))
        return WrittenDay(day, tuple(book.record_of_changes()), book.riders(), book.machines())


def machine_of_day(options: argparse.Namespace, written: WrittenDay) -> Machine:
    """Take the machine of the last outing: from a file, the book, or the bundled one.

    Parameters
    ----------
    options : argparse.Namespace
        With ``machine``.
    written : WrittenDay
        The day.

    Returns
    -------
    Machine
        The machine.

    Raises
    ------
    InputError
        If nobody has its file.
    """
    if options.machine is not None:
        return read_machine(options.machine)
    if not written.day.outings:
        return read_machine(None)
    name = written.day.outings[-1].outing.machine
    if name in written.machines:
        return written.machines[name]
    house = read_machine(None)
    if house.name != name:
        found = f"the machine {shown(name)} is not in the book"
        raise InputError(Mistake("the logbook", found, "give its file with --machine"))
    return house
