"""What laps say about a difference, with the ratios of the lap model averaged out.

Each ratio has a log-normal prior. Its numbers are common practice, no source: they say what a
person in the pit lane would expect before the first lap, and only matter while there are few runs
or days. The grid over the ratios follows the posterior, so that a season is resolved as finely as
a morning.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from setupadvisor.learning.lap_model import LapSums, profile
from setupadvisor.learning.sessions import Floats
from setupadvisor.learning.student_t import mixture_cdf, mixture_quantile

_RUN_STEPS, _OTHER_STEPS = 13, 7
_PRIOR_SPREADS = 3.0
_MOST_ROUNDS = 12
# A grid point with more than this share of the weight calls for a finer grid there.
_TOO_MUCH = 0.5
_ON_THE_EDGE = 0.1
_NEGLIGIBLE = 1e-5
_LEAST_DOUBT = 0.01
_NO_DIFFERENCE_BETWEEN_BLOCKS = 1e-6


@dataclass(frozen=True)
class LapPrior:
    """What is expected before the first lap, in units of the lap-to-lap spread.

    Parameters
    ----------
    run_ratio, run_factor : float
        Spread between runs of one rider with one setup, and the factor by which it is uncertain
        (one standard deviation of its logarithm).
    drift_ratio, drift_factor : float
        Spread of the track's change in an hour, and its factor.
    block_ratio, block_factor : float
        Spread of the difference from rider to rider and day to day, and its factor.

    Notes
    -----
    All common practice, no source.
    """

    run_ratio: float = 0.5
    run_factor: float = 1.8
    drift_ratio: float = 0.7
    drift_factor: float = 2.5
    block_ratio: float = 0.25
    block_factor: float = 2.0


PRIOR = LapPrior()


@dataclass(frozen=True)
class Mixture:
    """A weighted set of t distributions: what is known of the difference.

    Parameters
    ----------
    weight, difference_s, scale_s : (k,) array
        Weight, centre and scale of each.
    sigma, run_ratio, block_ratio, drift_ratio : (k,) array
        Lap-to-lap spread (in units of the expected spread) and ratios that each stands for.
    dof : float
        Degrees of freedom.
    """

    weight: Floats
    difference_s: Floats
    scale_s: Floats
    sigma: Floats
    run_ratio: Floats
    block_ratio: Floats
    drift_ratio: Floats
    dof: float

    def below(self, value_s: float) -> float:
        """Probability that the difference lies below a value."""
        return mixture_cdf(value_s, self.weight, self.difference_s, self.scale_s, self.dof)

    def quantile(self, probability: float) -> float:
        """Value below which the difference lies with a probability."""
        return mixture_quantile(probability, self.weight, self.difference_s, self.scale_s, self.dof)

    def learnt(self) -> LapPrior:
        """Give what to expect of further laps: the ratios as these laps have left them."""
        run, drift, block = (
            self._log_normal(ratio)
            for ratio in (self.run_ratio, self.drift_ratio, self.block_ratio)
        )
        return LapPrior(*run, *drift, *block)

    def _log_normal(self, ratio: Floats) -> tuple[float, float]:
        logarithm = np.log(ratio)
        mean = float(self.weight @ logarithm)
        variance = float(self.weight @ (logarithm - mean) ** 2)
        return float(np.exp(mean)), float(np.exp(max(np.sqrt(variance), _LEAST_DOUBT)))


def prior_grid(prior: LapPrior, blocks: int) -> list[Floats]:
    """Ratios at which to begin.

    Parameters
    ----------
    prior : LapPrior
        What is expected.
    blocks : int
        Number of blocks; with one the difference cannot differ between them.

    Returns
    -------
    list of array
        Logarithms of run, block and drift ratios, evenly spaced.
    """
    run = _around(np.log(prior.run_ratio), np.log(prior.run_factor), _RUN_STEPS)
    drift = _around(np.log(prior.drift_ratio), np.log(prior.drift_factor), _OTHER_STEPS)
    if blocks == 1:
        return [run, np.log([_NO_DIFFERENCE_BETWEEN_BLOCKS]), drift]
    block = _around(np.log(prior.block_ratio), np.log(prior.block_factor), _OTHER_STEPS)
    return [run, block, drift]


def prior_weights(prior: LapPrior, axes: list[Floats]) -> Floats:
    """Logarithm of the prior density on a grid, up to a constant.

    Parameters
    ----------
    prior : LapPrior
        What is expected.
    axes : list of array
        Logarithms of run, block and drift ratios.

    Returns
    -------
    (k, l, m) array
        Log density.
    """
    parts = (
        (prior.run_ratio, prior.run_factor),
        (prior.block_ratio, prior.block_factor),
        (prior.drift_ratio, prior.drift_factor),
    )
    run, block, drift = (
        -0.5 * ((axis - np.log(ratio)) / np.log(factor)) ** 2
        for axis, (ratio, factor) in zip(axes, parts, strict=True)
    )
    total: Floats = run[:, None, None] + block[None, :, None] + drift[None, None, :]
    return total


def learn_difference(sums: LapSums, prior: LapPrior = PRIOR) -> Mixture:
    """Learn the difference between two setups.

    Parameters
    ----------
    sums : LapSums
        The laps, of which some block has both setups.
    prior : LapPrior
        What is expected.

    Returns
    -------
    Mixture
        What is known of the difference.
    """
    axes = prior_grid(prior, len(sums.block_day))
    for _ in range(_MOST_ROUNDS):
        found = profile(sums, *(np.exp(axis) for axis in axes))
        log_weight = found.log_likelihood + prior_weights(prior, axes)
        weight = np.exp(log_weight - log_weight.max())
        weight /= weight.sum()
        refined = [_refined(axis, _marginal(weight, place)) for place, axis in enumerate(axes)]
        if all(old is new for old, new in zip(axes, refined, strict=True)):
            break
        axes = refined
    kept = weight > _NEGLIGIBLE * weight.max()
    variance = found.squares / found.dof
    run, block, drift = np.meshgrid(*(np.exp(axis) for axis in axes), indexing="ij")
    return Mixture(
        weight[kept] / weight[kept].sum(),
        found.difference_s[kept],
        np.sqrt(variance / found.information)[kept],
        np.sqrt(variance)[kept],
        run[kept],
        block[kept],
        drift[kept],
        float(found.dof),
    )


def _around(middle: float, spread: float, steps: int) -> Floats:
    return middle + spread * np.linspace(-_PRIOR_SPREADS, _PRIOR_SPREADS, steps)


def _marginal(weight: Floats, place: int) -> Floats:
    others = tuple(axis for axis in range(weight.ndim) if axis != place)
    result: Floats = weight.sum(axis=others)
    return result


def _refined(axis: Floats, weight: Floats) -> Floats:
    """Move or narrow a grid to where the weight is; the same grid where it already fits."""
    if len(axis) == 1:
        return axis
    for edge in (0, -1):
        if weight[edge] > _ON_THE_EDGE:
            moved: Floats = axis + (axis[edge] - axis[len(axis) // 2])
            return moved
    if weight.max() <= _TOO_MUCH:
        return axis
    middle, reach = float(weight @ axis), 1.5 * float(axis[1] - axis[0])
    return np.linspace(middle - reach, middle + reach, len(axis))
