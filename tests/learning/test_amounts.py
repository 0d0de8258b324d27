from __future__ import annotations

import numpy as np
import pytest
from scipy.stats import multivariate_normal

from setupadvisor.learning.amounts import Totals, choose_spreads, log_evidence, posterior, totals

# Davies & Goldsmith (1972), Statistical Methods in Research and Production, table 6.1: yield of
# dyestuff from five samples of each of six batches (the data set Dyestuff of the R package lme4).
DYESTUFF = np.array(
    [
        [1545, 1440, 1440, 1520, 1580],
        [1540, 1555, 1490, 1560, 1495],
        [1595, 1550, 1605, 1510, 1560],
        [1445, 1440, 1595, 1465, 1545],
        [1595, 1630, 1515, 1635, 1625],
        [1520, 1455, 1450, 1480, 1445],
    ],
    dtype=float,
)


def sums_of(degrees, target, weight=None, rider=None, event=None, fold=None) -> Totals:
    n = len(target)
    nobody = np.zeros(n, dtype=np.int64)
    event = np.arange(n) if event is None else np.asarray(event)
    rider = nobody if rider is None else np.asarray(rider)
    fold = nobody if fold is None else np.asarray(fold)
    return totals(
        np.asarray(degrees, dtype=float),
        np.asarray(target, dtype=float),
        np.ones(n) if weight is None else np.asarray(weight, dtype=float),
        rider=rider,
        event=event,
        fold=fold,
        n_riders=int(rider.max()) + 1,
        n_folds=int(fold.max()) + 1,
    )


def season_of(random, n=24, n_rules=3, n_riders=3, n_events=8):
    event = np.repeat(np.arange(n_events), n // n_events)
    rider = random.integers(n_riders, size=n)
    rider[0] = n_riders - 1
    return random.random((n, n_rules)), random.normal(size=n), rider, event


def test_posterior_mean_is_that_of_the_conjugate_regression():
    """Closed form, Gelman et al., BDA3 ch. 14 (the mean does not depend on the noise when the
    prior covariance is 10 I in units of it); rounding allows 1e-10.
    """
    x = np.array([1.0, 2.0, 3.0, 4.0, 5.0])
    y = np.array([2.1, 3.9, 6.2, 7.8, 10.1])
    noise = 0.7
    prior_sd = noise * np.sqrt(10.0)
    sums = sums_of(np.column_stack([np.ones(5), x]), y)
    mean, _ = posterior(sums, np.full(2, prior_sd), noise, 1e-9, 0.0)
    assert mean[-1, :2] == pytest.approx([0.09837529012676122, 1.9732190680235673], rel=1e-10)


def test_posterior_covariance_is_the_inverse_of_the_summed_precisions():
    random = np.random.default_rng(1)
    degrees, target, rider, event = season_of(random)
    amount_sd, noise, habit = np.array([0.5, 1.0, 2.0]), 0.8, 1.3
    mean, covariance = posterior(
        sums_of(degrees, target, rider=rider, event=event), amount_sd, noise, habit, 0.6
    )
    columns = np.column_stack([degrees, rider[:, None] == np.arange(3)])
    between = noise**2 * np.eye(24) + 0.36 * (event[:, None] == event)
    precision = np.diag(np.r_[amount_sd, [habit] * 3] ** -2.0)
    precision += columns.T @ np.linalg.solve(between, columns)
    expected = np.linalg.inv(precision)
    assert covariance[-1] == pytest.approx(expected, rel=1e-9, abs=1e-12)
    assert mean[-1] == pytest.approx(
        expected @ columns.T @ np.linalg.solve(between, target), rel=1e-9
    )


def test_posterior_without_a_fold_is_the_posterior_of_the_other_sessions():
    random = np.random.default_rng(2)
    degrees, target, rider, event = season_of(random)
    weight = random.uniform(0.1, 1.0, size=24)
    fold = event % 4
    spreads = (0.8, 1.3, 0.6)
    amount_sd = np.array([0.5, 1.0, 2.0])
    mean, covariance = posterior(
        sums_of(degrees, target, weight, rider, event, fold), amount_sd, *spreads
    )
    for k in range(4):
        others = fold != k
        sums = totals(
            degrees[others],
            target[others],
            weight[others],
            rider=rider[others],
            event=event[others],
            fold=np.zeros(others.sum(), dtype=np.int64),
            n_riders=3,
            n_folds=1,
        )
        alone_mean, alone_covariance = posterior(sums, amount_sd, *spreads)
        assert mean[k] == pytest.approx(alone_mean[-1], rel=1e-9, abs=1e-12)
        assert covariance[k] == pytest.approx(alone_covariance[-1], rel=1e-9, abs=1e-12)


def test_evidence_is_the_normal_density_of_all_targets_together():
    """Against the density of scipy's multivariate normal with the full covariance."""
    random = np.random.default_rng(3)
    degrees, target, rider, event = season_of(random)
    amount_sd = np.array([0.5, 1.0, 2.0])
    sums = sums_of(degrees, target, rider=rider, event=event)
    candidates = np.array([[0.8, 1.3, 0.6], [0.3, 0.2, 1.0], [2.0, 1.0, 1e-6]])
    got = log_evidence(sums, amount_sd, *candidates.T)
    for value, (noise, habit, of_event) in zip(got, candidates, strict=True):
        covariance = (
            (degrees * amount_sd**2) @ degrees.T
            + habit**2 * (rider[:, None] == rider)
            + of_event**2 * (event[:, None] == event)
            + noise**2 * np.eye(24)
        )
        expected = multivariate_normal(np.zeros(24), covariance).logpdf(target)
        assert value == pytest.approx(expected, rel=1e-10)


def test_evidence_of_batches_peaks_at_the_published_variances():
    """Dyestuff, one mean and one effect a batch: REML gives a batch variance of 1764.05 and a
    residual variance of 2451.25 (R lme4; Bates et al. 2015, J. Stat. Software 67). A flat prior on
    the mean makes the evidence the REML criterion; a relative step of 1 % either way must lose.
    """
    batch = np.repeat(np.arange(6), 5)
    sums = sums_of(np.ones((30, 1)), DYESTUFF.ravel() - 1500.0, rider=batch)
    peak = np.sqrt([2451.25, 1764.05])
    noise, habit = (
        peak
        * np.array([[1.0, 1.0], [0.99, 1.0], [1.01, 1.0], [1.0, 0.99], [1.0, 1.01], [1.005, 0.995]])
    ).T
    evidence = log_evidence(sums, np.array([1e5]), noise, habit, np.full(6, 1e-6))
    assert (evidence[0] > evidence[1:]).all()


def test_posterior_shrinks_batches_as_published():
    """Dyestuff: the overall mean is 1527.5 (same source), and a batch's effect is its deviation
    times 5 * 1764.05 / (5 * 1764.05 + 2451.25), the closed form for balanced batches.
    """
    batch = np.repeat(np.arange(6), 5)
    sums = sums_of(np.ones((30, 1)), DYESTUFF.ravel(), rider=batch)
    mean, _ = posterior(sums, np.array([1e6]), np.sqrt(2451.25), np.sqrt(1764.05), 0.0)
    assert mean[-1, 0] == pytest.approx(1527.5, abs=0.01)
    shrink = 5 * 1764.05 / (5 * 1764.05 + 2451.25)
    expected = shrink * (DYESTUFF.mean(axis=1) - 1527.5)
    assert mean[-1, 1:] == pytest.approx(expected, abs=0.01)


def test_spreads_come_out_near_the_truth_of_a_large_season():
    """200 riders at 200 events: standard errors of the spreads are about 5 %; 15 % is three."""
    random = np.random.default_rng(4)
    rider = np.tile(np.arange(200), 20)
    event = random.permutation(np.repeat(np.arange(200), 20))
    target = (
        random.normal(0, 2.0, 200)[rider]
        + random.normal(0, 0.7, 200)[event]
        + random.normal(0, 1.2, 4000)
    )
    sums = sums_of(np.zeros((4000, 0)), target, rider=rider, event=event)
    noise, habit, of_event = choose_spreads(sums, np.zeros(0), 1.0)
    assert noise == pytest.approx(1.2, rel=0.15)
    assert habit == pytest.approx(2.0, rel=0.15)
    assert of_event == pytest.approx(0.7, rel=0.15)


@pytest.mark.parametrize("target", [0.0, 1.0, 40.0])
def test_one_session_neither_makes_the_noise_vanish_nor_the_habit_explode(target):
    spreads = np.array(choose_spreads(sums_of(np.ones((1, 1)), [target]), np.array([1.0]), 1.0))
    assert (spreads > 0.05).all()
    assert (spreads < 40.0).all()


def test_no_session_leaves_the_spreads_where_they_start():
    empty = sums_of(np.zeros((2, 1)), [1.0, 2.0], weight=[0.0, 0.0])
    assert choose_spreads(empty, np.array([1.0]), 2.0) == pytest.approx((2.0, 2.0, 1.0))
