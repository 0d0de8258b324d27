"""Fitting the wishes of many walks at once: the values that `fit_all` gives for each of them."""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np
from numpy.typing import NDArray

from setupadvisor.advice.fitting import (
    DRIVE_SETTINGS,
    FRONT_TOOTH_COST,
    MOST_COMBINATIONS,
    drive_table,
    fit,
    same_place,
)
from setupadvisor.entries.machine import Machine, Setting
from setupadvisor.facts.sprockets import POSITION_COST_PER_MM, RATIO_COST_PER_PCT
from setupadvisor.facts.valid_range import FloatArray

# Walks whose combinations of sprockets and chain are compared at once.
BLOCK = 4096


def fit_each(setting: Setting, wishes: FloatArray) -> FloatArray:
    """Fit many wishes of one setting.

    Parameters
    ----------
    setting : Setting
        The setting.
    wishes : numpy.ndarray, shape (walks,)
        Any numbers; NaN where there is no wish.

    Returns
    -------
    numpy.ndarray, shape (walks,)
        The nearest value that can be set, the higher one of two; NaN without a wish.

    Examples
    --------
    >>> clicks = Setting.model_validate({
    ...     "title": "Clicks", "group": "Fork", "unit": "clicks", "range": [2, 24], "step": 1,
    ...     "up": "softer", "down": "stiffer", "house": 12, "minutes": 1, "tools": [], "order": 1,
    ...     "check": "count", "undo": "back"})
    >>> fit_each(clicks, np.array([13.4, 99.0, 7.5, np.nan])).tolist()
    [13.0, 24.0, 8.0, nan]
    """
    values = np.array(setting.values)
    halfway = (values[1:] + values[:-1]) / 2.0 - same_place(setting) / 2.0
    fitted: FloatArray = values[np.searchsorted(halfway, wishes, side="right")]
    return np.where(np.isnan(wishes), np.nan, fitted)


def fit_walks(machine: Machine, wishes: Mapping[str, FloatArray]) -> dict[str, FloatArray]:
    """Fit all wishes of many walks; sprockets, chain and axle position are one choice.

    Parameters
    ----------
    machine : Machine
        The machine with its settings.
    wishes : mapping of str to numpy.ndarray, shape (walks,)
        Wished values by setting.

    Returns
    -------
    dict of str to numpy.ndarray
        Fitted values by setting.
    """
    fitted = {name: fit_each(machine.settings[name], wish) for name, wish in wishes.items()}
    if all(name in wishes for name in DRIVE_SETTINGS):
        fitted |= _drives(machine, wishes, fitted)
    return fitted


def widen_each(
    setting: Setting, low: FloatArray, high: FloatArray
) -> tuple[FloatArray, FloatArray]:
    """Widen many ranges of one setting to the nearest values that can be set.

    Parameters
    ----------
    setting : Setting
        The setting.
    low, high : numpy.ndarray, shape (walks,)
        Ranges; NaN where there is none.

    Returns
    -------
    tuple of numpy.ndarray
        As `settable_range` gives them for each; NaN where there is none.
    """
    values, dust = np.array(setting.values), same_place(setting)
    below = np.searchsorted(values, low + dust, side="right") - 1
    above = np.searchsorted(values, high - dust, side="left")
    last = len(values) - 1
    widened = values[np.clip(below, 0, last)], values[np.clip(above, 0, last)]
    return np.where(np.isnan(low), np.nan, widened[0]), np.where(np.isnan(high), np.nan, widened[1])


def _drives(
    machine: Machine, wishes: Mapping[str, FloatArray], fitted: Mapping[str, FloatArray]
) -> dict[str, FloatArray]:
    """Choose the combination for each walk, as `choose_drive` does for one."""
    table = drive_table(machine)
    rows = np.flatnonzero(table.fits)
    result = {name: fitted[name].copy() for name in DRIVE_SETTINGS}
    if not len(rows):
        return result
    axle = machine.settings["axle_position"]
    columns = {
        "front_sprocket": table.front_teeth[rows],
        "rear_sprocket": table.rear_teeth[rows],
        "chain_links": table.links[rows],
        "axle_position": np.array(
            [fit(axle, place) for place in table.axle_position_mm[rows].tolist()]
        ),
    }
    off_house = np.abs(columns["front_sprocket"] - machine.settings["front_sprocket"].fixed_house)
    ratio = wishes["rear_sprocket"] / wishes["front_sprocket"]
    known = np.isfinite(ratio) & np.isfinite(wishes["axle_position"])
    walks = np.flatnonzero(known)
    for start in range(0, len(walks), BLOCK):
        some = walks[start : start + BLOCK]
        ratio_off = np.abs(table.final_drive[rows] / ratio[some, None] - 1.0) * 100.0
        place_off = np.abs(table.axle_position_mm[rows] - wishes["axle_position"][some, None])
        cost = RATIO_COST_PER_PCT * ratio_off + POSITION_COST_PER_MM * place_off
        best = _cheapest(cost, FRONT_TOOTH_COST * off_house)
        for name, column in columns.items():
            result[name][some] = column[best]
    return result


def _cheapest(cost: FloatArray, of_front: FloatArray) -> NDArray[np.int64]:
    """Give the best column of each row; of equals the one with the smaller cost, then the first."""
    if cost.shape[1] > MOST_COMBINATIONS:
        late = np.argsort(cost, axis=1, kind="stable")[:, MOST_COMBINATIONS:]
        np.put_along_axis(cost, late, np.inf, axis=1)
    whole = cost + of_front
    tied = whole == whole.min(axis=1, keepdims=True)
    best: NDArray[np.int64] = np.where(tied, cost, np.inf).argmin(axis=1)
    return best
