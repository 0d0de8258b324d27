from __future__ import annotations

import numpy as np
import pytest
from scipy.stats import multivariate_normal

from setupadvisor.learning.amount_sums import Recorded, Totals, totals
from setupadvisor.learning.amounts import (
    Spreads,
    choose_spreads,
    integrated,
    log_evidence,
)
from setupadvisor.learning.amounts import posterior as posterior_of_sums

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


def sums_of(degrees, target, weight=None, rider=None, event=None, fold=None, venue=None) -> Totals:
    n = len(target)
    nobody = np.zeros(n, dtype=np.int64)
    event = np.arange(n) if event is None else np.asarray(event)
    rider = nobody if rider is None else np.asarray(rider)
    fold = nobody if fold is None else np.asarray(fold)
    venue = np.full(n, -1) if venue is None else np.asarray(venue)
    recorded = Recorded(
        degrees=np.asarray(degrees, dtype=float),
        target=np.asarray(target, dtype=float),
        weight=np.ones(n) if weight is None else np.asarray(weight, dtype=float),
        rider=rider,
        event=event,
        venue=venue,
        fold=fold,
    )
    return totals(
        recorded,
        n_riders=int(rider.max()) + 1,
        n_folds=int(fold.max()) + 1,
        n_venues=int(venue.max()) + 1,
    )


def posterior(sums, amount_sd, chosen) -> tuple[np.ndarray, np.ndarray]:
    return posterior_of_sums(integrated(sums, chosen), amount_sd, chosen)


def spreads(noise, habit, event=0.0, venue=0.0) -> Spreads:
    return Spreads.of(np.array([noise, habit, event, venue]))


def season_of(random, n=24, n_rules=3, n_riders=3, n_events=8):
    event = np.repeat(np.arange(n_events), n // n_events)
    rider = random.integers(n_riders, size=n)
    rider[0] = n_riders - 1
    venue = (event // 2) % 3 - 1
    return random.random((n, n_rules)), random.normal(size=n), rider, event, venue


def same(codes) -> np.ndarray:
    """Whether two sessions share a code; -1 is shared with nobody."""
    return (codes[:, None] == codes) & (codes[:, None] >= 0)


def test_posterior_mean_is_that_of_the_conjugate_regression():
    """Closed form, Gelman et al., BDA3 ch. 14 (the mean does not depend on the noise when the
    prior covariance is 10 I in units of it); rounding allows 1e-10.
    """
    x = np.array([1.0, 2.0, 3.0, 4.0, 5.0])
    y = np.array([2.1, 3.9, 6.2, 7.8, 10.1])
    noise = 0.7
    prior_sd = noise * np.sqrt(10.0)
    sums = sums_of(np.column_stack([np.ones(5), x]), y)
    mean, _ = posterior(sums, np.full(2, prior_sd), spreads(noise, 1e-9))
    assert mean[-1, :2] == pytest.approx([0.09837529012676122, 1.9732190680235673], rel=1e-10)


def test_posterior_covariance_is_the_inverse_of_the_summed_precisions():
    random = np.random.default_rng(1)
    degrees, target, rider, event, venue = season_of(random)
    amount_sd, noise, habit = np.array([0.5, 1.0, 2.0]), 0.8, 1.3
    mean, covariance = posterior(
        sums_of(degrees, target, rider=rider, event=event, venue=venue),
        amount_sd,
        spreads(noise, habit, 0.6, 0.9),
    )
    columns = np.column_stack([degrees, rider[:, None] == np.arange(3)])
    # An event at an unknown venue is at a venue of its own.
    unknown = 0.81 * (same(event) & (venue[:, None] < 0))
    between = noise**2 * np.eye(24) + 0.36 * same(event) + 0.81 * same(venue) + unknown
    precision = np.diag(np.r_[amount_sd, [habit] * 3] ** -2.0)
    precision += columns.T @ np.linalg.solve(between, columns)
    expected = np.linalg.inv(precision)
    assert covariance[-1] == pytest.approx(expected, rel=1e-9, abs=1e-12)
    assert mean[-1] == pytest.approx(
        expected @ columns.T @ np.linalg.solve(between, target), rel=1e-9
    )


def test_posterior_without_a_fold_is_the_posterior_of_the_other_sessions():
    random = np.random.default_rng(2)
    degrees, target, rider, event, venue = season_of(random)
    weight = random.uniform(0.1, 1.0, size=24)
    fold = event % 4
    all_four = spreads(0.8, 1.3, 0.6, 0.9)
    amount_sd = np.array([0.5, 1.0, 2.0])
    mean, covariance = posterior(
        sums_of(degrees, target, weight, rider, event, fold, venue), amount_sd, all_four
    )
    for k in range(4):
        others = fold != k
        whole = Recorded(degrees, target, weight, rider, event, venue, np.zeros_like(fold))
        sums = totals(whole.taken(others), n_riders=3, n_folds=1, n_venues=2)
        alone_mean, alone_covariance = posterior(sums, amount_sd, all_four)
        assert mean[k] == pytest.approx(alone_mean[-1], rel=1e-9, abs=1e-12)
        assert covariance[k] == pytest.approx(alone_covariance[-1], rel=1e-9, abs=1e-12)


def test_sums_of_some_events_and_of_the_others_add_up_to_those_of_all():
    """Whole events are dealt to two parts in every way; added up in another order, sums agree to
    1e-12 of themselves.
    """
    random = np.random.default_rng(12)
    degrees, target, rider, event, venue = season_of(random)
    fold, weight = event % 4, random.uniform(0.1, 1.0, size=24)
    all_four, amount_sd = spreads(0.8, 1.3, 0.6, 0.9), np.array([0.5, 1.0, 2.0])
    recorded = Recorded(degrees, target, weight, rider, event, venue, fold)
    sizes = {"n_riders": 3, "n_folds": 4, "n_venues": 2}
    whole = totals(recorded, **sizes)
    mean, covariance = posterior(whole, amount_sd, all_four)
    for dealt in range(1, 2**7):
        here = (dealt >> event) & 1 == 1
        parts = [totals(recorded.taken(rows), **sizes) for rows in (here, ~here)]
        summed = integrated(parts[0], all_four) + integrated(parts[1], all_four)
        for got in (
            posterior_of_sums(summed, amount_sd, all_four),
            posterior(Totals.joined(parts), amount_sd, all_four),
        ):
            assert got[0] == pytest.approx(mean, rel=1e-10, abs=1e-12)
            assert got[1] == pytest.approx(covariance, rel=1e-10, abs=1e-12)
        one, other = (
            log_evidence(sums, amount_sd, Spreads.of([[0.8, 1.3, 0.6, 0.9]]))
            for sums in (whole, Totals.joined(parts))
        )
        assert one == pytest.approx(other, rel=1e-12)


def test_evidence_is_the_normal_density_of_all_targets_together():
    """Against the density of scipy's multivariate normal with the full covariance."""
    random = np.random.default_rng(3)
    degrees, target, rider, event, venue = season_of(random)
    amount_sd = np.array([0.5, 1.0, 2.0])
    sums = sums_of(degrees, target, rider=rider, event=event, venue=venue)
    candidates = np.array(
        [[0.8, 1.3, 0.6, 0.9], [0.3, 0.2, 1.0, 0.1], [2.0, 1.0, 1e-6, 1.5], [0.5, 1.0, 0.7, 1e-6]]
    )
    got = log_evidence(sums, amount_sd, Spreads.of(candidates))
    for value, (noise, habit, of_event, of_venue) in zip(got, candidates, strict=True):
        covariance = (
            (degrees * amount_sd**2) @ degrees.T
            + habit**2 * (rider[:, None] == rider)
            + of_event**2 * same(event)
            + of_venue**2 * (same(venue) | (same(event) & (venue[:, None] < 0)))
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
    candidates = np.column_stack([noise, habit, np.full((6, 2), 1e-6)])
    evidence = log_evidence(sums, np.array([1e5]), Spreads.of(candidates))
    assert (evidence[0] > evidence[1:]).all()


def test_posterior_shrinks_batches_as_published():
    """Dyestuff: the overall mean is 1527.5 (same source), and a batch's effect is its deviation
    times 5 * 1764.05 / (5 * 1764.05 + 2451.25), the closed form for balanced batches.
    """
    batch = np.repeat(np.arange(6), 5)
    sums = sums_of(np.ones((30, 1)), DYESTUFF.ravel(), rider=batch)
    mean, _ = posterior(sums, np.array([1e6]), spreads(np.sqrt(2451.25), np.sqrt(1764.05)))
    assert mean[-1, 0] == pytest.approx(1527.5, abs=0.01)
    shrink = 5 * 1764.05 / (5 * 1764.05 + 2451.25)
    expected = shrink * (DYESTUFF.mean(axis=1) - 1527.5)
    assert mean[-1, 1:] == pytest.approx(expected, abs=0.01)


def test_spreads_come_out_near_the_truth_of_a_large_season():
    """200 riders at 400 events on 100 venues: standard errors of the spreads are about 5 % and 7 %;
    20 % is three.
    """
    random = np.random.default_rng(4)
    rider = np.tile(np.arange(200), 40)
    event = random.permutation(np.repeat(np.arange(400), 20))
    venue = event % 100
    target = (
        random.normal(0, 2.0, 200)[rider]
        + random.normal(0, 0.7, 400)[event]
        + random.normal(0, 0.9, 100)[venue]
        + random.normal(0, 1.2, 8000)
    )
    sums = sums_of(np.zeros((8000, 0)), target, rider=rider, event=event, venue=venue)
    got = choose_spreads(sums, np.zeros(0), 1.0)
    assert got.noise == pytest.approx(1.2, rel=0.20)
    assert got.habit == pytest.approx(2.0, rel=0.20)
    assert got.event == pytest.approx(0.7, rel=0.20)
    assert got.venue == pytest.approx(0.9, rel=0.20)


@pytest.mark.parametrize("target", [0.0, 1.0, 40.0])
def test_one_session_neither_makes_the_noise_vanish_nor_the_habit_explode(target):
    got = choose_spreads(sums_of(np.ones((1, 1)), [target]), np.array([1.0]), 1.0)
    for spread in (got.noise, got.habit, got.event, got.venue):
        assert 0.05 < spread < 40.0


def test_no_session_leaves_the_spreads_where_they_start():
    empty = sums_of(np.zeros((2, 1)), [1.0, 2.0], weight=[0.0, 0.0])
    got = choose_spreads(empty, np.array([1.0]), 2.0)
    assert (got.noise, got.habit, got.event, got.venue) == pytest.approx((2.0, 2.0, 1.0, 1.0))


def test_an_odd_venue_visited_often_is_not_taken_for_many_findings_about_a_rule():
    """A rule that only ever spoke at one venue, ten events long: what the venue does and what the
    rule does cannot be told apart, and the rule's amount stays nearly as uncertain as it was.
    """
    event = np.arange(40)
    venue = np.where(event < 10, 0, 1 + event % 6)
    degrees = (venue == 0).astype(float)[:, None]
    target = np.where(venue == 0, 2.0, 0.0)
    told = sums_of(degrees, target, event=event, venue=venue)
    untold = sums_of(degrees, target, event=event)
    all_four = spreads(0.5, 1.0, 0.3, 1.0)
    with_venue, without = (
        np.sqrt(posterior(sums, np.array([1.0]), all_four)[1][-1, 0, 0]) for sums in (told, untold)
    )
    assert with_venue > 0.6
    assert without < 0.5
