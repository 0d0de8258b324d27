"""What is chosen from a season does not depend on rows, codes or parts."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from setupadvisor.learning.even_choice import (
    Chosen,
    Events,
    chosen_events,
    chosen_settled,
    event_keys,
    events_of,
    settled_rows,
)
from setupadvisor.learning.left_out import FEWEST_SETTLED, MOST_PAIRS, _enough


def looked_at(names, event, day, settled, walk) -> Events:
    return events_of(key=event_keys(names), event=event, day=day, settled=settled, walk=walk)


def invented(random, n_events):
    """Two to five sessions an event, on few days, so that many events start on the same one."""
    event = np.repeat(np.arange(n_events), random.integers(2, 6, size=n_events))
    first = random.integers(5, size=n_events).astype(float)
    day = first[event] + random.integers(2, size=len(event))
    settled = random.random(len(event)) < 0.6
    return event, day, settled, event * 2 + random.integers(2, size=len(event))


@settings(max_examples=60, deadline=None)
@given(st.integers(0, 10**6), st.integers(1, 12), st.integers(1, 20))
def test_the_same_sessions_are_chosen_however_events_are_numbered_and_cut(draw, n_events, enough):
    random = np.random.default_rng(draw)
    event, day, settled, walk = invented(random, n_events)
    names = [f"event {code}" for code in range(n_events)]
    whole = looked_at(names, event, day, settled, walk)
    rows = settled_rows(chosen_settled(whole, enough), event, day, settled)
    assert len(set(rows.tolist())) == len(rows) == min(enough, settled.sum())
    assert settled[rows].all()

    order = random.permutation(n_events)
    cuts = np.sort(random.integers(n_events + 1, size=2))
    parts, found = np.split(order, cuts), []
    looked = []
    for codes in parts:
        mine = np.flatnonzero(np.isin(event, codes))
        own = np.full(n_events, -1)
        own[codes] = np.arange(len(codes))
        looked.append(
            (
                mine,
                own[event[mine]],
                looked_at(
                    [names[code] for code in codes],
                    own[event[mine]],
                    day[mine],
                    settled[mine],
                    walk[mine],
                ),
            )
        )
    joined = Events.joined(one for _, _, one in looked)
    assert joined.walks.sum() == whole.walks.sum()
    assert joined.settled_walks.sum() == whole.settled_walks.sum()
    chosen, first = chosen_settled(joined, enough), 0
    for mine, own, one in looked:
        here = (chosen.event >= first) & (chosen.event < first + len(one.key))
        some = Chosen(chosen.event[here] - first, chosen.place[here])
        found += mine[settled_rows(some, own, day[mine], settled[mine])].tolist()
        first += len(one.key)
    assert sorted(found) == sorted(rows.tolist())
    events = {names[code] for code in chosen_events(whole, enough)}
    of_parts = [names[code] for code in np.concatenate(parts)[chosen_events(joined, enough)]]
    assert set(of_parts) == events


def test_sessions_are_chosen_evenly_over_the_season():
    """Of 1,000 events with one settled session each, 11 are 99.9 events apart."""
    days = np.random.default_rng(3).permutation(1_000).astype(float)
    one = np.ones(1_000, dtype=int)
    season = Events(np.arange(1_000), days, one, one, one)
    for events in (chosen_settled(season, 11).event, chosen_events(season, 11)):
        assert sorted(days[events].tolist()) == [int(99.9 * step) for step in range(11)]


def test_walks_are_counted_once_an_event():
    """Two sessions of one walk at one event are one, at two events two."""
    event, walk = np.array([0, 0, 0, 1]), np.array([7, 7, 3, 7])
    settled = np.array([False, True, False, True])
    found = looked_at(["a", "b"], event, np.zeros(4), settled, walk)
    assert found.walks.tolist() == [2, 1]
    assert found.settled_walks.tolist() == [1, 1]
    assert found.settled.tolist() == [1, 1]


def test_a_name_without_sessions_is_never_chosen():
    found = looked_at(["a", "b"], np.array([1]), np.zeros(1), np.array([True]), np.array([0]))
    assert found.first_day.tolist() == [np.inf, 0.0]
    assert chosen_events(found, 9).tolist() == [1]
    assert chosen_settled(found, 9).event.tolist() == [1]


@pytest.mark.parametrize("walks", [10, 9_000, 50_000, 400_000, 3_000_000, 10**9])
def test_pairs_of_walks_to_compare_grow_no_faster_than_the_walks(walks):
    """All pairs while they are few, then a bounded number, then a bounded number for each walk."""
    one = np.array([walks])
    season = Events(np.zeros(1, dtype=int), np.zeros(1), 3 * one, one, one)
    judged = _enough(season)
    assert judged * walks <= max(3 * 100_000_000, MOST_PAIRS, FEWEST_SETTLED * walks)
    assert judged >= min(3 * walks, FEWEST_SETTLED)
