"""The season that ships with the package: it reads, keeps its promises and can be made again."""

from __future__ import annotations

from itertools import groupby
from pathlib import Path

import numpy as np
import pandas as pd
import pytest
from setupadvisor.bundled_datasets import make_season
from setupadvisor.bundled_datasets.invented_truth import EFFECTS, HABITS
from setupadvisor.bundled_datasets.invented_venues import VENUES

from setupadvisor.entries.files import bundled, load_entry
from setupadvisor.entries.machine import Machine
from setupadvisor.entries.rider import Rider
from setupadvisor.entries.season import Season, read_season
from setupadvisor.facts.catalogue import FACTS
from setupadvisor.facts.drive import centre_distance_mm

PATH = bundled("datasets", "season.csv")
MACHINE = load_entry(bundled("datasets", "machines", "works-450.yaml"), Machine)
RIDERS = {
    name: load_entry(bundled("datasets", "riders", f"{name}.yaml"), Rider)
    for name in ("north", "south", "east")
}


def read(path: Path) -> Season:
    season, mistakes = read_season(path, {MACHINE.name: MACHINE}, RIDERS)
    assert mistakes == []
    return season


@pytest.fixture(scope="module")
def season() -> Season:
    return read(PATH)


@pytest.fixture(scope="module")
def table() -> pd.DataFrame:
    return pd.read_csv(PATH)


def walk_columns(table: pd.DataFrame, *, jumps: bool) -> list[str]:
    return [
        name
        for name in table
        if name.startswith("walk.") and name.startswith("walk.jumps") == jumps
    ]


def test_season_reads_without_mistake_or_ignored_column(season: Season) -> None:
    assert season.notices == ()
    assert set(season.settings) == set(MACHINE.settings)
    assert np.isfinite(season.values).all()


def test_season_has_the_promised_events_venues_riders_and_sessions(season: Season) -> None:
    assert len(season) >= 200
    assert len(set(season.event)) >= 16
    assert set(season.venue) == set(VENUES)
    assert len(VENUES) == 10
    assert set(season.rider) == set(RIDERS)
    assert {venue.kind for venue in VENUES.values()} == {"stadium", "outdoor", "sand"}


def test_each_rider_has_three_to_five_sessions_at_each_event(table: pd.DataFrame) -> None:
    count = table.groupby(["event", "rider"]).size()
    assert len(count) == table["event"].nunique() * len(RIDERS)
    assert count.between(3, 5).all()


def test_an_event_is_one_day_at_one_venue_with_one_walk(table: pd.DataFrame) -> None:
    columns = ["date", "venue", *walk_columns(table, jumps=False), *walk_columns(table, jumps=True)]
    different = table.groupby("event")[columns].nunique(dropna=False)
    assert (different == 1).all(axis=None)


def test_about_a_tenth_of_the_walk_is_missing(table: pd.DataFrame) -> None:
    """Jumps are left aside: venues with few of them leave later places empty for good."""
    missing = table[walk_columns(table, jumps=False)].isna().to_numpy()
    assert 0.08 <= missing.mean() <= 0.13
    # Scattered as a crew chief skips things, not whole columns or whole walks.
    assert missing.mean(axis=0).max() < 0.6
    assert missing.mean(axis=1).max() < 0.4
    assert missing.any(axis=1).mean() > 0.8


def test_jumps_of_most_walks_are_written_down(table: pd.DataFrame) -> None:
    gaps = table.filter(regex=r"^walk\.jumps\.\d+\.gap_m$")
    written = gaps.notna().any(axis=1).groupby(table["event"]).first()
    assert 0.8 < written.mean() <= 1.0


def test_every_setup_can_be_set_on_the_machine(season: Season) -> None:
    for place, name in enumerate(season.settings):
        choices = np.array(MACHINE.settings[name].values)
        gap = np.abs(season.values[:, place, np.newaxis] - choices).min(axis=1)
        assert gap.max() < 1e-9, name


def test_chain_sprockets_and_axle_fit_together(table: pd.DataFrame) -> None:
    """The axle is written down to the whole mm; a chain's geometry leaves no other freedom."""
    distance = centre_distance_mm(
        table["setup.chain_links"], table["setup.front_sprocket"], table["setup.rear_sprocket"]
    )
    position = distance - MACHINE.drive.centre_distance_at_slot_front_mm
    assert np.abs(position - table["setup.axle_position"]).max() <= 0.5


def test_marks_are_whole_and_use_the_scale(table: pd.DataFrame) -> None:
    assert set(table["mark"]) <= {1, 2, 3, 4, 5}
    assert table["mark"].nunique() >= 4


def test_marks_rise_through_each_riders_day(table: pd.DataFrame) -> None:
    """By a straight line through the day's marks, for each rider at each event."""
    slopes = [
        np.polyfit(np.arange(len(marks)), marks, 1)[0]
        for _, marks in table.groupby(["event", "rider"])["mark"]
    ]
    assert min(slopes) > 0.05
    assert np.mean(slopes) > 0.4


def test_better_marked_sessions_are_faster(table: pd.DataFrame) -> None:
    """Lap times of one rider at one event against the marks; missing laps left out."""
    timed = table.dropna(subset="best_lap_s")
    assert 0.9 < len(timed) / len(table) < 1.0
    day = timed.groupby(["event", "rider"])
    slower = timed["best_lap_s"] / day["best_lap_s"].transform("mean") - 1.0
    better = timed["mark"] - day["mark"].transform("mean")
    assert np.corrcoef(better, slower)[0, 1] < -0.6


def test_setups_close_in_on_the_hidden_ideal() -> None:
    found = make_season.outings(MACHINE, RIDERS, 20, make_season.USUAL_RANDOM_STATE)
    ideal = {
        (row["event"], row["rider"]): ideal
        for row, ideal in zip(found.rows, found.ideal, strict=True)
    }
    steps = make_season.felt_steps(MACHINE)
    season = read(PATH)
    off = [
        float(np.abs((values - ideal[event, rider]) / steps).mean())
        for event, rider, values in zip(season.event, season.rider, season.values, strict=True)
    ]
    days = [
        [gap for _, gap in group]
        for _, group in groupby(
            zip(zip(season.event, season.rider, strict=True), off, strict=True),
            key=lambda item: item[0],
        )
    ]
    assert all(day[-1] < day[0] for day in days)
    # The last session is the best of the day, not perfect.
    last = np.array([day[-1] for day in days])
    assert 0.25 < last.mean() < 1.0
    assert last.min() > 0.1


def test_numbers_are_written_as_a_person_writes_them() -> None:
    cells = {
        cell
        for line in PATH.read_text(encoding="utf-8").splitlines()[1:]
        for cell in line.split(",")
        if cell.replace(".", "").replace("-", "").isdigit()
    }
    assert max(len(cell.partition(".")[2]) for cell in cells) <= 2


def test_script_makes_the_bundled_season_byte_for_byte(tmp_path: Path) -> None:
    again = tmp_path / "season.csv"
    assert make_season.main(["--out", str(again)]) == 0
    assert again.read_bytes() == PATH.read_bytes(), (
        "a fact, a house value, the machine or a rider has changed since the season was made: "
        "run `python datasets/make_season.py` and commit datasets/season.csv"
    )


def test_another_number_makes_another_season() -> None:
    usual, other = (
        make_season.season_rows(number, events=2, sessions=24)
        for number in (make_season.USUAL_RANDOM_STATE, make_season.USUAL_RANDOM_STATE + 1)
    )
    assert [row["event"] for row in usual] == [row["event"] for row in other]
    assert [row["setup.fork_compression_low"] for row in usual] != [
        row["setup.fork_compression_low"] for row in other
    ]


def test_a_longer_season_begins_like_a_shorter_one() -> None:
    longer = make_season.season_rows(3, events=4, sessions=48)
    assert make_season.season_rows(3, events=2, sessions=24) == longer[:24]


def test_season_of_another_size_has_that_size_and_reads(tmp_path: Path) -> None:
    """22 events reach into the calendar's second year."""
    path = tmp_path / "season.csv"
    make_season.main(["--seed", "7", "--events", "22", "--sessions", "70", "--out", str(path)])
    season = read(path)
    assert len(season) == 70
    assert len(set(season.event)) == 22


@pytest.mark.parametrize(
    "arguments", [["--events", "0"], ["--events", "2", "--sessions", "5"], ["--seed", "-1"]]
)
def test_impossible_size_is_refused_and_nothing_written(
    arguments: list[str], tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    path = tmp_path / "season.csv"
    with pytest.raises(SystemExit) as stopped:
        make_season.main([*arguments, "--out", str(path)])
    assert stopped.value.code == 2
    assert "give" in capsys.readouterr().err
    assert not path.exists()


def test_hidden_truth_speaks_of_known_settings_facts_and_riders() -> None:
    assert set(HABITS) == set(RIDERS)
    assert {name for habit in HABITS.values() for name in habit} <= set(MACHINE.settings)
    for setting, amount, *conditions in EFFECTS:
        assert setting in MACHINE.settings
        assert amount != 0
        assert conditions
        assert {condition.fact for condition in conditions} <= set(FACTS)
    assert len(EFFECTS) >= 40


def test_hidden_truth_does_not_read_the_rule_base() -> None:
    for name in ("make_season", "invented_truth", "invented_venues"):
        text = bundled("datasets", f"{name}.py").read_text(encoding="utf-8")
        assert "rulebook" not in text
        assert "open_workshop" not in text
