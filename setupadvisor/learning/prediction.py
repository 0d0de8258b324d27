"""What a model says about walks: habit, rules, past sessions, range, nearest sessions.

Nothing here needs more than numpy, so that advice starts quickly.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, fields, replace
from typing import Any

import numpy as np

from setupadvisor.errors import InputError, Mistake
from setupadvisor.learning.advised import FALLBACKS, LEARNT
from setupadvisor.learning.asked import Walks, Who, as_walks
from setupadvisor.learning.expected_spread import counted_touching, expected_spread
from setupadvisor.learning.model import Model
from setupadvisor.learning.nearest import Nearest
from setupadvisor.learning.nearest_walks import heaviest_of_walks
from setupadvisor.learning.one_thread import one_thread
from setupadvisor.learning.past_sessions import left_over
from setupadvisor.learning.past_sums import lookup_without, past_sums_and_nearness
from setupadvisor.learning.range_search import cv_plus_of_folds
from setupadvisor.learning.ranges import events_needed, normal_half_width
from setupadvisor.learning.sessions import Floats

# Numbers held at once for one block of walks: sums for every setting and model, and weights of all
# sessions.
BLOCK = 8_000_000


@dataclass(frozen=True)
class Prediction:
    """What the model says about m walks; the parts sum to the value.

    Parameters
    ----------
    house, rider, past, value : (m, S) array
        House value, habit, correction by past sessions, and the sum of these with the rules'
        parts, in the setting's number.
    not_judged : (m, S) array
        The part of `past` that stands for rules that could not be judged: what they do in a usual
        event. 0 without sessions.
    degrees : (m, R) array
        Degrees of the rules; 0 where not judged.
    amounts : (R, S) array
        Amounts used.
    low, high : (m, S) array
        Range of the value; NaN where ranges were not asked for.
    range_kind : tuple of str
        For each setting "cv+"; or "prior" where there were too few events for the level, and the
        range is what the rules' confidence and the few sessions leave open.
    fallback : tuple of str
        For each setting what it fell back to, since that did clearly better on events left out:
        "rules as written" or "rider's mean" (then past sessions say what the rider usually ended
        on); or "".
    support : (m, S) array
        Weight of the past sessions over that and the pseudo-sessions; near 0 the walk is unlike
        anything seen. Always 0 for a setting that past sessions did not help (its kappa is
        infinite).
    spread : (m, S) array
        Standard deviation that the model expects, in the setting's number.
    nearest : Nearest
        The sessions most like each walk.
    """

    house: Floats
    rider: Floats
    past: Floats
    value: Floats
    not_judged: Floats
    degrees: Floats
    amounts: Floats
    low: Floats
    high: Floats
    range_kind: tuple[str, ...]
    fallback: tuple[str, ...]
    support: Floats
    spread: Floats
    nearest: Nearest

    @property
    def rule(self) -> Floats:
        """(m, R, S) array: what each rule adds to each setting."""
        return self.degrees[:, :, None] * self.amounts


def predict(
    model: Model,
    degrees: Floats,
    house: Floats,
    *,
    rider: Who,
    fields: Floats,
    venue: Who,
    day: Floats,
    level: float | None = None,
    ranges: bool = True,
    n_nearest: int = 5,
) -> Prediction:
    """Predict settings for m walks.

    Parameters
    ----------
    model : Model
        Trained or untrained.
    degrees : (m, R) array
        Degree of each rule, 0 to 1; NaN where it could not be judged.
    house : (m, S) array
        House values, in the setting's number; NaN where unknown, and then the value is NaN too.
    rider : sequence of str or None, or (m,) integer array
        Names, or the model's codes; a rider the model does not know has no habit yet.
    fields : (m, F) array
        Entered conditions; NaN where missing.
    venue : sequence of str or None, or (m,) integer array
        Names, or the model's codes.
    day : (m,) array
        Days since the season's fixed date; NaN is taken as the season's last day.
    level : float, optional
        Coverage of the ranges; the model's own if not given.
    ranges : bool, optional
        Whether to give ranges.
    n_nearest : int, optional
        How many of the nearest sessions to list.

    Returns
    -------
    Prediction
        Parts, values, ranges and nearest sessions.

    Raises
    ------
    InputError
        Where an array or the level does not fit the model.
    """
    level = level_of(model, level)
    walks = as_walks(model, degrees, house, rider=rider, fields=fields, venue=venue, day=day)
    m = len(walks.day)
    size = block_of(model, len(model.walks.first))
    with one_thread():
        blocks = []
        for start in range(0, max(m, 1), size):
            some = walks.taken(slice(start, start + size))
            sums, nearest = summed_up(model, model, some, ranges=ranges, n_nearest=n_nearest)
            blocks.append(finished(model, some, sums, nearest, level, ranges=ranges))
    return joined(blocks)


def level_of(model: Model, level: float | None) -> float:
    """Return the coverage that is asked for.

    Parameters
    ----------
    model : Model
        A model.
    level : float or None
        What was given.

    Returns
    -------
    float
        The model's own if none was given.

    Raises
    ------
    InputError
        Where it is not between 0 and 1.
    """
    level = model.level if level is None else level
    if not 0.0 < level < 1.0:
        raise InputError(Mistake("level", f"{level:g}", "give a level between 0 and 1, as 0.8"))
    return level


def block_of(model: Model, n_walks: int) -> int:
    """Say for how many walks sums and distances may be held at once.

    Parameters
    ----------
    model : Model
        What was learnt.
    n_walks : int
        Distinct walks of the past.

    Returns
    -------
    int
        At least 1.
    """
    return max(1, BLOCK // (3 * len(model.setting) * len(model.rule_shift) + 4 * n_walks + 1))


def summed_up(
    model: Model, part: Model, walks: Walks, *, ranges: bool, n_nearest: int
) -> tuple[Floats, Nearest]:
    """Sum up past sessions for walks whose distances to all of them fit into memory at once.

    Parameters
    ----------
    model : Model
        What was learnt.
    part : Model
        The same, with the past sessions: all of them, or those of one part of an archive.
    walks : Walks
        m walks.
    ranges : bool
        Whether ranges are wanted, and so sums without each fold.
    n_nearest : int
        How many of the nearest sessions to list.

    Returns
    -------
    sums : (S, m, w) array
        Sums of weight * left-over, then of weight; parts of an archive add up.
    nearest : Nearest
        The sessions most like each walk, in the rows of `part`.
    """
    sums, near, far = past_sums_and_nearness(
        asked=model.walk_table(walks.fields, walks.venue, walks.day),
        past=part.past,
        table=part.lookup if ranges else lookup_without(part, model.n_folds),
        comparison=model.comparison,
    )
    return sums, heaviest_of_walks(part, near, far, n_nearest)


def range_kinds(model: Model, level: float) -> tuple[str, ...]:
    """Say for each setting whether there are events enough for a CV+ range of a level.

    Parameters
    ----------
    model : Model
        A trained model.
    level : float
        Wanted coverage.

    Returns
    -------
    tuple of str
        "cv+" or "prior".
    """
    needed = events_needed(level)
    return tuple("cv+" if n >= needed else "prior" for n in model.events_by_setting.tolist())


def finished(
    model: Model, walks: Walks, sums: Floats, nearest: Nearest, level: float, *, ranges: bool
) -> Prediction:
    """Make the prediction of what past sessions sum up to.

    Parameters
    ----------
    model : Model
        What was learnt.
    walks : Walks
        m walks.
    sums, nearest
        From `summed_up`.
    level : float
        Coverage of the ranges.
    ranges : bool
        Whether to give ranges.

    Returns
    -------
    Prediction
        For these walks.
    """
    last = model.n_folds
    width = sums.shape[2] // 2
    weight = sums[:, :, width:]
    parts = model.advised
    kappa = parts.kappa[:, None, None]
    past = np.array(left_over(sums[:, :, :width], weight, kappa), dtype=np.float64)
    past += parts.usual[-width:, walks.rider].transpose(2, 1, 0)
    degrees = counted_touching(model, walks.degrees, walks.venue)
    habit = parts.habits[-1][walks.rider]
    spoken = np.nan_to_num(walks.degrees, nan=0.0)
    usual = np.where(np.isnan(walks.degrees), model.usual_degree[walks.venue], 0.0)
    not_judged = np.where(model.fallback == LEARNT, usual @ parts.amounts, 0.0)
    correction = past[:, :, -1].T + not_judged
    value = walks.house + habit + spoken @ parts.amounts + correction
    spread = expected_spread(model, last, degrees, walks.rider, weight[:, :, -1])
    kinds = range_kinds(model, level)
    low, high = np.full_like(value, np.nan), np.full_like(value, np.nan)
    if ranges:
        centre = degrees @ parts.touched.transpose(1, 2, 0) + past
        centre += parts.habits[:, walks.rider].transpose(2, 1, 0)
        spreads = np.empty((*spread.shape, last))
        for k in range(last):
            spreads[:, :, k] = expected_spread(model, k, degrees, walks.rider, weight[:, :, k])
        for s, kind in enumerate(kinds):
            if kind == "prior":
                half = normal_half_width(spread[s], level)
                low[:, s], high[:, s] = value[:, s] - half, value[:, s] + half
            else:
                below, above = cv_plus_of_folds(
                    centre[s, :, :-1], spreads[s], model.residuals_by_setting[s], level
                )
                low[:, s] = np.minimum(walks.house[:, s] + below, value[:, s])
                high[:, s] = np.maximum(walks.house[:, s] + above, value[:, s])
    total = weight[:, :, -1].T
    return Prediction(
        house=walks.house,
        rider=habit,
        past=correction,
        value=value,
        degrees=spoken,
        amounts=parts.amounts,
        not_judged=not_judged,
        low=low,
        high=high,
        range_kind=kinds,
        fallback=tuple(FALLBACKS[code] for code in model.fallback.tolist()),
        support=np.where(np.isinf(parts.kappa), 0.0, total / (total + parts.kappa)),
        spread=spread.T,
        nearest=nearest,
    )


def joined(blocks: Sequence[Prediction]) -> Prediction:
    """Put predictions of one model together.

    Parameters
    ----------
    blocks : sequence of Prediction
        At least one.

    Returns
    -------
    Prediction
        For the walks of all.
    """
    if len(blocks) == 1:
        return blocks[0]
    rows = (
        "house",
        "rider",
        "past",
        "value",
        "not_judged",
        "degrees",
        "low",
        "high",
        "support",
        "spread",
    )
    nearest = Nearest(
        **{
            part.name: np.concatenate([getattr(block.nearest, part.name) for block in blocks])
            for part in fields(Nearest)
        }
    )
    joined: dict[str, Any] = {
        name: np.concatenate([getattr(block, name) for block in blocks]) for name in rows
    }
    return replace(blocks[0], **joined, nearest=nearest)
