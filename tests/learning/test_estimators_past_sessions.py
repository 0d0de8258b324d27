"""What `PastSessionsRegressor` computes, against scikit-learn, R and plain loops."""

from __future__ import annotations

import numpy as np
import pandas as pd
import pytest
from hypothesis import given
from hypothesis import strategies as st
from hypothesis.extra.numpy import arrays
from sklearn.neighbors import KNeighborsRegressor

from setupadvisor.learning import past_rows
from setupadvisor.learning.estimators import PastSessionsRegressor
from setupadvisor.learning.tuning import BANDWIDTHS, KAPPAS

# scikit-learn 1.9.1, KNeighborsRegressor(3, weights=exp(-d^2 / 2)), printed to 8 digits.
ROWS = np.array([[0.0], [1.0], [2.0], [4.0], [7.0]])
TARGETS = np.array([10.0, 12.0, 15.0, 11.0, 30.0])
NEAREST_THREE = [(2.5, [1, 2, 3]), (0.0, [0, 1, 2]), (5.0, [2, 3, 4])]
BY_SCIKIT_LEARN = [13.5164091, 11.08489275, 14.47396205]


def gaussian(bandwidth):
    return lambda distance: np.exp(-((distance / bandwidth) ** 2) / 2)


@pytest.mark.parametrize(
    ("query", "rows", "expected"),
    [(*asked, value) for asked, value in zip(NEAREST_THREE, BY_SCIKIT_LEARN, strict=True)],
)
def test_without_pull_it_is_the_gaussian_weighted_mean_of_the_neighbours(query, rows, expected):
    """Bandwidth 1 in the column's unit is 1/7 of its range; the pull to the centre is off. Given
    the three nearest rows, as the values printed by scikit-learn use those only.
    """
    regressor = PastSessionsRegressor(bandwidth=1 / 7, kappa=0.0, field_ranges=[7.0])
    got = regressor.fit(ROWS[rows], TARGETS[rows]).predict([[query]])
    assert got == pytest.approx([expected], rel=1e-8)
    neighbours = KNeighborsRegressor(3, weights=gaussian(1.0)).fit(ROWS, TARGETS)
    assert got == pytest.approx(neighbours.predict([[query]]), rel=1e-12)


def test_it_is_scikit_learns_neighbours_over_all_rows_of_a_table_of_numbers():
    """Gower's distance of complete numbers is the Manhattan distance of range-scaled columns over
    their count.
    """
    random = np.random.default_rng(3)
    rows, queries = random.normal(size=(40, 5)), random.normal(size=(15, 5))
    targets = random.normal(size=(40, 2))
    scale = 5 * np.ptp(rows, axis=0)
    neighbours = KNeighborsRegressor(40, metric="manhattan", weights=gaussian(0.07))
    expected = neighbours.fit(rows / scale, targets).predict(queries / scale)
    got = PastSessionsRegressor(bandwidth=0.07, kappa=0.0).fit(rows, targets).predict(queries)
    assert got == pytest.approx(expected, rel=1e-9)


def test_with_words_and_gaps_it_is_scikit_learns_neighbours_on_the_distances_of_daisy():
    """Distances from R 4.2.2, cluster 2.1.4, daisy(x, metric = "gower", weights = c(2, 1, 1, 0.5))
    on two numbers, a word and an ordered word (as its rank), with gaps.
    """
    table = pd.DataFrame(
        {
            "number": [1.0, 2.0, np.nan, 10.0],
            "other": [0.0, 5.0, 5.0, 10.0],
            "word": ["a", "b", "a", None],
            "rank": [0.0, 2.0, 1.0, 2.0],
        }
    )
    upper = [0.493827160493827, 0.3, 1.0, 0.5, 0.650793650793651, 0.5]
    distance = np.zeros((4, 4))
    distance[np.triu_indices(4, 1)] = upper
    distance += distance.T
    targets = [3.0, -1.0, 4.0, 9.0]
    neighbours = KNeighborsRegressor(4, metric="precomputed", weights=gaussian(0.3))
    expected = neighbours.fit(distance, targets).predict(distance)
    regressor = PastSessionsRegressor(bandwidth=0.3, kappa=0.0, field_weights=[2, 1, 1, 0.5])
    assert regressor.fit(table, targets).predict(table) == pytest.approx(expected, rel=1e-12)


def test_each_output_may_weigh_the_columns_in_its_own_way():
    random = np.random.default_rng(4)
    rows, targets = random.random((30, 3)), random.random((30, 2))
    weights = np.array([[1.0, 0.0, 0.3], [0.2, 1.0, 1.0]])
    together = PastSessionsRegressor(bandwidth=0.1, kappa=1.0, field_weights=weights)
    together.fit(rows, targets)
    alone = [
        PastSessionsRegressor(bandwidth=0.1, kappa=1.0, field_weights=weights[o])
        .fit(rows, targets[:, o])
        .predict(rows)
        for o in range(2)
    ]
    assert together.predict(rows) == pytest.approx(np.column_stack(alone), rel=1e-12)
    assert np.abs(together.predict(rows)[:, 0] - alone[1]).max() > 0.01


def test_with_as_many_pseudo_rows_as_like_rows_the_prediction_is_half_way_to_the_centre():
    rows, targets = [[1.0], [1.0], [1.0]], [4.0, 6.0, 8.0]
    regressor = PastSessionsRegressor(bandwidth=0.1, kappa=3.0, centre=0.0).fit(rows, targets)
    assert regressor.predict([[1.0]]) == pytest.approx([3.0])
    assert regressor.support([[1.0]]) == pytest.approx([0.5])


@pytest.mark.parametrize(("centre", "expected"), [("mean", 12.0), (0.0, 0.0)])
def test_far_from_all_experience_only_the_centre_is_left(centre, expected):
    regressor = PastSessionsRegressor(bandwidth=0.05, kappa=0.5, centre=centre)
    regressor.fit([[0.0], [1.0]], [10.0, 14.0])
    assert regressor.predict([[50.0]]) == pytest.approx([expected], abs=1e-12)
    assert regressor.support([[50.0]]) == pytest.approx([0.0], abs=1e-12)


def test_a_walk_that_shares_no_entry_with_any_row_gets_the_centre():
    regressor = PastSessionsRegressor(bandwidth=0.1, kappa=0.0)
    regressor.fit([[1.0, np.nan], [2.0, np.nan]], [10.0, 20.0])
    assert regressor.predict([[np.nan, 3.0], [np.nan, np.nan]]).tolist() == [15.0, 15.0]


def test_infinitely_many_pseudo_rows_leave_the_past_out():
    regressor = PastSessionsRegressor(bandwidth=0.1, kappa=np.inf).fit([[0.0], [1.0]], [1.0, 5.0])
    assert regressor.predict([[0.0], [1.0]]).tolist() == [3.0, 3.0]
    assert regressor.support([[0.0]]).tolist() == [0.0]


def test_a_target_not_recorded_does_not_count_for_its_output_and_does_for_the_other():
    rows = np.array([[0.0], [0.4], [1.0]])
    targets = np.array([[1.0, 5.0], [np.nan, 6.0], [3.0, 9.0]])
    got = PastSessionsRegressor(bandwidth=0.3, kappa=1.0).fit(rows, targets).predict(rows)
    first = PastSessionsRegressor(bandwidth=0.3, kappa=1.0).fit(rows[[0, 2]], targets[[0, 2], 0])
    second = PastSessionsRegressor(bandwidth=0.3, kappa=1.0).fit(rows, targets[:, 1])
    assert got[:, 0] == pytest.approx(first.predict(rows), rel=1e-12)
    assert got[:, 1] == pytest.approx(second.predict(rows), rel=1e-12)


def test_an_output_that_was_never_recorded_is_not_a_number():
    targets = [[1.0, np.nan], [2.0, np.nan]]
    got = PastSessionsRegressor().fit([[0.0], [1.0]], targets).predict([[0.5]])
    assert np.isfinite(got[0, 0])
    assert np.isnan(got[0, 1])


def test_a_word_never_seen_agrees_with_none_and_a_missing_word_drops_out():
    regressor = PastSessionsRegressor(
        bandwidth=0.5, kappa=0.0, categorical_features=[1], field_weights=[1.0, 1.0]
    ).fit(np.array([[1.0, "sand"], [3.0, "clay"]], dtype=object), [0.0, 1.0])
    missing, unseen = regressor.predict(np.array([[1.0, None], [1.0, "gravel"]], dtype=object))
    # Distances 0 and 1 where the word is missing, 0.5 and 1 where it agrees with neither.
    assert missing == pytest.approx(np.exp(-2.0) / (1.0 + np.exp(-2.0)), rel=1e-12)
    assert unseen == pytest.approx(np.exp(-2.0) / (np.exp(-0.5) + np.exp(-2.0)), rel=1e-12)


def test_words_in_an_array_and_in_a_frame_are_the_same_words():
    frame = pd.DataFrame({"depth": [1.0, 2.0, 3.0], "soil": ["sand", None, "clay"]})
    targets = [1.0, 2.0, 4.0]
    by_type = PastSessionsRegressor().fit(frame, targets).predict(frame)
    table = frame.to_numpy(dtype=object)
    by_number = PastSessionsRegressor(categorical_features=[1]).fit(table, targets)
    by_mask = PastSessionsRegressor(categorical_features=[False, True]).fit(table, targets)
    assert by_number.predict(table).tolist() == by_type.tolist()
    assert by_mask.predict(table).tolist() == by_type.tolist()


def losses_in_a_plain_loop(rows, targets, groups, weights):
    """Fit anew without each group, for every bandwidth and every number of pseudo-rows."""
    losses = np.zeros((len(BANDWIDTHS), len(KAPPAS)))
    for h, bandwidth in enumerate(BANDWIDTHS):
        for k, kappa in enumerate(KAPPAS):
            for group in np.unique(groups):
                out = groups == group
                fitted = PastSessionsRegressor(
                    bandwidth=bandwidth, kappa=kappa, field_ranges=np.ptp(rows, axis=0)
                ).fit(rows[~out], targets[~out], sample_weight=weights[~out])
                miss = fitted.predict(rows[out]) - targets[out]
                losses[h, k] += (weights[out] * miss**2).sum()
    return losses


@pytest.mark.parametrize("random_state", range(4))
def test_reach_is_that_with_the_smallest_error_when_whole_groups_are_left_out(random_state):
    random = np.random.default_rng(random_state)
    groups = np.repeat(np.arange(8), 3)
    rows = random.random((8, 2))[groups] + 0.05 * random.normal(size=(24, 2))
    targets = np.sin(5 * rows[:, 0]) + 0.5 * random.normal(size=8)[groups]
    weights = random.integers(1, 4, size=24).astype(float)
    losses = losses_in_a_plain_loop(rows, targets, groups, weights)
    best = np.unravel_index(np.argmin(losses), losses.shape)
    names = np.array(list("stuvwxyz"))[groups]
    fitted = PastSessionsRegressor().fit(rows, targets, sample_weight=weights, groups=names)
    assert fitted.bandwidth_ == pytest.approx(BANDWIDTHS[best[0]])
    assert fitted.kappa_.tolist() == [KAPPAS[best[1]]]


def test_groups_told_make_fresh_groups_better_foretold():
    """Targets are quirks of their groups, nothing else. Leaving out single rows finds them easy to
    foretell from the rest of their group; leaving out whole groups finds little to foretell.
    """
    errors = {"told": [], "not told": []}
    for draw in range(20):
        random = np.random.default_rng(draw)
        groups = np.repeat(np.arange(20), 5)
        rows = random.random((20, 3))[groups] + 0.01 * random.random((100, 3))
        targets = random.normal(size=20)[groups]
        seen = groups < 12
        for name, given_groups in (("told", groups[seen]), ("not told", None)):
            fitted = PastSessionsRegressor().fit(rows[seen], targets[seen], groups=given_groups)
            errors[name].append(np.mean((fitted.predict(rows[~seen]) - targets[~seen]) ** 2))
    assert np.mean(errors["told"]) < 0.9 * np.mean(errors["not told"])


def test_rows_with_equal_entries_are_left_out_together_where_no_groups_are_given():
    random = np.random.default_rng(9)
    groups = np.repeat(np.arange(10), 3)
    rows = random.random((10, 2))[groups]
    rows[groups == 4, 1] = np.nan
    targets = random.normal(size=10)[groups] + 0.1 * random.normal(size=30)
    without = PastSessionsRegressor().fit(rows, targets)
    given = PastSessionsRegressor().fit(rows, targets, groups=groups)
    assert (without.bandwidth_, without.kappa_) == (given.bandwidth_, given.kappa_)


def test_with_two_groups_nothing_is_chosen():
    random = np.random.default_rng(10)
    rows, targets = random.random((10, 2)), random.random(10)
    fitted = PastSessionsRegressor().fit(rows, targets, groups=[0] * 5 + [1] * 5)
    assert (fitted.bandwidth_, fitted.kappa_.tolist()) == (0.25, [3.0])


def entries(limit):
    """Entries as they are written down, to a thousandth."""
    return st.integers(-1000 * limit, 1000 * limit).map(lambda thousandths: thousandths / 1000)


@given(
    rows=arrays(float, (6, 2), elements=entries(10)),
    targets=arrays(float, 6, elements=st.floats(-100, 100)),
    queries=arrays(float, (3, 2), elements=entries(20) | st.just(np.nan)),
    kappa=st.floats(0, 10),
)
def test_a_prediction_lies_within_the_targets(rows, targets, queries, kappa):
    fitted = PastSessionsRegressor(bandwidth=0.2, kappa=kappa).fit(rows, targets)
    got = fitted.predict(queries)
    assert (got >= targets.min() - 1e-9).all()
    assert (got <= targets.max() + 1e-9).all()
    assert ((fitted.support(queries) >= 0) & (fitted.support(queries) <= 1)).all()


@pytest.mark.parametrize("block", [1, 70])
def test_the_size_of_the_blocks_in_memory_changes_nothing(monkeypatch, block):
    random = np.random.default_rng(11)
    rows, targets = random.random((25, 2)), random.random((25, 2))
    expected = PastSessionsRegressor().fit(rows, targets).predict(rows)
    monkeypatch.setattr(past_rows, "BLOCK", block)
    assert PastSessionsRegressor().fit(rows, targets).predict(rows) == pytest.approx(
        expected, rel=1e-12
    )


def test_of_many_rows_reach_is_chosen_from_some_spread_over_all(monkeypatch):
    random = np.random.default_rng(12)
    rows = random.random((400, 1))
    targets = np.sin(6 * rows[:, 0]) + 0.1 * random.normal(size=400)
    everything = PastSessionsRegressor().fit(rows, targets)
    monkeypatch.setattr(past_rows, "ENOUGH_PAIRS", 100 * 400)
    some = PastSessionsRegressor().fit(rows, targets)
    assert some.bandwidth_ == pytest.approx(everything.bandwidth_, rel=0.5)
    assert np.isfinite(some.kappa_).all()


@pytest.mark.parametrize(
    ("parameters", "message"),
    [
        ({"bandwidth": 0.0}, "bandwidth: 0.0; give a number above 0"),
        ({"kappa": -1.0}, "kappa: -1.0; give 0 or more"),
        ({"kappa": [1.0, 2.0, 3.0]}, "kappa.*once or for each output"),
        ({"kappa": np.nan}, "kappa: nan"),
        ({"centre": "median"}, "centre: 'median'; give 'mean' or a number"),
        ({"centre": np.inf}, "centre: inf"),
        ({"field_weights": [1.0, 1.0, 1.0]}, r"field_weights.*\(3,\).*give 2 weights"),
        ({"field_weights": [1.0, -1.0]}, "field_weights"),
        ({"field_ranges": [np.inf, 1.0]}, "field_ranges"),
    ],
)
def test_a_parameter_that_cannot_be_is_refused_with_the_mend(parameters, message):
    rows, targets = [[1.0, 2.0], [3.0, 4.0]], [[1.0, 2.0], [2.0, 3.0]]
    with pytest.raises(ValueError, match=message):
        PastSessionsRegressor(**parameters).fit(rows, targets)


@pytest.mark.parametrize(
    ("given", "message"),
    [
        ({"sample_weight": [1.0, -1.0]}, "sample_weight: a negative weight"),
        ({"sample_weight": [1.0]}, "sample_weight"),
        ({"groups": [1, 2, 3]}, "groups"),
        ({"groups": ["a", None]}, "groups.*name the group of all 2 rows"),
    ],
)
def test_weights_and_groups_that_cannot_be_are_refused(given, message):
    with pytest.raises(ValueError, match=message):
        PastSessionsRegressor().fit([[1.0], [2.0]], [1.0, 2.0], **given)


def test_an_infinite_entry_among_words_is_refused():
    table = np.array([["sand", np.inf], ["clay", 1.0]], dtype=object)
    with pytest.raises(ValueError, match=r"column 1: infinity in X"):
        PastSessionsRegressor(categorical_features=[0]).fit(table, [1.0, 2.0])
