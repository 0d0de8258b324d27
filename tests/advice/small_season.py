"""A small invented season: two riders, a few events, setups near what the rules wish for."""

from __future__ import annotations

from collections.abc import Iterator
from functools import cache
from typing import Any

import numpy as np
import pandas as pd

from setupadvisor.advice.fitting import fit
from setupadvisor.advice.season_learning import learn
from setupadvisor.advice.workshop import rules_alone, situations
from setupadvisor.entries.machine import Machine
from setupadvisor.entries.quantity import Word
from setupadvisor.entries.rider import Rider
from setupadvisor.entries.season import Season, season_from
from setupadvisor.entries.walk import Walk
from setupadvisor.facts.columns import columns_from_entries, condition_fields
from setupadvisor.learning.model import Model
from tests.advice.invented import bundled_rider, bundled_walk, workshop

WALKS = ("deep-sand", "high-and-hot-outdoor", "mud", "stadium-metal-grid", "morning")
RIDERS = ("north", "south")
# North likes everything counted in clicks a click and a half softer than the rules.
HABIT_CLICKS = {"north": 1.5, "south": 0.0}


def rows(n_events: int) -> Iterator[dict[str, str]]:
    """One row a session, as it stands in a CSV file."""
    chance = np.random.default_rng(4)
    for event in range(n_events):
        walk = bundled_walk(WALKS[event % len(WALKS)])
        for rider in RIDERS:
            for outing in range(2):
                yield {
                    "session_id": f"{event:02d}-{rider}-{outing}",
                    "event": f"event {event:02d}",
                    "venue": walk.venue or "",
                    "date": f"2025-{1 + event % 12:02d}-15",
                    "rider": rider,
                    "machine": "works-450",
                    "mark": str(3 + outing),
                    **_walk_cells(walk),
                    **_setup_cells(walk, bundled_rider(rider), chance),
                }


def _walk_cells(walk: Walk) -> dict[str, str]:
    cells = {}
    for path, column in columns_from_entries(walk, None).items():
        field = condition_fields()[path]
        if not field.listed:
            value = float(column[0])
            word = field.kind.choices[int(value)] if isinstance(field.kind, Word) else ""
            cells[path] = word or f"{value:g}"
    return cells


def _setup_cells(walk: Walk, rider: Rider, chance: np.random.Generator) -> dict[str, str]:
    found = situations(workshop(), columns_from_entries(walk, rider), 1)
    wishes = dict(zip(workshop().settings, rules_alone(workshop(), found)[0], strict=True))
    cells = {}
    for name, setting in workshop().machine.settings.items():
        habit = HABIT_CLICKS[rider.name] if setting.unit == "clicks" else 0.0
        noise = 0.7 * (setting.step or 0.1) * chance.standard_normal()
        cells[f"setup.{name}"] = f"{fit(setting, wishes[name] + habit + noise):g}"
    return cells


def season_of(n_events: int, **columns: Any) -> Season:
    """The season as read from its table, with some columns replaced or added."""
    frame = pd.DataFrame(list(rows(n_events))).fillna("").assign(**columns)
    season, mistakes = season_from(frame, "small.csv", machines(), riders())
    assert not mistakes
    return season


def machines() -> dict[str, Machine]:
    return {name: workshop(name).machine for name in ("works-450", "works-250")}


def riders() -> dict[str, Rider]:
    return {name: bundled_rider(name) for name in RIDERS}


@cache
def trained(n_events: int = 8) -> tuple[Model, dict[str, Any]]:
    """A model of the season, and its provenance."""
    return learn(season_of(n_events), workshop(), machines())
