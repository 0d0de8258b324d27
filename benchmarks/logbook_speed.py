"""Rows of the logbook: a season into it beside pandas reading that file, and one day out of it.

The large book holds laps, and for every fifth session a change and a remark; its last day is read
by a process of its own, beside a process that imports scikit-learn's neighbours.
"""

from __future__ import annotations

import random
import subprocess
import sys
import tempfile
from dataclasses import replace
from pathlib import Path
from typing import Any

import pandas as pd
from command_speed import PEER, whole_process
from measuring import Row, Scale, in_turns, peak_of, seconds
from season_speed import machines_and_riders, many_sessions

from setupadvisor.entries.logbook.book import Book, open_book
from setupadvisor.entries.logbook.records import ChangeEntry, LapEntry, RiderRemark

TITLE = "Logbook"
LAPS = 5
READ_A_DAY = """
import sys
from setupadvisor.entries.logbook.book import open_book
with open_book(sys.argv[1], create=False) as book:
    last = book.last_outing()
    day = book.day(last.event, last.rider)
    counts = book.record_of_changes() if sys.argv[2] == "counts" else True
assert day.walk and day.outings and counts
status = open("/proc/self/status").read()  # a child's own peak, without its parent's
print(int(status.split("VmHWM:")[1].split()[0]) / 1024)
"""


def parts(scale: Scale) -> list[dict[str, object]]:
    imported, books, rounds = {
        "tiny": (50, [60], 1),
        "quick": (1_000, [2_000], 3),
        "full": (5_000, [10_000, 100_000], 5),
    }[scale]
    return [
        {"sessions": imported, "task": "import", "rounds": rounds},
        *({"sessions": n, "task": "a day", "rounds": rounds} for n in books),
    ]


def rows(sessions: int, task: str, rounds: int) -> list[Row]:
    """Time an import, or a day read from a book filled before."""
    with tempfile.TemporaryDirectory() as folder:
        if task == "import":
            return importing(Path(folder), sessions, rounds)
        return a_day(Path(folder), sessions, rounds)


def importing(folder: Path, sessions: int, rounds: int) -> list[Row]:
    """A new book takes a season, again and again."""
    table = folder / "season.csv"
    many_sessions(table, sessions)
    books = iter(range(10**6))

    def ours() -> None:
        with open_book(folder / f"{next(books)}.book") as book:
            import_season(book, table)
            with book.reading() as connection:
                if len(book.sessions(connection)) != sessions:
                    raise SystemExit("the book did not take all sessions")

    peak = peak_of(ours)
    timed = in_turns({"ours": ours, "peer": lambda: pd.read_csv(table)}, rounds=rounds, warm=False)
    return [
        Row(
            name=f"{sessions:,} sessions imported",
            values=timed.seconds["ours"],
            peer="pandas.read_csv",
            peer_value=timed.median("peer"),
            peak_mb=peak,
            checked="as many sessions in the book",
        )
    ]


def import_season(book: Book, path: Path) -> None:
    book.import_season(path, *machines_and_riders(), "benchmark")


def a_day(folder: Path, sessions: int, rounds: int) -> list[Row]:
    """Fill a book; then whole processes, each of which reads its last day."""
    book = folder / "large.book"
    taken = fill(book, sessions)
    works = {
        PEER: whole_process(["-c", PEER]),
        "day": whole_process(["-c", READ_A_DAY, str(book), "day"]),
        "counts": whole_process(["-c", READ_A_DAY, str(book), "counts"]),
    }
    timed = in_turns(works, rounds=rounds)
    command = [sys.executable, "-c", READ_A_DAY, str(book)]
    size = f"{sessions:,} sessions, {book.stat().st_size / 1e6:,.0f} MB"
    found = []
    for name, what in (("day", "the last day"), ("counts", "the last day and all changes' count")):
        done = subprocess.run([*command, name], capture_output=True, text=True, check=True)
        row = Row(
            name=f"process that reads {what} of {size}",
            values=timed.seconds[name],
            peer=PEER,
            peer_value=timed.median(PEER),
            peak_mb=float(done.stdout),
            family=f"logbook, {what}",
            size=sessions,
        )
        found.append(replace(row, note=f"filled in {taken:.0f} s" if name == "day" else ""))
    return found


def fill(path: Path, sessions: int) -> float:
    """Fill a book with sessions, laps, and for every fifth session a change and a remark."""
    chance = random.Random(1)
    table = path.with_suffix(".csv")
    many_sessions(table, sessions)
    with open_book(path) as book:
        taken = seconds(lambda: import_season(book, table))
        with book.reading() as connection:
            names = book.sessions(connection)[::-1]
        with book.writing("benchmark") as page:
            for place, name in enumerate(names):
                mean = chance.uniform(60, 120)
                page.add_laps(
                    name,
                    [
                        LapEntry(lap, round(chance.gauss(mean, 0.8), 3))
                        for lap in range(1, LAPS + 1)
                    ],
                )
                if place % 5 == 0:
                    change(page, name, chance)
    table.unlink()
    return taken


def change(page: Any, name: str, chance: random.Random) -> None:
    start = chance.randint(6, 14)
    page.add_remark(name, RiderRemark("kicks in the whoops", ("rear_kicks_in_whoops",)))
    for verdict in ("", chance.choice(["better", "same", "worse"])):
        page.add_change(
            ChangeEntry(
                chance.choice(["shock_rebound_low", "fork_compression_low", "race_sag"]),
                start,
                start + chance.choice([-2, 2]),
                remark="rear_kicks_in_whoops",
                verdict=verdict,
                after=name,
            )
        )
