"""The laps of a day, lane by lane and setup by setup."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from pydantic_core import PydanticCustomError

from setupadvisor.entries.lap_times import FLAGS, read_clock
from setupadvisor.entries.laps import LapTable
from setupadvisor.entries.logbook.records import LapEntry, Ridden
from setupadvisor.learning.lap_cleaning import CleanLaps, clean
from setupadvisor.learning.laps import LEVEL, Comparison, compare


@dataclass(frozen=True)
class Lane:
    """The laps of one outing.

    Parameters
    ----------
    outing : int
        Its number in the day, from 1.
    setup : str
        The letter of its setup; empty where the setup is not known.
    lap_s : tuple of float
        Laps that count, in seconds, in the order ridden.
    set_aside : int
        How many laps do not count.
    """

    outing: int
    setup: str
    lap_s: tuple[float, ...]
    set_aside: int

    @property
    def best_s(self) -> float | None:
        """The quickest lap that counts, in seconds; None without any."""
        return min(self.lap_s, default=None)

    @property
    def typical_s(self) -> float | None:
        """The median of the laps that count, in seconds; None without any."""
        return float(np.median(self.lap_s)) if self.lap_s else None


@dataclass(frozen=True)
class SetupLaps:
    """The laps ridden with one setup.

    Parameters
    ----------
    setup : str
        Its letter; empty where the setup is not known.
    lanes : tuple of Lane
        Its outings, in the order ridden.
    typical_s : float or None
        Median of the laps that count, in seconds; None without any.
    """

    setup: str
    lanes: tuple[Lane, ...]
    typical_s: float | None


def lanes_of(outings: Sequence[Ridden], letters: Sequence[str]) -> tuple[Lane, ...]:
    """Take the laps of each outing, without those that say nothing.

    Parameters
    ----------
    outings : sequence of Ridden
        Of one rider, in the order ridden.
    letters : sequence of str
        The letter of each outing's setup.

    Returns
    -------
    tuple of Lane
        One for each outing with laps.
    """
    return _lanes(clean(_table(outings, letters)), letters)


def _lanes(laps: CleanLaps, letters: Sequence[str]) -> tuple[Lane, ...]:
    table = laps.table
    found = []
    for run, name in enumerate(table.run_name):
        mine = table.run == run
        if mine.any():
            times = tuple(table.lap_s[mine & laps.counts].tolist())
            outing = int(name)
            aside = int(mine.sum()) - len(times)
            found.append(Lane(outing, letters[outing - 1], times, aside))
    return tuple(found)


def by_setup(lanes: Sequence[Lane]) -> tuple[SetupLaps, ...]:
    """Put the outings with one setup together.

    Parameters
    ----------
    lanes : sequence of Lane
        In the order ridden.

    Returns
    -------
    tuple of SetupLaps
        In the order in which the setups were first ridden, those not known last.

    Examples
    --------
    >>> [found.typical_s for found in by_setup([Lane(1, "A", (90.0,), 0), Lane(2, "B", (89.0,), 0),
    ...                                         Lane(3, "A", (91.0,), 1)])]
    [90.5, 89.0]
    """
    together: dict[str, list[Lane]] = {}
    for lane in lanes:
        together.setdefault(lane.setup, []).append(lane)
    return tuple(
        SetupLaps(setup, tuple(mine), _median([lap for lane in mine for lap in lane.lap_s]))
        for setup, mine in sorted(together.items(), key=lambda item: not item[0])
    )


def _median(times: Sequence[float]) -> float | None:
    return float(np.median(times)) if len(times) else None


def comparisons_of(outings: Sequence[Ridden], letters: Sequence[str]) -> tuple[Comparison, ...]:
    """Compare each setup with the one that was on the motorcycle before it.

    Parameters
    ----------
    outings : sequence of Ridden
        Of one rider, in the order ridden.
    letters : sequence of str
        The letter of each outing's setup; empty where it is not known.

    Returns
    -------
    tuple of Comparison
        For each setup after the first that has laps which count; those that the laps cannot tell
        apart are among them.
    """
    laps = clean(_table(outings, letters))
    ridden = [lane.setup for lane in _lanes(laps, letters) if lane.setup and lane.lap_s]
    found = []
    for place, setup in enumerate(ridden):
        if place and setup not in ridden[:place]:
            found.append(compare(laps, ridden[place - 1], setup, level=LEVEL))
    return tuple(found)


def _table(outings: Sequence[Ridden], letters: Sequence[str]) -> LapTable:
    rows: list[tuple[int, LapEntry]] = [
        (run, lap) for run, one in enumerate(outings) for lap in one.laps
    ]
    setups = tuple(dict.fromkeys(letters))
    days = tuple(dict.fromkeys(one.outing.date for one in outings))
    run = np.array([run for run, _ in rows], dtype=np.int64)
    setup_of = np.array([setups.index(letter) for letter in letters], dtype=np.int64)
    day_of = np.array([days.index(one.outing.date) for one in outings], dtype=np.int64)
    return LapTable(
        source="the laps of the day",
        setup_name=setups,
        rider_name=("",),
        day_name=days,
        run_name=tuple(str(number) for number in range(1, len(outings) + 1)),
        setup=setup_of[run],
        rider=np.zeros(len(rows), dtype=np.int64),
        day=day_of[run],
        run=run,
        lap_s=np.array([_number(lap.lap_s) for _, lap in rows], dtype=np.float64),
        clock_s=np.array([clock for one in outings for clock in _clocks(one)], dtype=np.float64),
        flag=np.array([FLAGS.index(lap.flag) for _, lap in rows], dtype=np.int64),
        line=np.arange(1, len(rows) + 1),
    )


def _clocks(one: Ridden) -> list[float]:
    """Take the laps' times of day; without any, count them on from when the outing began."""
    noted = [_number(lap.clock_s) for lap in one.laps]
    if not all(math.isnan(clock) for clock in noted):
        return noted
    try:
        clock = read_clock(one.outing.time)
    except PydanticCustomError:
        return noted
    counted = []
    for lap in one.laps:
        clock += lap.lap_s or 0.0
        counted.append(clock)
    return counted


def _number(value: float | None) -> float:
    return math.nan if value is None else value
