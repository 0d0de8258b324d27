"""Clutch torque and heat against textbook examples and plain mechanics."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from setupadvisor.errors import ImpossibleValue
from setupadvisor.facts import clutch

FORCES_N = st.floats(100.0, 5000.0)
FRICTIONS = st.floats(0.05, 0.5)
INNER_MM = st.floats(20.0, 150.0)
RINGS_MM = st.floats(1.0, 100.0)
FACES = st.integers(1, 20)

INCH_MM = 25.4
POUND_FORCE_N = 4.4482216152605
POUND_INCH_NM = POUND_FORCE_N * INCH_MM / 1000
PSI_MPA = POUND_FORCE_N / INCH_MM**2


def test_torque_of_one_face_is_that_of_a_published_example():
    """Published clutch problem, uniform wear: 5000 N, f 0.25, 300 and 225 mm: 164.063 N m."""
    assert clutch.torque_capacity_nm(5000.0, 0.25, 300.0, 225.0, 1) == pytest.approx(
        164.063, rel=1e-5
    )


def test_multi_plate_torque_is_that_of_shigleys_problem():
    """Shigley problem 16-16 (printed values from memory): 1885 lbf, 7125 lbf in, six planes.

    The torque follows from the unrounded force pi p d (D - d)/2 at 120 psi; printed to 4 digits.
    """
    force_lbf = np.pi * 120.0 * 4.0 * (6.5 - 4.0) / 2.0
    assert force_lbf == pytest.approx(1885.0, rel=2e-4)
    torque_nm = clutch.torque_capacity_nm(
        force_lbf * POUND_FORCE_N, 0.24, 6.5 * INCH_MM, 4.0 * INCH_MM, 6
    )
    assert torque_nm / POUND_INCH_NM == pytest.approx(7125.0, rel=1e-4)


def test_clamp_force_of_a_published_multi_disk_clutch_holds_its_torque():
    """Juvinall & Marshek, multi-disk dry clutch: 6 hp at 200 rpm, safety 2, f 0.2, 7 and 5 in.

    Published answer: 3 disks (hence 2 faces) and 3150 lbf. Printed to 3 digits: 0.2 %.
    """
    torque_nm = 2.0 * 6.0 * 745.7 / (200.0 * np.pi / 30.0)
    capacity_nm = clutch.torque_capacity_nm(
        3150.0 * POUND_FORCE_N, 0.2, 7.0 * INCH_MM, 5.0 * INCH_MM, 2
    )
    assert capacity_nm == pytest.approx(torque_nm, rel=2e-3)


def test_uniform_pressure_adds_up_over_the_lining_of_a_published_example():
    """Published clutch problem: 5000 N on 300 and 225 mm press with 161681 Pa all over.

    Friction moment summed over thin rings. The example took 3.14 for pi: 0.05 %.
    """
    edges_m = np.linspace(0.1125, 0.15, 20_001)
    radius_m = (edges_m[1:] + edges_m[:-1]) / 2.0
    moment_nm = np.sum(0.25 * 161_681.0 * 2.0 * np.pi * radius_m**2 * np.diff(edges_m))
    assert clutch.torque_capacity_new_plates_nm(5000.0, 0.25, 300.0, 225.0, 1) == pytest.approx(
        moment_nm, rel=6e-4
    )


@given(FORCES_N, FRICTIONS, INNER_MM, RINGS_MM, FACES)
def test_uniform_wear_is_the_cautious_assumption(force_n, friction, inner_mm, ring_mm, faces):
    """A ring holds at least as much under uniform pressure; a narrow one nearly the same."""
    worn = clutch.torque_capacity_nm(force_n, friction, inner_mm + ring_mm, inner_mm, faces)
    new = clutch.torque_capacity_new_plates_nm(
        force_n, friction, inner_mm + ring_mm, inner_mm, faces
    )
    assert worn * (1.0 - 1e-12) <= new
    # the two arms differ by (D - d)^2 / (12 (D + d)) of diameters
    assert new / worn - 1.0 == pytest.approx(
        ring_mm**2 / (3.0 * (2.0 * inner_mm + ring_mm) ** 2), abs=1e-12
    )


def test_springs_work_in_parallel_and_each_lined_plate_has_two_faces():
    assert clutch.spring_clamp_force_n(25.0, 12.0, 6) == 6 * 25.0 * 12.0
    assert clutch.friction_faces([1, 8]).tolist() == [2.0, 16.0]


@given(st.floats(1.0, 300.0), st.floats(1.0, 4.0))
def test_margin_is_gone_when_the_clutch_just_holds(engine_nm, primary_ratio):
    at_clutch_nm = engine_nm * primary_ratio
    assert clutch.torque_margin_pct(at_clutch_nm, engine_nm, primary_ratio) == 0.0
    assert clutch.torque_margin_pct(1.5 * at_clutch_nm, engine_nm, primary_ratio) == pytest.approx(
        50.0
    )
    assert clutch.torque_margin_pct(0.9 * at_clutch_nm, engine_nm, primary_ratio) < 0.0


def test_engagement_heat_is_shigleys():
    """Shigley ch. 16: I1 I2 (w1 - w2)^2 / (2 (I1 + I2)), arithmetic, so to rounding."""
    assert clutch.engagement_heat_j(0.02, 0.5, 500.0, 100.0) == pytest.approx(
        1538.4615384615383, rel=1e-12
    )


INERTIAS = st.floats(0.005, 2.0)
SPEEDS = st.floats(0.0, 1200.0)


@given(INERTIAS, INERTIAS, SPEEDS, SPEEDS)
def test_engagement_heat_is_the_kinetic_energy_that_goes_missing(driving, driven, w1, w2):
    """Momentum stays: both end at the common speed, and what energy is gone became heat."""
    common = (driving * w1 + driven * w2) / (driving + driven)
    before = driving * w1**2 / 2 + driven * w2**2 / 2
    lost = before - (driving + driven) * common**2 / 2
    assert clutch.engagement_heat_j(driving, driven, w1, w2) == pytest.approx(
        lost, abs=1e-9 * (before + 1.0)
    )


@given(INERTIAS, INERTIAS, SPEEDS, SPEEDS, st.floats(5.0, 300.0))
def test_summing_torque_and_slip_gives_the_same_heat_as_the_closed_formula(
    driving, driven, w1, w2, torque_nm
):
    """Constant torque, so slip falls in a straight line to zero and the trapezium is exact."""
    end_s = abs(w1 - w2) / (torque_nm * (1.0 / driving + 1.0 / driven))
    sign = np.sign(w1 - w2)
    time_s = np.linspace(0.0, end_s, 7)
    heat_j = clutch.start_heat_j(
        time_s,
        torque_nm,
        w1 - sign * torque_nm / driving * time_s,
        w2 + sign * torque_nm / driven * time_s,
    )
    closed_j = clutch.engagement_heat_j(driving, driven, w1, w2)
    assert heat_j == pytest.approx(closed_j, rel=1e-9, abs=1e-6)


def test_machine_seen_from_the_clutch_has_the_same_kinetic_energy():
    speed_m_per_s, radius_m, ratio = 12.0, 0.33, 6.7
    clutch_rad_per_s = speed_m_per_s / radius_m * ratio
    inertia = clutch.machine_inertia_at_clutch_kg_m2(185.0, radius_m * 1000, ratio)
    assert inertia * clutch_rad_per_s**2 == pytest.approx(185.0 * speed_m_per_s**2)


def test_several_starts_are_summed_each_for_itself():
    time_s = np.array([[0.0, 0.5, 1.0], [0.0, 1.0, 2.0]])
    both = clutch.start_heat_j(time_s, 50.0, 300.0, [0.0, 150.0, 300.0])
    assert both.shape == (2,)
    assert both[1] == pytest.approx(2.0 * both[0])
    assert both[0] == clutch.start_heat_j(time_s[0], 50.0, 300.0, [0.0, 150.0, 300.0])


def test_missing_values_and_a_lone_sample_give_missing_heat_and_torque():
    assert np.isnan(clutch.start_heat_j([0.0, 1.0], [50.0, np.nan], 300.0, 0.0))
    assert np.isnan(clutch.start_heat_j([0.0], [50.0], [300.0], [0.0]))
    torque = clutch.torque_capacity_nm([1800.0, np.nan], 0.12, 150.0, 120.0, [16, 16])
    assert np.isnan(torque).tolist() == [False, True]
    assert np.isnan(clutch.torque_margin_pct(200.0, np.nan, 2.8))


def test_rings_inside_out_and_time_running_back_are_refused():
    with pytest.raises(ImpossibleValue, match="outer diameter is larger"):
        clutch.torque_capacity_nm(1800.0, 0.12, 120.0, 150.0, 16)
    with pytest.raises(ImpossibleValue, match="in order of time"):
        clutch.start_heat_j([0.0, 2.0, 1.0], 50.0, 300.0, 0.0)
