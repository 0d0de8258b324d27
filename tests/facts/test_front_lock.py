"""Front lock depth and the grip it is chosen for."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from setupadvisor.errors import ImpossibleValue
from setupadvisor.facts.front_lock import (
    hardest_launch_depth_mm,
    launch_limits,
    lock_depth_for_start,
    lock_depth_where_limits_meet,
)
from setupadvisor.facts.geometry import ReferenceGeometry, attitude
from setupadvisor.facts.launch import launch_limit_m_s2
from setupadvisor.facts.start_grip import start_grip

# Invented: a machine with its rider crouched for the start, measured at 60 mm front sag.
MACHINE = ReferenceGeometry(27.0, 1480.0, 48.0, 340.0, 330.0, 590.0, 420.0, 700.0, 800.0)
SAG = {"front_sag_mm": 60.0}


def test_at_the_sag_it_was_measured_at_the_lock_changes_nothing() -> None:
    limits = launch_limits(MACHINE, 60.0, 0.8, **SAG)
    np.testing.assert_allclose(
        limits.acceleration_m_s2, launch_limit_m_s2(0.8, 1480.0, 700.0, 800.0), rtol=1e-12
    )


def test_the_lock_lowers_the_machine_as_the_same_fork_compression_does() -> None:
    locked = launch_limits(MACHINE, 130.0, 0.8, **SAG).attitude
    np.testing.assert_array_equal(locked, attitude(MACHINE, front_sag_change_mm=70.0))


@given(st.floats(0.0, 200.0), st.floats(0.3, 1.3))
def test_deeper_lifts_the_wheelie_limit_and_lowers_the_traction_limit(
    depth: float, grip: float
) -> None:
    here = launch_limits(MACHINE, depth, grip, **SAG)
    deeper = launch_limits(MACHINE, depth + 5.0, grip, **SAG)
    assert deeper.wheelie_limit_m_s2 > here.wheelie_limit_m_s2
    if here.traction_limit_m_s2 < here.wheelie_limit_m_s2:
        assert deeper.traction_limit_m_s2 < here.traction_limit_m_s2


@given(st.floats(0.80, 1.05), st.floats(0.0, 0.08))
def test_where_the_limits_meet_no_other_depth_accelerates_harder(
    grip: float, resistance: float
) -> None:
    rolling = {"rolling_resistance_coefficient": resistance}
    found = lock_depth_where_limits_meet(MACHINE, grip, 0.0, 250.0, **SAG, **rolling)
    depths = np.linspace(0.0, 250.0, 251)
    others = launch_limits(MACHINE, depths, grip, **SAG, **rolling)
    best = hardest_launch_depth_mm(found, 0.0, 250.0)
    here = launch_limits(MACHINE, best, grip, **SAG, **rolling)
    assert np.all(here.acceleration_m_s2 >= others.acceleration_m_s2 - 1e-9)
    if not np.isnan(found.depth_mm):
        np.testing.assert_allclose(here.wheelie_limit_m_s2, here.traction_limit_m_s2, rtol=1e-9)
        np.testing.assert_allclose(
            here.wheelie_limit_m_s2, 9.80665 * (grip - resistance), rtol=1e-9
        )


def test_where_the_limits_do_not_meet_the_reason_is_given() -> None:
    found = lock_depth_where_limits_meet(MACHINE, [0.4, 0.9, 1.6, np.nan], 60.0, 140.0, **SAG)
    assert np.isnan(found.depth_mm).tolist() == [True, False, True, True]
    assert found.wheelie_limit_always_above.tolist() == [True, False, False, False]
    assert found.wheelie_limit_always_below.tolist() == [False, False, True, False]
    best = hardest_launch_depth_mm(found, 60.0, 140.0)
    assert best[0] == 60.0
    assert best[2] == 140.0
    assert np.isnan(best[3])


def test_rows_equal_single_calls() -> None:
    grips = np.array([0.9, 0.95, 1.0])
    rows = lock_depth_where_limits_meet(MACHINE, grips, 40.0, 200.0, **SAG)
    for row, grip in enumerate(grips):
        single = lock_depth_where_limits_meet(MACHINE, grip, 40.0, 200.0, **SAG)
        np.testing.assert_allclose(rows.depth_mm[row], single.depth_mm, atol=1e-6)


def test_more_grip_wants_a_deeper_lock() -> None:
    """Common practice, no source: deep on concrete and grippy ground, shallow on slick."""
    found = lock_depth_where_limits_meet(MACHINE, [0.88, 0.92, 0.96, 1.0], 0.0, 250.0, **SAG)
    assert np.all(np.diff(found.depth_mm) > 0.0)


def test_a_rear_that_squats_stands_lower_and_further_back() -> None:
    """By hand: 30 mm over 1480 mm turns the frame by 0.0203 rad.

    The mass, then 440 mm above the axle, goes back 8.9 mm; the axle itself swings back by
    590 mm (cos 5.84 deg - cos 8.77 deg) = 3.8 mm, leaving 5.1 mm. It sinks by 30 mm times
    780/1480, 15.8 mm. What the small angle leaves out is below half a millimetre.
    """
    level = launch_limits(MACHINE, 60.0, 0.9, **SAG).attitude
    squat = launch_limits(MACHINE, 60.0, 0.9, **SAG, rear_squat_mm=30.0).attitude
    back = level.centre_of_mass_to_rear_axle_mm - squat.centre_of_mass_to_rear_axle_mm
    down = level.centre_of_mass_height_mm - squat.centre_of_mass_height_mm
    np.testing.assert_allclose([back, down], [5.1, 15.8], atol=0.5)


def test_weights_of_equal_accelerations_follow_the_square_root_of_distance() -> None:
    """s = a t^2 / 2: a quarter of the way takes half of the time."""
    weighted = start_grip(
        1.0,
        2.5,
        6.0,
        ground_grip_coefficient=0.6,
        ground_distance_m=7.5,
        ground_acceleration_m_s2=6.0,
    )
    np.testing.assert_allclose(weighted.gate_time_share, 0.5, rtol=1e-12)
    np.testing.assert_allclose(weighted.grip_coefficient, 0.8, rtol=1e-12)


@given(st.floats(0.2, 1.2), st.floats(0.2, 1.2), st.floats(0.0, 5.0), st.floats(0.1, 20.0))
def test_weighted_grip_lies_between_the_two(
    gate_grip: float, ground_grip: float, gate: float, ground: float
) -> None:
    weighted = start_grip(
        gate_grip,
        gate,
        9.8 * gate_grip,
        ground_grip_coefficient=ground_grip,
        ground_distance_m=ground,
        ground_acceleration_m_s2=9.8 * ground_grip,
    )
    low, high = min(gate_grip, ground_grip), max(gate_grip, ground_grip)
    assert low - 1e-12 <= weighted.grip_coefficient <= high + 1e-12


def test_depth_for_gate_and_ground_is_the_depth_for_their_weighted_grip() -> None:
    gate_and_ground = {
        "gate_grip_coefficient": np.array([1.05, 1.05, np.nan]),
        "gate_distance_m": np.array([1.0, 0.0, 1.0]),
        "ground_grip_coefficient": 0.9,
        "ground_distance_m": 10.0,
    }
    found, weighted = lock_depth_for_start(
        MACHINE, **gate_and_ground, depth_low_mm=0.0, depth_high_mm=250.0, **SAG
    )
    again = lock_depth_where_limits_meet(MACHINE, weighted.grip_coefficient, 0.0, 250.0, **SAG)
    np.testing.assert_array_equal(found.depth_mm, again.depth_mm)
    assert found.depth_mm[0] > found.depth_mm[1]
    np.testing.assert_allclose(weighted.grip_coefficient[1], 0.9, rtol=1e-12)
    assert np.isnan(found.depth_mm[2])


def test_a_range_the_wrong_way_round_is_refused() -> None:
    with pytest.raises(ImpossibleValue, match="high is above low"):
        lock_depth_where_limits_meet(MACHINE, 0.9, 140.0, 60.0, **SAG)
