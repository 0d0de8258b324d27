"""Walks laid out to be compared, and how they are compared."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from setupadvisor.learning.past_sessions import Conditions, Reals
from setupadvisor.learning.sessions import Booleans, Floats, Integers


@dataclass(frozen=True)
class WalkTable:
    """Walks as they are compared: m rows.

    Parameters
    ----------
    conditions : Conditions
        Entered conditions, ready for differences.
    venue : (m,) integer array
        Codes; -1 where unknown.
    day : (m,) array
        Days since a fixed date.
    """

    conditions: Conditions
    venue: Integers
    day: Floats

    def taken(self, which: slice | Integers) -> WalkTable:
        """Return some of the walks.

        Parameters
        ----------
        which : slice or integer array
            Which walks.

        Returns
        -------
        WalkTable
            Those walks.
        """
        return WalkTable(self.conditions.taken(which), self.venue[which], self.day[which])


@dataclass(frozen=True)
class Comparison:
    """How walks are compared: for each of S settings, and how far that reaches.

    Parameters
    ----------
    weights : (S, F) array
        Weight of each field.
    agree_or_not : (F,) array of bool
        Fields whose difference is 0 or 1.
    bandwidth : (S,) array
        Bandwidth of the similarity.
    venue_factor, half_life : float
        How often the same venue counts, and days to half weight.
    """

    weights: Reals
    agree_or_not: Booleans
    bandwidth: Floats
    venue_factor: float
    half_life: float

    def of_settings(self, which: int | slice) -> Comparison:
        """Return the comparison of some settings.

        Parameters
        ----------
        which : int or slice
            The first so many, or which.

        Returns
        -------
        Comparison
            For those alone.
        """
        rows = which if isinstance(which, slice) else slice(which)
        return replace(self, weights=self.weights[rows], bandwidth=self.bandwidth[rows])


def field_weights(reads: Booleans, unread_weight: float) -> Reals:
    """Weigh the fields for each setting: 1 where its rules read them.

    Parameters
    ----------
    reads : (S, F) array of bool
        Whether some rule that moves the setting reads the field.
    unread_weight : float
        Weight of the other fields.

    Returns
    -------
    (S + 1, F) array
        Weights for each setting, and last for the walk as a whole.
    """
    weights = np.where(reads, 1.0, unread_weight)
    overall = np.where(reads.any(axis=0), 1.0, unread_weight)
    return np.vstack([weights, overall]).astype(np.float32)
