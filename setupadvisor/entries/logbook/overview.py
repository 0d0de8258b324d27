"""What is in a book: its events, who rode there, the last outing, and every version of a day."""

from __future__ import annotations

import json
from typing import Any

from sqlalchemy import Connection, Select, func, select

from setupadvisor.entries.lap_times import FLAGS
from setupadvisor.entries.logbook import tables
from setupadvisor.entries.logbook.cells import setup_cells
from setupadvisor.entries.logbook.reading import outing_of, outings_where
from setupadvisor.entries.logbook.records import EventSummary, Outing, Version
from setupadvisor.entries.logbook.versions import id_of, newest


def events(connection: Connection) -> list[EventSummary]:
    """List the events of a book.

    Parameters
    ----------
    connection : sqlalchemy.Connection
        To the book.

    Returns
    -------
    list of EventSummary
        Oldest first; events that have a walk and no outing yet are among them.
    """
    version, event = tables.outing_version, tables.event
    ridden = newest(version, *version.c).where(version.c.withdrawn == 0).subquery()
    counted = (
        select(
            event.c.name,
            func.min(ridden.c.date).label("first_day"),
            func.max(ridden.c.date).label("last_day"),
            func.count(ridden.c.outing_id).label("outings"),
        )
        .join_from(event, ridden, ridden.c.event_id == event.c.id, isouter=True)
        .group_by(event.c.id, event.c.name)
    )
    named = select(ridden.c.event_id, ridden.c.rider_id).distinct().subquery()
    riders: dict[str, list[str]] = {}
    rows = connection.execute(
        select(event.c.name, tables.rider.c.name.label("rider"))
        .join_from(named, event, event.c.id == named.c.event_id)
        .join(tables.rider, tables.rider.c.id == named.c.rider_id)
    )
    for row in rows:
        riders.setdefault(row.name, []).append(row.rider)
    walk = tables.walk
    walked = {
        row.name: (row.first_day, row.last_day, row.walks)
        for row in connection.execute(
            select(
                event.c.name,
                func.min(walk.c.date).label("first_day"),
                func.max(walk.c.date).label("last_day"),
                func.count(walk.c.id).label("walks"),
            )
            .join_from(event, walk)
            .group_by(event.c.id, event.c.name)
        )
    }
    found = []
    for row in connection.execute(counted):
        first, last, walks = walked.get(row.name, ("", "", 0))
        found.append(
            EventSummary(
                event=row.name,
                first_day=row.first_day or first,
                last_day=row.last_day or last,
                riders=tuple(sorted(riders.get(row.name, ()))),
                outings=row.outings,
                walks=walks,
            )
        )
    return sorted(found, key=lambda one: (one.last_day, one.event))


def last_outing(
    connection: Connection, *, rider: str | None = None, machine: str | None = None
) -> Outing | None:
    """Find the last outing, by date and then by when it was written.

    Parameters
    ----------
    connection : sqlalchemy.Connection
        To the book.
    rider, machine : str, optional
        Of whom, on what.

    Returns
    -------
    Outing or None
        None where there is none.
    """
    version = tables.outing_version
    asked = []
    if rider is not None:
        asked.append(version.c.rider_id == id_of(connection, tables.rider, name=rider))
    if machine is not None:
        asked.append(version.c.machine_id == id_of(connection, tables.machine, name=machine))
    newest_first = (version.c.date.desc(), version.c.outing_id.desc())
    chosen = outings_where(*asked).order_by(None).order_by(*newest_first).limit(1)
    row = connection.execute(chosen).first()
    return None if row is None else outing_of(row)


def history(connection: Connection, event: str, rider: str | None = None) -> list[Version]:
    """List everything ever written about one event, in the order in which it was written.

    Parameters
    ----------
    connection : sqlalchemy.Connection
        To the book.
    event : str
        Its name.
    rider : str, optional
        One rider alone.

    Returns
    -------
    list of Version
        Also what was corrected later, and outings that were withdrawn.
    """
    found: list[tuple[int, Version]] = []
    walk, walk_version = tables.walk, tables.walk_version
    chosen = select(walk.c.date, walk.c.part, walk_version).join_from(walk_version, walk)
    chosen = chosen.join(tables.event, tables.event.c.id == walk.c.event_id)
    for row in _written(connection, walk_version, chosen.where(tables.event.c.name == event)):
        about = f"walk of {row.date} {row.part}".rstrip()
        cells = json.loads(row.content)
        said = ", ".join(f"{name.removeprefix('walk.')} {cell}" for name, cell in cells.items())
        found.append(_version(row, about, said))
    version = tables.outing_version
    mine = select(version.c.outing_id).join_from(version, tables.event)
    mine = mine.where(tables.event.c.name == event)
    if rider is not None:
        mine = mine.join(tables.rider, tables.rider.c.id == version.c.rider_id)
        mine = mine.where(tables.rider.c.name == rider)
    for table in (version, tables.outcome, tables.remark, tables.lap, tables.setting_change):
        chosen = select(table, tables.outing.c.session_id).join_from(table, tables.outing)
        if table is version:
            form = tables.setup_form
            chosen = chosen.join(form, form.c.id == version.c.setup_form_id)
            chosen = chosen.add_columns(form.c.name.label("setup_names"))
        for row in _written(connection, table, chosen.where(table.c.outing_id.in_(mine))):
            what, said = _told(table.name, row)
            found.append(_version(row, f"{what} {row.session_id}", said))
    return [one for _, one in sorted(found, key=lambda pair: pair[0])]


def _written(connection: Connection, table: Any, chosen: Select[Any]) -> Any:
    writing = tables.writing
    joined = chosen.join(writing, writing.c.id == table.c.writing_id)
    order = (table.c.writing_id, *table.primary_key)
    return connection.execute(
        joined.add_columns(writing.c.who, writing.c.written_at).order_by(*order)
    )


def _version(row: Any, what: str, said: str) -> tuple[int, Version]:
    return row.writing_id, Version(what, row.version, said, row.who, row.written_at)


def _told(table: str, row: Any) -> tuple[str, str]:
    if table == "outing_version":
        cells = setup_cells(row.setup_names, row.setup)
        setup = ", ".join(f"{name} {cell}" for name, cell in cells.items())
        return "outing", "withdrawn" if row.withdrawn else f"{row.date} {row.time} {setup}".strip()
    if table == "outcome":
        mark = "no mark" if row.mark is None else f"mark {row.mark:g}"
        return "outcome of", mark if row.best_lap_s is None else f"{mark}, {row.best_lap_s:g} s"
    if table == "remark":
        return f"remark {row.place} of", row.text
    if table == "lap":
        if row.flag < 0:
            return f"lap {row.lap} of", "taken out"
        time = "not timed" if row.lap_s is None else f"{row.lap_s:g} s"
        return f"lap {row.lap} of", f"{time} {FLAGS[row.flag]}".strip()
    moved = f"{row.start_value:g} to {row.to_value:g}"
    also = [row.verdict, row.remark and f"for {row.remark}", row.reason]
    return f"change of {row.setting}, after", ", ".join(filter(None, [moved, *also]))
