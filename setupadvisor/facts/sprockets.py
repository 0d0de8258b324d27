"""Sprockets, chain and axle position as the one choice that they are on real hardware.

The axle position is counted in mm rearward from the front end of the slot. The centre distance is
the one at the slot's front end plus that position: measure it where the chain is tightest, with
countershaft, swingarm pivot and axle in line. That the countershaft does not sit on the swingarm's
pivot is left out, and so is the chain's slack; the service manual's slack decides in the end.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import NamedTuple

import numpy as np
from numpy.typing import ArrayLike, NDArray

from setupadvisor.errors import ImpossibleValue
from setupadvisor.facts.drive import CHAIN_PITCH_MM, centre_distance_mm
from setupadvisor.facts.valid_range import FloatArray, possible

# The project's own exchange rate, no source: half a tooth on a rear sprocket of 50 for 5 mm
RATIO_COST_PER_PCT = 1.0
POSITION_COST_PER_MM = 0.2


class SprocketTable(NamedTuple):
    """Every front sprocket with every rear one and every chain, one row a combination.

    Parameters
    ----------
    front_teeth, rear_teeth, links : FloatArray
        The combination, shape (n_combinations,).
    final_drive : FloatArray
        Rear over front teeth, shape (n_combinations,).
    axle_position_mm : FloatArray
        Rearward from the front end of the slot, also where the slot does not reach; missing (NaN)
        if the chain is too short to go round, shape (n_combinations,).
    fits : numpy.ndarray of bool
        Whether the slot allows it, shape (n_combinations,).
    """

    front_teeth: FloatArray
    rear_teeth: FloatArray
    links: FloatArray
    final_drive: FloatArray
    axle_position_mm: FloatArray
    fits: NDArray[np.bool_]


@dataclass(frozen=True)
class Combination:
    """One combination and what it costs against what was wanted.

    Parameters
    ----------
    front_teeth, rear_teeth, links : int
        The combination.
    final_drive : float
        Rear over front teeth.
    axle_position_mm : float
        Rearward from the front end of the slot.
    ratio_error_pct : float
        Ratio above (shorter) or below (longer) the wanted one, in % of it; NaN if none was wanted.
    position_error_mm : float
        Axle further back (positive) or forward than wanted, in mm; NaN if none was wanted.
    cost : float
        The two errors' sizes times their costs, added.
    """

    front_teeth: int
    rear_teeth: int
    links: int
    final_drive: float
    axle_position_mm: float
    ratio_error_pct: float
    position_error_mm: float
    cost: float


def sprocket_table(
    front_teeth: ArrayLike,
    rear_teeth: ArrayLike,
    slot_front_centre_distance_mm: float,
    slot_length_mm: float,
    *,
    links: ArrayLike | None = None,
    pitch_mm: float = CHAIN_PITCH_MM,
) -> SprocketTable:
    """List all combinations of sprockets and chain with the axle position each gives.

    Parameters
    ----------
    front_teeth, rear_teeth : array_like, shape (n_front,), (n_rear,)
        Teeth of the sprockets on the shelf.
    slot_front_centre_distance_mm : float
        Distance of the sprockets' centres with the axle at the slot's front end, in mm.
    slot_length_mm : float
        How far the axle may move rearward from there, in mm.
    links : array_like, shape (n_links,), optional
        Links of the chains on the shelf, even numbers. Left out: every even number that fits any
        pair of sprockets; none if the slot is not known.
    pitch_mm : float, optional
        Chain pitch in mm.

    Returns
    -------
    SprocketTable
        One row a combination, ordered by front teeth, rear teeth, links as they were given. With
        the slot missing (NaN) nothing fits.

    Raises
    ------
    ImpossibleValue
        For an odd number of links, a part of a tooth, fewer than 5 teeth, or a distance, slot or
        pitch that cannot be.

    Examples
    --------
    >>> table = sprocket_table([13, 14], [49, 50], 640.0, 25.0)
    >>> [int(links) for links in np.unique(table.links)]
    [114, 116]
    >>> table.axle_position_mm[table.fits].round(1).tolist()
    [12.5, 8.1, 24.1, 8.8, 24.8, 4.5, 20.5]
    """
    pitch = possible(pitch_mm, "pitch_mm", "a chain pitch is above 0 mm", above=0.0)
    slot_front = possible(
        slot_front_centre_distance_mm,
        "slot_front_centre_distance_mm",
        "a centre distance is above 0 mm",
        above=0.0,
    )
    slot = possible(slot_length_mm, "slot_length_mm", "a slot is 0 mm or longer", at_least=0.0)
    front = _counted(front_teeth, "front_teeth", "teeth", 5.0)
    rear = _counted(rear_teeth, "rear_teeth", "teeth", 5.0)
    if links is None:
        chains = _even_links_for_slot(front, rear, slot_front / pitch, slot / pitch)
    else:
        chains = _counted(links, "links", "links", 2.0)
        if (odd := chains[chains % 2 == 1]).size:
            raise ImpossibleValue(
                "links", f"{odd[0]:g}", "a chain without a cranked link has an even number of links"
            )
    fronts, rears, numbers = (
        grid.ravel() for grid in np.meshgrid(front, rear, chains, indexing="ij")
    )
    position = centre_distance_mm(numbers, fronts, rears, pitch) - slot_front
    fits = (position >= 0.0) & (position <= slot)
    return SprocketTable(fronts, rears, numbers, rears / fronts, position, fits)


def best_combinations(
    table: SprocketTable,
    wanted_final_drive: float | None,
    wanted_axle_position_mm: float | None,
    *,
    ratio_cost_per_pct: float = RATIO_COST_PER_PCT,
    position_cost_per_mm: float = POSITION_COST_PER_MM,
    how_many: int = 2,
) -> list[Combination]:
    """Pick the combinations that serve the wanted ratio and axle position best.

    Parameters
    ----------
    table : SprocketTable
        From `sprocket_table`.
    wanted_final_drive : float or None
        Rear over front teeth; an overall ratio divided by primary and gear ratio. None or NaN
        for no wish.
    wanted_axle_position_mm : float or None
        Rearward from the front end of the slot. None or NaN for no wish.
    ratio_cost_per_pct : float, optional
        Cost of each % of ratio off the wanted one.
    position_cost_per_mm : float, optional
        Cost of each mm of axle position off the wanted one.
    how_many : int, optional
        How many to give: 2 for the best and the runner-up.

    Returns
    -------
    list of Combination
        The cheapest first, at most `how_many`; of equals the one listed first in the table. Empty
        if nothing fits the slot, or if there was no wish to choose by.

    Raises
    ------
    ImpossibleValue
        For a wanted ratio of 0 or less, or a negative cost.

    Examples
    --------
    >>> table = sprocket_table([13, 14], [48, 49, 50, 51], 640.0, 25.0)
    >>> best, runner_up = best_combinations(table, 3.8, 10.0)
    >>> best.front_teeth, best.rear_teeth, best.links, round(best.axle_position_mm, 1)
    (13, 49, 114, 12.5)
    >>> round(best.cost, 2), round(runner_up.cost, 2)
    (1.3, 1.59)
    """
    costs_mend = "a cost is 0 or more"
    ratio_cost = possible(ratio_cost_per_pct, "ratio_cost_per_pct", costs_mend, at_least=0.0)
    position_cost = possible(position_cost_per_mm, "position_cost_per_mm", costs_mend, at_least=0.0)
    ratio = possible(
        np.nan if wanted_final_drive is None else wanted_final_drive,
        "wanted_final_drive",
        "a ratio is above 0",
        above=0.0,
    )
    position = float("nan") if wanted_axle_position_mm is None else wanted_axle_position_mm
    if np.isnan(ratio) and np.isnan(position):
        return []
    ratio_error_pct = (table.final_drive / ratio - 1.0) * 100.0
    position_error_mm = table.axle_position_mm - position
    # A wish that is missing does not tell combinations apart; its error stays NaN in the result
    cost = ratio_cost * np.nan_to_num(np.abs(ratio_error_pct)) + position_cost * np.nan_to_num(
        np.abs(position_error_mm)
    )
    ranked = np.argsort(np.where(table.fits, cost, np.inf), kind="stable")
    return [
        Combination(
            front_teeth=int(table.front_teeth[row]),
            rear_teeth=int(table.rear_teeth[row]),
            links=int(table.links[row]),
            final_drive=float(table.final_drive[row]),
            axle_position_mm=float(table.axle_position_mm[row]),
            ratio_error_pct=float(ratio_error_pct[row]),
            position_error_mm=float(position_error_mm[row]),
            cost=float(cost[row]),
        )
        for row in ranked[: min(how_many, int(table.fits.sum()))]
    ]


def _counted(number: ArrayLike, name: str, things: str, fewest: float) -> FloatArray:
    counted = np.atleast_1d(
        possible(number, name, f"give {fewest:g} {things} or more", at_least=fewest)
    )
    if (broken := counted[counted != np.round(counted)]).size:
        raise ImpossibleValue(name, f"{broken[0]:g}", f"give whole {things}")
    return counted


def _even_links_for_slot(
    front: FloatArray, rear: FloatArray, slot_front_pitches: FloatArray, slot_pitches: FloatArray
) -> FloatArray:
    if np.isnan(slot_front_pitches) or np.isnan(slot_pitches):
        return np.empty(0)
    half_spread = (rear[None, :] - front[:, None]) / (2.0 * np.pi)
    half_sum = (rear[None, :] + front[:, None]) / 2.0
    at_front = 2.0 * slot_front_pitches + half_sum + half_spread**2 / slot_front_pitches
    slot_back_pitches = slot_front_pitches + slot_pitches
    at_back = 2.0 * slot_back_pitches + half_sum + half_spread**2 / slot_back_pitches
    even = np.arange(2.0 * np.ceil(at_front.min() / 2.0), at_back.max() + 1e-9, 2.0)
    fits_any = (even[:, None] >= at_front.ravel() - 1e-9) & (
        even[:, None] <= at_back.ravel() + 1e-9
    )
    return even[fits_any.any(axis=1)]
