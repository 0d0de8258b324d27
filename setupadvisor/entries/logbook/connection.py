"""Connecting to a book: what is asked of SQLite and PostgreSQL, and their errors in plain words."""

from __future__ import annotations

import contextlib
import os
import sqlite3
import time
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any

from sqlalchemy import Connection, Engine, create_engine, event, pool, text
from sqlalchemy.engine import make_url
from sqlalchemy.exc import ArgumentError, DBAPIError, SQLAlchemyError

from setupadvisor.errors import InputError, Mistake

SECONDS_TO_WAIT = 30.0
_HEADER = b"SQLite format 3\0"
_PAGE_BYTES = 8192
# Any number will do, as long as all writers of a book take the same one.
_WRITERS_LOCK = 0x5E7AD
_WORDS = {
    "SQLITE_FULL": ("the disk is full; nothing of this was written", "make room and try again"),
    "SQLITE_READONLY": (
        "it cannot be written to; nothing was changed",
        "choose a file and a folder with the right to write, with --book",
    ),
    "SQLITE_CANTOPEN": ("it cannot be opened", "check the path and the rights of its folder"),
    "SQLITE_PERM": ("it may not be opened", "check its rights"),
    "SQLITE_BUSY": (
        f"somebody else has been writing for {SECONDS_TO_WAIT:g} s; nothing was written",
        "try again",
    ),
    "SQLITE_LOCKED": ("somebody else is writing; nothing was written", "try again"),
    "SQLITE_NOTADB": (
        "this is no logbook, or it is damaged; it was left as it is",
        "put back a copy made with log backup, or give another name with --book",
    ),
    "SQLITE_CORRUPT": (
        "the file is damaged; it was left as it is",
        "put back a copy made with log backup",
    ),
    "SQLITE_IOERR": (
        "the disk cannot be read or written; nothing of this was written",
        "check the disk, then try again",
    ),
}
DAMAGE = ("SQLITE_CORRUPT", "SQLITE_NOTADB")
# As the errors of the server's driver are called, which need not be installed.
_UNREACHABLE = {"OperationalError", "ConnectionTimeout", "InterfaceError"}
_OTHER_WORDS = ("the database refused", "nothing was written; try again")


def plain_mistake(error: Exception, where: str) -> Mistake:
    """Put an error of the database in plain words.

    Parameters
    ----------
    error : Exception
        As SQLAlchemy or sqlite3 raise it.
    where : str
        The book.

    Returns
    -------
    Mistake
        What happened and what to do.
    """
    cause = error.orig if isinstance(error, DBAPIError) else error
    reason = str(cause).strip().split("\n")[0]
    if isinstance(cause, sqlite3.Error):
        name = getattr(cause, "sqlite_errorname", None) or ""
        for code, (found, mend) in _WORDS.items():
            if name.startswith(code):
                return Mistake(where, found, mend)
        if reason.startswith("no such"):
            return Mistake(where, *_WORDS["SQLITE_CORRUPT"])
    elif type(cause).__name__ in _UNREACHABLE:
        found = f"the server does not answer ({reason}); nothing was written"
        return Mistake(where, found, "check the address and the network, then try again")
    found, mend = _OTHER_WORDS
    return Mistake(where, f"{found} ({reason})", mend)


@contextmanager
def in_plain_words(where: str, only: tuple[str, ...] = ()) -> Iterator[None]:
    """Turn errors of the database into an `InputError`.

    Parameters
    ----------
    where : str
        The book.
    only : tuple of str
        How SQLite's names of the errors begin; all errors where it is empty.

    Yields
    ------
    None
        While the database is at work.

    Raises
    ------
    InputError
        In place of the database's own error.
    """
    try:
        yield
    except (SQLAlchemyError, sqlite3.Error) as error:
        cause = error.orig if isinstance(error, DBAPIError) else error
        if only and not getattr(cause, "sqlite_errorname", "").startswith(only):
            raise
        raise InputError(plain_mistake(error, where)) from error


def file_engine(path: Path, *, create: bool) -> Engine:
    """Make an engine for a book in a file; nothing is opened yet.

    Parameters
    ----------
    path : pathlib.Path
        The file.
    create : bool
        Whether it may be made.

    Returns
    -------
    sqlalchemy.Engine
        Every connection has foreign keys checked and confirmed writes on the disk.

    Raises
    ------
    InputError
        If the file is missing and may not be made, is no logbook, or is cut off.
    """
    _look_at(path, create=create)
    address = f"{path.resolve().as_uri()}?{_mode(path, create=create)}"

    def connect() -> sqlite3.Connection:
        connection = sqlite3.connect(
            address,
            uri=True,
            timeout=SECONDS_TO_WAIT,
            isolation_level=None,
            check_same_thread=False,
        )
        connection.execute("PRAGMA foreign_keys = ON")
        connection.execute("PRAGMA synchronous = FULL")
        return connection

    engine = create_engine("sqlite://", creator=connect, poolclass=pool.QueuePool, pool_size=2)
    event.listen(engine, "begin", _begin)
    return engine


def _begin(connection: Connection) -> None:
    writes = connection.get_execution_options().get("writes", False)
    connection.exec_driver_sql("BEGIN IMMEDIATE" if writes else "BEGIN")


def _mode(path: Path, *, create: bool) -> str:
    if create and not path.exists():
        return "mode=rwc"
    if _writable(path) and _writable(path.parent):
        return "mode=rw"
    # Without a journal beside it nobody is writing, and the file alone is the whole book.
    return "mode=ro" if _journal(path) else "mode=ro&immutable=1"


def _writable(path: Path) -> bool:
    return os.access(path, os.W_OK, effective_ids=os.access in os.supports_effective_ids)


def _journal(path: Path) -> bool:
    with contextlib.suppress(OSError):
        return path.with_name(f"{path.name}-wal").stat().st_size > 0
    return False


def _look_at(path: Path, *, create: bool) -> None:
    """Refuse what is plainly no book before SQLite touches it."""
    where = str(path)
    if path.is_dir():
        raise InputError(Mistake(where, "this is a folder", "name a file in it"))
    if not path.exists():
        if create and path.parent.is_dir():
            return
        if create:
            found = f"there is no folder {path.parent}"
            raise InputError(Mistake(where, found, "make the folder first, or choose another"))
        mend = "write something into it first, with setupadvisor log, or give its name with --book"
        raise InputError(Mistake(where, "there is no such logbook", mend))
    try:
        with path.open("rb") as stream:
            header = stream.read(100)
        size = path.stat().st_size
    except OSError as error:
        reason = (error.strerror or "it cannot be read").lower()
        raise InputError(Mistake(where, reason, "check the path and its rights")) from None
    if not header:
        return
    if not header.startswith(_HEADER[: len(header)]):
        raise InputError(Mistake(where, *_WORDS["SQLITE_NOTADB"]))
    page_bytes = int.from_bytes(header[16:18], "big")
    whole_bytes = (65536 if page_bytes == 1 else page_bytes) * int.from_bytes(header[28:32], "big")
    if size < max(whole_bytes, 100) and not _journal(path):
        raise InputError(Mistake(where, *_WORDS["SQLITE_CORRUPT"]))


def keep_a_journal(engine: Engine) -> None:
    """Have a new file written ahead of itself, so that readers never wait for a writer.

    Parameters
    ----------
    engine : sqlalchemy.Engine
        Of a book in a file.
    """
    give_up = time.monotonic() + SECONDS_TO_WAIT
    while True:
        raw: Any = engine.raw_connection()
        try:
            # Setups and walks are longer than the usual page has room for several of.
            raw.execute(f"PRAGMA page_size = {_PAGE_BYTES}")
            raw.execute("PRAGMA journal_mode = WAL")
            return
        except sqlite3.OperationalError:
            # SQLite does not wait by itself here while another process opens the same new file.
            if time.monotonic() > give_up:
                raise
            time.sleep(0.01)
        finally:
            raw.close()


def server_engine(address: str) -> tuple[Engine, str]:
    """Make an engine for a book on a server; nothing is opened yet.

    Parameters
    ----------
    address : str
        ``postgresql://user@server/database``.

    Returns
    -------
    tuple of sqlalchemy.Engine and str
        The engine, and the address without the password.

    Raises
    ------
    InputError
        If it is no address of a PostgreSQL server, or its driver is missing.
    """
    mend = "give a file, or postgresql://user@server/database"
    shown = address.split("://", 1)[0] + "://..."
    try:
        url = make_url(address)
    except ArgumentError:
        raise InputError(Mistake(shown, "this is no address of a database", mend)) from None
    if url.get_backend_name() not in {"postgresql", "postgres"}:
        raise InputError(Mistake(shown, "the book can be on a PostgreSQL server alone", mend))
    url = url.set(drivername="postgresql+psycopg")
    try:
        engine = create_engine(url, pool_pre_ping=True)
    except ImportError:
        raise InputError(
            Mistake(shown, "a book on a server needs psycopg", "pip install setupadvisor[postgres]")
        ) from None
    return engine, url.render_as_string(hide_password=True)


@contextmanager
def reading(engine: Engine) -> Iterator[Connection]:
    """Read a book as it is at one moment, whatever others write meanwhile.

    Parameters
    ----------
    engine : sqlalchemy.Engine
        Of the book.

    Yields
    ------
    sqlalchemy.Connection
        In a transaction.
    """
    with engine.connect() as connection:
        if engine.dialect.name != "sqlite":
            connection.execution_options(isolation_level="REPEATABLE READ")
        with connection.begin():
            yield connection


@contextmanager
def writing(engine: Engine) -> Iterator[Connection]:
    """Write into a book, all or nothing, one writer after the other.

    Parameters
    ----------
    engine : sqlalchemy.Engine
        Of the book.

    Yields
    ------
    sqlalchemy.Connection
        In a transaction that nobody else writes beside.
    """
    with engine.connect().execution_options(writes=True) as connection, connection.begin():
        if engine.dialect.name != "sqlite":
            # A second writer reads the newest version only after the first has finished.
            connection.execute(text(f"SELECT pg_advisory_xact_lock({_WRITERS_LOCK})"))
        yield connection
