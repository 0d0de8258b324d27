"""The same calls on a cluster of two worker processes, equal to the last bit."""

from __future__ import annotations

import os
from collections.abc import Iterator
from dataclasses import fields, is_dataclass

import numpy as np
import pytest
from joblib import parallel_config
from sklearn.model_selection import GridSearchCV, GroupKFold
from threadpoolctl import threadpool_info

from setupadvisor.learning.estimators import PastSessionsRegressor, season_frames
from setupadvisor.learning.evaluation import Evaluation, evaluate
from setupadvisor.learning.many_cores import run_each
from setupadvisor.learning.simulate import Season, World, simulate_season
from setupadvisor.learning.training import train

distributed = pytest.importorskip(
    "distributed", reason='needs the extra "cluster": pip install "setupadvisor[cluster]"'
)

BACKENDS = ["sequential", "threading", "loky", "dask"]


@pytest.fixture(scope="module")
def cluster(tmp_path_factory) -> Iterator[object]:
    """Two worker processes on this machine, reachable from nowhere else."""
    with (
        distributed.LocalCluster(
            n_workers=2,
            threads_per_worker=1,
            processes=True,
            host="127.0.0.1",
            dashboard_address="127.0.0.1:0",
            local_directory=str(tmp_path_factory.mktemp("workers")),
        ) as workers,
        distributed.Client(workers) as client,
    ):
        yield client


def bits(result: object) -> object:
    """Everything in a result, numbers as their bytes."""
    if isinstance(result, np.ndarray):
        return result.dtype.str, result.shape, result.tobytes()
    if isinstance(result, float):
        return np.float64(result).tobytes()
    if is_dataclass(result):
        return {part.name: bits(getattr(result, part.name)) for part in fields(result)}
    if isinstance(result, dict):
        return {key: bits(part) for key, part in result.items()}
    if isinstance(result, list | tuple):
        return [bits(part) for part in result]
    return result


def test_one_bit_of_one_number_makes_two_results_differ():
    season = simulate_season(3)
    other = season.ideal.copy()
    other[0, 0] = np.nextafter(other[0, 0], np.inf)
    assert bits([season.ideal, 1.0]) == bits([season.ideal.copy(), 1.0])
    assert bits([season.ideal]) != bits([other])
    assert bits(season) == bits(simulate_season(3))
    assert bits(season) != bits(simulate_season(3, random_state=1))


def test_tasks_run_in_the_workers_with_one_thread_of_linear_algebra_each(cluster):
    of_workers = set(cluster.run(os.getpid).values())
    assert len(of_workers) == 2
    assert os.getpid() not in of_workers
    with parallel_config(backend="dask"):
        assert set(run_each(os.getpid, [{}] * 20, n_jobs=2)) <= of_workers
        told = run_each(threadpool_info, [{}] * 4, n_jobs=2)
    threads = {
        library["num_threads"]
        for libraries in told
        for library in libraries
        if library["user_api"] == "blas"
    }
    assert threads == {1}


@pytest.mark.parametrize("backend", BACKENDS)
def test_a_model_trained_anywhere_is_the_same_to_the_last_bit(cluster, backend):
    season = simulate_season(60, random_state=41)
    here = train(season.sessions, season.knowledge)
    with parallel_config(backend=backend):
        there = train(season.sessions, season.knowledge, n_jobs=2)
    assert bits(there) == bits(here)


@pytest.fixture(scope="module")
def evaluated_here() -> tuple[Season, Evaluation]:
    season = simulate_season(6, random_state=43, world=World(n_settings=2, n_venues=3))
    return season, evaluate(season.sessions, season.knowledge)


@pytest.mark.parametrize("backend", BACKENDS)
def test_events_left_out_anywhere_give_the_same_errors_to_the_last_bit(
    cluster, evaluated_here, backend
):
    """All ways, neighbours and random forests of scikit-learn among them."""
    season, here = evaluated_here
    with parallel_config(backend=backend):
        there = evaluate(season.sessions, season.knowledge, n_jobs=2)
    assert None not in here.overall.values()
    assert bits(there) == bits(here)


@pytest.mark.parametrize("backend", BACKENDS)
def test_seasons_simulated_anywhere_are_the_same_to_the_last_bit(cluster, backend):
    tasks = [{"n_events": 6, "random_state": draw} for draw in range(4)]
    with parallel_config(backend=backend):
        there = run_each(simulate_season, tasks, n_jobs=2)
    assert bits(there) == bits([simulate_season(**task) for task in tasks])


def test_an_error_in_a_worker_is_heard_here(cluster):
    tasks = [{"n_events": -1}]
    with pytest.raises(ValueError) as here:
        run_each(simulate_season, tasks)
    with parallel_config(backend="dask"), pytest.raises(ValueError) as there:
        run_each(simulate_season, tasks, n_jobs=2)
    assert str(there.value) == str(here.value)


def test_a_grid_search_of_scikit_learn_runs_on_the_cluster_too(cluster):
    table, setup, event, _ = season_frames(simulate_season(8, random_state=42).sessions)
    search = GridSearchCV(
        PastSessionsRegressor(categorical_features=None),
        {"kappa": [0.5, 2.0]},
        cv=GroupKFold(4),
        n_jobs=2,
    )
    numbers = table.select_dtypes("number")
    here = search.fit(numbers, setup, groups=event).cv_results_["mean_test_score"]
    with parallel_config(backend="dask"):
        there = search.fit(numbers, setup, groups=event).cv_results_["mean_test_score"]
    assert there == pytest.approx(here, rel=1e-12)
