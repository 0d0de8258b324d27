"""Laps that cannot be."""

from __future__ import annotations

from collections.abc import Iterable

from setupadvisor.entries.lap_times import FLAGS, LATEST_CLOCK_S, LONGEST_LAP_S
from setupadvisor.entries.logbook.records import LapEntry
from setupadvisor.entries.quantity import shown
from setupadvisor.errors import Mistake


def impossible_laps(session_id: str, laps: Iterable[LapEntry]) -> list[Mistake]:
    """Find laps that cannot be.

    Parameters
    ----------
    session_id : str
        The outing, for messages.
    laps : iterable of LapEntry
        Its laps.

    Returns
    -------
    list of Mistake
        In the order of the laps.
    """
    mistakes = []
    seen: set[int] = set()
    for lap in laps:
        where = f"{session_id} lap {lap.lap}"
        if lap.lap in seen:
            mistakes.append(Mistake(where, "the lap stands twice", "keep one of them"))
        seen.add(lap.lap)
        if lap.lap < 0:
            mistakes.append(Mistake(where, "no lap has this number", "count from 1"))
        if lap.lap_s is not None and not 0 < lap.lap_s <= LONGEST_LAP_S:
            found = f"a lap of {lap.lap_s:g} s cannot be"
            mistakes.append(Mistake(where, found, "leave it out where it was not timed"))
        if lap.clock_s is not None and not 0 <= lap.clock_s < LATEST_CLOCK_S:
            found = f"{lap.clock_s:g} s is on no clock"
            mistakes.append(Mistake(where, found, "count seconds from midnight"))
        if lap.flag not in FLAGS:
            found = f"the flag {shown(lap.flag)} is unknown"
            mistakes.append(Mistake(where, found, f"write {', '.join(FLAGS[1:])} or nothing"))
    return mistakes
