"""Killed at any moment, a writer loses nothing that was confirmed, and leaves a book that opens."""

from __future__ import annotations

import json
import os
import random
import sqlite3
import subprocess
import sys
from contextlib import closing
from pathlib import Path

import pytest

from setupadvisor.entries.logbook.book import open_book
from setupadvisor.entries.logbook.records import RiderRemark
from tests.entries.logbook.samples import EVENT, LAPS

KILLS, BOOKS = 200, 20
ROOT = Path(__file__).resolve().parents[3]


@pytest.mark.skipif(not hasattr(os, "fork"), reason="writers are forked, which this system cannot")
def test_two_hundred_kills_lose_nothing_that_was_confirmed(tmp_path: Path) -> None:
    """Also while the book is being made: the first life of each begins with that."""
    chance = random.Random(7)
    confirmed: dict[Path, set[str]] = {}
    begun: dict[Path, set[str]] = {}
    broken_off = 0
    with subprocess.Popen(
        [sys.executable, "-m", "tests.entries.logbook.nursery"],
        stdin=subprocess.PIPE,
        stdout=subprocess.PIPE,
        text=True,
        cwd=ROOT,
    ) as nursery:
        assert nursery.stdin is not None
        assert nursery.stdout is not None
        for kill in range(KILLS):
            path = tmp_path / f"{kill % BOOKS}.book"
            known = begun.setdefault(path, set())
            lines = chance.randint(1, 5) if kill >= BOOKS else 0
            seconds = chance.uniform(0.0, 0.02 if lines else 0.08)
            life = [str(path), len(known), lines, seconds]
            nursery.stdin.write(json.dumps(life) + "\n")
            nursery.stdin.flush()
            told = json.loads(nursery.stdout.readline())
            known.update(told["begun"])
            confirmed.setdefault(path, set()).update(told["confirmed"])
            broken_off += len(told["begun"]) > len(told["confirmed"])
            # What was lost stays lost: to look after every third life of a book is enough.
            last = kill >= KILLS - BOOKS
            if path.exists() and (last or kill // BOOKS % 3 == 0):
                look(path, begun[path], confirmed[path])
        nursery.stdin.close()
    assert nursery.returncode == 0
    # Kills that found nobody at work would show nothing.
    assert broken_off > KILLS / 2
    assert sum(map(len, confirmed.values())) > KILLS / 2
    for path, names in confirmed.items():
        with closing(sqlite3.connect(path)) as connection:
            assert connection.execute("PRAGMA integrity_check").fetchone() == ("ok",)
            assert connection.execute("PRAGMA foreign_key_check").fetchall() == []
        assert names


def look(path: Path, begun: set[str], confirmed: set[str]) -> None:
    """What was confirmed is there, and what is there is whole."""
    with open_book(path) as book:
        outings = book.day(EVENT, "north").outings
    names = {one.outing.session_id for one in outings}
    assert confirmed <= names <= begun
    for one in outings:
        assert one.laps == LAPS
        assert one.remarks == (RiderRemark("kicks"),)
        assert one.mark == 3
