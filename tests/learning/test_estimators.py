"""The conventions of scikit-learn that both estimators keep."""

from __future__ import annotations

import pickle
import subprocess
import sys

import numpy as np
import pandas as pd
import pytest
from sklearn import config_context
from sklearn.base import clone
from sklearn.exceptions import UnsetMetadataPassedError
from sklearn.metrics import make_scorer, mean_absolute_error
from sklearn.model_selection import GridSearchCV, GroupKFold, cross_val_predict, cross_validate
from sklearn.pipeline import make_pipeline
from sklearn.preprocessing import StandardScaler
from sklearn.utils.estimator_checks import parametrize_with_checks

from setupadvisor.errors import InputError
from setupadvisor.learning.estimators import PastSessionsRegressor, SetupRegressor, season_frames
from setupadvisor.learning.simulate import simulate_season


@parametrize_with_checks([PastSessionsRegressor(), SetupRegressor()])
def test_scikit_learns_own_checks_pass_without_exception(estimator, check):
    check(estimator)


@pytest.fixture(scope="module")
def season():
    return simulate_season(10, random_state=21)


@pytest.fixture(scope="module")
def frames(season):
    return season_frames(season.sessions)


def conditions_and_clicks(frames):
    """Conditions, one setting, events, and weights from the marks."""
    table, clicks, event, mark = frames
    fields = [name for name in table if name.startswith("field")]
    return table[fields], clicks.iloc[:, 0], event, np.nan_to_num(mark, nan=3.0)


def test_in_a_pipeline_a_frame_keeps_its_names_up_to_the_last_step(frames):
    fields, clicks, _, _ = conditions_and_clicks(frames)
    pipeline = make_pipeline(StandardScaler(), PastSessionsRegressor())
    pipeline.set_output(transform="pandas").fit(fields, clicks)
    assert pipeline[-1].feature_names_in_.tolist() == list(fields)
    assert pipeline[-1].n_features_in_ == fields.shape[1]
    plain = PastSessionsRegressor().fit(fields, clicks).predict(fields)
    assert pipeline.predict(fields) == pytest.approx(plain, rel=1e-9)


def test_a_frame_with_its_columns_in_another_order_is_refused(frames):
    fields, clicks, _, _ = conditions_and_clicks(frames)
    regressor = PastSessionsRegressor().fit(fields, clicks)
    with pytest.raises(ValueError, match="order"):
        regressor.predict(fields[fields.columns[::-1]])


def test_grid_search_finds_the_bandwidth_with_the_smallest_error_over_whole_events(frames):
    fields, clicks, event, _ = conditions_and_clicks(frames)
    grid = [0.02, 0.1, 0.5]
    search = GridSearchCV(
        PastSessionsRegressor(kappa=1.0),
        {"bandwidth": grid},
        cv=GroupKFold(5),
        scoring="neg_mean_squared_error",
    ).fit(fields, clicks, groups=event)
    errors = [
        np.mean(
            [
                np.mean(
                    (
                        PastSessionsRegressor(bandwidth=bandwidth, kappa=1.0)
                        .fit(fields.iloc[seen], clicks.iloc[seen])
                        .predict(fields.iloc[rest])
                        - clicks.iloc[rest]
                    )
                    ** 2
                )
                for seen, rest in GroupKFold(5).split(fields, groups=event)
            ]
        )
        for bandwidth in grid
    ]
    assert -search.cv_results_["mean_test_score"] == pytest.approx(np.array(errors), rel=1e-9)
    assert search.best_params_ == {"bandwidth": grid[int(np.argmin(errors))]}


def test_groups_and_weights_reach_fit_by_metadata_routing(frames):
    fields, clicks, event, weight = conditions_and_clicks(frames)
    with config_context(enable_metadata_routing=True):
        regressor = PastSessionsRegressor().set_fit_request(groups=True, sample_weight=True)
        error = make_scorer(mean_absolute_error, greater_is_better=False)
        got = cross_validate(
            make_pipeline(StandardScaler().set_fit_request(sample_weight=False), regressor),
            fields,
            clicks,
            cv=GroupKFold(5),
            scoring=error.set_score_request(sample_weight=True),
            params={"groups": event, "sample_weight": weight},
            return_estimator=True,
        )
    splits = GroupKFold(5).split(fields, groups=event)
    for fitted, score, (seen, rest) in zip(
        got["estimator"], got["test_score"], splits, strict=True
    ):
        by_hand = PastSessionsRegressor().fit(
            fields.iloc[seen],
            clicks.iloc[seen],
            groups=event[seen],
            sample_weight=weight[seen],
        )
        assert fitted.predict(fields) == pytest.approx(by_hand.predict(fields), rel=1e-9)
        miss = np.abs(by_hand.predict(fields.iloc[rest]) - clicks.iloc[rest])
        assert -score == pytest.approx(np.average(miss, weights=weight[rest]), rel=1e-9)
        without = PastSessionsRegressor().fit(fields.iloc[seen], clicks.iloc[seen])
        assert np.abs(fitted.predict(fields) - without.predict(fields)).max() > 1e-3


def test_events_and_marks_reach_the_whole_model_through_a_grid_search(season, frames):
    table, clicks, event, mark = frames
    with config_context(enable_metadata_routing=True):
        regressor = SetupRegressor.from_knowledge(season.knowledge)
        search = GridSearchCV(
            regressor.set_fit_request(groups=True, mark=True),
            {"relative_spread": [0.05, 0.5]},
            cv=GroupKFold(2),
        ).fit(table, clicks, groups=event, mark=mark)
    by_hand = clone(search.best_estimator_).fit(table, clicks, groups=event, mark=mark)
    assert np.array_equal(search.predict(table), by_hand.predict(table))
    without_marks = clone(search.best_estimator_).fit(table, clicks, groups=event)
    assert not np.allclose(without_marks.predict(table), by_hand.predict(table))


@pytest.mark.parametrize("estimator", [PastSessionsRegressor(), SetupRegressor()])
def test_groups_nobody_asked_for_are_refused_when_routing_is_on(frames, estimator):
    fields, clicks, event, _ = conditions_and_clicks(frames)
    with (
        config_context(enable_metadata_routing=True),
        pytest.raises(UnsetMetadataPassedError, match="groups"),
    ):
        cross_validate(estimator, fields, clicks, cv=GroupKFold(2), params={"groups": event})


def test_rules_and_habits_make_the_whole_model_better_than_past_sessions_alone(season, frames):
    table, clicks, event, _ = frames
    errors = {}
    for name, estimator in (
        ("whole", SetupRegressor.from_knowledge(season.knowledge)),
        ("past", PastSessionsRegressor()),
    ):
        got = cross_val_predict(estimator, table, clicks, groups=event, cv=GroupKFold(5))
        errors[name] = np.abs(got - clicks.to_numpy()).mean()
    assert errors["whole"] < 0.8 * errors["past"]


@pytest.mark.parametrize("estimator", [PastSessionsRegressor(), SetupRegressor()])
def test_a_frame_with_words_and_gaps_is_read_and_nothing_in_it_changes(estimator):
    table = pd.DataFrame(
        {
            "cone_index_kpa": pd.array([300, 900, None, 500], dtype="Int64"),
            "soil": pd.Categorical(["sand", None, "clay", "sand"]),
            "moisture": ["dry", "wet", None, "dry"],
            "night": [True, False, True, True],
            "temperature_c": [21.0, np.nan, 14.0, 30.0],
        }
    )
    before = table.copy(deep=True)
    fitted = clone(estimator).fit(table, [8.0, 12.0, 11.0, 9.0])
    pd.testing.assert_frame_equal(table, before)
    assert fitted.categories_[0] is None
    assert fitted.categories_[1:4] == (("sand", "clay"), ("dry", "wet"), (True, False))
    assert fitted.categories_[4] is None
    assert np.isfinite(fitted.predict(table)).all()


@pytest.mark.parametrize("estimator", [PastSessionsRegressor(), SetupRegressor()])
@pytest.mark.parametrize(
    ("parameters", "message"),
    [
        ({"categorical_features": ["soil"]}, "categorical_features.*without names.*give a frame"),
        ({"categorical_features": [7]}, "categorical_features: no column 7; the table has 2"),
        ({"categorical_features": [True]}, "a mask of 1; give one for each of 2"),
        ({"field_ranges": [1.0]}, r"field_ranges.*give"),
        ({"field_ranges": [-1.0, 1.0]}, r"range.*0 or more"),
    ],
)
def test_a_parameter_that_cannot_be_is_refused_with_the_mend(estimator, parameters, message):
    table = np.array([[1.0, 2.0], [3.0, 4.0]])
    with pytest.raises(ValueError, match=message) as caught:
        clone(estimator).set_params(**parameters).fit(table, [1.0, 2.0])
    assert isinstance(caught.value, InputError)


def test_an_error_keeps_its_message_on_the_way_from_another_process():
    with pytest.raises(ValueError, match="bandwidth") as caught:
        PastSessionsRegressor(bandwidth=-1.0).fit([[1.0], [2.0]], [1.0, 2.0])
    again = pickle.loads(pickle.dumps(caught.value))
    assert str(again) == str(caught.value)
    assert again.mistakes == caught.value.mistakes


def test_learning_and_predicting_do_not_load_scikit_learn():
    """Advice must start quickly; only the estimators need scikit-learn."""
    program = (
        "import sys\n"
        "import setupadvisor.learning.training, setupadvisor.learning.prediction\n"
        "from setupadvisor.learning.simulate import simulate_season\n"
        "season = simulate_season(4)\n"
        "setupadvisor.learning.training.train(season.sessions, season.knowledge)\n"
        "print([name for name in ('sklearn', 'pandas', 'scipy', 'joblib') if name in sys.modules])"
    )
    got = subprocess.run(
        [sys.executable, "-c", program], capture_output=True, text=True, check=True
    )
    assert got.stdout.strip() == "[]"
