"""Ratios, speeds and chain geometry against textbook examples and plane geometry."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from setupadvisor.errors import ImpossibleValue, OutsideValidRange
from setupadvisor.facts import drive

FRONTS = st.integers(10, 18)
REARS = st.integers(30, 70)
DISTANCES_MM = st.floats(500.0, 800.0)
RATIOS = st.floats(0.6, 4.0)


# 20 and 63 teeth over 36 pitches: a published design example quoting a handbook value, printed to
# 0.1 link. 17 and 34 over 25: Shigley example 17-5 (printed value from memory), to 0.01.
@pytest.mark.parametrize(
    ("pitches", "front", "rear", "links", "printed"),
    [(36.0, 20, 63, 114.8, 0.05), (25.0, 17, 34, 75.79, 0.005)],
)
def test_chain_length_is_that_of_published_examples(pitches, front, rear, links, printed):
    assert drive.chain_length_links(pitches, front, rear, 1.0) == pytest.approx(links, abs=printed)


# The same two examples the other way round; 25.104 is printed to 0.001.
@pytest.mark.parametrize(
    ("links", "front", "rear", "pitches", "printed"),
    [(114, 20, 63, 35.6, 0.05), (76, 17, 34, 25.104, 0.0005)],
)
def test_centre_distance_is_that_of_published_examples(links, front, rear, pitches, printed):
    assert drive.centre_distance_mm(links, front, rear, 1.0) == pytest.approx(pitches, abs=printed)


def test_centre_distance_of_a_motorcycle_chain():
    """114 links of 15.875 mm over 13 and 50: arithmetic from the formula, to rounding."""
    assert drive.centre_distance_mm(114, 13, 50) == pytest.approx(648.1016050271484, rel=1e-10)


def test_pitch_diameter_is_that_of_iso_606():
    """15.875 / sin(180/13 deg): arithmetic from ISO 606's formula (from memory), to rounding."""
    assert drive.pitch_diameter_mm(13) == pytest.approx(66.3349808181585, rel=1e-12)


def test_six_teeth_make_a_hexagon():
    assert drive.pitch_diameter_mm(6, 10.0) == pytest.approx(20.0)


@given(FRONTS, REARS, DISTANCES_MM)
def test_chain_length_agrees_with_tangents_to_the_pitch_circles(front, rear, distance_mm):
    """Plane geometry: two tangents and two wraps, each wrap in its sprocket's own teeth.

    The formula is the series of this, cut after its second term: a fiftieth of a link at most,
    0.2 mm of axle position.
    """
    sine = (drive.pitch_diameter_mm(rear) - drive.pitch_diameter_mm(front)) / (2 * distance_mm)
    angle = np.arcsin(sine)
    tangents = 2.0 * distance_mm * np.cos(angle) / drive.CHAIN_PITCH_MM
    wraps = front * (np.pi - 2 * angle) / (2 * np.pi) + rear * (np.pi + 2 * angle) / (2 * np.pi)
    assert drive.chain_length_links(distance_mm, front, rear) == pytest.approx(
        tangents + wraps, abs=0.02
    )


@given(FRONTS, REARS, DISTANCES_MM)
def test_centre_distance_undoes_chain_length(front, rear, distance_mm):
    links = drive.chain_length_links(distance_mm, front, rear)
    assert drive.centre_distance_mm(links, front, rear) == pytest.approx(distance_mm, rel=1e-12)


@given(FRONTS, st.integers(40, 60))
def test_two_links_more_move_the_axle_back_by_about_a_pitch(front, rear):
    step_mm = drive.centre_distance_mm(116, front, rear) - drive.centre_distance_mm(
        114, front, rear
    )
    assert drive.CHAIN_PITCH_MM < step_mm < 1.05 * drive.CHAIN_PITCH_MM


@given(FRONTS, REARS)
def test_equal_sprockets_need_no_correction(teeth, links_over):
    assert drive.centre_distance_mm(teeth + 2 * links_over, teeth, teeth, 1.0) == links_over


def test_a_chain_too_short_to_go_round_has_no_centre_distance():
    distance = drive.centre_distance_mm([30, 34, 114], 13, 50)
    assert np.isnan(distance).tolist() == [True, True, False]


def test_centre_distance_far_from_a_motorcycles_is_warned_about():
    with pytest.warns(OutsideValidRange, match="centre distance 4"):
        drive.chain_length_links(64.0, 13, 50)


def test_speed_of_a_worked_case():
    """6000 turns a minute through 10:1 are 10 turns a second of 2 pi 0.3 m: 18.85 m/s."""
    assert drive.overall_ratio(2.5, 1.0, 12, 48) == 10.0
    assert drive.speed_m_per_s(6000.0, 10.0, 300.0) == pytest.approx(10.0 * 2 * np.pi * 0.3)


@given(st.floats(2.0, 45.0), st.floats(1500.0, 14000.0), RATIOS, RATIOS, st.floats(250.0, 400.0))
def test_final_drive_for_a_speed_gives_that_speed(speed, engine_rpm, primary, gear, radius_mm):
    final_drive = drive.final_drive_for_speed(speed, engine_rpm, primary, gear, radius_mm)
    overall = primary * gear * final_drive
    assert drive.speed_m_per_s(engine_rpm, overall, radius_mm) == pytest.approx(speed)


def _wanted(straight_m_per_s, corner_m_per_s):
    return drive.final_drive_wanted(
        fastest_speed_m_per_s=straight_m_per_s,
        highest_engine_speed_rpm=10_000.0,
        top_gear_ratio=1.1,
        tightest_corner_speed_m_per_s=corner_m_per_s,
        lowest_useful_engine_speed_rpm=4_000.0,
        corner_gear_ratio=2.0,
        primary_ratio=2.8,
        rolling_radius_mm=330.0,
    )


@given(st.floats(10.0, 45.0), st.floats(2.0, 15.0))
def test_wanted_ratio_keeps_both_limits_or_says_that_none_does(straight, corner):
    wanted = _wanted(straight, corner)
    top_speed = drive.speed_m_per_s(10_000.0, 2.8 * 1.1 * wanted.wanted, 330.0)
    corner_rpm = corner / (2 * np.pi * 0.33) * 60 * 2.8 * 2.0 * wanted.wanted
    if wanted.in_conflict:
        assert top_speed < straight
        assert corner_rpm < 4_000.0
        assert wanted.for_straight < wanted.wanted < wanted.for_corner
    else:
        assert top_speed == pytest.approx(straight)
        assert corner_rpm >= 4_000.0 * (1 - 1e-12)


def test_with_one_speed_missing_the_other_decides_and_with_both_nothing_does():
    wanted = _wanted([27.0, np.nan, np.nan], [np.nan, 6.0, np.nan])
    assert wanted.wanted[0] == wanted.for_straight[0]
    assert wanted.wanted[1] == wanted.for_corner[1]
    assert np.isnan(wanted.wanted[2])
    assert not wanted.in_conflict.any()


def test_missing_teeth_or_ratio_stay_missing():
    assert np.isnan(drive.overall_ratio(2.8, np.nan, 13, 50))
    assert np.isnan(drive.centre_distance_mm([114, np.nan], 13, [np.nan, 50])).all()
    assert np.isnan(drive.chain_length_links(np.nan, 13, 50))
    assert np.isnan(drive.speed_m_per_s(9000.0, 16.0, np.nan))


def test_front_and_rear_swapped_into_a_ratio_of_nothing_is_refused():
    with pytest.raises(ImpossibleValue, match="front_teeth: 0 is impossible"):
        drive.overall_ratio(2.8, 1.5, 0, 50)
