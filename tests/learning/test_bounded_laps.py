"""Bounded influence against an independent robust regression, and what always holds of it."""

from __future__ import annotations

import numpy as np
import pytest
import statsmodels.api as sm
from hypothesis import given
from hypothesis import strategies as st

from setupadvisor.learning.bounded_laps import bound_laps


def day(draw, runs=4, laps=8, slow_share=0.2):
    random = np.random.default_rng(draw)
    run = np.repeat(np.arange(runs), laps)
    hours = 0.4 * run + 0.026 * np.tile(np.arange(laps), runs)
    lap_s = 90.0 + random.normal(0.0, 0.3, runs)[run] + random.normal(0.0, 0.8, len(run))
    slow = random.random(len(run)) < slow_share
    return lap_s + slow * random.exponential(3.0, len(run)), run, hours


@pytest.mark.parametrize(("runs", "laps"), [(4, 8), (6, 12), (3, 20)])
def test_levels_and_errors_are_those_of_statsmodels(runs, laps):
    """statsmodels 0.15 RLM, HuberT 1.345 on both sides, scale by MAD, covariance H1.

    RLM does not correct its MAD for the parameters; its bound is widened by as much, so that both
    hold the same laps. Both iterate to a fixed point, hence 1e-6.
    """
    lap_s, run, hours = day(runs * laps, runs, laps)
    one = np.zeros(len(run), dtype=int)
    found = bound_laps(lap_s, run, one, hours, np.ones(len(run)), slow=1.345, fast=1.345)
    middle = np.bincount(run, weights=hours) / laps
    design = np.c_[(run[:, None] == np.arange(runs)).astype(float), hours - middle[run]]
    n, parameters = design.shape
    bound = sm.robust.norms.HuberT(1.345 * np.sqrt(n / (n - parameters)))
    wanted = sm.RLM(lap_s, design, M=bound).fit(tol=1e-12, maxiter=500, conv="coefs", cov="H1")
    assert found.bounded.any()
    assert found.run_level_s == pytest.approx(wanted.params[:runs], abs=1e-6)
    least_squares = sm.OLS(found.pseudo_s, design).fit()
    assert least_squares.params == pytest.approx(wanted.params, abs=1e-6)
    assert least_squares.bse == pytest.approx(wanted.bse, rel=1e-6)


def test_laps_within_the_bounds_stay_as_they_are():
    lap_s, run, hours = day(3, slow_share=0.0)
    one = np.zeros(len(run), dtype=int)
    found = bound_laps(lap_s, run, one, hours, np.ones(len(run)), slow=50.0, fast=50.0)
    assert not found.bounded.any()
    assert np.array_equal(found.pseudo_s, lap_s)


@given(st.integers(0, 10**6), st.floats(5.0, 1e4))
def test_a_slow_lap_pulls_no_further_however_slow_it_is(draw, seconds):
    lap_s, run, hours = day(draw, slow_share=0.0)
    one = np.zeros(len(run), dtype=int)
    lap_s[5] += 20.0
    before = bound_laps(lap_s, run, one, hours, np.ones(len(run)))
    lap_s[5] += seconds
    after = bound_laps(lap_s, run, one, hours, np.ones(len(run)))
    assert before.bounded[5]
    assert after.bounded[5]
    # Once held, a lap is held the same; what is left is where the iteration stopped.
    assert after.run_level_s == pytest.approx(before.run_level_s, abs=1e-5)


@given(st.integers(0, 10**6), st.floats(-50.0, 500.0), st.floats(0.1, 10.0))
def test_levels_move_with_the_lap_times_and_their_unit(draw, shift, factor):
    lap_s, run, hours = day(draw)
    one = np.zeros(len(run), dtype=int)
    plain = bound_laps(lap_s, run, one, hours, np.ones(len(run)))
    moved = bound_laps(shift + factor * lap_s, run, one, hours, np.full(len(run), factor))
    assert moved.run_level_s == pytest.approx(shift + factor * plain.run_level_s, abs=1e-5)


def test_slow_laps_are_held_tighter_than_fast_ones():
    lap_s = np.tile([89.0, 89.5, 90.0, 90.0, 90.5, 91.0], 4)
    run, one = np.repeat(np.arange(4), 6), np.zeros(24, dtype=int)
    lap_s[0], lap_s[23] = 88.2, 91.8
    found = bound_laps(lap_s, run, one, np.zeros(24), np.ones(24))
    assert not found.bounded[0]
    assert found.bounded[23]


def test_laps_that_are_all_the_same_are_no_trouble():
    run = np.repeat([0, 1], 5)
    found = bound_laps(np.full(10, 90.0), run, 0 * run, np.arange(10.0), np.ones(10))
    assert found.pseudo_s.tolist() == [90.0] * 10
