"""What every row of the suite is made of: rounds in turns, peaks of memory, targets.

A module of rows has a title, `parts(scale)` (the keyword arguments of each of its runs; each runs
in a process of its own) and `rows(**part)`, which measures and returns `Row`s. Whatever is compared
runs in turns in one process, so that a busy machine slows both sides. Answers are checked equal
before anything is timed, and a difference ends the run.
"""

from __future__ import annotations

import math
import statistics
import time
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field
from pathlib import Path
from typing import Literal

Scale = Literal["tiny", "quick", "full"]
Work = Callable[[], object]
NOT_INSTALLED = "not installed"
_STATUS, _PEAK_RESET = Path("/proc/self/status"), Path("/proc/self/clear_refs")


@dataclass(frozen=True)
class Target:
    """A bar: the measured value may be `most` at most."""

    says: str
    value: float
    most: float

    @property
    def met(self) -> bool:
        return self.value <= self.most


@dataclass(frozen=True)
class Row:
    """One line of the table: what was done, how long each round took, and beside what."""

    name: str
    values: Sequence[float]
    peer: str = ""
    # Median of the peer, in the same unit; None without a peer, or where it is not installed.
    peer_value: float | None = None
    # What the memory alone would take, in the same unit.
    limit_value: float | None = None
    peak_mb: float | None = None
    targets: Sequence[Target] = ()
    # Rows of one family differ in `size` alone: their growth is worked out.
    family: str = ""
    size: int = 0
    unit: str = "s"
    note: str = ""
    # How the answers were checked, in a few words.
    checked: str = ""

    @property
    def median(self) -> float:
        return statistics.median(self.values)

    @property
    def spread(self) -> float:
        """Interquartile range over the median; of fewer than 4 rounds the whole range."""
        if len(self.values) < 2:
            return math.nan
        ends = (min(self.values), max(self.values))
        if len(self.values) >= 4:
            quarters = statistics.quantiles(self.values, n=4, method="inclusive")
            ends = (quarters[0], quarters[2])
        return (ends[1] - ends[0]) / self.median

    @property
    def ratio(self) -> float | None:
        return None if self.peer_value is None else self.median / self.peer_value

    @property
    def limit_ratio(self) -> float | None:
        return None if self.limit_value is None else self.median / self.limit_value


@dataclass
class Rounds:
    """The times of some works that ran in turns."""

    seconds: dict[str, list[float]] = field(default_factory=dict)

    def median(self, name: str) -> float:
        return statistics.median(self.seconds[name])


def seconds(work: Work) -> float:
    """Return the wall time of some work."""
    begin = time.perf_counter()
    work()
    return time.perf_counter() - begin


def in_turns(
    works: Mapping[str, Work], *, rounds: int, at_most: float = 60.0, warm: bool = True
) -> Rounds:
    """Time works in turns: at least two rounds, then until all rounds or the time is used up."""
    found = Rounds({name: [] for name in works})
    if warm:
        for work in works.values():
            work()
    begin = time.perf_counter()
    for number in range(max(rounds, 1)):
        if number >= 2 and time.perf_counter() - begin > at_most:
            break
        for name, work in works.items():
            found.seconds[name].append(seconds(work))
    return found


def peak_mb() -> float | None:
    """Return this process's largest resident set so far (Linux)."""
    if not _STATUS.exists():
        return None
    return int(_STATUS.read_text().split("VmHWM:")[1].split()[0]) / 1024.0


def peak_of(work: Work) -> float | None:
    """Do some work; return the largest resident set during it, with all that the process holds."""
    try:
        _PEAK_RESET.write_text("5")
    except OSError:
        work()  # the peak since the process began, then
        return peak_mb()
    work()
    return peak_mb()


def at_most(share: float, row: Row, peer: str) -> Target:
    """Make the target that a row takes at most a share of its peer's time."""
    return Target(f"at most {share:g} of {peer}", row.ratio or math.nan, share)


def times_faster(times: float, row: Row, peer: str) -> Target:
    """Make the target that a row is so many times as fast as its peer."""
    return Target(f"{times:g} times as fast as {peer}", row.ratio or math.nan, 1.0 / times)


def growth(sizes: Sequence[int], medians: Sequence[float]) -> tuple[float, float, float]:
    """Return log-log slopes: over all sizes, over the last two, and of n log n over those."""
    x, y = [math.log(size) for size in sizes], [math.log(value) for value in medians]
    slope = statistics.linear_regression(x, y).slope
    last = (y[-1] - y[-2]) / (x[-1] - x[-2])
    allowed = 1.0 + math.log(x[-1] / x[-2]) / (x[-1] - x[-2])
    return slope, last, allowed
