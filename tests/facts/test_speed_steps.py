"""Riding a stretch in steps of speed."""

from __future__ import annotations

import numpy as np
from hypothesis import given
from hypothesis import strategies as st

from setupadvisor.facts.speed_steps import Riding, Stretch, ride_stretch, speed_steps

STEPS = speed_steps(40.0, 12.0, 400)
SPEEDS = STEPS.speed_m_per_s


def ride(
    thrust: float, resistance: float, begin: float, length: float, drag: float = 0.0
) -> Stretch:
    riding = Riding(np.full((1, SPEEDS.size), thrust), np.full(1, resistance), np.full(1, drag))
    return ride_stretch(STEPS, riding, np.full(1, begin), np.full(1, length))


@given(st.floats(1.0, 10.0), st.floats(0.0, 12.0), st.floats(0.1, 60.0))
def test_constant_acceleration_from_a_rolling_begin_is_exact(
    thrust: float, begin: float, length: float
) -> None:
    """v^2 = u^2 + 2 a s and t = (v - u) / a."""
    ridden = ride(thrust, 0.5, begin, length)
    speed = np.sqrt(begin**2 + 2.0 * (thrust - 0.5) * length)
    np.testing.assert_allclose(ridden.speed_m_per_s, speed, rtol=1e-9)
    np.testing.assert_allclose(ridden.time_s, (speed - begin) / (thrust - 0.5), rtol=1e-7)


@given(st.floats(4.0, 30.0), st.floats(0.1, 0.9))
def test_slowing_down_is_as_exact_as_speeding_up(begin: float, share: float) -> None:
    length = share * begin**2 / (2.0 * 2.0)  # a part of the way to standstill at 2 m/s2
    ridden = ride(1.0, 3.0, begin, length)
    speed = np.sqrt(begin**2 - 2.0 * 2.0 * length)
    np.testing.assert_allclose(ridden.speed_m_per_s, speed, rtol=1e-9)
    np.testing.assert_allclose(ridden.time_s, (begin - speed) / 2.0, rtol=1e-7)


def test_who_stops_on_the_way_never_arrives() -> None:
    """3 m/s at 2 m/s2 last for 2.25 m."""
    assert np.isfinite(ride(0.0, 2.0, 3.0, 2.2).time_s)
    stopped = ride(0.0, 2.0, 3.0, 2.3)
    assert stopped.time_s == np.inf
    assert stopped.speed_m_per_s == 0.0


def test_against_drag_the_run_follows_its_closed_form() -> None:
    """dv/dt = a - k v^2: v = w sqrt(1 - exp(-2 k s)), t = arcosh(exp(k s)) / sqrt(a k)."""
    thrust, drag, length = 3.0, 0.01, 120.0
    ridden = ride(thrust, 0.0, 0.0, length, drag)
    highest = np.sqrt(thrust / drag)
    np.testing.assert_allclose(
        ridden.speed_m_per_s, highest * np.sqrt(1.0 - np.exp(-2.0 * drag * length)), rtol=1e-4
    )
    np.testing.assert_allclose(
        ridden.time_s, np.arccosh(np.exp(drag * length)) / np.sqrt(thrust * drag), rtol=1e-4
    )


def test_the_highest_speed_is_kept_and_reached_from_either_side() -> None:
    """Where thrust and drag balance: sqrt(a / k), to a tenth of a step of 0.1 m/s."""
    highest = np.sqrt(3.0 / 0.02)
    for begin in (2.0, 30.0):
        ridden = ride(3.0, 0.0, begin, 2000.0, 0.02)
        np.testing.assert_allclose(ridden.speed_m_per_s, highest, atol=0.01)
        longer = ride(3.0, 0.0, begin, 2000.0 + 10.0 * highest, 0.02)
        np.testing.assert_allclose(longer.time_s - ridden.time_s, 10.0, rtol=1e-3)


@given(st.floats(0.0, 20.0), st.floats(0.5, 40.0), st.floats(0.5, 40.0), st.floats(0.0, 6.0))
def test_two_stretches_of_the_same_ground_are_one(
    begin: float, one: float, other: float, thrust: float
) -> None:
    whole = ride(thrust, 1.0, begin, one + other, 0.01)
    first = ride(thrust, 1.0, begin, one, 0.01)
    second = ride(thrust, 1.0, float(first.speed_m_per_s[0]), other, 0.01)
    for name in ("time_s", "slip_work_m2_s2", "slip_time_s"):
        both = getattr(first, name) + getattr(second, name)
        np.testing.assert_allclose(getattr(whole, name), both, rtol=1e-3, atol=2e-3, err_msg=name)


def test_a_waiting_clutch_slips_all_the_way() -> None:
    """Against heavy drag the balance lies below the closing speed of 12 m/s: slip never ends."""
    ridden = ride(3.0, 0.0, 0.0, 500.0, 0.1)
    np.testing.assert_allclose(ridden.slip_time_s, ridden.time_s, rtol=1e-12)
    balance = np.sqrt(30.0)
    # From then on 3 m/s2 of thrust slip by what is missing to 12 m/s.
    further = ride(3.0, 0.0, 0.0, 600.0, 0.1)
    lasts = 100.0 / balance
    np.testing.assert_allclose(
        further.slip_work_m2_s2 - ridden.slip_work_m2_s2, 3.0 * (12.0 - balance) * lasts, rtol=1e-3
    )


def test_no_way_takes_no_time_and_missing_stays_missing() -> None:
    nothing = ride(5.0, 0.0, 7.0, 0.0)
    assert nothing.time_s == 0.0
    np.testing.assert_allclose(nothing.speed_m_per_s, 7.0, rtol=1e-12)
    for unknown in (
        ride(np.nan, 0.0, 0.0, 5.0),
        ride(5.0, np.nan, 0.0, 5.0),
        ride(5.0, 0.0, 0.0, np.nan),
    ):
        assert np.isnan(np.concatenate(unknown)).all()
