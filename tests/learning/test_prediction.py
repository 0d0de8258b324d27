from __future__ import annotations

from dataclasses import replace
from functools import cache

import numpy as np
import pytest

from setupadvisor.errors import InputError
from setupadvisor.learning import prediction
from setupadvisor.learning.model import Model, untrained
from setupadvisor.learning.nearest import field_differences, nearest_sessions
from setupadvisor.learning.prediction import predict
from setupadvisor.learning.simulate import Season, World, simulate_season
from setupadvisor.learning.training import train


@cache
def season() -> Season:
    return simulate_season(12, random_state=11)


@cache
def model() -> Model:
    return train(season().sessions, season().knowledge)


def walks(rows=slice(0, 20), **changed):
    sessions = season().sessions
    given = {
        name: getattr(sessions, name)[rows]
        for name in ("degrees", "house", "rider", "fields", "venue", "day")
    }
    return given | changed


def test_the_parts_sum_to_the_value():
    got = predict(model(), **walks())
    assert got.value == pytest.approx(got.house + got.rider + got.rule.sum(axis=1) + got.past)
    assert np.abs(got.past).max() > 0.1


def test_one_walk_at_a_time_says_the_same_as_all_at_once(monkeypatch):
    together = predict(model(), **walks())
    alone = [predict(model(), **walks(slice(i, i + 1))) for i in range(20)]
    monkeypatch.setattr(prediction, "BLOCK", 3 * 9 * 108)
    in_blocks = predict(model(), **walks())
    for name in ("value", "low", "high", "support"):
        expected = getattr(together, name)
        assert np.concatenate([getattr(one, name) for one in alone]) == pytest.approx(
            expected, rel=1e-5
        )
        assert getattr(in_blocks, name) == pytest.approx(expected, rel=1e-5)
    assert np.array_equal(in_blocks.nearest.session, together.nearest.session)


def test_ranges_hold_the_value_and_grow_with_the_level():
    narrow, wide = (predict(model(), **walks(), level=level) for level in (0.5, 0.8))
    assert (narrow.low <= narrow.value).all()
    assert (narrow.value <= narrow.high).all()
    assert (wide.low <= narrow.low).all()
    assert (wide.high >= narrow.high).all()


def test_a_level_that_twelve_events_cannot_carry_says_prior():
    assert set(predict(model(), **walks(), level=0.95).range_kind) == {"prior"}
    assert set(predict(model(), **walks(), level=0.9).range_kind) == {"cv+"}


@pytest.mark.parametrize("level", [0.0, 1.0, 80.0, np.nan])
def test_a_level_outside_zero_to_one_is_refused(level):
    with pytest.raises(InputError, match="between 0 and 1"):
        predict(model(), **walks(), level=level)


def test_names_and_codes_are_the_same():
    sessions = season().sessions
    by_name = predict(
        model(),
        **walks(
            rider=[sessions.rider_name[i] for i in sessions.rider[:20]],
            venue=[sessions.venue_name[i] for i in sessions.venue[:20]],
        ),
    )
    assert np.array_equal(by_name.value, predict(model(), **walks()).value)


def test_a_rider_never_seen_has_no_habit_and_a_wider_range():
    known, stranger = predict(model(), **walks()), predict(model(), **walks(rider=["new"] * 20))
    assert (stranger.rider == 0).all()
    assert (stranger.high - stranger.low).mean() > 1.05 * (known.high - known.low).mean()


def test_far_from_all_experience_the_correction_fades_and_the_range_widens():
    fields = season().sessions.fields[:20]
    numbers = ~season().knowledge.field_is_category
    far = np.where(numbers, fields + 30.0, fields)
    near_by = predict(model(), **walks())
    unlike = predict(model(), **walks(fields=far, venue=[None] * 20))
    assert np.abs(unlike.past - unlike.not_judged).max() < 1e-6
    assert unlike.support.max() < 1e-6
    corrected = np.isfinite(model().kappa)
    assert corrected.sum() >= 4
    assert near_by.support[:, corrected].min() > 0.05
    assert (unlike.spread > near_by.spread)[:, corrected].all()
    wider = (unlike.high - unlike.low) / (near_by.high - near_by.low)
    assert wider[:, corrected].mean() > 1.1


def test_a_walk_of_which_nothing_is_known_has_no_correction():
    got = predict(model(), **walks(fields=np.full((20, 12), np.nan)))
    assert (got.past == got.not_judged).all()
    assert (got.support == 0).all()
    assert np.isnan(got.nearest.distance).all()
    assert np.isfinite(got.low).all()


def test_a_rule_that_cannot_be_judged_says_nothing_and_past_sessions_say_what_is_usual():
    """Its own part is zero; the usual degree stands in among what past sessions say."""
    degrees = np.zeros((1, len(model().rule)))
    degrees[0, 5] = np.nan
    moved = np.flatnonzero(model().amounts[5])
    got = predict(model(), **walks(slice(0, 1), degrees=degrees))
    silent = predict(model(), **walks(slice(0, 1), degrees=np.zeros_like(degrees)))
    known, here = season().sessions.degrees[::9, 5], season().sessions.venue[::9]
    usual = np.nansum(known) / (np.isfinite(known).sum() + 2.0)
    at_venue = known[here == here[0]]
    usual = (np.nansum(at_venue) + usual) / (np.isfinite(at_venue).sum() + 1.0)
    expected = usual * model().posterior_amounts[5, moved]
    assert (got.rule[0, 5] == 0).all()
    assert (got.past - silent.past)[0, moved] == pytest.approx(expected)
    assert got.not_judged[0, moved] == pytest.approx(expected)
    assert np.abs(expected).max() > 0.05


def test_without_sessions_a_rule_that_cannot_be_judged_does_not_speak():
    nothing = untrained(season().knowledge)
    judged, not_judged = (
        predict(nothing, **walks(degrees=np.full((20, len(nothing.rule)), degree)))
        for degree in (0.0, np.nan)
    )
    assert np.array_equal(judged.value, not_judged.value)


def test_an_unknown_house_value_gives_no_value():
    house = season().sessions.house[:20].copy()
    house[3, 1] = np.nan
    got = predict(model(), **walks(house=house))
    assert np.isnan([got.value[3, 1], got.low[3, 1], got.high[3, 1]]).all()
    assert np.isfinite(np.delete(got.value, 3, axis=0)).all()


def test_an_unknown_day_is_taken_as_the_last_of_the_season():
    aged = replace(model(), half_life=100.0)
    last = season().sessions.day.max()
    unknown = predict(aged, **walks(day=np.full(20, np.nan)))
    assert np.array_equal(unknown.value, predict(aged, **walks(day=np.full(20, last))).value)


def test_wrong_shapes_are_refused_all_at_once():
    with pytest.raises(InputError) as refused:
        predict(model(), **walks(fields=np.zeros((20, 3)), rider=["one"]))
    assert [mistake.where for mistake in refused.value.mistakes] == ["fields", "rider"]


def test_no_walk_at_all_gives_empty_arrays():
    got = predict(model(), **walks(slice(0, 0)))
    assert got.value.shape == got.low.shape == (0, 8)


def test_the_nearest_are_one_session_a_rider_and_event_and_the_same_event_comes_first():
    got = predict(model(), **walks(), n_nearest=4).nearest
    sessions = season().sessions
    assert (np.diff(got.weight, axis=1) <= 0).all()
    for row in got.session:
        pairs = set(zip(sessions.rider[row].tolist(), sessions.event[row].tolist(), strict=True))
        assert len(pairs) == 4
    assert (sessions.event[got.session[:, 0]] == sessions.event[:20]).all()
    assert got.distance[:, 0] == pytest.approx(np.zeros(20), abs=1e-6)


def test_more_nearest_than_sessions_leaves_gaps():
    got = predict(model(), **walks(slice(0, 1)), n_nearest=200).nearest
    listed = got.session[0] >= 0
    assert 0 < listed.sum() <= 36
    assert np.isnan(got.distance[0][~listed]).all()
    assert (got.weight[0][~listed] == 0).all()


def test_pulls_of_the_nearest_sessions_sum_to_the_correction_of_the_setting():
    alone = simulate_season(10, random_state=12, world=World(sessions_per_day=1))
    trained = replace(train(alone.sessions, alone.knowledge), kappa=np.full(8, 2.0))
    sessions = alone.sessions
    got = predict(
        trained,
        sessions.degrees,
        sessions.house,
        rider=sessions.rider,
        fields=sessions.fields,
        venue=sessions.venue,
        day=sessions.day,
    )
    listed, pull = nearest_sessions(
        trained, sessions.fields, sessions.venue, sessions.day, setting=3, n_nearest=30
    )
    similar = got.past[:, 3] - got.not_judged[:, 3]
    assert pull.sum(axis=1) == pytest.approx(similar, abs=1e-5)
    assert np.abs(similar).max() > 0.1
    assert (listed.weight[:, 0] >= listed.weight[:, -1]).all()


def test_differences_say_what_walks_share_and_what_was_not_entered():
    sessions = season().sessions
    got = field_differences(model(), sessions.fields[0], np.array([0, 50]))
    unknown = np.isnan(sessions.fields[0])
    assert np.isnan(got[0]).tolist() == unknown.tolist()
    assert (got[0][~unknown] == 0).all()
    expected = np.abs(sessions.fields[0, 0] - sessions.fields[50, 0]) / model().field_range[0]
    assert got[1, 0] == pytest.approx(expected, nan_ok=True)
