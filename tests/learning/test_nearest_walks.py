"""The heaviest sessions of many walks are those found by looking through all sessions."""

from __future__ import annotations

from dataclasses import replace
from functools import cache

import numpy as np
from hypothesis import given, settings
from hypothesis import strategies as st

from setupadvisor.learning.model import Model
from setupadvisor.learning.nearest import heaviest
from setupadvisor.learning.nearest_walks import heaviest_of_walks
from setupadvisor.learning.simulate import World, simulate_season
from setupadvisor.learning.training import train


@cache
def model() -> Model:
    season = simulate_season(12, random_state=2, world=World(n_settings=2, n_fields=4))
    return train(season.sessions, season.knowledge)


@settings(max_examples=60, deadline=None)
@given(st.integers(0, 10**6), st.integers(0, 200), st.sampled_from([0, 1, 3, 11, 12, 40, 200]))
def test_the_heaviest_sessions_are_those_of_all_sessions(draw, m, k):
    """Some walks weigh nothing, some sessions are not settled, and all weights differ."""
    random = np.random.default_rng(draw)
    trained = model()
    n, n_walks = len(trained.day), len(trained.walks.first)
    part = replace(
        trained,
        settled=random.random(trained.settled.shape) < 0.3,
        weight=random.random((n, 1)) * np.ones(trained.weight.shape),
    )
    near = np.where(random.random((m, n_walks)) < 0.2, 0.0, random.random((m, n_walks)))
    near, far = near.astype(np.float32), random.random((m, n_walks)).astype(np.float32)
    got = heaviest_of_walks(part, near, far, k)
    of_session = part.walks.of_session
    expected = heaviest(
        near[:, of_session] * part.overall_weight, far[:, of_session], part.settled_at_all, k
    )
    assert got.session.shape == (m, k)
    assert np.array_equal(got.session, expected.session)
    assert np.array_equal(got.weight, expected.weight)
    assert np.array_equal(got.distance, expected.distance, equal_nan=True)
