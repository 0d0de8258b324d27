"""A test of two setups that is worth its minutes: how many runs and laps, and what they can find.

Setups are ridden in turn and back again (A-B-A, A-B-B-A), so that a track that slows or quickens
steadily does not favour either. What such a test finds is reckoned before the first lap from the
model of `lap_model`: with the priors of `lap_posterior`, or with what earlier laps have shown.
"""

from __future__ import annotations

import math
from dataclasses import asdict, dataclass
from statistics import NormalDist
from typing import Any

import numpy as np

from setupadvisor.errors import ImpossibleValue
from setupadvisor.learning.lap_model import lap_sums, profile
from setupadvisor.learning.lap_posterior import PRIOR, LapPrior, prior_grid, prior_weights
from setupadvisor.learning.sessions import Floats
from setupadvisor.learning.student_t import mixture_quantile

LEVEL = 0.8
EFFECT_S = 0.3
# How often a test should find what it is ridden for.
POWER = 0.8
# All common practice, no source: an out-lap and an in-lap a run; time to change and to rest; the
# lap-to-lap spread of a practised rider; fewer laps say little of a run, more tire the rider.
OVERHEAD_LAPS = 2
CHANGE_MINUTES = 10.0
SPREAD_SHARE = 0.008
FEWEST_LAPS, MOST_LAPS = 3, 8
PATTERNS = ("A-B", "A-B-A", "A-B-B-A")
_NODES = 24


@dataclass(frozen=True)
class LapPlan:
    """A test of two setups.

    Parameters
    ----------
    pattern : str
        Setups in the order ridden, such as ``A-B-A``.
    laps_a_run : int
        Timed laps of each run, besides an out-lap and an in-lap.
    minutes : float
        Time from the first out-lap to the last in-lap, changes included.
    finds : float
        Probability that the test settles a difference of `effect_s`, on the right side.
    effect_s : float
        That difference, in seconds a lap.
    finds_mostly_s : float
        Difference that it would settle in `POWER` of all cases.
    runs_needed : int
        Runs a side, of as many laps and ridden in turn, that would settle `effect_s` in `POWER` of
        all cases.
    level : float
        Level of the interval that must leave out 0 to settle it.
    """

    pattern: str
    laps_a_run: int
    minutes: float
    finds: float
    effect_s: float
    finds_mostly_s: float
    runs_needed: int
    level: float

    def to_json(self) -> dict[str, Any]:
        """Give plain values."""
        return asdict(self)


def lap_plan(
    minutes: float,
    lap_s: float,
    *,
    spread_s: float | None = None,
    change_minutes: float = CHANGE_MINUTES,
    effect_s: float = EFFECT_S,
    level: float = LEVEL,
    prior: LapPrior = PRIOR,
) -> LapPlan | None:
    """Plan a test within the minutes there are.

    Parameters
    ----------
    minutes : float
        Time on track and in the pit, together.
    lap_s : float
        Usual lap time in seconds.
    spread_s : float, optional
        Lap-to-lap standard deviation; 0.8 % of a lap when not known.
    change_minutes : float
        From leaving the track to entering it again, the same between all runs.
    effect_s : float
        The difference that would be worth knowing, in seconds a lap.
    level : float
        Level of the interval that must leave out 0.
    prior : LapPrior
        What is expected of runs and drift.

    Returns
    -------
    LapPlan or None
        The plan most likely to find the effect; None when there is not even time for A-B.

    Raises
    ------
    ImpossibleValue
        Where a number cannot be.

    Examples
    --------
    >>> plan = lap_plan(75, 95.0)
    >>> plan.pattern, plan.laps_a_run, round(plan.minutes)
    ('A-B-B-A', 5, 74)
    >>> lap_plan(15, 95.0) is None
    True
    """
    _refuse_impossible(
        minutes=minutes, lap_s=lap_s, change_minutes=change_minutes, effect_s=effect_s
    )
    spread = SPREAD_SHARE * lap_s if spread_s is None else spread_s
    _refuse_impossible(spread_s=spread)
    best: LapPlan | None = None
    for pattern in PATTERNS:
        laps = _laps_that_fit(pattern, minutes, lap_s, change_minutes)
        if laps < FEWEST_LAPS:
            continue
        test = _Test(pattern, laps, lap_s, change_minutes, prior)
        plan = LapPlan(
            pattern,
            laps,
            _minutes(pattern, laps, lap_s, change_minutes),
            test.finds(effect_s / spread, level),
            effect_s,
            test.finds_mostly(level) * spread,
            _runs_needed(laps, effect_s / spread, level, prior),
            level,
        )
        if best is None or plan.finds > best.finds:
            best = plan
    return best


def finding_probability(
    pattern: str,
    laps_a_run: int,
    lap_s: float,
    effect_s: float,
    *,
    spread_s: float,
    change_minutes: float = CHANGE_MINUTES,
    level: float = LEVEL,
    prior: LapPrior = PRIOR,
) -> float:
    """Probability that a test settles a difference, on the right side.

    Parameters
    ----------
    pattern : str
        Setups in the order ridden: ``A-B-B-A``.
    laps_a_run : int
        Laps of each run.
    lap_s : float
        Lap time in seconds.
    effect_s : float
        The true difference in seconds.
    spread_s : float
        Lap-to-lap standard deviation in seconds.
    change_minutes : float
        Between runs.
    level : float
        Level of the interval that must leave out 0.
    prior : LapPrior
        What is expected of runs and drift; also what the truth is drawn from.

    Returns
    -------
    float
        Between 0 and 1. With no difference at all it is half of 1 - `level`: the rate of false
        alarms on one side.

    Notes
    -----
    Given the ratios, the estimate is normal around the truth, and the spread is estimated with n -
    2 degrees of freedom; it is settled when it is beyond the quantile of the mixture over the
    ratios. Both are averaged over the prior. That the laps themselves say a little about the
    ratios is left out, which on simulated days makes the probability up to 3 points too low.

    Examples
    --------
    >>> round(finding_probability("A-B-A", 6, 95.0, 0.0, spread_s=0.8), 2)
    0.1
    """
    test = _Test(pattern, laps_a_run, lap_s, change_minutes, prior)
    return test.finds(effect_s / spread_s, level)


def _refuse_impossible(**given: float) -> None:
    for name, value in given.items():
        least = 0.0 if name == "change_minutes" else math.ulp(0.0)
        if not least <= value < math.inf:
            raise ImpossibleValue(name, f"{value:g}", "give a number above 0")


def _laps_that_fit(pattern: str, minutes: float, lap_s: float, change_minutes: float) -> int:
    runs = len(pattern.split("-"))
    riding_s = (minutes - (runs - 1) * change_minutes) * 60.0
    # A lap that ends with the last second still counts.
    return min(math.floor(riding_s / runs / lap_s + 1e-9) - OVERHEAD_LAPS, MOST_LAPS)


def _minutes(pattern: str, laps: int, lap_s: float, change_minutes: float) -> float:
    runs = len(pattern.split("-"))
    return runs * (laps + OVERHEAD_LAPS) * lap_s / 60.0 + (runs - 1) * change_minutes


def _runs_needed(laps: int, effect: float, level: float, prior: LapPrior) -> int:
    """Count runs a side, where the drift is balanced by their order and runs differ as expected."""
    normal = NormalDist()
    reach = normal.inv_cdf((1.0 + level) / 2.0) + normal.inv_cdf(POWER)
    # The mean of the square of a log-normal ratio.
    run_variance = prior.run_ratio**2 * math.exp(2.0 * math.log(prior.run_factor) ** 2) + 1.0 / laps
    return max(1, math.ceil(2.0 * run_variance * (reach / effect) ** 2 - 1e-9))


class _Test:
    """The design of a test, in units of the lap-to-lap spread."""

    def __init__(
        self, pattern: str, laps: int, lap_s: float, change_minutes: float, prior: LapPrior
    ) -> None:
        setups = pattern.split("-")
        run = np.repeat(np.arange(len(setups)), laps)
        run_s = (laps + OVERHEAD_LAPS) * lap_s + change_minutes * 60.0
        hours = (run * run_s + np.tile(np.arange(laps) + 1.0, len(setups)) * lap_s) / 3600.0
        side = np.where(np.array(setups)[run] == setups[0], -0.5, 0.5)
        one = np.zeros(len(run), dtype=np.int64)
        sums = lap_sums(np.zeros(len(run)), run, one, one, side, hours, np.ones(len(run)))
        axes = prior_grid(prior, 1)
        found = profile(sums, *(np.exp(axis) for axis in axes))
        weight = np.exp(prior_weights(prior, axes)).ravel()
        self.weight: Floats = weight / weight.sum()
        self.error: Floats = 1.0 / np.sqrt(found.information.ravel())
        self.dof = float(found.dof)

    def finds(self, effect: float, level: float) -> float:
        centre = np.zeros(len(self.weight))
        wanted = mixture_quantile((1.0 + level) / 2.0, self.weight, centre, self.error, self.dof)
        normal = NormalDist()
        total = 0.0
        for share, sigma in zip(*_estimated_sigma(self.dof), strict=True):
            beyond = (effect - wanted * sigma) / self.error
            total += share * sum(
                weight * normal.cdf(value)
                for weight, value in zip(self.weight.tolist(), beyond.tolist(), strict=True)
            )
        return float(total)

    def finds_mostly(self, level: float) -> float:
        low, high = 0.0, 1.0
        while self.finds(high, level) < POWER:
            low, high = high, 2.0 * high
        for _ in range(20):
            middle = (low + high) / 2.0
            low, high = (middle, high) if self.finds(middle, level) < POWER else (low, middle)
        return high


def _estimated_sigma(dof: float) -> tuple[Floats, Floats]:
    """Weights and values of the estimated over the true spread, which is chi over its degrees."""
    spread = 1.0 / math.sqrt(2.0 * dof)
    sigma = np.linspace(max(1e-3, 1.0 - 4.5 * spread), 1.0 + 5.0 * spread, _NODES)
    log_density = (dof - 1.0) * np.log(sigma) - dof * sigma**2 / 2.0
    density = np.exp(log_density - log_density.max())
    return density / density.sum(), sigma
