from __future__ import annotations

from dataclasses import replace
from functools import cache

import numpy as np
import pytest
from sklearn.neighbors import KNeighborsRegressor

from setupadvisor.learning.alternatives import (
    NEIGHBOUR_WEIGHTS,
    NEIGHBOURS,
    Cases,
    cases_of,
    nearest_sessions,
    random_forest,
    riders_mean,
    rules_as_written,
    same_venue_last_time,
)
from setupadvisor.learning.sessions import Knowledge, Sessions
from setupadvisor.learning.simulate import Season, simulate_season


@cache
def season() -> Season:
    return simulate_season(10, random_state=41)


def small(values, *, rider, event, venue, day=None) -> Sessions:
    n = len(values)
    return Sessions(
        setting=("clicks",),
        rule=(),
        field=(),
        rider_name=("one", "two", "three"),
        event_name=tuple(f"event {e}" for e in range(max(event) + 1)),
        venue_name=("here", "there"),
        values=np.array(values, dtype=float)[:, None] + 10.0,
        house=np.full((n, 1), 10.0),
        degrees=np.zeros((n, 0)),
        rider=rider,
        event=event,
        venue=venue,
        day=np.array(event, dtype=float) if day is None else day,
        order=np.zeros(n),
        mark=np.full(n, np.nan),
        fields=np.zeros((n, 0)),
    )


def halves() -> tuple[Cases, Cases, Knowledge]:
    cases = cases_of(season().sessions)
    seen = cases.sessions.event < 7
    return cases.taken(seen), cases.taken(~seen), season().knowledge


def test_only_what_a_day_ended_on_is_learnt_from():
    cases = cases_of(season().sessions)
    assert len(cases.settled) == 30
    assert (cases.sessions.order == 2).all()


def test_the_rider_s_mean_is_that_of_the_rider_or_of_all():
    seen = cases_of(small([1, 3, 8], rider=[0, 0, 1], event=[0, 1, 2], venue=[0, 0, 0]))
    asked = small([0, 0, 0], rider=[0, 1, 2], event=[3, 4, 5], venue=[0, 0, 0])
    assert riders_mean(seen, asked)[:, 0].tolist() == [2.0, 8.0, 4.0]


@pytest.mark.parametrize(
    ("rider", "venue", "day", "expected", "why"),
    [
        (0, 0, 9.0, 3.0, "the last visit, not the first"),
        (0, 0, 0.5, 1.0, "not a visit still to come where there was one before"),
        (0, 1, 0.0, 5.0, "a later visit where there was none before"),
        (1, 1, 9.0, 8.0, "the rider's mean where the rider never was there"),
        (2, 0, 9.0, 4.25, "all riders' mean for a rider never seen"),
        (0, -1, 9.0, 3.0, "the rider's mean where the venue is not known"),
    ],
)
def test_the_same_venue_last_time(rider, venue, day, expected, why):
    seen = cases_of(small([1, 3, 5, 8], rider=[0, 0, 0, 1], event=[0, 1, 2, 3], venue=[0, 0, 1, 0]))
    asked = small([0], rider=[rider], event=[0], venue=[venue], day=np.array([day]))
    assert same_venue_last_time(seen, asked)[0, 0] == expected, why


def test_rules_as_written_leave_out_what_cannot_be_judged():
    sessions, knowledge = season().sessions, season().knowledge
    got = rules_as_written(knowledge, sessions)
    judged = ~np.isnan(sessions.degrees)
    for i in (0, 40):
        spoken = judged[i]
        expected = sessions.degrees[i, spoken] @ knowledge.amounts[spoken]
        assert got[i] == pytest.approx(expected)


def test_nearest_sessions_are_those_of_scikit_learn_s_regressor():
    """On columns without gaps and ties, every number of neighbours and weighting."""
    seen, asked, knowledge = halves()
    numbers = ~knowledge.field_is_category
    random = np.random.default_rng(1)

    def plain(cases):
        fields = np.nan_to_num(cases.sessions.fields, nan=0.5)
        fields = np.where(numbers, fields + 0.01 * random.random(fields.shape), 0.0)
        return replace(cases, sessions=replace(cases.sessions, fields=fields))

    seen, asked = plain(seen), plain(asked)
    got = nearest_sessions(seen, asked, knowledge)

    def columns(cases):
        low, high = seen.sessions.fields.min(axis=0), seen.sessions.fields.max(axis=0)
        scaled = (cases.sessions.fields - low) / np.where(high > low, high - low, 1.0)
        riders = cases.sessions.rider[:, None] == np.arange(3)
        venues = cases.sessions.venue[:, None] == np.unique(seen.sessions.venue)
        return np.column_stack([scaled, riders, venues])

    for w, weights in enumerate(NEIGHBOUR_WEIGHTS):
        for t, count in enumerate(NEIGHBOURS):
            if count <= len(seen.settled):
                plainly = KNeighborsRegressor(count, weights=weights, algorithm="brute")
                expected = plainly.fit(columns(seen), seen.settled).predict(columns(asked))
                assert got[w * len(NEIGHBOURS) + t] == pytest.approx(expected, abs=1e-6)


def test_a_setting_not_always_written_down_is_asked_of_the_sessions_that_have_it():
    seen, asked, knowledge = halves()
    holed = seen.settled.copy()
    holed[:12, 2] = np.nan
    holed[:, 5] = np.nan
    without = Cases(seen.sessions, holed)
    nearest, forest = (
        nearest_sessions(without, asked, knowledge),
        random_forest(without, asked, knowledge, trees=5),
    )
    for got in (*nearest, forest):
        assert np.isnan(got[:, 5]).all()
        assert np.isfinite(np.delete(got, 5, axis=1)).all()
    # The columns are scaled over all sessions seen, so rows without the setting are not the same
    # as rows left out; what is averaged is.
    later = seen.settled[12:, 2]
    assert (nearest[:, :, 2] >= later.min() - 1e-9).all()
    assert (nearest[:, :, 2] <= later.max() + 1e-9).all()


def test_nobody_to_learn_from_gives_no_answer():
    seen, asked, knowledge = halves()
    nobody = seen.taken(np.zeros(0, dtype=np.int64))
    assert np.isnan(nearest_sessions(nobody, asked, knowledge)).all()
    assert np.isnan(random_forest(nobody, asked, knowledge)).all()


def test_the_forest_gives_the_same_answer_every_time_and_knows_something():
    one = simulate_season(36, random_state=42)
    cases = cases_of(one.sessions)
    early = cases.sessions.event < 30
    seen, asked = cases.taken(early), cases.taken(~early)
    first, second = (random_forest(seen, asked, one.knowledge, trees=20) for _ in range(2))
    assert np.array_equal(first, second)
    error = np.abs(first - asked.settled).mean()
    assert error < 0.9 * np.abs(riders_mean(seen, asked.sessions) - asked.settled).mean()
