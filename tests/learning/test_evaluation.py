from __future__ import annotations

import json
from dataclasses import replace
from functools import cache

import numpy as np
import pytest

from setupadvisor.learning.alternatives import cases_of, nearest_sessions, random_forest
from setupadvisor.learning.evaluation import ALTERNATIVES, DESIGN, Evaluation, evaluate
from setupadvisor.learning.simulate import Season, World, simulate_season
from setupadvisor.learning.training import train


@cache
def season(n_events: int = 6) -> Season:
    return simulate_season(n_events, random_state=51, world=World(n_settings=3))


SAID: list[tuple[str, int, int]] = []


@cache
def judged() -> Evaluation:
    """The season judged in every way, forests among them, with its progress in `SAID`."""
    return evaluate(season().sessions, season().knowledge, progress=lambda *what: SAID.append(what))


@cache
def judged_quickly() -> Evaluation:
    """The same season without forests."""
    return evaluate(season().sessions, season().knowledge, forest=False)


def test_every_way_is_judged_for_every_setting():
    got = judged()
    assert [one.setting for one in got.settings] == list(season().knowledge.setting)
    assert set(got.overall) == {DESIGN, *ALTERNATIVES}
    assert all(set(one.error) == set(got.overall) for one in got.settings)
    assert (got.events, got.folds, got.settled) == (6, 6, 18)
    assert all((one.settled, one.events) == (18, 6) for one in got.settings)


def test_the_design_is_ahead_of_the_quick_ways_on_average_over_ordinary_seasons():
    """Four seasons of ten events: the closest way is behind by three standard errors of that."""
    errors = {}
    for draw in range(4):
        one = simulate_season(10, random_state=500 + draw)
        for name, error in evaluate(one.sessions, one.knowledge, forest=False).overall.items():
            errors.setdefault(name, []).append(error)
    means = {name: np.mean(values) for name, values in errors.items()}
    assert min(means, key=lambda name: means[name]) == DESIGN


def test_overall_is_in_steps_and_over_all_values():
    """Clicks of half the size double the error in steps and leave that in clicks alone."""
    one = season()
    finer = replace(one.knowledge, step=np.array([0.5, 1.0, 1.0]))
    got, whole = evaluate(one.sessions, finer, forest=False), judged_quickly()
    errors = [s.error["rules as written"] for s in whole.settings]
    assert whole.overall["rules as written"] == pytest.approx(np.mean(errors))
    expected = (2 * errors[0] + sum(errors[1:])) / 3
    assert got.overall["rules as written"] == pytest.approx(expected)
    assert got.settings[0].error["rules as written"] == pytest.approx(errors[0])


def test_forest_and_neighbours_never_see_the_event_they_are_asked_about():
    """Against one fit for each event left out, by hand."""
    cases = cases_of(season().sessions)
    forest, nearest = [], []
    for event in range(6):
        out = cases.sessions.event == event
        seen, asked = cases.taken(~out), cases.taken(out)
        forest.append(random_forest(seen, asked, season().knowledge) - asked.settled)
        nearest.append(nearest_sessions(seen, asked, season().knowledge) - asked.settled)
    forest_error = np.abs(np.concatenate(forest)).mean(axis=0)
    trials = np.abs(np.concatenate(nearest, axis=1)).mean(axis=1)
    for s, one in enumerate(judged().settings):
        assert one.error["random forest"] == pytest.approx(forest_error[s])
        assert one.error["k-nearest sessions"] == pytest.approx(trials[:, s].min())


def test_rules_as_written_and_the_rider_s_mean_by_hand():
    cases = cases_of(season().sessions)
    sessions = cases.sessions
    written = np.nan_to_num(sessions.degrees) @ season().knowledge.amounts
    for s, one in enumerate(judged().settings):
        error = np.abs(cases.settled[:, s] - written[:, s]).mean()
        assert one.error["rules as written"] == pytest.approx(error)
        means = [
            cases.settled[
                (sessions.rider == sessions.rider[i]) & (sessions.event != sessions.event[i]), s
            ].mean()
            for i in range(18)
        ]
        error = np.abs(cases.settled[:, s] - means).mean()
        assert one.error["rider's mean"] == pytest.approx(error)


def test_a_model_already_trained_gives_the_same_and_so_do_two_jobs():
    one = season()
    model = train(one.sessions, one.knowledge)
    first = evaluate(one.sessions, one.knowledge, model=model, forest=False)
    assert first == judged_quickly()
    assert first == evaluate(one.sessions, one.knowledge, forest=False, n_jobs=2)


def test_a_setting_beaten_by_something_simpler_says_so():
    """Nobody follows the first setting's rules, which are firm: the rider's mean is ahead."""
    one = season(30)
    values = one.sessions.values.copy()
    random = np.random.default_rng(0)
    own_way = np.array([2.0, -1.0, 0.5])[one.sessions.rider]
    values[:, 0] = one.sessions.house[:, 0] + own_way + random.normal(0, 0.3, len(values))
    knowledge = replace(
        one.knowledge,
        relative_spread=np.where(
            one.knowledge.amounts[:, 0] != 0, 0.02, one.knowledge.relative_spread
        ),
    )
    got = evaluate(replace(one.sessions, values=values), knowledge, forest=False).settings[0]
    assert got.beaten_by == "rider's mean"
    assert got.chance is not None
    assert got.chance < 0.001
    assert got.fallback == "rider's mean"
    assert got.error[DESIGN] > got.error["rider's mean"]


def test_without_forest_the_forest_is_not_spoken_of():
    got = judged_quickly()
    assert "random forest" not in got.overall
    for name, error in got.overall.items():
        assert judged().overall[name] == error


@pytest.mark.parametrize("n_sessions", [0, 1, 9])
def test_a_season_of_one_event_or_none_says_what_it_cannot_say(n_sessions):
    one = season()
    got = evaluate(one.sessions.taken(np.arange(n_sessions)), one.knowledge)
    assert got.events == min(n_sessions, 1)
    assert got.overall["k-nearest sessions"] is None
    assert (got.overall[DESIGN] is None) == (n_sessions == 0)
    assert all(setting.chance is None for setting in got.settings)


def test_a_setting_nobody_wrote_down_has_no_errors():
    one = season(3)
    values = one.sessions.values.copy()
    values[:, 1] = np.nan
    got = evaluate(replace(one.sessions, values=values), one.knowledge)
    assert "random forest" in got.overall
    assert set(got.settings[1].error.values()) == {None}
    assert (got.settings[1].settled, got.settings[1].beaten_by) == (0, None)
    assert got.overall[DESIGN] is not None


def test_it_can_be_written_as_json_and_reports_its_progress():
    got = judged()
    content = json.loads(json.dumps(got.to_json(), allow_nan=False))
    assert content["overall"][DESIGN] == got.overall[DESIGN]
    assert content["settings"][0]["error"]["random forest"] > 0
    assert list(dict.fromkeys(what for what, _, _ in SAID)) == [
        "same venue last time",
        "k-nearest sessions",
        "random forest",
    ]
    assert [(done, total) for what, done, total in SAID if what == "random forest"] == [
        (done, 6) for done in range(7)
    ]
