"""Invented seasons with a known truth, for tests and benchmarks.

Nothing here describes a real rider, motorcycle or venue. Ground, rules and riders are drawn at
random; what makes a season life-like is its structure: few events, several riders on the same
ground, venues with quirks of their own, rules that are partly wrong, conditions nobody wrote down,
and sessions that close in on the settled setup.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from setupadvisor.learning.sessions import Booleans, Floats, Integers, Knowledge, Sessions

N_CATEGORIES = 3
DAYS_BETWEEN_EVENTS = 10.0


@dataclass(frozen=True)
class World:
    """What an invented world is like.

    Parameters
    ----------
    n_riders, n_venues, n_settings, n_fields : int
        Sizes; a quarter of the fields are categories.
    rules_per_setting : int
        Rules that touch each setting.
    wrong_share : float
        Share of the rules whose true amount is zero or points the other way.
    amount_error : float
        Relative standard deviation of the true amounts of the other rules.
    habit, venue_quirk, unwritten, noise : float
        Standard deviations, in steps: of a rider's habit, of a venue's quirk, of an effect of the
        conditions that no rule knows, and of a settled setup around the ideal one.
    missing_share : float
        Share of the conditions that nobody wrote down.
    sessions_per_day : int
        Sessions of a rider at an event.
    """

    n_riders: int = 3
    n_venues: int = 10
    n_settings: int = 8
    n_fields: int = 12
    rules_per_setting: int = 4
    wrong_share: float = 0.2
    amount_error: float = 0.35
    habit: float = 1.2
    venue_quirk: float = 0.7
    unwritten: float = 0.7
    noise: float = 0.6
    missing_share: float = 0.1
    sessions_per_day: int = 3


@dataclass(frozen=True)
class Season:
    """An invented season and its truth.

    Parameters
    ----------
    sessions : Sessions
        What the crew would have written down.
    knowledge : Knowledge
        The rules as written.
    ideal : (n, S) array
        The best setting in each session, in steps; never written down.
    true_amounts : (R, S) array
        What the rules ought to say.
    true_habits : (G, S) array
        The riders' habits.
    """

    sessions: Sessions
    knowledge: Knowledge
    ideal: Floats
    true_amounts: Floats
    true_habits: Floats


def simulate_season(n_events: int, *, random_state: int = 0, world: World | None = None) -> Season:
    """Invent a season.

    Parameters
    ----------
    n_events : int
        Number of events, one day each.
    random_state : int, optional
        Which season to draw; the same number gives the same season.
    world : World, optional
        What the world is like.

    Returns
    -------
    Season
        Sessions, rules and the truth behind them.

    Examples
    --------
    >>> season = simulate_season(4, random_state=1)
    >>> len(season.sessions), season.ideal.shape
    (36, (36, 8))
    """
    world = world or World()
    random = np.random.default_rng(random_state)
    is_category = np.arange(world.n_fields) >= world.n_fields - world.n_fields // 4
    venue = random.integers(world.n_venues, size=n_events)
    ground = _grounds(random, world, venue, is_category)
    read_fields, degrees = _rules(random, world, ground, is_category)
    n_rules = degrees.shape[1]
    shape = (n_rules, world.n_settings)
    touches = np.repeat(np.arange(world.n_settings), world.rules_per_setting)
    amounts = np.zeros(shape)
    amounts[np.arange(n_rules), touches] = random.choice([-3, -2, -1, 1, 2, 3], size=n_rules)
    true_amounts = amounts * (1.0 + world.amount_error * random.standard_normal(shape))
    wrong = random.random(n_rules) < world.wrong_share
    true_amounts[wrong] = amounts[wrong] * random.choice(
        [0.0, -0.7], size=(np.count_nonzero(wrong), 1)
    )
    habits = world.habit * random.standard_normal((world.n_riders, world.n_settings))
    quirks = world.venue_quirk * random.standard_normal((world.n_venues, world.n_settings))
    unwritten = _unwritten(random, world, ground)
    ideal_ground = degrees @ true_amounts + quirks[venue] + unwritten
    reads = np.zeros((world.n_settings, world.n_fields), dtype=bool)
    reads[touches[:, None], read_fields] = True

    event = np.repeat(np.arange(n_events), world.n_riders * world.sessions_per_day)
    rider = np.tile(np.repeat(np.arange(world.n_riders), world.sessions_per_day), n_events)
    turn = np.tile(np.arange(world.sessions_per_day), n_events * world.n_riders)
    n = len(event)
    rider_house = 10.0 + random.integers(-2, 3, size=(world.n_riders, world.n_settings))
    house = rider_house[rider].astype(np.float64)
    ideal = house + habits[rider] + ideal_ground[event]
    written = house + degrees[event] @ amounts
    to_go = 0.5 * (0.5 ** turn.astype(np.float64)) * (turn < world.sessions_per_day - 1)
    values = ideal + to_go[:, None] * (written - ideal)
    values = np.round(values + world.noise * random.standard_normal(values.shape))
    far = np.abs(values - ideal).mean(axis=1)
    mark = np.clip(np.round(5.3 - 1.2 * far + 0.5 * random.standard_normal(n)), 1, 5)
    mark[random.random(n) < world.missing_share] = np.nan
    hidden = random.random(ground.shape) < world.missing_share
    not_judged = hidden[:, read_fields].any(axis=2)
    knowledge = Knowledge(
        setting=_names("setting", world.n_settings),
        rule=_names("rule", n_rules),
        field=_names("field", world.n_fields),
        amounts=amounts,
        relative_spread=random.choice([0.25, 0.5, 1.0], size=n_rules, p=[0.2, 0.6, 0.2]),
        reads=reads,
        field_is_category=is_category,
        field_range=np.full(world.n_fields, np.nan),
        step=np.ones(world.n_settings),
        low=np.full(world.n_settings, -10.0),
        high=np.full(world.n_settings, 30.0),
    )
    sessions = Sessions(
        setting=knowledge.setting,
        rule=knowledge.rule,
        field=knowledge.field,
        rider_name=_names("rider", world.n_riders),
        event_name=_names("event", n_events),
        venue_name=_names("venue", world.n_venues),
        values=values,
        house=house,
        degrees=np.where(not_judged, np.nan, degrees)[event],
        rider=rider,
        event=event,
        venue=venue[event],
        day=DAYS_BETWEEN_EVENTS * event.astype(np.float64),
        order=turn.astype(np.float64),
        mark=mark,
        fields=np.where(hidden, np.nan, ground)[event],
    )
    return Season(sessions, knowledge, ideal, true_amounts, habits)


def _grounds(
    random: np.random.Generator, world: World, venue: Integers, is_category: Booleans
) -> Floats:
    """Draw the conditions of each event: a venue has its usual ground, and each day its own."""
    usual = random.random((world.n_venues, world.n_fields))
    ground = np.clip(
        usual[venue] + 0.2 * random.standard_normal((len(venue), world.n_fields)), 0, 1
    )
    category = np.minimum(np.floor(ground * N_CATEGORIES), N_CATEGORIES - 1)
    return np.where(is_category, category, ground)


def _rules(
    random: np.random.Generator, world: World, ground: Floats, is_category: Booleans
) -> tuple[Integers, Floats]:
    """Draw rules that read two fields each, and their degrees: the smaller of two ramps."""
    n_rules = world.n_settings * world.rules_per_setting
    read_fields = np.stack(
        [random.choice(world.n_fields, size=2, replace=False) for _ in range(n_rules)]
    )
    scaled = np.where(is_category, ground / (N_CATEGORIES - 1), ground)
    both = np.ones((len(ground), n_rules))
    for side, reach in ((0, 0.25), (1, -0.25)):
        foot = random.uniform(0.2, 0.6, size=n_rules) - max(0.0, -reach)
        rising = np.clip((scaled[:, read_fields[:, side]] - foot) / 0.25, 0, 1)
        falls = random.random(n_rules) < 0.5
        both = np.minimum(both, np.where(falls, 1.0 - rising, rising))
    return read_fields, both


def _unwritten(random: np.random.Generator, world: World, ground: Floats) -> Floats:
    """Draw a smooth effect of two conditions on each setting that no rule knows."""
    result = np.zeros((len(ground), world.n_settings))
    for s in range(world.n_settings):
        first, second = random.choice(world.n_fields, size=2, replace=False)
        phase = random.uniform(0, 2 * np.pi)
        wave = np.sin(3.0 * ground[:, first] + phase) * np.cos(2.0 * ground[:, second])
        result[:, s] = 2.0 * world.unwritten * wave
    return result


def _names(word: str, n: int) -> tuple[str, ...]:
    return tuple(f"{word} {i + 1}" for i in range(n))
