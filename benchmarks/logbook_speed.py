"""Speed of the logbook: a season in, a large book filled, one day and the record of changes out.

    python benchmarks/logbook_speed.py [--sessions 100000] [--laps 20] [--keep FILE]

Times are of the wall clock; memory is the largest resident set (Linux).
"""

from __future__ import annotations

import argparse
import csv
import random
import resource
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable
from pathlib import Path

import pandas as pd

from setupadvisor.entries.files import bundled, load_entry
from setupadvisor.entries.logbook.book import Book, open_book
from setupadvisor.entries.logbook.records import ChangeEntry, LapEntry, RiderRemark
from setupadvisor.entries.machine import Machine
from setupadvisor.entries.rider import Rider

SEASON = bundled("datasets", "season.csv")
IMPORTED = 5_000
READ_A_DAY = """
import sys, time
from pathlib import Path
from setupadvisor.entries.logbook.book import open_book
start = time.perf_counter()
with open_book(sys.argv[1], create=False) as book:
    opened = time.perf_counter()
    last = book.last_outing()
    day = book.day(last.event, last.rider)
    read = time.perf_counter()
    counts = book.record_of_changes()
    counted = time.perf_counter()
assert day.walk and day.outings and counts
status = Path("/proc/self/status").read_text()  # a child's own peak, without its parent's
peak_kb = int(status.split("VmHWM:")[1].split()[0])
print(opened - start, read - opened, counted - read, peak_kb / 1024)
"""


def many_sessions(path: Path, count: int) -> None:
    """Write a season of that many sessions, from the bundled one again and again."""
    with SEASON.open(encoding="utf-8", newline="") as stream:
        header, *rows = list(csv.reader(stream))
    with path.open("w", encoding="utf-8", newline="") as stream:
        writer = csv.writer(stream, lineterminator="\n")
        writer.writerow(header)
        for number in range(count):
            row = list(rows[number % len(rows)])
            row[0] = f"{number:06d}-{row[0]}"
            row[1] = f"{row[1]} {number // len(rows)}"
            writer.writerow(row)


def seconds(work: Callable[[], object], times: int = 1) -> float:
    """The least time that some work takes."""
    found = []
    for _ in range(times):
        start = time.perf_counter()
        work()
        found.append(time.perf_counter() - start)
    return min(found)


def import_season(book: Book, path: Path) -> None:
    machines = [load_entry(found, Machine) for found in sorted(SEASON.parent.glob("machines/*"))]
    riders = [load_entry(found, Rider) for found in sorted(SEASON.parent.glob("riders/*"))]
    book.import_season(
        path,
        {machine.name: machine for machine in machines},
        {rider.name: rider for rider in riders},
        "benchmark",
    )


def compare_import(folder: Path) -> None:
    table = folder / "season.csv"
    many_sessions(table, IMPORTED)
    pandas_s = seconds(lambda: pd.read_csv(table), 5)
    found = []
    for number in range(5):
        with open_book(folder / f"import-{number}.book") as book:
            found.append(seconds(lambda book=book: import_season(book, table)))
    print(
        f"{IMPORTED} sessions: pandas reads them in {pandas_s * 1000:.0f} ms, the book takes them "
        f"in {min(found) * 1000:.0f} ms ({min(found) / pandas_s:.1f} times)"
    )


def fill(path: Path, sessions: int, laps: int) -> None:
    """Fill a book with sessions, laps, and for every fifth session a change and a remark."""
    chance = random.Random(1)
    table = path.with_suffix(".csv")
    many_sessions(table, sessions)
    with open_book(path) as book:
        taken = seconds(lambda: import_season(book, table))
        print(f"{sessions} sessions imported in {taken:.1f} s")
        with book.reading() as connection:
            names = book.sessions(connection)[::-1]

        def laps_and_changes() -> None:
            with book.writing("benchmark") as page:
                for place, name in enumerate(names):
                    mean = chance.uniform(60, 120)
                    times = [
                        LapEntry(lap, round(chance.gauss(mean, 0.8), 3))
                        for lap in range(1, laps + 1)
                    ]
                    page.add_laps(name, times)
                    if place % 5 == 0:
                        change(page, name, chance)

        taken = seconds(laps_and_changes)
        print(f"{sessions * laps} laps and {len(names[::5])} changes written in {taken:.1f} s")
    table.unlink()


def change(page: object, name: str, chance: random.Random) -> None:
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


def read_it(path: Path) -> None:
    done = [
        subprocess.run(
            [sys.executable, "-c", READ_A_DAY, str(path)],
            capture_output=True,
            text=True,
            check=True,
        ).stdout.split()
        for _ in range(5)
    ]
    opened, day, counted, memory_mb = (min(map(float, found)) for found in zip(*done, strict=True))
    print(
        f"{path.stat().st_size / 1e6:.0f} MB: opened in {opened * 1000:.0f} ms, the last day read "
        f"in {day * 1000:.0f} ms, changes counted in {counted * 1000:.0f} ms, {memory_mb:.0f} MB"
    )


def whole_season(path: Path, folder: Path) -> None:
    with open_book(path) as book:
        taken = seconds(lambda: book.export_season(folder / "all.csv"))
        print(f"the whole season exported as CSV in {taken:.1f} s")
        taken = seconds(lambda: book.back_up(folder / "copy.book"))
        print(f"backed up in {taken:.1f} s")
    peak_mb = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024
    print(f"this process took {peak_mb:.0f} MB at most")


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--sessions", type=int, default=100_000, help="sessions in the large book")
    parser.add_argument("--laps", type=int, default=20, help="laps of each session")
    parser.add_argument("--keep", type=Path, help="where to keep the large book")
    options = parser.parse_args()
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        compare_import(folder)
        path = options.keep or folder / "large.book"
        if not path.exists():
            fill(path, options.sessions, options.laps)
        read_it(path)
        whole_season(path, folder)


if __name__ == "__main__":
    main()
