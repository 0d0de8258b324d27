"""Which laps are set aside, and why."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from setupadvisor.entries.lap_runs import table_of
from setupadvisor.entries.lap_times import FLAGS
from setupadvisor.learning.lap_cleaning import REASONS, clean

STEADY = [90.1, 90.6, 89.9, 90.3, 90.0, 90.5]


def reasons(laps):
    return [REASONS[code] for code in clean(laps).reason]


def test_a_steady_run_counts_whole():
    assert reasons(table_of([("A", STEADY), ("B", STEADY)])) == [""] * 12


def test_slow_laps_are_named_by_where_they_stand():
    table = table_of([("A", [108.0, *STEADY, 99.0, *STEADY, 120.0])])
    found = {place: why for place, why in enumerate(reasons(table)) if why}
    assert found == {
        0: "first lap of its run, clearly slow: an out-lap",
        7: "far slower than its run: a fall or a stop",
        14: "last lap of its run, clearly slow: an in-lap",
    }


def test_first_and_last_laps_at_the_pace_of_the_run_count():
    assert reasons(table_of([("A", STEADY)])) == [""] * 6


@pytest.mark.parametrize("flag", FLAGS[1:])
def test_a_flagged_lap_never_counts_however_quick(flag):
    table = table_of([("A", STEADY)])
    flags = np.array([0, 0, FLAGS.index(flag), 0, 0, 0])
    assert reasons(replace(table, flag=flags))[2] == f"flagged {flag}"


def test_an_untimed_lap_does_not_count():
    found = reasons(table_of([("A", [90.1, float("nan"), 90.3, 90.0])]))
    assert found == ["", "not timed", "", ""]


def test_a_lap_far_too_fast_is_no_lap():
    found = reasons(table_of([("A", [*STEADY, 61.0, *STEADY])]))
    assert found[6] == "far faster than its run: a short cut or a fault"
    assert found.count("") == 12


def test_runs_of_unlike_level_are_judged_each_by_its_own():
    """A heat in the mud is slow throughout: no lap of it is a fall."""
    table = table_of([("A", STEADY), ("A", [1.2 * lap for lap in STEADY])])
    assert reasons(table) == [""] * 12


def test_nearly_half_slow_laps_do_not_excuse_each_other():
    slow = [110.2, 95.3, 94.5, 102.5, 94.3, 107.5, 115.7]
    counts = clean(table_of([("A", slow), ("B", [108.4, 96.5, 108.5, 97.1, 109.3, 96.7])])).counts
    assert np.flatnonzero(counts).tolist() == [1, 2, 4, 8, 10, 12]


def test_of_a_single_pair_the_faster_lap_is_the_lap():
    assert reasons(table_of([("A", [120.0, 90.0])]))[1] == ""
    assert reasons(table_of([("A", [120.0, 90.0])]))[0] != ""


def test_whole_seconds_that_repeat_are_not_set_aside():
    """By stopwatch many laps are alike, and the robust spread is 0; a second more is no fall."""
    assert reasons(table_of([("A", [90, 90, 90, 91, 90, 90, 90])])) == [""] * 7


def test_a_table_without_laps_is_cleaned_to_nothing():
    assert len(clean(table_of([])).reason) == 0


def test_normal_laps_are_rarely_set_aside():
    """4 spreads leave out 3 of 100,000 normal laps; that the spread of few laps is itself
    uncertain makes it more, but no more than 1 % with six laps a side."""
    random = np.random.default_rng(2)
    aside = 0
    for _ in range(300):
        laps = clean(table_of([("A", random.normal(90, 0.8, 6)), ("B", random.normal(90, 0.8, 6))]))
        aside += int((~laps.counts).sum())
    assert aside / (300 * 12) < 0.01


def test_the_spread_is_that_of_normal_laps():
    """The median of 60 blocks is within 5 % (its own error is 1.25 * 0.09 / sqrt(60) = 1.5 %)."""
    random = np.random.default_rng(6)
    found = [
        clean(table_of([("A", random.normal(90, 0.8, 12)) for _ in range(6)])).spread_s[0]
        for _ in range(60)
    ]
    assert np.median(found) == pytest.approx(0.8, rel=0.05)


@given(st.integers(0, 10**6), st.sampled_from([0.5, 2.0, 4.0]))
def test_the_unit_of_time_does_not_matter(draw, factor):
    """Factors of 2 are exact, so that no rounding can move a lap over a limit."""
    random = np.random.default_rng(draw)
    laps = [random.normal(90, 0.8, 6) + 9.0 * (random.random(6) < 0.2) for _ in range(3)]
    plain = clean(table_of([("A", run) for run in laps]))
    scaled = clean(table_of([("A", factor * run) for run in laps]))
    assert np.array_equal(plain.reason, scaled.reason)


@given(st.integers(0, 10**6))
def test_other_riders_do_not_change_what_counts(draw):
    random = np.random.default_rng(draw)
    own = [("A", random.normal(90, 0.8, 7) + 9.0 * (random.random(7) < 0.2)) for _ in range(2)]
    others = [("A", random.normal(110, 5.0, 9)) for _ in range(2)]
    alone = clean(table_of(own))
    among = clean(table_of([*own, *others], rider=["north", "north", "south", "south"]))
    assert np.array_equal(alone.reason, among.reason[:14])
