"""Rows of retraining, beside the same validation written plainly with scikit-learn.

Timed is `train` (amounts and habits for every fold, the reach of past sessions, ranges, fallbacks)
and the design's errors on events left out, on invented seasons of 8 settings and 12 fields.

The peer is scikit-learn's `cross_val_predict` with `LeaveOneGroupOut` over brute
`KNeighborsRegressor`, 50 neighbours weighed by a Gaussian kernel of the Manhattan distance, columns
scaled by range and weight, gaps filled with the mean; once a setting and grid point, on settled
sessions only (a third of the rows). Its grid is the 13 pairs of bandwidth and weight of unread
fields that `train` tries out; pseudo-sessions, venue factor and half-life, which `train` chooses
too, are left out of it. "Each event" leaves every event out on its own, "same folds" at most twenty
folds of whole events as `train` does. Timed is one setting at one grid point a round, or as many of
its folds as fit into some seconds; the rest is that times the number of settings, points and folds.
"""

from __future__ import annotations

import itertools
import math
from dataclasses import replace
from itertools import islice

import numpy as np
from measuring import NOT_INSTALLED, Row, Scale, Work, in_turns, peak_of, seconds, times_faster
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
    budget, rounds = {"tiny": (0.0, 1), "quick": (1.0, 5), "full": (3.0, 7)}[scale]
    return [
        {"sessions": n, "way": way, "rounds": rounds if n < 50_000 else 3, "for_peer_s": budget}
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
        cases = cases_of(season.sessions).sessions
        folds, _ = folds_of_events(cases.event, cases.day)
        peers = {
            f"scikit-learn, {kind}": plain_validation(season, groups, for_peer_s)
            for kind, groups in (("each event", cases.event), ("same folds", folds))
        }
        works = {"ours": retrain} | {name: work for name, (work, _, _) in peers.items()}
        timed = in_turns(works, rounds=rounds, at_most=100.0, warm=False)
    checked = same_as_plain(models[0], season) if way == "fast" and sessions <= 5_000 else ""
    found = []
    for name, (_, times, part) in peers.items():
        row = Row(
            name=title,
            values=timed.seconds["ours"],
            peer=name,
            peer_value=timed.median(name) * times,
            peak_mb=peak,
            family=f"retraining, {way}",
            size=sessions,
            note=f"peer timed on {part}",
            checked=checked,
        )
        bar = TIMES_FASTER.get((way, sessions))
        if bar and name.endswith("each event"):
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


def plain_validation(
    season: Season, groups: np.ndarray, at_most_s: float
) -> tuple[Work, float, str]:
    """Return a part of the plain validation, what to multiply its time by, and its name.

    A part is one setting at one grid point, or as many of its folds as fit into some seconds.
    """
    cases, knowledge = cases_of(season.sessions), season.knowledge
    fields = cases.sessions.fields
    low, high = np.nanmin(fields, axis=0), np.nanmax(fields, axis=0)
    filled = np.where(np.isnan(fields), np.nanmean(fields, axis=0), fields)
    weight = np.where(knowledge.reads[0], 1.0, 0.3)
    columns = (filled - low) / np.where(high > low, high - low, 1.0) * weight / weight.sum()
    target = np.nan_to_num(cases.settled[:, 0])
    neighbours = min(NEIGHBOURS, len(target) // 2)
    plain = KNeighborsRegressor(neighbours, algorithm="brute", metric="manhattan", weights=gaussian)
    turn = itertools.count()

    def whole() -> None:
        scaled = columns / (0.5 / math.sqrt(2.0) ** (next(turn) % N_BANDWIDTHS))
        cross_val_predict(plain, scaled, target, groups=groups, cv=LeaveOneGroupOut())

    def folds(n: int) -> None:
        """Do what `cross_val_predict` does, for the first n groups: fit on the others, predict."""
        for others, group in islice(LeaveOneGroupOut().split(columns, target, groups), n):
            plain.fit(columns[others], target[others]).predict(columns[group])

    times = GRID_POINTS * knowledge.amounts.shape[1]
    n_groups = len(np.unique(groups))
    few = min(n_groups, 10)
    folds(1)
    guessed = seconds(lambda: folds(few)) / few * n_groups
    if guessed <= at_most_s:
        return whole, times, f"one of {times} settings and grid points a round"
    some = max(2, int(at_most_s / guessed * n_groups))
    return (
        lambda: folds(some),
        times * n_groups / some,
        f"{some} of {n_groups} folds of one of {times} settings and grid points a round",
    )
