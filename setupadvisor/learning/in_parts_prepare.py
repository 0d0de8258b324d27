"""One part of an archive made ready: loaded once, its arrays on disk, its sums returned."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import TypeAlias

import numpy as np

from setupadvisor.learning.distinct import distinct_walks
from setupadvisor.learning.even_choice import Events, event_keys, events_of
from setupadvisor.learning.in_parts_files import mapped_arrays, write_arrays
from setupadvisor.learning.riders_mean import settled_sums
from setupadvisor.learning.sessions import Floats, Integers, Knowledge, Sessions
from setupadvisor.learning.touching import degree_sums
from setupadvisor.learning.training import check_sessions, events_by_setting
from setupadvisor.learning.weights import settled_setups, shares, worth

# Gives the sessions of one part, in the part's own names and codes.
Loader: TypeAlias = Callable[[], Sessions]
# Files of one part. What sums are looked up in also has the mark of the model that it follows from.
SESSIONS, CODES = "sessions.safetensors", "codes.safetensors"


@dataclass(frozen=True)
class Summary:
    """What is known of a part before anything is learnt.

    Parameters
    ----------
    rider_name, venue_name : tuple of str
        The part's names, in ascending order.
    events : Events
        Its events.
    n_sessions : int
        Its sessions.
    fields_low, fields_high : (F,) array
        Lowest and highest entered conditions; NaN where there are none.
    marks, marked : float
        Sum of the riders' marks, and how many there are.
    last_day : float
        Day of the last session.
    degree_sums : (2, V + 1, R) array
        From `degree_sums`, in the part's own venues.
    events_by_setting : (S,) integer array
        Events with a settled setup.
    """

    rider_name: tuple[str, ...]
    venue_name: tuple[str, ...]
    events: Events
    n_sessions: int
    fields_low: Floats
    fields_high: Floats
    marks: float
    marked: float
    last_day: float
    degree_sums: Floats
    events_by_setting: Integers


def prepare(*, loader: Loader, knowledge: Knowledge, folder: Path) -> Summary:
    """Load a part and write down what learning needs of it.

    Parameters
    ----------
    loader : callable
        Gives its sessions.
    knowledge : Knowledge
        Rules and settings.
    folder : pathlib.Path
        Where to write.

    Returns
    -------
    Summary
        What is needed before learning.

    Raises
    ------
    InputError
        Where sessions and knowledge do not speak of the same settings, rules and fields.
    """
    sessions = loader()
    check_sessions(sessions, knowledge)
    rider_name, rider = _in_order(sessions.rider_name, sessions.rider)
    venue_name, venue = _in_order(sessions.venue_name, sessions.venue)
    # Only events that have sessions here, since an event must not be in two parts.
    codes, event = np.unique(sessions.event, return_inverse=True)
    event_name = [sessions.event_name[code] for code in codes.tolist()]
    target = sessions.values - sessions.house
    settled = settled_setups(sessions)
    walks = distinct_walks(sessions.fields, venue, sessions.day)
    judged = sessions.degrees[:, rules_that_touch(knowledge.amounts)]
    first, of_session = _shared_rows(judged, walks.of_session * (len(rider_name) + 1) + rider)
    write_arrays(
        folder / SESSIONS,
        {
            "walk_fields": sessions.fields[walks.first],
            "walk_first": walks.first,
            "walk_venue": walks.venue,
            "walk_of_session": walks.of_session.astype(np.int32),
            "degrees": judged[first],
            "degrees_of_session": of_session.astype(np.int32),
            "target": np.where(np.isfinite(target), target, np.nan),
            "share": shares(sessions),
            "settled": settled,
            "mark": sessions.mark,
            "rider": rider.astype(np.int32),
            "event": event.astype(np.int32),
            "venue": venue.astype(np.int32),
            "day": sessions.day,
        },
        {"event_name": event_name, "rider_name": rider_name, "venue_name": venue_name},
    )
    in_venues = degree_sums(
        sessions.degrees, event, venue, n_events=len(event_name), n_venues=len(venue_name)
    )
    known = ~np.isnan(sessions.fields)
    low = np.where(known, sessions.fields, np.inf).min(axis=0, initial=np.inf)
    high = np.where(known, sessions.fields, -np.inf).max(axis=0, initial=-np.inf)
    return Summary(
        rider_name=rider_name,
        venue_name=venue_name,
        events=events_of(
            key=event_keys(event_name),
            event=event,
            day=sessions.day,
            settled=np.asarray(settled.any(axis=1)),
            walk=walks.of_session,
        ),
        n_sessions=len(sessions),
        fields_low=np.where(np.isfinite(low), low, np.nan),
        fields_high=np.where(np.isfinite(high), high, np.nan),
        marks=float(np.nansum(sessions.mark)),
        marked=float(np.isfinite(sessions.mark).sum()),
        last_day=float(sessions.day.max(initial=-np.inf)),
        degree_sums=in_venues,
        events_by_setting=events_by_setting(settled, event),
    )


def encode(
    *,
    folder: Path,
    rider_name: tuple[str, ...],
    venue_name: tuple[str, ...],
    event_fold: Integers,
    usual_mark: float | None,
    n_folds: int,
) -> Floats:
    """Write down what the sessions of a part are in the whole archive.

    Parameters
    ----------
    folder : pathlib.Path
        The part's.
    rider_name, venue_name : tuple of str
        Names of the archive, in ascending order.
    event_fold : (E,) integer array
        Fold of each event of the part.
    usual_mark : float or None
        Average mark of the archive; None where there is none.
    n_folds : int
        How many folds there are in the archive.

    Returns
    -------
    (2, K, G, S) array
        From `settled_sums`.
    """
    arrays, words = mapped_arrays(folder / SESSIONS)
    fold = event_fold[arrays["event"]].astype(np.int32)
    riders = _places(words["rider_name"], rider_name)[arrays["rider"]].astype(np.int32)
    # A venue that is not known stays so.
    venues = np.append(_places(words["venue_name"], venue_name), -1)
    marks = worth(arrays["mark"], usual_mark)
    write_arrays(
        folder / CODES,
        {
            "rider": riders,
            "venue": venues[arrays["venue"]].astype(np.int32),
            "walk_venue": venues[arrays["walk_venue"]],
            "fold": fold,
            "worth": marks,
            "overall_weight": arrays["share"].max(axis=1, initial=0.0) * marks,
            "settled_at_all": np.asarray(arrays["settled"].any(axis=1)),
        },
    )
    ended_on = np.where(arrays["settled"], arrays["target"], np.nan)
    return settled_sums(ended_on, riders, fold, n_riders=len(rider_name), n_folds=n_folds)


def _in_order(names: tuple[str, ...], codes: Integers) -> tuple[tuple[str, ...], Integers]:
    """Sort names, and give the codes in that order."""
    ordered = tuple(sorted(set(names)))
    place = {name: code for code, name in enumerate(ordered)}
    recoded: Integers = np.array([place[name] for name in names] + [-1])[codes]
    return ordered, recoded


def _shared_rows(rows: Floats, code: Integers) -> tuple[Integers, Integers]:
    """Find a row of each code, and the place of each row's code; all rows where some differ."""
    _, first, of_row = np.unique(code, return_index=True, return_inverse=True)
    if np.array_equal(rows[first][of_row], rows, equal_nan=True):
        return first, of_row
    return np.arange(len(rows)), np.arange(len(rows))


def _places(names: Sequence[str], among: tuple[str, ...]) -> Integers:
    """Find ascending names among ascending names."""
    place = {name: code for code, name in enumerate(among)}
    return np.array([place[name] for name in names], dtype=np.int64)


def rules_that_touch(amounts: Floats) -> Integers:
    """List the rules that move some setting.

    Parameters
    ----------
    amounts : (R, S) array
        Amounts as written.

    Returns
    -------
    integer array
        Rules, ascending.
    """
    return np.flatnonzero((amounts != 0).any(axis=1))
