"""Small archives of small tables."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import pandas as pd

from setupadvisor.entries.archive import Archive, open_archive
from setupadvisor.entries.archive_blocks import Source
from setupadvisor.entries.season import NEEDED
from tests.entries.small_tables import MACHINES, RIDERS, ROW, table


def part(folder: Path, name: str, *rows: dict[str, Any]) -> Path:
    """Write a part whose rows say only what they have beside `ROW`."""
    path = folder / name
    path.parent.mkdir(parents=True, exist_ok=True)
    pd.DataFrame([{**ROW, **row} for row in rows]).to_parquet(path)
    return path


def opened(folder: Path) -> Archive:
    return open_archive(folder, NEEDED)


def source(folder: Path, name: str, *rows: dict[str, str]) -> Source:
    """A table to make an archive of, as CSV or Parquet by its name."""
    path = folder / name
    if name.endswith(".csv"):
        path.write_text(table(*rows), encoding="utf-8")
    else:
        part(folder, name, *rows)
    return Source(path, MACHINES, RIDERS)


def told(folder: Path, error: Any) -> list[str]:
    """The mistakes with paths as seen from a folder."""
    mistakes = getattr(error, "mistakes", error)
    return [str(mistake).replace(f"{folder}/", "") for mistake in mistakes]
