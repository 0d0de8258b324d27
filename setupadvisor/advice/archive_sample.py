"""A season of whole events spread evenly over an archive, to measure on what fits into memory."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from setupadvisor.advice.archive_parts import Part
from setupadvisor.entries.season import Season
from setupadvisor.entries.season_joining import joined_seasons

ENOUGH_SESSIONS, ENOUGH_PARTS = 1_200, 12


def sample_of(parts: Sequence[Part], sessions: int, name: str) -> Season:
    """Take whole events, evenly from parts that are spread evenly over an archive.

    Parameters
    ----------
    parts : sequence of Part
        Those with a sound session.
    sessions : int
        How many sessions they hold together.
    name : str
        What to call the sample.

    Returns
    -------
    Season
        All sessions of a small archive, else about `ENOUGH_SESSIONS` of them.
    """
    if sessions <= ENOUGH_SESSIONS:
        return joined_seasons([part.read()[0] for part in parts], name)
    places = np.unique(np.linspace(0, len(parts) - 1, ENOUGH_PARTS).round().astype(int))
    most = ENOUGH_SESSIONS // len(places)
    return joined_seasons([_events_of(parts[place].read()[0], most) for place in places], name)


def _events_of(season: Season, most: int) -> Season:
    """Keep every so many-th event, in the order of the events' days."""
    if len(season) <= most:
        return season
    _, first, event, count = np.unique(
        season.event, return_index=True, return_inverse=True, return_counts=True
    )
    order = np.argsort(season.day[first], kind="stable")
    wanted = max(1, int(most / count.mean()))
    chosen = order[np.unique(np.linspace(0, len(order) - 1, wanted).round().astype(int))]
    return season.take(np.isin(event, chosen))
