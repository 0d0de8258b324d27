"""The book's laps as a table, one row a lap."""

from __future__ import annotations

import csv
import io
from pathlib import Path

from sqlalchemy import Connection

from setupadvisor.entries.files import write_atomic
from setupadvisor.entries.lap_times import FLAGS
from setupadvisor.entries.laps import COLUMNS
from setupadvisor.entries.logbook import tables
from setupadvisor.entries.logbook.reading import outings_where
from setupadvisor.entries.logbook.versions import newest
from setupadvisor.errors import InputError, Mistake


def export_laps(connection: Connection, path: Path) -> int:
    """Write all laps as CSV.

    Parameters
    ----------
    connection : sqlalchemy.Connection
        To the book.
    path : pathlib.Path
        The table.

    Returns
    -------
    int
        How many laps it holds. Outings with the same setup carry the same name of it: that of the
        first outing with it.

    Raises
    ------
    InputError
        If there is no lap, or the file cannot be written.
    """
    outings = {row.outing_id: row for row in connection.execute(outings_where())}
    first: dict[tuple[str, int, str], str] = {}
    for row in outings.values():
        first.setdefault((row.machine, row.setup_form_id, row.setup), row.session_id)
    text = io.StringIO()
    writer = csv.writer(text, lineterminator="\n")
    names = [name for name in COLUMNS if name != "run"]
    writer.writerow(names)
    count = 0
    lap = tables.lap
    chosen = newest(lap).where(lap.c.flag >= 0).order_by(lap.c.outing_id, lap.c.lap)
    for row in connection.execution_options(yield_per=5_000).execute(chosen):
        outing = outings.get(row.outing_id)
        if outing is None:
            continue
        count += 1
        cells = {
            "event": outing.event,
            "date": outing.date,
            "rider": outing.rider,
            "session_id": outing.session_id,
            "setup": first[outing.machine, outing.setup_form_id, outing.setup],
            "lap": row.lap,
            "lap_s": "" if row.lap_s is None else row.lap_s,
            "clock": "" if row.clock_s is None else _clock(row.clock_s),
            "flag": FLAGS[row.flag],
        }
        writer.writerow([cells[name] for name in names])
    if not count:
        raise InputError(Mistake(str(path), "there is no lap in the book", "add some: log laps"))
    write_atomic(path, text.getvalue().encode())
    return count


def _clock(clock_s: float) -> str:
    minutes, seconds = divmod(clock_s, 60)
    hours, minutes = divmod(int(minutes), 60)
    whole = f"{hours:02d}:{minutes:02d}:{int(seconds):02d}"
    return whole if seconds.is_integer() else f"{whole}{f'{seconds % 1:.3f}'[1:].rstrip('0')}"
