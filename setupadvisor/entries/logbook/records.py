"""What goes into the logbook and comes out of it, as plain records."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field

from setupadvisor.entries.walk import Walk

Cell = int | float | str | bool

VERDICTS = ("better", "same", "worse")


@dataclass(frozen=True)
class Outing:
    """One outing, as it is written into the book.

    Parameters
    ----------
    event : str
        Its event.
    date : str
        Its day, as in ``2026-05-17``.
    rider, machine : str
        Their names.
    setup : mapping of str to Cell
        What was on the motorcycle, by setting: numbers in the setting's unit, or names.
    session_id : str
        Its name; the book chooses one where it is empty.
    time : str
        When it began; may be empty.
    part : str
        Which of the day's walks it belongs to; empty where there is one.
    further : mapping of str to Cell
        Other columns of the season's table.
    """

    event: str
    date: str
    rider: str
    machine: str
    setup: Mapping[str, Cell] = field(default_factory=dict)
    session_id: str = ""
    time: str = ""
    part: str = ""
    further: Mapping[str, Cell] = field(default_factory=dict)


@dataclass(frozen=True)
class RiderRemark:
    """What the rider said about an outing.

    Parameters
    ----------
    text : str
        In the rider's words.
    remarks : tuple of str
        Ids of the remarks it was understood as; may be empty.
    """

    text: str
    remarks: tuple[str, ...] = ()


@dataclass(frozen=True)
class LapEntry:
    """One lap.

    Parameters
    ----------
    lap : int
        Its number within the outing.
    lap_s : float or None
        Lap time in seconds; None where it was not timed.
    clock_s : float or None
        Time of day in seconds since midnight.
    flag : str
        One of `lap_times.FLAGS`.
    """

    lap: int
    lap_s: float | None
    clock_s: float | None = None
    flag: str = ""


@dataclass(frozen=True)
class ChangeEntry:
    """One setting changed after an outing.

    Parameters
    ----------
    setting : str
        Its name.
    start, to : float
        From what to what, in the setting's number.
    reason : str
        Why; may be empty.
    remark : str
        Id of the remark or rule it was for; may be empty.
    verdict : str
        One of `VERDICTS`, or empty while it is not known.
    after : str
        The outing after which it was made.
    """

    setting: str
    start: float
    to: float
    reason: str = ""
    remark: str = ""
    verdict: str = ""
    after: str = ""


@dataclass(frozen=True)
class ChangeCount:
    """How changes of one kind did.

    Parameters
    ----------
    machine, setting : str
        What was moved on which machine.
    rises : bool
        Whether its number went up.
    remark : str
        Id of the remark or rule it was for; may be empty.
    better, same, worse : int
        How often it did what.
    """

    machine: str
    setting: str
    rises: bool
    remark: str
    better: int
    same: int
    worse: int


@dataclass(frozen=True)
class Ridden:
    """One outing, as the book gives it back.

    Parameters
    ----------
    outing : Outing
        What was written, in its newest version.
    mark : float or None
        The rider's mark, 1 to 5.
    best_lap_s : float or None
        Best lap as written on the sheet, in seconds.
    remarks : tuple of RiderRemark
        In the order in which they were made.
    laps : tuple of LapEntry
        In the order ridden.
    version : int
        1 for what was first written, higher after corrections.
    who, written_at : str
        Who wrote that version, and when (UTC, ISO 8601).
    """

    outing: Outing
    mark: float | None
    best_lap_s: float | None
    remarks: tuple[RiderRemark, ...]
    laps: tuple[LapEntry, ...]
    version: int
    who: str
    written_at: str


@dataclass(frozen=True)
class Day:
    """What one rider did at one event.

    Parameters
    ----------
    event, rider : str
        Their names.
    walk : Walk or None
        The walk that the last outing belongs to; without outings the last one written.
    outings : tuple of Ridden
        In the order of dates, and in the order written within a date.
    changes : tuple of ChangeEntry
        What was changed between outings, in order.
    """

    event: str
    rider: str
    walk: Walk | None
    outings: tuple[Ridden, ...]
    changes: tuple[ChangeEntry, ...]


@dataclass(frozen=True)
class Version:
    """One version of something in the book.

    Parameters
    ----------
    what : str
        What it is and what it is called: ``"mark of M1"``.
    version : int
        1 for what was first written.
    content : str
        What it said.
    who, written_at : str
        Who wrote it, and when (UTC, ISO 8601).
    """

    what: str
    version: int
    content: str
    who: str
    written_at: str


@dataclass(frozen=True)
class EventSummary:
    """What the book holds of one event.

    Parameters
    ----------
    event : str
        Its name.
    first_day, last_day : str
        Its days; empty where neither an outing nor a walk is known.
    riders : tuple of str
        Who rode there.
    outings, walks : int
        How many there are.
    """

    event: str
    first_day: str
    last_day: str
    riders: tuple[str, ...]
    outings: int
    walks: int
