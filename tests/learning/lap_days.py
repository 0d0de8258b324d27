"""Simulated days of laps with a known difference."""

from __future__ import annotations

import math

import numpy as np

from setupadvisor.entries.lap_runs import table_of
from setupadvisor.learning.lap_posterior import PRIOR

LAP_S, SPREAD_S, OVERHEAD_LAPS = 95.0, 0.8, 2


def drawn(random, ratio, factor):
    return ratio * math.exp(math.log(factor) * random.normal())


def ridden(
    random, pattern, laps, difference_s, run_ratio, drift, *, change_minutes=10.0, dirty=False
):
    """Runs of one rider on one day, and the hours at which they began."""
    slope, curve = drift
    apart = ((laps + OVERHEAD_LAPS) * LAP_S + change_minutes * 60.0) / 3600.0
    middle = apart * (len(pattern) - 1) / 2.0
    runs, begins = [], []
    for number, setup in enumerate(pattern):
        begin = number * apart
        hours = begin + np.arange(1, laps + 1) * LAP_S / 3600.0 - middle
        times = LAP_S + slope * hours + curve * hours**2 / 2.0
        times += random.normal() * run_ratio * SPREAD_S + random.normal(size=laps) * SPREAD_S
        times += difference_s * (setup == "B")
        runs.append((setup, soiled(random, times) if dirty else times))
        begins.append(9.0 + begin)
    return runs, begins


def soiled(random, times):
    """With an out-lap, an in-lap, one lap in seven in traffic, and one in thirty a fall."""
    laps = len(times)
    traffic = (random.random(laps) < 0.15) * random.exponential(2.5, laps)
    falls = (random.random(laps) < 0.03) * random.uniform(8.0, 30.0, laps)
    edges = [LAP_S + random.uniform(8.0, 20.0), LAP_S + random.uniform(10.0, 40.0)]
    return np.r_[edges[0], times + traffic + falls, edges[1]]


def one_drift(random, drift_ratio):
    """Slope and curve of one day, in seconds a lap, hour and hour squared."""
    return random.normal(size=2) * drift_ratio * SPREAD_S


def one_day(random, pattern, laps, difference_s, *, dirty=False, prior=PRIOR):
    """A table of one day, its ratios drawn from what is expected."""
    run_ratio = drawn(random, prior.run_ratio, prior.run_factor)
    drift = one_drift(random, drawn(random, prior.drift_ratio, prior.drift_factor))
    runs, begins = ridden(random, pattern, laps, difference_s, run_ratio, drift, dirty=dirty)
    return table_of(runs, start_h=begins)


def one_season(random, days, difference_s, *, riders=("north", "south"), prior=PRIOR):
    """A table of several riders on several days, on which the difference is not quite the same."""
    run_ratio = drawn(random, prior.run_ratio, prior.run_factor)
    drift_ratio = drawn(random, prior.drift_ratio, prior.drift_factor)
    block_ratio = drawn(random, prior.block_ratio, prior.block_factor)
    runs, begins, rider, day = [], [], [], []
    for number in range(days):
        drift = one_drift(random, drift_ratio)
        for name in riders:
            here = difference_s + random.normal() * block_ratio * SPREAD_S
            some, began = ridden(random, "ABBA", 5, here, run_ratio, drift)
            runs += some
            begins += began
            rider += [name] * len(some)
            day += [f"day {number}"] * len(some)
    return table_of(runs, rider=rider, day=day, start_h=begins)
