"""Degrees of compiled conditions, for one walk or a million sessions.

A missing fact (NaN) makes a degree an interval: the low end takes 0 and the high end 1 for every
word the missing fact decides, and for that word's complement as well. A condition whose two ends
agree is judged, whatever the missing facts may be.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from setupadvisor.errors import SetupAdvisorError
from setupadvisor.rulebook.compiled import Compiled
from setupadvisor.rulebook.memberships import FloatArray

# Columns evaluated at once: many enough that calls cost little beside what they calculate, few
# enough that the values of a block stay near the processor.
BLOCK = 2048


def degrees(compiled: Compiled, facts: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Give the degree of every condition, as an interval where facts are missing.

    Parameters
    ----------
    compiled : Compiled
        The conditions.
    facts : numpy.ndarray
        Shape (facts,) for one walk or (facts, rows) for many; rows of facts in the order of
        ``compiled.fact_names``, each in its own unit, categories as the place of their word;
        NaN where missing.

    Returns
    -------
    tuple of numpy.ndarray
        Low and high end, each of shape (conditions,) or (conditions, rows), from 0 to 1. They
        are one and the same array when no fact is missing.

    Raises
    ------
    SetupAdvisorError
        If `facts` has not one row a fact.
    """
    given = np.asarray(facts, dtype=np.float64)
    if given.ndim not in {1, 2} or given.shape[0] != len(compiled.fact_names):
        raise SetupAdvisorError(
            f"the facts have shape {given.shape}; give one row for each of the "
            f"{len(compiled.fact_names)} facts the rules were compiled for"
        )
    if given.ndim == 1:
        return _of_one(compiled, given)
    if given.shape[1] == 1:
        low, high = _of_one(compiled, given[:, 0])
        return low[:, np.newaxis], high[:, np.newaxis]
    return _of_many(compiled, given)


def shifts(amounts: FloatArray, degree: FloatArray) -> FloatArray:
    """Give how far the rules together move each setting.

    Parameters
    ----------
    amounts : numpy.ndarray
        Shape (rules, settings), from `signed_amounts`.
    degree : numpy.ndarray
        Shape (rules,) or (rules, rows), from 0 to 1.

    Returns
    -------
    numpy.ndarray
        Shape (settings,) or (settings, rows), in each setting's unit.

    Examples
    --------
    >>> shifts(np.array([[2.0, 0.0], [-1.0, 5.0]]), np.array([0.5, 1.0])).tolist()
    [0.0, 5.0]
    """
    moved: FloatArray = amounts.T @ degree
    return moved


def _of_one(compiled: Compiled, facts: FloatArray) -> tuple[FloatArray, FloatArray]:
    ramps, plain, leaves = len(compiled.ramp_fact), compiled.plain, compiled.leaves
    values = np.empty(compiled.size)
    rising = facts[compiled.ramp_fact]
    rising -= compiled.ramp_start
    rising *= compiled.ramp_slope
    np.maximum(rising, 0.0, out=rising)
    np.minimum(rising, 1.0, out=values[:ramps])
    if plain > ramps:
        weighted = values[compiled.sum_ramp]
        weighted *= compiled.sum_weight
        total = np.add.reduceat(weighted, compiled.sum_offsets)
        total += compiled.sum_first
        np.maximum(total, 0.0, out=total)
        np.minimum(total, 1.0, out=values[ramps:plain])
    np.subtract(1.0, values[compiled.mirrored], out=values[plain:leaves])
    if not np.isnan(values[:leaves]).any():
        low = _join(compiled, values)
        return low, low
    upper = np.empty(compiled.size)
    np.fmin(values[:leaves], 1.0, out=upper[:leaves])
    upper[:leaves][np.isnan(values[:leaves])] = 1.0
    np.fmax(values[:leaves], 0.0, out=values[:leaves])
    return _join(compiled, values), _join(compiled, upper)


def _join(compiled: Compiled, values: FloatArray) -> FloatArray:
    for level in compiled.levels:
        join = np.maximum if level.largest else np.minimum
        join.reduceat(values[level.parts], level.offsets, out=values[level.start : level.stop])
    return values[compiled.roots]


def _of_many(compiled: Compiled, facts: FloatArray) -> tuple[FloatArray, FloatArray]:
    columns = facts.shape[1]
    any_missing = columns > 0 and bool(np.isnan(facts.max()))
    low = np.empty((len(compiled.roots), columns))
    high = np.empty_like(low) if any_missing else low
    plan = _plan(compiled)
    width = max(1, min(BLOCK, columns))
    whole = columns - columns % width
    for start, stop in ((0, whole), (whole, columns)):
        count = min(width, stop - start)
        if not count:
            continue
        lower = np.empty((compiled.size, count))
        upper = np.empty_like(lower) if any_missing else lower
        lower_rows, upper_rows = list(lower), list(upper)
        for left in range(start, stop, count):
            block = slice(left, left + count)
            _plain_values(compiled, plan, facts[:, block], lower_rows, lower)
            if not any_missing:
                _mirror(compiled, lower, lower)
                _join_rows(plan, lower_rows, low[:, block])
                continue
            plain = slice(0, compiled.plain)
            np.fmin(lower[plain], 1.0, out=upper[plain])
            np.fmax(lower[plain], 0.0, out=lower[plain])
            _mirror(compiled, lower, upper)
            _mirror(compiled, upper, lower)
            _join_rows(plan, lower_rows, low[:, block])
            split = _split(compiled, plan, np.isnan(facts[:, block].max(axis=1)))
            _join_rows(plan, upper_rows, high[:, block], lower_rows, split)
    return low, high


@dataclass(frozen=True, slots=True)
class _Plan:
    """Sums and joins one by one, and where their rows go.

    Parameters
    ----------
    sums : list of (int, float, list of (int, float))
        A sum's place, its degree below all ramps, its ramps and their weights.
    joins : list of (numpy.ufunc, int, list of int)
        Minimum or maximum, the join's place, the places of its parts.
    homes : dict of int to int
        A join's place to the condition in whose row it is calculated.
    copies : list of (int, int)
        Conditions whose row is copied from a place.
    """

    sums: list[tuple[int, float, list[tuple[int, float]]]]
    joins: list[tuple[np.ufunc, int, list[int]]]
    homes: dict[int, int]
    copies: list[tuple[int, int]]


def _plan(compiled: Compiled) -> _Plan:
    steps = list(zip(compiled.sum_ramp.tolist(), compiled.sum_weight.tolist(), strict=True))
    ends = [*compiled.sum_offsets.tolist(), len(steps)]
    sums = [
        (len(compiled.ramp_fact) + place, first, steps[ends[place] : ends[place + 1]])
        for place, first in enumerate(compiled.sum_first.tolist())
    ]
    joins: list[tuple[np.ufunc, int, list[int]]] = []
    for level in compiled.levels:
        join = np.maximum if level.largest else np.minimum
        parts, ends = level.parts.tolist(), [*level.offsets[1:].tolist(), len(level.parts)]
        first = 0
        for place, end in enumerate(ends, level.start):
            joins.append((join, place, parts[first:end]))
            first = end
    homes: dict[int, int] = {}
    copies = []
    for condition, place in enumerate(compiled.roots.tolist()):
        if place >= compiled.leaves and place not in homes:
            homes[place] = condition
        else:
            copies.append((condition, place))
    return _Plan(sums, joins, homes, copies)


def _plain_values(
    compiled: Compiled,
    plan: _Plan,
    facts: FloatArray,
    rows: list[FloatArray],
    values: FloatArray,
) -> None:
    rising = values[: len(compiled.ramp_fact)]
    np.take(facts, compiled.ramp_fact, axis=0, out=rising, mode="clip")
    rising -= compiled.ramp_start[:, np.newaxis]
    rising *= compiled.ramp_slope[:, np.newaxis]
    np.clip(rising, 0.0, 1.0, out=rising)
    for place, first, steps in plan.sums:
        total = rows[place]
        if first == 0.0 and [weight for _, weight in steps] == [1.0, -1.0]:
            # Up and down again: the second ramp only rises where the first has reached 1.
            np.subtract(rows[steps[0][0]], rows[steps[1][0]], out=total)
            continue
        # In the order of the single walk's sum, so that both round alike.
        np.multiply(rows[steps[0][0]], steps[0][1], out=total)
        for ramp, weight in steps[1:]:
            total += weight * rows[ramp]
        total += first
        np.clip(total, 0.0, 1.0, out=total)


def _mirror(compiled: Compiled, values: FloatArray, opposite: FloatArray) -> None:
    complements = values[compiled.plain : compiled.leaves]
    np.subtract(1.0, opposite[compiled.mirrored], out=complements)


def _join_rows(
    plan: _Plan,
    rows: list[FloatArray],
    out: FloatArray,
    done: list[FloatArray] | None = None,
    split: list[bool] | None = None,
) -> None:
    """Calculate all joins of a block; take over from `done` what is not `split`."""
    for place, condition in plan.homes.items():
        rows[place] = out[condition]
    for join, place, parts in plan.joins:
        row = rows[place]
        if done is not None and split is not None and not split[place]:
            row[:] = done[place]
            continue
        join(rows[parts[0]], rows[parts[1]], out=row)
        for part in parts[2:]:
            join(row, rows[part], out=row)
    for condition, place in plan.copies:
        out[condition] = rows[place]


def _split(compiled: Compiled, plan: _Plan, missing: NDArray[np.bool_]) -> list[bool]:
    """Say for every value whether a missing fact may have parted its two ends."""
    ramps = missing[compiled.ramp_fact]
    sums = ramps[compiled.sum_ramp[compiled.sum_offsets]]
    plain = np.concatenate([ramps, sums])
    split: list[bool] = [*plain.tolist(), *plain[compiled.mirrored].tolist()]
    for _, _, parts in plan.joins:
        split.append(any(split[part] for part in parts))
    return split
