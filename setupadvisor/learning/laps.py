"""Did it help? Two setups compared from their laps."""

from __future__ import annotations

import math
from dataclasses import asdict, dataclass, replace
from statistics import NormalDist
from typing import Any

import numpy as np

from setupadvisor.entries.laps import LapTable
from setupadvisor.entries.messages import nearest, shown
from setupadvisor.errors import InputError, Mistake
from setupadvisor.learning.bounded_laps import bound_laps
from setupadvisor.learning.lap_cleaning import CleanLaps, clean
from setupadvisor.learning.lap_doubts import doubts
from setupadvisor.learning.lap_model import drift_s_per_hour, lap_sums
from setupadvisor.learning.lap_posterior import PRIOR, LapPrior, Mixture, learn_difference
from setupadvisor.learning.sessions import Booleans, Floats

LEVEL = 0.8
# More runs than this nobody rides for one answer.
MOST_FURTHER_RUNS = 40
_LEAST_LAPS_A_RUN = 3
_LEAST_DOF = 2
# Common practice, no source.
_STEADYING_LAPS = 20.0
_SPREADS_APART = 100.0


@dataclass(frozen=True)
class Side:
    """What was ridden with one setup.

    Parameters
    ----------
    setup : str
        Its name.
    runs, laps, set_aside : int
        Runs with laps that count, those laps, and laps that do not count.
    typical_s, best_s : float
        Median and best of the laps that count, in seconds; NaN without any.
    """

    setup: str
    runs: int
    laps: int
    set_aside: int
    typical_s: float
    best_s: float


@dataclass(frozen=True)
class Comparison:
    """The second setup against the first.

    Parameters
    ----------
    first, second : Side
        What was ridden.
    difference_s : float
        Second minus first in seconds a lap: below 0 where the second is quicker. NaN where the
        laps cannot tell, and then so are the numbers below.
    low_s, high_s : float
        Interval of the difference at `level`.
    level : float
        Between 0 and 1.
    probability_better : float
        That the second setup is an improvement.
    settled : bool
        Whether the interval leaves out 0.
    further_runs : int or None
        Runs a side, of `laps_a_run` laps, that would settle it if the difference stayed as it is;
        0 when settled, None when more than `MOST_FURTHER_RUNS` or when the laps cannot tell.
    laps_a_run : int
        Laps that count in a usual run.
    spread_s, run_spread_s : float
        Standard deviation from lap to lap, and from run to run, in seconds.
    drift_s_per_hour : float
        How much slower the track became by the hour, at the middle of the day; NaN for several
        days.
    bounded : int
        Laps with less than full weight, such as those in traffic.
    blocks : int
        Riders and days on which both were ridden.
    doubts : tuple of str
        What the difference could be besides the setup.
    expected : LapPrior
        What to expect of further laps, to plan with: the prior, and what these laps taught.
    """

    first: Side
    second: Side
    difference_s: float
    low_s: float
    high_s: float
    level: float
    probability_better: float
    settled: bool
    further_runs: int | None
    laps_a_run: int
    spread_s: float
    run_spread_s: float
    drift_s_per_hour: float
    bounded: int
    blocks: int
    doubts: tuple[str, ...]
    expected: LapPrior

    @property
    def known(self) -> bool:
        """Whether the laps can tell anything."""
        return not math.isnan(self.difference_s)

    def to_json(self) -> dict[str, Any]:
        """Give plain values, None for what is not known."""
        plain: dict[str, Any] = _plain(asdict(self))
        return plain


def _plain(value: Any) -> Any:
    if isinstance(value, dict):
        return {key: _plain(inner) for key, inner in value.items()}
    if isinstance(value, tuple):
        return [_plain(inner) for inner in value]
    return None if isinstance(value, float) and math.isnan(value) else value


def compare(
    laps: CleanLaps | LapTable,
    first: str,
    second: str,
    *,
    level: float = LEVEL,
    prior: LapPrior = PRIOR,
    robust: bool = True,
) -> Comparison:
    """Compare two setups.

    Parameters
    ----------
    laps : CleanLaps or LapTable
        The laps; a table is cleaned first.
    first, second : str
        Names of setups. Laps of others are not used.
    level : float
        Level of the interval, between 0.5 and 1.
    prior : LapPrior
        What is expected of runs, drift and blocks.
    robust : bool
        Whether slow laps that still count have bounded weight.

    Returns
    -------
    Comparison
        The difference, how sure it is, and what else it could be.

    Raises
    ------
    InputError
        If nobody rode with one of the setups, or both are the same.

    Examples
    --------
    >>> from setupadvisor.entries.lap_runs import table_of
    >>> table = table_of([("A", [90.4, 91.0, 90.1, 90.8, 90.6, 90.3]),
    ...                   ("B", [89.9, 90.2, 90.6, 89.6, 90.0, 90.3]),
    ...                   ("A", [90.9, 90.5, 90.2, 91.1, 90.6, 90.4])])
    >>> found = compare(table, "A", "B")
    >>> found.settled, round(found.difference_s, 1), round(found.probability_better, 1)
    (True, -0.5, 0.9)
    """
    laps = clean(laps) if isinstance(laps, LapTable) else laps
    table = laps.table
    codes = _codes(table, first, second)
    ridden = np.isin(table.setup, codes)
    chosen = ridden & laps.counts
    first_side, second_side = (_side(laps, code) for code in codes)
    side = np.where(table.setup == codes[1], 0.5, -0.5)
    spread_s = steady_spreads(laps, chosen)
    why = doubts(laps, ridden, side, (first, second))
    both = _blocks_with_both(laps, chosen, side)
    sizes = np.bincount(table.run[chosen])
    usual = int(np.median(sizes[sizes > 0])) if chosen.any() else 0
    unknown = Comparison(
        first=first_side,
        second=second_side,
        difference_s=math.nan,
        low_s=math.nan,
        high_s=math.nan,
        level=level,
        probability_better=math.nan,
        settled=False,
        further_runs=None,
        laps_a_run=max(usual, _LEAST_LAPS_A_RUN),
        spread_s=math.nan,
        run_spread_s=math.nan,
        drift_s_per_hour=math.nan,
        bounded=0,
        blocks=both,
        doubts=why,
        expected=prior,
    )
    blocks = len(np.unique(laps.block[chosen]))
    if not both or int(chosen.sum()) - blocks - 1 < _LEAST_DOF:
        return unknown
    return _learnt(laps, chosen, side, spread_s, prior, unknown, robust=robust)


def _learnt(
    laps: CleanLaps,
    chosen: Booleans,
    side: Floats,
    spread_s: Floats,
    prior: LapPrior,
    unknown: Comparison,
    *,
    robust: bool,
) -> Comparison:
    table = laps.table
    lap_s, hours = table.lap_s[chosen], laps.hours[chosen]
    _, run = np.unique(table.run[chosen], return_inverse=True)
    _, day = np.unique(table.day[chosen], return_inverse=True)
    bounded = 0
    if robust:
        held = bound_laps(lap_s, run, day, hours, spread_s)
        lap_s, bounded = held.pseudo_s, int(held.bounded.sum())
    sums = lap_sums(lap_s, run, laps.block[chosen], day, side[chosen], hours, spread_s)
    known = learn_difference(sums, prior)
    tail = (1.0 - unknown.level) / 2.0
    low, high = known.quantile(tail), known.quantile(1.0 - tail)
    usual_spread = float(np.median(spread_s))
    sigma_square = float(known.weight @ known.sigma**2)
    run_square = float(known.weight @ (known.sigma * known.run_ratio) ** 2)
    best = int(known.weight.argmax())
    settled = low > 0 or high < 0
    difference = known.quantile(0.5)
    run_variance = usual_spread**2 * (run_square + sigma_square / unknown.laps_a_run)
    further = further_runs(difference, high - low, unknown.level, run_variance)
    return replace(
        unknown,
        difference_s=difference,
        low_s=low,
        high_s=high,
        probability_better=known.below(0.0),
        settled=settled,
        further_runs=0 if settled else further,
        spread_s=usual_spread * math.sqrt(sigma_square),
        run_spread_s=usual_spread * math.sqrt(run_square),
        drift_s_per_hour=drift_s_per_hour(sums, *(float(axis[best]) for axis in _ratios(known))),
        bounded=bounded,
        expected=_expected(known, prior, unknown.blocks),
    )


def _expected(known: Mixture, prior: LapPrior, blocks: int) -> LapPrior:
    learnt = known.learnt()
    if blocks > 1:
        return learnt
    return replace(learnt, block_ratio=prior.block_ratio, block_factor=prior.block_factor)


def _ratios(known: Mixture) -> tuple[Floats, Floats, Floats]:
    return known.run_ratio, known.block_ratio, known.drift_ratio


def further_runs(
    difference_s: float, width_s: float, level: float, run_variance: float
) -> int | None:
    """Count the runs a side that would settle a difference, if it stayed as it is.

    Parameters
    ----------
    difference_s : float
        The difference now.
    width_s : float
        Width of its interval now.
    level : float
        Level of the interval.
    run_variance : float
        Variance of the mean of one run, in s^2.

    Returns
    -------
    int or None
        Runs with each setup, ridden in turn, until the interval leaves out 0; None when that is
        more than `MOST_FURTHER_RUNS`.

    Notes
    -----
    Precisions add: 1/se^2 now, and n / (2 run_variance) from n runs a side.

    Examples
    --------
    >>> further_runs(-0.3, 1.2, 0.8, 0.3)
    9
    """
    if difference_s == 0:
        return None
    normal = NormalDist().inv_cdf((1.0 + level) / 2.0)
    wanted = (normal / difference_s) ** 2 - (2.0 * normal / width_s) ** 2
    runs = max(1, math.ceil(wanted * 2.0 * run_variance - 1e-9))
    return runs if runs <= MOST_FURTHER_RUNS else None


def _codes(table: LapTable, first: str, second: str) -> tuple[int, int]:
    mistakes = []
    ridden = set(np.unique(table.setup).tolist())
    known = [name for code, name in enumerate(table.setup_name) if code in ridden]
    for name in (first, second):
        if name not in known:
            near = nearest(name, known)
            mend = f"did you mean {near}?" if near else f"ridden: {', '.join(known) or 'none'}"
            mistakes.append(Mistake(table.source, f"no lap has the setup {shown(name)}", mend))
    if not mistakes and first == second:
        found = f"{shown(first)} is to be compared with itself"
        mistakes.append(Mistake(table.source, found, "name two setups"))
    if mistakes:
        raise InputError(mistakes)
    return table.setup_name.index(first), table.setup_name.index(second)


def _side(laps: CleanLaps, code: int) -> Side:
    table = laps.table
    ridden = table.setup == code
    counting = ridden & laps.counts
    times = table.lap_s[counting]
    return Side(
        setup=table.setup_name[code],
        runs=len(np.unique(table.run[counting])),
        laps=len(times),
        set_aside=int(ridden.sum()) - len(times),
        typical_s=float(np.median(times)) if len(times) else math.nan,
        best_s=float(times.min()) if len(times) else math.nan,
    )


def _blocks_with_both(laps: CleanLaps, chosen: Booleans, side: Floats) -> int:
    first = set(np.unique(laps.block[chosen & (side < 0)]).tolist())
    return len(first & set(np.unique(laps.block[chosen & (side > 0)]).tolist()))


def steady_spreads(laps: CleanLaps, chosen: Booleans) -> Floats:
    """Lap-to-lap spread of each chosen lap's rider and day, steadied by the others.

    Parameters
    ----------
    laps : CleanLaps
        The laps.
    chosen : (n,) boolean array
        Which are used.

    Returns
    -------
    (m,) array
        Seconds, for each chosen lap; the same for all laps of one rider and day.

    Notes
    -----
    A spread from few laps is itself uncertain: each is averaged, as a variance, with twenty
    laps of the usual share of a lap time.
    """
    _, block = np.unique(laps.block[chosen], return_inverse=True)
    own = laps.spread_s[chosen]
    if not len(own):
        return own
    count = np.bincount(block)
    lap = np.bincount(block, weights=laps.table.lap_s[chosen]) / count
    spread = np.zeros(len(count))
    spread[block] = own
    usual = float(np.median((spread / lap)[block])) * lap
    variance = (count * spread**2 + _STEADYING_LAPS * usual**2) / (count + _STEADYING_LAPS)
    result: Floats = np.sqrt(variance)[block]
    typical = float(np.median(result))
    # Laps of a second beside laps of hours would drown each other's sums in rounding.
    return np.clip(result, typical / _SPREADS_APART, typical * _SPREADS_APART)
