from __future__ import annotations

from dataclasses import replace
from functools import cache

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from setupadvisor.learning import past_sessions
from setupadvisor.learning.distinct import distinct_walks
from setupadvisor.learning.left_out import past_without_fold
from setupadvisor.learning.model import Model
from setupadvisor.learning.past_sessions import gower, kernel, left_over, outing_weights
from setupadvisor.learning.past_sums import explained_without_fold
from setupadvisor.learning.simulate import Season, simulate_season
from setupadvisor.learning.stores import InMemory
from setupadvisor.learning.training import train


@cache
def season() -> Season:
    return simulate_season(15, random_state=21)


@cache
def model() -> Model:
    trained = train(season().sessions, season().knowledge)
    return replace(trained, half_life=200.0, kappa=np.full(8, 1.5), venue_factor=7.0)


def without_fold(trained: Model, n_jobs: int = 1) -> tuple[np.ndarray, np.ndarray]:
    return past_without_fold(trained, trained, InMemory.of(trained, n_jobs=n_jobs))


def plainly_without_fold(trained: Model, row: int) -> np.ndarray:
    """One session at a time and one setting at a time, every past session on its own."""
    others = trained.fold != trained.fold[row]
    conditions = trained.walk_table(trained.fields, trained.venue, trained.day).conditions
    weights = trained.comparison.weights
    distance = gower(conditions.taken(np.array([row])), conditions, weights, trained.agree_or_not)
    near = kernel(distance, trained.comparison.bandwidth)[:, 0]
    near = near * outing_weights(
        trained.venue[[row]],
        trained.day[[row]],
        venue=trained.venue,
        day=trained.day,
        venue_factor=trained.venue_factor,
        half_life=trained.half_life,
    )
    k = trained.fold[row]
    result = np.zeros(len(trained.setting))
    for s in range(len(trained.setting)):
        recorded = others & np.isfinite(trained.target[:, s])
        amounts = trained.amounts[:, s].copy()
        spoken = trained.touching[s][trained.touching[s] >= 0]
        amounts[spoken] += trained.rule_shift[k, s, : len(spoken)]
        gap = (
            trained.target[:, s]
            - trained.counted_degrees @ amounts
            - trained.habit[k, trained.rider, s]
        )
        weight = near[s] * trained.weight[:, s]
        result[s] = left_over(
            (weight * gap)[recorded].sum(keepdims=True),
            weight[recorded].sum(keepdims=True),
            trained.kappa[[s]],
        )[0]
    return result


def test_left_out_corrections_are_those_of_every_session_on_its_own():
    """Distances to distinct walks, summed a tile at a time, against the plain double loop; single
    precision allows 1e-4 of a step.
    """
    rows = np.array([0, 8, 40, 77, 134])
    past, weight = without_fold(model())
    for row in rows:
        assert past[row] == pytest.approx(plainly_without_fold(model(), row), abs=1e-4)
    assert (weight[rows] > 0).any()
    assert np.abs(past[rows]).max() > 0.1


def test_tiles_of_any_size_give_the_same_sums(monkeypatch):
    whole, _ = without_fold(model())
    monkeypatch.setattr(past_sessions, "TILE_QUERIES", 2)
    monkeypatch.setattr(past_sessions, "TILE_PAIRS", 7)
    tiled, _ = without_fold(model())
    assert tiled == pytest.approx(whole, abs=1e-4)


@pytest.mark.parametrize("n_jobs", [1, 2])
def test_folds_at_once_give_the_same_bits(n_jobs):
    assert np.array_equal(without_fold(model(), n_jobs), without_fold(model()))


def test_what_rules_and_habits_explain_is_that_of_the_model_without_the_fold():
    trained, row = model(), 33
    k = trained.fold[row]
    amounts = trained.amounts.copy()
    for s, rules in enumerate(trained.touching):
        amounts[rules[rules >= 0], s] += trained.rule_shift[k, s, rules >= 0]
    expected = trained.counted_degrees[row] @ amounts + trained.habit[k, trained.rider[row]]
    assert explained_without_fold(trained, np.array([row]))[0] == pytest.approx(expected)


@given(st.integers(0, 10**6))
def test_distinct_walks_part_the_sessions_by_all_that_is_compared(draw):
    random = np.random.default_rng(draw)
    n = int(random.integers(1, 30))
    fields = random.integers(3, size=(n, 2)).astype(float)
    fields[fields == 2] = np.nan
    venue = random.integers(-1, 2, size=n)
    day = random.integers(2, size=n).astype(float)
    walks = distinct_walks(fields, venue, day)
    keys = [
        (*np.nan_to_num(row, nan=-1.0).tolist(), place, when)
        for row, place, when in zip(fields, venue.tolist(), day.tolist(), strict=True)
    ]
    assert len(walks.first) == len(set(keys))
    for i, walk in enumerate(walks.of_session.tolist()):
        assert keys[i] == keys[walks.first[walk]]
    assert (np.diff(walks.venue) >= 0).all()
    assert walks.venue.tolist() == venue[walks.first].tolist()
