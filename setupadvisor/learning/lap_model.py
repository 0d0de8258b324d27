"""The lap-time model: rider, setup, drift of the track, and runs that differ for no known reason.

Lap i of run r, ridden by rider g on day d (block b = one rider on one day), takes

    y_i = level_b + (delta + v_b) x_r + a_d t_i + c_d t_i^2 / 2 + u_r + e_i

with x_r = -1/2 for the first setup and +1/2 for the second, t_i in hours from the middle of the
day. delta is the difference wanted. In units of the lap-to-lap spread sigma:

    e_i ~ N(0, 1)                       after `bounded_laps`
    u_r ~ N(0, run_ratio^2)             one outing differs from the next
    a_d, c_d ~ N(0, drift_ratio^2)      the track changes through the day
    v_b ~ N(0, block_ratio^2)           the difference is not the same for all riders and days

level_b and delta have flat priors, sigma has the prior 1/sigma^2. Given the three ratios, delta
has a Student t distribution with n - blocks - 1 degrees of freedom, and the data's marginal
likelihood is the restricted likelihood with sigma integrated out. Both come from small matrices of
sums, eliminated level by level (run, block, day), so that a season costs little more than a day.

References
----------
Harville, D. A. (1974), Biometrika 61:383 (restricted likelihood as a marginal likelihood);
Gelman, A. et al., Bayesian Data Analysis, 3rd ed., ch. 14-15 (conjugate regression, hierarchical
linear models); both from memory. Checked against lme4 and statsmodels MixedLM.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from setupadvisor.learning.sessions import Floats, Integers

# Columns of the sums: what is eliminated first stands first.
_LEVEL, _BLOCK, _DRIFT, _CURVE, _DELTA, _LAP = range(6)
_COLUMNS = 6
# Numbers held at once; larger seasons are worked through in parts.
_MOST_NUMBERS = 1_000_000
_NOTHING = 1e-9
# Laps that are all the same to the last digit do not prove that there is no spread.
_LEAST_SIGMA = 0.01


@dataclass(frozen=True)
class LapSums:
    """What the model needs to know of n laps.

    Parameters
    ----------
    within : (6, 6, blocks) array
        Cross products of the columns of all laps of a block.
    of_runs : (6, 6, groups) array
        Cross products of the column sums of the runs, for runs of one block with equally many
        laps; sorted by block.
    laps, runs : (groups,) array
        Laps of each such run, and how many such runs there are.
    group_begin : (blocks,) integer array
        Where the groups of each block begin.
    block_day : (blocks,) integer array
        Day of each block, from 0 and sorted.
    day_spread_s : (days,) array
        Spread in whose units the drift of a day is counted.
    n_laps : int
        Number of laps.
    comparable : bool
        Whether any block has both setups.
    """

    within: Floats
    of_runs: Floats
    laps: Floats
    runs: Floats
    group_begin: Integers
    block_day: Integers
    day_spread_s: Floats
    n_laps: int
    comparable: bool


@dataclass(frozen=True)
class Profile:
    """The model at every combination of ratios, on axes (run, block, drift).

    Parameters
    ----------
    log_likelihood : (k, l, m) array
        Logarithm of the restricted likelihood with sigma integrated out, up to a constant.
    difference_s : (k, l, m) array
        Estimate of delta in seconds; NaN where the setups cannot be compared.
    information : (k, l, m) array
        1 over the variance of that estimate, in units of 1/sigma^2.
    squares : (k, l, m) array
        Sum of squares that is left, in units of sigma^2.
    dof : int
        Degrees of freedom.
    """

    log_likelihood: Floats
    difference_s: Floats
    information: Floats
    squares: Floats
    dof: int


def lap_sums(
    lap_s: Floats,
    run: Integers,
    block: Integers,
    day: Integers,
    side: Floats,
    hours: Floats,
    spread_s: Floats,
) -> LapSums:
    """Sum up laps for the model.

    Parameters
    ----------
    lap_s : (n,) array
        Lap times in seconds.
    run, block, day : (n,) integer array
        Codes; a run lies within a block, a block within a day.
    side : (n,) array
        -1/2 for the first setup, +1/2 for the second; the same within a run.
    hours : (n,) array
        When each lap was ridden.
    spread_s : (n,) array
        Lap-to-lap spread to be expected, the same within a block.

    Returns
    -------
    LapSums
        Sums in units of the spread.
    """
    order = np.lexsort((run, block, day))
    run, block, day = _renumbered(run[order]), _renumbered(block[order]), _renumbered(day[order])
    spread_s = spread_s[order]
    day_laps = np.bincount(day)
    middle = (np.bincount(day, weights=hours[order]) / day_laps)[day]
    from_middle = hours[order] - middle
    block_laps = np.bincount(block)
    level = np.bincount(block, weights=lap_s[order]) / block_laps
    day_spread_s = np.sqrt(np.bincount(day, weights=spread_s**2) / day_laps)
    day_spread = day_spread_s[day]
    low, high = (np.bincount(block, weights=side[order] * sign > 0) for sign in (-1.0, 1.0))
    has_both = (low > 0) & (high > 0)
    # With one setup only, the level of the block takes up the side: left out, it cannot come back
    # by rounding.
    side = np.where(has_both[block], side[order], 0.0)
    columns = np.empty((len(run), _COLUMNS))
    columns[:, _LEVEL] = 1.0
    columns[:, _BLOCK] = side
    columns[:, _DRIFT] = from_middle * day_spread / spread_s
    columns[:, _CURVE] = from_middle**2 / 2.0 * day_spread / spread_s
    columns[:, _DELTA] = side / spread_s
    columns[:, _LAP] = (lap_s[order] - level[block]) / spread_s
    run_begin = _begins(run)
    summed = np.add.reduceat(columns, run_begin)
    laps = np.bincount(run)
    run_block = block[run_begin]
    by_size = np.lexsort((laps, run_block))
    group_begin = _begins(run_block[by_size] * (laps.max() + 1) + laps[by_size])
    block_begin = _begins(block)
    return LapSums(
        within=_cross(columns, block_begin),
        of_runs=_cross(summed[by_size], group_begin),
        laps=laps[by_size][group_begin].astype(np.float64),
        runs=np.diff(np.r_[group_begin, len(laps)]).astype(np.float64),
        group_begin=_begins(run_block[by_size][group_begin]),
        block_day=day[block_begin],
        day_spread_s=day_spread_s,
        n_laps=len(run),
        comparable=bool(has_both.any()),
    )


def _renumbered(codes: Integers) -> Integers:
    """Give sorted codes new numbers, from 0 without gaps."""
    changed = np.r_[False, codes[1:] != codes[:-1]][: len(codes)]
    result: Integers = np.cumsum(changed)
    return result


def _begins(codes: Integers) -> Integers:
    return np.flatnonzero(np.r_[True, codes[1:] != codes[:-1]][: len(codes)])


def _cross(rows: Floats, begin: Integers) -> Floats:
    """Sum the cross products of rows from each place to the next."""
    result = np.empty((_COLUMNS, _COLUMNS, len(begin)))
    for i in range(_COLUMNS):
        for j in range(i, _COLUMNS):
            result[i, j] = result[j, i] = np.add.reduceat(rows[:, i] * rows[:, j], begin)
    return result


def profile(sums: LapSums, run_ratio: Floats, block_ratio: Floats, drift_ratio: Floats) -> Profile:
    """Work the model out at every combination of ratios.

    Parameters
    ----------
    sums : LapSums
        The laps.
    run_ratio, block_ratio, drift_ratio : (k,), (l,), (m,) array
        Spread of runs, of the difference between blocks, and of the drift per hour, each over
        the lap-to-lap spread. A drift ratio may be infinite: then the drift has a flat prior.

    Returns
    -------
    Profile
        On axes (run, block, drift).
    """
    days = int(sums.block_day[-1] + 1)
    numbers = 36 * max(
        len(sums.laps),
        len(block_ratio) * len(sums.block_day),
        len(block_ratio) * len(drift_ratio) * days,
    )
    at_once = max(1, _MOST_NUMBERS // numbers)
    parts = [
        _profile(sums, run_ratio[begin : begin + at_once], block_ratio, drift_ratio)
        for begin in range(0, len(run_ratio), at_once)
    ]
    likelihood, difference, information, squares = (
        np.concatenate(part) for part in zip(*parts, strict=True)
    )
    flat = 2 * days if np.isinf(drift_ratio).any() else 0
    dof = sums.n_laps - len(sums.block_day) - int(sums.comparable) - flat
    squares = np.maximum(squares, dof * _LEAST_SIGMA**2)
    likelihood = likelihood - dof / 2.0 * np.log(squares)
    return Profile(likelihood, difference, information, squares, dof)


def _profile(
    sums: LapSums, run_ratio: Floats, block_ratio: Floats, drift_ratio: Floats
) -> tuple[Floats, Floats, Floats, Floats]:
    # Axes: two of columns, then run ratio, block ratio, drift ratio, day.
    matrix, likelihood = _days(sums, run_ratio, block_ratio)
    precision = (1.0 / drift_ratio**2)[:, None]
    prior = np.where(precision > 0, precision, 1.0)
    for _ in (_DRIFT, _CURVE):
        matrix, pivot = _eliminated(matrix, precision)
        likelihood = likelihood - 0.5 * np.log(pivot / prior).sum(axis=-1)
    total = matrix.sum(axis=-1)
    information, squares = total[0, 0], total[1, 1]
    if not sums.comparable:
        nothing = np.full(squares.shape, np.nan)
        return likelihood, nothing, np.zeros(squares.shape), squares
    difference = total[0, 1] / information
    likelihood = likelihood - 0.5 * np.log(information)
    return likelihood, difference, information, squares - difference * total[0, 1]


def _days(sums: LapSums, run_ratio: Floats, block_ratio: Floats) -> tuple[Floats, Floats]:
    """Sum up runs and blocks: drift, curve, difference and lap of each day are left."""
    square = run_ratio[:, None] ** 2
    shrunk = square / (1.0 + square * sums.laps)
    of_runs = np.add.reduceat(shrunk * sums.of_runs[:, :, None], sums.group_begin, axis=-1)
    of_blocks = sums.within[:, :, None] - of_runs
    likelihood = -0.5 * (np.log1p(square * sums.laps) @ sums.runs)[:, None, None]
    matrix, pivot = _eliminated(of_blocks[:, :, :, None, None])
    likelihood = likelihood - 0.5 * np.log(pivot).sum(axis=-1)
    precision = (1.0 / block_ratio**2)[:, None, None]
    matrix, pivot = _eliminated(matrix, precision)
    likelihood = likelihood - 0.5 * np.log(pivot / precision).sum(axis=-1)
    return np.add.reduceat(matrix, _begins(sums.block_day), axis=-1), likelihood


def drift_s_per_hour(
    sums: LapSums, run_ratio: float, block_ratio: float, drift_ratio: float
) -> float:
    """Estimate how the track changed at the middle of a single day.

    Parameters
    ----------
    sums : LapSums
        The laps.
    run_ratio, block_ratio, drift_ratio : float
        As in `profile`.

    Returns
    -------
    float
        Seconds a lap and hour, above 0 where the track became slower; NaN for several days.
    """
    if len(sums.day_spread_s) > 1:
        return math.nan
    matrix, _ = _days(sums, np.array([run_ratio]), np.array([block_ratio]))
    # The curve and the difference go first, so that the drift and the lap are left.
    order = np.array([_CURVE, _DELTA, _DRIFT, _LAP]) - _DRIFT
    precision = 1.0 / drift_ratio**2
    matrix, _ = _eliminated(matrix[np.ix_(order, order)], precision)
    matrix, _ = _eliminated(matrix)
    drift = matrix[0, 1] / (matrix[0, 0] + precision)
    return float(drift.item() * sums.day_spread_s[0])


def _eliminated(matrix: Floats, precision: Floats | float = 0.0) -> tuple[Floats, Floats]:
    """Take the first column out of symmetric matrices, given the precision of its prior."""
    pivot = matrix[0, 0] + precision
    # A flat column that is nothing (all laps at one time) takes nothing out.
    pivot = np.where(pivot > _NOTHING, pivot, 1.0)
    row = matrix[0, 1:]
    size = len(row)
    rest = np.empty((size, size, *pivot.shape))
    for i in range(size):
        share = row[i] / pivot
        for j in range(i, size):
            np.multiply(share, row[j], out=rest[i, j])
            np.subtract(matrix[i + 1, j + 1], rest[i, j], out=rest[i, j])
            rest[j, i] = rest[i, j]
    return rest, pivot


def log_constant(dof: int) -> float:
    """Logarithm of what `Profile.log_likelihood` leaves out, to compare with a REML likelihood.

    Parameters
    ----------
    dof : int
        Degrees of freedom.

    Returns
    -------
    float
        To be added; sigma is then at its best value instead of integrated out.

    Examples
    --------
    >>> round(log_constant(29), 3)
    7.677
    """
    return -0.5 * dof * (math.log(2.0 * math.pi) + 1.0 - math.log(dof))
