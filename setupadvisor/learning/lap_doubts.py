"""What a difference between two setups could be besides the setups."""

from __future__ import annotations

import numpy as np

from setupadvisor.learning.lap_cleaning import CleanLaps
from setupadvisor.learning.sessions import Booleans, Floats, Integers

FEW_LAPS = 6
_SHARE_APART = 0.2
_LEAST_SET_ASIDE = 3
_MOST_NAMES = 4


def doubts(
    laps: CleanLaps, ridden: Booleans, side: Floats, names: tuple[str, str]
) -> tuple[str, ...]:
    """Say what confounds a comparison.

    Parameters
    ----------
    laps : CleanLaps
        The laps.
    ridden : (n,) boolean array
        Laps of the two setups, whether they count or not.
    side : (n,) array
        -1/2 for the first setup, +1/2 for the second.
    names : tuple of str
        The first and the second setup.

    Returns
    -------
    tuple of str
        Plain sentences, the gravest first.
    """
    chosen = ridden & laps.counts
    first, second = chosen & (side < 0), chosen & (side > 0)
    blocks_first = np.unique(laps.block[first])
    blocks_second = np.unique(laps.block[second])
    both = np.intersect1d(blocks_first, blocks_second)
    said: list[str] = []
    for name, laps_of in zip(names, (first, second), strict=True):
        if not laps_of.any():
            said.append(f"No lap with {name} counts: nothing can be compared.")
    if said:
        return tuple(said)
    if not len(both):
        return (
            f"No rider rode both {names[0]} and {names[1]} on one day: the rider or the day cannot "
            "be told from the setup. Let one rider ride both on one day.",
        )
    if int(chosen.sum()) - len(np.unique(laps.block[chosen])) < 3:
        said.append("There are too few laps to tell the setup from chance.")
    said += _one_sided(laps, chosen, both)
    said += _order(laps, first, second, both, names)
    said += _few(laps, first, second, names)
    said += _clocks(laps, chosen)
    said += _set_aside(ridden, laps, side, names)
    return tuple(said)


def _one_sided(laps: CleanLaps, chosen: Booleans, both: Integers) -> list[str]:
    alone = chosen & ~np.isin(laps.block, both)
    if not alone.any():
        return []
    riders = sorted({laps.table.rider_name[code] for code in np.unique(laps.table.rider[alone])})
    named = ", ".join(rider or "the rider" for rider in riders[:_MOST_NAMES])
    more = f" and {len(riders) - _MOST_NAMES} more" if len(riders) > _MOST_NAMES else ""
    return [
        f"{int(alone.sum())} laps ({named}{more}) are of a rider and day with one of the two "
        "setups only: they tell of the track and the spread, not of the difference."
    ]


def _order(
    laps: CleanLaps, first: Booleans, second: Booleans, both: Integers, names: tuple[str, str]
) -> list[str]:
    blocks = int(laps.block.max()) + 1
    earliest, latest = np.full((2, blocks), np.inf), np.full((2, blocks), -np.inf)
    for place, laps_of in enumerate((first, second)):
        np.minimum.at(earliest[place], laps.block[laps_of], laps.hours[laps_of])
        np.maximum.at(latest[place], laps.block[laps_of], laps.hours[laps_of])
    for early, late in ((0, 1), (1, 0)):
        if (latest[early][both] <= earliest[late][both]).all():
            where = "" if len(both) == 1 else " by every rider on every day"
            return [
                f"{names[early]} was ridden before {names[late]}{where}: what the track or the "
                f"rider did meanwhile is hardly told from the setup. Ride {names[early]} once more."
            ]
    return []


def _few(laps: CleanLaps, first: Booleans, second: Booleans, names: tuple[str, str]) -> list[str]:
    said = []
    single = [
        name
        for name, laps_of in zip(names, (first, second), strict=True)
        if len(np.unique(laps.table.run[laps_of])) == 1
    ]
    if single:
        said.append(
            f"One run only with {' and with '.join(single)}: how much a run differs from the next "
            "is taken from common practice (half the lap-to-lap spread), not measured here."
        )
    for name, laps_of in zip(names, (first, second), strict=True):
        count = int(laps_of.sum())
        if count < FEW_LAPS:
            said.append(f"Only {count} lap{'s' if count > 1 else ''} with {name} count.")
    return said


def _clocks(laps: CleanLaps, chosen: Booleans) -> list[str]:
    days = np.unique(laps.table.day[chosen])
    without = int((~laps.by_clock[days]).sum())
    if not without:
        return []
    where = "" if without == len(days) else f" on {without} of {len(days)} days"
    return [
        f"No times of day{where}: the order of the laps stands in, with a quarter of an hour "
        "between runs. One clock a run would do."
    ]


def _set_aside(
    ridden: Booleans, laps: CleanLaps, side: Floats, names: tuple[str, str]
) -> list[str]:
    total = [int((ridden & (side * sign > 0)).sum()) for sign in (-1, 1)]
    aside = [int((ridden & ~laps.counts & (side * sign > 0)).sum()) for sign in (-1, 1)]
    share = [one / of for one, of in zip(aside, total, strict=True)]
    more = int(share[1] > share[0])
    if abs(share[1] - share[0]) < _SHARE_APART or aside[more] < _LEAST_SET_ASIDE:
        return []
    return [
        f"More laps were set aside with {names[more]} ({aside[more]} of {total[more]}) than with "
        f"{names[1 - more]} ({aside[1 - more]} of {total[1 - more]}): if the setup made the rider "
        "fall or stop, these lap times do not show it."
    ]
