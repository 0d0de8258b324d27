"""What is asked of a book: a day, its changes, how such changes did before."""

from __future__ import annotations

import json
from collections.abc import Iterable, Mapping
from typing import Any

from sqlalchemy import Connection, Row, Select, func, select

from setupadvisor.entries.lap_times import FLAGS
from setupadvisor.entries.logbook import tables
from setupadvisor.entries.logbook.cells import setup_cells, walk_from_cells
from setupadvisor.entries.logbook.records import (
    ChangeCount,
    ChangeEntry,
    Day,
    LapEntry,
    Outing,
    Ridden,
    RiderRemark,
)
from setupadvisor.entries.logbook.versions import id_of, newest
from setupadvisor.entries.walk import Walk

# SQLite takes at most 32766 values in one question; this stays far below.
_AT_ONCE = 500


def outings_where(*conditions: Any) -> Select[Any]:
    """Select outings in their newest version, with names in place of numbers.

    Parameters
    ----------
    *conditions : sqlalchemy.ColumnElement
        To narrow down.

    Returns
    -------
    sqlalchemy.Select
        In the order of dates and of writing.
    """
    version = tables.outing_version
    chosen = newest(
        version,
        *version.c,
        tables.outing.c.session_id,
        tables.event.c.name.label("event"),
        tables.rider.c.name.label("rider"),
        tables.machine.c.name.label("machine"),
        tables.setup_form.c.name.label("setup_names"),
        tables.walk.c.part,
        tables.writing.c.who,
        tables.writing.c.written_at,
    )
    return (
        chosen.join_from(version, tables.outing)
        .join(tables.event, tables.event.c.id == version.c.event_id)
        .join(tables.rider, tables.rider.c.id == version.c.rider_id)
        .join(tables.machine, tables.machine.c.id == version.c.machine_id)
        .join(tables.setup_form, tables.setup_form.c.id == version.c.setup_form_id)
        .join(tables.writing, tables.writing.c.id == version.c.writing_id)
        .outerjoin(tables.walk, tables.walk.c.id == version.c.walk_id)
        .where(version.c.withdrawn == 0, *conditions)
        .order_by(version.c.date, version.c.outing_id)
    )


def day(connection: Connection, event: str, rider: str) -> Day:
    """Read what one rider did at one event.

    Parameters
    ----------
    connection : sqlalchemy.Connection
        To the book.
    event, rider : str
        Their names.

    Returns
    -------
    Day
        Empty where the book knows nothing.
    """
    event_id = id_of(connection, tables.event, name=event)
    rider_id = id_of(connection, tables.rider, name=rider)
    version = tables.outing_version
    rows = connection.execute(
        outings_where(version.c.event_id == event_id, version.c.rider_id == rider_id)
    ).all()
    outings = ridden(connection, rows)
    changes = changes_after(connection, [(row.outing_id, row.session_id) for row in rows])
    walk_id = next((row.walk_id for row in reversed(rows) if row.walk_id is not None), None)
    return Day(event, rider, walk(connection, event_id, walk_id), outings, changes)


def ridden(connection: Connection, rows: Iterable[Row[Any]]) -> tuple[Ridden, ...]:
    """Read what belongs to outings: marks, remarks, laps.

    Parameters
    ----------
    connection : sqlalchemy.Connection
        To the book.
    rows : iterable of sqlalchemy.Row
        As `outings_where` gives them.

    Returns
    -------
    tuple of Ridden
        In the same order.
    """
    rows = list(rows)
    numbers = [row.outing_id for row in rows]
    outcomes = {row.outing_id: row for row in _of(connection, tables.outcome, numbers)}
    remarks: dict[int, list[RiderRemark]] = {}
    for row in _of(connection, tables.remark, numbers):
        said = RiderRemark(row.text, tuple(json.loads(row.remarks)))
        remarks.setdefault(row.outing_id, []).append(said)
    laps: dict[int, list[LapEntry]] = {}
    for row in _of(connection, tables.lap, numbers):
        if row.flag >= 0:
            lap = LapEntry(row.lap, row.lap_s, row.clock_s, FLAGS[row.flag])
            laps.setdefault(row.outing_id, []).append(lap)
    return tuple(
        Ridden(
            outing=outing_of(row),
            mark=outcomes[row.outing_id].mark if row.outing_id in outcomes else None,
            best_lap_s=outcomes[row.outing_id].best_lap_s if row.outing_id in outcomes else None,
            remarks=tuple(remarks.get(row.outing_id, ())),
            laps=tuple(laps.get(row.outing_id, ())),
            version=row.version,
            who=row.who,
            written_at=row.written_at,
        )
        for row in rows
    )


def _of(connection: Connection, table: Any, numbers: list[int]) -> Iterable[Row[Any]]:
    for start in range(0, len(numbers), _AT_ONCE):
        some = numbers[start : start + _AT_ONCE]
        chosen = newest(table).where(table.c.outing_id.in_(some)).order_by(*table.primary_key)
        yield from connection.execute(chosen)


def outing_of(row: Row[Any]) -> Outing:
    """Make an outing of its row.

    Parameters
    ----------
    row : sqlalchemy.Row
        As `outings_where` gives it.

    Returns
    -------
    Outing
        Names in place of numbers.
    """
    return Outing(
        event=row.event,
        date=row.date,
        rider=row.rider,
        machine=row.machine,
        setup=setup_cells(row.setup_names, row.setup),
        session_id=row.session_id,
        time=row.time,
        part=row.part or "",
        further=json.loads(row.further),
    )


def changes_after(
    connection: Connection, outings: Iterable[tuple[int, str]]
) -> tuple[ChangeEntry, ...]:
    """Read what was changed after some outings.

    Parameters
    ----------
    connection : sqlalchemy.Connection
        To the book.
    outings : iterable of tuple of int and str
        Number and name of each.

    Returns
    -------
    tuple of ChangeEntry
        In the order of the outings.
    """
    names = dict(outings)
    place = {number: place for place, number in enumerate(names)}
    rows = list(_of(connection, tables.setting_change, list(names)))
    return tuple(
        ChangeEntry(
            setting=row.setting,
            start=row.start_value,
            to=row.to_value,
            reason=row.reason,
            remark=row.remark,
            verdict=row.verdict,
            after=names[row.outing_id],
        )
        for row in sorted(rows, key=lambda row: place[row.outing_id])
    )


def walk(connection: Connection, event_id: int | None, walk_id: int | None) -> Walk | None:
    """Read a walk: a known one, else the last one written at the event.

    Parameters
    ----------
    connection : sqlalchemy.Connection
        To the book.
    event_id, walk_id : int or None
        Their numbers.

    Returns
    -------
    Walk or None
        None where there is none.
    """
    walks, versions = tables.walk, tables.walk_version
    chosen = newest(
        versions, versions.c.content, walks.c.date, tables.event.c.name.label("event")
    ).join_from(versions, walks)
    chosen = chosen.join(tables.event, tables.event.c.id == walks.c.event_id)
    if walk_id is None:
        mine = chosen.where(walks.c.event_id == event_id).order_by(
            walks.c.date.desc(), walks.c.id.desc()
        )
    else:
        mine = chosen.where(walks.c.id == walk_id)
    row = connection.execute(mine.limit(1)).first()
    if row is None:
        return None
    source = f"the walk of {row.event}, {row.date}"
    return walk_from_cells(row.event, row.date, json.loads(row.content), source)


def record_of_changes(connection: Connection) -> list[ChangeCount]:
    """Count how changes of each kind did, over the whole book.

    Parameters
    ----------
    connection : sqlalchemy.Connection
        To the book.

    Returns
    -------
    list of ChangeCount
        Only changes with a verdict.
    """
    change, version = tables.setting_change, tables.outing_version
    rises = (change.c.to_value > change.c.start_value).label("rises")
    kind = (tables.machine.c.name, change.c.setting, rises, change.c.remark)
    counted = (
        newest(change, *kind, change.c.verdict, func.count().label("times"))
        .join_from(change, version, version.c.outing_id == change.c.outing_id)
        .join(tables.machine, tables.machine.c.id == version.c.machine_id)
        .where(change.c.verdict != "", version.c.withdrawn == 0)
    )
    later = version.alias()
    is_newest = ~(
        select(later.c.version)
        .where(later.c.outing_id == version.c.outing_id, later.c.version > version.c.version)
        .exists()
    )
    counts: dict[tuple[Any, ...], dict[str, int]] = {}
    for row in connection.execute(counted.where(is_newest).group_by(*kind, change.c.verdict)):
        counts.setdefault(tuple(row[:4]), {})[row.verdict] = row.times
    return [
        ChangeCount(machine, setting, bool(rises), remark, *_three(found))
        for (machine, setting, rises, remark), found in sorted(counts.items())
    ]


def _three(found: Mapping[str, int]) -> tuple[int, int, int]:
    return found.get("better", 0), found.get("same", 0), found.get("worse", 0)
