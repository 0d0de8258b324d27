"""Many sessions written at once, a block of rows at a time."""

from __future__ import annotations

import json
from collections.abc import Iterator, Sequence
from itertools import repeat
from typing import Any

from sqlalchemy import Connection, Row, Select, Table

from setupadvisor.entries.logbook import tables
from setupadvisor.entries.logbook.cells import setup_cells
from setupadvisor.entries.logbook.season_rows import NO_WALK, SeasonRows
from setupadvisor.entries.logbook.versions import id_for, insert_many, newest, next_id, rows_with
from setupadvisor.entries.logbook.writing import Writing
from setupadvisor.entries.messages import shown
from setupadvisor.errors import InputError, Mistake

# SQLite takes at most 32766 values in one question; this stays far below.
_AT_ONCE = 500
_MOST_LISTED = 20
_MINE = ("outing_id", "version", "writing_id")
_CONTENT = (
    "event_id",
    "rider_id",
    "machine_id",
    "walk_id",
    "date",
    "time",
    "setup_form_id",
    "setup",
    "further",
    "withdrawn",
)
_OUTCOME = ("mark", "best_lap_s")


class Bulk:
    """Adds the rows of one table.

    Parameters
    ----------
    page : Writing
        An open writing.
    correct : bool
        Whether sessions that say something else are corrected.

    Attributes
    ----------
    new, same, corrected : int
        How many sessions were added, were there already, and were corrected.
    machines, riders : set of str
        Whom the rows named.
    """

    def __init__(self, page: Writing, *, correct: bool) -> None:
        self.page = page
        self.correct = correct
        self.new = self.same = self.corrected = 0
        self.machines: set[str] = set()
        self.riders: set[str] = set()
        self._differ: list[str] = []
        connection = page.connection
        self._events = _Names(connection, tables.event)
        self._riders = _Names(connection, tables.rider)
        self._machines = _Names(connection, tables.machine)
        self._walks = _Walks(page)
        self._next = next_id(connection, tables.outing)

    def take(self, rows: SeasonRows) -> None:
        """Write one block of rows."""
        contents = self._contents(rows)
        known = self._known(rows.session_id)
        fresh: list[tuple[int, str]] = []
        versions: list[tuple[Any, ...]] = []
        outcomes: list[tuple[Any, ...]] = []
        writing = self.page.id
        outcome = zip(rows.mark, rows.best_lap_s, strict=True)
        for name, content, (mark, best) in zip(rows.session_id, contents, outcome, strict=True):
            before = known.get(name)
            if before is None:
                number, version, outcome_version = self._next, 1, 1
                self._next += 1
                fresh.append((number, name))
            elif _same(before, rows.setup_names, (*content, mark, best)):
                self.same += 1
                continue
            else:
                self._differ.append(name)
                number = before.outing_id
                version = before.version + 1
                outcome_version = (before.outcome_version or 0) + 1
            versions.append((number, version, writing, *content))
            if mark is not None or best is not None or outcome_version > 1:
                outcomes.append((number, outcome_version, writing, mark, best))
        self.new += len(fresh)
        for table, names, found in (
            (tables.outing, ("id", "session_id"), fresh),
            (tables.outing_version, (*_MINE, *_CONTENT), versions),
            (tables.outcome, (*_MINE, *_OUTCOME), outcomes),
        ):
            insert_many(self.page.connection, table, names, found)

    def _contents(self, rows: SeasonRows) -> Iterator[tuple[Any, ...]]:
        """Say what the rows say by the book's numbers, adding the names that are new."""
        self.machines.update(rows.machine)
        self.riders.update(rows.rider)
        events = self._events.numbers(rows.event)
        return zip(
            events,
            self._riders.numbers(rows.rider),
            self._machines.numbers(rows.machine),
            self._walks.numbers(list(zip(events, rows.date, rows.walk, strict=True))),
            rows.date,
            rows.time,
            repeat(id_for(self.page.connection, tables.setup_form, name=rows.setup_names)),
            rows.setup,
            rows.further,
            repeat(0),
            strict=False,
        )

    def finish(self, source: str) -> None:
        """Refuse all of it if sessions would have to be corrected and may not be.

        Raises
        ------
        InputError
            Naming them.
        """
        self.corrected = len(self._differ)
        if not self._differ or self.correct:
            return
        named = ", ".join(map(shown, self._differ[:_MOST_LISTED]))
        more = len(self._differ) - _MOST_LISTED
        also = f" and {more} more" if more > 0 else ""
        found = f"sessions that are in the book say something else here: {named}{also}"
        raise InputError(Mistake(source, found, "say that these are corrections: --correct"))

    def _known(self, names: Sequence[str]) -> dict[str, Row[Any]]:
        version = tables.outing_version
        outcome = newest(tables.outcome).subquery()
        chosen = (
            newest(
                version,
                *version.c,
                tables.outing.c.session_id,
                outcome.c.version.label("outcome_version"),
                outcome.c.mark,
                outcome.c.best_lap_s,
                tables.setup_form.c.name.label("setup_names"),
            )
            .join_from(version, tables.outing)
            .join(tables.setup_form, tables.setup_form.c.id == version.c.setup_form_id)
            .outerjoin(outcome, outcome.c.outing_id == version.c.outing_id)
        )
        # Most seasons are new, and whether any session is there is quickly said.
        there = rows_with(self.page.connection, tables.outing, "session_id", names)
        found = [row.session_id for row in there]
        rows = _rows(self.page.connection, chosen, "session_id", found)
        return {row.session_id: row for row in rows}


def _rows(
    connection: Connection, chosen: Select[Any], column: str, values: Sequence[Any]
) -> Iterator[Row[Any]]:
    """Ask for the rows that have one of many values, some values at a time."""
    wanted = chosen.selected_columns[column]
    for start in range(0, len(values), _AT_ONCE):
        some = wanted.in_(values[start : start + _AT_ONCE])
        yield from connection.execute(chosen.where(some))


def _same(before: Row[Any], setup_names: str, content: Sequence[Any]) -> bool:
    """Whether a session says what it said, though perhaps in another order."""
    now = dict(zip((*_CONTENT, *_OUTCOME), content, strict=True))
    different = {name for name, value in now.items() if getattr(before, name) != value}
    if "further" in different and json.loads(before.further) == json.loads(now["further"]):
        different.remove("further")
    if different & {"setup", "setup_form_id"}:
        then = setup_cells(before.setup_names, before.setup)
        if then == setup_cells(setup_names, now["setup"]):
            different -= {"setup", "setup_form_id"}
    return not different


class _Names:
    """Numbers of names in one table, added where they are new."""

    def __init__(self, connection: Connection, table: Table) -> None:
        self.connection = connection
        self.table = table
        self.known: dict[str, int] = {}

    def numbers(self, names: Sequence[str]) -> list[int]:
        """Give each name's number."""
        unknown = [name for name in dict.fromkeys(names) if name not in self.known]
        if unknown:
            there = rows_with(self.connection, self.table, "name", unknown)
            self.known.update((row.name, row.id) for row in there)
            first = next_id(self.connection, self.table)
            missing = (name for name in unknown if name not in self.known)
            fresh = list(enumerate(missing, first))
            insert_many(self.connection, self.table, ("id", "name"), fresh)
            self.known.update((name, number) for number, name in fresh)
        return [self.known[name] for name in names]


class _Walks:
    """Numbers of walks by event, date and content, added where they are new.

    Further walks of one day stand under the next number as their part of the day.
    """

    def __init__(self, page: Writing) -> None:
        self.page = page
        self.known: dict[tuple[int, str, str], int | None] = {}
        self.days: dict[tuple[int, str], dict[str, tuple[int, str]]] = {}
        self.events: set[int] = set()
        self.next = next_id(page.connection, tables.walk)

    def numbers(self, wanted: Sequence[tuple[int, str, str]]) -> list[int | None]:
        """Give the number of each walk; None for a row that says nothing of one.

        Rows of a table without any column of the walk have the first walk of their day.
        """
        self._read({event for event, _, _ in wanted} - self.events)
        walks: list[tuple[Any, ...]] = []
        contents: list[tuple[Any, ...]] = []
        for key in dict.fromkeys(wanted):
            if key not in self.known:
                self.known[key] = self._find(key) or self._add(key, walks, contents)
        connection = self.page.connection
        insert_many(connection, tables.walk, ("id", "event_id", "date", "part"), walks)
        names = ("walk_id", "version", "content", "writing_id")
        insert_many(connection, tables.walk_version, names, contents)
        return [self.known[key] for key in wanted]

    def _read(self, events: set[int]) -> None:
        walk, version = tables.walk, tables.walk_version
        chosen = newest(version, *walk.c, version.c.content).join_from(version, walk)
        for row in _rows(self.page.connection, chosen, "event_id", sorted(events)):
            day = self.days.setdefault((row.event_id, row.date), {})
            day[row.part] = (row.id, row.content)
        self.events |= events

    def _find(self, key: tuple[int, str, str]) -> int | None:
        event, date, content = key
        day = self.days.get((event, date), {})
        if not content:
            return day[""][0] if "" in day else None
        if content == NO_WALK:
            return None
        # Parts of one day written by hand may say the same in another order.
        for number, there in day.values():
            if there == content or json.loads(there) == json.loads(content):
                return number
        return None

    def _add(
        self,
        key: tuple[int, str, str],
        walks: list[tuple[Any, ...]],
        contents: list[tuple[Any, ...]],
    ) -> int | None:
        event, date, content = key
        if not content or content == NO_WALK:
            return None
        day = self.days.setdefault((event, date), {})
        part = "" if not day else str(len(day) + 1)
        while part in day:
            part += "+"
        number, self.next = self.next, self.next + 1
        day[part] = (number, content)
        walks.append((number, event, date, part))
        contents.append((number, 1, content, self.page.id))
        return number
