"""The design beside everything simpler, on invented seasons whose best settings are known.

    python benchmarks/beats_alternatives.py [--seasons 20] [--sizes 3 6 12 24 48] [--coverage 200]
                                            [--no-forest] [--json FILE]

For each size and world, seasons of so many events are drawn; every way learns from their settled
setups and is asked for ten fresh events. Printed is the mean absolute error in steps against the
true best setting, which nobody ever wrote down, averaged over the seasons, and the design's error
over that of the best other way. World A has a fifth of the rules wrong, world B a third; both have
riders with habits, venues with quirks, effects no rule knows, and a tenth of all conditions
missing.

The number of neighbours is chosen for each season and setting by leaving its events out, as the
design chooses its own reach. "Amounts only" is the design without past sessions' correction. Its
coverage is the share of settled setups of six fresh events inside 80 % ranges, over seasons of
twelve events.
"""

from __future__ import annotations

import argparse
import json
import sys
from pathlib import Path
from typing import Any

import numpy as np

from setupadvisor.learning.alternatives import (
    Cases,
    cases_of,
    nearest_sessions,
    random_forest,
    riders_mean,
    rules_as_written,
    same_venue_last_time,
)
from setupadvisor.learning.evaluation import ALTERNATIVES, DESIGN
from setupadvisor.learning.model import Model
from setupadvisor.learning.prediction import Prediction, predict
from setupadvisor.learning.sessions import Floats, Knowledge, Sessions
from setupadvisor.learning.simulate import World, simulate_season
from setupadvisor.learning.training import train

WORLDS = {
    "A, a fifth of the rules wrong": World(),
    "B, a third of the rules wrong": World(wrong_share=1 / 3),
}
FRESH_EVENTS = 10
FIRST_DRAW = 1_000


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--seasons", type=int, default=20)
    parser.add_argument("--sizes", type=int, nargs="+", default=[3, 6, 12, 24, 48])
    parser.add_argument("--coverage", type=int, default=200, help="seasons for the ranges")
    parser.add_argument("--no-forest", action="store_true")
    parser.add_argument("--json", type=Path)
    options = parser.parse_args()
    ways = [w for w in (DESIGN, *ALTERNATIVES) if not (options.no_forest and "forest" in w)]
    found: dict[str, Any] = {"seasons": options.seasons, "worlds": {}}
    for name, world in WORLDS.items():
        print(f"World {name}; {options.seasons} seasons a size; error in steps")
        print(f"{'events':>7}" + "".join(f"{way:>22}" for way in ways) + f"{'to the best':>13}")
        found["worlds"][name] = {}
        for n_events in options.sizes:
            errors = errors_of(n_events, world, options.seasons, ways)
            means = {way: float(np.mean(errors[way])) for way in ways}
            best = min((w for w in ways if w != DESIGN), key=lambda way: means[way])
            ratio = means[DESIGN] / means[best]
            found["worlds"][name][n_events] = means | {"best other": best, "ratio": ratio}
            cells = "".join(f"{means[way]:>22.3f}" for way in ways)
            print(f"{n_events:>7}{cells}{ratio:>13.3f}  {best}", flush=True)
    if options.coverage:
        inside = coverage(options.coverage)
        found["coverage"] = {"seasons": options.coverage, "inside": inside}
        print(f"80 % ranges cover {inside:.1%} over {options.coverage} seasons of 12 events")
    if options.json:
        options.json.write_text(json.dumps(found, indent=1) + "\n")
    ratios = [one["ratio"] for sizes in found["worlds"].values() for one in sizes.values()]
    if max(ratios) >= 1.0:
        sys.exit("the design is not below every simpler way at every size")


def errors_of(
    n_events: int, world: World, n_seasons: int, ways: list[str]
) -> dict[str, list[float]]:
    """Return the error of every way in each of some seasons."""
    errors: dict[str, list[float]] = {way: [] for way in ways}
    for draw in range(n_seasons):
        season = simulate_season(
            n_events + FRESH_EVENTS, random_state=FIRST_DRAW + draw, world=world
        )
        seen = season.sessions.event < n_events
        fresh = ~seen & (season.sessions.order == 0)
        answers = answers_of(season.sessions.taken(seen), season.sessions.taken(fresh), season)
        for way in ways:
            value = answers[way]() if callable(answers[way]) else answers[way]
            errors[way].append(float(np.abs(value - season.ideal[fresh]).mean()))
    return errors


def answers_of(seen: Sessions, fresh: Sessions, season: Any) -> dict[str, Any]:
    """Ask every way for the fresh sessions; the slow ones only when called."""
    knowledge = season.knowledge
    got = advised(train(seen, knowledge), fresh, ranges=False)
    cases = cases_of(seen)
    asked = Cases(fresh, np.full_like(fresh.values, np.nan))
    house = fresh.house
    return {
        DESIGN: got.value,
        "amounts only": got.value - got.past + got.not_judged,
        "rules as written": house + rules_as_written(knowledge, fresh),
        "rider's mean": house + riders_mean(cases, fresh),
        "same venue last time": house + same_venue_last_time(cases, fresh),
        "k-nearest sessions": lambda: house + best_neighbours(cases, asked, knowledge),
        "random forest": lambda: house + random_forest(cases, asked, knowledge),
    }


def advised(model: Model, sessions: Sessions, *, ranges: bool) -> Prediction:
    """Ask a model for some sessions."""
    return predict(
        model,
        sessions.degrees,
        sessions.house,
        rider=sessions.rider,
        fields=sessions.fields,
        venue=sessions.venue,
        day=sessions.day,
        ranges=ranges,
    )


def best_neighbours(cases: Cases, asked: Cases, knowledge: Knowledge) -> Floats:
    """Choose the number of neighbours of each setting by leaving events out; answer with it."""
    event = cases.sessions.event
    left_out = []
    for one in np.unique(event):
        out = event == one
        answers = nearest_sessions(cases.taken(~out), cases.taken(out), knowledge)
        left_out.append(np.abs(answers - cases.settled[out]).sum(axis=1))
    best = np.argmin(np.nansum(left_out, axis=0), axis=0)
    answers = nearest_sessions(cases, asked, knowledge)
    return np.take_along_axis(answers, best[None, None, :], axis=0)[0]


def coverage(n_seasons: int) -> float:
    """Share of settled setups of fresh events inside their 80 % ranges."""
    inside = []
    for draw in range(n_seasons):
        season = simulate_season(18, random_state=5_000 + draw)
        sessions = season.sessions
        fresh = sessions.taken((sessions.event >= 12) & (sessions.order == 2))
        model = train(sessions.taken(sessions.event < 12), season.knowledge)
        got = advised(model, fresh, ranges=True)
        inside.append(((got.low <= fresh.values) & (fresh.values <= got.high)).mean())
    return float(np.mean(inside))


if __name__ == "__main__":
    main()
