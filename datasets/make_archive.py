"""Invent an archive: `python datasets/make_archive.py FOLDER --sessions 5000000`.

The same invented country, venues, weather and hidden truth as in `make_season.py`, ridden on by
many invented crews for many years: each crew has three riders in the manner of north, south and
east, and a first guess of its own. All sessions of an event stand in one part, and the events in
the order of their days.

It is made for measuring how the work grows with the sessions, so it is quick rather than varied:
the random numbers of a part are drawn together, and a million sessions take about half a minute of
one core. The same arguments write the same sessions.
"""

from __future__ import annotations

import argparse
import datetime
import shutil
import sys
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

import numpy as np
import pandas as pd
import yaml
from numpy.typing import NDArray
from setupadvisor.bundled_datasets.invented_truth import EFFECTS, HABITS
from setupadvisor.bundled_datasets.invented_venues import (
    CALENDAR,
    VENUES,
    event_of,
    track_walk,
)
from setupadvisor.bundled_datasets.make_season import (
    CUT_SHORT,
    FIRST_GUESS_SHARE,
    FIRST_YEAR,
    FORM,
    GUESS_ERROR,
    HABIT_KNOWN,
    HEARD,
    LEFT_AFTER_A_SESSION,
    LISTED_FIELD_SKIPPED,
    LUCK,
    MACHINE,
    NOT_WORTH_IT,
    PACE,
    QUIRK,
    RIDERS,
    SKIPPED,
    SKIPPED_FIELDS,
    SKIPPED_GROUPS,
    SLOW_JOB_MIN,
    UNSURE,
    USUAL_RANDOM_STATE,
    felt_steps,
)

from setupadvisor.advice.bulk_fitting import fit_walks
from setupadvisor.advice.workshop import house_machine, house_values
from setupadvisor.entries.archive_blocks import typed, write_part
from setupadvisor.entries.files import bundled, load_entry
from setupadvisor.entries.machine import Machine
from setupadvisor.entries.rider import Rider
from setupadvisor.entries.season import NEEDED, read_sessions
from setupadvisor.entries.season_reader import SeasonReader
from setupadvisor.facts.columns import columns_from_machine
from setupadvisor.facts.table import FactTable, facts_from
from setupadvisor.learning.many_cores import run_each

FloatArray = NDArray[np.float64]

SESSIONS_A_DAY = 4
YEARS = 40
ROWS_OF_A_PART = 50_000
# How much heavier or lighter than the rider whose manner they have, and how far their habits are.
MASS_SPREAD_KG, OWN_HABIT = 6.0, 0.5


@dataclass(frozen=True)
class Plan:
    """What an archive is to be like.

    Parameters
    ----------
    sessions : int
        In all; rounded up to whole events.
    crews : int
        Crews of three riders.
    rows : int
        Rows of a part.
    random_state : int
        Another number, another archive.
    """

    sessions: int
    crews: int = 4
    rows: int = ROWS_OF_A_PART
    random_state: int = USUAL_RANDOM_STATE

    @property
    def events(self) -> int:
        """How many events."""
        return -(-self.sessions // (SESSIONS_A_DAY * len(RIDERS)))

    @property
    def events_of_a_part(self) -> int:
        """How many events stand in one part."""
        return -(-self.rows // (SESSIONS_A_DAY * len(RIDERS)))

    @property
    def parts(self) -> int:
        """How many parts."""
        return -(-self.events // self.events_of_a_part)

    def random(self, *what: int) -> np.random.Generator:
        """Open the random numbers of one thing."""
        return np.random.default_rng([self.random_state, *what])

    def event(self, number: int) -> tuple[str, datetime.date, str]:
        """Name an event: many crews, and groups of one crew, ride at one place of the calendar."""
        turn, crew = divmod(number, self.crews)
        groups = -(-self.events // (self.crews * len(CALENDAR) * YEARS))
        place, group = divmod(turn, groups)
        name, date, venue = event_of(place, FIRST_YEAR)
        date += datetime.timedelta(days=group % 7)
        return f"{name}, crew {crew + 1}, group {group + 1}", date, venue


def riders_of(plan: Plan) -> dict[str, Rider]:
    """Invent the riders of all crews: each in the manner of one of the bundled three."""
    riders = {}
    for manner in RIDERS:
        like = load_entry(bundled("datasets", "riders", f"{manner}.yaml"), Rider)
        random = plan.random(0, RIDERS.index(manner))
        for crew in range(plan.crews):
            mass = round(float(like.mass_kg or 78.0) + random.normal(0.0, MASS_SPREAD_KG), 1)
            name = f"{manner}-{crew + 1}"
            riders[name] = like.model_copy(update={"name": name, "mass_kg": mass})
    return riders


def habits_of(plan: Plan, machine: Machine) -> dict[str, FloatArray]:
    """Give each rider the habits of the manner, and some of their own."""
    steps = felt_steps(machine)
    random = plan.random(1)
    return {
        f"{manner}-{crew + 1}": np.array(
            [HABITS[manner].get(name, 0.0) for name in machine.settings]
        )
        + OWN_HABIT * steps * random.standard_normal(len(steps))
        for crew in range(plan.crews)
        for manner in RIDERS
    }


def part_of(plan: Plan, number: int) -> pd.DataFrame:
    """Invent the sessions of one part.

    Parameters
    ----------
    plan : Plan
        The archive.
    number : int
        Which part, from 0.

    Returns
    -------
    pandas.DataFrame
        One row a session, in the order in which they were ridden.
    """
    machine = house_machine()
    random = plan.random(2, number)
    first = number * plan.events_of_a_part
    events = range(first, min(first + plan.events_of_a_part, plan.events))
    named = [plan.event(event) for event in events]
    walks = pd.DataFrame(
        [track_walk(VENUES[venue], date, random) for _, date, venue in named]
    ).astype("object")
    names = pd.DataFrame(
        {
            "event": [event for event, _, _ in named],
            "date": [str(date) for _, date, _ in named],
            "venue": [venue for _, _, venue in named],
        }
    )
    crew = np.array([event % plan.crews for event in events])
    place = np.repeat(np.arange(len(named)), len(RIDERS))
    rider = np.array([f"{name}-{c + 1}" for c in crew for name in RIDERS], dtype=object)
    outings = pd.concat([names, walks], axis=1).iloc[place].reset_index(drop=True)
    outings.insert(
        0, "session_id", [f"{first + p:07d}-{r}" for p, r in zip(place, rider, strict=True)]
    )
    outings.insert(4, "rider", rider)
    outings.insert(5, "machine", MACHINE)
    reader = SeasonReader(outings, "the invented walks", NEEDED)
    season = read_sessions(reader, {MACHINE: machine}, riders_of(plan))
    if reader.mistakes:
        raise SystemExit("\n".join(map(str, reader.mistakes)))
    facts = facts_from(season.conditions, columns_from_machine(machine), len(outings))
    guess, ideal = wishes_of(plan, machine, facts, season.venue, rider, crew[place], random)
    manner = np.tile(np.arange(len(RIDERS)), len(named))
    usual_lap = season.conditions["walk.lap.time_s"] * np.array(list(PACE.values()))[manner]
    written = typed(reader)
    skip(written, walks.columns.tolist(), place, random)
    return ridden(machine, written, guess, ideal, usual_lap, random)


def wishes_of(
    plan: Plan,
    machine: Machine,
    facts: FactTable,
    venue: NDArray[np.object_],
    rider: NDArray[np.object_],
    crew: NDArray[np.int64],
    random: np.random.Generator,
) -> tuple[FloatArray, FloatArray]:
    """Work out first guess and hidden ideal of every rider at every event."""
    steps = felt_steps(machine)
    settings = list(machine.settings)
    habits = habits_of(plan, machine)
    habit = np.stack([habits[name] for name in rider])
    of_venues = plan.random(3).standard_normal((len(VENUES), len(steps)))
    quirk_at = dict(zip(VENUES, QUIRK * of_venues, strict=True))
    known = plan.random(4).uniform(*FIRST_GUESS_SHARE, size=(plan.crews, len(EFFECTS)))
    house = house_values(machine, facts)
    shape = house.shape
    ideal = house + habit + steps * np.stack([quirk_at[name] for name in venue])
    ideal += steps * FORM * random.standard_normal(shape)
    guess = house + HABIT_KNOWN * habit
    luck = random.uniform(*LUCK, size=(shape[0], 1))
    guess += GUESS_ERROR * luck * steps * random.standard_normal(shape)
    for effect, (setting, amount, *conditions) in enumerate(EFFECTS):
        added = amount * np.prod([condition.degree(facts) for condition in conditions], axis=0)
        ideal[:, settings.index(setting)] += added
        guess[:, settings.index(setting)] += known[crew, effect] * added
    low = np.array([setting.lowest for setting in machine.settings.values()])
    high = np.array([setting.highest for setting in machine.settings.values()])
    return np.clip(guess, low, high), np.clip(ideal, low, high)


def skip(
    written: pd.DataFrame,
    walk: Sequence[str],
    place: NDArray[np.int64],
    random: np.random.Generator,
) -> None:
    """Take out what the crew chief of each event does not fill in."""
    events = int(place[-1]) + 1
    left_out = {name: random.random(events) < share for name, share in SKIPPED_GROUPS.items()}
    for column in walk:
        chance = SKIPPED_FIELDS.get(column, SKIPPED)
        chance = LISTED_FIELD_SKIPPED if ".jumps." in column else chance
        skipped = random.random(events) < chance
        skipped |= left_out.get(column.split(".")[1], np.zeros(events, dtype=bool))
        written[column] = written[column].mask(skipped[place])


def ridden(
    machine: Machine,
    outings: pd.DataFrame,
    guess: FloatArray,
    ideal: FloatArray,
    usual_lap_s: FloatArray,
    random: np.random.Generator,
) -> pd.DataFrame:
    """Ride every outing's day, closing in on the ideal; see `make_season.day`."""
    settings = machine.settings
    names, steps = tuple(settings), felt_steps(machine)
    left = np.array(
        [
            LEFT_AFTER_A_SESSION["slow" if setting.minutes >= SLOW_JOB_MIN else "quick"]
            for setting in settings.values()
        ]
    )
    heard = np.array([HEARD.get(setting.group, 0.5) for setting in settings.values()])
    heard[[names.index("front_sprocket"), names.index("chain_links")]] = 0.0
    count = len(outings)
    wish, muddle = guess, random.uniform(*LUCK, size=(count, 1))
    turns = []
    for turn in range(SESSIONS_A_DAY):
        if turn:
            believed = ideal + left**turn * (guess - ideal)
            believed += UNSURE * muddle * steps * random.standard_normal(guess.shape)
            wish = np.where(np.abs(believed - wish) >= NOT_WORTH_IT * steps, believed, wish)
        fitted = fit_walks(machine, dict(zip(names, wish.T, strict=True)))
        setup = np.column_stack([fitted[name] for name in names])
        gap = np.clip((setup - ideal) / steps, -4, 4)
        off = np.sqrt(np.average(gap**2, axis=1, weights=heard))
        frame = outings.copy(deep=False)
        frame["session_id"] = outings["session_id"] + f"-{turn + 1}"
        outcome = {f"setup.{name}": setup[:, place] for place, name in enumerate(names)}
        mark = np.round(5.7 - 1.9 * off + random.normal(0, 0.2, count))
        outcome["mark"] = np.clip(mark, 1, 5)
        lap = usual_lap_s * (0.955 + 0.016 * off + 0.006 * 0.5**turn + 0.0012 * turn)
        lap *= 1.0 + random.normal(0, 0.0025, count)
        outcome["best_lap_s"] = np.where(random.random(count) < CUT_SHORT, np.nan, lap.round(2))
        turns.append(pd.concat([frame, pd.DataFrame(outcome)], axis=1))
    sessions = pd.concat(turns, ignore_index=True)
    by_outing = np.arange(SESSIONS_A_DAY * count).reshape(SESSIONS_A_DAY, count).T.ravel()
    return sessions.iloc[by_outing].reset_index(drop=True)


def write_part_of(plan: Plan, number: int, folder: Path) -> None:
    """Write one part."""
    write_part(part_of(plan, number), folder / f"part-{number:05d}.parquet")


def write(plan: Plan, folder: Path, jobs: int = 1) -> None:
    """Write a whole archive.

    Parameters
    ----------
    plan : Plan
        What it is to be like.
    folder : pathlib.Path
        A new folder.
    jobs : int
        Processes to use.
    """
    folder.mkdir(parents=True)
    (folder / "riders").mkdir()
    for name, rider in riders_of(plan).items():
        content = rider.model_dump(by_alias=True, exclude_unset=True, mode="json")
        text = yaml.safe_dump(content, sort_keys=False, allow_unicode=True)
        (folder / "riders" / f"{name}.yaml").write_text(text, encoding="utf-8")
    tasks = [{"plan": plan, "number": number, "folder": folder} for number in range(plan.parts)]
    run_each(write_part_of, tasks, n_jobs=jobs)


def main(arguments: Sequence[str] | None = None) -> int:
    """Run the script."""
    parser = argparse.ArgumentParser(description="Invent an archive of sessions.")
    parser.add_argument("folder", type=Path, help="the folder to make")
    parser.add_argument("--sessions", type=int, default=50_000, help="in all (50000)")
    parser.add_argument("--crews", type=int, default=4, help="crews of three riders (4)")
    parser.add_argument("--rows", type=int, default=ROWS_OF_A_PART, help="rows of a part (50000)")
    parser.add_argument(
        "--random-state",
        type=int,
        default=USUAL_RANDOM_STATE,
        help="another number, another archive",
    )
    parser.add_argument("--jobs", type=int, default=1, help="processes to use (1)")
    asked = parser.parse_args(arguments)
    if min(asked.sessions, asked.crews, asked.rows, asked.random_state + 1) < 1:
        parser.error("give sessions, crews and rows of 1 or more, and a random state of 0 or more")
    if asked.folder.exists():
        parser.error(f"{asked.folder} is there already")
    try:
        write(
            Plan(asked.sessions, asked.crews, asked.rows, asked.random_state),
            asked.folder,
            asked.jobs,
        )
    except BaseException:
        shutil.rmtree(asked.folder, ignore_errors=True)
        raise
    return 0


if __name__ == "__main__":
    sys.exit(main())
