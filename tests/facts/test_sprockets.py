"""The table of sprockets, chains and axle positions, and the choice from it."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from setupadvisor.errors import ImpossibleValue
from setupadvisor.facts import drive, sprockets

SLOT_FRONTS_MM = st.floats(560.0, 700.0)
SLOTS_MM = st.floats(0.0, 60.0)
FRONTS = st.lists(st.integers(11, 16), min_size=1, max_size=3, unique=True)
REARS = st.lists(st.integers(40, 58), min_size=1, max_size=6, unique=True)


@given(FRONTS, REARS, SLOT_FRONTS_MM, SLOTS_MM)
def test_each_rows_chain_is_taut_at_its_axle_position(fronts, rears, slot_front_mm, slot_mm):
    table = sprockets.sprocket_table(
        fronts, rears, slot_front_mm, slot_mm, links=range(100, 130, 2)
    )
    assert len(table.links) == len(fronts) * len(rears) * 15
    np.testing.assert_allclose(
        drive.chain_length_links(
            slot_front_mm + table.axle_position_mm, table.front_teeth, table.rear_teeth
        ),
        table.links,
        rtol=1e-12,
    )
    np.testing.assert_array_equal(
        table.fits, (table.axle_position_mm >= 0) & (table.axle_position_mm <= slot_mm)
    )


@given(FRONTS, REARS, SLOT_FRONTS_MM, SLOTS_MM)
def test_left_to_itself_it_finds_every_even_chain_that_fits(fronts, rears, slot_front_mm, slot_mm):
    """Against trying every even number from 60 to 200."""
    tried = sprockets.sprocket_table(fronts, rears, slot_front_mm, slot_mm, links=range(60, 200, 2))
    found = sprockets.sprocket_table(fronts, rears, slot_front_mm, slot_mm)

    def fitting(table):
        columns = (table.front_teeth, table.rear_teeth, table.links)
        return set(zip(*(column[table.fits].tolist() for column in columns), strict=True))

    assert fitting(found) == fitting(tried)
    assert set(found.links[found.fits]) == set(found.links)


@given(FRONTS, REARS, st.floats(2.8, 4.5), st.floats(0.0, 40.0))
def test_best_is_never_dearer_than_any_other_that_fits(fronts, rears, ratio, position_mm):
    table = sprockets.sprocket_table(fronts, rears, 630.0, 40.0)
    best, *others = sprockets.best_combinations(table, ratio, position_mm, how_many=10_000)
    assert len(others) + 1 == table.fits.sum()
    costs = [best.cost, *(other.cost for other in others)]
    assert costs == sorted(costs)
    expected = (
        np.abs(table.final_drive / ratio - 1) * 100
        + 0.2 * np.abs(table.axle_position_mm - position_mm)
    )[table.fits]
    np.testing.assert_allclose(costs, np.sort(expected), rtol=1e-9, atol=1e-9)
    assert drive.centre_distance_mm(
        best.links, best.front_teeth, best.rear_teeth
    ) - 630.0 == pytest.approx(best.axle_position_mm)
    assert best.final_drive == best.rear_teeth / best.front_teeth


def test_what_a_percent_and_a_millimetre_cost_decides_between_ratio_and_axle():
    table = sprockets.sprocket_table([13], [48, 49, 50, 51, 52], 630.0, 40.0)
    by_ratio, by_axle = (
        sprockets.best_combinations(
            table, 51 / 13, 3.0, ratio_cost_per_pct=percent, position_cost_per_mm=millimetre
        )[0]
        for percent, millimetre in ((1.0, 0.0), (0.0, 1.0))
    )
    assert by_ratio.rear_teeth == 51
    fitting = table.axle_position_mm[table.fits]
    assert abs(by_axle.position_error_mm) == np.abs(fitting - 3.0).min()
    assert by_axle.rear_teeth != 51


def test_runner_up_comes_with_its_own_errors_and_cost():
    table = sprockets.sprocket_table([13, 14], [48, 49, 50, 51], 640.0, 25.0)
    best, runner_up = sprockets.best_combinations(table, 3.8, 10.0)
    assert runner_up != best
    for choice in (best, runner_up):
        assert choice.cost == pytest.approx(
            abs(choice.ratio_error_pct) + 0.2 * abs(choice.position_error_mm)
        )
        assert choice.ratio_error_pct == pytest.approx((choice.final_drive / 3.8 - 1) * 100)
        assert choice.position_error_mm == pytest.approx(choice.axle_position_mm - 10.0)


@pytest.mark.parametrize("fronts", [[12, 13, 14], [14, 13, 12]])
def test_of_equally_good_ones_the_first_on_the_list_is_taken(fronts):
    """48/12, 52/13 and 56/14 are all 4:1."""
    table = sprockets.sprocket_table(fronts, range(40, 60), 630.0, 40.0)
    best = sprockets.best_combinations(table, 4.0, None)[0]
    assert (best.cost, best.front_teeth) == (0.0, fronts[0])


@pytest.mark.parametrize("no_wish", [None, float("nan")])
def test_without_a_wish_for_one_the_other_decides_and_its_error_is_missing(no_wish):
    table = sprockets.sprocket_table([13], [48, 49, 50], 630.0, 40.0)
    by_ratio = sprockets.best_combinations(table, 49 / 13, no_wish)[0]
    assert by_ratio.rear_teeth == 49
    assert by_ratio.cost == 0.0
    assert np.isnan(by_ratio.position_error_mm)
    by_axle = sprockets.best_combinations(table, no_wish, 12.0)[0]
    assert np.isnan(by_axle.ratio_error_pct)
    assert by_axle.cost == pytest.approx(0.2 * abs(by_axle.position_error_mm))
    assert sprockets.best_combinations(table, no_wish, no_wish) == []


def test_where_nothing_fits_nothing_is_chosen():
    table = sprockets.sprocket_table([13], [50], 640.0, 5.0, links=[114])
    assert not table.fits.any()
    assert sprockets.best_combinations(table, 3.8, 10.0) == []


def test_a_chain_too_short_to_go_round_is_listed_as_missing_and_not_fitting():
    table = sprockets.sprocket_table([13], [50], 640.0, 25.0, links=[30, 114])
    assert np.isnan(table.axle_position_mm).tolist() == [True, False]
    assert table.fits.tolist() == [False, True]


def test_with_the_slot_not_measured_nothing_is_said_to_fit():
    unknown = sprockets.sprocket_table([13], [50], np.nan, 25.0, links=[114])
    assert np.isnan(unknown.axle_position_mm).all()
    assert not unknown.fits.any()
    assert sprockets.sprocket_table([13], [50], 640.0, np.nan).fits.size == 0
    assert sprockets.best_combinations(unknown, 3.8, 10.0) == []


def test_a_worn_chain_sits_further_back():
    new, worn = (
        sprockets.sprocket_table([13], [50], 640.0, 25.0, links=[114], pitch_mm=pitch)
        for pitch in (15.875, 15.875 * 1.01)
    )
    # 1 % of the centre distance
    assert worn.axle_position_mm - new.axle_position_mm == pytest.approx(6.48, abs=0.01)


@pytest.mark.parametrize(
    ("given_as", "mend"),
    [
        ({"links": [115]}, "links: 115 is impossible; a chain without a cranked link"),
        ({"links": [114.5]}, "give whole links"),
        ({"front_teeth": [12.5]}, "give whole teeth"),
        ({"rear_teeth": [4]}, "give 5 teeth or more"),
        ({"slot_length_mm": -1.0}, "a slot is 0 mm or longer"),
        ({"slot_front_centre_distance_mm": 0.0}, "a centre distance is above 0 mm"),
    ],
)
def test_hardware_that_cannot_be_is_refused_with_the_mend(given_as, mend):
    arguments = {
        "front_teeth": [13],
        "rear_teeth": [50],
        "slot_front_centre_distance_mm": 640.0,
        "slot_length_mm": 25.0,
    }
    with pytest.raises(ImpossibleValue, match=mend):
        sprockets.sprocket_table(**(arguments | given_as))
