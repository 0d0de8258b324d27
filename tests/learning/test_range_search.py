from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from setupadvisor.learning import range_search
from setupadvisor.learning.range_search import cv_plus_of_folds, fold_residuals
from setupadvisor.learning.ranges import cv_plus


def season(random, n, n_folds, n_events):
    event = random.integers(n_events, size=n)
    fold = event % n_folds
    mass = 1.0 / np.bincount(event, minlength=n_events)[event]
    return np.abs(random.normal(size=n)), fold, mass


@given(st.integers(0, 10**6), st.sampled_from([0.3, 0.5, 0.8, 0.9]), st.booleans())
def test_searching_gives_bit_for_bit_what_sorting_gives(draw, level, rounded):
    """Whatever the folds, masses and spreads; with rounded residuals there are many ties."""
    random = np.random.default_rng(draw)
    n_folds = int(random.integers(2, 8))
    residual, fold, mass = season(random, int(random.integers(400, 700)), n_folds, 60)
    if rounded:
        residual = np.round(residual, 1)
    centre = random.normal(scale=random.choice([0.0, 0.1, 5.0]), size=(40, n_folds))
    spread = random.uniform(0.2, 3.0, size=(40, n_folds))
    expected = cv_plus(centre, residual * spread[:, fold], fold, mass, level)
    got = cv_plus_of_folds(centre, spread, fold_residuals(residual, fold, mass, n_folds), level)
    assert np.array_equal(got[0], expected[0])
    assert np.array_equal(got[1], expected[1])


def test_few_walks_are_sorted_and_many_searched_with_the_same_result(monkeypatch):
    random = np.random.default_rng(3)
    residual, fold, mass = season(random, 300, 20, 40)
    residuals = fold_residuals(residual, fold, mass, 20)
    centre, spread = random.normal(size=(5, 20)), random.uniform(0.5, 2.0, size=(5, 20))
    by_sorting = cv_plus_of_folds(centre, spread, residuals, 0.8)
    monkeypatch.setattr(range_search, "FEWEST_WALKS", 0)
    monkeypatch.setattr(range_search, "FEWEST_RESIDUALS", 0)
    by_searching = cv_plus_of_folds(centre, spread, residuals, 0.8)
    assert np.array_equal(by_sorting, by_searching)


@pytest.mark.parametrize("n_walks", [3, 300])
def test_a_level_the_events_cannot_carry_is_infinite_for_few_walks_and_for_many(n_walks):
    residuals = fold_residuals(np.ones(600), np.arange(600) % 3, np.full(600, 1 / 200), 3)
    low, high = cv_plus_of_folds(np.zeros((n_walks, 3)), np.ones((n_walks, 3)), residuals, 0.8)
    assert np.isinf(low).all()
    assert np.isinf(high).all()


def test_a_walk_without_a_prediction_has_no_range_and_leaves_the_others_alone():
    random = np.random.default_rng(5)
    residuals = fold_residuals(*season(random, 900, 4, 50), 4)
    centre, spread = random.normal(size=(60, 4)), np.ones((60, 4))
    whole = cv_plus_of_folds(centre, spread, residuals, 0.8)
    centre[7, 2] = np.nan
    holed = cv_plus_of_folds(centre, spread, residuals, 0.8)
    assert np.isnan([holed[0][7], holed[1][7]]).all()
    assert np.array_equal(np.delete(holed, 7, axis=1), np.delete(whole, 7, axis=1))


def test_a_fold_without_residuals_is_passed_over():
    random = np.random.default_rng(6)
    residual, fold, mass = season(random, 800, 3, 45)
    fold = np.where(fold == 1, 2, fold)
    centre, spread = random.normal(size=(50, 3)), np.ones((50, 3))
    got = cv_plus_of_folds(centre, spread, fold_residuals(residual, fold, mass, 3), 0.8)
    expected = cv_plus(centre, np.tile(residual, (50, 1)), fold, mass, 0.8)
    assert np.array_equal(got, expected)
