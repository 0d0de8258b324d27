"""The design beside everything simpler, on invented seasons whose best settings are known.

A small version of `benchmarks/beats_alternatives.py`, which has all sizes and both worlds.
"""

from __future__ import annotations

import numpy as np
import pytest

from setupadvisor.learning.alternatives import (
    Cases,
    cases_of,
    nearest_sessions,
    random_forest,
    riders_mean,
    rules_as_written,
    same_venue_last_time,
)
from setupadvisor.learning.prediction import predict
from setupadvisor.learning.simulate import World, simulate_season
from setupadvisor.learning.training import train


def advised(model, sessions, **options):
    return predict(
        model,
        sessions.degrees,
        sessions.house,
        rider=sessions.rider,
        fields=sessions.fields,
        venue=sessions.venue,
        day=sessions.day,
        **options,
    )


def errors(n_events: int, world: World, draw: int, *, forest: bool) -> dict[str, float]:
    """Errors against the true best settings of ten fresh events, which nobody wrote down."""
    season = simulate_season(n_events + 10, random_state=draw, world=world)
    seen = season.sessions.event < n_events
    fresh_rows = ~seen & (season.sessions.order == 0)
    past, fresh = season.sessions.taken(seen), season.sessions.taken(fresh_rows)
    got = advised(train(past, season.knowledge), fresh, ranges=False)
    cases, asked = cases_of(past), Cases(fresh, np.full_like(fresh.values, np.nan))
    neighbours = nearest_sessions(cases, asked, season.knowledge)
    shifts = {
        "this design": got.value - fresh.house,
        "amounts only": got.value - got.past + got.not_judged - fresh.house,
        "rules as written": rules_as_written(season.knowledge, fresh),
        "rider's mean": riders_mean(cases, fresh),
        "same venue last time": same_venue_last_time(cases, fresh),
    }
    if forest:
        shifts["random forest"] = random_forest(cases, asked, season.knowledge, trees=30)
    ideal = season.ideal[fresh_rows] - fresh.house
    found = {name: float(np.abs(shift - ideal).mean()) for name, shift in shifts.items()}
    # The number of neighbours that hindsight would choose: no way of choosing it does better.
    found["k-nearest sessions"] = float(np.abs(neighbours - ideal).mean(axis=(1, 2)).min())
    return found


@pytest.mark.parametrize("wrong_share", [0.2, 1 / 3])
@pytest.mark.parametrize("n_events", [3, 12])
def test_the_design_is_below_every_simpler_way_on_average_of_ten_seasons(n_events, wrong_share):
    """Random forests take most of the time and are far behind: they are asked in four seasons."""
    world = World(wrong_share=wrong_share)
    seasons = [errors(n_events, world, 2_000 + draw, forest=draw < 4) for draw in range(10)]
    for name in seasons[0]:
        asked = [one for one in seasons if name in one]
        if name != "this design":
            behind = np.mean([one[name] - one["this design"] for one in asked])
            assert behind > 0.0, name


def test_ranges_cover_what_they_say_over_thirty_seasons():
    """80 % ranges of settled setups of six fresh events after twelve. Within a season the hits hang
    together: over 200 seasons their share had a mean of 84.7 % and a standard deviation of 5.5 %.
    The mean of thirty is good to 1.0 %, and 76 to 88 % leaves three of that above.
    """
    hits = []
    for draw in range(30):
        season = simulate_season(18, random_state=6_000 + draw)
        sessions = season.sessions
        fresh = sessions.taken((sessions.event >= 12) & (sessions.order == 2))
        got = advised(train(sessions.taken(sessions.event < 12), season.knowledge), fresh)
        hits.append(((got.low <= fresh.values) & (fresh.values <= got.high)).mean())
    assert np.std(hits) < 0.08
    assert 0.76 <= np.mean(hits) <= 0.88
