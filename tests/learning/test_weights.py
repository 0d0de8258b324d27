from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from setupadvisor.learning.sessions import Sessions
from setupadvisor.learning.weights import EARLIER_SESSION, settled_setups, shares, worth


def outings(rider, event, day, order, values) -> Sessions:
    """One setting, no rules, no fields."""
    n = len(rider)
    return Sessions(
        setting=("clicks",),
        rule=(),
        field=(),
        rider_name=("a", "b", "c"),
        event_name=("first", "second", "third"),
        venue_name=(),
        values=np.array(values, dtype=float)[:, None],
        house=np.zeros((n, 1)),
        degrees=np.zeros((n, 0)),
        rider=np.array(rider),
        event=np.array(event),
        venue=np.full(n, -1),
        day=np.array(day, dtype=float),
        order=np.array(order, dtype=float),
        mark=np.full(n, np.nan),
        fields=np.zeros((n, 0)),
    )


def test_the_last_session_of_a_riders_day_is_the_settled_setup_whatever_the_row_order():
    season = outings([0, 1, 0, 0], [0, 0, 0, 0], [5, 5, 5, 5], [2, 1, 3, 1], [11, 9, 12, 10])
    assert settled_setups(season)[:, 0].tolist() == [False, True, True, False]


def test_a_setting_not_written_down_last_is_settled_where_it_was_last_written_down():
    season = outings([0, 0, 0], [0, 0, 0], [5, 5, 5], [1, 2, 3], [10, 11, np.nan])
    assert settled_setups(season)[:, 0].tolist() == [False, True, False]


def test_each_day_of_an_event_has_its_own_settled_setup():
    season = outings([0, 0, 0], [0, 0, 0], [5, 5, 6], [1, 2, 1], [10, 11, 12])
    assert settled_setups(season)[:, 0].tolist() == [False, True, True]


def test_the_settled_setup_leads_and_the_way_there_informs():
    season = outings([0, 0, 0], [0, 0, 0], [5, 5, 5], [1, 2, 3], [10, 11, 12])
    share = shares(season)[:, 0]
    assert share[2] > share[1] > share[0] > 0
    assert share[1] / share[2] == pytest.approx(EARLIER_SESSION)


@given(
    st.lists(
        st.tuples(
            st.integers(0, 2),
            st.integers(0, 2),
            st.integers(0, 3),
            st.integers(0, 4),
            st.booleans(),
        ),
        min_size=1,
        max_size=30,
    )
)
def test_a_rider_at_one_event_has_one_unit_of_weight(rows):
    rider, event, day, order, missing = (list(column) for column in zip(*rows, strict=True))
    season = outings(rider, event, day, order, [np.nan if gone else 1.0 for gone in missing])
    share = shares(season)[:, 0]
    assert (share[np.array(missing)] == 0).all()
    for pair in set(zip(rider, event, strict=True)):
        here = [(r, e) == pair for r, e in zip(rider, event, strict=True)]
        recorded = np.array(here) & ~np.array(missing)
        assert share[here].sum() == pytest.approx(1.0 if recorded.any() else 0.0)


def test_a_season_without_marks_weighs_all_sessions_alike():
    assert worth(np.full(3, np.nan)).tolist() == [1.0, 1.0, 1.0]
