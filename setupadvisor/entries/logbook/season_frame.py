"""The book as a season to learn from."""

from __future__ import annotations

from collections.abc import Mapping

from sqlalchemy import Connection

from setupadvisor.entries.logbook.season_view import season_columns
from setupadvisor.entries.machine import Machine
from setupadvisor.entries.rider import Rider
from setupadvisor.entries.season import Season, season_from
from setupadvisor.errors import Mistake


def season_of(
    connection: Connection,
    source: str,
    machines: Mapping[str, Machine],
    riders: Mapping[str, Rider],
) -> tuple[Season, list[Mistake]]:
    """Read all outings of an open book as a season.

    Parameters
    ----------
    connection : sqlalchemy.Connection
        To the book.
    source : str
        The book's name, for messages.
    machines, riders : mapping
        By name.

    Returns
    -------
    tuple of Season and list of Mistake
        The sound outings, and the mistakes of the others.

    Raises
    ------
    InputError
        If there is no outing.
    """
    import pandas as pd  # noqa: PLC0415 - a third of a second

    columns = season_columns(connection)
    frame = pd.DataFrame({name: pd.Series(cells, dtype=object) for name, cells in columns.items()})
    return season_from(frame, source, machines, riders)
