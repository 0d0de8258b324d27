"""Whether a book in a file is sound: whole, of a known version, and every entry within limits."""

from __future__ import annotations

import json
import tempfile
from collections.abc import Iterator, Mapping
from contextlib import contextmanager
from pathlib import Path

from pydantic_core import PydanticCustomError
from sqlalchemy import Connection, Table, func, or_, select

from setupadvisor.entries.files import EntryType, try_entry
from setupadvisor.entries.lap_times import FLAGS, LATEST_CLOCK_S, LONGEST_LAP_S
from setupadvisor.entries.logbook import connection as connecting
from setupadvisor.entries.logbook import tables
from setupadvisor.entries.logbook.backup import back_up
from setupadvisor.entries.logbook.book import Book, open_book, version_known
from setupadvisor.entries.logbook.cells import walk_from_cells
from setupadvisor.entries.logbook.lap_limits import impossible_laps
from setupadvisor.entries.logbook.migrations import NEWEST
from setupadvisor.entries.logbook.reading import outings_where
from setupadvisor.entries.logbook.records import LapEntry
from setupadvisor.entries.logbook.versions import newest
from setupadvisor.entries.machine import Machine
from setupadvisor.entries.rider import Rider
from setupadvisor.errors import InputError, Mistake

# A damaged book can break everywhere at once.
_MOST_TOLD = 20


def check_book(path: Path, machines: Mapping[str, Machine]) -> tuple[str, list[Mistake]]:
    """Look at all of a book in a file; nothing is changed.

    Parameters
    ----------
    path : pathlib.Path
        The book.
    machines : mapping of str to Machine
        Machines that take precedence over those in the book, by name.

    Returns
    -------
    tuple of str and list of Mistake
        What is in it, in one sentence, and everything that is wrong with it.

    Raises
    ------
    InputError
        If it cannot be read: missing, no logbook, damaged, empty, or of a newer version.
    """
    with _as_it_is(path) as (book, version):
        with book.reading() as connection:
            _refuse_damaged(connection, book.where)
            mistakes = [*_walks(connection, book.where), *_laps(connection)]
        riders, wrong_riders = _people(book, "rider", Rider)
        own, wrong_machines = _people(book, "machine", Machine)
        known = {**own, **machines}
        mistakes += [*wrong_riders, *wrong_machines]
        with book.reading() as connection:
            mistakes += _changes(connection, known)
            ridden, wrong = _outings(book, known, riders)
            walks, laps = (_count(connection, table) for table in (tables.walk, tables.lap))
    mistakes += wrong
    old = f", brought to {NEWEST} when it is next opened" if version < NEWEST else ""
    counts = {"walk": walks, "lap": laps, "rider": len(riders), "machine": len(own)}
    said = ", ".join(_many(count, name) for name, count in counts.items())
    return f"{path}: a logbook of version {version}{old}: {ridden}; {said}", mistakes


@contextmanager
def _as_it_is(path: Path) -> Iterator[tuple[Book, int]]:
    """Open a book without bringing it up to date: an older one is looked at in a copy."""
    engine = connecting.file_engine(path, create=False)
    where = str(path)
    try:
        with connecting.in_plain_words(where), connecting.reading(engine) as connection:
            version = version_known(connection, where)
        if version == NEWEST:
            yield Book(engine, where), version
            return
        with tempfile.TemporaryDirectory() as folder:
            copy = Path(folder) / path.name
            if version:
                with connecting.in_plain_words(where):
                    back_up(engine, where, copy, replace=False)
            with open_book(copy if version else path, create=False) as opened:
                yield Book(opened.engine, where), version
    finally:
        engine.dispose()


def _refuse_damaged(connection: Connection, where: str) -> None:
    found = connection.exec_driver_sql(f"PRAGMA integrity_check({_MOST_TOLD})").scalars().all()
    if found != ["ok"]:
        # The first line may only name the table; the reason stands on the next.
        reason = " ".join(" ".join(found).split())[:200]
        mend = "put back a copy made with log backup"
        raise InputError(Mistake(where, f"the file is damaged ({reason})", mend))
    lost = connection.exec_driver_sql("PRAGMA foreign_key_check").all()
    if lost:
        names = ", ".join(sorted({str(row[0]) for row in lost}))
        found_rows = f"{len(lost)} rows belong to nothing ({names})"
        mend = "put back a copy made with log backup"
        raise InputError(Mistake(where, f"the book is damaged: {found_rows}", mend))


def _people(
    book: Book, kind: str, model: type[EntryType]
) -> tuple[dict[str, EntryType], list[Mistake]]:
    sound: dict[str, EntryType] = {}
    mistakes: list[Mistake] = []
    for name, document in book.documents(kind).items():
        entry, wrong = try_entry(document, model)
        mistakes += wrong
        if entry is not None:
            sound[name] = entry
    return sound, mistakes


def _walks(connection: Connection, where: str) -> Iterator[Mistake]:
    walk, version = tables.walk, tables.walk_version
    chosen = newest(version, version.c.content, walk.c.date, walk.c.part, tables.event.c.name)
    chosen = chosen.join_from(version, walk).join(
        tables.event, tables.event.c.id == walk.c.event_id
    )
    for row in connection.execute(chosen.order_by(walk.c.date, walk.c.id)):
        source = f"{where}, the walk of {' '.join(f'{row.name}, {row.date} {row.part}'.split())}"
        try:
            walk_from_cells(row.name, row.date, json.loads(row.content), source)
        except InputError as error:
            yield from error.mistakes


def _laps(connection: Connection) -> Iterator[Mistake]:
    lap = tables.lap
    wrong = newest(lap, *lap.c, tables.outing.c.session_id).join_from(lap, tables.outing)
    wrong = wrong.where(
        or_(
            lap.c.lap < 0,
            lap.c.lap_s > LONGEST_LAP_S,
            lap.c.clock_s < 0,
            lap.c.clock_s >= LATEST_CLOCK_S,
            lap.c.flag >= len(FLAGS),
        )
    )
    for row in connection.execute(wrong.order_by(lap.c.outing_id, lap.c.lap)):
        flag = FLAGS[row.flag] if row.flag < len(FLAGS) else str(row.flag)
        if row.flag >= 0:  # else it was taken out
            one = LapEntry(row.lap, row.lap_s, row.clock_s, flag)
            yield from impossible_laps(row.session_id, [one])


def _changes(connection: Connection, machines: Mapping[str, Machine]) -> Iterator[Mistake]:
    """Find changes between values that the machine's setting cannot have."""
    change = tables.setting_change
    sessions = {row.outing_id: row for row in connection.execute(outings_where())}
    for row in connection.execute(newest(change).order_by(*change.primary_key)):
        outing = sessions.get(row.outing_id)
        machine = machines.get(outing.machine) if outing else None
        if outing is None or machine is None:
            continue
        where = f"the change of {row.setting} after {outing.session_id}"
        setting = machine.settings.get(row.setting)
        if setting is None:
            found = f"{machine.name} has no setting {row.setting!r}"
            yield Mistake(where, found, f"known here: {', '.join(machine.settings)}")
            continue
        for value in (row.start_value, row.to_value):
            try:
                setting.read(value)
            except PydanticCustomError as error:
                context = error.context or {}
                yield Mistake(where, context["found"], context["mend"])


def _outings(
    book: Book, machines: Mapping[str, Machine], riders: Mapping[str, Rider]
) -> tuple[str, list[Mistake]]:
    with book.reading() as connection:
        if connection.execute(outings_where().limit(1)).first() is None:
            return "no outing yet", []
    season, mistakes = book.season(machines, riders)
    sound = _many(len(season), "sound outing")
    return f"{sound} of {_many(len(set(season.event)), 'event')}", mistakes


def _count(connection: Connection, table: Table) -> int:
    return connection.execute(select(func.count()).select_from(table)).scalar_one()


def _many(count: int, name: str) -> str:
    return f"{count} {name}{'' if count == 1 else 's'}"
