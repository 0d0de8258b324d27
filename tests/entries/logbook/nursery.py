"""Starts writers of a book and kills them at a given moment; run as a process of its own.

Each line of its input is a path, a number to begin with, and after how many lines that the writer
tells and how many seconds it is killed; each line of its answer is what the writer had begun and
what had been confirmed to it by then.
A writer is forked from here because to start Python anew takes longer than it may live.
"""

from __future__ import annotations

import json
import os
import signal
import sys
import time
from pathlib import Path

from setupadvisor.entries.logbook.book import open_book
from setupadvisor.entries.logbook.records import RiderRemark
from tests.entries.logbook.samples import LAPS, outing


def write_on_and_on(path: Path, number: int, told: int) -> None:
    """Write whole sessions, telling before and after each; it never comes back."""
    with open_book(path) as book:
        while True:
            name = f"M{number}"
            os.write(told, f"begun {name}\n".encode())
            with book.writing("crew") as page:
                page.add_outing(outing(name))
                page.add_laps(name, LAPS)
                page.add_remark(name, RiderRemark("kicks"))
                page.add_mark(name, 3)
            os.write(told, f"confirmed {name}\n".encode())
            number += 1


def one_life(path: Path, number: int, lines: int, seconds: float) -> dict[str, list[str]]:
    """Let a writer live that long, and kill it as a power cut would."""
    hear, tell = os.pipe()
    child = os.fork()
    if child == 0:
        os.close(hear)
        try:
            write_on_and_on(path, number, tell)
        finally:
            os._exit(70)
    os.close(tell)
    heard = b""
    while heard.count(b"\n") < lines and (more := os.read(hear, 1000)):
        heard += more
    time.sleep(seconds)
    os.kill(child, signal.SIGKILL)
    _, status = os.waitpid(child, 0)
    with os.fdopen(hear, "rb") as stream:
        heard += stream.read()
    words = [line.split() for line in heard.decode("ascii").splitlines()]
    if not os.WIFSIGNALED(status):
        raise SystemExit(f"the writer ended by itself: {os.waitstatus_to_exitcode(status)}")
    return {kind: [name for told, name in words if told == kind] for kind in ("begun", "confirmed")}


def main() -> None:
    for line in sys.stdin:
        path, *life = json.loads(line)
        print(json.dumps(one_life(Path(path), *life)), flush=True)


if __name__ == "__main__":
    main()
