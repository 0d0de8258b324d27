"""Rear sag, preload and spring choice."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import assume, given
from hypothesis import strategies as st

from setupadvisor.errors import ImpossibleValue
from setupadvisor.facts.rear_sag import (
    choose_rear_spring,
    rear_preload_for_sag_mm,
    rear_rate_for_sags_n_per_mm,
    rear_rate_window_n_per_mm,
    rear_sag_mm,
)
from setupadvisor.facts.suspension import linkage, rear_wheel_load_n

ARM = linkage([0.0, 60.0, 150.0, 240.0, 310.0], [0.33, 0.355, 0.39, 0.42, 0.41])
STRAIGHT = linkage([0.0, 300.0], [0.4, 0.4])
rates = st.floats(35.0, 70.0)
preloads = st.floats(0.0, 20.0)


def test_sag_on_a_constant_ratio_is_hand_statics() -> None:
    """0.4 * 50 N/mm * (10 mm + 0.4 z) = 1000 N at z = 100 mm."""
    np.testing.assert_allclose(rear_sag_mm(1000.0, 50.0, 10.0, STRAIGHT), 100.0, rtol=1e-9)


@given(st.floats(0.0, 310.0), rates, preloads)
def test_sag_gives_back_the_travel_whose_load_it_was_given(
    travel: float, rate: float, preload: float
) -> None:
    load = rear_wheel_load_n(travel, rate, preload, ARM)
    np.testing.assert_allclose(rear_sag_mm(load, rate, preload, ARM), travel, atol=1e-6)


@given(st.floats(20.0, 200.0), st.floats(600.0, 1500.0), rates)
def test_the_preload_for_a_sag_gives_that_sag(sag: float, load: float, rate: float) -> None:
    preload = rear_preload_for_sag_mm(sag, load, rate, ARM)
    if preload < 0.0:
        with pytest.raises(ImpossibleValue, match="softer spring"):
            rear_sag_mm(load, rate, preload, ARM)
    else:
        np.testing.assert_allclose(rear_sag_mm(load, rate, preload, ARM), sag, atol=1e-6)


@given(st.floats(95.0, 115.0), st.floats(25.0, 45.0))
def test_the_rate_for_both_sags_gives_both_sags(race: float, static: float) -> None:
    rate = rear_rate_for_sags_n_per_mm(race, static, 1050.0, 420.0, ARM)
    preload = rear_preload_for_sag_mm(race, 1050.0, rate, ARM)
    assume(preload >= 0.0)
    got = rear_sag_mm([1050.0, 420.0], rate, preload, ARM)
    np.testing.assert_allclose(got, [race, static], atol=1e-6)


def test_more_static_sag_at_the_same_race_sag_means_a_stiffer_spring() -> None:
    """The trade's reading of the two sags (common practice, no source)."""
    got = rear_rate_for_sags_n_per_mm(105.0, [25.0, 35.0, 45.0], 1050.0, 420.0, ARM)
    assert np.all(np.diff(got) > 0.0)


def test_a_race_sag_not_above_the_static_sag_has_no_spring() -> None:
    assert np.isnan(rear_rate_for_sags_n_per_mm(35.0, 35.0, 1050.0, 420.0, ARM))


def test_a_topped_out_and_a_bottomed_suspension_stay_at_their_ends() -> None:
    assert rear_sag_mm([0.0, 50.0, 90000.0], 50.0, 10.0, ARM).tolist() == [0.0, 0.0, 310.0]


@given(st.floats(400.0, 1200.0), rates, preloads)
def test_more_load_sags_more_and_more_preload_sags_less(
    load: float, rate: float, preload: float
) -> None:
    base = rear_sag_mm(load, rate, preload, ARM)
    assert rear_sag_mm(load + 20.0, rate, preload, ARM) >= base
    assert rear_sag_mm(load, rate, preload + 1.0, ARM) <= base


def test_every_rate_between_the_corners_can_meet_the_windows() -> None:
    window = rear_rate_window_n_per_mm(
        race_sag_low_mm=103.0,
        race_sag_high_mm=107.0,
        static_sag_low_mm=30.0,
        static_sag_high_mm=40.0,
        race_load_n=1050.0,
        static_load_n=420.0,
        curve=ARM,
    )
    for inside in np.linspace(window.low_n_per_mm, window.high_n_per_mm, 5):
        races = np.linspace(103.0, 107.0, 41)
        preload = rear_preload_for_sag_mm(races, 1050.0, inside, ARM)
        static = rear_sag_mm(420.0, inside, np.maximum(preload, 0.0), ARM)
        assert np.any((static >= 30.0 - 1e-6) & (static <= 40.0 + 1e-6) & (preload >= 0.0))


def test_the_shelf_spring_chosen_misses_no_more_than_any_other_on_it() -> None:
    shelf = np.arange(40.0, 80.0, 4.0)
    loads, static_loads = np.array([900.0, 1050.0, 1200.0]), np.array([420.0, 425.0, 430.0])
    best = choose_rear_spring(
        shelf,
        race_load_n=loads,
        static_load_n=static_loads,
        race_sag_mm=105.0,
        static_sag_low_mm=30.0,
        static_sag_high_mm=40.0,
        preload_low_mm=2.0,
        preload_high_mm=18.0,
        curve=ARM,
    )
    assert np.all(np.diff(best.spring_rate_n_per_mm) > 0.0)
    for row, load in enumerate(loads):
        for rate in shelf:
            preload = np.clip(rear_preload_for_sag_mm(105.0, load, rate, ARM), 2.0, 18.0)
            race = rear_sag_mm(load, rate, preload, ARM)
            static = rear_sag_mm(static_loads[row], rate, preload, ARM)
            miss = abs(race - 105.0) + max(30.0 - static, static - 40.0, 0.0)
            chosen_static = best.static_sag_mm[row]
            chosen = abs(best.race_sag_mm[row] - 105.0) + max(
                30.0 - chosen_static, chosen_static - 40.0, 0.0
            )
            # Up to the nudge towards the window's middle, a thousandth of it.
            assert chosen <= miss + 0.1


def test_a_shelf_without_a_fitting_spring_says_so() -> None:
    best = choose_rear_spring(
        [70.0, 75.0],
        race_load_n=900.0,
        static_load_n=420.0,
        race_sag_mm=105.0,
        static_sag_low_mm=30.0,
        static_sag_high_mm=40.0,
        preload_low_mm=3.0,
        preload_high_mm=18.0,
        curve=ARM,
    )
    assert not best.fits
    assert best.spring_rate_n_per_mm == 70.0
    assert best.race_sag_mm < 100.0


def test_missing_values_pass_and_rows_equal_single_calls() -> None:
    load = np.array([900.0, np.nan, 1100.0])
    sag = rear_sag_mm(load, 48.0, 8.0, ARM)
    assert np.isnan(sag).tolist() == [False, True, False]
    assert sag[2] == rear_sag_mm(1100.0, 48.0, 8.0, ARM)
    best = choose_rear_spring(
        [44.0, 48.0],
        race_load_n=load,
        static_load_n=420.0,
        race_sag_mm=105.0,
        static_sag_low_mm=30.0,
        static_sag_high_mm=40.0,
        preload_low_mm=3.0,
        preload_high_mm=18.0,
        curve=ARM,
    )
    assert np.isnan(best.spring_rate_n_per_mm).tolist() == [False, True, False]
    assert not best.fits[1]
