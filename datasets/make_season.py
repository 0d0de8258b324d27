"""Invent a season: run `python datasets/make_season.py` to write `datasets/season.csv` anew.

All of it is invented, in a scenario of our own: a crew of three riders travels one invented
country in one invented truck, in winter from hall to hall, then along the coast and up into the
hills. No rider, machine, event, venue, weather or lap time is anybody's, and no setup in it is
advice: some of what happens was made up against the common rules on purpose.

What makes it worth having is that its truth is known. The truth stands in `invented_truth.py`
and does not read the rule base: ideal settings are the machine's house values, plus EFFECTS of the
facts, plus the riders' HABITS, plus a quirk of each venue and the form of the day. The crew never
sees it. They start a day from a first guess, close in on what they believe to be ideal, and the
rider's mark and the best lap follow how far they still are from it.

The same random state writes the same bytes. When a fact, a house value or a bundled machine or
rider changes, run the script again.
"""

from __future__ import annotations

import argparse
import csv
import io
import sys
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from functools import cache
from pathlib import Path

import numpy as np
import pandas as pd
from numpy.typing import NDArray
from setupadvisor.bundled_datasets.invented_truth import EFFECTS, HABITS, effects_on
from setupadvisor.bundled_datasets.invented_venues import (
    CALENDAR,
    VENUES,
    Cell,
    event_of,
    track_walk,
)

from setupadvisor.advice.fitting import DRIVE_SETTINGS, choose_drive, fit
from setupadvisor.advice.workshop import house_machine, house_values
from setupadvisor.entries.files import bundled, load_entry, write_atomic
from setupadvisor.entries.machine import Machine
from setupadvisor.entries.rider import Rider
from setupadvisor.entries.season import season_from
from setupadvisor.facts.columns import columns_from_machine, condition_fields
from setupadvisor.facts.table import facts_from

FloatArray = NDArray[np.float64]
Row = dict[str, Cell]

USUAL_RANDOM_STATE = 445
FIRST_YEAR = 2025
MOST_EVENTS = 4000  # beyond the year 2262 pandas knows no date
RIDERS = ("north", "south", "east")
MACHINE = "works-450"
OUTCOME = ("mark", "best_lap_s")
# Each has random numbers of its own, so that a longer season begins like a shorter one.
STREAMS = ("walk", "crew", "form", "guess", "luck", "counts", "skipped", "day")

# How much of each effect the crew's first guess has in it: they know their trade, not the truth.
FIRST_GUESS_SHARE = (0.2, 0.8)
HABIT_KNOWN = 0.7
# What is left of the first guess's error after one more session, for quick and for slow jobs.
LEFT_AFTER_A_SESSION = {"quick": 0.45, "slow": 0.6}
SLOW_JOB_MIN = 20.0
# In the smallest steps a rider feels.
QUIRK, FORM, UNSURE, NOT_WORTH_IT = 0.55, 0.25, 0.45, 0.75
GUESS_ERROR = 1.6
LUCK = (0.6, 1.5)  # of the day: some first guesses are good, some days stay muddled to the end
# Counts in the mark by the parts a rider talks about first; the rest count 0.5.
HEARD = {"Fork": 1.0, "Shock": 1.0, "Tyres": 0.9, "Drive": 0.7, "Ride height and geometry": 1.0}
# A session of the crew has a mark, and a best lap unless it was cut short.
CUT_SHORT = 0.03
PACE = {"north": 0.985, "south": 1.0, "east": 1.012}

# How often the crew skips a field on the walk: seen at a glance, or asked of a tool or a second
# walk. Now and then a whole group goes unwritten.
SKIPPED = 0.06
SKIPPED_FIELDS = {
    "walk.kind": 0.0,
    "walk.air.elevation_m": 0.02,
    "walk.air.pressure_kpa": 0.15,
    "walk.air.humidity_pct": 0.15,
    "walk.ground.cone_index_kpa": 0.3,
    "walk.start.after_cone_index_kpa": 0.35,
    "walk.start.after_texture": 0.15,
    "walk.ground.rut_depth_mm": 0.15,
    "walk.corners.tightest_radius_m": 0.12,
}
SKIPPED_GROUPS = {"whoops": 0.05, "corners": 0.05, "hills": 0.1, "lap": 0.05, "jumps": 0.04}
LISTED_FIELD_SKIPPED = 0.05


def felt_steps(machine: Machine) -> FloatArray:
    """Give the smallest change of each setting that a rider feels, in the setting's number."""
    return np.array(
        [
            setting.felt or setting.step or float(np.mean(np.diff(setting.values)))
            for setting in machine.settings.values()
        ]
    )


@dataclass(frozen=True)
class Outings:
    """One rider at one event each: what was walked, and what would be ideal.

    Parameters
    ----------
    rows : list of Row
        Names and the whole walk, nothing skipped.
    guess, ideal : numpy.ndarray, shape (rows, settings)
        First guess and hidden ideal, in each setting's number.
    """

    rows: list[Row]
    guess: FloatArray
    ideal: FloatArray


def stream(random_state: int, what: str, place: int = 0) -> np.random.Generator:
    """Open the random numbers of one thing at one place of the season."""
    return np.random.default_rng([random_state, STREAMS.index(what), place])


def outings(machine: Machine, riders: dict[str, Rider], events: int, random_state: int) -> Outings:
    """Invent all events and what each rider would need there.

    Parameters
    ----------
    machine : Machine
        What is ridden.
    riders : dict of str to Rider
        By name.
    events : int
        How many events.
    random_state : int
        Which season.

    Returns
    -------
    Outings
        Event by event, one row a rider.
    """
    rows: list[Row] = []
    for place in range(events):
        event, date, venue = event_of(place, FIRST_YEAR)
        walk = track_walk(VENUES[venue], date, stream(random_state, "walk", place))
        names: Row = {"event": event, "date": str(date), "venue": venue}
        rows += [
            {"session_id": f"{place + 1:03d}-{rider}", **names, "rider": rider, "machine": MACHINE}
            | walk
            for rider in riders
        ]
    season, mistakes = season_from(
        pd.DataFrame(rows).astype("object"), "the invented walks", {MACHINE: machine}, riders
    )
    if mistakes:
        raise SystemExit("\n".join(map(str, mistakes)))
    facts = facts_from(season.conditions, columns_from_machine(machine), len(rows))
    effects = effects_on(machine, facts)
    house = house_values(machine, facts)
    habit = np.array(
        [[HABITS[str(row["rider"])].get(name, 0.0) for name in machine.settings] for row in rows]
    )
    steps = felt_steps(machine)
    crew = stream(random_state, "crew")
    quirk_at = {venue: QUIRK * crew.standard_normal(len(steps)) for venue in VENUES}
    known = crew.uniform(*FIRST_GUESS_SHARE, size=len(EFFECTS))
    quirk = np.stack([quirk_at[str(row["venue"])] for row in rows])
    form, error = (
        np.stack(
            [
                stream(random_state, what, place).standard_normal(len(steps))
                for place in range(len(rows))
            ]
        )
        for what in ("form", "guess")
    )
    luck = [stream(random_state, "luck", place).uniform(*LUCK) for place in range(len(rows))]
    ideal = house + habit + effects.sum(axis=0) + steps * (quirk + FORM * form)
    guess = house + HABIT_KNOWN * habit + np.tensordot(known, effects, axes=1)
    guess += GUESS_ERROR * np.array(luck)[:, None] * steps * error
    low = np.array([setting.lowest for setting in machine.settings.values()])
    high = np.array([setting.highest for setting in machine.settings.values()])
    return Outings(rows, np.clip(guess, low, high), np.clip(ideal, low, high))


def fitted(machine: Machine, wishes: dict[str, float]) -> dict[str, float]:
    """Put on the motorcycle what comes nearest to the wishes."""
    result = {name: fit(machine.settings[name], wish) for name, wish in wishes.items()}
    return result | _drive(round(wishes["rear_sprocket"], 1), round(wishes["axle_position"]))


@cache
def _drive(rear_sprocket: float, axle_position: float) -> dict[str, float]:
    # Sprockets, chain and axle position are one choice: only what the slot allows can be ridden.
    machine = house_machine()
    wishes = {
        "front_sprocket": machine.settings["front_sprocket"].fixed_house,
        "rear_sprocket": rear_sprocket,
        "axle_position": axle_position,
    }
    best = choose_drive(machine, wishes).best
    if best is None:
        raise SystemExit("no sprockets on the machine's shelf fit its axle slot")
    teeth_links_and_place = (best.front_teeth, best.rear_teeth, best.links, best.axle_position_mm)
    return {
        name: fit(machine.settings[name], float(value))
        for name, value in zip(DRIVE_SETTINGS, teeth_links_and_place, strict=True)
    }


def day(
    machine: Machine,
    rider: str,
    usual_lap_s: float,
    guess: FloatArray,
    ideal: FloatArray,
    sessions: int,
    random: np.random.Generator,
) -> Iterator[tuple[dict[str, float], float, float | None]]:
    """Ride one day, closing in on the ideal.

    Parameters
    ----------
    machine : Machine
        What is ridden.
    rider : str
        Who rides.
    usual_lap_s : float
        Lap time of the walk.
    guess, ideal : numpy.ndarray, shape (settings,)
        First guess and hidden ideal.
    sessions : int
        How many sessions the day has.
    random : numpy.random.Generator
        The day's luck.

    Yields
    ------
    tuple of dict, float, and float or None
        Setup, mark and best lap of each session.
    """
    names = tuple(machine.settings)
    settings = machine.settings.values()
    steps = felt_steps(machine)
    left = np.array(
        [
            LEFT_AFTER_A_SESSION["slow" if setting.minutes >= SLOW_JOB_MIN else "quick"]
            for setting in settings
        ]
    )
    heard = np.array([HEARD.get(setting.group, 0.5) for setting in settings])
    heard[[names.index("front_sprocket"), names.index("chain_links")]] = 0.0  # serve the others
    wish, muddle = guess, random.uniform(*LUCK)
    for turn in range(sessions):
        if turn:
            believed = ideal + left**turn * (guess - ideal)
            believed = believed + UNSURE * muddle * steps * random.standard_normal(len(steps))
            worth_it = np.abs(believed - wish) >= NOT_WORTH_IT * steps
            wish = np.where(worth_it, believed, wish)
        setup = fitted(machine, dict(zip(names, wish.tolist(), strict=True)))
        gap = (np.array([setup[name] for name in names]) - ideal) / steps
        # Far off counts as far off: beyond four steps a rider cannot tell how far.
        off = float(np.sqrt(np.average(np.clip(gap, -4, 4) ** 2, weights=heard)))
        mark = float(np.clip(np.round(5.7 - 1.9 * off + random.normal(0, 0.2)), 1, 5))
        learning_the_lines = 0.006 * 0.5**turn
        roughening = 0.0012 * turn
        lap = usual_lap_s * PACE[rider] * (0.955 + 0.016 * off + learning_the_lines + roughening)
        lap *= 1.0 + random.normal(0, 0.0025)
        yield setup, mark, None if random.random() < CUT_SHORT else round(lap, 2)


def sessions_each(sessions: int, places: int, random: np.random.Generator) -> NDArray[np.int64]:
    """Share the sessions out over riders and events: about as many each, one more or less."""
    edges = np.arange(places + 1) * sessions // places
    counts = np.diff(edges)
    for start in range(0, places, len(RIDERS)):
        here = counts[start : start + len(RIDERS)]
        if here.min() > 1:
            here += random.permutation([-1, 0, 1])
    return counts


def skipped(walk: Sequence[str], random: np.random.Generator) -> set[str]:
    """Choose which columns of a walk the crew chief does not fill in."""
    groups = {name for name, share in SKIPPED_GROUPS.items() if random.random() < share}
    chance = {
        column: LISTED_FIELD_SKIPPED if ".jumps." in column else SKIPPED_FIELDS.get(column, SKIPPED)
        for column in walk
    }
    return {
        column
        for column in walk
        if (random.random() < chance[column]) or column.split(".")[1] in groups
    }


def season_rows(random_state: int, events: int, sessions: int) -> list[Row]:
    """Invent the whole season.

    Parameters
    ----------
    random_state : int
        Which season.
    events, sessions : int
        How many events, and how many sessions in all.

    Returns
    -------
    list of Row
        Cells by column, one row a session, in the order in which they were ridden.
    """
    machine = house_machine()
    riders = {
        name: load_entry(bundled("datasets", "riders", f"{name}.yaml"), Rider) for name in RIDERS
    }
    found = outings(machine, riders, events, random_state)
    counts = sessions_each(sessions, len(found.rows), stream(random_state, "counts"))
    result: list[Row] = []
    for place, row in enumerate(found.rows):
        event = place // len(RIDERS)
        columns = [name for name in row if name.startswith("walk.")]
        # The whole crew has one walk.
        left_out = skipped(columns, stream(random_state, "skipped", event))
        written = {name: cell for name, cell in row.items() if name not in left_out}
        ridden = day(
            machine,
            str(row["rider"]),
            float(row["walk.lap.time_s"]),
            found.guess[place],
            found.ideal[place],
            int(counts[place]),
            stream(random_state, "day", place),
        )
        for turn, (setup, mark, best_lap_s) in enumerate(ridden, start=1):
            outcome: Row = {f"setup.{name}": value for name, value in setup.items()}
            outcome["mark"] = mark
            if best_lap_s is not None:
                outcome["best_lap_s"] = best_lap_s
            result.append(written | {"session_id": f"{row['session_id']}-{turn}"} | outcome)
    return result


def as_csv(rows: Sequence[Row]) -> bytes:
    """Write rows as a table: columns in the order of the walk, numbers as people write them."""
    order = sorted({name for row in rows for name in row}, key=_place(tuple(rows[0])))
    text = io.StringIO()
    table = csv.DictWriter(text, order, restval="", lineterminator="\n")
    table.writeheader()
    for row in rows:
        table.writerow(
            {
                name: f"{round(cell, 3):.10g}" if isinstance(cell, int | float) else cell
                for name, cell in row.items()
            }
        )
    return text.getvalue().encode()


def _place(named: tuple[str, ...]) -> Callable[[str], tuple[int, int, int]]:
    fields = list(condition_fields())

    def place(column: str) -> tuple[int, int, int]:
        first, *parts = column.split(".")
        if first != "walk":
            after = first == "setup" or column in OUTCOME
            return (2 if after else 0), 0, (*named, *OUTCOME).index(column)
        number = next((int(part) for part in parts if part.isdigit()), 0)
        path = ".".join(part for part in column.split(".") if not part.isdigit())
        return 1, number, fields.index(path)

    return place


def main(arguments: Sequence[str] | None = None) -> int:
    """Run the script."""
    parser = argparse.ArgumentParser(description="Invent a season and write it as CSV.")
    parser.add_argument(
        "--seed", type=int, default=USUAL_RANDOM_STATE, help="another number, another season"
    )
    parser.add_argument("--out", type=Path, default=Path(__file__).with_name("season.csv"))
    parser.add_argument("--events", type=int, default=len(CALENDAR))
    parser.add_argument("--sessions", type=int, help="in all; 4 a rider and event unless given")
    asked = parser.parse_args(arguments)
    if not 1 <= asked.events <= MOST_EVENTS:
        parser.error(f"--events: give 1 to {MOST_EVENTS}")
    places = asked.events * len(RIDERS)
    sessions = 4 * places if asked.sessions is None else asked.sessions
    if sessions < places:
        parser.error(f"--sessions: give at least {places}, one for each rider and event")
    if asked.seed < 0:
        parser.error("--seed: give 0 or more")
    write_atomic(asked.out, as_csv(season_rows(asked.seed, asked.events, sessions)))
    return 0


if __name__ == "__main__":
    sys.exit(main())
