"""Seasons put together: columns that one of them lacks are missing in its rows."""

from __future__ import annotations

from collections.abc import Callable, Sequence

import numpy as np
from numpy.typing import NDArray

from setupadvisor.entries.season import Season
from setupadvisor.entries.season_reader import FloatArray


def joined_seasons(seasons: Sequence[Season], source: str) -> Season:
    """Put seasons together, in their order.

    Parameters
    ----------
    seasons : sequence of Season
        At least one.
    source : str
        What to call the whole.

    Returns
    -------
    Season
        All rows; conditions and settings of any of them.
    """
    settings = tuple(dict.fromkeys(name for season in seasons for name in season.settings))
    paths = dict.fromkeys(path for season in seasons for path in season.conditions)
    values = []
    for season in seasons:
        own = np.full((len(season), len(settings)), np.nan)
        own[:, [settings.index(name) for name in season.settings]] = season.values
        values.append(own)

    def names(column: Callable[[Season], NDArray[np.object_]]) -> NDArray[np.object_]:
        return np.concatenate([column(season) for season in seasons])

    def numbers(column: Callable[[Season], FloatArray]) -> FloatArray:
        return np.concatenate([column(season) for season in seasons])

    return Season(
        source=source,
        session_id=names(lambda season: season.session_id),
        event=names(lambda season: season.event),
        venue=names(lambda season: season.venue),
        rider=names(lambda season: season.rider),
        machine=names(lambda season: season.machine),
        day=numbers(lambda season: season.day),
        order=np.arange(sum(map(len, seasons)), dtype=np.float64),
        conditions={path: _condition(path, seasons) for path in paths},
        settings=settings,
        values=np.concatenate(values),
        mark=numbers(lambda season: season.mark),
        best_lap_s=numbers(lambda season: season.best_lap_s),
    )


def _condition(path: str, seasons: Sequence[Season]) -> FloatArray:
    given = [season.conditions[path] for season in seasons if path in season.conditions]
    # A field inside a list has as many places as the longest list.
    shape = given[0].shape[1:] and (max(column.shape[1] for column in given),)
    columns = []
    for season in seasons:
        column = np.full((len(season), *shape), np.nan)
        if path in season.conditions:
            own = season.conditions[path]
            column[(slice(None), *(slice(0, places) for places in own.shape[1:]))] = own
        columns.append(column)
    return np.concatenate(columns)
