"""Whoops, lap speed and shares of the lap."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from hypothesis.extra.numpy import arrays

from setupadvisor.errors import ImpossibleValue
from setupadvisor.facts.track import (
    mean_lap_speed_m_per_s,
    share_of_lap,
    wheelbase_to_spacing_ratio,
    whoop_passing_frequency_hz,
    whoop_speed_high_m_per_s,
    whoop_speed_low_m_per_s,
    whoop_speed_m_per_s,
)


@given(speed=st.floats(0, 40), spacing=st.floats(0.5, 20))
def test_whoops_met_times_spacing_is_speed(speed: float, spacing: float) -> None:
    assert whoop_passing_frequency_hz(speed, spacing) * spacing == pytest.approx(speed)


def test_wheelbase_twice_the_spacing_puts_both_wheels_on_crests() -> None:
    assert wheelbase_to_spacing_ratio([1480.0, np.nan], 0.74).tolist()[0] == pytest.approx(2.0)
    assert np.isnan(wheelbase_to_spacing_ratio(np.nan, 0.74))


def test_mean_lap_speed_by_hand() -> None:
    assert mean_lap_speed_m_per_s(1500, 120) == pytest.approx(12.5)
    assert np.isnan(mean_lap_speed_m_per_s(np.nan, 120))


@given(mean=st.floats(0.1, 30))
def test_whoop_speed_lies_between_its_bounds(mean: float) -> None:
    usual = whoop_speed_m_per_s(mean)
    assert whoop_speed_low_m_per_s(mean) < usual < whoop_speed_high_m_per_s(mean)


def test_shares_of_what_was_counted() -> None:
    shares = share_of_lap([[300, 100, np.nan], [np.nan, np.nan, np.nan], [0, 0, 0], [0, 5, 0]])
    missing = np.full(3, np.nan)
    np.testing.assert_array_equal(shares, [[0.75, 0.25, np.nan], missing, missing, [0, 1, 0]])


@given(amounts=arrays(np.float64, (4, 3), elements=st.floats(0.01, 1e4)), factor=st.floats(0.1, 9))
def test_shares_sum_to_one_in_any_unit(amounts: np.ndarray, factor: float) -> None:
    shares = share_of_lap(amounts)
    np.testing.assert_allclose(shares.sum(axis=-1), 1.0, rtol=1e-12)
    np.testing.assert_allclose(share_of_lap(amounts * factor), shares, rtol=1e-9)


def test_impossible_tracks_are_refused() -> None:
    with pytest.raises(ImpossibleValue, match="spacing_m"):
        whoop_passing_frequency_hz(10, 0)
    with pytest.raises(ImpossibleValue, match="lap_time_s"):
        mean_lap_speed_m_per_s(1500, 0)
    with pytest.raises(ImpossibleValue, match="amounts"):
        share_of_lap([1.0, -1.0])
