"""Comparing two setups: the record it gives, its doubts, and what it refuses."""

from __future__ import annotations

import json
import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from setupadvisor.entries.lap_runs import table_of
from setupadvisor.errors import InputError
from setupadvisor.learning.lap_cleaning import clean
from setupadvisor.learning.laps import MOST_FURTHER_RUNS, compare, further_runs
from tests.learning.lap_days import one_day, one_season

SLOW = [91.2, 90.6, 91.0, 90.7, 91.4, 90.9]
QUICK = [90.3, 90.8, 90.1, 90.6, 90.0, 90.4]


def days(draw, pattern="ABBA"):
    return one_day(np.random.default_rng(draw), pattern, 6, -0.3, dirty=True)


def test_six_laps_a_side_give_a_wide_honest_interval():
    """The laps alone would put the difference within 0.2 s; the runs of one side are but one."""
    found = compare(table_of([("A", SLOW), ("B", QUICK)], start_h=[10.0, 10.4]), "A", "B")
    assert found.difference_s == pytest.approx(np.mean(QUICK) - np.mean(SLOW), abs=0.05)
    error_of_laps = math.sqrt((np.var(SLOW, ddof=1) + np.var(QUICK, ddof=1)) / 6)
    assert found.high_s - found.low_s > 2 * 2 * 1.28 * error_of_laps
    assert any("One run only with A and with B" in doubt for doubt in found.doubts)
    assert any("A was ridden before B" in doubt for doubt in found.doubts)


def test_laps_of_other_setups_change_nothing():
    runs = [("A", SLOW), ("B", QUICK), ("A", SLOW)]
    begins = [10.0, 10.4, 10.8]
    plain = compare(table_of(runs, start_h=begins), "A", "B")
    more = table_of([*runs, ("C", [80.0, 81.0, 80.4])], start_h=[*begins, 11.2])
    among = compare(more, "A", "B")
    assert among == plain


@settings(deadline=None, max_examples=25)
@given(st.integers(0, 10**6))
def test_the_other_way_round_everything_is_the_other_way_round(draw):
    table = days(draw)
    one, other = compare(table, "A", "B"), compare(table, "B", "A")
    assert other.difference_s == pytest.approx(-one.difference_s, abs=1e-6)
    assert (other.low_s, other.high_s) == pytest.approx((-one.high_s, -one.low_s), abs=1e-6)
    assert other.probability_better == pytest.approx(1.0 - one.probability_better, abs=1e-6)
    assert (other.first, other.second) == (one.second, one.first)
    assert (other.settled, other.further_runs) == (one.settled, one.further_runs)


@settings(deadline=None, max_examples=25)
@given(st.integers(0, 10**6), st.floats(-3.0, 3.0))
def test_a_setup_slower_by_so_much_moves_the_difference_by_so_much(draw, more_s):
    """Without cleaning in the way: laps that count are the same in both tables."""
    random = np.random.default_rng(draw)
    runs = [(setup, 90.0 + random.normal(0, 0.5, 6)) for setup in "ABBA"]
    moved = [(setup, laps + more_s * (setup == "B")) for setup, laps in runs]
    begins = [9.0, 9.5, 10.0, 10.5]
    one = compare(table_of(runs, start_h=begins), "A", "B", robust=False)
    other = compare(table_of(moved, start_h=begins), "A", "B", robust=False)
    if (one.first.laps, one.second.laps) == (other.first.laps, other.second.laps):
        # The floor of the spread is a share of the lap and moves with it, by 3 % at most.
        assert other.difference_s - one.difference_s == pytest.approx(more_s, abs=0.02)


@settings(deadline=None, max_examples=25)
@given(st.integers(0, 10**6), st.floats(0.55, 0.99))
def test_interval_probability_and_settled_agree(draw, level):
    found = compare(days(draw), "A", "B", level=level)
    assert found.low_s < found.difference_s < found.high_s
    assert found.settled == (found.low_s > 0 or found.high_s < 0)
    tail = (1.0 - level) / 2.0
    assert (found.probability_better > 1.0 - tail) == (found.high_s < 0)
    assert (found.probability_better < tail) == (found.low_s > 0)
    assert (found.further_runs == 0) == found.settled


def test_a_higher_level_has_a_wider_interval():
    table = days(5)
    widths = [
        found.high_s - found.low_s
        for found in (compare(table, "A", "B", level=level) for level in (0.5, 0.8, 0.95))
    ]
    assert widths == sorted(widths)


def test_a_track_that_slows_steadily_favours_nobody_in_a_b_b_a():
    """2 s an hour over the day, and no difference: the error without drift would be 0.8 s."""
    random = np.random.default_rng(3)
    begins = [9.0, 9.4, 9.8, 10.2]

    def laps(begin):
        return 90.0 + 2.0 * (begin - 9.0) + random.normal(0.0, 0.2, 6)

    found = compare(
        table_of([(s, laps(h)) for s, h in zip("ABBA", begins, strict=True)], start_h=begins),
        "A",
        "B",
    )
    assert found.low_s < 0 < found.high_s
    assert abs(found.difference_s) < 0.2
    assert found.drift_s_per_hour == pytest.approx(2.0, abs=0.5)


def test_riders_are_allowed_for():
    """The slow rider rides B more often; the raw mean would call B slower by a second."""
    random = np.random.default_rng(8)
    runs, riders = [], []
    for rider, level, pattern in (("north", 90.0, "AAB"), ("south", 94.0, "ABB")):
        for setup in pattern:
            runs.append((setup, level - 0.5 * (setup == "B") + random.normal(0.0, 0.1, 6)))
            riders.append(rider)
    found = compare(table_of(runs, rider=riders), "A", "B")
    assert found.second.typical_s > found.first.typical_s
    assert found.difference_s == pytest.approx(-0.5, abs=0.1)
    assert found.blocks == 2


@pytest.mark.parametrize(
    "where", [{"rider": ["north", "south"]}, {"day": ["one", "two"]}], ids=["riders", "days"]
)
def test_different_riders_or_days_only_cannot_be_compared(where):
    found = compare(table_of([("A", SLOW), ("B", QUICK)], **where), "A", "B")
    assert not found.known
    assert math.isnan(found.probability_better)
    assert not found.settled
    assert found.further_runs is None
    assert len(found.doubts) == 1
    assert "No rider rode both A and B on one day" in found.doubts[0]


def test_too_few_laps_cannot_tell():
    found = compare(table_of([("A", [90.0, 90.4]), ("B", [90.1])]), "A", "B")
    assert not found.known
    assert "There are too few laps to tell the setup from chance." in found.doubts


def test_a_setup_whose_laps_are_all_set_aside_cannot_be_compared():
    found = compare(table_of([("A", SLOW), ("B", [math.nan, math.nan])]), "A", "B")
    assert not found.known
    assert found.doubts == ("No lap with B counts: nothing can be compared.",)
    assert math.isnan(found.second.best_s)


def test_doubts_name_falls_that_the_lap_times_do_not_show():
    falls = [90.1, 101.0, 90.4, 104.0, 90.2, 99.0, 90.3, 90.0]
    found = compare(table_of([("A", SLOW), ("B", falls), ("A", SLOW)]), "A", "B")
    assert any("fall or stop" in doubt and "3 of 8" in doubt for doubt in found.doubts)


def test_doubts_name_riders_with_one_setup_only_and_missing_clocks():
    table = table_of(
        [("A", SLOW), ("B", QUICK), ("A", SLOW), ("B", QUICK)],
        rider=["north", "north", "north", "south"],
    )
    said = " ".join(compare(table, "A", "B").doubts)
    assert "6 laps (south)" in said
    assert "No times of day" in said


def test_a_sound_test_leaves_no_doubt():
    table = table_of(
        [("A", SLOW), ("B", QUICK), ("B", QUICK), ("A", SLOW)], start_h=[9.0, 9.4, 9.8, 10.2]
    )
    assert compare(table, "A", "B").doubts == ()


def test_laps_that_are_all_the_same_have_no_difference_and_a_narrow_interval():
    table = table_of([("A", [90.0] * 6), ("B", [90.0] * 6), ("A", [90.0] * 6)])
    found = compare(table, "A", "B")
    assert found.difference_s == pytest.approx(0.0, abs=1e-6)
    assert -0.1 < found.low_s < 0 < found.high_s < 0.1


def test_unknown_setups_are_refused_together_with_the_near_ones():
    with pytest.raises(InputError) as refusal:
        compare(table_of([("stiff", SLOW), ("soft", QUICK)]), "stif", "harder")
    assert [str(mistake) for mistake in refusal.value.mistakes] == [
        "laps: no lap has the setup 'stif'; did you mean stiff?",
        "laps: no lap has the setup 'harder'; ridden: stiff, soft",
    ]


def test_a_setup_is_not_compared_with_itself():
    with pytest.raises(InputError, match="compared with itself; name two setups"):
        compare(table_of([("A", SLOW)]), "A", "A")


def test_a_cleaned_table_may_be_used_again():
    table = days(9)
    assert compare(clean(table), "A", "B") == compare(table, "A", "B")


def test_json_is_plain_and_unknown_is_null():
    unknown = compare(table_of([("A", SLOW), ("B", QUICK)], day=["one", "two"]), "A", "B")
    for found in (compare(days(2), "A", "B"), unknown):
        text = json.dumps(found.to_json(), allow_nan=False)
        assert json.loads(text)["first"]["setup"] == "A"
    assert unknown.to_json()["difference_s"] is None


def test_further_runs_add_their_precision_until_the_interval_leaves_out_nothing():
    """By hand: 1/se^2 is (2 * 1.2816 / 1.2)^2 = 4.56 now and must be (1.2816 / 0.3)^2 = 18.25.

    Each run a side adds 1 / (2 * 0.3) = 1.67, so 8.2 runs: 9.
    """
    assert further_runs(-0.3, 1.2, 0.8, 0.3) == 9
    assert further_runs(0.3, 1.2, 0.8, 0.3) == 9


def test_a_difference_that_is_next_to_nothing_is_not_chased():
    assert further_runs(0.0, 1.0, 0.8, 0.3) is None
    assert further_runs(-0.01, 1.0, 0.8, 0.3) is None
    assert further_runs(-0.2, 1.0, 0.8, 0.3) <= MOST_FURTHER_RUNS


def test_the_further_runs_do_settle_it_as_long_as_the_difference_stays():
    """Ridden in turn, at the same difference. Not so with one: it is no number out of caution."""
    quicker = [lap - 0.15 for lap in SLOW]

    def after(further):
        pattern = "ABA" + "BA" * further
        runs = [(setup, SLOW if setup == "A" else quicker) for setup in pattern]
        begins = [9.0 + 0.4 * number for number in range(len(runs))]
        return compare(table_of(runs, start_h=begins), "A", "B", robust=False)

    now = after(0)
    assert now.further_runs is not None
    assert now.further_runs > 2
    assert after(now.further_runs).settled
    assert not after(1).settled


def test_what_the_laps_taught_is_carried_on_for_plans():
    few = compare(days(4, "AB"), "A", "B").expected
    many = compare(one_season(np.random.default_rng(5), 12, 0.0), "A", "B").expected
    assert many.run_factor < few.run_factor


@settings(deadline=None, max_examples=150)
@given(
    st.lists(
        st.tuples(
            st.sampled_from("AB"),
            st.lists(
                st.one_of(st.just(math.nan), st.just(90.0), st.floats(0.001, 86_400.0)),
                min_size=1,
                max_size=5,
            ),
            st.sampled_from(["north", "south"]),
            st.sampled_from(["one", "two"]),
            st.one_of(st.just(math.nan), st.floats(0.0, 40.0)),
        ),
        max_size=8,
    )
)
def test_any_laps_at_all_give_numbers_or_the_reason_why_not(runs):
    runs = [*runs, ("A", [90.0], "north", "one", 9.0), ("B", [90.0], "south", "two", 9.0)]
    setups, laps, rider, day, start = zip(*runs, strict=True)
    table = table_of(list(zip(setups, laps, strict=True)), rider=rider, day=day, start_h=start)
    found = compare(table, "A", "B")
    numbers = [found.difference_s, found.low_s, found.high_s, found.probability_better]
    if found.known:
        assert np.isfinite(numbers).all()
        assert found.low_s <= found.difference_s <= found.high_s
        assert 0.0 <= found.probability_better <= 1.0
        assert found.spread_s > 0
    else:
        assert np.isnan(numbers).all()
        assert found.doubts
