"""The command `log`: what the team writes down, kept in one book."""

from __future__ import annotations

import argparse
import getpass
import math
import sys
from collections.abc import Callable
from functools import partial
from pathlib import Path

from setupadvisor.cli.inputs import (
    Gathering,
    machines_beside,
    read_machine,
    read_setup,
    riders_beside,
)
from setupadvisor.cli.log_outing import known_machine, note, outing
from setupadvisor.cli.log_show import show
from setupadvisor.entries.files import load_entry
from setupadvisor.entries.lap_times import FLAGS
from setupadvisor.entries.laps import LapTable, read_laps
from setupadvisor.entries.logbook.book import Book, open_book
from setupadvisor.entries.logbook.records import LapEntry
from setupadvisor.entries.logbook.writing import Writing
from setupadvisor.entries.machine import Machine
from setupadvisor.entries.quantity import Entry
from setupadvisor.entries.rider import Rider
from setupadvisor.entries.session import Setup
from setupadvisor.entries.walk import Walk
from setupadvisor.errors import InputError, Mistake

_READS = {"show", "export", "backup"}
_MODELS: dict[str, type[Entry]] = {"walk": Walk, "rider": Rider, "machine": Machine, "setup": Setup}


def run(options: argparse.Namespace) -> int:
    """Open the book and do what was asked.

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
        With every mistake; nothing of the writing is in the book then.
    """
    if "who" in options and options.who is None:
        options.who = _user()
    parts: dict[str, Callable[[argparse.Namespace, Book], None]] = {
        "outing": outing,
        "note": note,
        "withdraw": _withdraw,
        "show": show,
        "import": _import,
        "export": _export,
        "backup": _backup,
    }
    if options.part == "add":
        _add(options)
    elif options.part == "laps":
        _laps(options)
    else:
        with open_book(options.book, create=options.part not in _READS) as book:
            parts[options.part](options, book)
    return 0


def _user() -> str:
    try:
        return getpass.getuser()
    except (KeyError, OSError, ImportError):
        raise InputError(
            Mistake("--who", "this computer knows no name of yours", "give it with --who")
        ) from None


def _add(options: argparse.Namespace) -> None:
    """Read all files before the first is written."""
    model = _MODELS[options.kind]
    files = Gathering()
    entries = []
    for path in options.files:
        entry = files.take(partial(load_entry, path, model))
        if entry is not None:
            entries.append((path, entry))
    files.done()
    with open_book(options.book) as book:
        for path, entry in entries:
            if isinstance(entry, Setup) and entry.machine is not None:
                machine = known_machine(book, entry.machine)
                files.take(partial(read_setup, path, machine))
        files.done()
        with book.writing(options.who) as page:
            said = [_write(page, path, entry, options.part_of_day) for path, entry in entries]
        print("\n".join(said))


def _write(page: Writing, path: Path, entry: Entry, part: str) -> str:
    if isinstance(entry, Walk):
        version, name = page.add_walk(entry, part), f"walk of {entry.event}, {entry.date}"
        name += f", {part}" if part else ""
    elif isinstance(entry, Rider):
        version, name = page.add_rider(entry), f"rider {entry.name}"
    elif isinstance(entry, Machine):
        version, name = page.add_machine(entry), f"machine {entry.name}"
    elif isinstance(entry, Setup):
        version, name = page.add_setup(path.stem, entry), f"setup {path.stem}"
    else:
        raise TypeError(f"{type(entry).__name__} is no entry of a book")
    return f"{name}: version {version} in the book"


def _withdraw(options: argparse.Namespace, book: Book) -> None:
    with book.writing(options.who) as page:
        for session in options.sessions:
            page.withdraw(session)
    print(f"withdrawn: {', '.join(options.sessions)}")


def _laps(options: argparse.Namespace) -> None:
    table, mistakes = read_laps(options.table)
    for notice in table.notices:
        print(notice, file=sys.stderr)
    if mistakes:
        hint = "nothing of it was written into the book"
        raise InputError([*mistakes, Mistake(str(options.table), hint, "mend the rows")])
    runs = _runs(table)
    with open_book(options.book, create=False) as book:
        files = Gathering()
        with book.writing(options.who) as page:
            known = set(book.sessions(page.connection))
            new = 0
            for name, laps in runs.items():
                session = name if name in known else _session_in(name, known)
                add = partial(page.add_laps, session, laps, correct=options.correct)
                new += files.take(add) or 0
            files.done()
    laps_said = "1 lap" if new == 1 else f"{new or 'no'} laps"
    there = "" if new else "; all of them were there already"
    print(f"{laps_said} written to {len(runs)} outing{'' if len(runs) == 1 else 's'}{there}")


def _session_in(name: str, known: set[str]) -> str:
    """Find the outing in the name of a run, which may say more after it."""
    words = name.split(" ")
    starts = (" ".join(words[:count]) for count in range(len(words) - 1, 0, -1))
    return next((start for start in starts if start in known), name)


def _runs(table: LapTable) -> dict[str, list[LapEntry]]:
    runs: dict[str, list[LapEntry]] = {}
    for run, lap_s, clock_s, flag in zip(
        table.run.tolist(), table.lap_s.tolist(), table.clock_s.tolist(), table.flag, strict=True
    ):
        laps = runs.setdefault(table.run_name[run], [])
        lap = LapEntry(len(laps) + 1, _or_none(lap_s), _or_none(clock_s), FLAGS[flag])
        laps.append(lap)
    return runs


def _or_none(number: float) -> float | None:
    return None if math.isnan(number) else number


def _import(options: argparse.Namespace, book: Book) -> None:
    given = read_machine(options.machine)
    machines = {
        **book.machines(),
        **{given.name: given},
        **machines_beside(options.season, given),
    }
    riders = {**book.riders(), **riders_beside(options.season)}
    done = book.import_season(
        options.season,
        machines,
        riders,
        options.who,
        leave_out_bad_rows=options.leave_out_bad_rows,
        correct=options.correct,
    )
    for mistake in done.mistakes:
        print(f"left out: {mistake}", file=sys.stderr)
    said = [f"{done.new} sessions new"]
    said += [f"{done.same} there already"] if done.same else []
    said += [f"{done.corrected} corrected"] if done.corrected else []
    print(f"{options.season}: {', '.join(said)}")


def _export(options: argparse.Namespace, book: Book) -> None:
    if options.file.exists() and not options.replace:
        raise InputError(
            Mistake(str(options.file), "there is such a file", "give another name, or --replace")
        )
    if options.laps:
        print(f"{options.file}: {book.export_laps(options.file)} laps")
    else:
        print(f"{options.file}: {book.export_season(options.file)} sessions")


def _backup(options: argparse.Namespace, book: Book) -> None:
    book.back_up(options.file, replace=options.replace)
    print(f"{options.file}: a copy of {book.where}")
