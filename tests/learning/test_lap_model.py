"""The lap model against lme4, statsmodels and Welch's test where the models coincide."""

from __future__ import annotations

import math

import numpy as np
import pytest
import statsmodels.api as sm
from hypothesis import given, settings
from hypothesis import strategies as st

from setupadvisor.learning.lap_model import drift_s_per_hour, lap_sums, log_constant, profile
from setupadvisor.learning.student_t import t_cdf
from tests.learning.repeated_times import DYESTUFF, SLEEP_FIRST, SLEEP_SECOND, SLEEPSTUDY

NONE = np.array([1e-9])
FREE = np.array([math.inf])
ONE = np.ones(1)


def sums_of(values, run, *, side=None, hours=None, block=None, day=None, spread=None):
    """Sums of values in one block and at one time, unless said otherwise."""
    n = len(values)
    nothing = np.zeros(n)
    codes = np.zeros(n, dtype=int)
    return lap_sums(
        values,
        run,
        codes if block is None else block,
        codes if day is None else day,
        nothing if side is None else side,
        nothing if hours is None else hours,
        np.ones(n) if spread is None else spread,
    )


def test_variance_components_of_dyestuff_are_those_of_lme4():
    """R lme4 1.1-31, lmer(Yield ~ (1 | Batch), Dyestuff), REML: 1764.05, 2451.25, 319.654277.

    Tolerances are half a unit of the last digit given. No setup and no drift: runs are batches.
    """
    sums = sums_of(DYESTUFF, np.repeat(np.arange(6), 5))
    found = profile(sums, np.sqrt([1764.05 / 2451.25]), ONE, ONE)
    assert found.dof == 29
    assert found.squares.item() / found.dof == pytest.approx(2451.25, abs=0.005)
    criterion = -2.0 * (found.log_likelihood.item() + log_constant(found.dof))
    assert criterion == pytest.approx(319.654277, abs=5e-7)

    ratios = np.linspace(0.7, 1.0, 3001)
    best = ratios[profile(sums, ratios, ONE, ONE).log_likelihood.argmax()]
    # The flat top of the likelihood is found to one step of the grid.
    assert best == pytest.approx(math.sqrt(1764.05 / 2451.25), abs=1e-4)


@pytest.fixture(scope="module")
def sleepstudy():
    """Reaction times by day and by subject, and an invented split of the subjects in halves."""
    subject = np.repeat(np.arange(18), 10)
    days = np.tile(np.arange(10.0), 18)
    half = np.where(subject % 2 == 0, -0.5, 0.5)
    design = np.c_[np.ones(180), days, days**2 / 2, half]
    reaction = SLEEPSTUDY.ravel()
    fit = sm.MixedLM(reaction, design, groups=subject).fit(reml=True, gtol=1e-10)
    return sums_of(reaction, subject, side=half, hours=days), fit


def test_a_split_of_the_sleepstudy_is_that_of_statsmodels(sleepstudy):
    """statsmodels MixedLM, REML: curved drift by day, a random level by subject.

    Both solve the same equations given the ratio of variances; 1e-8 leaves room for rounding.
    """
    sums, fit = sleepstudy
    ratio = math.sqrt(fit.cov_re.item() / fit.scale)
    found = profile(sums, np.array([ratio]), NONE, FREE)
    assert found.difference_s.item() == pytest.approx(fit.fe_params[3], rel=1e-8)
    sigma = math.sqrt(found.squares.item() / found.dof)
    assert sigma == pytest.approx(math.sqrt(fit.scale), rel=1e-6)
    assert sigma / math.sqrt(found.information.item()) == pytest.approx(fit.bse_fe[3], rel=1e-6)
    likelihood = found.log_likelihood.item() + log_constant(found.dof)
    assert likelihood == pytest.approx(fit.llf, rel=1e-9)


def test_the_likelihood_is_highest_where_statsmodels_ends(sleepstudy):
    sums, fit = sleepstudy
    ratio = math.sqrt(fit.cov_re.item() / fit.scale)
    around = ratio * np.array([0.98, 0.999, 1.0, 1.001, 1.02])
    likelihood = profile(sums, around, NONE, FREE).log_likelihood.ravel()
    assert likelihood.argmax() == 2


def test_the_drift_of_the_sleepstudy_is_that_of_statsmodels(sleepstudy):
    """At the middle day the curve adds nothing: the slope is that of the parabola at day 4.5."""
    sums, fit = sleepstudy
    ratio = math.sqrt(fit.cov_re.item() / fit.scale)
    slope = fit.fe_params[1] + fit.fe_params[2] * 4.5
    assert drift_s_per_hour(sums, ratio, 1e-9, 1e9) == pytest.approx(slope, rel=1e-6)


def test_without_runs_and_drift_the_comparison_is_a_t_test():
    """R 4.2.2 t.test(extra ~ group, sleep), Welch: t -1.86081346748685, p 0.0793941401873582.

    With equally many of each, Welch's t is the pooled t exactly. Only its degrees of freedom are
    17.776 instead of 18, which moves p by 2.1e-4 and the half width of the interval by 0.1 %.
    """
    values = np.r_[SLEEP_FIRST, SLEEP_SECOND]
    side = np.repeat([-0.5, 0.5], 10)
    found = profile(sums_of(values, np.arange(20), side=side), NONE, NONE, NONE)
    assert found.dof == 18
    error = math.sqrt(found.squares.item() / 18 / found.information.item())
    t = found.difference_s.item() / error
    assert t == pytest.approx(1.86081346748685, rel=1e-10)
    p = 2.0 * (1.0 - t_cdf(np.array(t), 18.0).item())
    assert p == pytest.approx(0.0793941401873582, abs=2.2e-4)
    assert t_cdf(np.array(t), 17.7764735161785).item() == pytest.approx(
        1.0 - 0.0793941401873582 / 2.0, abs=1e-10
    )


def dense(values, run, block, day, side, hours, spread, ratios):
    """The same model with the whole covariance matrix written out."""
    n = len(values)
    day_mean = np.array([hours[day == d].mean() for d in range(day.max() + 1)])
    t = hours - day_mean[day]
    day_spread = np.array([np.sqrt((spread[day == d] ** 2).mean()) for d in range(day.max() + 1)])
    scaled = day_spread[day] / spread
    run_ratio, block_ratio, drift_ratio = ratios
    covariance = np.eye(n)
    covariance += run_ratio**2 * (run[:, None] == run)
    covariance += block_ratio**2 * np.outer(side, side) * (block[:, None] == block)
    drift = np.outer(t * scaled, t * scaled) + np.outer(t**2 * scaled, t**2 * scaled) / 4
    covariance += drift_ratio**2 * drift * (day[:, None] == day)
    design = np.c_[(block[:, None] == np.arange(block.max() + 1)), side / spread]
    y = values / spread
    inverse = np.linalg.inv(covariance)
    information = design.T @ inverse @ design
    fitted = np.linalg.solve(information, design.T @ inverse @ y)
    left = y - design @ fitted
    squares = left @ inverse @ left
    dof = n - design.shape[1]
    likelihood = -0.5 * (
        np.linalg.slogdet(covariance)[1]
        + np.linalg.slogdet(information)[1]
        + dof * math.log(squares)
    )
    return likelihood, fitted[-1], 1.0 / np.linalg.inv(information)[-1, -1], squares


@settings(max_examples=40, deadline=None)
@given(st.integers(0, 10**6))
def test_sums_level_by_level_give_what_the_whole_matrix_gives(draw):
    random = np.random.default_rng(draw)
    days, riders, runs = random.integers(1, 4), random.integers(1, 4), random.integers(2, 5)
    outing = np.arange(days * riders * runs)
    laps = random.integers(1, 6, size=len(outing))
    run = np.repeat(outing, laps)
    block = run // runs
    day = block // riders
    side = random.choice([-0.5, 0.5], size=len(outing))
    side[0], side[1] = -0.5, 0.5
    spread = np.exp(random.normal(0.0, 0.3, size=days * riders))[block]
    hours = random.uniform(0.0, 6.0, size=len(run))
    values = 90.0 + random.normal(size=len(run))
    shuffled = random.permutation(len(run))
    columns = [values, run, block, day, side[run], hours, spread]
    ratios = np.exp(random.normal(-0.5, 0.7, size=3))
    sums = lap_sums(*(column[shuffled] for column in columns))
    found = profile(sums, ratios[:1], ratios[1:2], ratios[2:])
    wanted = dense(*columns, ratios)
    assert found.log_likelihood.item() == pytest.approx(wanted[0], rel=1e-8, abs=1e-7)
    assert found.difference_s.item() == pytest.approx(wanted[1], rel=1e-6, abs=1e-8)
    assert found.information.item() == pytest.approx(wanted[2], rel=1e-7)
    assert found.squares.item() == pytest.approx(wanted[3], rel=1e-7)


def test_a_grid_of_ratios_gives_what_each_gives_alone():
    random = np.random.default_rng(4)
    run = np.repeat(np.arange(12), 5)
    sums = sums_of(
        random.normal(size=60), run, side=np.where(run % 2, 0.5, -0.5), block=run // 4,
        day=run // 8, hours=np.arange(60.0) / 10,
    )  # fmt: skip
    axes = (np.array([0.1, 0.5, 2.0]), np.array([0.2, 1.0]), np.array([0.3, 0.9, 4.0]))
    grid = profile(sums, *axes)
    for place in np.ndindex(3, 2, 3):
        alone = profile(sums, *(axis[[at]] for axis, at in zip(axes, place, strict=True)))
        for name in ("log_likelihood", "difference_s", "information", "squares"):
            assert getattr(grid, name)[place] == pytest.approx(getattr(alone, name).item())


def test_setups_never_ridden_by_one_rider_on_one_day_have_no_difference():
    run = np.repeat(np.arange(4), 3)
    block = run // 2
    sums = sums_of(np.arange(12.0), run, side=np.where(block == 0, -0.5, 0.5), block=block)
    found = profile(sums, ONE, ONE, ONE)
    assert not sums.comparable
    assert np.isnan(found.difference_s).all()
    assert np.isfinite(found.log_likelihood).all()


def test_laps_without_any_spread_do_not_prove_that_there_is_none():
    sums = sums_of(np.full(8, 90.0), np.repeat([0, 1], 4), side=np.repeat([-0.5, 0.5], 4))
    found = profile(sums, ONE, NONE, ONE)
    assert np.isfinite(found.log_likelihood).all()
    assert found.difference_s.item() == pytest.approx(0.0, abs=1e-9)
    assert found.squares.item() > 0
