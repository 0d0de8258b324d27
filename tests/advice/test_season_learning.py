"""From a season's table to sessions and a model."""

from __future__ import annotations

import dataclasses

import numpy as np
import pytest

from setupadvisor.advice.consult import consult
from setupadvisor.advice.season_learning import learn, provenance_of, sessions_from
from setupadvisor.advice.workshop import open_workshop, rules_alone, situations
from setupadvisor.facts.columns import columns_from_entries
from tests.advice.invented import advice, bundled_rider, bundled_walk, workshop
from tests.advice.small_season import HABIT_CLICKS, machines, season_of, trained


def test_a_session_has_the_degrees_and_house_values_of_its_walk() -> None:
    sessions = sessions_from(season_of(2), workshop(), machines())
    walk = bundled_walk("deep-sand").model_copy(update={"jumps": None})
    alone = situations(workshop(), columns_from_entries(walk, bundled_rider("north")), 1)
    assert sessions.degrees[0] == pytest.approx(alone.degrees[0], nan_ok=True, abs=1e-5)
    assert sessions.house[0] == pytest.approx(alone.house[0], rel=1e-4)
    assert sessions.setting == workshop().settings
    assert sessions.event_name == ("event 00", "event 01")
    assert sessions.rider_name == ("north", "south")
    assert sessions.event.tolist() == [0] * 4 + [1] * 4
    assert sessions.rider.tolist() == [0, 0, 1, 1] * 2


def test_values_stand_under_their_own_setting() -> None:
    season = season_of(1)
    sessions = sessions_from(season, workshop(), machines())
    for place, name in enumerate(sessions.setting):
        column = season.settings.index(name)
        assert sessions.values[:, place].tolist() == season.values[:, column].tolist()


def test_a_season_without_venues_or_with_settings_left_out_is_learnt_from() -> None:
    season = season_of(3, venue="", **{"setup.fork_height": ""})
    sessions = sessions_from(season, workshop(), machines())
    assert sessions.venue_name == ()
    assert set(sessions.venue.tolist()) == {-1}
    assert np.isnan(sessions.values[:, sessions.setting.index("fork_height")]).all()
    model, _ = learn(season, workshop(), machines())
    assert np.isfinite(model.posterior_amounts).all()


def test_sessions_on_another_machine_count_where_it_has_the_setting() -> None:
    """Settings whose values differ are left out of this table; other names are another scale."""
    big, small = machines()["works-450"].settings, machines()["works-250"].settings
    one_scale = {name for name in small if small[name].names == big[name].names}
    alike = {name for name in one_scale if small[name].values == big[name].values}
    gone = {f"setup.{name}": "" for name in big if name not in alike}
    season = season_of(2, machine="works-250", **gone)
    sessions = sessions_from(season, workshop(), machines())
    for place, name in enumerate(sessions.setting):
        assert np.isfinite(sessions.values[:, place]).all() == (name in alike)
        assert np.isfinite(sessions.house[:, place]).all() == (name in one_scale)
    assert len(alike) > 10
    assert {"steering_damper", "fork_air"}.isdisjoint(small)
    assert "clutch_plates" in set(small) - one_scale


def test_habits_are_learnt() -> None:
    """North rides a click and a half softer; eight events with noise of 0.7 clicks tell it.

    0.6 clicks: the prior keeps some of it, and single clickers carry their own noise.
    """
    model, _ = trained()
    clicks = [
        place
        for place, name in enumerate(model.setting)
        if workshop().machine.settings[name].unit == "clicks"
    ]
    north = model.habit[-1][model.rider_name.index("north")][clicks]
    south = model.habit[-1][model.rider_name.index("south")][clicks]
    assert float((north - south).mean()) == pytest.approx(HABIT_CLICKS["north"], abs=0.6)


def test_advice_with_a_season_comes_closer_to_what_the_rider_rode() -> None:
    model, provenance = trained()
    walk, rider = bundled_walk("mud"), bundled_rider("north")
    found = situations(workshop(), columns_from_entries(walk, rider), 1)
    wish = rules_alone(workshop(), found)[0]
    truth = {
        name: value + HABIT_CLICKS["north"]
        for name, value in zip(workshop().settings, wish, strict=True)
        if workshop().machine.settings[name].unit == "clicks"
    }
    learnt = consult(workshop(), walk, model, rider=rider, provenance=provenance)
    plain = advice(walk, rider=rider)
    errors = [
        sum(
            abs(setting.value - truth[setting.setting])
            for setting in given.settings
            if setting.setting in truth
        )
        for given in (learnt, plain)
    ]
    assert errors[0] < 0.7 * errors[1]


def test_provenance_names_rules_machine_season_and_versions() -> None:
    _, provenance = trained()
    assert provenance["rules"] == workshop().rulebase.meaning
    assert provenance["machine"] == "works-450"
    assert provenance["settings"] == list(workshop().settings)
    assert provenance["season"] == "small.csv"
    assert (provenance["sessions"], provenance["events"]) == (32, 8)
    assert {"setupadvisor", "numpy"} <= set(provenance)


def test_the_same_season_gives_the_same_provenance_and_another_a_different_one() -> None:
    season = season_of(2)
    same = provenance_of(season_of(2), workshop())
    assert provenance_of(season, workshop()) == same
    other = dataclasses.replace(season, values=season.values + 1.0)
    assert provenance_of(other, workshop())["season_digest"] != same["season_digest"]


def test_the_path_of_a_season_does_not_reach_its_provenance() -> None:
    moved = dataclasses.replace(season_of(2), source="some/where/small.csv")
    assert provenance_of(moved, workshop()) == provenance_of(season_of(2), workshop())


def test_rules_of_the_team_are_learnt_too(tmp_path) -> None:
    (tmp_path / "own.yaml").write_text(
        "subject: start\nrules:\n  invented:\n    title: Invented\n    when: [soft_ground]\n"
        "    change: {fork_height: 2 lower}\n    confidence: loose\n    why: invented\n"
        "    look_for: nothing\n    source: common practice, no source\n",
        encoding="utf-8",
    )
    own = open_workshop(machines()["works-450"], [tmp_path])
    model, provenance = learn(season_of(3), own, machines(), [tmp_path])
    assert "invented" in model.rule
    assert provenance["rules"] != workshop().rulebase.meaning
