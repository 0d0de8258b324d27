"""One writing: what one person puts into the book at one moment, all of it or none."""

from __future__ import annotations

import math
import re
from collections.abc import Sequence
from datetime import UTC, datetime
from functools import cached_property
from typing import Any

from pydantic_core import PydanticCustomError
from sqlalchemy import Connection, func, insert, select

from setupadvisor.entries.lap_times import FLAGS
from setupadvisor.entries.logbook import tables
from setupadvisor.entries.logbook.cells import dumped, entry_content, walk_cells
from setupadvisor.entries.logbook.lap_limits import impossible_laps
from setupadvisor.entries.logbook.records import (
    VERDICTS,
    ChangeEntry,
    LapEntry,
    Outing,
    RiderRemark,
)
from setupadvisor.entries.logbook.versions import add_version, id_for, id_of, newest, next_id
from setupadvisor.entries.machine import Machine
from setupadvisor.entries.messages import nearest, shown
from setupadvisor.entries.rider import Rider
from setupadvisor.entries.session import Setup
from setupadvisor.entries.texts import Text, read_day
from setupadvisor.entries.walk import Walk
from setupadvisor.errors import InputError, Mistake

WITHDRAWN_LAP = -1
_MOST_COMPARED = 2000
_NAME, _LINE, _FREE = Text(120), Text(400), Text(4000, lines=True)


class Writing:
    """Adds to the book; made by `Book.writing`, confirmed when that ends without an error.

    Parameters
    ----------
    connection : sqlalchemy.Connection
        To the book, in a writing transaction.
    who : str
        Who writes.
    """

    def __init__(self, connection: Connection, who: str) -> None:
        self.connection = connection
        self.who = read_text(who, "who", _NAME)

    @cached_property
    def id(self) -> int:
        """The number of this writing in the book."""
        number = next_id(self.connection, tables.writing)
        now = datetime.now(UTC).isoformat(timespec="microseconds")
        row = {"id": number, "who": self.who, "written_at": now}
        self.connection.execute(insert(tables.writing), [row])
        return number

    def add_walk(self, walk: Walk, part: str = "") -> int:
        """Add a walk, or correct the one of the same event, date and part of the day."""
        event_id = id_for(self.connection, tables.event, name=walk.event)
        part = read_text(part, "part", Text(40), needed=False)
        return self._add_content(
            "walk",
            dumped(walk_cells(walk)),
            event_id=event_id,
            date=walk.date.isoformat(),
            part=part,
        )

    def add_rider(self, rider: Rider) -> int:
        """Add a rider, or a new version of one."""
        return self._add_content("rider", dumped(entry_content(rider)), name=rider.name)

    def add_machine(self, machine: Machine) -> int:
        """Add a machine, or a new version of one."""
        return self._add_content("machine", dumped(entry_content(machine)), name=machine.name)

    def add_setup(self, name: str, setup: Setup) -> int:
        """Add a setup sheet under a name, or a new version of it."""
        name = read_text(name, "setup", _NAME)
        return self._add_content("setup", dumped(entry_content(setup)), name=name)

    def _add_content(self, kind: str, content: str, **key: Any) -> int:
        number = id_for(self.connection, tables.metadata.tables[kind], **key)
        versions = tables.metadata.tables[f"{kind}_version"]
        mine = {f"{kind}_id": number}
        return add_version(self.connection, versions, mine, {"content": content}, self.id)

    def add_outing(self, outing: Outing, *, correct: bool = False) -> str:
        """Add an outing; one that is there already is changed only as a correction.

        Returns
        -------
        str
            Its name.

        Raises
        ------
        InputError
            If it is there and says something else, or a text cannot stand.
        """
        row = self._outing_row(outing)
        session_id = outing.session_id.strip()
        if session_id:
            session_id = read_text(session_id, "session_id", Text(80))
        else:
            session_id = self._free_name(outing)
        known = id_of(self.connection, tables.outing, session_id=session_id)
        if known is not None and not correct:
            versions = tables.outing_version
            there = newest(versions).where(versions.c.outing_id == known)
            before = self.connection.execute(there).mappings().one()
            if any(before[name] != value for name, value in row.items()):
                mend = "give the new one another name, or say that this is a correction: --correct"
                found = f"the outing {shown(session_id)} is in the book and says something else"
                raise InputError(Mistake("session_id", found, mend))
        number = id_for(self.connection, tables.outing, session_id=session_id)
        mine = {"outing_id": number}
        add_version(self.connection, tables.outing_version, mine, row, self.id)
        return session_id

    def _outing_row(self, outing: Outing) -> dict[str, Any]:
        event = read_text(outing.event, "event", _NAME)
        date = _day(outing.date)
        event_id = id_for(self.connection, tables.event, name=event)
        part = outing.part.strip()
        key = {"event_id": event_id, "date": date, "part": part}
        walk_id = id_of(self.connection, tables.walk, **key)
        if walk_id is None and part:
            found = f"there is no walk of {event}, {date}, {shown(part)}"
            raise InputError(Mistake("part", found, "add the walk first: log add walk FILE"))
        return {
            "event_id": event_id,
            "rider_id": self._named_id(tables.rider, outing.rider, "rider"),
            "machine_id": self._named_id(tables.machine, outing.machine, "machine"),
            "walk_id": walk_id,
            "date": date,
            "time": read_text(outing.time, "time", Text(80), needed=False),
            "setup_form_id": id_for(
                self.connection, tables.setup_form, name=dumped(list(outing.setup))
            ),
            "setup": dumped(list(outing.setup.values())),
            "further": dumped(outing.further),
            "withdrawn": 0,
        }

    def _named_id(self, table: Any, name: str, what: str) -> int:
        return id_for(self.connection, table, name=read_text(name, what, _NAME))

    def _free_name(self, outing: Outing) -> str:
        """Name an outing by event, rider and number."""
        words = re.sub(r"[^\w]+", "-", f"{outing.event} {outing.rider}").strip("-").lower()[:70]
        taken = set(
            self.connection.execute(
                select(tables.outing.c.session_id).where(
                    tables.outing.c.session_id.startswith(f"{words}-", autoescape=True)
                )
            ).scalars()
        )
        return next(f"{words}-{n}" for n in range(1, len(taken) + 2) if f"{words}-{n}" not in taken)

    def withdraw(self, session_id: str) -> None:
        """Take an outing out of the season; what was written stays in the book."""
        number = self.outing_id(session_id)
        versions = tables.outing_version
        there = newest(versions).where(versions.c.outing_id == number)
        before = dict(self.connection.execute(there).mappings().one())
        for name in ("outing_id", "version", "writing_id"):
            before.pop(name)
        row = {**before, "withdrawn": 1}
        add_version(self.connection, versions, {"outing_id": number}, row, self.id)

    def outing_id(self, session_id: str) -> int:
        """Find an outing's number in the book.

        Raises
        ------
        InputError
            If there is no such outing.
        """
        number = id_of(self.connection, tables.outing, session_id=session_id.strip())
        if number is None:
            newest_first = select(tables.outing.c.session_id).order_by(tables.outing.c.id.desc())
            known = self.connection.execute(newest_first.limit(_MOST_COMPARED)).scalars().all()
            raise InputError(unknown_outing(session_id, known))
        return number

    def add_mark(
        self, session_id: str, mark: float | None, best_lap_s: float | None = None
    ) -> None:
        """Write down the rider's mark and the best lap, or correct them; None leaves one as is.

        Raises
        ------
        InputError
            If there is no such outing, or a value cannot be.
        """
        number = self.outing_id(session_id)
        if mark is not None and mark not in {1, 2, 3, 4, 5}:
            raise InputError(Mistake("mark", f"{mark:g} is no mark", "write 1, 2, 3, 4 or 5"))
        if best_lap_s is not None and not 10 <= best_lap_s <= 1800:
            found = f"a best lap of {best_lap_s:g} s cannot be"
            raise InputError(Mistake("best_lap", found, "write 10 s to 1800 s"))
        outcomes = tables.outcome
        there = newest(outcomes).where(outcomes.c.outing_id == number)
        before = self.connection.execute(there).mappings().first()
        if before is not None:
            mark = before["mark"] if mark is None else mark
            best_lap_s = before["best_lap_s"] if best_lap_s is None else best_lap_s
        content = {"mark": mark, "best_lap_s": best_lap_s}
        add_version(self.connection, outcomes, {"outing_id": number}, content, self.id)

    def add_remark(self, session_id: str, remark: RiderRemark, place: int | None = None) -> int:
        """Write down a remark; with a place, correct the one that stands there.

        Returns
        -------
        int
            Its place, from 1.

        Raises
        ------
        InputError
            If there is no such outing, no remark at that place, or the text cannot stand.
        """
        number = self.outing_id(session_id)
        column = tables.remark.c.place
        mine = tables.remark.c.outing_id == number
        last = self.connection.execute(select(func.max(column)).where(mine)).scalar() or 0
        if place is not None and not 1 <= place <= last:
            found = f"the outing has no remark {place}"
            raise InputError(Mistake("remark", found, f"it has {last}; log show lists them"))
        chosen = last + 1 if place is None else place
        content = {
            "text": read_text(remark.text, "remark", _FREE),
            "remarks": dumped(remark.remarks),
        }
        key = {"outing_id": number, "place": chosen}
        add_version(self.connection, tables.remark, key, content, self.id)
        return chosen

    def add_laps(self, session_id: str, laps: Sequence[LapEntry], *, correct: bool = False) -> int:
        """Write down an outing's laps; different ones replace those there only as a correction.

        Returns
        -------
        int
            How many laps were new or different.

        Raises
        ------
        InputError
            If there is no such outing, a lap cannot be, or other laps are there.
        """
        number = self.outing_id(session_id)
        wrong = impossible_laps(session_id, laps)
        if wrong:
            raise InputError(wrong)
        table = tables.lap
        there = {
            row.lap: row
            for row in self.connection.execute(newest(table).where(table.c.outing_id == number))
        }
        wanted = {lap.lap: (lap.lap_s, lap.clock_s, FLAGS.index(lap.flag)) for lap in laps}
        for gone in there.keys() - wanted.keys():
            wanted[gone] = (None, None, WITHDRAWN_LAP)
        rows = []
        for lap, (lap_s, clock_s, flag) in wanted.items():
            before = there.get(lap)
            if before is None or (before.lap_s, before.clock_s, before.flag) != (
                lap_s,
                clock_s,
                flag,
            ):
                row = {"outing_id": number, "lap": lap, "lap_s": lap_s, "clock_s": clock_s}
                version = 1 if before is None else before.version + 1
                rows.append({**row, "version": version, "flag": flag, "writing_id": self.id})
        if there and rows and not correct:
            found = f"other laps of {shown(session_id)} are in the book"
            mend = "give all its laps, and say that this is a correction: --correct"
            raise InputError(Mistake("laps", found, mend))
        if rows:
            self.connection.execute(insert(table), rows)
        return len(rows)

    def add_change(self, change: ChangeEntry) -> None:
        """Write down a change made after an outing, or what came of it.

        Raises
        ------
        InputError
            If there is no such outing, or something about the change cannot be.
        """
        number = self.outing_id(change.after)
        if change.verdict not in {"", *VERDICTS}:
            found = f"{shown(change.verdict)} is no verdict"
            raise InputError(Mistake("verdict", found, f"write one of {', '.join(VERDICTS)}"))
        if not (math.isfinite(change.start) and math.isfinite(change.to)):
            found = f"{change.setting} cannot go from {change.start:g} to {change.to:g}"
            raise InputError(Mistake("change", found, "write two numbers"))
        content = {
            "start_value": float(change.start),
            "to_value": float(change.to),
            "reason": read_text(change.reason, "reason", _LINE, needed=False),
            "remark": read_text(change.remark, "remark", _NAME, needed=False),
            "verdict": change.verdict,
        }
        key = {"outing_id": number, "setting": read_text(change.setting, "setting", Text(80))}
        add_version(self.connection, tables.setting_change, key, content, self.id)


def unknown_outing(session_id: str, known: Sequence[str]) -> Mistake:
    """Say that there is no such outing.

    Parameters
    ----------
    session_id : str
        As asked for.
    known : sequence of str
        Those there are.

    Returns
    -------
    Mistake
        With the nearest name.
    """
    near = nearest(session_id, known[:_MOST_COMPARED])
    mend = f"did you mean {near}?" if near else "log show --event NAME lists them"
    return Mistake("session_id", f"there is no outing {shown(session_id)} in the book", mend)


def read_text(written: str, where: str, kind: Text, *, needed: bool = True) -> str:
    """Read a text that will be printed one day.

    Parameters
    ----------
    written : str
        As given.
    where : str
        What it is, for messages.
    kind : Text
        How long it may be.
    needed : bool
        Whether it may not be empty.

    Returns
    -------
    str
        Without spaces around it.

    Raises
    ------
    InputError
        If it cannot stand.
    """
    if not needed and not written.strip():
        return ""
    try:
        return kind.read(written)
    except PydanticCustomError as error:
        context = error.context or {}
        raise InputError(Mistake(where, context["found"], context["mend"])) from None


def _day(written: str) -> str:
    try:
        return read_day(written).isoformat()
    except PydanticCustomError as error:
        context = error.context or {}
        raise InputError(Mistake("date", context["found"], context["mend"])) from None
