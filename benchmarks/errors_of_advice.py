"""Rows of the advice's error beside everything simpler: in steps, not in seconds.

A short version of `benchmarks/beats_alternatives.py`, which has all sizes and both worlds, more
seasons and the coverage of ranges. Each value is the mean error of one invented season against its
true best settings, which nobody ever wrote down.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np
from beats_alternatives import WORLDS, errors_of
from measuring import Row, Scale, Target

from setupadvisor.learning.evaluation import ALTERNATIVES, DESIGN

TITLE = "Error of the advice, in steps of the setting"


def parts(scale: Scale) -> list[dict[str, object]]:
    sizes, seasons = {"tiny": ([3], 1), "quick": ([6], 2), "full": ([3, 12, 48], 6)}[scale]
    return [{"events": sizes, "seasons": seasons}]


def rows(events: list[int], seasons: int) -> list[Row]:
    """Ask the design and all but the forest, which takes longest, about the same seasons."""
    ways = [way for way in (DESIGN, *ALTERNATIVES) if "forest" not in way]
    world, of_world = next(iter(WORLDS.items()))
    found = []
    for size in events:
        errors = errors_of(size, of_world, seasons, ways)
        best = min(ways[1:], key=lambda way: float(np.mean(errors[way])))
        row = Row(
            name=f"after {size} events, world {world}",
            values=[float(np.mean(errors[DESIGN]))],
            unit="steps",
            peer=best,
            peer_value=float(np.mean(errors[best])),
            note=f"mean of {seasons} seasons",
        )
        below = Target("below every simpler way", row.ratio or np.nan, 1.0)
        found.append(replace(row, targets=[below]))
    return found
