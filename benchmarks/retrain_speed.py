"""Retraining beside the same validation written plainly with scikit-learn, in one run.

    python benchmarks/retrain_speed.py [--sizes 200 5000 50000] [--settings 8] [--fields 12]
                                       [--own-walks] [--rounds N] [--json FILE]

Timed is `train` (amounts and habits for every fold, the reach of past sessions, ranges, fallbacks)
and the design's errors on events left out, on invented seasons; each size in a process of its own,
so that its peak memory can be told. The targets: 200 sessions under 3 s, 5,000 under 20 s, 50,000
under 3 minutes and 2 GB; 10 times (5 times at 50,000) faster than the peer.

The peer is scikit-learn's `cross_val_predict` with `LeaveOneGroupOut` over brute
`KNeighborsRegressor`, 50 neighbours weighed by a Gaussian kernel of the Manhattan distance, columns
scaled by range and weight, gaps filled with the mean; once a setting and grid point, on settled
sessions only (a third of the rows). Its grid is the 13 pairs of bandwidth and weight of unread
fields that `train` tries out; pseudo-sessions, venue factor and half-life, which `train` chooses
too, are left out of it. "Each event" leaves every event out on its own, "same folds" at most twenty
folds of whole events as `train` does. Timed are one setting and as many grid points and folds as
fit into about ten seconds; the rest is that times the number of settings, points and folds.

With --own-walks no two sessions share their conditions, so that nothing is compared once for
several sessions: the worst case.
"""

from __future__ import annotations

import argparse
import json
import math
import resource
import statistics
import subprocess
import sys
import time
from dataclasses import replace
from pathlib import Path

import numpy as np
from sklearn.model_selection import LeaveOneGroupOut, cross_val_predict
from sklearn.neighbors import KNeighborsRegressor

from setupadvisor.learning.alternatives import cases_of
from setupadvisor.learning.left_out import left_out_errors
from setupadvisor.learning.ranges import folds_of_events
from setupadvisor.learning.simulate import Season, World, simulate_season
from setupadvisor.learning.training import train
from setupadvisor.learning.tuning import N_BANDWIDTHS, UNREAD_WEIGHTS

SECONDS_FOR_PEER = 10.0
NEIGHBOURS = 50
GRID_POINTS = N_BANDWIDTHS + 3 * (len(UNREAD_WEIGHTS) - 1)
TARGET_SECONDS = {200: 3.0, 5_000: 20.0, 50_000: 180.0}


def invented(n_sessions: int, settings: int, fields: int, own_walks: bool) -> Season:
    """A season of about so many sessions: three riders, three sessions each, an event."""
    world = World(n_settings=settings, n_fields=fields, rules_per_setting=max(4, fields // 9))
    season = simulate_season(max(2, n_sessions // 9), random_state=1, world=world)
    if not own_walks:
        return season
    conditions = season.sessions.fields
    shift = 0.02 * np.random.default_rng(0).standard_normal(conditions.shape)
    conditions = np.where(season.knowledge.field_is_category, conditions, conditions + shift)
    return replace(season, sessions=replace(season.sessions, fields=conditions))


def gaussian(distance: np.ndarray) -> np.ndarray:
    return np.exp(-(distance**2) / 2.0)


def peer_seconds(season: Season, groups: np.ndarray) -> tuple[float, str]:
    """Seconds of the plain validation for all settings and grid points, and what was timed."""
    cases, knowledge = cases_of(season.sessions), season.knowledge
    fields = cases.sessions.fields
    low, high = np.nanmin(fields, axis=0), np.nanmax(fields, axis=0)
    filled = np.where(np.isnan(fields), np.nanmean(fields, axis=0), fields)
    weight = np.where(knowledge.reads[0], 1.0, 0.3)
    columns = (filled - low) / np.where(high > low, high - low, 1.0) * weight / weight.sum()
    target = np.nan_to_num(cases.settled[:, 0])
    plain = KNeighborsRegressor(NEIGHBOURS, algorithm="brute", metric="manhattan", weights=gaussian)

    def once(rows: np.ndarray, point: int) -> float:
        scaled = columns / (0.5 / math.sqrt(2.0) ** (point % N_BANDWIDTHS))
        start = time.perf_counter()
        cross_val_predict(plain, scaled, target, groups=rows, cv=LeaveOneGroupOut())
        return time.perf_counter() - start

    n_groups = len(np.unique(groups))
    first = _seconds_of_some_folds(plain, columns, target, groups, min(n_groups, 20))
    whole = first / min(n_groups, 20) * n_groups
    if whole > SECONDS_FOR_PEER:
        some = max(2, int(SECONDS_FOR_PEER / whole * n_groups))
        timed = _seconds_of_some_folds(plain, columns, target, groups, some) / some * n_groups
        return timed * GRID_POINTS * knowledge.amounts.shape[1], f"{some} of {n_groups} folds"
    points = max(1, min(GRID_POINTS, int(SECONDS_FOR_PEER / max(whole, 1e-3))))
    timed = statistics.median(once(groups, point) for point in range(points))
    return timed * GRID_POINTS * knowledge.amounts.shape[1], f"{points} of {GRID_POINTS} points"


def _seconds_of_some_folds(
    plain: KNeighborsRegressor, columns: np.ndarray, target: np.ndarray, groups: np.ndarray, n: int
) -> float:
    """What `cross_val_predict` does, for the first n groups: fit on the others, predict."""
    start = time.perf_counter()
    for place, (others, group) in enumerate(LeaveOneGroupOut().split(columns, target, groups)):
        if place == n:
            break
        plain.fit(columns[others], target[others]).predict(columns[group])
    return time.perf_counter() - start


def measured(options: argparse.Namespace, n_sessions: int) -> dict[str, object]:
    """Time one size in this process."""
    season = invented(n_sessions, options.settings, options.fields, options.own_walks)
    seconds = []
    for _ in range(options.rounds or (5 if n_sessions <= 1_000 else 3)):
        start = time.perf_counter()
        model = train(season.sessions, season.knowledge)
        errors = left_out_errors(model)
        seconds.append(time.perf_counter() - start)
    memory = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024.0
    cases = cases_of(season.sessions)
    event = cases.sessions.event
    folds, _ = folds_of_events(event, cases.sessions.day)
    own = statistics.median(seconds)
    peers = {name: peer_seconds(season, g) for name, g in (("event", event), ("folds", folds))}
    return {
        "sessions": len(season.sessions),
        "events": len(season.sessions.event_name),
        "walks": len(model.walks.first),
        "judged": len(errors.rows),
        "seconds": own,
        "fastest": min(seconds),
        "slowest": max(seconds),
        "megabytes": memory,
        "peer_each_event_seconds": peers["event"][0],
        "peer_each_event_timed": peers["event"][1],
        "peer_same_folds_seconds": peers["folds"][0],
        "peer_same_folds_timed": peers["folds"][1],
        "times_each_event": peers["event"][0] / own,
        "times_same_folds": peers["folds"][0] / own,
    }


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--sizes", type=int, nargs="+", default=[200, 5_000, 50_000])
    parser.add_argument("--settings", type=int, default=8)
    parser.add_argument("--fields", type=int, default=12)
    parser.add_argument("--own-walks", action="store_true")
    parser.add_argument("--rounds", type=int)
    parser.add_argument("--json", type=Path)
    parser.add_argument("--here", type=int, help=argparse.SUPPRESS)
    options = parser.parse_args()
    if options.here:
        print(json.dumps(measured(options, options.here)))
        return
    print(
        f"{options.settings} settings, {options.fields} fields, peer's grid {GRID_POINTS} points, "
        f"{'every session its own walk' if options.own_walks else 'riders share walks'}"
    )
    print(
        f"{'sessions':>9}{'walks':>7}{'judged':>8}{'seconds':>9}{'(range)':>15}{'MB':>6}"
        f"{'peer, each event':>18}{'times':>7}{'peer, same folds':>18}{'times':>7}  peer timed"
    )
    found = []
    for size in options.sizes:
        arguments = [a for a in sys.argv[1:] if not a.startswith("--json")]
        command = [sys.executable, __file__, *arguments, "--here", str(size)]
        done = subprocess.run(command, check=True, capture_output=True, text=True)
        one = json.loads(done.stdout)
        found.append(one)
        target = TARGET_SECONDS.get(size)
        late = "" if target is None or one["seconds"] < target else "  LATE"
        span = f"{one['fastest']:.2f}-{one['slowest']:.2f}"
        print(
            f"{one['sessions']:>9}{one['walks']:>7}{one['judged']:>8}{one['seconds']:>9.2f}"
            f"{span:>15}{one['megabytes']:>6.0f}"
            f"{one['peer_each_event_seconds']:>16.1f} s{one['times_each_event']:>7.0f}"
            f"{one['peer_same_folds_seconds']:>16.1f} s{one['times_same_folds']:>7.0f}"
            f"  {one['peer_each_event_timed']}; {one['peer_same_folds_timed']}{late}",
            flush=True,
        )
    if len(found) > 1:
        last, before = found[-1], found[-2]
        more = last["sessions"] / before["sessions"]
        grown = math.log(last["seconds"] / before["seconds"]) / math.log(more)
        print(f"growth over the last two sizes: time ~ sessions^{grown:.2f}")
    if options.json:
        options.json.write_text(json.dumps(found, indent=1) + "\n")


if __name__ == "__main__":
    main()
