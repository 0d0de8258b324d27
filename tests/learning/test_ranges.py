from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from mapie.regression import CrossConformalRegressor
from sklearn.datasets import load_diabetes
from sklearn.linear_model import LinearRegression
from sklearn.model_selection import GroupKFold, KFold, LeaveOneOut

from setupadvisor.learning.ranges import cv_plus, events_needed, folds_of_events


def plainly(x, y, asked, folds, level, masses=None):
    """CV+ with one refit a fold, to feed the function under test."""
    n_folds = folds.max() + 1
    predictions = np.empty((len(asked), n_folds))
    residuals = np.empty(len(y))
    for k in range(n_folds):
        inside = folds == k
        model = LinearRegression().fit(x[~inside], y[~inside])
        predictions[:, k] = model.predict(asked)
        residuals[inside] = np.abs(y[inside] - model.predict(x[inside]))
    masses = np.ones(len(y)) if masses is None else masses
    return cv_plus(predictions, residuals, folds, masses, level)


@pytest.mark.parametrize(
    ("n_folds", "expected_low", "expected_high", "expected_width"),
    [
        (100, 86.5669498771, 257.5196093629, 173.75354432),
        (5, 75.2502898304, 257.6679766451, 180.98302419),
    ],
)
def test_interval_is_that_of_mapie_on_diabetes(
    n_folds, expected_low, expected_high, expected_width
):
    """MAPIE 1.6.0, method "plus", rows 0-99 of scikit-learn's diabetes data, 90 %: jackknife+ and
    CV+ with five unshuffled folds. Printed to ten digits.
    """
    x, y = load_diabetes(return_X_y=True)
    folds = np.repeat(np.arange(n_folds), 100 // n_folds)
    low, high = plainly(x[:100], y[:100], x[400:], folds, 0.9)
    assert (low[0], high[0]) == pytest.approx((expected_low, expected_high), rel=1e-8)
    assert (high - low).mean() == pytest.approx(expected_width, rel=1e-8)


@pytest.mark.parametrize("splitter", [KFold(7), LeaveOneOut()])
@pytest.mark.parametrize("level", [0.5, 0.8, 0.95])
def test_interval_is_bit_for_bit_that_of_the_mapie_at_hand(splitter, level):
    random = np.random.default_rng(6)
    x = random.normal(size=(60, 3))
    y = x @ [1.0, -2.0, 0.5] + random.normal(size=60)
    folds = np.empty(60, dtype=np.int64)
    for k, (_, inside) in enumerate(splitter.split(x)):
        folds[inside] = k
    reference = CrossConformalRegressor(
        LinearRegression(), confidence_level=level, method="plus", cv=splitter
    ).fit_conformalize(x[:60], y)
    _, intervals = reference.predict_interval(x)
    low, high = plainly(x, y, x, folds, level)
    assert np.array_equal(low, intervals[:, 0, 0])
    assert np.array_equal(high, intervals[:, 1, 0])


def test_whole_groups_left_out_are_those_of_mapie_where_every_session_has_its_own_mass():
    random = np.random.default_rng(7)
    x = random.normal(size=(48, 2))
    y = x @ [1.0, -2.0] + random.normal(size=48)
    groups = np.repeat(np.arange(12), 4)
    folds = np.empty(48, dtype=np.int64)
    for k, (_, inside) in enumerate(GroupKFold(6).split(x, groups=groups)):
        folds[inside] = k
    reference = CrossConformalRegressor(
        LinearRegression(), confidence_level=0.8, method="plus", cv=GroupKFold(6)
    ).fit_conformalize(x, y, groups=groups)
    _, intervals = reference.predict_interval(x)
    low, high = plainly(x, y, x, folds, 0.8)
    assert np.array_equal(low, intervals[:, 0, 0])
    assert np.array_equal(high, intervals[:, 1, 0])


def test_a_level_that_the_events_cannot_carry_has_an_infinite_range():
    low, high = cv_plus(np.zeros((1, 3)), np.ones(3), np.arange(3), np.ones(3), 0.8)
    assert low.tolist() == [-np.inf]
    assert high.tolist() == [np.inf]


@given(st.floats(0.05, 0.97))
def test_events_needed_are_the_fewest_that_give_a_finite_range(level):
    needed = events_needed(level)

    def is_finite(n):
        folds = np.arange(n)
        return np.isfinite(cv_plus(np.zeros((1, n)), np.ones(n), folds, np.ones(n), level)[0][0])

    assert is_finite(needed)
    assert needed == 1 or not is_finite(needed - 1)


@given(st.integers(1, 70), st.integers(0, 10**6))
def test_folds_hold_whole_events_and_are_at_most_twenty(n_events, draw):
    random = np.random.default_rng(draw)
    event = np.r_[np.arange(n_events), random.integers(n_events, size=30)]
    fold, n_folds = folds_of_events(event, random.random(n_events)[event])
    assert n_folds == min(n_events, 20)
    assert set(fold.tolist()) == set(range(n_folds))
    for one in range(n_events):
        assert len(set(fold[event == one].tolist())) == 1
    assert np.bincount(np.unique(np.c_[event, fold], axis=0)[:, 1]).max() <= -(-n_events // n_folds)


def test_sessions_of_one_event_share_its_mass():
    """Nine events with one session and one with fifty: the fifty do not decide the range."""
    folds = np.r_[np.arange(9), np.full(50, 9)]
    residuals = np.r_[np.ones(9), np.full(50, 100.0)]
    masses = np.r_[np.ones(9), np.full(50, 1 / 50)]
    _, high = cv_plus(np.zeros((1, 10)), residuals, folds, masses, 0.8)
    _, unshared = cv_plus(np.zeros((1, 10)), residuals, folds, np.ones(59), 0.8)
    assert (high[0], unshared[0]) == (1.0, 100.0)
