"""Tasks give the same result wherever they run, each on one thread of the linear algebra."""

from __future__ import annotations

import os

import numpy as np
import pytest
from joblib import parallel_config
from threadpoolctl import threadpool_info, threadpool_limits

from setupadvisor.learning.many_cores import run_each
from setupadvisor.learning.ranges import events_needed
from setupadvisor.learning.simulate import simulate_season

BACKENDS = ["sequential", "threading", "loky"]


def algebra_threads() -> list[int]:
    return [
        library["num_threads"] for library in threadpool_info() if library["user_api"] == "blas"
    ]


def threads_before_during_and_after(**inner) -> list[set[int]]:
    before = set(algebra_threads())
    during = set(run_each(**inner)[0])
    return [before, during, set(algebra_threads())]


@pytest.mark.parametrize("backend", BACKENDS)
def test_results_come_in_the_order_of_the_tasks(backend):
    tasks = [{"level": level} for level in np.linspace(0.99, 0.01, 40)]
    with parallel_config(backend=backend):
        got = run_each(events_needed, tasks, n_jobs=2)
    assert got == [events_needed(**task) for task in tasks]


@pytest.mark.parametrize("backend", BACKENDS)
@pytest.mark.parametrize("n_jobs", [1, 2])
def test_every_task_has_one_thread_and_the_others_come_back_afterwards(backend, n_jobs):
    with threadpool_limits(limits=2, user_api="blas"):
        before = algebra_threads()
        with parallel_config(backend=backend):
            told = run_each(threadpool_info, [{}] * 4, n_jobs=n_jobs)
        assert algebra_threads() == before
    threads = [
        library["num_threads"]
        for libraries in told
        for library in libraries
        if library["user_api"] == "blas"
    ]
    assert set(threads) == {1}


def test_processes_are_others_and_threads_are_not():
    with parallel_config(backend="loky"):
        assert os.getpid() not in run_each(os.getpid, [{}] * 4, n_jobs=2)
    with parallel_config(backend="threading"):
        assert set(run_each(os.getpid, [{}] * 4, n_jobs=2)) == {os.getpid()}


def test_left_to_joblib_the_number_of_jobs_is_the_surroundings():
    assert set(run_each(os.getpid, [{}] * 4, n_jobs=None)) == {os.getpid()}
    with parallel_config(backend="loky", n_jobs=2):
        assert os.getpid() not in run_each(os.getpid, [{}] * 4, n_jobs=None)


def test_tasks_within_tasks_keep_to_one_thread_until_the_outermost_has_ended():
    with threadpool_limits(limits=2, user_api="blas"):
        before = algebra_threads()
        inner = {"function": algebra_threads, "tasks": [{}]}
        assert run_each(threads_before_during_and_after, [inner]) == [[{1}, {1}, {1}]]
        assert algebra_threads() == before


@pytest.mark.parametrize("n_jobs", [1, 2])
def test_a_task_that_fails_lifts_the_limit_and_is_heard(n_jobs):
    with threadpool_limits(limits=2, user_api="blas"):
        before = algebra_threads()
        with pytest.raises(ZeroDivisionError):
            run_each(events_needed, [{"level": 1.0}], n_jobs=n_jobs)
        assert algebra_threads() == before


def test_an_error_of_a_task_in_another_process_keeps_its_message():
    tasks = [{"n_events": -1}]
    with pytest.raises(ValueError) as here:
        run_each(simulate_season, tasks)
    with parallel_config(backend="loky"), pytest.raises(ValueError) as there:
        run_each(simulate_season, tasks, n_jobs=2)
    assert str(there.value) == str(here.value)
