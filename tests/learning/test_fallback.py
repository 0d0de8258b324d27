from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from scipy.stats import ttest_rel

from setupadvisor.learning.advised import AS_WRITTEN, LEARNT, RIDERS_MEAN
from setupadvisor.learning.fallback import (
    FALSE_ALARMS,
    FEWEST_EVENTS,
    chances_of_no_gain,
    chosen_fallbacks,
)
from setupadvisor.learning.left_out import LeftOut, left_out_errors
from setupadvisor.learning.model import Model
from setupadvisor.learning.model_file import load_model, save_model
from setupadvisor.learning.prediction import Prediction, predict
from setupadvisor.learning.sessions import Sessions
from setupadvisor.learning.simulate import Season, World, simulate_season
from setupadvisor.learning.training import train
from setupadvisor.learning.weights import settled_setups


def advised(model: Model, sessions: Sessions, **options) -> Prediction:
    return predict(
        model,
        sessions.degrees,
        sessions.house,
        rider=sessions.rider,
        fields=sessions.fields,
        venue=sessions.venue,
        day=sessions.day,
        **options,
    )


def other_fork_season(n_events: int = 64, draw: int = 31) -> Season:
    """Every eighth event was ridden on another fork, 12 clicks away in the first setting, and
    nobody wrote that down; the rules are right, and nobody has a habit.
    """
    world = World(
        habit=0.0,
        wrong_share=0.0,
        amount_error=0.0,
        unwritten=0.0,
        venue_quirk=0.0,
        missing_share=0.0,
    )
    season = simulate_season(n_events, random_state=draw, world=world)
    values = season.sessions.values.copy()
    values[season.sessions.event % 8 == 2, 0] += 12.0
    return replace(season, sessions=replace(season.sessions, values=values))


def firm_and_wrong_season() -> Season:
    """The rules of the first setting are firm and all wrong: riders set it up their own way."""
    world = World(unwritten=0.0, venue_quirk=0.0, missing_share=0.0)
    season = simulate_season(40, random_state=32, world=world)
    knowledge = season.knowledge
    wrong = knowledge.amounts[:, 0] != 0
    values = season.sessions.values.copy()
    random = np.random.default_rng(0)
    values[:, 0] = (
        season.sessions.house[:, 0]
        + np.array([2.0, -1.0, 0.5])[season.sessions.rider]
        + random.normal(0, 0.4, len(values))
    )
    knowledge = replace(knowledge, relative_spread=np.where(wrong, 0.02, knowledge.relative_spread))
    return replace(season, sessions=replace(season.sessions, values=values), knowledge=knowledge)


def test_a_setting_falls_back_to_the_rules_as_written_where_they_do_clearly_better():
    season = other_fork_season()
    model = train(season.sessions, season.knowledge)
    assert model.fallback[0] == AS_WRITTEN
    # Where the rules are right to the last click there is nothing to learn, and one or the other
    # setting may fall back as well.
    assert (model.fallback[1:] == LEARNT).sum() >= 5
    got = advised(model, season.sessions)
    sessions = season.sessions
    written = sessions.house + np.nan_to_num(sessions.degrees) @ season.knowledge.amounts
    assert got.value[:, 0] == pytest.approx(written[:, 0])
    assert (got.rider[:, 0] == 0).all()
    assert (got.past[:, 0] == 0).all()
    assert got.fallback[0] == "rules as written"


def test_a_setting_falls_back_to_the_rider_s_mean_where_that_does_clearly_better():
    season = firm_and_wrong_season()
    model = train(season.sessions, season.knowledge)
    assert model.fallback[0] == RIDERS_MEAN
    assert (model.fallback[1:] == LEARNT).all()
    sessions = season.sessions
    got = advised(model, sessions)
    settled = settled_setups(sessions)[:, 0]
    for rider in range(3):
        mine = sessions.rider == rider
        mean = (sessions.values - sessions.house)[mine & settled, 0].mean()
        assert got.past[mine, 0] == pytest.approx(mean)
    assert (got.rule[:, :, 0] == 0).all()
    assert got.fallback[:2] == ("rider's mean", "")
    unseen = predict(
        model,
        sessions.degrees[:1],
        sessions.house[:1],
        rider=["somebody else"],
        fields=sessions.fields[:1],
        venue=[None],
        day=sessions.day[:1],
    )
    everybody = (sessions.values - sessions.house)[settled, 0].mean()
    assert unseen.past[0, 0] == pytest.approx(everybody)


@pytest.mark.parametrize("make", [other_fork_season, firm_and_wrong_season])
def test_parts_still_sum_to_the_value_and_ranges_still_hold_it(make):
    season = make()
    got = advised(train(season.sessions, season.knowledge), season.sessions)
    total = got.house + got.rider + got.rule.sum(axis=1) + got.past
    assert np.abs(got.value - total).max() < 1e-9
    assert (got.low <= got.value).all()
    assert (got.value <= got.high).all()


def test_ranges_of_a_setting_that_fell_back_cover_what_they_say():
    """80 % ranges against settled setups of fresh events of the same kind, 20 seasons; three
    standard errors are about 5 %.
    """
    hits = []
    for draw in range(20):
        season = other_fork_season(72, 900 + draw)
        sessions = season.sessions
        model = train(sessions.taken(sessions.event < 64), season.knowledge)
        if model.fallback[0] == AS_WRITTEN:
            fresh = sessions.taken((sessions.event >= 64) & (sessions.order == 2))
            got = advised(model, fresh)
            inside = (got.low[:, 0] <= fresh.values[:, 0]) & (fresh.values[:, 0] <= got.high[:, 0])
            hits.append(inside.mean())
    assert len(hits) >= 10
    assert 0.74 <= np.mean(hits) <= 0.90


@pytest.mark.parametrize("n_events", [3, 12, 40])
def test_nothing_falls_back_in_ordinary_seasons(n_events):
    """Ten ordinary seasons: the rule allows one false alarm in twenty, and here learning helps."""
    fallen = [
        train(season.sessions, season.knowledge).fallback
        for season in (simulate_season(n_events, random_state=300 + draw) for draw in range(10))
    ]
    assert np.count_nonzero(fallen) <= 1


def left_out(design, written, mean) -> LeftOut:
    nothing = np.zeros_like(design)
    return LeftOut(np.arange(len(design)), design, nothing, written, mean, nothing)


def test_where_nothing_is_better_a_season_in_twenty_falls_back_at_most():
    """The least favourable case: three ways whose errors are drawn alike, 8 settings, 12 events of
    three settled setups. 2,000 seasons; three standard errors are 1.5 %.
    """
    random = np.random.default_rng(7)
    event = np.repeat(np.arange(12), 3)
    alarms = [
        chosen_fallbacks(left_out(*random.normal(size=(3, 36, 8))), event).any()
        for _ in range(2_000)
    ]
    assert np.mean(alarms) <= FALSE_ALARMS + 0.015


def test_the_test_is_the_paired_t_test_over_events():
    """Against scipy.stats.ttest_rel on the events' means, with a setting not always recorded."""
    random = np.random.default_rng(8)
    event = np.repeat(np.arange(10), 4)
    design, other = random.normal(size=(2, 40, 3))
    design[5:8, 1] = np.nan
    got = chances_of_no_gain(design, other, event)
    for s in range(3):
        known = np.isfinite(design[:, s])
        means = [
            [np.abs(errors[known & (event == e), s]).mean() for e in range(10)]
            for errors in (design, other)
        ]
        expected = ttest_rel(*means, alternative="greater").pvalue
        assert got[s] == pytest.approx(expected, rel=1e-9)


def test_with_few_events_nothing_falls_back_however_bad_it_looks():
    n = FEWEST_EVENTS - 1
    bad = left_out(np.full((n, 1), 9.0), np.ones((n, 1)), np.ones((n, 1)))
    assert chosen_fallbacks(bad, np.arange(n)).tolist() == [LEARNT]
    more = left_out(np.full((n + 1, 1), 9.0), np.ones((n + 1, 1)), np.full((n + 1, 1), 2.0))
    assert chosen_fallbacks(more, np.arange(n + 1)).tolist() == [AS_WRITTEN]


def test_a_gain_that_is_certain_but_small_is_not_worth_falling_back_for():
    close = left_out(np.full((40, 1), 1.0), np.full((40, 1), 0.97), np.full((40, 1), 0.94))
    assert chosen_fallbacks(close, np.arange(40)).tolist() == [RIDERS_MEAN]
    closer = left_out(np.full((40, 1), 1.0), np.full((40, 1), 0.97), np.full((40, 1), 0.96))
    assert chosen_fallbacks(closer, np.arange(40)).tolist() == [LEARNT]


def test_the_model_file_keeps_what_a_setting_fell_back_to(tmp_path):
    season = firm_and_wrong_season()
    model = train(season.sessions, season.knowledge)
    save_model(model, tmp_path / "team.model", {})
    loaded, _ = load_model(tmp_path / "team.model")
    assert loaded.fallback.tolist() == model.fallback.tolist()
    assert np.array_equal(
        advised(loaded, season.sessions).value, advised(model, season.sessions).value
    )


def test_errors_of_a_fallen_back_model_are_still_those_of_the_design():
    season = firm_and_wrong_season()
    model = train(season.sessions, season.knowledge)
    learnt = replace(model, fallback=np.zeros_like(model.fallback))
    assert np.array_equal(
        left_out_errors(model).design, left_out_errors(learnt).design, equal_nan=True
    )
