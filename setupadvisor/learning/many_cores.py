"""The same work here, on many cores or on many machines, with the same result to the last bit.

joblib carries the tasks: `joblib.parallel_config` says where to (processes, threads, a Dask
cluster). What could differ between places is how many threads the linear algebra library splits a
sum over, and with it the order of additions; so every task runs on one such thread, everywhere.
"""

from __future__ import annotations

import os
import warnings
from collections.abc import Callable, Iterable, Iterator, Mapping
from functools import cache
from typing import Any, TypeVar

from setupadvisor.learning.one_thread import one_thread

Result = TypeVar("Result")


def run_each(
    function: Callable[..., Result],
    tasks: Iterable[Mapping[str, Any]],
    *,
    n_jobs: int | None = 1,
) -> list[Result]:
    """Call a function once for each task, here or wherever joblib is told to.

    Parameters
    ----------
    function : callable
        A function at the top of a module, so that other processes can find it.
    tasks : iterable of mapping
        Keyword arguments of each call.
    n_jobs : int, optional
        Tasks at once, in joblib's sense; None leaves it to `joblib.parallel_config`.

    Returns
    -------
    list
        What the calls returned, in the order of the tasks.

    Notes
    -----
    The result does not depend on `n_jobs` nor on the backend, to the last bit, as long as all
    processes run the same versions of Python and numpy on the same kind of processor. This process
    has its threads back afterwards; a worker process is kept to one for as long as it lives, since
    its tasks may overlap.

    Examples
    --------
    >>> run_each(divmod, [])
    []
    >>> run_each(round, [{"number": 2.25, "ndigits": 1}, {"number": 3.0, "ndigits": 1}])
    [2.2, 3.0]
    """
    return list(run_in_turn(function, tasks, n_jobs=n_jobs))


def run_in_turn(
    function: Callable[..., Result],
    tasks: Iterable[Mapping[str, Any]],
    *,
    n_jobs: int | None = 1,
) -> Iterator[Result]:
    """Call a function once for each task, and give each result as soon as its turn has come.

    Parameters
    ----------
    function, tasks, n_jobs
        As for `run_each`.

    Yields
    ------
    object
        What the calls returned, in the order of the tasks; only a few are held at a time.

    Examples
    --------
    >>> sum(run_in_turn(round, ({"number": number} for number in (1.9, 2.9))))
    5
    """
    # Held by the calling thread for all: threads of one process share the library's threads.
    with one_thread():
        if n_jobs == 1:
            for task in tasks:
                yield function(**task)
            return
        from joblib import Parallel, delayed  # noqa: PLC0415

        # A worker whose memory has grown is replaced by joblib, which tells that; no task is lost.
        warnings.filterwarnings("ignore", message="A worker stopped while some jobs were given")
        caller = os.getpid()
        calls = (delayed(_on_one_thread)(caller, function, task) for task in tasks)
        yield from Parallel(n_jobs=n_jobs, return_as="generator")(calls)


def _on_one_thread(caller: int, function: Callable[..., Result], task: Mapping[str, Any]) -> Result:
    """Run one task in whichever process it landed."""
    if os.getpid() != caller:
        _keep_to_one_thread(os.getpid())
    return function(**task)


@cache
def _keep_to_one_thread(process: int) -> None:
    """Keep a worker process to one thread of linear algebra, from its first task on."""
    one_thread().__enter__()
