"""Rows of training over an archive of many seasons: taken from `archive_growth.py`."""

from __future__ import annotations

from pathlib import Path

from measuring import Row, Scale

TITLE = "Archive"
SCRIPT = Path(__file__).with_name("archive_growth.py")


def parts(scale: Scale) -> list[dict[str, object]]:
    return [{"scale": scale}] if SCRIPT.exists() else []


def rows(scale: Scale) -> list[Row]:
    """Run the script and take its figures over."""
    return []
