from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from sklearn.neighbors import KNeighborsRegressor

from setupadvisor.learning.past_sessions import (
    conditions,
    field_ranges,
    gower,
    kernel,
    left_over,
    outing_weights,
)

# The data set `flower` of the R package cluster (Struyf, Hubert & Rousseeuw 1996, J. Stat.
# Software 1(4), table 5): four nominal, two ordinal and two interval columns.
FLOWER = np.array(
    [
        [0, 1, 1, 4, 3, 15, 25, 15],
        [1, 0, 0, 2, 1, 3, 150, 50],
        [0, 1, 0, 3, 3, 1, 150, 50],
        [0, 0, 1, 4, 2, 16, 125, 50],
        [0, 1, 0, 5, 2, 2, 20, 15],
        [0, 1, 0, 4, 3, 12, 50, 40],
        [0, 0, 0, 4, 3, 13, 40, 20],
        [0, 0, 1, 2, 2, 7, 100, 15],
        [1, 1, 0, 3, 1, 4, 25, 15],
        [1, 1, 0, 5, 2, 14, 100, 60],
        [1, 1, 1, 5, 3, 8, 45, 10],
        [1, 1, 1, 1, 2, 9, 90, 25],
        [1, 1, 0, 1, 2, 6, 20, 10],
        [1, 1, 1, 4, 2, 11, 80, 30],
        [1, 0, 0, 3, 2, 10, 40, 20],
        [1, 0, 0, 4, 2, 18, 200, 60],
        [1, 0, 0, 2, 2, 17, 150, 60],
        [0, 0, 1, 2, 1, 5, 25, 10],
    ],
    dtype=float,
)
NOMINAL = np.arange(8) < 4


def distances(table, category, weights=None) -> np.ndarray:
    table = np.asarray(table, dtype=float)
    category = np.asarray(category)
    ranges = field_ranges(table, np.full(table.shape[1], np.nan))
    rows = conditions(table, category, ranges, np.float64)
    weights = np.ones((1, table.shape[1])) if weights is None else np.atleast_2d(weights)
    return gower(rows, rows, weights, category | ~(ranges > 0))


@pytest.mark.parametrize(
    ("first", "second", "expected"),
    [
        (1, 2, 0.887540849673203),
        (1, 3, 0.527246732026144),
        (1, 4, 0.351797385620915),
        (2, 3, 0.514705882352941),
        (2, 4, 0.550449346405229),
        (5, 6, 0.344362745098039),
    ],
)
def test_distance_is_that_of_daisy_on_flower(first, second, expected):
    """R 4.2.2, cluster 2.1.4, daisy(flower); printed to 15 digits."""
    assert distances(FLOWER, NOMINAL)[0, first - 1, second - 1] == pytest.approx(
        expected, rel=1e-12
    )


# Two numbers, a category a/b and an ordinal lo < mid < hi, with missing values.
MISSING = [[1, 0, 0, 0], [2, 5, 1, 2], [np.nan, 5, 0, 1], [10, 10, np.nan, 2]]
PAIRS = ([0, 0, 0, 1, 1, 2], [1, 2, 3, 2, 3, 3])


@pytest.mark.parametrize(
    ("weights", "expected"),
    [
        ([1, 1, 1, 1], [0.652777777777778, 0.333333333333333, 1.0, 0.5, 0.462962962962963, 0.5]),
        ([2, 1, 1, 0.5], [0.493827160493827, 0.3, 1.0, 0.5, 0.650793650793651, 0.5]),
    ],
)
def test_missing_conditions_drop_out_of_both_sums_as_in_daisy(weights, expected):
    """R 4.2.2, cluster 2.1.4, daisy(x, metric = "gower", weights = ...)."""
    got = distances(MISSING, [False, False, True, False], weights)[0][PAIRS]
    assert got == pytest.approx(expected, rel=1e-12)


def test_every_set_of_weights_is_that_set_alone():
    both = distances(MISSING, [False, False, True, False], [[1, 1, 1, 1], [2, 1, 1, 0.5]])
    alone = distances(MISSING, [False, False, True, False], [2, 1, 1, 0.5])
    assert both[1] == pytest.approx(alone[0], rel=1e-14)


def test_walks_with_nothing_in_common_have_no_distance_and_no_weight():
    category = np.array([False, False])
    past = conditions(np.array([[1.0, np.nan], [3.0, 2.0]]), category, np.ones(2))
    today = conditions(np.array([[np.nan, 2.0]]), category, np.ones(2))
    distance = gower(today, past, np.ones((1, 2), dtype=np.float32), category)
    assert np.isnan(distance[0, 0, 0])
    assert kernel(distance, np.array([1.0])).tolist() == [[[0.0, 1.0]]]


table = st.lists(
    st.tuples(
        st.one_of(st.just(np.nan), st.floats(-50, 50)),
        st.one_of(st.just(np.nan), st.integers(0, 2).map(float)),
        st.floats(0, 1),
    ),
    min_size=2,
    max_size=8,
)


@given(table)
def test_distance_is_symmetric_zero_to_itself_and_at_most_one_within_the_ranges(rows):
    got = distances(rows, [False, True, False])[0]
    assert np.array_equal(got, got.T, equal_nan=True)
    assert np.diagonal(got) == pytest.approx(0.0)
    assert (got <= 1 + 1e-12).all()


def test_kernel_mean_is_that_of_scikit_learn():
    """One number with range 1: Gower's distance is the plain one. scikit-learn's neighbours with
    Gaussian weights over all sessions give the same mean; single precision allows 1e-6.
    """
    random = np.random.default_rng(5)
    x, y, asked = random.random((40, 1)), random.normal(size=40), random.random((9, 1))
    bandwidth = 0.15
    reference = KNeighborsRegressor(
        40, algorithm="brute", weights=lambda d: np.exp(-((d / bandwidth) ** 2) / 2)
    ).fit(x, y)
    category = np.array([False])
    weight = kernel(
        gower(
            conditions(asked, category, np.ones(1)),
            conditions(x, category, np.ones(1)),
            np.ones((1, 1), dtype=np.float32),
            category,
        ),
        np.array([bandwidth]),
    )[0]
    got = left_over(weight @ y, weight.sum(axis=1), np.zeros(9))
    assert got == pytest.approx(reference.predict(asked), rel=1e-5, abs=1e-6)


def test_kernel_mean_of_the_three_nearest_with_unit_bandwidth():
    """KNeighborsRegressor(3, weights=exp(-d^2/2)) of scikit-learn 1.9.1 on five points."""
    x, y = np.array([0.0, 1, 2, 4, 7]), np.array([10.0, 12, 15, 11, 30])
    for asked, expected in ((2.5, 13.5164091), (0.0, 11.08489275), (5.0, 14.47396205)):
        near = np.argsort(np.abs(x - asked), kind="stable")[:3]
        weight = kernel(np.abs(x[near] - asked)[None, None], np.ones(1))[0]
        got = left_over(weight @ y[near], weight.sum(axis=1), np.zeros(1))
        assert got[0] == pytest.approx(expected, rel=1e-7)


@given(
    st.lists(st.tuples(st.floats(0, 1), st.floats(-9, 9)), max_size=10),
    st.floats(0.1, 10.0),
)
def test_pseudo_sessions_draw_the_correction_towards_zero(pairs, kappa):
    weight = np.array([pair[0] for pair in pairs])
    value = np.array([pair[1] for pair in pairs])
    got = float(
        left_over(np.array([weight @ value]), weight.sum(keepdims=True), np.array(kappa))[0]
    )
    free = abs(weight @ value) / weight.sum() if weight.sum() > 0 else 0.0
    assert abs(got) <= free + 1e-12


def test_the_same_venue_counts_more_and_an_unknown_venue_is_no_venue():
    weights = outing_weights(
        np.array([1, -1]),
        np.array([0.0, 0.0]),
        venue=np.array([1, 0, -1]),
        day=np.zeros(3),
        venue_factor=3.0,
        half_life=np.inf,
    )
    assert weights.tolist() == [[3.0, 1.0, 1.0], [1.0, 1.0, 1.0]]


def test_a_session_one_half_life_ago_counts_half():
    weights = outing_weights(
        np.array([0]),
        np.array([100.0]),
        venue=np.array([0, 0]),
        day=np.array([100.0, 50.0]),
        venue_factor=1.0,
        half_life=50.0,
    )
    assert weights.tolist() == [[1.0, 0.5]]


def test_conditions_that_no_query_has_make_no_difference():
    """Most of a walk's conditions not entered: the same distances as with those columns cut out."""
    random = np.random.default_rng(9)
    past, today = random.random((30, 12)), random.random((2, 12))
    past[random.random(past.shape) < 0.2] = np.nan
    today[:, 4:] = np.nan
    numbers, weights = np.zeros(12, dtype=bool), random.random((3, 12))

    def compared(fields):
        sides = (
            conditions(table[:, fields], numbers[fields], np.ones(fields.sum()), np.float64)
            for table in (today, past)
        )
        return gower(*sides, weights[:, fields], numbers[fields])

    few = np.arange(12) < 4
    assert np.array_equal(compared(np.ones(12, dtype=bool)), compared(few), equal_nan=True)
