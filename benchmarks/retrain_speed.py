"""Rows of retraining, beside the same validation written plainly with scikit-learn.

Timed is `train` (amounts and habits for every fold, the reach of past sessions, ranges, fallbacks)
and the design's errors on events left out, on invented seasons of 8 settings and 12 fields.

The peer is scikit-learn's `cross_val_predict` with `LeaveOneGroupOut` over brute
`KNeighborsRegressor`, 50 neighbours weighed by a Gaussian kernel of the Manhattan distance, columns
scaled by range and weight, gaps filled with the mean; once a setting and grid point, on settled
sessions only (a third of the rows). Its grid is the 13 pairs of bandwidth and weight of unread
fields that `train` tries out; pseudo-sessions, venue factor and half-life, which `train` chooses
too, are left out of it. "Each event" leaves every event out on its own, "same folds" at most twenty
folds of whole events as `train` does. Timed are one setting and as many grid points and folds as
fit into some seconds; the rest is that times the number of settings, points and folds.
"""

from __future__ import annotations

import math
import statistics
from dataclasses import replace

import numpy as np
from measuring import NOT_INSTALLED, Row, Scale, peak_of, seconds, times_faster
from sklearn.model_selection import LeaveOneGroupOut, cross_val_predict
from sklearn.neighbors import KNeighborsRegressor
from ways import WAYS, going, installed

from setupadvisor.learning.alternatives import cases_of
from setupadvisor.learning.left_out import left_out_errors
from setupadvisor.learning.model import Model
from setupadvisor.learning.ranges import folds_of_events
from setupadvisor.learning.simulate import Season, World, simulate_season
from setupadvisor.learning.training import train
from setupadvisor.learning.tuning import N_BANDWIDTHS, UNREAD_WEIGHTS

TITLE = "Retraining"
SETTINGS, FIELDS = 8, 12
NEIGHBOURS = 50
GRID_POINTS = N_BANDWIDTHS + 3 * (len(UNREAD_WEIGHTS) - 1)
TIMES_FASTER = {
    ("plain", 200): 10.0,
    ("plain", 5_000): 10.0,
    ("plain", 50_000): 5.0,
    ("fast", 50_000): 50.0,
}


def parts(scale: Scale) -> list[dict[str, object]]:
    sizes = {"tiny": [60], "quick": [200, 1_000], "full": [200, 5_000, 50_000]}[scale]
    budget, rounds = {"tiny": (0.0, 1), "quick": (2.0, 5), "full": (8.0, 7)}[scale]
    return [
        # The large season takes long, and the peer's rest is extrapolated anyway.
        {"sessions": n, "way": way, "rounds": rounds if n < 50_000 else 2, "for_peer_s": budget}
        for way in WAYS
        for n in sizes
    ]


def rows(sessions: int, way: str, rounds: int, for_peer_s: float) -> list[Row]:
    """Time one size by one way, and the peer with both kinds of folds."""
    title = f"{sessions:,} sessions, {way}"
    if not installed(way):
        return [Row(title, [], note=f"{NOT_INSTALLED}: the extra `fast`")]
    season = invented(sessions)
    models: list[Model] = []

    def retrain() -> None:
        model = train(season.sessions, season.knowledge)
        left_out_errors(model)
        models[:] = [model]

    with going(way):
        peak = peak_of(retrain)
        values = [seconds(retrain) for _ in range(rounds)]
    checked = same_as_plain(models[0], season) if way == "fast" and sessions <= 5_000 else ""
    event = cases_of(season.sessions).sessions.event
    folds, _ = folds_of_events(event, cases_of(season.sessions).sessions.day)
    found = []
    for kind, groups in (("each event", event), ("same folds", folds)):
        peer_value, timed = peer_seconds(season, groups, for_peer_s)
        row = Row(
            name=title,
            values=values,
            peer=f"scikit-learn, {kind}",
            peer_value=peer_value,
            peak_mb=peak,
            family=f"retraining, {way}",
            size=sessions,
            note=f"peer timed: {timed}",
            checked=checked,
        )
        bar = TIMES_FASTER.get((way, sessions))
        if bar and kind == "each event":
            row = replace(row, targets=[times_faster(bar, row, "scikit-learn")])
        found.append(row)
    return found


def same_as_plain(model: Model, season: Season) -> str:
    """End the run where compiled code trained another model than the plain way."""
    with going("plain"):
        plain = train(season.sessions, season.knowledge)
    if not np.allclose(
        left_out_errors(plain).design, left_out_errors(model).design, atol=1e-3, equal_nan=True
    ):
        raise SystemExit("compiled code trains another model than the plain way")
    return "the same errors on events left out as by the plain way"


def invented(n_sessions: int) -> Season:
    """A season of about so many sessions: three riders, three sessions each, an event."""
    world = World(n_settings=SETTINGS, n_fields=FIELDS, rules_per_setting=4)
    return simulate_season(max(2, n_sessions // 9), random_state=1, world=world)


def gaussian(distance: np.ndarray) -> np.ndarray:
    return np.exp(-(distance**2) / 2.0)


def peer_seconds(season: Season, groups: np.ndarray, budget: float) -> tuple[float, str]:
    """Seconds of the plain validation for all settings and grid points, and what was timed."""
    cases, knowledge = cases_of(season.sessions), season.knowledge
    fields = cases.sessions.fields
    low, high = np.nanmin(fields, axis=0), np.nanmax(fields, axis=0)
    filled = np.where(np.isnan(fields), np.nanmean(fields, axis=0), fields)
    weight = np.where(knowledge.reads[0], 1.0, 0.3)
    columns = (filled - low) / np.where(high > low, high - low, 1.0) * weight / weight.sum()
    target = np.nan_to_num(cases.settled[:, 0])
    neighbours = min(NEIGHBOURS, len(target) // 2)
    plain = KNeighborsRegressor(neighbours, algorithm="brute", metric="manhattan", weights=gaussian)

    def point(number: int) -> float:
        scaled = columns / (0.5 / math.sqrt(2.0) ** (number % N_BANDWIDTHS))
        return seconds(
            lambda: cross_val_predict(plain, scaled, target, groups=groups, cv=LeaveOneGroupOut())
        )

    def folds(n: int) -> float:
        return seconds(lambda: some_folds(plain, columns, target, groups, n))

    every = GRID_POINTS * knowledge.amounts.shape[1]
    n_groups = len(np.unique(groups))
    few = min(n_groups, 20)
    folds(1)
    whole = folds(few) / few * n_groups
    if whole > budget:
        some = max(2, int(budget / whole * n_groups))
        return folds(some) / some * n_groups * every, f"{some} of {n_groups} folds"
    points = max(1, min(GRID_POINTS, int(budget / max(whole, 1e-3))))
    return statistics.median(map(point, range(points))) * every, f"{points} of {GRID_POINTS} points"


def some_folds(
    plain: KNeighborsRegressor, columns: np.ndarray, target: np.ndarray, groups: np.ndarray, n: int
) -> None:
    """What `cross_val_predict` does, for the first n groups: fit on the others, predict."""
    for place, (others, group) in enumerate(LeaveOneGroupOut().split(columns, target, groups)):
        if place == n:
            break
        plain.fit(columns[others], target[others]).predict(columns[group])
