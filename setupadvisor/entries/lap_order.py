"""Laps of a table joined into runs and put in order; what contradicts between rows is found."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from setupadvisor.entries.messages import shown

Integers = NDArray[np.int64]
Floats = NDArray[np.float64]
Blame = tuple[int, str, str, str]

MOST_MISTAKES = 1000


@dataclass(frozen=True)
class LapColumns:
    """Columns of n laps in the order of the table.

    Parameters
    ----------
    code : mapping of str to (n,) integer array
        Codes of event, date, rider, session_id, run and setup; -1 where not given.
    name : mapping of str to tuple of str
        What the codes stand for.
    lap : (n,) array
        Number of the lap in its run; NaN where not given.
    lap_s, clock_s : (n,) array
        Lap time and time of day in seconds; NaN where not given.
    flag : (n,) integer array
        Place in `lap_times.FLAGS`.
    line : (n,) integer array
        Line of the table.
    """

    code: Mapping[str, Integers]
    name: Mapping[str, tuple[str, ...]]
    lap: Floats
    lap_s: Floats
    clock_s: Floats
    flag: Integers
    line: Integers


@dataclass(frozen=True)
class LapOrder:
    """Sound laps in order.

    Parameters
    ----------
    rows : (m,) integer array
        Which rows of the columns are sound, run by run in the order ridden.
    run, day : (m,) integer array
        Codes of run and day of those rows.
    run_name, day_name : tuple of str
        What the codes stand for.
    blamed : list of tuple
        Row, column, what was found and the mend, for rows that contradict another.
    unlisted : int
        How many more rows do so.
    """

    rows: Integers
    run: Integers
    day: Integers
    run_name: tuple[str, ...]
    day_name: tuple[str, ...]
    blamed: list[Blame]
    unlisted: int


def in_order(columns: LapColumns, source: str) -> LapOrder:
    """Join laps into runs and put them in order.

    Parameters
    ----------
    columns : LapColumns
        The table.
    source : str
        Its name, to point at other lines.

    Returns
    -------
    LapOrder
        Without the rows that contradict an earlier one: a second setup in a run, a lap number
        given twice, a clock that goes backwards.

    Notes
    -----
    A run whose laps are all numbered is put in the order of the numbers, any other stays in the
    order of the table.
    """
    code = columns.code
    day, day_row = _joint(code["event"], code["date"])
    run, run_row = _joint(day, code["rider"], code["session_id"], code["run"])
    blamed: list[Blame] = []
    sound = _one_setup(columns, run, run_row, source, blamed)
    row = np.arange(len(run))
    unnumbered = np.zeros(len(run_row), dtype=bool)
    unnumbered[run[np.isnan(columns.lap)]] = True
    place = np.where(unnumbered[run], row.astype(np.float64), columns.lap)
    order = np.lexsort((row, place, run))
    order = order[sound[order]]
    order = _without_repeated(columns, run, order, source, blamed)
    order = _forward(columns, run, order, source, blamed)
    return LapOrder(
        order,
        run[order],
        day[order],
        tuple(_named(columns, int(first), ("session_id", "run")) for first in run_row),
        tuple(_named(columns, int(first), ("event", "date")) for first in day_row),
        blamed,
        len(run) - len(order) - len(blamed),
    )


def _joint(*codes: Integers) -> tuple[Integers, Integers]:
    """Code what several codes name together, in order of appearance; with each one's first row."""
    joint = np.zeros(len(codes[0]), dtype=np.int64)
    for one in codes:
        _, joint = np.unique(joint * (one.max(initial=-1) + 2) + one + 1, return_inverse=True)
    _, first, joint = np.unique(joint, return_index=True, return_inverse=True)
    rank = np.empty(len(first), dtype=np.int64)
    rank[np.argsort(first)] = np.arange(len(first))
    return rank[joint], np.sort(first)


def _named(columns: LapColumns, row: int, parts: tuple[str, ...]) -> str:
    codes = [(part, int(columns.code[part][row])) for part in parts]
    return " ".join(columns.name[part][code] for part, code in codes if code >= 0)


def _one_setup(
    columns: LapColumns, run: Integers, run_row: Integers, source: str, blamed: list[Blame]
) -> NDArray[np.bool_]:
    setup = columns.code["setup"]
    wanted = setup[run_row][run]
    sound: NDArray[np.bool_] = setup == wanted
    names = columns.name["setup"]
    for row in np.flatnonzero(~sound)[:MOST_MISTAKES]:
        first = int(columns.line[run_row[run[row]]])
        found = (
            f"the setup is {shown(names[setup[row]])}, "
            f"and {shown(names[wanted[row]])} for the same run in {source}:{first}"
        )
        blamed.append((int(row), "setup", found, "give each setup a run of its own"))
    return sound


def _without_repeated(
    columns: LapColumns, run: Integers, order: Integers, source: str, blamed: list[Blame]
) -> Integers:
    lap = columns.lap[order]
    repeated = np.zeros(len(order), dtype=bool)
    # NaN is not equal to itself: laps without a number repeat nothing.
    repeated[1:] = (run[order][1:] == run[order][:-1]) & (lap[1:] == lap[:-1])
    # Of three alike, all point at the first.
    first = np.maximum.accumulate(np.where(repeated, 0, np.arange(len(order))))
    for place in np.flatnonzero(repeated)[:MOST_MISTAKES]:
        row, other = int(order[place]), int(order[first[place]])
        where = f"{source}:{columns.line[other]}"
        if columns.lap_s[row] == columns.lap_s[other]:
            found, mend = f"the same lap stands in {where}", "take one of them out"
        else:
            found = f"lap {columns.lap[row]:.0f} of this run has another time in {where}"
            mend = "keep the right one, or give each run a name of its own"
        blamed.append((row, "lap", found, mend))
    return order[~repeated]


def _forward(
    columns: LapColumns, run: Integers, order: Integers, source: str, blamed: list[Blame]
) -> Integers:
    """Leave out laps whose clock is behind that of a lap before them in their run."""
    clock = columns.clock_s[order]
    noted = np.flatnonzero(~np.isnan(clock))
    # Adding more than a clock can show, run by run, lets one running maximum serve all runs.
    lifted = clock[noted] + run[order][noted] * 1e6
    is_back = lifted < np.maximum.accumulate(lifted)
    latest = np.maximum.accumulate(np.where(is_back, 0, np.arange(len(noted))))
    for place in np.flatnonzero(is_back)[:MOST_MISTAKES]:
        row, other = int(order[noted[place]]), int(order[noted[latest[place]]])
        found = (
            f"the clock goes backwards: {_clock(columns.clock_s[row])} after "
            f"{_clock(columns.clock_s[other])} in {source}:{columns.line[other]}"
        )
        mend = "correct it or take it out; past midnight go on counting, as in 24:10"
        blamed.append((row, "clock", found, mend))
    keep = np.ones(len(order), dtype=bool)
    keep[noted[is_back]] = False
    return order[keep]


def _clock(seconds: float) -> str:
    minutes, second = divmod(int(seconds), 60)
    return f"{minutes // 60}:{minutes % 60:02d}:{second:02d}"
