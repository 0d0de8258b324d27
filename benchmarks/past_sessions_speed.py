"""Distances of one walk to 100,000 sessions, for all settings at once, beside one neighbour query.

    python benchmarks/past_sessions_speed.py [--sessions N] [--rounds N] [--json FILE]

Ours is `gower`: one distance a session for each setting, since each setting has its own weights,
with a tenth of the conditions missing on either side and left out of both sums. The peer is one
query of scikit-learn's brute `KNeighborsRegressor` (5 neighbours, as it comes: Euclidean) on the
same columns, gaps filled with the mean, categories as numbers: one distance a session in all, which
it would take once a setting. The bar is 3 times the peer. Both run on one thread and are timed in
turns, so that a busy machine slows both; every session here is a walk of its own, while sessions
that share a walk are compared once.
"""

from __future__ import annotations

import argparse
import json
import statistics
import time
from collections.abc import Callable
from pathlib import Path

import numpy as np
from sklearn.neighbors import KNeighborsRegressor
from threadpoolctl import threadpool_limits

from setupadvisor.learning.past_sessions import conditions, gower

BAR = 3.0
SIZES = ((8, 12), (20, 30), (43, 54))


def seconds(function: Callable[[], object]) -> float:
    begin = time.perf_counter()
    function()
    return time.perf_counter() - begin


def measured(n: int, n_settings: int, n_fields: int, rounds: int) -> dict[str, float]:
    """Time both in turns."""
    random = np.random.default_rng(1)
    category = np.arange(n_fields) >= n_fields - n_fields // 4
    past, today = (random.random((rows, n_fields)) for rows in (n, 1))
    for table in (past, today):
        table[:, category] = np.floor(table[:, category] * 3)
        table[random.random(table.shape) < 0.1] = np.nan
    weights = np.where(random.random((n_settings, n_fields)) < 0.3, 1.0, 0.3).astype(np.float32)
    ranges = np.ones(n_fields)
    known = conditions(past, category, ranges)
    mean = np.nanmean(past, axis=0)
    plain = KNeighborsRegressor(5, algorithm="brute")
    plain.fit(np.where(np.isnan(past), mean, past), random.random(n))
    asked = np.where(np.isnan(today), mean, today)

    def ours() -> object:
        return gower(conditions(today, category, ranges), known, weights, category)

    with threadpool_limits(limits=1):
        ours()
        plain.predict(asked)
        pairs = [(seconds(ours), seconds(lambda: plain.predict(asked))) for _ in range(rounds)]
    own, peer = (statistics.median(side) for side in zip(*pairs, strict=True))
    return {
        "sessions": n,
        "settings": n_settings,
        "fields": n_fields,
        "milliseconds": own * 1e3,
        "peer_milliseconds": peer * 1e3,
        "ratio": statistics.median(a / b for a, b in pairs),
        "ratio_once_a_setting": own / (peer * n_settings),
    }


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--sessions", type=int, default=100_000)
    parser.add_argument("--rounds", type=int, default=31)
    parser.add_argument("--json", type=Path)
    options = parser.parse_args()
    print(
        f"{'settings':>9}{'fields':>8}{'ours, ms':>10}{'peer, ms':>10}{'ratio':>7}"
        f"{'to the peer once a setting':>28}"
    )
    found = []
    for n_settings, n_fields in SIZES:
        one = measured(options.sessions, n_settings, n_fields, options.rounds)
        found.append(one)
        late = "" if one["ratio"] <= BAR else f"  above {BAR:g}"
        print(
            f"{n_settings:>9}{n_fields:>8}{one['milliseconds']:>10.1f}"
            f"{one['peer_milliseconds']:>10.1f}{one['ratio']:>7.2f}"
            f"{one['ratio_once_a_setting']:>28.2f}{late}",
            flush=True,
        )
    if options.json:
        options.json.write_text(json.dumps(found, indent=1) + "\n")


if __name__ == "__main__":
    main()
