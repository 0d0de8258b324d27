"""Advice for many walks is the advice for each of them."""

from __future__ import annotations

import math

import numpy as np
import pandas as pd
import pytest

from setupadvisor.advice.bulk import advised_rows
from setupadvisor.advice.consult import consult
from setupadvisor.advice.workshop import knowledge
from setupadvisor.entries.quantity import Word
from setupadvisor.entries.walk import Walk
from setupadvisor.entries.walk_rows import WalkRows, read_walks
from setupadvisor.facts.columns import columns_from_entries, condition_fields
from setupadvisor.learning.model import untrained
from tests.advice.invented import bundled_rider, bundled_walk, workshop
from tests.advice.small_season import WALKS, riders, trained

RIDERS = ("north", "south", "", "north", "south")


def cells(walk: Walk) -> dict[str, object]:
    """A walk as a row of a table, jumps and all."""
    row: dict[str, object] = {
        "event": walk.event,
        "date": str(walk.date),
        "venue": walk.venue,
    }
    for path, column in columns_from_entries(walk, None).items():
        field = condition_fields()[path]
        for place, value in enumerate(np.atleast_1d(column[0]).tolist(), start=1):
            group, name = path.rsplit(".", 1)
            column_name = f"{group}.{place}.{name}" if field.listed else path
            if not math.isnan(value):
                word = field.kind.choices[int(value)] if isinstance(field.kind, Word) else None
                row[column_name] = word or value
    return row


def table() -> WalkRows:
    rows = [
        {**cells(bundled_walk(name)), "rider": rider}
        for name, rider in zip(WALKS, RIDERS, strict=True)
    ]
    walks, mistakes = read_walks(
        pd.DataFrame(rows), "walks", workshop().machine, riders(), known_riders=()
    )
    assert mistakes == []
    return walks


@pytest.mark.parametrize("level", [None, 0.5])
@pytest.mark.parametrize("learnt", [True, False])
def test_each_row_has_the_values_of_advise_for_the_same_walk(level, learnt):
    model = trained()[0] if learnt else untrained(knowledge(workshop()))
    found = advised_rows(workshop(), model, table(), level=level)
    for place, (name, rider) in enumerate(zip(WALKS, RIDERS, strict=True)):
        advice = consult(
            workshop(),
            bundled_walk(name),
            model,
            rider=bundled_rider(rider) if rider else None,
            level=level,
        )
        row = found.iloc[place]
        assert row["event"] == bundled_walk(name).event
        for setting in advice.settings:
            told = [row[f"advised.{setting.setting}{end}"] for end in ("", ".low", ".high")]
            assert told == [setting.value, setting.low, setting.high], setting.setting


def test_walks_among_others_are_advised_on_as_alone():
    whole = table()
    together = advised_rows(workshop(), trained()[0], whole)
    for place in range(len(whole)):
        alone = whole.take(np.arange(len(whole)) == place)
        row = advised_rows(workshop(), trained()[0], alone)
        pd.testing.assert_frame_equal(row, together.iloc[[place]].reset_index(drop=True))


def test_no_walk_gives_no_row_and_all_columns():
    none = table().take(np.zeros(len(WALKS), dtype=bool))
    found = advised_rows(workshop(), trained()[0], none)
    assert len(found) == 0
    assert {f"advised.{name}.low" for name in workshop().settings} <= set(found.columns)
