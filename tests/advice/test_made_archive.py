"""The invented archives: sound, whole events, the same again, and alive like the season."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pandas as pd
import pytest
from setupadvisor.bundled_datasets import make_archive
from setupadvisor.bundled_datasets.make_archive import YEARS, Plan, part_of

from setupadvisor.advice.archive_learning import Judged, judged
from setupadvisor.advice.workshop import house_machine
from setupadvisor.entries.archive import open_archive
from setupadvisor.entries.season import NEEDED, Season
from setupadvisor.entries.season_joining import joined_seasons

pytest.importorskip("pyarrow", reason='needs the extra "parquet"')

PLAN = Plan(sessions=400, crews=2, rows=120)


@pytest.fixture(scope="module")
def found(tmp_path_factory: pytest.TempPathFactory) -> Judged:
    """An archive as its script makes it, judged as `retrain` does, which refuses any mistake."""
    folder = tmp_path_factory.mktemp("made") / "arc"
    words = ["--sessions", "400", "--crews", "2", "--rows", "120"]
    assert make_archive.main([str(folder), *words]) == 0
    return judged(open_archive(folder, NEEDED), house_machine())


@pytest.fixture(scope="module")
def season(found: Judged) -> Season:
    return joined_seasons([part.read()[0] for part in found.parts], "all")


def test_it_holds_whole_events_in_parts_of_about_the_size_asked_for(found: Judged) -> None:
    assert (found.sessions, found.events, len(found.parts)) == (408, 34, 4)
    assert [len(part.read()[0]) for part in found.parts] == [120, 120, 120, 48]
    assert found.notices == ()


def test_the_same_plan_gives_the_same_sessions_and_another_number_others() -> None:
    first = part_of(PLAN, 1)
    pd.testing.assert_frame_equal(part_of(PLAN, 1), first)
    other = part_of(Plan(400, 2, 120, random_state=7), 1)
    assert not other["setup.race_sag"].equals(first["setup.race_sag"])


def test_what_was_set_can_be_set(season: Season) -> None:
    for place, name in enumerate(season.settings):
        values = house_machine().settings[name].values
        assert set(season.values[:, place]) <= set(values), name


def test_riders_close_in_on_what_they_want(season: Season) -> None:
    """Marks rise over a day, as in the bundled season."""
    turn = np.array([int(name.rsplit("-", 1)[1]) for name in season.session_id])
    marks = [season.mark[turn == number].mean() for number in (1, 2, 3, 4)]
    assert marks == sorted(marks)
    assert marks[-1] - marks[0] > 1.0


def test_crews_leave_out_about_as_much_as_in_the_bundled_season(season: Season) -> None:
    """A share of 6 % for most fields: within four standard errors of 34 walks."""
    _, first = np.unique(season.event, return_index=True)
    temperature = season.conditions["walk.air.temperature_c"][first]
    assert np.isnan(temperature).mean() < 0.06 + 4.0 * np.sqrt(0.06 * 0.94 / 34)
    assert np.isfinite(season.conditions["walk.kind"]).all()
    one_walk = season.conditions["walk.air.temperature_c"].reshape(-1, 12)
    assert np.array_equal(one_walk[:, :1].repeat(12, axis=1), one_walk, equal_nan=True)


@pytest.mark.parametrize("sessions", [12, 5_000, 5_000_000, 1_000_000_000])
def test_events_of_any_number_have_names_of_their_own_in_a_life_of_racing(sessions: int) -> None:
    plan = Plan(sessions)
    random = np.random.default_rng(0)
    some = sorted({0, plan.events - 1, *random.integers(plan.events, size=2_000).tolist()})
    events = [plan.event(number) for number in some]
    assert len({name for name, _, _ in events}) == len(some)
    assert all(2025 <= date.year <= 2025 + YEARS for _, date, _ in events)


def test_a_folder_that_is_there_is_left_alone(tmp_path: Path) -> None:
    with pytest.raises(SystemExit) as stop:
        make_archive.main([str(tmp_path)])
    assert stop.value.code == 2
    assert list(tmp_path.iterdir()) == []
