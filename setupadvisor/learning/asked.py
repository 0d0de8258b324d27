"""Walks that advice is asked for, checked and in a model's codes."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from dataclasses import fields as dataclass_fields
from typing import TypeAlias

import numpy as np

from setupadvisor.errors import InputError, Mistake
from setupadvisor.learning.model import Model
from setupadvisor.learning.sessions import Floats, Integers

Who: TypeAlias = Sequence[str | None] | Integers


@dataclass(frozen=True)
class Walks:
    """Walks in a model's codes: m rows.

    Parameters
    ----------
    degrees, house, fields : (m, R), (m, S), (m, F) array
        As for `predict`.
    rider : (m,) integer array
        Codes; the number of riders stands for a rider never seen.
    venue : (m,) integer array
        Codes; -1 for a venue never seen.
    day : (m,) array
        Days since the season's fixed date.
    """

    degrees: Floats
    house: Floats
    fields: Floats
    rider: Integers
    venue: Integers
    day: Floats

    def taken(self, rows: slice) -> Walks:
        """Return some of the walks.

        Parameters
        ----------
        rows : slice
            Which.

        Returns
        -------
        Walks
            Those walks.
        """
        return Walks(*(getattr(self, part.name)[rows] for part in dataclass_fields(self)))


def as_walks(
    model: Model,
    degrees: Floats,
    house: Floats,
    *,
    rider: Who,
    fields: Floats,
    venue: Who,
    day: Floats,
) -> Walks:
    """Check walks against a model and turn names into its codes.

    Parameters
    ----------
    model : Model
        Trained or untrained.
    degrees, house, rider, fields, venue, day
        As for `predict`.

    Returns
    -------
    Walks
        The walks in the model's codes.

    Raises
    ------
    InputError
        Where an array does not fit the model.
    """
    day = np.asarray(day, dtype=np.float64)
    arrays = {
        "degrees": (np.asarray(degrees, dtype=np.float64), len(model.rule)),
        "house": (np.asarray(house, dtype=np.float64), len(model.setting)),
        "fields": (np.asarray(fields, dtype=np.float64), len(model.field)),
    }
    mistakes = [
        Mistake(name, f"an array of shape {array.shape}", f"give shape {(len(day), width)}")
        for name, (array, width) in arrays.items()
        if array.shape != (len(day), width)
    ]
    riders, venues = _codes(rider, model.rider_name), _codes(venue, model.venue_name)
    mistakes += [
        Mistake(name, f"{len(codes)} of them", f"give one for each of the {len(day)} walks")
        for name, codes in (("rider", riders), ("venue", venues))
        if len(codes) != len(day)
    ]
    if mistakes:
        raise InputError(mistakes)
    return Walks(
        degrees=arrays["degrees"][0],
        house=arrays["house"][0],
        fields=arrays["fields"][0],
        rider=np.where(riders < 0, len(model.rider_name), riders),
        venue=venues,
        day=np.where(np.isnan(day), model.last_day, day),
    )


def _codes(who: Who, names: tuple[str, ...]) -> Integers:
    """Turn names into codes; -1 where unknown."""
    if isinstance(who, np.ndarray) and who.dtype.kind in "iu":
        return np.where((who >= 0) & (who < len(names)), who, -1).astype(np.int64)
    known = {name: code for code, name in enumerate(names)}
    return np.array(
        [-1 if name is None else known.get(str(name), -1) for name in who], dtype=np.int64
    )
