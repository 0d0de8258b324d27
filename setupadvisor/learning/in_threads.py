"""The same work on several threads of this process, for what leaves Python's lock alone."""

from __future__ import annotations

import os
from collections.abc import Callable, Iterator, Sequence
from itertools import starmap
from typing import Any, TypeVar

Result = TypeVar("Result")


def in_threads(
    function: Callable[..., Result], tasks: Sequence[tuple[Any, ...]]
) -> Iterator[Result]:
    """Call a function for each task, on as many threads as there are cores.

    Parameters
    ----------
    function : callable
        What to call; most of its time in numpy or compiled code.
    tasks : sequence of tuple
        Its arguments, task by task.

    Yields
    ------
    object
        What it returned, in the order of the tasks.

    Examples
    --------
    >>> list(in_threads(pow, [(2, 3), (3, 2)]))
    [8, 9]
    """
    threads = min(len(tasks), _threads())
    if threads <= 1:
        yield from starmap(function, tasks)
        return
    from concurrent.futures import ThreadPoolExecutor  # noqa: PLC0415 - not for one walk's advice

    with ThreadPoolExecutor(threads) as pool:
        yield from pool.map(function, *zip(*tasks, strict=True))


def _threads() -> int:
    """Count the cores this process may use; joblib tells its workers theirs."""
    told = os.environ.get("NUMBA_NUM_THREADS", "")
    if told.isdigit():
        return int(told)
    return len(os.sched_getaffinity(0)) if hasattr(os, "sched_getaffinity") else os.cpu_count() or 1
