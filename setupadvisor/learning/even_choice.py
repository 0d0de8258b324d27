"""Some events, or some settled sessions, evenly over a season: the same ones however it is cut.

What a season is chosen by is one row an event, in an order that neither rows, codes nor parts of an
archive have a say in.
"""

from __future__ import annotations

import hashlib
from collections.abc import Iterable
from dataclasses import dataclass, fields

import numpy as np

from setupadvisor.learning.sessions import Booleans, Floats, Integers


@dataclass(frozen=True)
class Events:
    """What is known of each event before anything is learnt: E rows.

    Parameters
    ----------
    key : (E,) integer array
        From `event_keys`.
    first_day : (E,) array
        Its first day; infinite where it has no session.
    settled : (E,) integer array
        Sessions with a settled setup.
    walks, settled_walks : (E,) integer array
        Distinct walks among its sessions, and among those with a settled setup.
    """

    key: Integers
    first_day: Floats
    settled: Integers
    walks: Integers
    settled_walks: Integers

    @classmethod
    def joined(cls, parts: Iterable[Events]) -> Events:
        """Put the events of parts one after another.

        Parameters
        ----------
        parts : iterable of Events
            In the order of the parts.

        Returns
        -------
        Events
            All of them.
        """
        listed = list(parts) or [events_of_nothing()]
        return cls(
            *(np.concatenate([getattr(one, part.name) for one in listed]) for part in fields(cls))
        )


@dataclass(frozen=True)
class Chosen:
    """Settled sessions that were chosen: q of them.

    Parameters
    ----------
    event : (q,) integer array
        The event of each.
    place : (q,) integer array
        Its place among the settled sessions of the event, from 0.
    """

    event: Integers
    place: Integers


def event_keys(names: Iterable[str]) -> Integers:
    """Give each event a number that follows from its name alone.

    Parameters
    ----------
    names : iterable of str
        Names.

    Returns
    -------
    (E,) integer array
        The first eight bytes of SHA-256.

    Examples
    --------
    >>> bool(event_keys(["a", "b"])[1] == event_keys(["b"])[0])
    True
    """
    digests = b"".join(hashlib.sha256(name.encode()).digest()[:8] for name in names)
    return np.frombuffer(digests, dtype="<i8").astype(np.int64)


def events_of(
    *,
    key: Integers,
    event: Integers,
    day: Floats,
    settled: Booleans,
    walk: Integers,
) -> Events:
    """Look at the events of some sessions.

    Parameters
    ----------
    key : (E,) integer array
        From `event_keys`.
    event : (n,) integer array
        Codes.
    day : (n,) array
        Days since a fixed date.
    settled : (n,) array of bool
        Whether any setting of the session is settled.
    walk : (n,) integer array
        The distinct walk of each session.

    Returns
    -------
    Events
        One row a code.
    """
    length = len(key)
    first_day = np.full(length, np.inf)
    np.minimum.at(first_day, event, day)
    pair = event * (walk.max(initial=0) + 1) + walk
    _, first = np.unique(pair, return_index=True)
    _, first_settled = np.unique(pair[settled], return_index=True)
    return Events(
        key=key,
        first_day=first_day,
        settled=np.bincount(event[settled], minlength=length),
        walks=np.bincount(event[first], minlength=length),
        settled_walks=np.bincount(event[settled][first_settled], minlength=length),
    )


def events_of_nothing() -> Events:
    """Return no event at all.

    Returns
    -------
    Events
        With no row.
    """
    nobody = np.zeros(0, dtype=np.int64)
    return Events(nobody, np.zeros(0), nobody, nobody, nobody)


def chosen_events(events: Events, enough: int) -> Integers:
    """Choose events, evenly over the season if there are more than enough.

    Parameters
    ----------
    events : Events
        The season's.
    enough : int
        How many are enough.

    Returns
    -------
    integer array
        Events, in ascending order.

    Examples
    --------
    >>> days = np.array([4.0, np.inf, 1.0, 2.0, 3.0])
    >>> season = Events(np.arange(5), days, *[np.ones(5, int)] * 3)
    >>> chosen_events(season, 2).tolist(), chosen_events(season, 9).tolist()
    ([0, 2], [0, 2, 3, 4])
    """
    there = np.flatnonzero(np.isfinite(events.first_day))
    order = there[np.lexsort((events.key[there], events.first_day[there]))]
    return np.sort(order[_even(len(order), enough)])


def chosen_settled(events: Events, enough: int) -> Chosen:
    """Choose settled sessions, evenly over the season if there are more than enough.

    Parameters
    ----------
    events : Events
        The season's.
    enough : int
        How many are enough.

    Returns
    -------
    Chosen
        Sessions, by event and by place in it.

    Examples
    --------
    >>> settled, walks = np.array([1, 3]), np.ones(2, int)
    >>> season = Events(np.arange(2), np.array([4.0, 1.0]), settled, walks, walks)
    >>> some = chosen_settled(season, 2)
    >>> some.event.tolist(), some.place.tolist()
    ([0, 1], [0, 0])
    """
    order = np.lexsort((events.key, events.first_day))
    upto = np.cumsum(events.settled[order])
    picks = _even(int(upto[-1]) if len(upto) else 0, enough)
    where = np.searchsorted(upto, picks, side="right")
    event, place = order[where], picks - (upto - events.settled[order])[where]
    ascending = np.lexsort((place, event))
    return Chosen(event[ascending], place[ascending])


def settled_rows(chosen: Chosen, event: Integers, day: Floats, settled: Booleans) -> Integers:
    """Find the rows of the sessions that were chosen.

    Parameters
    ----------
    chosen : Chosen
        Sessions of these events.
    event, day, settled : (n,) array
        As for `events_of`.

    Returns
    -------
    (q,) integer array
        Rows in the order of `chosen`; within an event sessions are counted by day, then by row.
    """
    rows = np.flatnonzero(settled)
    rows = rows[np.lexsort((rows, day[rows], event[rows]))]
    found: Integers = rows[np.searchsorted(event[rows], chosen.event) + chosen.place]
    return found


def _even(length: int, enough: int) -> Integers:
    if length <= enough:
        return np.arange(length)
    return np.linspace(0, length - 1, enough).astype(np.int64)
