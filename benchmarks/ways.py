"""The plain way of summing past sessions up, and compiled code (the extra `fast`), by choice.

Left alone, the library chooses by the amount of work; here each way is forced, for all sizes.
"""

from __future__ import annotations

import os
from collections.abc import Iterator
from contextlib import contextmanager
from importlib.util import find_spec

from setupadvisor.learning.fast_sums import ALWAYS, NEVER, VARIABLE

WAYS = ("plain", "fast")


def installed(way: str) -> bool:
    """Whether a way can be gone here."""
    return way == "plain" or find_spec("numba") is not None


@contextmanager
def going(way: str) -> Iterator[None]:
    """Go one way for a while."""
    before = os.environ.get(VARIABLE)
    os.environ[VARIABLE] = ALWAYS if way == "fast" else NEVER
    try:
        yield
    finally:
        if before is None:
            del os.environ[VARIABLE]
        else:
            os.environ[VARIABLE] = before
