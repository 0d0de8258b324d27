"""Sums that the posterior of one setting needs; those of parts of an archive add up.

Once the spreads are known, the deviation of an event is integrated out over the event's own
sessions. What then remains of a part are sums by fold, and by fold and venue: as many numbers as
there are rules, riders, folds and venues, however many sessions there were.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, fields

import numpy as np

from setupadvisor.learning.sessions import Booleans, Floats, Integers
from setupadvisor.learning.sums_by_code import sums_by_code

# Numbers of events times columns that candidates are worked out with at once: so many stay near
# the core.
ENOUGH_NUMBERS = 100_000


@dataclass(frozen=True)
class Recorded:
    """Recorded sessions of one setting: n rows.

    Parameters
    ----------
    degrees : (n, Q) array
        Degrees of the rules that touch the setting.
    target : (n,) array
        Value less house value less the rules as written.
    weight : (n,) array
        Weights above 0.
    rider, event, venue, fold : (n,) integer array
        Codes; a fold holds whole events, and an event is at one venue, -1 where unknown.
    """

    degrees: Floats
    target: Floats
    weight: Floats
    rider: Integers
    event: Integers
    venue: Integers
    fold: Integers

    def taken(self, rows: Booleans) -> Recorded:
        """Return some of the rows.

        Parameters
        ----------
        rows : (n,) array of bool
            Which.

        Returns
        -------
        Recorded
            Those alone.
        """
        return Recorded(*(getattr(self, part.name)[rows] for part in fields(self)))


@dataclass(frozen=True)
class Totals:
    """Weighted sums of one setting, for each of K folds of whole events and for each event.

    Parameters
    ----------
    gram : (K, P, P) array
        Sum of weight * column * column over the fold's sessions, for the Q rules and G riders.
    moment : (K, P) array
        Sum of weight * column * target.
    square : (K,) array
        Sum of weight * target^2.
    weight : (K,) array
        Sum of weights.
    event_fold : (E,) array
        The fold of each event.
    event_weight, event_target : (E,) array
        Sum of weights and of weight * target over the event.
    event_columns : (E, P) array
        Sum of weight * column over the event.
    event_venue : (E,) integer array
        The venue of each event; -1 where unknown.
    n_venues : int
        How many venues there are.
    """

    gram: Floats
    moment: Floats
    square: Floats
    weight: Floats
    event_fold: Integers
    event_weight: Floats
    event_target: Floats
    event_columns: Floats
    event_venue: Integers
    n_venues: int

    @classmethod
    def joined(cls, parts: Sequence[Totals]) -> Totals:
        """Put sums of different events together.

        Parameters
        ----------
        parts : sequence of Totals
            At least one.

        Returns
        -------
        Totals
            The sums of all.
        """
        summed = {
            name: np.sum([getattr(one, name) for one in parts], axis=0)
            for name in ("gram", "moment", "square", "weight")
        }
        beside = {
            part.name: np.concatenate([getattr(one, part.name) for one in parts])
            for part in fields(cls)
            if part.name.startswith("event_")
        }
        return cls(**summed, **beside, n_venues=parts[0].n_venues)

    def of_one_fold(self) -> Totals:
        """Return the same sums with all events in one fold.

        Returns
        -------
        Totals
            With K = 1.
        """
        whole = {
            name: getattr(self, name).sum(axis=0, keepdims=True)
            for name in ("gram", "moment", "square", "weight")
        }
        order = np.argsort(self.event_venue, kind="stable")
        events = {
            part.name: getattr(self, part.name)[order]
            for part in fields(self)
            if part.name.startswith("event_")
        }
        events["event_fold"] = np.zeros(len(order), dtype=np.int64)
        return Totals(**whole, **events, n_venues=self.n_venues)


def totals(recorded: Recorded, *, n_riders: int, n_folds: int, n_venues: int) -> Totals:
    """Sum up the recorded sessions of one setting.

    Parameters
    ----------
    recorded : Recorded
        The sessions.
    n_riders, n_folds, n_venues : int
        How many riders, folds and venues there are.

    Returns
    -------
    Totals
        Sums by fold and by event.
    """
    degrees, target, weight = recorded.degrees, recorded.target, recorded.weight
    n_rules = degrees.shape[1]
    width = n_rules + n_riders
    events, event = np.unique(recorded.event, return_inverse=True)
    n_events, fold = len(events), recorded.fold
    weighted = degrees * weight[:, None]
    gram = np.zeros((n_folds, width, width))
    moment = np.zeros((n_folds, width))
    by_rider = fold * n_riders + recorded.rider
    riders = np.arange(n_rules, width)
    gram[:, riders, riders] = _sums(by_rider, weight, n_folds * n_riders).reshape(n_folds, n_riders)
    moment[:, n_rules:] = _sums(by_rider, weight * target, n_folds * n_riders).reshape(
        n_folds, n_riders
    )
    event_columns = np.zeros((n_events, width))
    by_event = event * n_riders + recorded.rider
    event_columns[:, n_rules:] = _sums(by_event, weight, n_events * n_riders).reshape(
        n_events, n_riders
    )
    for q in range(n_rules):
        cross = _sums(by_rider, weighted[:, q], n_folds * n_riders).reshape(n_folds, n_riders)
        gram[:, q, n_rules:] = cross
        gram[:, n_rules:, q] = cross
        moment[:, q] = _sums(fold, weighted[:, q] * target, n_folds)
        event_columns[:, q] = _sums(event, weighted[:, q], n_events)
    for k in range(n_folds):
        rows = fold == k
        gram[k, :n_rules, :n_rules] = degrees[rows].T @ weighted[rows]
    event_fold, event_venue = np.zeros((2, n_events), dtype=np.int64)
    event_fold[event] = fold
    event_venue[event] = recorded.venue
    return Totals(
        gram=gram,
        moment=moment,
        square=_sums(fold, weight * target**2, n_folds),
        weight=_sums(fold, weight, n_folds),
        event_fold=event_fold,
        event_weight=_sums(event, weight, n_events),
        event_target=_sums(event, weight * target, n_events),
        event_columns=event_columns,
        event_venue=event_venue,
        n_venues=n_venues,
    )


@dataclass(frozen=True)
class FoldSums:
    """Sums of one setting by fold, with the events' deviations integrated out.

    Parameters
    ----------
    gram : (K, P, P) array
        Sum of weight * column * column, less what the events' deviations may explain.
    moment : (K, P) array
        Likewise of weight * column * target.
    square : (K,) array
        Likewise of weight * target^2.
    log_determinant : (K,) array
        Logarithm of how much wider the events' deviations make the sessions' joint density.
    venue_columns : (K, V, P) array
        Sum of column over a venue's events, with the weight that each event's deviation leaves it.
    venue_weight, venue_target : (K, V) array
        Likewise of 1 and of the target.
    """

    gram: Floats
    moment: Floats
    square: Floats
    log_determinant: Floats
    venue_columns: Floats
    venue_weight: Floats
    venue_target: Floats

    def __add__(self, other: FoldSums) -> FoldSums:
        """Add the sums of other events."""
        return FoldSums(
            *(getattr(self, part.name) + getattr(other, part.name) for part in fields(self))
        )

    def of_folds(self, kept: Floats) -> FoldSums:
        """Sum over some folds.

        Parameters
        ----------
        kept : (M, K) array
            1 where a fold is taken into a sum, 0 where not.

        Returns
        -------
        FoldSums
            M sums in the place of the K folds.
        """
        return FoldSums(
            *(np.tensordot(kept, getattr(self, part.name), axes=1) for part in fields(self))
        )

    def venues_integrated(self, venue: float | Floats) -> tuple[Floats, Floats, Floats, Floats]:
        """Integrate the venues' deviations out too.

        Parameters
        ----------
        venue : float or (K, 1) array
            Their variance over that of the noise.

        Returns
        -------
        gram, moment, square, log_determinant : array
            As above, less what the venues' deviations may explain.
        """
        shrink = venue / (1.0 + venue * self.venue_weight)
        shrunk = self.venue_columns * shrink[:, :, None]
        turned = self.venue_columns.transpose(0, 2, 1)
        return (
            self.gram - turned @ shrunk,
            self.moment - (turned @ (shrink * self.venue_target)[:, :, None])[:, :, 0],
            self.square - (shrink * self.venue_target**2).sum(axis=1),
            self.log_determinant + np.log1p(venue * self.venue_weight).sum(axis=1),
        )


def events_integrated(sums: Totals, event: float, venue: float) -> FoldSums:
    """Integrate the events' deviations out.

    Parameters
    ----------
    sums : Totals
        Sums by event.
    event, venue : float
        Variances of events and venues over that of the noise. An unknown venue is its event's
        alone, and is integrated out with it.

    Returns
    -------
    FoldSums
        A venue sees each of its events with what weight the event's own deviation left it.
    """
    n_folds, width = sums.moment.shape
    left, shrink, opened = _event_shares(sums, event, venue)
    beside = _side_by_side(sums)
    fold = sums.event_fold
    explained = np.zeros((n_folds, width, width + 1))
    for k in range(n_folds):
        of_fold, by = (beside, shrink) if n_folds == 1 else (beside[fold == k], shrink[fold == k])
        explained[k] = of_fold[:, :width].T @ (of_fold[:, : width + 1] * by[:, None])
    at_venue = np.where(sums.event_venue < 0, -1, fold * sums.n_venues + sums.event_venue)
    venues = sums_by_code(at_venue, beside * left[:, None], n_folds * sums.n_venues)
    venues = venues.reshape(n_folds, sums.n_venues, width + 2)
    return FoldSums(
        gram=sums.gram - explained[:, :, :width],
        moment=sums.moment - explained[:, :, width],
        square=sums.square - _sums(fold, shrink * sums.event_target**2, n_folds),
        log_determinant=_sums(fold, opened, n_folds),
        venue_columns=venues[:, :, :width],
        venue_weight=venues[:, :, width + 1],
        venue_target=venues[:, :, width],
    )


def candidates_integrated(
    sums: Totals, event: Floats, venue: Floats
) -> Iterator[tuple[Floats, Floats, Floats, Floats]]:
    """Integrate the deviations of events and venues out, for several candidates at once.

    Parameters
    ----------
    sums : Totals
        Sums of one fold, with its events in the order of their venues.
    event, venue : (C,) array
        Variances of events and venues over that of the noise.

    Yields
    ------
    gram, moment, square, log_determinant : array
        As from `FoldSums.venues_integrated`, of some candidates in the place of folds; in order.
    """
    beside = _side_by_side(sums)
    width = sums.moment.shape[1]
    known = int(np.searchsorted(sums.event_venue, 0))
    of_venue = sums.event_venue[known:]
    starts = known + np.flatnonzero(np.diff(of_venue, prepend=-1))
    at_once = max(1, ENOUGH_NUMBERS // max(beside.size, 1))
    for first in range(0, len(event), at_once):
        some = slice(first, first + at_once)
        left, shrink, opened = _event_shares(sums, event[some, None], venue[some, None])
        explained = beside[:, :width].T @ (beside[:, : width + 1] * shrink[:, :, None])
        venues = np.zeros((len(left), sums.n_venues, width + 2))
        if len(of_venue):
            seen = beside * left[:, :, None]
            venues[:, sums.event_venue[starts]] = np.add.reduceat(seen, starts, axis=1)
        by_event = FoldSums(
            gram=sums.gram - explained[:, :, :width],
            moment=sums.moment - explained[:, :, width],
            square=sums.square - shrink @ sums.event_target**2,
            log_determinant=opened.sum(axis=1),
            venue_columns=venues[:, :, :width],
            venue_weight=venues[:, :, width + 1],
            venue_target=venues[:, :, width],
        )
        yield by_event.venues_integrated(venue[some, None])


def _event_shares(
    sums: Totals, event: float | Floats, venue: float | Floats
) -> tuple[Floats, Floats, Floats]:
    """Say what weight each event's deviation leaves, what it explains, how much it opens."""
    left = 1.0 / (1.0 + event * sums.event_weight)
    seen = sums.event_weight * left
    alone = venue * (sums.event_venue < 0)
    shrink = event * left + left**2 * alone / (1.0 + alone * seen)
    opened = np.log1p(event * sums.event_weight) + np.log1p(alone * seen)
    return left, shrink, opened


def _side_by_side(sums: Totals) -> Floats:
    """Put columns, target and weight of the events together: what is done to one is done to all."""
    return np.column_stack([sums.event_columns, sums.event_target, sums.event_weight])


def _sums(codes: Integers, weights: Floats, length: int) -> Floats:
    """Sum weights by code."""
    return np.bincount(codes, weights=weights, minlength=length).astype(np.float64, copy=False)
