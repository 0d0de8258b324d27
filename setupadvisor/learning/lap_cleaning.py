"""Which laps of a table count: in-laps, out-laps, falls and stops are set aside, with the reason.

The rule, in full. Within each run the reference is the median of the laps that count (of an even
number the faster of the two middle ones, since nothing but a short cut makes a lap too fast). The
spread is 1.4826 times the median absolute deviation from the references, over all runs of one
rider on one day; at least 0.3 % and, for this rule, at most 2 % of a lap. A lap is set aside when
it is

- not timed, or flagged in, out, fall or stop;
- the first or last of its run and more than 3 spreads slower than the reference;
- any other and more than 4 spreads slower;
- below 0.8 times the reference.

This is repeated with the laps that are left until nothing changes. Laps that are slow by less
stay, with bounded weight (see `bounded_laps`). The numbers 0.3 %, 2 %, 3, 4 and 0.8 are common
practice, no source; 1.4826 makes the median absolute deviation a standard deviation where errors
are normal (Huber and Ronchetti, Robust Statistics, 2nd ed. 2009, ch. 5, from memory).
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from setupadvisor.entries.lap_times import FLAGS
from setupadvisor.entries.laps import LapTable
from setupadvisor.learning.lap_hours import lap_hours
from setupadvisor.learning.sessions import Booleans, Floats, Integers

EDGE_SPREADS = 3.0
SLOW_SPREADS = 4.0
FASTEST_SHARE = 0.8
LEAST_SPREAD_SHARE, MOST_SPREAD_SHARE = 0.003, 0.02
_MAD_TO_SPREAD = 1.4826
_MOST_ROUNDS = 20

REASONS = (
    "",
    *(f"flagged {flag}" for flag in FLAGS[1:]),
    "not timed",
    "first lap of its run, clearly slow: an out-lap",
    "last lap of its run, clearly slow: an in-lap",
    "far slower than its run: a fall or a stop",
    "far faster than its run: a short cut or a fault",
)
_NOT_TIMED, _OUT, _IN, _SLOW, _FAST = range(len(FLAGS), len(FLAGS) + 5)


@dataclass(frozen=True)
class CleanLaps:
    """A lap table of n laps with what counts.

    Parameters
    ----------
    table : LapTable
        The table.
    reason : (n,) integer array
        Place in `REASONS` of why a lap was set aside; 0 where it counts.
    block : (n,) integer array
        Code of one rider on one day.
    spread_s : (n,) array
        Robust lap-to-lap spread of the block in seconds.
    hours : (n,) array
        When the lap was ridden, in hours from any start of its day.
    by_clock : (days,) boolean array
        Whether the hours of a day come from its clocks; otherwise from the order of the laps.
    """

    table: LapTable
    reason: Integers
    block: Integers
    spread_s: Floats
    hours: Floats
    by_clock: Booleans

    @property
    def counts(self) -> Booleans:
        """Which laps count."""
        kept: Booleans = self.reason == 0
        return kept


def clean(table: LapTable) -> CleanLaps:
    """Set aside the laps that say nothing about the setup.

    Parameters
    ----------
    table : LapTable
        The laps.

    Returns
    -------
    CleanLaps
        The same laps, each with the reason why it does not count, or none.

    Examples
    --------
    >>> from setupadvisor.entries.lap_runs import table_of
    >>> laps = clean(table_of([("A", [110.0, 90.1, 90.4, 90.2, 97.5, 90.3])]))
    >>> [REASONS[reason].split(":")[0] for reason in laps.reason[[0, 4]]]
    ['first lap of its run, clearly slow', 'far slower than its run']
    """
    _, block = np.unique(
        table.rider * (table.day.max(initial=0) + 1) + table.day, return_inverse=True
    )
    reason = np.where(np.isnan(table.lap_s), _NOT_TIMED, 0)
    reason = np.where(table.flag > 0, table.flag, reason)
    eligible = reason == 0
    is_first = np.r_[True, table.run[1:] != table.run[:-1]][: len(table)]
    is_last = np.r_[is_first[1:], True][: len(table)]
    by_time = np.lexsort((table.lap_s, table.run))
    counts = eligible
    spread = np.zeros(len(table))
    for _ in range(_MOST_ROUNDS):
        reference = _low_medians(table, by_time[counts[by_time]])[table.run]
        spread = np.maximum(
            _spreads(table.lap_s - reference, block, counts)[block], LEAST_SPREAD_SHARE * reference
        )
        spreads = np.where(is_first | is_last, EDGE_SPREADS, SLOW_SPREADS)
        # Where nearly half the laps are slow they would otherwise excuse each other.
        limit = spreads * np.minimum(spread, MOST_SPREAD_SHARE * reference)
        slow = eligible & (table.lap_s > reference + limit)
        fast = eligible & (table.lap_s < FASTEST_SHARE * reference)
        before, counts = counts, eligible & ~slow & ~fast
        if np.array_equal(before, counts):
            break
    judged = np.select(
        [slow & is_first, slow & is_last, slow, fast], [_OUT, _IN, _SLOW, _FAST], reason
    )
    hours, by_clock = lap_hours(table, block)
    return CleanLaps(table, judged, block, spread, hours, by_clock)


def _low_medians(table: LapTable, order: Integers) -> Floats:
    """Median of laps sorted by run and time, by run; NaN for a run without any."""
    laps = np.bincount(table.run[order], minlength=len(table.run_name))
    begin = np.cumsum(laps) - laps
    result = np.full(len(laps), np.nan)
    ridden = laps > 0
    result[ridden] = table.lap_s[order[(begin + (laps - 1) // 2)[ridden]]]
    return result


def _spreads(deviation: Floats, block: Integers, counts: Booleans) -> Floats:
    """Robust spread by block; 0 where there is nothing to compare."""
    # The reference lap itself deviates by nothing and would pull the median down.
    compared = counts & (deviation != 0)
    size = np.abs(deviation[compared])
    of = block[compared]
    size = size[np.lexsort((size, of))]
    laps = np.bincount(of, minlength=int(block.max(initial=-1)) + 1)
    begin = np.cumsum(laps) - laps
    result = np.zeros(len(laps))
    some = laps > 0
    low, high = (begin + (laps - 1) // 2)[some], (begin + laps // 2)[some]
    result[some] = _MAD_TO_SPREAD * (size[low] + size[high]) / 2.0
    return result
