"""The run to the first corner."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from setupadvisor.errors import ImpossibleValue
from setupadvisor.facts.drive_force import (
    Drive,
    clutch_closed_speed_m_per_s,
    drive_force_n,
    top_speed_m_per_s,
)
from setupadvisor.facts.front_lock import launch_limits
from setupadvisor.facts.geometry import ReferenceGeometry
from setupadvisor.facts.start_run import deeper_lock_gain_hundredths, start_run

# Invented engine; STRONG never limits, so that the acceleration is the limit given.
ENGINE = Drive([4000, 9000, 13000], [35, 45, 30], [19.0, 15.0, 12.0], 340.0, 8000.0)
STRONG = ENGINE._replace(torque_nm=[1e5, 1e5, 1e5], overall_ratios=[6.0])
VACUUM = {"air_density_kg_m3": 0.0}
MACHINE = ReferenceGeometry(27.0, 1480.0, 48.0, 340.0, 330.0, 590.0, 420.0, 700.0, 800.0)


@given(st.floats(1.0, 12.0), st.floats(5.0, 100.0))
@settings(deadline=None)
def test_constant_acceleration_matches_the_closed_form(limit: float, distance: float) -> None:
    """t = sqrt(2 s / a), v = sqrt(2 a s); every step is exact, so only rounding is left."""
    run = start_run(200.0, distance, limit, STRONG, **VACUUM)
    np.testing.assert_allclose(run.time_s, np.sqrt(2.0 * distance / limit), rtol=1e-9)
    np.testing.assert_allclose(run.speed_m_per_s, np.sqrt(2.0 * limit * distance), rtol=1e-9)


@given(st.floats(1.0, 12.0), st.floats(1.0, 12.0), st.floats(0.2, 4.0))
@settings(deadline=None)
def test_two_constant_accelerations_match_the_closed_form(
    gate_limit: float, limit: float, gate: float
) -> None:
    run = start_run(
        200.0, 50.0, limit, STRONG, gate_distance_m=gate, gate_limit_m_s2=gate_limit, **VACUUM
    )
    leaving = np.sqrt(2.0 * gate_limit * gate)
    arriving = np.sqrt(leaving**2 + 2.0 * limit * (50.0 - gate))
    expected = leaving / gate_limit + (arriving - leaving) / limit
    np.testing.assert_allclose(run.time_s, expected, rtol=1e-9)


@given(st.floats(2.0, 9.0))
@settings(deadline=None)
def test_heat_of_a_start_at_constant_force_is_the_motion_energy_reached(limit: float) -> None:
    """A clutch fed at constant speed turns into heat what it gives in motion: m v^2 / 2.

    Textbook result for a slipping clutch, from memory; here over the drive's efficiency.
    """
    drive = STRONG._replace(efficiency=1.0)
    closed = clutch_closed_speed_m_per_s(drive)
    run = start_run(200.0, 1.2 * closed**2 / (2.0 * limit), limit, drive, **VACUUM)
    # One step straddles the closing of the clutch; inside a step the slip is a straight line.
    np.testing.assert_allclose(run.clutch_heat_j, 0.5 * 200.0 * closed**2, rtol=1e-9)
    np.testing.assert_allclose(run.clutch_slip_time_s, closed / limit, rtol=1e-9)


def test_steady_power_agrees_with_the_closed_form_of_constant_power() -> None:
    """From v0 at constant power the distance is m (v^3 - v0^3) / (3 P).

    Torque falling as 1 over speed gives constant power once the clutch is closed; up to there
    the force is constant. The curve's straight pieces and the steps allow 0.1 %.
    """
    speeds = np.linspace(3000.0, 30000.0, 2000)
    watts = 30e3
    drive = Drive(speeds, watts / (speeds * np.pi / 30.0), [15.0], 340.0, 3000.0, 1.0)
    closed = clutch_closed_speed_m_per_s(drive)
    force = watts / closed
    first = 200.0 * closed**2 / (2.0 * force)
    run = start_run(200.0, 80.0, 1e6, drive, **VACUUM)
    speed = (closed**3 + 3.0 * watts * (80.0 - first) / 200.0) ** (1.0 / 3.0)
    time = closed / (force / 200.0) + 200.0 * (speed**2 - closed**2) / (2.0 * watts)
    np.testing.assert_allclose(run.speed_m_per_s, speed, rtol=1e-3)
    np.testing.assert_allclose(run.time_s, time, rtol=1e-3)


def test_drag_alone_slows_as_its_closed_form_says() -> None:
    """dE/ds = a - 2 k E with E = v^2/2 has the solution E = a (1 - exp(-2 k s)) / (2 k)."""
    k = 0.5 * 1.2 * 0.6 / 200.0
    run = start_run(200.0, 150.0, 6.0, STRONG._replace(overall_ratios=[4.0]))
    energy = 6.0 * (1.0 - np.exp(-2.0 * k * 150.0)) / (2.0 * k)
    np.testing.assert_allclose(run.speed_m_per_s, np.sqrt(2.0 * energy), rtol=1e-4)


@given(st.floats(2.0, 12.0), st.floats(0.4, 1.2))
@settings(deadline=None)
def test_no_run_is_faster_than_its_limit_or_its_engine(limit: float, power: float) -> None:
    run = start_run(200.0, 60.0, limit, ENGINE, power_factor=power)
    hardest = min(
        limit, power * float(np.max(drive_force_n(np.linspace(0, 30, 200), ENGINE))) / 200.0
    )
    assert run.time_s >= np.sqrt(2.0 * 60.0 / hardest) * (1.0 - 1e-9)
    assert run.speed_m_per_s <= top_speed_m_per_s(ENGINE) * 1.002


def test_finer_steps_do_not_move_the_time_by_a_thousandth_of_a_second() -> None:
    usual = start_run(200.0, 60.0, [4.0, 7.0, 12.0], ENGINE, gate_distance_m=1.0)
    fine = start_run(
        200.0, 60.0, [4.0, 7.0, 12.0], ENGINE, gate_distance_m=1.0, speed_step_count=2560
    )
    np.testing.assert_allclose(usual.time_s, fine.time_s, atol=1e-3)
    np.testing.assert_allclose(usual.clutch_heat_j, fine.clutch_heat_j, rtol=1e-3)


def test_the_strongest_gear_is_used_and_the_limiter_ends_it() -> None:
    """Hand sums: 45 N m peak region times ratio and efficiency over radius."""
    np.testing.assert_allclose(drive_force_n(0.0, ENGINE), 43.0 * 19.0 * 0.9 / 0.34, rtol=1e-12)
    at_9000_in_second = 9000.0 * np.pi / 30.0 * 0.34 / 15.0
    in_first = np.interp(9000.0 * 19.0 / 15.0, [9000.0, 13000.0], [45.0, 30.0]) * 19.0
    expected = max(in_first, 45.0 * 15.0) * 0.9 / 0.34
    np.testing.assert_allclose(drive_force_n(at_9000_in_second, ENGINE), expected, rtol=1e-12)
    assert drive_force_n(1.01 * top_speed_m_per_s(ENGINE), ENGINE) == 0.0
    assert np.isnan(drive_force_n(np.nan, ENGINE))


def test_a_motorcycle_that_cannot_move_off_never_arrives() -> None:
    run = start_run(200.0, 60.0, [-0.5, 0.0, 6.0], ENGINE)
    assert run.time_s[0] == np.inf
    assert run.time_s[1] == np.inf
    assert run.clutch_heat_j[0] == np.inf
    assert np.isfinite(run.time_s[2])
    assert start_run(200.0, 60.0, 6.0, ENGINE, rolling_resistance_coefficient=2.0).time_s == np.inf


def test_missing_values_pass_and_rows_equal_single_calls() -> None:
    limits = np.array([5.0, np.nan, 8.0])
    rows = start_run(200.0, 60.0, limits, ENGINE, gate_distance_m=1.0, gate_limit_m_s2=7.0)
    single = start_run(200.0, 60.0, 8.0, ENGINE, gate_distance_m=1.0, gate_limit_m_s2=7.0)
    for name in rows._fields:
        column = getattr(rows, name)
        assert np.isfinite(column).tolist() == [True, False, True], name
        np.testing.assert_allclose(column[2], getattr(single, name), rtol=1e-12)
    assert np.isnan(start_run(np.nan, 60.0, 6.0, ENGINE).time_s)


def test_five_millimetres_deeper_gain_where_the_front_lifts_and_lose_where_the_rear_spins() -> None:
    won = deeper_lock_gain_hundredths(
        MACHINE,
        100.0,
        5.0,
        ENGINE,
        mass_kg=200.0,
        distance_m=60.0,
        grip_coefficient=[1.3, 0.6],
        front_sag_mm=60.0,
    )
    assert won[0] > 0.0 > won[1]


def test_the_gain_is_the_difference_of_two_runs() -> None:
    shared = {"front_sag_mm": 60.0}
    times = []
    for depth in (80.0, 95.0):
        gate = launch_limits(MACHINE, depth, 1.1, **shared).acceleration_m_s2
        after = launch_limits(
            MACHINE, depth, 0.7, **shared, rolling_resistance_coefficient=0.05
        ).acceleration_m_s2
        times.append(
            start_run(
                200.0,
                60.0,
                after,
                ENGINE,
                gate_distance_m=1.0,
                gate_limit_m_s2=gate,
                rolling_resistance_coefficient=0.05,
            ).time_s
        )
    won = deeper_lock_gain_hundredths(
        MACHINE,
        80.0,
        15.0,
        ENGINE,
        mass_kg=200.0,
        distance_m=60.0,
        grip_coefficient=0.7,
        gate_distance_m=1.0,
        gate_grip_coefficient=1.1,
        rolling_resistance_coefficient=0.05,
        **shared,
    )
    np.testing.assert_allclose(won, (times[0] - times[1]) * 100.0, rtol=1e-9)


def test_a_slip_speed_off_the_torque_curve_is_refused() -> None:
    with pytest.raises(ImpossibleValue, match="the torque curve covers"):
        start_run(200.0, 60.0, 6.0, ENGINE._replace(clutch_slip_speed_rpm=3000.0))
    with pytest.raises(ImpossibleValue, match="rising engine speeds"):
        drive_force_n(5.0, ENGINE._replace(engine_speed_rpm=[9000, 4000, 13000]))
