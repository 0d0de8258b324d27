"""A copy of the whole book into one file, while others go on writing."""

from __future__ import annotations

import contextlib
import os
import sqlite3
import tempfile
from pathlib import Path

from sqlalchemy import Engine, create_engine, insert, select

from setupadvisor.entries.logbook import connection as connecting
from setupadvisor.entries.logbook import tables
from setupadvisor.entries.logbook.migrations import migrate
from setupadvisor.errors import InputError, Mistake

_ROWS_AT_ONCE = 5_000


def back_up(engine: Engine, where: str, path: Path, *, replace: bool) -> None:
    """Copy a book as it is at one moment.

    Parameters
    ----------
    engine : sqlalchemy.Engine
        Of the book.
    where : str
        The book, for messages.
    path : pathlib.Path
        The copy. It takes its name only when it is whole and was found sound.
    replace : bool
        Whether a file of that name may be replaced.

    Raises
    ------
    InputError
        If the copy cannot be written, a file is there, or the book is found damaged.
    """
    if path.exists() and not replace:
        raise InputError(
            Mistake(str(path), "there is such a file", "give another name, or --replace")
        )
    if not path.parent.is_dir():
        found = f"there is no folder {path.parent}"
        raise InputError(Mistake(str(path), found, "make the folder first, or choose another"))
    try:
        handle, name = tempfile.mkstemp(dir=path.parent, prefix=f".{path.name[:80]}.")
    except OSError as error:
        reason = (error.strerror or "it cannot be written").lower()
        mend = "choose a folder that can be written to"
        raise InputError(Mistake(str(path), reason, mend)) from None
    os.close(handle)
    temporary = Path(name)
    try:
        with connecting.in_plain_words(str(path)):
            _copy(engine, where, temporary)
        with temporary.open("rb") as stream:
            os.fsync(stream.fileno())
        temporary.replace(path)
    finally:
        for suffix in ("", "-journal", "-wal", "-shm"):
            Path(f"{name}{suffix}").unlink(missing_ok=True)


def _copy(engine: Engine, where: str, target: Path) -> None:
    with contextlib.closing(sqlite3.connect(target, isolation_level=None)) as copy:
        if engine.dialect.name == "sqlite":
            raw = engine.raw_connection()
            try:
                driver = raw.driver_connection
                if not isinstance(driver, sqlite3.Connection):
                    raise TypeError(f"{type(driver).__name__} is no connection of SQLite")
                with connecting.in_plain_words(where, only=connecting.DAMAGE):
                    driver.backup(copy)
            finally:
                raw.close()
        else:
            _copy_rows(engine, target)
        # A copy is one file alone, readable from a folder that cannot be written to.
        copy.execute("PRAGMA journal_mode = DELETE")
        (found,) = copy.execute("PRAGMA quick_check(1)").fetchone()
        if found != "ok":
            mend = "put back an older copy; no copy was made of this one"
            raise InputError(Mistake(where, f"the book is damaged ({found})", mend))


def _copy_rows(engine: Engine, target: Path) -> None:
    into = create_engine(f"sqlite:///{target}")
    try:
        with connecting.reading(engine) as source, into.begin() as copy:
            migrate(copy)
            for table in tables.metadata.sorted_tables:
                if table is tables.schema_version:
                    continue
                rows = source.execution_options(yield_per=_ROWS_AT_ONCE).execute(select(table))
                for some in rows.mappings().partitions():
                    copy.execute(insert(table), [dict(row) for row in some])
    finally:
        into.dispose()
