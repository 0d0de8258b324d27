"""Past rows under leave-one-group-out: distances, sums, and how far they should reach."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from setupadvisor.learning.past_sessions import Reals, conditions, gower, kernel, left_over
from setupadvisor.learning.sessions import Booleans, Floats, Integers
from setupadvisor.learning.tuning import ENOUGH_PAIRS

# Numbers in one block of differences.
BLOCK = 4_000_000


@dataclass(frozen=True)
class PastRows:
    """What the past rows are, for sums over them.

    Parameters
    ----------
    fields : (n, F) array
        Numbers and codes; NaN where missing.
    is_category : (F,) array of bool
        Fields whose difference is 0 or 1.
    ranges : (F,) array
        Range of each number.
    field_weights : (1 or O, F) array
        Weight of each field, for all outputs or for each.
    gap : (n, O) array
        Target less centre; 0 where not recorded.
    weight : (n, O) array
        Weight; 0 where not recorded.
    """

    fields: Floats
    is_category: Booleans
    ranges: Floats
    field_weights: Floats
    gap: Floats
    weight: Floats

    def blocks(self, n_queries: int) -> list[slice]:
        """Cut queries into blocks whose differences fit into memory."""
        wide = max(self.fields.shape[1], len(self.field_weights))
        size = max(1, BLOCK // (wide * len(self.fields)))
        return [slice(start, start + size) for start in range(0, n_queries, size)]

    def distances(self, queries: Floats) -> Floats:
        """(1 or O, m, n) array: Gower's distance of each query to each row."""
        today = conditions(queries, self.is_category, self.ranges, np.float64)
        past = conditions(self.fields, self.is_category, self.ranges, np.float64)
        agree_or_not = self.is_category | ~(self.ranges > 0)
        return gower(today, past, self.field_weights, agree_or_not).astype(np.float64, copy=False)

    def sums(self, likeness: Reals) -> tuple[Floats, Floats]:
        """(m, O) arrays: sums of likeness * weight * gap and of likeness * weight."""
        parts = []
        for column in (self.weight * self.gap, self.weight):
            table = column[None] if len(self.field_weights) == 1 else column.T[:, :, None]
            parts.append((likeness @ table).transpose(1, 0, 2).reshape(likeness.shape[1], -1))
        return parts[0], parts[1]


def weighted_mean(targets: Floats, weight: Floats) -> Floats:
    """Weighted mean of each column; NaN where nothing weighs.

    Parameters
    ----------
    targets, weight : (n, O) array
        Targets and weights, 0 where not recorded.

    Returns
    -------
    (O,) array
        Means.
    """
    total = weight.sum(axis=0)
    mean: Floats = np.full(len(total), np.nan)
    np.divide((weight * targets).sum(axis=0), total, out=mean, where=total > 0)
    return mean


def losses_without_group(
    past: PastRows, group: Integers, bandwidths: Floats, kappas: Floats, centre_moves: bool
) -> Floats:
    """Squared errors of bandwidths and pseudo-rows, with each row's group left out.

    Parameters
    ----------
    past : PastRows
        The rows.
    group : (n,) integer array
        Codes of the groups.
    bandwidths : (H,) array
        Bandwidths to try.
    kappas : (K, O) array
        Pseudo-rows to try, for each output.
    centre_moves : bool
        Whether the centre is the mean, and so another without the group.

    Returns
    -------
    (H, K, O) array
        Over the squared errors of the centre alone; 1 where those are 0.
    """
    n = len(past.fields)
    enough = max(1, ENOUGH_PAIRS // n)
    rows = np.arange(n) if n <= enough else np.linspace(0, n - 1, enough).astype(np.int64)
    shift = np.zeros_like(past.gap)
    if centre_moves:
        shift = _centres_without_group(past, group)[group]
    losses = np.zeros((len(bandwidths), *kappas.shape))
    centre_alone = np.zeros(kappas.shape[1])
    sets = len(past.field_weights)
    for block in past.blocks(len(rows)):
        asked = rows[block]
        distance = past.distances(past.fields[asked])
        others = group[asked][:, None] != group
        error = past.gap[asked] - shift[asked]
        counted = np.where(np.isfinite(error), past.weight[asked], 0.0)
        error = np.nan_to_num(error)
        centre_alone += (counted * error**2).sum(axis=0)
        for h, bandwidth in enumerate(bandwidths):
            likeness = kernel(distance.copy(), np.full(sets, bandwidth)) * others
            total, weight = past.sums(likeness)
            total -= np.nan_to_num(shift[asked]) * weight
            for k, kappa in enumerate(kappas):
                miss = error - left_over(total, weight, np.broadcast_to(kappa, weight.shape))
                losses[h, k] += (counted * miss**2).sum(axis=0)
    return np.divide(losses, centre_alone, out=np.ones_like(losses), where=centre_alone > 0)


def _centres_without_group(past: PastRows, group: Integers) -> Floats:
    """Shift of the mean when each group is left out: (groups, O); NaN where it was alone."""
    size = int(group.max()) + 1
    total = np.zeros((size, past.gap.shape[1]))
    weight = np.zeros_like(total)
    np.add.at(total, group, past.weight * past.gap)
    np.add.at(weight, group, past.weight)
    rest = weight.sum(axis=0) - weight
    rest = np.where(rest > 1e-12 * weight.sum(axis=0), rest, np.nan)
    shift: Floats = (total.sum(axis=0) - total) / rest
    return shift
