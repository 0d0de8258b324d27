"""Writing an outing into the book: as little typing as the pit allows."""

from __future__ import annotations

import argparse
from collections.abc import Mapping, Sequence
from dataclasses import replace
from datetime import date

from pydantic_core import PydanticCustomError

from setupadvisor.advice.workshop import house_machine
from setupadvisor.cli.inputs import Gathering, read_setup
from setupadvisor.entries.lap_times import read_lap_time
from setupadvisor.entries.logbook.book import Book
from setupadvisor.entries.logbook.records import (
    Cell,
    ChangeEntry,
    Day,
    LapEntry,
    Outing,
    Ridden,
    RiderRemark,
)
from setupadvisor.entries.machine import Machine
from setupadvisor.entries.messages import nearest, shown
from setupadvisor.errors import InputError, Mistake


def outing(options: argparse.Namespace, book: Book) -> None:
    """Write one outing, with what was changed before it and what was said after it.

    Parameters
    ----------
    options : argparse.Namespace
        The command line.
    book : Book
        Open.

    Raises
    ------
    InputError
        With every mistake; nothing is written then.
    """
    event = options.event or _last_event(book)
    rider = options.rider or _only(book, "rider")
    machine = _machine(options, book, rider)
    day = book.day(event, rider)
    before = _before(day, options.session)
    given = Gathering()
    setup = given.take(lambda: _setup(options, book, machine, rider, before)) or {}
    laps = given.take(lambda: _lap_entries(options.laps)) or []
    best_lap_s = given.take(lambda: _best_lap(options.best_lap))
    given.done()
    entry = Outing(
        event=event,
        date=options.date or _date(day, before),
        rider=rider,
        machine=machine.name,
        setup=setup,
        session_id=options.session,
        time=options.time,
        part=options.part_of_day,
    )
    changes = _changes(before, setup, machine, options)
    with book.writing(options.who) as page:
        if book.machine(machine.name) is None:
            page.add_machine(machine)
        session = page.add_outing(entry, correct=options.correct)
        if options.mark is not None or best_lap_s is not None:
            page.add_mark(session, options.mark, best_lap_s)
        for text in options.remark:
            page.add_remark(session, RiderRemark(text))
        if laps:
            page.add_laps(session, laps, correct=options.correct)
        for change in changes:
            page.add_change(change)
    _say(session, entry, changes, machine)


def note(options: argparse.Namespace, book: Book) -> None:
    """Add to an outing what was said later, or correct it.

    Parameters
    ----------
    options : argparse.Namespace
        The command line.
    book : Book
        Open.

    Raises
    ------
    InputError
        If there is no such outing, or something cannot be.
    """
    best_lap_s = _best_lap(options.best_lap)
    if options.replace_remark is not None and len(options.remark) != 1:
        raise InputError(
            Mistake("--replace-remark", "there is not one new text", "give it with --remark")
        )
    if options.mark is None and best_lap_s is None and not options.remark and not options.verdict:
        mend = "give --mark, --best-lap, --remark or --verdict"
        raise InputError(Mistake("log note", "there is nothing to write", mend))
    changes = _changes_before(book, options.session) if options.verdict else []
    with book.writing(options.who) as page:
        if options.mark is not None or best_lap_s is not None:
            page.add_mark(options.session, options.mark, best_lap_s)
        for text in options.remark:
            page.add_remark(options.session, RiderRemark(text), options.replace_remark)
        for change in changes:
            page.add_change(_judged(change, options.verdict))
    print(f"written to {options.session}")


def known_machine(book: Book, name: str) -> Machine:
    """Find a machine's entry in the book, or the bundled one.

    Parameters
    ----------
    book : Book
        Open.
    name : str
        The machine's.

    Returns
    -------
    Machine
        The entry.

    Raises
    ------
    InputError
        If it is in neither.
    """
    found = book.machine(name)
    if found is None and name == (house := house_machine()).name:
        return house
    if found is None:
        near = nearest(name, book.names("machine"))
        mend = (
            f"did you mean {near}? Else: log add machine FILE" if near else "log add machine FILE"
        )
        raise InputError(Mistake("machine", f"the book has no machine {shown(name)}", mend))
    return found


def _machine(options: argparse.Namespace, book: Book, rider: str) -> Machine:
    name = options.machine
    if name is None:
        last = book.last_outing(rider=rider)
        name = last.machine if last else None
    if name is None:
        known = book.names("machine")
        name = known[0] if len(known) == 1 else None if known else house_machine().name
    if name is None:
        mend = f"give one with --machine: {', '.join(known)}"
        raise InputError(Mistake("machine", f"{rider} has not ridden before", mend))
    return known_machine(book, name)


def _last_event(book: Book) -> str:
    """Choose the event of the last outing, unless a walk was written for a later day."""
    found = book.events()
    if not found:
        mend = "give it with --event, or write a walk first: log add walk FILE"
        raise InputError(Mistake("event", "the book knows no event yet", mend))
    last = book.last_outing()
    if last is not None and last.date >= found[-1].last_day:
        return last.event
    return found[-1].event


def _only(book: Book, kind: str) -> str:
    known = book.names(kind)
    if len(known) != 1:
        mend = f"give one with --{kind}" + (f": {', '.join(known[:12])}" if known else "")
        found = f"the book knows {len(known)} {kind}s" if known else f"the book knows no {kind} yet"
        raise InputError(Mistake(kind, found, mend))
    return known[0]


def _before(day: Day, session: str) -> Ridden | None:
    """Find the outing before this one on the same day's sheet."""
    earlier: list[Ridden] = []
    for ridden in day.outings:
        if ridden.outing.session_id == session.strip():
            break
        earlier.append(ridden)
    return earlier[-1] if earlier else None


def _date(day: Day, before: Ridden | None) -> str:
    if before is not None:
        return before.outing.date
    return day.walk.date.isoformat() if day.walk else date.today().isoformat()


def _setup(
    options: argparse.Namespace, book: Book, machine: Machine, rider: str, before: Ridden | None
) -> dict[str, Cell]:
    """Give what is on the motorcycle: a sheet, or the last setup with what was changed."""
    base: Mapping[str, Cell] = {}
    if options.setup is not None:
        base = read_setup(options.setup, machine)
    else:
        same = before is not None and before.outing.machine == machine.name
        last = before.outing if before and same else book.last_outing(rider, machine.name)
        if last is not None:
            base = last.setup
        elif options.set:
            mend = "give the whole sheet once, with --setup FILE"
            found = f"no setup of {rider} on {machine.name} is known to change"
            raise InputError(Mistake("--set", found, mend))
    return {**base, **_set(options.set, machine)}


def _set(words: Sequence[str], machine: Machine) -> dict[str, Cell]:
    values: dict[str, Cell] = {}
    mistakes = []
    for word in words:
        name, sign, written = word.partition("=")
        where = f"--set {name}"
        setting = machine.settings.get(name)
        if not sign or not written:
            mend = "write setting=value, as in shock_rebound_low=10"
            mistakes.append(Mistake("--set", f"{shown(word)} is no change", mend))
        elif setting is None:
            near = nearest(name, machine.settings)
            mend = f"did you mean {near}?" if near else f"known: {', '.join(machine.settings)}"
            mistakes.append(Mistake(where, f"{machine.name} has no setting {shown(name)}", mend))
        elif name in values:
            mistakes.append(Mistake(where, "it is set twice", "keep one of them"))
        else:
            try:
                values[name] = setting.read(written)
            except PydanticCustomError as error:
                context = error.context or {}
                mistakes.append(Mistake(where, context["found"], context["mend"]))
    if mistakes:
        raise InputError(mistakes)
    return values


def _changes(
    before: Ridden | None,
    setup: Mapping[str, Cell],
    machine: Machine,
    options: argparse.Namespace,
) -> list[ChangeEntry]:
    """List what was changed since the outing before, on the same motorcycle and day's sheet."""
    if before is None or before.outing.machine != machine.name:
        if options.verdict:
            mend = "leave --verdict out; the first outing has nothing to compare with"
            raise InputError(Mistake("--verdict", "there is no outing before this one", mend))
        return []
    changes = []
    for name, value in setup.items():
        start, to = (
            _number(cell, name, machine) for cell in (before.outing.setup.get(name), value)
        )
        if start is None or to is None or start == to:
            continue
        changes.append(
            ChangeEntry(
                setting=name,
                start=start,
                to=to,
                reason=options.why,
                remark=options.remark_id,
                verdict=options.verdict or "",
                after=before.outing.session_id,
            )
        )
    if options.verdict and not changes:
        mend = "leave --verdict out, or give what was changed with --set"
        raise InputError(Mistake("--verdict", "nothing was changed before this outing", mend))
    return changes


def _number(cell: Cell | None, name: str, machine: Machine) -> float | None:
    setting = machine.settings.get(name)
    if cell is None or setting is None or isinstance(cell, bool):
        return None
    try:
        return setting.read(cell)
    except PydanticCustomError:
        return None


def _changes_before(book: Book, session: str) -> list[ChangeEntry]:
    ridden = book.outing(session)
    day = book.day(ridden.outing.event, ridden.outing.rider)
    before = _before(day, session)
    after = before.outing.session_id if before else None
    changes = [change for change in day.changes if change.after == after]
    if not changes:
        mend = "write what was changed first, with log outing --set"
        raise InputError(Mistake("--verdict", f"nothing was changed before {session}", mend))
    return changes


def _judged(change: ChangeEntry, verdict: str) -> ChangeEntry:
    return replace(change, verdict=verdict)


def _lap_entries(times: Sequence[str]) -> list[LapEntry]:
    laps, mistakes = [], []
    for number, text in enumerate(times, 1):
        try:
            laps.append(LapEntry(number, read_lap_time(text)))
        except PydanticCustomError as error:
            context = error.context or {}
            mistakes.append(Mistake(f"--laps {number}", context["found"], context["mend"]))
    if mistakes:
        raise InputError(mistakes)
    return laps


def _best_lap(text: str | None) -> float | None:
    if text is None:
        return None
    try:
        return read_lap_time(text)
    except PydanticCustomError as error:
        context = error.context or {}
        raise InputError(Mistake("--best-lap", context["found"], context["mend"])) from None


def _say(session: str, entry: Outing, changes: Sequence[ChangeEntry], machine: Machine) -> None:
    print(f"{session}: {entry.rider} on {entry.machine}, {entry.event}, {entry.date}")
    for change in changes:
        setting = machine.settings[change.setting]
        direction = setting.up if change.to > change.start else setting.down
        moved = f"{setting.show(change.start)} → {setting.show(change.to)} ({direction})"
        print(f"  {setting.title}: {moved}")
