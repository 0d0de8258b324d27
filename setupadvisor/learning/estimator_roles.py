"""Which column of a table says what: house values, degrees, conditions, rider, venue, day."""

from __future__ import annotations

from collections.abc import Hashable
from dataclasses import dataclass
from typing import Any, TypeAlias

import numpy as np

from setupadvisor.learning.estimator_columns import (
    Categories,
    EstimatorInputError,
    Table,
    as_codes,
    as_numbers,
    categories_of,
    column_numbers,
    encoded,
    is_missing,
    sorted_names,
)
from setupadvisor.learning.sessions import Booleans, Floats, Integers, Knowledge, Sessions

Frame: TypeAlias = Any
HOUSE, DEGREE = "house.", "degree."
RIDER, VENUE, DAY = "rider", "venue", "day"


@dataclass(frozen=True)
class Roles:
    """Columns by what they say.

    Parameters
    ----------
    house, degrees, fields : integer array
        Columns of house values, degrees of rules and entered conditions.
    rider, venue, day : int or None
        Columns of who, where and when.
    """

    house: Integers
    degrees: Integers
    fields: Integers
    rider: int | None
    venue: int | None
    day: int | None


@dataclass(frozen=True)
class Seen:
    """What a training table taught about its columns.

    Parameters
    ----------
    categories : tuple
        For each field its categories, or None for numbers.
    riders, venues : tuple
        Those seen, in order.
    house : (S,) array or None
        House values where no columns give them.
    """

    categories: tuple[Categories, ...]
    riders: tuple[Hashable, ...]
    venues: tuple[Hashable, ...]
    house: Floats | None


def find_roles(
    asked: dict[str, Any], *, names: list[Hashable] | None, n_columns: int, n_settings: int
) -> Roles:
    """Find the columns that were asked for.

    Parameters
    ----------
    asked : dict
        Columns of `house`, `degrees`, `fields`, `rider`, `venue` and `day`, or None.
    names : list or None
        Names of the table's columns.
    n_columns, n_settings : int
        Columns of the table, and settings.

    Returns
    -------
    Roles
        The columns.

    Raises
    ------
    EstimatorInputError
        Where a column is not there, is named twice, or there are too many or too few.
    """
    found = {
        role: column_numbers(columns, names=names, n_columns=n_columns, parameter=role)
        for role, columns in asked.items()
    }
    for role in (RIDER, VENUE, DAY):
        if len(found[role]) > 1:
            raise EstimatorInputError(role, f"{len(found[role])} columns", "name one")
    if len(found["house"]) not in {0, n_settings}:
        raise EstimatorInputError(
            "house", f"{len(found['house'])} columns", f"name one for each of {n_settings} settings"
        )
    taken = np.concatenate(list(found.values()))
    if len(np.unique(taken)) < len(taken):
        raise EstimatorInputError("columns", "a column named twice", "name each column once")
    if asked["fields"] is None:
        found["fields"] = np.setdiff1d(np.arange(n_columns), taken)
    alone = {
        role: int(found[role][0]) if len(found[role]) else None for role in (RIDER, VENUE, DAY)
    }
    return Roles(house=found["house"], degrees=found["degrees"], fields=found["fields"], **alone)


def learn_columns(
    table: Table, roles: Roles, *, is_category: Booleans, targets: Floats, event: Integers
) -> Seen:
    """Take from a training table what later tables are read by.

    Parameters
    ----------
    table : (n, p) array
        The table.
    roles : Roles
        Its columns.
    is_category : (F,) array of bool
        Fields whose values either agree or not.
    targets : (n, S) array
        What was on the motorcycle.
    event : (n,) integer array
        Codes.

    Returns
    -------
    Seen
        Categories, riders, venues, and house values where no columns give them.

    Raises
    ------
    EstimatorInputError
        Where a session has no rider.
    """
    categories = tuple(
        categories_of(table[:, column]) if category else None
        for column, category in zip(roles.fields.tolist(), is_category.tolist(), strict=True)
    )
    if roles.rider is not None and is_missing(table[:, roles.rider]).any():
        raise EstimatorInputError("rider", "a session without a rider", "leave the row out")
    riders, venues = (
        () if column is None else tuple(sorted_names(categories_of(table[:, column])))
        for column in (roles.rider, roles.venue)
    )
    house = None if len(roles.house) else _mean_of_events(targets, event)
    return Seen(categories=categories, riders=riders, venues=venues, house=house)


def walks(table: Table, roles: Roles, seen: Seen) -> dict[str, Any]:
    """Read a table as walks.

    Parameters
    ----------
    table : (m, p) array
        The table.
    roles : Roles
        Its columns.
    seen : Seen
        What the training table taught.

    Returns
    -------
    dict
        `house`, `degrees`, `fields`, `rider`, `venue` and `day`, as `Sessions` has them; the code
        of a rider or a venue never seen is -1.

    Raises
    ------
    EstimatorInputError
        Where a degree is outside 0 to 1 or a number infinite.
    """
    m = len(table)
    numbers: tuple[Categories, ...] = (None,) * len(roles.degrees)
    degrees = encoded(table, roles.degrees, numbers)
    with np.errstate(invalid="ignore"):
        if ((degrees < 0) | (degrees > 1)).any():
            raise EstimatorInputError("degrees", "a degree outside 0 to 1", "give 0 to 1 or NaN")
    if seen.house is None:
        house = encoded(table, roles.house, (None,) * len(roles.house))
    else:
        house = np.tile(seen.house, (m, 1))
    fields = encoded(table, roles.fields, seen.categories)
    return {
        "house": house,
        "degrees": degrees,
        "fields": fields if len(roles.fields) else np.full((m, 1), np.nan),
        "rider": _codes(table, roles.rider, seen.riders, otherwise=0),
        "venue": _codes(table, roles.venue, seen.venues, otherwise=-1),
        "day": np.zeros(m) if roles.day is None else as_numbers(table[:, roles.day], DAY),
    }


def season_frames(sessions: Sessions) -> tuple[Frame, Frame, Integers, Floats]:
    """Lay a season out as the frames that `SetupRegressor.from_knowledge` reads.

    Parameters
    ----------
    sessions : Sessions
        n sessions.

    Returns
    -------
    X : (n, p) frame
        House values, degrees, conditions, rider, venue and day.
    y : (n, S) frame
        What was on the motorcycle.
    groups : (n,) integer array
        The event of each session.
    mark : (n,) array
        The riders' marks.

    Notes
    -----
    The rows are in the order in which they were ridden, as the estimator expects.
    """
    import pandas as pd  # noqa: PLC0415

    rows = np.lexsort((sessions.order, sessions.day))
    sessions = sessions.taken(rows)
    rider = np.array(sessions.rider_name, dtype=object)[sessions.rider]
    venue = np.array([*sessions.venue_name, None], dtype=object)[sessions.venue]
    columns = knowledge_columns(sessions)
    table = pd.concat(
        [
            pd.DataFrame(sessions.house, columns=columns["house"]),
            pd.DataFrame(sessions.degrees, columns=columns["degrees"]),
            pd.DataFrame(sessions.fields, columns=columns["fields"]),
            pd.DataFrame({RIDER: rider, VENUE: venue, DAY: sessions.day}),
        ],
        axis=1,
    )
    targets = pd.DataFrame(sessions.values, columns=list(sessions.setting))
    return table, targets, sessions.event, sessions.mark


def knowledge_columns(knowledge: Knowledge | Sessions) -> dict[str, Any]:
    """Name the columns of `season_frames`.

    Parameters
    ----------
    knowledge : Knowledge or Sessions
        Whose settings, rules and fields they are.

    Returns
    -------
    dict
        Columns of `house`, `degrees`, `fields`, `rider`, `venue` and `day`.
    """
    return {
        "house": [HOUSE + name for name in knowledge.setting],
        "degrees": [DEGREE + name for name in knowledge.rule],
        "fields": list(knowledge.field),
        "rider": RIDER,
        "venue": VENUE,
        "day": DAY,
    }


def _mean_of_events(targets: Floats, event: Integers) -> Floats:
    """Mean of each column, each event counting once; NaN where nothing was recorded."""
    recorded = np.isfinite(targets)
    count = np.zeros((int(event.max()) + 1, targets.shape[1]))
    np.add.at(count, event, recorded)
    weight = recorded / np.maximum(count[event], 1.0)
    total = weight.sum(axis=0)
    mean = np.full(len(total), np.nan)
    weighted = (weight * np.where(recorded, targets, 0.0)).sum(axis=0)
    np.divide(weighted, total, out=mean, where=total > 0)
    return mean


def _codes(
    table: Table, column: int | None, values: tuple[Hashable, ...], *, otherwise: int
) -> Integers:
    """Codes of a column of names; -1 where missing or never seen."""
    if column is None:
        return np.full(len(table), otherwise, dtype=np.int64)
    codes = as_codes(table[:, column], values)
    known = codes < len(values)
    return np.where(known, np.nan_to_num(codes), -1).astype(np.int64)
