"""The rider's mass and the centre of mass of rider and machine."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from setupadvisor.errors import ImpossibleValue
from setupadvisor.facts.rider_position import (
    CentreOfMass,
    combined_centre_of_mass,
    machine_centre_of_mass,
    seated_rider,
    standing_rider,
)

PEGS = {"footpeg_to_rear_axle_mm": 560.0, "footpeg_height_mm": 380.0}
SEAT = {"seat_to_rear_axle_mm": 560.0, "seat_height_mm": 900.0}


def test_two_equal_masses_meet_half_way() -> None:
    both = combined_centre_of_mass(
        CentreOfMass(np.array(400.0), np.array(500.0), np.array(90.0)),
        CentreOfMass(np.array(600.0), np.array(1100.0), np.array(90.0)),
    )
    assert [float(value) for value in both] == [500.0, 800.0, 180.0]


@given(st.floats(60.0, 150.0), st.floats(40.0, 120.0))
def test_together_they_weigh_on_the_rear_axle_what_they_weigh_apart(
    machine_kg: float, rider_kg: float
) -> None:
    machine = machine_centre_of_mass(machine_kg, 0.49, 1480.0, 520.0)
    rider = seated_rider(rider_kg, 1780.0, **SEAT, **PEGS)
    both = combined_centre_of_mass(machine, rider)
    moment = machine_kg * machine.to_rear_axle_mm + rider_kg * rider.to_rear_axle_mm
    np.testing.assert_allclose(both.mass_kg * both.to_rear_axle_mm, moment, rtol=1e-12)
    assert machine.height_mm < both.height_mm < rider.height_mm


def test_a_machine_without_a_rider_keeps_its_own_centre_of_mass() -> None:
    machine = machine_centre_of_mass(112.0, 0.49, 1480.0, 520.0)
    nobody = CentreOfMass(np.array(0.0), np.array(0.0), np.array(0.0))
    both = combined_centre_of_mass(machine, nobody)
    assert [float(value) for value in both] == [float(value) for value in machine]


def test_a_rider_stretched_out_upright_has_the_centre_of_mass_of_a_standing_person() -> None:
    """Stretched legs and trunk upright: 0.53 to 0.58 of stature above the ground.

    Whole-body centre of mass of a standing adult is about 0.55 to 0.57 of stature (anatomy
    texts, from memory); the segments, with the arms counted at the trunk's, allow the margin.
    """
    stature, hip_above_sole = 1000.0, 0.045 + 0.245 + 0.246
    rider = seated_rider(
        80.0,
        stature,
        seat_to_rear_axle_mm=0.0,
        seat_height_mm=(hip_above_sole - 0.045) * stature,
        footpeg_to_rear_axle_mm=0.0,
        footpeg_height_mm=0.0,
        lean_deg=0.0,
    )
    np.testing.assert_allclose(rider.to_rear_axle_mm, 0.0, atol=1e-3 * stature)
    assert 0.53 < rider.height_mm / stature < 0.60


@given(st.floats(1500.0, 2000.0))
def test_standing_is_higher_than_sitting_and_a_taller_rider_is_higher(stature: float) -> None:
    seated = seated_rider(85.0, stature, **SEAT, **PEGS)
    standing = standing_rider(85.0, stature, **PEGS)
    assert standing.height_mm > seated.height_mm
    assert standing_rider(85.0, stature + 10.0, **PEGS).height_mm > standing.height_mm


@given(st.floats(0.0, 60.0))
def test_leaning_forward_moves_the_mass_forward_and_down(lean: float) -> None:
    upright = seated_rider(85.0, 1780.0, **SEAT, **PEGS, lean_deg=lean)
    leaning = seated_rider(85.0, 1780.0, **SEAT, **PEGS, lean_deg=lean + 5.0)
    assert leaning.to_rear_axle_mm > upright.to_rear_axle_mm
    assert leaning.height_mm < upright.height_mm


def test_missing_values_pass_and_impossible_ones_are_refused() -> None:
    rows = seated_rider(85.0, [1700.0, np.nan], **SEAT, **PEGS)
    assert np.isnan(rows.height_mm).tolist() == [False, True]
    assert rows.height_mm[0] == seated_rider(85.0, 1700.0, **SEAT, **PEGS).height_mm
    with pytest.raises(ImpossibleValue, match="mass_kg"):
        seated_rider(0.0, 1780.0, **SEAT, **PEGS)
    with pytest.raises(ImpossibleValue, match="front_share"):
        machine_centre_of_mass(112.0, 49.0, 1480.0, 520.0)
