"""A season's table into the book and out of it, without loss."""

from __future__ import annotations

import csv
import json
from collections.abc import Collection, Iterator, Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path

from sqlalchemy import Connection, insert, select

from setupadvisor.entries.files import write_atomic
from setupadvisor.entries.logbook import tables
from setupadvisor.entries.logbook.bulk import Bulk
from setupadvisor.entries.logbook.cells import text_from_cell
from setupadvisor.entries.logbook.parquet import ENDINGS, write_parquet
from setupadvisor.entries.logbook.records import Cell
from setupadvisor.entries.logbook.season_blocks import Block, NotPlain, csv_blocks, parquet_block
from setupadvisor.entries.logbook.season_check import QuickCheck
from setupadvisor.entries.logbook.season_rows import RowReader
from setupadvisor.entries.logbook.season_view import season_columns
from setupadvisor.entries.logbook.versions import next_id
from setupadvisor.entries.logbook.writing import Writing
from setupadvisor.entries.machine import Machine
from setupadvisor.entries.rider import Rider
from setupadvisor.errors import InputError, Mistake


@dataclass(frozen=True)
class Imported:
    """What became of a season's sessions.

    Parameters
    ----------
    new, same, corrected : int
        How many were added, were there already, and were corrected.
    mistakes : tuple of Mistake
        Of the rows that were left out.
    """

    new: int
    same: int
    corrected: int
    mistakes: tuple[Mistake, ...] = ()


def import_season(
    page: Writing,
    path: Path,
    machines: Mapping[str, Machine],
    riders: Mapping[str, Rider],
    *,
    leave_out_bad_rows: bool = False,
    correct: bool = False,
) -> Imported:
    """Write a season's table into the book.

    Parameters
    ----------
    page : Writing
        An open writing.
    path : pathlib.Path
        CSV or Parquet.
    machines, riders : mapping
        Those that the table may name, by name; the ones it does name are written down too.
    leave_out_bad_rows : bool
        Whether faulty rows are left out instead of refusing the table.
    correct : bool
        Whether sessions that are in the book and say something else are corrected.

    Returns
    -------
    Imported
        What became of them.

    Raises
    ------
    InputError
        With every mistake in the table, or every session that is in the book and says something
        else; the writing must be given up then.
    """
    check = QuickCheck(machines, riders)
    # The writing itself must outlast what is given up of it below.
    _ = page.id
    try:
        with page.connection.begin_nested():
            return _import(page, path, machines, riders, correct, check, None)
    except NotPlain:
        pass
    from setupadvisor.entries.season import read_season  # noqa: PLC0415 - brings pandas

    season, mistakes = read_season(path, machines, riders)
    if mistakes and not leave_out_bad_rows:
        hint = Mistake(
            str(path),
            "nothing of it was written into the book",
            "mend the rows, or leave them out: --leave-out-bad-rows",
        )
        raise InputError([*mistakes, hint])
    if not len(season):
        raise InputError(Mistake(str(path), "no sound session is left", "mend the rows listed"))
    sound = set(season.session_id.tolist())
    done = _import(page, path, machines, riders, correct, None, sound)
    return Imported(done.new, done.same, done.corrected, tuple(mistakes))


def _import(
    page: Writing,
    path: Path,
    machines: Mapping[str, Machine],
    riders: Mapping[str, Rider],
    correct: bool,
    check: QuickCheck | None,
    sound: Collection[str] | None,
) -> Imported:
    settings = {name for machine in machines.values() for name in machine.settings}
    schema = ""
    if path.suffix.lower() in ENDINGS:
        found, schema = parquet_block(path)
        blocks: Iterator[Block] = iter([found])
    else:
        blocks = csv_blocks(path, whole=sound is None)
    bulk = Bulk(page, correct=correct)
    reader: RowReader | None = None
    seen: set[str] = set()
    header: list[str] = []
    for block in blocks:
        if check is not None and not check.sound(block):
            raise NotPlain
        if reader is None:
            reader = RowReader(block, settings)
            header = block.header
        bulk.take(reader.rows(block if sound is None else block.only(sound, seen)))
    if reader is None:
        raise NotPlain
    bulk.finish(str(path))
    for name in sorted(bulk.machines & machines.keys()):
        page.add_machine(machines[name])
    for name in sorted(bulk.riders & riders.keys()):
        page.add_rider(riders[name])
    row = {
        "id": next_id(page.connection, tables.season_import),
        "source": path.name,
        "columns": json.dumps(header, ensure_ascii=False),
        "arrow_schema": schema,
        "writing_id": page.id,
    }
    page.connection.execute(insert(tables.season_import), [row])
    return Imported(bulk.new, bulk.same, bulk.corrected)


def export_season(connection: Connection, path: Path) -> int:
    """Write the book's season as a table.

    Parameters
    ----------
    connection : sqlalchemy.Connection
        To the book.
    path : pathlib.Path
        A Parquet file by its ending, else CSV.

    Returns
    -------
    int
        How many sessions it holds.

    Raises
    ------
    InputError
        If there is no session, or the file cannot be written.
    """
    columns = season_columns(connection)
    count = len(columns["session_id"])
    if not count:
        mend = "write one first: log outing"
        raise InputError(Mistake(str(path), "there is no outing in the book", mend))
    if path.suffix.lower() in ENDINGS:
        imports = tables.season_import
        last = (
            select(imports.c.arrow_schema)
            .where(imports.c.arrow_schema != "")
            .order_by(imports.c.id.desc())
            .limit(1)
        )
        schema = connection.execute(last).scalar() or ""
        write_atomic(path, write_parquet(path, columns, schema))
    else:
        write_atomic(path, _csv(columns))
    return count


def _csv(columns: Mapping[str, Sequence[Cell | None]]) -> bytes:
    lines = _Lines()
    # A writer quotes those signs of a line's end alone that it ends lines with itself.
    writer = csv.writer(lines, lineterminator="\r\n")
    writer.writerow(columns)
    writer.writerows(zip(*(map(text_from_cell, cells) for cells in columns.values()), strict=True))
    return "".join(lines.found).encode()


class _Lines:
    """Takes a table line by line, and ends each line as everything else here is ended."""

    def __init__(self) -> None:
        self.found: list[str] = []

    def write(self, line: str) -> None:
        self.found.append(line[: -len("\r\n")] + "\n")
