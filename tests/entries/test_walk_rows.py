"""Rows of walks: what must be there, what may be, and what is refused."""

from __future__ import annotations

from typing import Any

import numpy as np
import pandas as pd
import pytest

from setupadvisor.entries.walk_rows import WalkRows, read_walks
from setupadvisor.errors import InputError, Mistake
from tests.entries.small_tables import MACHINES, RIDERS

HERE = {"event": "Round", "date": "2026-05-17"}


def read(*rows: dict[str, Any], known: tuple[str, ...] = ()) -> tuple[WalkRows, list[Mistake]]:
    frame = pd.DataFrame([{**HERE, **row} for row in rows])
    return read_walks(frame, "walks.csv", MACHINES["works-450"], RIDERS, known)


def said(mistakes: list[Mistake]) -> list[str]:
    return [str(mistake) for mistake in mistakes]


def test_event_and_date_are_enough() -> None:
    walks, mistakes = read({})
    assert mistakes == []
    assert (len(walks), walks.venue.tolist(), walks.rider.tolist()) == (1, [""], [""])
    assert list(walks.names) == ["event", "date"]
    assert all(np.isnan(column).all() for column in walks.conditions.values())


@pytest.mark.parametrize("column", ["event", "date"])
def test_a_table_without_them_is_refused(column: str) -> None:
    frame = pd.DataFrame([HERE]).drop(columns=column)
    with pytest.raises(InputError) as caught:
        read_walks(frame, "walks.csv", MACHINES["works-450"], RIDERS)
    assert str(caught.value) == (
        f"walks.csv: no column {column}; a table of walks needs event and date"
    )


def test_a_riders_own_file_fills_in_what_the_row_does_not_say() -> None:
    walks, _ = read({"rider": "north"}, {"rider": "north", "rider.mass_kg": 90.0}, {})
    mass = walks.conditions["rider.mass_kg"]
    assert mass[:2].tolist() == [RIDERS["north"].mass_kg, 90.0]
    assert np.isnan(mass[2])


def test_a_rider_nobody_knows_is_refused_unless_the_model_does() -> None:
    walks, mistakes = read({"rider": "nroth"}, {"rider": "west"}, known=("west",))
    assert walks.rider.tolist() == ["west"]
    (message,) = said(mistakes)
    assert message.startswith("walks.csv row 1 rider: the rider 'nroth' is unknown; did you mean")


def test_a_row_of_another_machine_is_refused() -> None:
    walks, mistakes = read({"machine": "works-250"}, {"machine": ""}, {"machine": "works-450"})
    assert len(walks) == 2
    assert said(mistakes) == [
        "walks.csv row 1 machine: the walk is of 'works-250', the model's machine is works-450; "
        "leave the row out, or give that machine and a model for it"
    ]


def test_impossible_cells_are_told_and_their_rows_left_out() -> None:
    walks, mistakes = read({"date": "soon"}, {"walk.kind": "beach"}, {"walk.kind": "sand"})
    assert len(walks) == 1
    assert [mistake.where for mistake in mistakes] == [
        "walks.csv row 1 date",
        "walks.csv row 2 walk.kind",
    ]


def test_what_was_set_and_how_it_went_is_passed_over_in_silence() -> None:
    """A season's table can be asked as it is."""
    walks, mistakes = read({"setup.race_sag": "anything", "mark": "9", "best_lap_s": 3, "mood": 1})
    assert mistakes == []
    assert walks.notices == ("walks.csv: columns kept and ignored: mood",)
