"""The command `demo`: the whole job on the bundled, invented season."""

from __future__ import annotations

import argparse

from setupadvisor.advice.consult import consult
from setupadvisor.advice.season_learning import learn
from setupadvisor.advice.workshop import open_workshop
from setupadvisor.cli.advise import show
from setupadvisor.cli.inputs import read_machine, read_season_strictly, read_setup
from setupadvisor.cli.progress import Progress
from setupadvisor.entries.files import bundled, load_entry
from setupadvisor.entries.rider import Rider
from setupadvisor.entries.walk import Walk

MINUTES = 45.0
WALK, RIDER, ON_BIKE = "deep-sand.yaml", "north.yaml", "on-bike-450.yaml"

INTRODUCTION = """\
Everything in this demo is invented: riders, venues, machine, season.

  the season     {season}: {sessions} sessions at {events} events, learnt from just now
  the walk       {walk}: what the crew chief saw and felt on the day
  the rider      {rider}
  on the bike    {on_bike}
  minutes        {minutes:g}

The same with files of your own:
  setupadvisor walk my-track.yaml
  setupadvisor advise my-track.yaml --rider me.yaml --season season.csv --minutes {minutes:g}
"""


def run(options: argparse.Namespace) -> int:
    """Learn from the bundled season and advise on a bundled walk.

    Parameters
    ----------
    options : argparse.Namespace
        The command line.

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
    rider = load_entry(bundled("datasets", "riders", RIDER), Rider)
    on_bike = read_setup(bundled("datasets", "setups", ON_BIKE), machine)
    advice = consult(
        workshop,
        load_entry(bundled("datasets", "walks", WALK), Walk),
        model,
        rider=rider,
        on_bike=on_bike,
        minutes=MINUTES,
        provenance=provenance,
    )
    if not options.json:
        print(
            INTRODUCTION.format(
                season=season_file.name,
                sessions=len(season),
                events=len(set(season.event)),
                walk=WALK,
                rider=rider.name,
                on_bike=ON_BIKE,
                minutes=MINUTES,
            )
        )
    options.minutes = MINUTES
    show(advice, options)
    return 0
