"""The command `demo`: a whole day on the bundled, invented season."""

from __future__ import annotations

import argparse
import tempfile
from collections.abc import Mapping
from dataclasses import replace
from pathlib import Path

from setupadvisor.advice.consult import consult
from setupadvisor.advice.next_change import next_change
from setupadvisor.advice.records import Advice
from setupadvisor.advice.season_learning import learn
from setupadvisor.advice.workshop import Workshop, open_workshop, situations
from setupadvisor.cli.advise import show
from setupadvisor.cli.inputs import (
    read_machine,
    read_season_strictly,
    read_setup,
    riders_beside,
)
from setupadvisor.cli.laps_sheet import laps_sheet
from setupadvisor.cli.next_sheet import next_text
from setupadvisor.cli.progress import Progress
from setupadvisor.entries.files import bundled, load_entry
from setupadvisor.entries.laps import read_laps
from setupadvisor.entries.logbook.book import open_book
from setupadvisor.entries.logbook.records import Outing, RiderRemark
from setupadvisor.entries.machine import Machine
from setupadvisor.entries.rider import Rider
from setupadvisor.entries.season import Season
from setupadvisor.entries.walk import Walk
from setupadvisor.facts.columns import columns_from_entries
from setupadvisor.learning.lap_cleaning import clean
from setupadvisor.learning.laps import compare
from setupadvisor.rulebook.remark_words import understand

MINUTES, MINUTES_BETWEEN = 45.0, 15.0
WALK, RIDER, ON_BIKE, LAPS = "deep-sand.yaml", "north.yaml", "on-bike-450.yaml", "laps.csv"
SAID = "The rear swaps in the whoops, and the fork dives in the braking bumps."

INTRODUCTION = """\
A DAY, FROM THE WALK TO THE VERDICT. Everything in it is invented: riders, venues, machine, season.

  the season     {season}: {sessions} sessions at {events} events, learnt from just now
  the walk       {walk}: what the crew chief saw and felt in the morning
  the rider      {rider}
  on the bike    {on_bike}
  minutes        {minutes:g}

1. THE STARTING SETUP
   setupadvisor advise {walk} --rider {rider_file} --season {season} \\
       --on-bike {on_bike} --minutes {minutes:g}
"""
AFTER_THE_OUTING = """

2. AFTER THE FIRST OUTING. With the changes above on the motorcycle the rider says:
   "{said}"
   setupadvisor next {walk} --rider {rider_file} --on-bike SHEET --minutes {minutes:g} --said "..."
"""
THE_LAPS = """

3. DID IT HELP? A is the setup before that change, B with it; two runs each, ridden in turn.
   setupadvisor laps {laps}
"""
AT_HOME = """

4. BACK INTO THE SEASON. The day goes into the team's book (here one that is thrown away), and the
   model learns from {sessions} sessions now instead of {before}.
   setupadvisor log import {season} ; log add walk {walk} ; log outing ...
   setupadvisor retrain BOOK -o team.model ; setupadvisor weigh team.model ; setupadvisor sheet ...
"""


def run(options: argparse.Namespace) -> int:
    """Learn from the bundled season, and go through a day.

    Parameters
    ----------
    options : argparse.Namespace
        The command line; with ``json`` the advice alone is printed.

    Returns
    -------
    int
        0.
    """
    machine = read_machine(None)
    workshop = open_workshop(machine)
    season_file = bundled("datasets", "season.csv")
    season, machines = read_season_strictly(season_file, machine)
    progress = Progress()
    model, provenance = learn(season, workshop, machines, progress=progress)
    progress.done()
    walk = load_entry(bundled("datasets", "walks", WALK), Walk)
    rider = load_entry(bundled("datasets", "riders", RIDER), Rider)
    on_bike = read_setup(bundled("datasets", "setups", ON_BIKE), machine)
    advice = consult(
        workshop,
        walk,
        model,
        rider=rider,
        on_bike=on_bike,
        minutes=MINUTES,
        provenance=provenance,
    )
    options.minutes = MINUTES
    if options.json:
        show(advice, options)
        return 0
    names = {
        "season": season_file.name,
        "walk": WALK,
        "rider_file": RIDER,
        "on_bike": ON_BIKE,
        "laps": LAPS,
    }
    print(
        INTRODUCTION.format(
            **names,
            sessions=len(season),
            events=len(set(season.event)),
            rider=rider.name,
            minutes=MINUTES,
        )
    )
    show(advice, options)
    print(AFTER_THE_OUTING.format(**names, said=SAID, minutes=MINUTES_BETWEEN))
    print(_next(workshop, walk, rider, on_bike, advice))
    print(THE_LAPS.format(**names))
    print(_laps(), end="")
    ridden = {setting.setting: setting.value for setting in advice.settings}
    after = _season_with_the_day(season_file, walk, rider, machine, ridden)
    learn(after, workshop, machines)
    print(AT_HOME.format(**names, sessions=len(after), before=len(season)), end="")
    return 0


def _next(
    workshop: Workshop, walk: Walk, rider: Rider, on_bike: Mapping[str, float], advice: Advice
) -> str:
    setup = {**on_bike, **{change.setting: change.to for change in advice.changes}}
    understood = understand(SAID, workshop.rulebase.remarks)
    found = situations(workshop, columns_from_entries(walk, rider), 1)
    remarks = [item.remark for item in understood.matched]
    answer = next_change(workshop, found, setup, remarks, minutes=MINUTES_BETWEEN)
    return next_text(answer, understood.matched, [understood])


def _laps() -> str:
    table, _ = read_laps(bundled("datasets", LAPS))
    laps = clean(replace(table, source=LAPS))
    return laps_sheet(laps, [compare(laps, "A", "B")], None)


def _season_with_the_day(
    season: Path, walk: Walk, rider: Rider, machine: Machine, setup: Mapping[str, float]
) -> Season:
    """Write the season and the day into a book of its own, and read the season back."""
    with tempfile.TemporaryDirectory() as folder, open_book(Path(folder) / "demo.book") as book:
        book.import_season(season, {machine.name: machine}, riders_beside(season), "demo")
        with book.writing("demo") as page:
            page.add_walk(walk)
            page.add_rider(rider)
            outing = page.add_outing(
                Outing(walk.event, str(walk.date), rider.name, machine.name, setup)
            )
            page.add_mark(outing, 4.0)
            page.add_remark(outing, RiderRemark(SAID))
        after, _ = book.season({machine.name: machine})
    return after
