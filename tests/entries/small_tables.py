"""Small seasons as text, and the machines and riders they speak of."""

from __future__ import annotations

from pathlib import Path
from typing import Any

from setupadvisor.entries.files import bundled, load_entry
from setupadvisor.entries.machine import Machine
from setupadvisor.entries.rider import Rider
from setupadvisor.entries.season import Season, read_season
from setupadvisor.errors import InputError, Mistake

MACHINES = {
    name: load_entry(bundled("datasets", "machines", f"{name}.yaml"), Machine)
    for name in ("works-450", "works-250")
}
RIDERS = {
    name: load_entry(bundled("datasets", "riders", f"{name}.yaml"), Rider)
    for name in ("north", "south")
}
ROW = {
    "session_id": "s1",
    "event": "First round",
    "date": "2026-05-17",
    "rider": "north",
    "machine": "works-450",
}


def table(*rows: dict[str, str]) -> str:
    """A season of rows, each saying only what it has beside `ROW`, as CSV."""
    columns = list(dict.fromkeys(name for row in ({**ROW}, *rows) for name in row))
    numbered = [{**ROW, "session_id": f"s{place}", **row} for place, row in enumerate(rows, 1)]
    lines = [columns, *([row.get(name, "") for name in columns] for row in numbered)]
    return "".join(",".join(cells) + "\n" for cells in lines)


def read(folder: Path, text: str | bytes) -> tuple[Season, list[Mistake]]:
    """Read a season that stands in a file."""
    path = folder / "season.csv"
    path.write_bytes(text.encode() if isinstance(text, str) else text)
    return read_season(path, MACHINES, RIDERS)


def sound(folder: Path, *rows: dict[str, str]) -> Season:
    """Read a season without a mistake."""
    season, mistakes = read(folder, table(*rows))
    assert mistakes == []
    return season


def said(folder: Path, mistakes: list[Mistake] | tuple[Mistake, ...]) -> list[str]:
    """The mistakes as a person reads them, with the file's name short."""
    return [str(mistake).replace(str(folder / "season.csv"), "season.csv") for mistake in mistakes]


def refused(folder: Path, text: str | bytes) -> list[str]:
    """What is said of a table that cannot be read at all."""
    try:
        read(folder, text)
    except InputError as error:
        return said(folder, error.mistakes)
    raise AssertionError("the table was read")


def column(season: Season, path: str) -> list[Any]:
    """A condition of every session."""
    values: list[Any] = season.conditions[path].tolist()
    return values
