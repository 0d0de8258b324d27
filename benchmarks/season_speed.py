"""Rows of reading a season: checked, converted and named, beside pandas and polars that just read.

Ours is `read_season`: every cell in its unit and range, words in their lists, riders and machines
known, mistakes with their rows. A peer reads the same file into a table of its own.
"""

from __future__ import annotations

import csv
import tempfile
from collections.abc import Mapping
from dataclasses import replace
from pathlib import Path

import pandas as pd
from measuring import NOT_INSTALLED, Row, Scale, Work, in_turns, peak_of

from setupadvisor.entries.files import bundled, load_entry
from setupadvisor.entries.machine import Machine
from setupadvisor.entries.rider import Rider
from setupadvisor.entries.season import read_season

TITLE = "Season read"
SEASON = bundled("datasets", "season.csv")


def parts(scale: Scale) -> list[dict[str, object]]:
    sizes = {"tiny": [50], "quick": [1_000, 5_000], "full": [1_000, 5_000, 50_000]}[scale]
    return [{"sessions": n, "rounds": 1 if scale == "tiny" else 5} for n in sizes]


def rows(sessions: int, rounds: int) -> list[Row]:
    """Time reading one season all three ways."""
    machines, riders = machines_and_riders()
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "season.csv"
        many_sessions(path, sessions)

        def ours() -> None:
            season, mistakes = read_season(path, machines, riders)
            if mistakes or len(season) != sessions:
                raise SystemExit("the season was not read whole")

        peak = peak_of(ours)
        works: dict[str, Work] = {"ours": ours, "pandas": lambda: pd.read_csv(path)}
        missing = []
        try:
            import polars  # noqa: PLC0415 - an extra

            works["polars"] = lambda: polars.read_csv(path, infer_schema_length=None)
        except ImportError:
            missing.append("polars")
        check(path, machines, riders)
        timed = in_turns(works, rounds=rounds)
    first = Row(
        name=f"{sessions:,} sessions",
        values=timed.seconds["ours"],
        peak_mb=peak,
        family="season read",
        size=sessions,
        checked="the same numbers in a column",
    )
    return [
        *(
            replace(first, peer=name, peer_value=timed.median(name))
            for name in works
            if name != "ours"
        ),
        *(replace(first, peer=f"{name}: {NOT_INSTALLED}") for name in missing),
    ]


def check(path: Path, machines: Mapping[str, Machine], riders: Mapping[str, Rider]) -> None:
    """End the run where a column reads differently."""
    season, _ = read_season(path, machines, riders)
    column = "walk.air.temperature_c"
    theirs = pd.read_csv(path)[column].to_numpy(dtype=float)
    ours = season.conditions[column]
    if not ((ours == theirs) | ((ours != ours) & (theirs != theirs))).all():  # noqa: PLR0124
        raise SystemExit("pandas reads other numbers")


def machines_and_riders() -> tuple[dict[str, Machine], dict[str, Rider]]:
    """The bundled ones, by name."""
    machines = [load_entry(found, Machine) for found in sorted(SEASON.parent.glob("machines/*"))]
    riders = [load_entry(found, Rider) for found in sorted(SEASON.parent.glob("riders/*"))]
    return {one.name: one for one in machines}, {one.name: one for one in riders}


def many_sessions(path: Path, count: int) -> None:
    """Write a season of that many sessions, from the bundled one again and again.

    Each time round is another year's: names of sessions and events, and the temperature by a
    hundredth of a degree more each time, so that no conditions repeat.
    """
    with SEASON.open(encoding="utf-8", newline="") as stream:
        header, *rows = list(csv.reader(stream))
    warmth = header.index("walk.air.temperature_c")
    with path.open("w", encoding="utf-8", newline="") as stream:
        writer = csv.writer(stream, lineterminator="\n")
        writer.writerow(header)
        for number in range(count):
            again = number // len(rows)
            row = list(rows[number % len(rows)])
            row[0] = f"{number:06d}-{row[0]}"
            row[1] = f"{row[1]} {again}"
            if row[warmth]:
                row[warmth] = f"{float(row[warmth]) + (again % 500) / 100:g}"
            writer.writerow(row)
