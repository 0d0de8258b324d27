"""Attitude on the ground: rake, trail, wheelbase, weight split."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from setupadvisor.errors import ImpossibleValue
from setupadvisor.facts.geometry import (
    Attitude,
    ReferenceGeometry,
    attitude,
    fork_offset_mm,
    front_sag_change_for_lean_mm,
    normal_trail_mm,
    rear_ride_height_change_mm,
    trail_mm,
)

MACHINE = ReferenceGeometry(27.0, 1480.0, 48.0, 340.0, 330.0, 590.0, 420.0, 700.0, 650.0)
small = st.floats(-25.0, 25.0)


def test_normal_trail_of_the_benchmark_bicycle() -> None:
    """Meijaard, Papadopoulos, Ruina, Schwab 2007: c = 0.08 m, lambda = pi/10 (from memory).

    c cos(lambda) = 0.07608452130361229 m, exact arithmetic.
    """
    np.testing.assert_allclose(normal_trail_mm(80.0, 18.0), 76.08452130361229, rtol=1e-12)


def test_the_benchmark_bicycle_stands_as_published_when_nothing_is_changed() -> None:
    """Same paper: w = 1.02 m, rF = 0.35 m, rR = 0.3 m; its trail comes out of the attitude."""
    offset = fork_offset_mm(80.0, 18.0, 350.0)
    stands = attitude(ReferenceGeometry(18.0, 1020.0, offset, 350.0, 300.0))
    np.testing.assert_allclose(stands.trail_mm, 80.0, rtol=1e-12)
    np.testing.assert_allclose(stands.normal_trail_mm, 76.08452130361229, rtol=1e-12)
    np.testing.assert_allclose(stands.wheelbase_mm, 1020.0, rtol=1e-12)


def test_without_changes_the_motorcycle_stands_as_measured() -> None:
    stands = attitude(MACHINE)
    np.testing.assert_allclose(
        [
            stands.rake_deg,
            stands.wheelbase_mm,
            stands.centre_of_mass_to_rear_axle_mm,
            stands.centre_of_mass_height_mm,
            stands.front_weight_share,
            stands.swingarm_angle_deg,
        ],
        [27.0, 1480.0, 700.0, 650.0, 700.0 / 1480.0, np.degrees(np.arcsin(90.0 / 590.0))],
        rtol=1e-12,
    )
    np.testing.assert_allclose(stands.pitch_change_deg, 0.0, atol=1e-12)


def _by_construction(raised: float, ride_height: float, axle: float, clamp: float) -> list[float]:
    """The same by another road: complex numbers in the frame, ground found by bisection."""
    rake = np.radians(27.0)
    forward_square = np.exp(1j * rake)
    down_the_fork = -1j * forward_square
    front = 1480.0 + 340.0j - raised * down_the_fork + clamp * forward_square
    pivot = np.sqrt(590.0**2 - 90.0**2) + 420.0j
    drop = 90.0 + ride_height
    along = (np.sqrt(590.0**2 - drop**2) + 1j * drop) / 590.0
    rear = pivot - (590.0 + axle) * along
    low, high = -0.5, 0.5
    for _ in range(80):
        turn = (low + high) / 2.0
        turned = np.exp(1j * turn)
        gap = (front * turned).imag - 340.0 - ((rear * turned).imag - 330.0)
        low, high = (turn, high) if gap < 0.0 else (low, turn)
    turned = np.exp(1j * turn)
    ground = (rear * turned).imag - 330.0
    mass = (700.0 + 650.0j) * turned
    axis_point = (front - (48.0 + clamp) * forward_square) * turned
    axis = down_the_fork * turned
    meets = axis_point + axis * (ground - axis_point.imag) / axis.imag
    return [
        27.0 + np.degrees(turn),
        meets.real - (front * turned).real,
        ((front - rear) * turned).real,
        mass.imag - ground,
        mass.real - (rear * turned).real,
        np.degrees(np.angle(along * turned)),
    ]


@given(small, small, st.floats(-20.0, 40.0), st.floats(-4.0, 4.0))
def test_changes_together_agree_with_a_construction_on_paper(
    raised: float, ride_height: float, axle: float, clamp: float
) -> None:
    got = attitude(
        MACHINE,
        fork_height_change_mm=raised,
        rear_ride_height_change_mm=ride_height,
        axle_position_change_mm=axle,
        clamp_offset_change_mm=clamp,
    )
    np.testing.assert_allclose(
        [
            got.rake_deg,
            got.trail_mm,
            got.wheelbase_mm,
            got.centre_of_mass_height_mm,
            got.centre_of_mass_to_rear_axle_mm,
            got.swingarm_angle_deg,
        ],
        _by_construction(raised, ride_height, axle, clamp),
        rtol=1e-9,
    )


@given(st.floats(0.5, 25.0))
def test_the_trades_directions_hold(change: float) -> None:
    """Common practice, no source: what each change does to rake, trail and wheelbase."""
    before = attitude(MACHINE)
    raised = attitude(MACHINE, fork_height_change_mm=change)
    assert raised.rake_deg < before.rake_deg
    assert raised.trail_mm < before.trail_mm
    assert raised.wheelbase_mm < before.wheelbase_mm
    assert raised.front_weight_share > before.front_weight_share
    back = attitude(MACHINE, axle_position_change_mm=change)
    assert back.wheelbase_mm > before.wheelbase_mm
    assert back.front_weight_share > before.front_weight_share
    higher = attitude(MACHINE, rear_ride_height_change_mm=change)
    assert higher.rake_deg < before.rake_deg
    assert higher.swingarm_angle_deg > before.swingarm_angle_deg
    assert higher.centre_of_mass_height_mm > before.centre_of_mass_height_mm
    offset = attitude(MACHINE, clamp_offset_change_mm=change / 5.0)
    assert offset.trail_mm < before.trail_mm


@given(small)
def test_more_front_sag_is_the_same_as_raising_the_tubes(change: float) -> None:
    np.testing.assert_array_equal(
        attitude(MACHINE, front_sag_change_mm=change),
        attitude(MACHINE, fork_height_change_mm=change),
    )


@given(small)
def test_both_wheels_bigger_alike_lift_the_machine_and_turn_nothing(change: float) -> None:
    bigger = attitude(
        MACHINE, front_wheel_radius_change_mm=change, rear_wheel_radius_change_mm=change
    )
    np.testing.assert_allclose(bigger.rake_deg, 27.0, rtol=1e-12)
    np.testing.assert_allclose(bigger.wheelbase_mm, 1480.0, rtol=1e-12)
    np.testing.assert_allclose(bigger.centre_of_mass_height_mm, 650.0 + change, rtol=1e-12)


@given(st.floats(15.0, 35.0), st.floats(280.0, 360.0), st.floats(0.0, 70.0))
def test_offset_and_trail_belong_to_each_other(rake: float, radius: float, offset: float) -> None:
    trail = trail_mm(rake, radius, offset)
    np.testing.assert_allclose(fork_offset_mm(trail, rake, radius), offset, atol=1e-9)


def test_a_longer_shock_raises_the_rear_by_its_change_over_the_motion_ratio() -> None:
    np.testing.assert_allclose(rear_ride_height_change_mm(4.0, 0.4), 10.0, rtol=1e-12)
    np.testing.assert_allclose(rear_ride_height_change_mm(0.0, 0.4, 5.0), -5.0, rtol=1e-12)


def test_without_a_swingarm_measured_the_fork_still_gives_the_rake() -> None:
    partial = ReferenceGeometry(27.0, 1480.0, 48.0, 340.0, 330.0)
    front = attitude(partial, fork_height_change_mm=5.0)
    full = attitude(MACHINE, fork_height_change_mm=5.0)
    np.testing.assert_allclose(front.rake_deg, full.rake_deg, rtol=1e-12)
    assert np.isnan(front.swingarm_angle_deg)
    assert np.isnan(front.centre_of_mass_height_mm)
    assert np.isnan(attitude(partial, rear_ride_height_change_mm=5.0).rake_deg)


def test_missing_changes_stay_missing_and_rows_equal_single_calls() -> None:
    changes = np.array([5.0, np.nan, -10.0])
    rows = attitude(MACHINE, fork_height_change_mm=changes, rear_ride_height_change_mm=3.0)
    single = attitude(MACHINE, fork_height_change_mm=-10.0, rear_ride_height_change_mm=3.0)
    for name in Attitude._fields:
        column = np.broadcast_to(getattr(rows, name), 3)
        np.testing.assert_allclose(column[2], getattr(single, name), rtol=1e-14)
        assert np.isnan(column[1])


def test_what_cannot_be_built_is_refused() -> None:
    with pytest.raises(ImpossibleValue, match="swingarm"):
        attitude(MACHINE, rear_ride_height_change_mm=600.0)
    with pytest.raises(ImpossibleValue, match="rake_deg"):
        attitude(MACHINE._replace(rake_deg=-3.0))
    with pytest.raises(ImpossibleValue, match="wheelbase_mm"):
        attitude(MACHINE._replace(wheelbase_mm=0.0))


@given(st.floats(0.5, 1.6), st.floats(-40.0, 40.0))
def test_the_fork_compression_for_a_lean_gives_that_lean_back(lean: float, squat: float) -> None:
    """The forward geometry is the check: exact up to rounding."""
    rear = {"rear_ride_height_change_mm": -squat}
    change = front_sag_change_for_lean_mm(MACHINE, lean, **rear)
    stands = attitude(MACHINE, front_sag_change_mm=change, **rear)
    np.testing.assert_allclose(
        stands.centre_of_mass_to_rear_axle_mm / stands.centre_of_mass_height_mm, lean, rtol=1e-9
    )


def test_a_lean_that_no_extension_gives_is_infinite_and_a_missing_one_missing() -> None:
    change = front_sag_change_for_lean_mm(MACHINE, [-2.0, np.nan])
    assert change[0] == -np.inf
    assert np.isnan(change[1])
