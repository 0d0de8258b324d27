"""Compiled sums over past sessions against the plain ones."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from setupadvisor.learning import fast_sums
from setupadvisor.learning import past_sums as past_sums_module
from setupadvisor.learning.fast_sums import ALWAYS, NEVER, VARIABLE, compiled_pays, scanned
from setupadvisor.learning.past_sessions import conditions
from setupadvisor.learning.past_sums import past_sums, past_sums_and_nearness
from setupadvisor.learning.trial_sums import trial_sums
from setupadvisor.learning.walk_tables import Comparison, WalkTable

pytest.importorskip("numba")
# Single precision: 24 bits a step, some hundred steps a distance, and a similarity falls by as much
# as its exponent, below 90, times the error of the distance.
CLOSE = {"rtol": 2e-4, "atol": 1e-5}


def walks(random: np.random.Generator, n: int, as_category: np.ndarray, missing: float):
    fields = random.random((n, len(as_category)))
    fields[:, as_category] = np.floor(fields[:, as_category] * 3)
    fields[random.random(fields.shape) < missing] = np.nan
    # The last field never varies: its range is 0, and it agrees or not.
    ranges = np.ones(len(as_category))
    ranges[-1] = 0.0
    entered = conditions(fields, as_category, ranges)
    venue = np.sort(random.integers(-1, 4, n))
    return WalkTable(entered, venue, random.integers(0, 900, n).astype(float))


def invented(seed: int, n_fields: int, m: int = 5, n: int = 2500, half_life: float = np.inf):
    random = np.random.default_rng(seed)
    as_category = random.random(n_fields) < 0.25
    agree_or_not = as_category.copy()
    agree_or_not[-1] = True
    missing = float(random.choice([0.0, 0.1, 0.9]))
    asked, past = (walks(random, size, as_category, missing) for size in (m, n))
    read = random.random((4, n_fields)) < random.random((4, 1))
    comparison = Comparison(
        weights=np.where(read, 1.0, 0.3).astype(np.float32),
        agree_or_not=agree_or_not,
        bandwidth=random.uniform(0.06, 0.5, 4),
        venue_factor=float(random.choice([1.0, 7.0])),
        half_life=half_life,
    )
    return asked, past, random.random((3, 2, n), dtype=np.float32), comparison


@pytest.mark.parametrize("half_life", [np.inf, 300.0])
@pytest.mark.parametrize("n_fields", [1, 12, 70])
@settings(max_examples=8, deadline=None)
@given(seed=st.integers(0, 10**6))
def test_compiled_sums_distances_and_similarities_are_the_plain_ones(seed, n_fields, half_life):
    """Up to more fields than a word has bits; blocks that are not full; missing cells."""
    asked, past, table, comparison = invented(seed, n_fields, half_life=half_life)
    parts = {"asked": asked, "past": past, "table": table, "comparison": comparison}
    with pytest.MonkeyPatch.context() as patch:
        patch.setenv(VARIABLE, NEVER)
        plain = past_sums_and_nearness(**parts)
        patch.setenv(VARIABLE, ALWAYS)
        assert compiled_pays(asked, past, comparison.weights)
        compiled = past_sums_and_nearness(**parts)
        for ours, theirs in zip(compiled, plain, strict=True):
            np.testing.assert_allclose(ours, theirs, **CLOSE)


@settings(max_examples=8, deadline=None)
@given(seed=st.integers(0, 10**6))
def test_compiled_trials_are_the_plain_ones(seed):
    asked, past, table, comparison = invented(seed, 12)
    trials = {
        "asked": asked,
        "past": past,
        "table": table,
        "weights": comparison.weights[:3],
        "agree_or_not": comparison.agree_or_not,
        "bandwidths": 0.5 / np.sqrt(2.0) ** np.arange(4),
        "half_lives": (np.inf, 200.0),
    }
    with pytest.MonkeyPatch.context() as patch:
        patch.setenv(VARIABLE, NEVER)
        plain = trial_sums(**trials)
        patch.setenv(VARIABLE, ALWAYS)
        np.testing.assert_allclose(trial_sums(**trials), plain, **CLOSE)


@pytest.mark.parametrize("way", [NEVER, ALWAYS])
def test_any_number_of_threads_gives_the_same_bits(monkeypatch, way):
    asked, past, table, comparison = invented(3, 12, m=40, n=20_000)
    monkeypatch.setenv(VARIABLE, way)
    for module in (past_sums_module, fast_sums):
        monkeypatch.setattr(module, "PAST_AT_ONCE", 3_000)
    monkeypatch.setattr(fast_sums, "TILES_AT_ONCE", 2)
    found = []
    for threads in ("1", "2", "5"):
        monkeypatch.setenv("NUMBA_NUM_THREADS", threads)
        sums = past_sums(asked=asked, past=past, table=table, comparison=comparison.of_settings(3))
        found.append(sums)
    assert (found[0][:, :, 1] > 0).all()
    assert np.array_equal(found[0], found[1])
    assert np.array_equal(found[0], found[2])


def test_where_nothing_is_known_in_common_nothing_counts(monkeypatch):
    """A compiled comparison with what is not a number must not let it through."""
    asked, past, table, comparison = invented(1, 12)
    nothing = WalkTable(
        conditions(np.full((5, 12), np.nan), np.zeros(12, dtype=bool), np.ones(12)),
        asked.venue,
        asked.day,
    )
    monkeypatch.setenv(VARIABLE, ALWAYS)
    sums, near, far = past_sums_and_nearness(
        asked=nothing, past=past, table=table, comparison=comparison
    )
    assert (sums == 0).all()
    assert (near == 0).all()
    assert np.isnan(far).all()


def test_compiled_code_is_used_for_much_work_only_and_sooner_in_training(monkeypatch):
    asked, past, _, comparison = invented(2, 12)
    work = len(asked.day) * len(past.day) * comparison.weights.size
    monkeypatch.delenv(VARIABLE, raising=False)
    monkeypatch.setattr(fast_sums, "WORTH_IT_ONCE", work + 1)
    monkeypatch.setattr(fast_sums, "WORTH_IT_IN_TRAINING", work)
    assert not compiled_pays(asked, past, comparison.weights)
    assert compiled_pays(asked, past, comparison.weights, training=True)
    monkeypatch.setenv(VARIABLE, NEVER)
    assert not compiled_pays(asked, past, comparison.weights, training=True)


def test_without_numba_or_with_more_than_two_weights_the_plain_way_is_taken(monkeypatch):
    asked, past, table, comparison = invented(4, 12)
    monkeypatch.setenv(VARIABLE, ALWAYS)
    three = comparison.weights.copy()
    three[:, :3] = [0.1, 0.5, 2.0]
    assert not compiled_pays(asked, past, three)
    with pytest.raises(ValueError, match="more than two weights"):
        scanned(
            asked,
            past,
            table,
            weights=three,
            agree_or_not=comparison.agree_or_not,
            bandwidth=comparison.bandwidth,
            half_lives=[np.inf],
        )
    monkeypatch.setattr(fast_sums, "_numba_is_there", lambda: False)
    assert not compiled_pays(asked, past, comparison.weights)


def test_arrays_that_are_read_only_are_scanned_too(monkeypatch):
    """Worker processes get theirs from files."""
    asked, past, table, comparison = invented(5, 12)
    monkeypatch.setenv(VARIABLE, ALWAYS)
    parts = {"past": past, "comparison": comparison.of_settings(3)}
    before = past_sums(asked=asked, table=table, **parts)
    for array in (past.conditions.scaled, past.venue, past.day, table):
        array.flags.writeable = False
    assert np.array_equal(past_sums(asked=asked, table=table, **parts), before)
