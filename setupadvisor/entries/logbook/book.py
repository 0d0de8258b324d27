"""The logbook itself: opened, written into, read."""

from __future__ import annotations

import json
from collections.abc import Iterator, Mapping
from contextlib import contextmanager
from pathlib import Path
from types import TracebackType
from typing import TYPE_CHECKING, Self

from sqlalchemy import Connection, Engine, select

from setupadvisor.entries.files import EntryType, entry_from
from setupadvisor.entries.logbook import connection as connecting
from setupadvisor.entries.logbook import overview, reading, tables
from setupadvisor.entries.logbook.cells import one_line_document
from setupadvisor.entries.logbook.location import chosen_book, is_server
from setupadvisor.entries.logbook.migrations import NEWEST, migrate, version_of
from setupadvisor.entries.logbook.records import (
    ChangeCount,
    ChangeEntry,
    Day,
    EventSummary,
    Outing,
    Ridden,
    Version,
)
from setupadvisor.entries.logbook.versions import newest
from setupadvisor.entries.logbook.writing import Writing, unknown_outing
from setupadvisor.entries.machine import Machine
from setupadvisor.entries.rider import Rider
from setupadvisor.entries.yaml_file import Document
from setupadvisor.errors import InputError, Mistake

if TYPE_CHECKING:
    from setupadvisor.entries.logbook.season_exchange import Imported
    from setupadvisor.entries.season import Season


class Book:
    """An open logbook.

    Parameters
    ----------
    engine : sqlalchemy.Engine
        Of its database.
    where : str
        Its path or address, for messages.
    """

    def __init__(self, engine: Engine, where: str) -> None:
        self.engine = engine
        self.where = where

    def __enter__(self) -> Self:
        return self

    def __exit__(
        self,
        kind: type[BaseException] | None,
        error: BaseException | None,
        trace: TracebackType | None,
    ) -> None:
        self.close()

    def close(self) -> None:
        """Let go of the database."""
        self.engine.dispose()

    @contextmanager
    def writing(self, who: str) -> Iterator[Writing]:
        """Write into the book: all of it is confirmed at the end, or none.

        Parameters
        ----------
        who : str
            Who writes.

        Yields
        ------
        Writing
            Adds to the book.
        """
        with connecting.in_plain_words(self.where), connecting.writing(self.engine) as connection:
            yield Writing(connection, who)

    @contextmanager
    def reading(self) -> Iterator[Connection]:
        """Read the book as it is at one moment.

        Yields
        ------
        sqlalchemy.Connection
            For the modules of this package.
        """
        with connecting.in_plain_words(self.where), connecting.reading(self.engine) as connection:
            yield connection

    def day(self, event: str, rider: str) -> Day:
        """Read what one rider did at one event."""
        with self.reading() as connection:
            return reading.day(connection, event, rider)

    def tried(self, event: str, rider: str) -> tuple[ChangeEntry, ...]:
        """Read what one rider's crew changed at one event, in order."""
        return self.day(event, rider).changes

    def record_of_changes(self) -> list[ChangeCount]:
        """Count how changes of each kind did, over the whole book."""
        with self.reading() as connection:
            return reading.record_of_changes(connection)

    def season(
        self, machines: Mapping[str, Machine], riders: Mapping[str, Rider] | None = None
    ) -> tuple[Season, list[Mistake]]:
        """Read all outings as a season, and the mistakes of those that cannot be used."""
        from setupadvisor.entries.logbook.season_frame import season_of  # noqa: PLC0415

        riders = self.riders() if riders is None else riders
        with self.reading() as connection:
            return season_of(connection, self.where, machines, riders)

    def import_season(
        self,
        path: Path,
        machines: Mapping[str, Machine],
        riders: Mapping[str, Rider],
        who: str,
        *,
        leave_out_bad_rows: bool = False,
        correct: bool = False,
    ) -> Imported:
        """Write a season's table into the book; see `season_exchange.import_season`."""
        from setupadvisor.entries.logbook import season_exchange  # noqa: PLC0415

        with self.writing(who) as page:
            return season_exchange.import_season(
                page,
                path,
                machines,
                riders,
                leave_out_bad_rows=leave_out_bad_rows,
                correct=correct,
            )

    def export_season(self, path: Path) -> int:
        """Write the season as CSV or Parquet; see `season_exchange.export_season`."""
        from setupadvisor.entries.logbook import season_exchange  # noqa: PLC0415

        with self.reading() as connection:
            return season_exchange.export_season(connection, path)

    def outing(self, session_id: str) -> Ridden:
        """Read one outing.

        Raises
        ------
        InputError
            If there is no such outing, or it was withdrawn.
        """
        named = tables.outing.c.session_id == session_id.strip()
        with self.reading() as connection:
            rows = connection.execute(reading.outings_where(named)).all()
            if not rows:
                known = self.sessions(connection)
                raise InputError(unknown_outing(session_id, known))
            return reading.ridden(connection, rows)[0]

    def sessions(self, connection: Connection) -> list[str]:
        """List the names of all outings, those withdrawn too, newest first."""
        column = tables.outing.c.session_id
        return list(
            connection.execute(select(column).order_by(tables.outing.c.id.desc())).scalars()
        )

    def events(self) -> list[EventSummary]:
        """List the events, oldest first."""
        with self.reading() as connection:
            return overview.events(connection)

    def last_outing(self, rider: str | None = None, machine: str | None = None) -> Outing | None:
        """Find the last outing, by anybody or one rider, on anything or one machine."""
        with self.reading() as connection:
            return overview.last_outing(connection, rider=rider, machine=machine)

    def history(self, event: str, rider: str | None = None) -> list[Version]:
        """List everything ever written about one event, in the order of writing."""
        with self.reading() as connection:
            return overview.history(connection, event, rider)

    def back_up(self, path: Path, *, replace: bool = False) -> None:
        """Copy the book into one file, as it is at one moment."""
        from setupadvisor.entries.logbook.backup import back_up  # noqa: PLC0415

        with connecting.in_plain_words(self.where):
            back_up(self.engine, self.where, path, replace=replace)

    def export_laps(self, path: Path) -> int:
        """Write all laps as a table that `read_laps` understands; see `laps_exchange`."""
        from setupadvisor.entries.logbook.laps_exchange import export_laps  # noqa: PLC0415

        with self.reading() as connection:
            return export_laps(connection, path)

    def riders(self) -> dict[str, Rider]:
        """Read every rider's entry, by name."""
        return self._read("rider", Rider)

    def machines(self) -> dict[str, Machine]:
        """Read every machine's entry, by name."""
        return self._read("machine", Machine)

    def rider(self, name: str) -> Rider | None:
        """Read one rider's entry; None where there is none."""
        return self._read("rider", Rider, name).get(name)

    def machine(self, name: str) -> Machine | None:
        """Read one machine's entry; None where there is none."""
        return self._read("machine", Machine, name).get(name)

    def names(self, kind: str) -> list[str]:
        """List the names of all riders, machines, setups or events (``kind``), in order."""
        table = tables.metadata.tables[kind]
        with self.reading() as connection:
            return list(connection.execute(select(table.c.name).order_by(table.c.name)).scalars())

    def _read(
        self, kind: str, model: type[EntryType], name: str | None = None
    ) -> dict[str, EntryType]:
        found = self.documents(kind, name)
        return {name: entry_from(document, model) for name, document in found.items()}

    def documents(self, kind: str, name: str | None = None) -> dict[str, Document]:
        """Read what was written of riders or machines (``kind``), all or one, by name."""
        named, versions = tables.metadata.tables[kind], tables.metadata.tables[f"{kind}_version"]
        chosen = newest(versions, named.c.name, versions.c.content).join_from(versions, named)
        if name is not None:
            chosen = chosen.where(named.c.name == name)
        with self.reading() as connection:
            rows = connection.execute(chosen.order_by(named.c.name)).all()
        return {
            row.name: one_line_document(f"{self.where}, {kind} {row.name}", json.loads(row.content))
            for row in rows
        }


def open_book(where: str | Path | None = None, *, create: bool = True) -> Book:
    """Open a logbook, bringing one of an older version up to date.

    Parameters
    ----------
    where : str, pathlib.Path or None
        A file, an address such as ``postgresql://user@server/team``, or None for the one named
        by ``SETUPADVISOR_BOOK``, else the user's own.
    create : bool
        Whether a file that is missing is made.

    Returns
    -------
    Book
        To be closed, or used in a ``with``.

    Raises
    ------
    InputError
        If it cannot be opened, is damaged, holds something else, or was written by a newer
        version of this program; it is left as it is then.
    """
    chosen = chosen_book(where)
    if is_server(chosen):
        engine, name = connecting.server_engine(str(chosen))
    else:
        path = Path(chosen)
        if create and where is None:
            path.parent.mkdir(parents=True, exist_ok=True)
        engine, name = connecting.file_engine(path, create=create), str(path)
    try:
        with connecting.in_plain_words(name):
            _bring_up_to_date(engine, name, create=create)
    except BaseException:
        engine.dispose()
        raise
    return Book(engine, name)


def _bring_up_to_date(engine: Engine, where: str, *, create: bool) -> None:
    with connecting.reading(engine) as connection:
        version = version_known(connection, where)
    if version == NEWEST:
        return
    if version == 0 and not create:
        mend = "write something into it first, with setupadvisor log, or give its name with --book"
        raise InputError(Mistake(where, "there is nothing in this logbook yet", mend))
    if version == 0 and engine.dialect.name == "sqlite":
        connecting.keep_a_journal(engine)
    with connecting.writing(engine) as connection:
        version_known(connection, where)
        migrate(connection)


def version_known(connection: Connection, where: str) -> int:
    """Say which version a book has.

    Parameters
    ----------
    connection : sqlalchemy.Connection
        To the book.
    where : str
        The book, for messages.

    Returns
    -------
    int
        0 where there is nothing yet.

    Raises
    ------
    InputError
        If the database holds something else, or a newer program wrote it.
    """
    version = version_of(connection)
    if version > NEWEST:
        raise InputError(
            Mistake(
                where,
                f"it was written by a newer setupadvisor (version {version} of the book, "
                f"this one knows {NEWEST})",
                "install the newer setupadvisor; the book was left as it is",
            )
        )
    return version


def season_from_book(
    where: str | Path, machines: Mapping[str, Machine]
) -> tuple[Season, list[Mistake], dict[str, Machine]]:
    """Read a book as a season.

    Parameters
    ----------
    where : str or pathlib.Path
        The book.
    machines : mapping of str to Machine
        Machines that take precedence over those in the book, by name.

    Returns
    -------
    tuple of Season, list of Mistake and dict of str to Machine
        The sound outings, the mistakes of the others, and all machines by name.

    Raises
    ------
    InputError
        If the book cannot be read or holds no outing.
    """
    with open_book(where, create=False) as book:
        every = {**book.machines(), **machines}
        season, mistakes = book.season(every)
    return season, mistakes, every
