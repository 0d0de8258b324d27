"""Lap tables made from numbers at hand, without a file."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from setupadvisor.entries.laps import LapTable


def table_of(
    runs: Sequence[tuple[str, Sequence[float]]],
    *,
    rider: Sequence[str] = (),
    day: Sequence[str] = (),
    start_h: Sequence[float] = (),
    source: str = "laps",
) -> LapTable:
    """Make a lap table from runs.

    Parameters
    ----------
    runs : sequence of tuple of str and sequence of float
        Setup and lap times in seconds (NaN for a lap that was not timed) of each run, in the
        order ridden.
    rider, day : sequence of str, optional
        Of each run; one rider and one day when missing.
    start_h : sequence of float, optional
        Time of day at which each run began, in hours; unknown when missing.
    source : str
        What to call the table in messages.

    Returns
    -------
    LapTable
        The table.

    Examples
    --------
    >>> table = table_of([("A", [90.0, 91.0]), ("B", [89.5])], start_h=[10.0, 10.5])
    >>> len(table), table.setup_name, (table.clock_s / 60).round(1).tolist()
    (3, ('A', 'B'), [601.5, 603.0, 631.5])
    """
    size = [len(laps) for _, laps in runs]
    lap_s: NDArray[np.float64] = np.array(
        [lap for _, laps in runs for lap in laps], dtype=np.float64
    )
    begin = np.repeat(start_h if len(start_h) else np.full(len(runs), np.nan), size) * 3600.0
    ridden = [np.cumsum(laps) for _, laps in runs]
    run = np.repeat(np.arange(len(runs)), size)

    def coded(names: Sequence[str]) -> tuple[tuple[str, ...], NDArray[np.int64]]:
        known = tuple(dict.fromkeys(names))
        return known, np.array([known.index(name) for name in names], dtype=np.int64)[run]

    setup_name, setup = coded([setup for setup, _ in runs])
    rider_name, riders = coded(list(rider) or [""] * len(runs))
    day_name, days = coded(list(day) or [""] * len(runs))
    return LapTable(
        source=source,
        setup_name=setup_name,
        rider_name=rider_name,
        day_name=day_name,
        run_name=tuple(str(number) for number in range(1, len(runs) + 1)),
        setup=setup,
        rider=riders,
        day=days,
        run=run,
        lap_s=lap_s,
        clock_s=begin + (np.concatenate(ridden) if ridden else np.zeros(0)),
        flag=np.zeros(len(lap_s), dtype=np.int64),
        line=np.arange(1, len(lap_s) + 1),
    )
