"""`SetupRegressor` is the model that training makes, however its columns are named."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pandas as pd
import pytest

from setupadvisor.learning.estimators import SetupRegressor, season_frames
from setupadvisor.learning.prediction import predict
from setupadvisor.learning.simulate import World, simulate_season
from setupadvisor.learning.training import train


@pytest.fixture(scope="module")
def season():
    return simulate_season(8, random_state=31, world=World(n_settings=3))


@pytest.fixture(scope="module")
def frames(season):
    return season_frames(season.sessions)


@pytest.fixture(scope="module")
def fitted(season, frames):
    table, setup, event, mark = frames
    regressor = SetupRegressor.from_knowledge(season.knowledge)
    return regressor.fit(table, setup, groups=event, mark=mark)


def test_it_predicts_what_the_trained_model_predicts(season, frames, fitted):
    """On seasons whose riders and venues already stand in the order of their names."""
    sessions = season.sessions
    sessions = sessions.taken(np.lexsort((sessions.order, sessions.day)))
    model = train(sessions, season.knowledge)
    expected = predict(
        model,
        sessions.degrees,
        sessions.house,
        rider=sessions.rider,
        fields=sessions.fields,
        venue=sessions.venue,
        day=sessions.day,
    )
    assert fitted.predict(frames[0]) == pytest.approx(expected.value, abs=1e-6)
    low, high = fitted.predict_range(frames[0])
    assert low == pytest.approx(expected.low, abs=1e-5)
    assert high == pytest.approx(expected.high, abs=1e-5)
    assert fitted.amounts_ == pytest.approx(model.posterior_amounts, abs=1e-9)
    assert fitted.amounts_sd_ == pytest.approx(model.posterior_amounts_sd, abs=1e-9)


def test_the_parts_sum_to_the_prediction(frames, fitted):
    told = fitted.explain(frames[0])
    parts = told.house + told.rider + told.rule.sum(axis=1) + told.past
    assert parts == pytest.approx(told.value, abs=1e-12)
    assert told.value == pytest.approx(fitted.predict(frames[0]), abs=1e-5)


def test_a_wider_level_gives_a_wider_range(frames, fitted):
    widths = [np.subtract(*fitted.predict_range(frames[0], level=p)[::-1]) for p in (0.5, 0.8)]
    assert (widths[0] <= widths[1] + 1e-9).all()
    assert widths[0].mean() < widths[1].mean()


def test_columns_by_number_are_the_columns_by_name(season, frames, fitted):
    table, setup, event, mark = frames
    number = {name: place for place, name in enumerate(table)}
    by_number = {
        role: [number[name] for name in getattr(fitted, role)]
        for role in ("house", "degrees", "fields", "categorical_features")
    }
    for role in ("rider", "venue", "day"):
        by_number[role] = number[getattr(fitted, role)]
    regressor = SetupRegressor.from_knowledge(season.knowledge, **by_number)
    plain = table.to_numpy(dtype=object)
    regressor.fit(plain, setup.to_numpy(), groups=event, mark=mark)
    assert regressor.predict(plain).tolist() == fitted.predict(table).tolist()


def test_fields_not_named_are_all_that_nothing_else_names(season, frames, fitted):
    table, setup, event, mark = frames
    regressor = SetupRegressor.from_knowledge(season.knowledge, fields=None)
    regressor.fit(table, setup, groups=event, mark=mark)
    assert regressor.predict(table).tolist() == fitted.predict(table).tolist()


def test_the_names_of_riders_and_events_do_not_matter(season, frames, fitted):
    table, setup, event, mark = frames
    renamed = table.assign(rider=table["rider"].map({f"rider {i}": 10 - i for i in (1, 2, 3)}))
    regressor = SetupRegressor.from_knowledge(season.knowledge)
    regressor.fit(renamed, setup, groups=[f"event {99 - e}" for e in event], mark=mark)
    assert regressor.riders_ == (7, 8, 9)
    assert regressor.predict(renamed) == pytest.approx(fitted.predict(table), abs=1e-6)


def test_a_rider_or_venue_never_seen_or_missing_has_no_habit_and_no_past(season, frames, fitted):
    walk = frames[0].iloc[:1]
    for rider in ("somebody else", None, np.nan):
        told = fitted.explain(walk.assign(rider=rider, venue=rider).astype({"rider": object}))
        assert (told.rider == 0).all()
    assert np.abs(fitted.explain(walk).rider).max() > 0.01


def test_where_the_house_value_is_missing_the_setting_is_not_a_number(frames, fitted):
    walk = frames[0].iloc[:1].copy()
    walk["house.setting 2"] = np.nan
    got = fitted.predict(walk)[0]
    assert np.isnan(got[1])
    assert np.isfinite(got[[0, 2]]).all()


def test_one_setting_comes_back_as_a_plain_list_of_numbers(season, frames):
    table, setup, event, _ = frames
    one = SetupRegressor(house="house.setting 1", rider="rider", venue="venue", day="day")
    one.fit(table, setup["setting 1"], groups=event)
    assert one.predict(table).shape == (len(table),)
    low, high = one.predict_range(table)
    assert (low <= one.predict(table)).all()
    assert (one.predict(table) <= high).all()


def test_without_named_columns_the_house_value_is_the_mean_with_each_event_once():
    table = np.array([[0.1], [0.1], [0.1], [0.9]])
    regressor = SetupRegressor().fit(table, [8.0, 8.0, 8.0, 12.0], groups=[0, 0, 0, 1])
    assert regressor.house_.tolist() == [10.0]


def test_rows_with_equal_entries_are_one_event_where_no_groups_are_given(season, frames):
    table, setup, event, mark = frames
    one_day = table.drop(columns=["rider"]).assign(
        **{name: 10.0 for name in table if name.startswith("house")}
    )
    regressor = SetupRegressor.from_knowledge(season.knowledge, rider=None)
    given = regressor.fit(one_day, setup, groups=event, mark=mark).predict(one_day)
    without = regressor.fit(one_day, setup, mark=mark).predict(one_day)
    assert without == pytest.approx(given, abs=1e-9)


def test_a_badly_marked_session_pulls_less():
    house = pd.DataFrame({"house": [0.0, 0.0], "rider": ["one", "two"]})
    regressor = SetupRegressor(house="house", fields=[], step=1.0)
    even, uneven = (
        regressor.fit(house, [4.0, -4.0], groups=[0, 1], mark=mark).predict(house)[0]
        for mark in ([5, 5], [5, 1])
    )
    assert even == pytest.approx(0.0, abs=1e-9)
    assert uneven > 0.1


def test_a_rule_that_was_wrong_all_season_loses_its_amount():
    degree = np.tile([0.0, 1.0], 15)
    table = np.column_stack([np.full(30, 10.0), degree])
    clicks = 10.0 - 2.0 * degree + 0.1 * np.random.default_rng(1).normal(size=30)
    regressor = SetupRegressor(house=0, degrees=1, fields=[], amounts=[[2.0]], relative_spread=1.0)
    regressor.fit(table, clicks, groups=np.arange(30))
    assert regressor.amounts_[0, 0] == pytest.approx(-2.0, abs=0.2)
    assert regressor.amounts_sd_[0, 0] < 0.2


def test_the_number_of_jobs_changes_nothing(season, frames, fitted):
    table, setup, event, mark = frames
    regressor = SetupRegressor.from_knowledge(season.knowledge, n_jobs=2)
    regressor.fit(table, setup, groups=event, mark=mark)
    assert regressor.predict(table).tolist() == fitted.predict(table).tolist()


def test_frames_of_a_shuffled_season_come_in_the_order_in_which_it_was_ridden(season, frames):
    sessions = season.sessions
    shuffled = sessions.taken(np.random.default_rng(2).permutation(len(sessions)))
    shuffled = replace(shuffled, venue=np.where(shuffled.venue == 0, -1, shuffled.venue))
    table, setup, event, mark = season_frames(shuffled)
    assert table["day"].is_monotonic_increasing
    assert (table["venue"].isna().to_numpy() == (frames[0]["venue"] == "venue 1").to_numpy()).all()
    assert sorted(event) == sorted(frames[2])
    assert len(setup) == len(mark) == len(sessions)


@pytest.mark.parametrize(
    ("parameters", "message"),
    [
        ({"degrees": [2]}, "amounts: none for the rules in `degrees`; give what each rule says"),
        ({"degrees": [2], "amounts": [[1.0, 2.0]]}, r"amounts.*\(1, 2\); give shape \(1, 1\)"),
        ({"house": [0, 1]}, "house: 2 columns; name one for each of 1 settings"),
        ({"house": [0], "fields": [0]}, "a column named twice"),
        ({"rider": [0, 1]}, "rider: 2 columns; name one"),
        ({"rider": "who"}, "rider: column 'who' of a table without names"),
        ({"degrees": [1], "amounts": [[1.0]]}, "degrees: a degree outside 0 to 1"),
        ({"level": 1.5}, "level: 1.5"),
        ({"relative_spread": -1.0, "degrees": [2], "amounts": [[1.0]]}, "spread above 0"),
        ({"reads": [[True]]}, r"reads.*\(1, 3\)"),
        ({"step": 0.0}, "step above 0"),
        ({"day": 3}, "day: no column 3; the table has 3 columns"),
    ],
)
def test_a_parameter_that_cannot_be_is_refused_with_the_mend(parameters, message):
    table = np.array([[10.0, 2.0, 0.5], [10.0, 3.0, 1.0]])
    with pytest.raises(ValueError, match=message):
        SetupRegressor(**parameters).fit(table, [1.0, 2.0])


@pytest.mark.parametrize(
    ("table", "parameters", "given", "message"),
    [
        ([["one", 1.0], [None, 2.0]], {"rider": 0}, {}, "a session without a rider"),
        ([[0.0, 1.0], [np.nan, 2.0]], {"day": 0}, {}, "a session without a day"),
        ([[0.0, 1.0], [1.0, 2.0]], {}, {"mark": [9, 1]}, "a mark outside 1 to 5"),
        ([[0.0, 1.0], [1.0, 2.0]], {}, {"mark": [1]}, "sessions.mark"),
        ([[0.0, 1.0], [1.0, 2.0]], {}, {"groups": [1]}, "groups"),
    ],
)
def test_sessions_that_cannot_be_are_refused(table, parameters, given, message):
    with pytest.raises(ValueError, match=message):
        SetupRegressor(**parameters).fit(np.array(table, dtype=object), [1.0, 2.0], **given)
