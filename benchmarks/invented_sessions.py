"""Invented past sessions for the measurements: every session a walk of its own.

Settings, fields, categories and which fields each setting's rules read are those of the bundled
rules and machine; values are evenly spread over each field's range, a tenth of them missing, and
categories have two words, so that the difference of two codes is what a peer needs it to be.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from setupadvisor.advice.workshop import house_machine, knowledge, open_workshop
from setupadvisor.learning.past_sessions import conditions
from setupadvisor.learning.sessions import Knowledge
from setupadvisor.learning.walk_tables import Comparison, WalkTable, field_weights

MISSING = 0.1
UNREAD_WEIGHT = 0.3
BANDWIDTH = 0.1
VENUE_FACTOR, HALF_LIFE_DAYS = 2.0, 400.0
VENUES = 40
TODAY = 2_000.0


@dataclass(frozen=True)
class Past:
    """Past sessions, walks asked for, and how they are compared."""

    asked_fields: np.ndarray
    table: np.ndarray
    past: WalkTable
    comparison: Comparison
    category: np.ndarray

    @property
    def fields(self) -> np.ndarray:
        """The sessions' conditions, (n, F): their ranges are 1, so they are kept as they are."""
        return self.past.conditions.scaled.T

    def asked(self, count: int) -> WalkTable:
        """Lay out the first walks that are asked for."""
        return WalkTable(
            conditions(self.asked_fields[:count], self.category, np.ones(len(self.category))),
            np.arange(count) % VENUES,
            np.full(count, TODAY),
        )

    @property
    def distinct_weights(self) -> np.ndarray:
        """The distinct sets of weights, a peer's columns each."""
        return np.unique(self.comparison.weights, axis=0)

    def first(self, count: int) -> Past:
        """Keep the first sessions only."""
        few = slice(0, count)
        return Past(
            self.asked_fields,
            np.ascontiguousarray(self.table[:, :, few]),
            self.past.taken(few),
            self.comparison,
            self.category,
        )


def bundled_knowledge() -> Knowledge:
    """Return settings and fields of the bundled rules."""
    return knowledge(open_workshop(house_machine(), []))


def invented(sessions: int, *, asked: int = 64, missing: float = MISSING) -> Past:
    """Draw sessions, what they left over, and walks to ask for."""
    random = np.random.default_rng(1)
    known = bundled_knowledge()
    category = known.field_is_category

    def drawn(rows: int) -> np.ndarray:
        values = random.random((rows, len(category)), dtype=np.float32)
        values[:, category] = np.floor(values[:, category] * 2)
        if missing:
            values[random.random(values.shape, dtype=np.float32) < missing] = np.nan
        return values

    fields, asked_fields = drawn(sessions), drawn(asked)
    n_settings = len(known.reads)
    table = random.standard_normal((n_settings, 2, sessions), dtype=np.float32)
    np.abs(table[:, 1], out=table[:, 1])
    table[:, 0] *= table[:, 1]
    return Past(
        asked_fields=asked_fields,
        table=table,
        past=WalkTable(
            conditions(fields, category, np.ones(len(category))),
            # Walks of one venue stand together, as they do in a model.
            np.sort(random.integers(0, VENUES, sessions)),
            np.floor(random.uniform(0.0, TODAY, sessions)),
        ),
        comparison=Comparison(
            weights=field_weights(known.reads, UNREAD_WEIGHT)[:-1],
            agree_or_not=category,
            bandwidth=np.full(n_settings, BANDWIDTH),
            venue_factor=VENUE_FACTOR,
            half_life=HALF_LIFE_DAYS,
        ),
        category=category,
    )


def by_definition(past: Past, asked: int) -> np.ndarray:
    """Sum the past sessions up as the formulas say, in double precision: (S, m, 2)."""
    fields = past.fields.astype(np.float64)
    walks = past.asked(asked)
    result = np.empty((len(past.table), asked, 2))
    for m in range(asked):
        gap = np.abs(fields - past.asked_fields[m].astype(np.float64))
        gap[:, past.category] = np.where(
            np.isnan(gap[:, past.category]), np.nan, gap[:, past.category] != 0
        )
        there = ~np.isnan(gap)
        outing = np.where(past.past.venue == walks.venue[m], VENUE_FACTOR, 1.0)
        outing = outing * 0.5 ** (np.abs(past.past.day - walks.day[m]) / HALF_LIFE_DAYS)
        for s, weights in enumerate(past.comparison.weights.astype(np.float64)):
            distance = np.nansum(gap * weights, axis=1) / (there * weights).sum(axis=1)
            weight = np.exp(-((distance / BANDWIDTH) ** 2) / 2.0) * outing
            result[s, m] = past.table[s].astype(np.float64) @ weight
    return result
