"""Lap times, times of day and flags as they stand on a timing sheet."""

from __future__ import annotations

import re

from setupadvisor.entries.messages import mistake, nearest, shown

LONGEST_LAP_S = 86_400.0
LATEST_CLOCK_S = 48 * 3600.0
MOST_LAPS = 100_000
FLAGS = ("", "in", "out", "fall", "stop")

_NUMBER = re.compile(r"\d+(\.\d*)?|\.\d+", re.ASCII)
_PARTS = re.compile(r"(?:(\d{1,2}):)?(\d{1,4}):(\d{2}(?:\.\d*)?)", re.ASCII)
_CLOCK = re.compile(r"(\d{1,2}):(\d{2})(?::(\d{2}(?:\.\d*)?))?", re.ASCII)
_WHOLE = re.compile(r"(\d{1,6})(?:\.0*)?", re.ASCII)
_TIME_MEND = "write seconds (83.456) or m:ss.mmm (1:23.456)"
_NOT_TIMED = f"{_TIME_MEND}; leave the cell empty where the lap was not timed"
_CLOCK_MEND = "write hours:minutes or hours:minutes:seconds, as in 13:05:40"


def read_lap_time(text: str) -> float:
    """Read a lap time in seconds, ``m:ss.mmm`` or ``h:mm:ss.mmm``.

    Parameters
    ----------
    text : str
        As written; an ``s`` at the end is allowed.

    Returns
    -------
    float
        Seconds, above 0 and at most a day.

    Raises
    ------
    pydantic_core.PydanticCustomError
        If it is none, with the mend. Zero and negative times are refused: timing systems write
        them for a lap that was not timed.

    Examples
    --------
    >>> read_lap_time("83.456"), read_lap_time("1:23.456"), read_lap_time("1:02:03")
    (83.456, 83.456, 3723.0)
    """
    written = text.strip().removesuffix("s").rstrip()
    seconds = _seconds(written)
    if seconds is None:
        if _seconds(written.removeprefix("-")) is not None:
            raise mistake(f"{shown(text)} is negative", _NOT_TIMED)
        if _seconds(written.replace(",", ".", 1)) is not None:
            raise mistake(f"{shown(text)} has a comma", "write a point: 83.456 or 1:23.456")
        raise mistake(f"{shown(text)} is no lap time", _NOT_TIMED)
    if seconds == 0.0:
        raise mistake(f"a lap of {shown(text)} cannot be", _NOT_TIMED)
    if seconds > LONGEST_LAP_S:
        raise mistake(f"{shown(text)} is more than a day", _TIME_MEND)
    return seconds


def _seconds(text: str) -> float | None:
    if _NUMBER.fullmatch(text):
        return float(text)
    match = _PARTS.fullmatch(text)
    if match is None:
        return None
    hours, minutes, seconds = int(match[1] or 0), int(match[2]), float(match[3])
    if seconds >= 60 or (match[1] is not None and minutes >= 60):
        return None
    return hours * 3600.0 + minutes * 60.0 + seconds


def read_clock(text: str) -> float:
    """Read a time of day.

    Parameters
    ----------
    text : str
        ``HH:MM`` or ``HH:MM:SS``; past midnight it goes on counting, as in ``24:10``.

    Returns
    -------
    float
        Seconds since midnight.

    Raises
    ------
    pydantic_core.PydanticCustomError
        If it is none, with the mend.

    Examples
    --------
    >>> read_clock("13:05"), read_clock("9:05:40")
    (47100.0, 32740.0)
    """
    match = _CLOCK.fullmatch(text.strip())
    if match is None:
        raise mistake(f"{shown(text)} is no time of day", _CLOCK_MEND)
    hours, minutes, seconds = int(match[1]), int(match[2]), float(match[3] or 0)
    clock = hours * 3600.0 + minutes * 60.0 + seconds
    if minutes >= 60 or seconds >= 60 or clock >= LATEST_CLOCK_S:
        raise mistake(f"{shown(text)} is on no clock", _CLOCK_MEND)
    return clock


def read_lap_number(text: str) -> float:
    """Read the number of a lap within its run.

    Parameters
    ----------
    text : str
        As written.

    Returns
    -------
    float
        A whole number from 0.

    Raises
    ------
    pydantic_core.PydanticCustomError
        If it is none, with the mend.

    Examples
    --------
    >>> read_lap_number("7")
    7.0
    """
    match = _WHOLE.fullmatch(text.strip())
    if match is None or int(match[1]) > MOST_LAPS:
        raise mistake(f"{shown(text)} is no lap number", "count the laps of a run: 1, 2, 3")
    return float(match[1])


def read_flag(text: str) -> float:
    """Read what was noted about a lap.

    Parameters
    ----------
    text : str
        ``in`` or ``out`` (also ``in-lap``, ``out lap``), ``fall`` or ``stop``.

    Returns
    -------
    float
        The place in `FLAGS`.

    Raises
    ------
    pydantic_core.PydanticCustomError
        If it is none, with the mend.

    Examples
    --------
    >>> FLAGS[int(read_flag("Out-lap"))]
    'out'
    """
    word = text.strip().lower()
    for ending in ("-lap", " lap", "lap"):
        word = word.removesuffix(ending)
    if word not in FLAGS or not word:
        near = nearest(word, FLAGS[1:])
        known = f"write {', '.join(FLAGS[1:])}, or leave the cell empty"
        raise mistake(
            f"the flag {shown(text)} is unknown",
            f"did you mean {near}? Else {known}" if near else known,
        )
    return float(FLAGS.index(word))
