"""The same work here, on many cores or on many machines, with the same result to the last bit.

joblib carries the tasks: `joblib.parallel_config` says where to (processes, threads, a Dask
cluster). What could differ between places is how many threads the linear algebra library splits a
sum over, and with it the order of additions; so every task runs on one such thread, everywhere.
"""

from __future__ import annotations

import threading
from collections.abc import Callable, Iterable, Iterator, Mapping
from contextlib import contextmanager
from typing import Any, TypeVar

Result = TypeVar("Result")


class _Threads:
    """Tasks that are running in this process, and the limit they share."""

    lock = threading.Lock()
    n_tasks = 0
    limit: Any = None


@contextmanager
def one_thread_each() -> Iterator[None]:
    """Hold the linear algebra library to one thread while any task of this process runs.

    The limit belongs to the process, not to a thread, so the last task to end lifts it.

    Yields
    ------
    None
    """
    from threadpoolctl import threadpool_limits  # type: ignore[import-untyped]  # noqa: PLC0415

    with _Threads.lock:
        if _Threads.n_tasks == 0:
            _Threads.limit = threadpool_limits(limits=1, user_api="blas")
        _Threads.n_tasks += 1
    try:
        yield
    finally:
        with _Threads.lock:
            _Threads.n_tasks -= 1
            if _Threads.n_tasks == 0:
                _Threads.limit.restore_original_limits()


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
    processes run the same versions of Python and numpy on the same kind of processor.

    Examples
    --------
    >>> run_each(divmod, [])
    []
    >>> run_each(round, [{"number": 2.25, "ndigits": 1}, {"number": 3.0, "ndigits": 1}])
    [2.2, 3.0]
    """
    if n_jobs == 1:
        with one_thread_each():
            return [function(**task) for task in tasks]
    from joblib import Parallel, delayed  # noqa: PLC0415

    return list(Parallel(n_jobs=n_jobs)(delayed(_on_one_thread)(function, task) for task in tasks))


def _on_one_thread(function: Callable[..., Result], task: Mapping[str, Any]) -> Result:
    """Run one task in whichever process it landed."""
    with one_thread_each():
        return function(**task)
