"""Rows of whole processes, beside the import of a general-purpose library in a process of its own.

Each row is the wall time of a whole process with warm files; its peak memory is told by the process
itself as it ends, in a run that is not timed.
"""

from __future__ import annotations

import os
import subprocess
import sys
import tempfile
from dataclasses import replace
from pathlib import Path

from measuring import Row, Scale, Work, at_most, in_turns

from setupadvisor.entries.files import bundled

TITLE = "Commands"
PEER = "import sklearn.neighbors"
TARGETS = {"--help": 0.15, "advise, model": 0.5, "next": 0.8, "laps": 0.8}
COMMAND = ["-m", "setupadvisor"]
# A child's own peak; what `wait4` tells begins with its parent's.
TELLING_PEAK = """
import atexit, runpy, sys
def tell():
    status = open("/proc/self/status").read()
    sys.stderr.write("\\npeak kB " + status.split("VmHWM:")[1].split()[0])
atexit.register(tell)
if sys.argv[1] == "-c":
    exec(sys.argv[2])
else:
    sys.argv = sys.argv[2:]
    runpy.run_module(sys.argv[0], run_name="__main__", alter_sys=True)
"""


def parts(scale: Scale) -> list[dict[str, object]]:
    return [{"rounds": {"tiny": 1, "quick": 3, "full": 11}[scale]}]


def rows(rounds: int) -> list[Row]:
    """Time all processes in turns."""
    with tempfile.TemporaryDirectory() as folder:
        commands = arguments(Path(folder))
        works = {name: whole_process(words) for name, words in commands.items()}
        timed = in_turns(works, rounds=rounds)
        peaks = {name: peak_of_process(words) for name, words in commands.items()}
    found = []
    for name in commands:
        row = Row(name=name, values=timed.seconds[name], peak_mb=peaks[name])
        if name != PEER:
            row = replace(row, peer=PEER, peer_value=timed.median(PEER))
            if name in TARGETS:
                row = replace(row, targets=[at_most(TARGETS[name], row, "the import")])
        found.append(row)
    return found


def arguments(folder: Path) -> dict[str, list[str]]:
    """Name the processes to time; the first is the peer."""
    walk, rider = bundled("datasets", "walks", "deep-sand.yaml"), bundled("datasets", "riders")
    on_bike = bundled("datasets", "setups", "on-bike-450.yaml")
    model = folder / "team.model"
    season = bundled("datasets", "season.csv")
    whole_process([*COMMAND, "retrain", str(season), "-o", str(model), "--no-forest"])()
    who = ["--rider", str(rider / "north.yaml"), "--on-bike", str(on_bike), "--minutes", "45"]
    said = ["--said", "rear swaps in the whoops"]
    return {
        PEER: ["-c", PEER],
        "--help": [*COMMAND, "--help"],
        "advise": [*COMMAND, "advise", str(walk), *who],
        "advise, model": [*COMMAND, "advise", str(walk), *who, "--model", str(model)],
        "facts": [*COMMAND, "facts", str(walk)],
        "next": [*COMMAND, "next", str(walk), *who, *said],
        "laps": [*COMMAND, "laps", str(bundled("datasets", "laps.csv"))],
    }


def whole_process(words: list[str]) -> Work:
    """What runs one process to its end; one that fails ends the run."""

    def work() -> None:
        done = subprocess.run([sys.executable, *words], check=False, capture_output=True, text=True)
        if done.returncode:
            raise SystemExit(f"{' '.join(words)} ended with {done.returncode}: {done.stderr}")

    return work


def peak_of_process(words: list[str]) -> float | None:
    """Return the peak of one process, told by itself; None where the system does not tell."""
    if not os.path.exists("/proc/self/status"):  # noqa: PTH110 - a name of the system
        return None
    command = [sys.executable, "-c", TELLING_PEAK, *words]
    done = subprocess.run(command, check=True, capture_output=True, text=True)
    return int(done.stderr.rsplit("peak kB ", 1)[1]) / 1024.0
