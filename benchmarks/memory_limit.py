"""How fast this machine's memory can be read: the limit of any scan over past sessions.

Measured is the sum of squares of an array of single precision (BLAS `sdot` of an array with
itself: a fused multiply-add on each value read, nothing written), one part of it by each thread,
the best of some passes. The array is far larger than the processor's own memory, as the passes of
one would otherwise be read from there; on a shared machine that reports hundreds of megabytes, 2 GB
and more.
"""

from __future__ import annotations

import os
from concurrent.futures import ThreadPoolExecutor

import numpy as np
from measuring import Row, Scale, seconds

from setupadvisor.learning.one_thread import one_thread

TITLE = "Memory"


def parts(scale: Scale) -> list[dict[str, object]]:
    gigabytes = {"tiny": 0.01, "quick": 0.5, "full": 2.5}[scale]
    return [{"gigabytes": gigabytes, "passes": {"tiny": 2, "quick": 3, "full": 7}[scale]}]


def pass_seconds(gigabytes: float, passes: int, threads: int) -> list[float]:
    """Seconds of each pass over an array of so many gigabytes, read by some threads at once."""
    values = np.ones(int(gigabytes * 1e9 / 4), dtype=np.float32)
    pieces = np.array_split(values, threads)

    def read(piece: np.ndarray) -> float:
        return float(np.dot(piece, piece))

    with one_thread(), ThreadPoolExecutor(threads) as pool:
        return [seconds(lambda: list(pool.map(read, pieces))) for _ in range(passes)]


def bytes_per_second(gigabytes: float = 2.5, passes: int = 5, threads: int | None = None) -> float:
    """Return the best pass's bytes a second."""
    return gigabytes * 1e9 / min(pass_seconds(gigabytes, passes, threads or os.cpu_count() or 1))


def rows(gigabytes: float, passes: int) -> list[Row]:
    """Measure with one thread and with all."""
    found = []
    for threads in sorted({1, os.cpu_count() or 1}):
        taken = pass_seconds(gigabytes, passes, threads)
        rates = [gigabytes / one for one in taken]
        found.append(
            Row(
                name=f"{gigabytes:g} GB read by {threads} thread{'s' * (threads > 1)}",
                values=taken,
                note=f"best pass {max(rates):.1f} GB/s",
            )
        )
    return found
