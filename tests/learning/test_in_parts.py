"""An archive learnt part by part gives the answers of the same sessions all in memory."""

from __future__ import annotations

import pickle
from dataclasses import dataclass, replace
from functools import cache
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from setupadvisor.errors import InputError
from setupadvisor.learning import (
    in_parts_prediction,
    in_parts_store,
    left_out,
    many_cores,
    prediction,
    training,
    tuning,
)
from setupadvisor.learning.advised import AS_WRITTEN, LEARNT, RIDERS_MEAN
from setupadvisor.learning.in_parts import (
    ModelInParts,
    predict_in_parts,
    train_in_parts,
    with_nearest,
)
from setupadvisor.learning.model import Model
from setupadvisor.learning.prediction import Prediction, predict
from setupadvisor.learning.sessions import Sessions
from setupadvisor.learning.simulate import Season, World, simulate_season
from setupadvisor.learning.training import train
from tests.learning.parts import Loaded, loaders_of, with_own_names

N_EVENTS = 24
# Of a step. Sums of single precision are added up in another order; that moves the eighth digit of
# a sum over some hundred sessions.
SAME = 1e-6


@cache
def season() -> Season:
    """A season in which some marks and venues are not known."""
    world = World(n_settings=3, n_fields=6, n_venues=4)
    made = simulate_season(N_EVENTS, random_state=71, world=world)
    random = np.random.default_rng(5)
    sessions = made.sessions
    nowhere = random.random(N_EVENTS)[sessions.event] < 0.2
    return replace(
        made,
        sessions=replace(
            sessions,
            venue=np.where(nowhere, -1, sessions.venue),
            # Some events start on the same day.
            day=np.floor(sessions.day / 25.0) * 25.0,
            mark=np.where(random.random(len(sessions)) < 0.3, np.nan, sessions.mark),
        ),
    )


def in_memory() -> Model:
    return train(season().sessions, season().knowledge)


def in_parts(folder: Path, part_of_event, **options) -> ModelInParts:
    loaders = loaders_of(season().sessions, part_of_event)
    return train_in_parts(loaders, season().knowledge, folder, {"made": "up"}, **options)


def walks() -> dict[str, object]:
    """Walks of the season a little later, one at a venue and by a rider never seen."""
    sessions = season().sessions
    rows = np.arange(0, len(sessions), 7)
    names = [*sessions.venue_name, None]
    venues = [names[code] for code in sessions.venue[rows]]
    riders = [sessions.rider_name[code] for code in sessions.rider[rows]]
    return {
        "degrees": sessions.degrees[rows],
        "house": sessions.house[rows],
        "rider": ["a stranger", *riders[1:]],
        "fields": sessions.fields[rows],
        "venue": ["an unknown place", *venues[1:]],
        "day": np.append(np.nan, sessions.day[rows][1:] + 3.0),
    }


def assert_same(got: Prediction, expected: Prediction) -> None:
    step = season().knowledge.step
    for name in ("house", "rider", "past", "value", "not_judged", "low", "high", "spread"):
        away = np.abs(getattr(got, name) - getattr(expected, name)) / step
        assert np.nanmax(away) <= SAME, name
        assert np.array_equal(np.isnan(getattr(got, name)), np.isnan(getattr(expected, name)))
    assert got.support == pytest.approx(expected.support, abs=SAME)
    assert got.amounts == pytest.approx(expected.amounts, abs=SAME)
    assert np.array_equal(got.degrees, expected.degrees)
    assert (got.range_kind, got.fallback) == (expected.range_kind, expected.fallback)
    assert got.nearest.weight == pytest.approx(expected.nearest.weight, rel=1e-5)
    assert got.nearest.distance == pytest.approx(expected.nearest.distance, abs=1e-6, nan_ok=True)


PARTITIONS = {
    "one part": np.zeros(N_EVENTS, dtype=int),
    "one event a part": np.arange(N_EVENTS),
    "one event a part, the last first": np.arange(N_EVENTS)[::-1],
    "uneven, and one part empty": np.array([0] * 2 + [3] * 15 + [2] * 7),
    "in turns": np.arange(N_EVENTS) % 5,
}


@pytest.mark.parametrize("partition", PARTITIONS)
def test_any_cut_into_parts_gives_the_answers_of_memory(tmp_path, partition):
    model = in_parts(tmp_path / "model", PARTITIONS[partition])
    asked = walks()
    expected = predict(in_memory(), **asked)
    assert np.isfinite(expected.low).any()
    assert "cv+" in expected.range_kind
    assert_same(predict_in_parts(model, **asked), expected)


def test_what_was_learnt_is_the_same(tmp_path):
    got = in_parts(tmp_path / "model", PARTITIONS["in turns"]).learnt
    expected = in_memory()
    assert got.n_folds == expected.n_folds == 20
    assert got.rider_name == expected.rider_name
    for name in ("noise_sd", "habit_sd", "event_sd", "venue_sd", "bandwidth", "kappa"):
        assert getattr(got, name) == pytest.approx(getattr(expected, name), rel=1e-9), name
    for name in ("rule_shift", "rule_covariance", "habit", "habit_variance", "riders_means"):
        assert getattr(got, name) == pytest.approx(getattr(expected, name), rel=1e-8, abs=1e-9)
    assert np.array_equal(got.events_by_setting, expected.events_by_setting)
    assert np.array_equal(got.field_range, expected.field_range)
    assert got.last_day == expected.last_day
    assert np.sort(got.residual, axis=0) == pytest.approx(
        np.sort(expected.residual, axis=0), abs=1e-5, nan_ok=True
    )


def choose_from_few(monkeypatch) -> None:
    """Have everything chosen and judged by a few events and sessions, as in a large archive."""
    monkeypatch.setattr(training, "ENOUGH_EVENTS", 9)
    monkeypatch.setattr(tuning, "ENOUGH_SETTLED", 20)
    monkeypatch.setattr(tuning, "ENOUGH_PAIRS_OF_WALKS", 1)
    monkeypatch.setattr(left_out, "ENOUGH_PAIRS_OF_WALKS", 1)
    monkeypatch.setattr(left_out, "ENOUGH_SETTLED", 40)
    monkeypatch.setattr(left_out, "FEWEST_SETTLED", 30)


@pytest.mark.parametrize("partition", ["one event a part, the last first", "in turns"])
def test_the_same_sessions_are_judged_where_not_all_are(tmp_path, monkeypatch, partition):
    choose_from_few(monkeypatch)
    model, whole = in_parts(tmp_path / "model", PARTITIONS[partition]), in_memory()
    assert len(model.learnt.residual) == len(whole.residual) == 40
    asked = walks()
    assert_same(predict_in_parts(model, **asked), predict(whole, **asked))


def test_a_half_life_and_fallbacks_are_the_same_too(tmp_path, monkeypatch):
    """Every trial is taken for worthwhile, so that the last one, a half-life, is chosen and the
    posterior is worked out again; and one setting falls back to each of the simpler ways.
    """
    monkeypatch.setattr(tuning, "WORTHWHILE", -10.0)
    judged = []

    def fallbacks(found, event):
        judged.append((np.sort(np.nan_to_num(found.design), axis=0), len(np.unique(event))))
        return np.array([LEARNT, AS_WRITTEN, RIDERS_MEAN])

    monkeypatch.setattr(training, "chosen_fallbacks", fallbacks)
    whole = in_memory()
    assert np.isfinite(whole.half_life)
    model = in_parts(tmp_path / "model", PARTITIONS["in turns"])
    assert model.learnt.half_life == whole.half_life
    (errors, n_events), (errors_of_parts, n_events_of_parts) = judged
    assert errors_of_parts == pytest.approx(errors, abs=1e-5)
    assert n_events == n_events_of_parts == N_EVENTS
    asked = walks()
    assert_same(predict_in_parts(model, **asked), predict(whole, **asked))


@settings(max_examples=10, deadline=None)
@given(st.lists(st.integers(0, 4), min_size=N_EVENTS, max_size=N_EVENTS))
def test_every_deal_of_events_gives_the_same_advice(tmp_path_factory, deal):
    asked = walks()
    model = in_parts(tmp_path_factory.mktemp("dealt") / "model", np.array(deal))
    assert_same(predict_in_parts(model, **asked), predict(in_memory(), **asked))


def test_without_ranges_and_with_another_level_as_in_memory(tmp_path):
    model, whole, asked = in_parts(tmp_path / "m", PARTITIONS["in turns"]), in_memory(), walks()
    plain = predict_in_parts(model, **asked, ranges=False)
    assert np.isnan(plain.low).all()
    assert plain.value == pytest.approx(predict(whole, **asked).value, abs=SAME)
    at_half = predict_in_parts(model, **asked, level=0.5)
    assert_same(at_half, predict(whole, **asked, level=0.5))
    with pytest.raises(InputError, match="between 0 and 1"):
        predict_in_parts(model, **asked, level=1.5)


def test_walks_are_answered_block_by_block_as_all_at_once(tmp_path, monkeypatch):
    model, asked = in_parts(tmp_path / "model", PARTITIONS["in turns"]), walks()
    whole = predict_in_parts(model, **asked)
    monkeypatch.setattr(in_parts_prediction, "MOST_SUMS", 3 * 42 * 4)
    monkeypatch.setattr(prediction, "BLOCK", 1)
    assert_same(predict_in_parts(model, **asked), whole)


def test_nothing_asked_is_nothing_answered(tmp_path):
    model = in_parts(tmp_path / "model", PARTITIONS["in turns"])
    none = {name: column[:0] for name, column in walks().items()}
    assert predict_in_parts(model, **none).value.shape == (0, 3)


def test_more_processes_change_no_bit(tmp_path):
    one = in_parts(tmp_path / "one", PARTITIONS["in turns"])
    two = in_parts(tmp_path / "two", PARTITIONS["in turns"], n_jobs=2)
    for path in sorted(one.folder.rglob("*.safetensors")):
        assert path.read_bytes() == (two.folder / path.relative_to(one.folder)).read_bytes()
    asked = walks()
    here, there = (predict_in_parts(one, **asked, n_jobs=jobs) for jobs in (1, 2))
    assert np.array_equal(here.value, there.value)
    assert np.array_equal(here.high, there.high)


def test_sessions_are_named_by_their_row_in_the_archive(tmp_path):
    parts = PARTITIONS["in turns"]
    model = in_parts(tmp_path / "model", parts)
    sessions = season().sessions
    rows = np.argsort(parts[sessions.event], kind="stable")
    assert model.n_sessions == len(sessions)
    assert model.n_events == N_EVENTS
    wanted = np.array([100, 3, 199, 3, 0])
    some, there = model.taken(wanted), rows[wanted]
    assert [some.event_name[code] for code in some.event] == [
        sessions.event_name[code] for code in sessions.event[there]
    ]
    assert [some.rider_name[code] for code in some.rider] == [
        sessions.rider_name[code] for code in sessions.rider[there]
    ]
    assert [some.venue_name[code] if code >= 0 else None for code in some.venue] == [
        sessions.venue_name[code] if code >= 0 else None for code in sessions.venue[there]
    ]
    assert np.array_equal(some.fields, sessions.fields[there], equal_nan=True)
    assert np.array_equal(some.degrees, sessions.degrees[there], equal_nan=True)
    assert np.array_equal(
        some.target, sessions.values[there] - sessions.house[there], equal_nan=True
    )
    assert np.array_equal(some.day, sessions.day[there])
    assert len(model.taken(np.zeros(0, dtype=int)).day) == 0


def test_the_nearest_sessions_come_with_a_model_that_holds_just_them(tmp_path):
    model, whole, asked = in_parts(tmp_path / "m", PARTITIONS["in turns"]), in_memory(), walks()
    small, said = with_nearest(model, predict_in_parts(model, **asked, n_nearest=2))
    expected = predict(whole, **asked, n_nearest=2).nearest.session[:, 0]
    assert len(small.day) <= 2 * len(asked["day"])
    assert [small.event_name[small.event[row]] for row in said.nearest.session[:, 0]] == [
        whole.event_name[whole.event[row]] for row in expected
    ]


@dataclass
class Counted:
    """Counts how often a part is loaded."""

    sessions: Sessions
    times: int = 0

    def __call__(self) -> Sessions:
        self.times += 1
        return self.sessions


def test_each_part_is_loaded_once(tmp_path):
    loaders = [Counted(part()) for part in loaders_of(season().sessions, PARTITIONS["in turns"])]
    train_in_parts(loaders, season().knowledge, tmp_path / "model", {})
    assert [loader.times for loader in loaders] == [1] * 5


def test_no_session_at_all_leaves_the_rules_as_written(tmp_path):
    nothing = season().sessions.taken(np.zeros(0, dtype=int))
    whole, asked = train(nothing, season().knowledge), walks()
    for name, loaders in {"none": [], "empty": [Loaded(nothing)] * 2}.items():
        model = train_in_parts(loaders, season().knowledge, tmp_path / name, {})
        assert model.n_sessions == 0
        assert_same(predict_in_parts(model, **asked), predict(whole, **asked))


@pytest.mark.parametrize("n_events", [1, 2, 3])
def test_a_few_events_are_enough(tmp_path, n_events):
    sessions = season().sessions
    few = with_own_names(sessions.taken(sessions.event < n_events))
    loaders = loaders_of(few, np.arange(n_events))
    model = train_in_parts(loaders, season().knowledge, tmp_path / "model", {})
    asked = walks()
    assert_same(predict_in_parts(model, **asked), predict(train(few, season().knowledge), **asked))


def test_an_event_in_two_parts_is_refused_with_its_name_and_the_parts(tmp_path):
    sessions = season().sessions
    parts = [part() for part in loaders_of(sessions, PARTITIONS["in turns"])]
    half = with_own_names(sessions.taken(sessions.event == 7)).taken(np.arange(4))
    loaders = [Loaded(part) for part in (*parts, half)]
    name = sessions.event_name[7]
    with pytest.raises(InputError, match=rf"'{name}': its sessions stand in parts 3 and 6"):
        train_in_parts(loaders, season().knowledge, tmp_path / "model", {})
    assert list(tmp_path.iterdir()) == []


def test_parts_of_another_rule_base_are_refused(tmp_path):
    other = simulate_season(3, world=World(n_settings=2)).sessions
    with pytest.raises(InputError, match="other than those of the rule base"):
        train_in_parts([Loaded(other)], season().knowledge, tmp_path / "model", {})
    assert list(tmp_path.iterdir()) == []


def test_no_task_grows_with_the_number_of_parts(tmp_path, monkeypatch):
    """The same 16 sessions a part, in four and in sixteen parts: what goes to a task and what comes
    back, once as many events and sessions are there as are chosen from, stays as it is.
    """
    choose_from_few(monkeypatch)
    world = World(n_settings=2, n_fields=4, n_venues=2, n_riders=2, sessions_per_day=2)
    made = simulate_season(320, random_state=3, world=world)
    most: dict[str, dict[int, int]] = {}

    def watched(function, tasks, **options):
        sizes = most.setdefault(function.__name__, {})

        def noted():
            for task in tasks:
                sizes[n_parts] = max(sizes.get(n_parts, 0), len(pickle.dumps(task)))
                yield task

        for result in many_cores.run_in_turn(function, noted(), **options):
            sizes[n_parts] = max(sizes.get(n_parts, 0), len(pickle.dumps(result)))
            yield result

    for module in (in_parts_store, in_parts_prediction):
        monkeypatch.setattr(module, "run_in_turn", watched)
    for n_parts in (4, 16):
        sessions = made.sessions.taken(made.sessions.event < 20 * n_parts)
        deal = np.arange(320) // 20
        loaders = loaders_of(sessions, deal)[:n_parts]
        model = train_in_parts(loaders, made.knowledge, tmp_path / str(n_parts), {})
        predict_in_parts(
            model,
            sessions.degrees[:5],
            sessions.house[:5],
            rider=sessions.rider[:5],
            fields=sessions.fields[:5],
            venue=sessions.venue[:5],
            day=sessions.day[:5],
        )
    assert len(most) == 5
    for name, sizes in most.items():
        assert sizes[16] <= 1.1 * sizes[4] + 500, name
