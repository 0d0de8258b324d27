"""When each lap was ridden: by the clock where the table has one, else by the order of the laps."""

from __future__ import annotations

import numpy as np

from setupadvisor.entries.laps import LapTable
from setupadvisor.learning.sessions import Booleans, Floats, Integers

# Common practice, no source: from leaving the track to entering it again.
GAP_BETWEEN_RUNS_S = 900.0


def lap_hours(table: LapTable, block: Integers) -> tuple[Floats, Booleans]:
    """Say when each lap was ridden.

    Parameters
    ----------
    table : LapTable
        The laps.
    block : (n,) integer array
        Code of one rider on one day.

    Returns
    -------
    hours : (n,) array
        Hours from any start of the day.
    by_clock : (days,) boolean array
        Whether a day's hours come from its clocks.

    Notes
    -----
    One clock in each run of a day is enough: the other laps follow by their lap times. Without,
    each rider's laps of the day follow one another, with a quarter of an hour between runs.
    """
    laps_s = _with_typical(table.lap_s, table.run, len(table.run_name))
    clock = _followed(table.clock_s, laps_s, table.run)
    by_clock = np.ones(len(table.day_name), dtype=bool)
    by_clock[table.day[np.isnan(clock)]] = False
    hours = np.where(by_clock[table.day], clock, _by_order(laps_s, table.run, block)) / 3600.0
    return hours, by_clock


def _with_typical(lap_s: Floats, run: Integers, runs: int) -> Floats:
    """Fill laps that were not timed with the mean of their run, or of all."""
    timed = ~np.isnan(lap_s)
    if timed.all():
        return lap_s
    count = np.bincount(run[timed], minlength=runs)
    total = np.bincount(run[timed], weights=lap_s[timed], minlength=runs)
    overall = total.sum() / max(count.sum(), 1)
    typical = np.where(count > 0, total / np.maximum(count, 1), overall)
    return np.where(timed, lap_s, typical[run])


def _followed(clock_s: Floats, laps_s: Floats, run: Integers) -> Floats:
    """Carry clocks on by the lap times within each run; NaN in a run without any clock."""
    elapsed = np.cumsum(laps_s)
    noted = ~np.isnan(clock_s)
    place = np.arange(len(run))
    before = np.maximum.accumulate(np.where(noted, place, -1))
    after = np.minimum.accumulate(np.where(noted, place, len(run))[::-1])[::-1]
    result = np.full(len(run), np.nan)
    for source in (after, before):
        known = (source >= 0) & (source < len(run))
        known[known] = run[source[known]] == run[known]
        at = source[known]
        result[known] = clock_s[at] + elapsed[known] - elapsed[at]
    return result


def _by_order(laps_s: Floats, run: Integers, block: Integers) -> Floats:
    order = np.lexsort((np.arange(len(run)), block))
    gap = np.r_[False, run[order][1:] != run[order][:-1]][: len(run)]
    result = np.empty(len(run))
    # All riders of a day begin at 0: nothing says who rode first.
    total = np.cumsum(laps_s[order] + GAP_BETWEEN_RUNS_S * gap)
    begins = np.r_[True, block[order][1:] != block[order][:-1]][: len(run)]
    start = np.maximum.accumulate(np.where(begins, np.arange(len(run)), 0))
    result[order] = total - total[start]
    return result
