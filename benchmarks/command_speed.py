"""Whole processes beside the import of a general-purpose library, alternating, in one run.

    python benchmarks/command_speed.py [--rounds N] [--json FILE]

Each row is the wall time of a whole process (median, spread), its ratio to
``python -c "import sklearn.neighbors"`` in the same run, and its peak memory.
"""

from __future__ import annotations

import argparse
import json
import os
import statistics
import subprocess
import sys
import tempfile
import time
from pathlib import Path

from setupadvisor.entries.files import bundled

PEER = "import sklearn.neighbors"
TARGETS = {"--help": 0.15, "advise, model": 0.5, "next": 0.8, "laps": 0.8}
COMMAND = [sys.executable, "-m", "setupadvisor"]


def commands(folder: Path) -> dict[str, list[str]]:
    """Name the processes to time; the first is the peer."""
    walk, rider = bundled("datasets", "walks", "deep-sand.yaml"), bundled("datasets", "riders")
    on_bike = bundled("datasets", "setups", "on-bike-450.yaml")
    model = folder / "team.model"
    season = bundled("datasets", "season.csv")
    subprocess.run(
        [*COMMAND, "retrain", str(season), "-o", str(model), "--no-forest"],
        check=True,
        capture_output=True,
    )
    who = ["--rider", str(rider / "north.yaml"), "--on-bike", str(on_bike), "--minutes", "45"]
    said = ["--said", "rear swaps in the whoops"]
    return {
        PEER: [sys.executable, "-c", PEER],
        "--help": [*COMMAND, "--help"],
        "advise": [*COMMAND, "advise", str(walk), *who],
        "advise, model": [*COMMAND, "advise", str(walk), *who, "--model", str(model)],
        "facts": [*COMMAND, "facts", str(walk)],
        "next": [*COMMAND, "next", str(walk), *who, *said],
        "laps": [*COMMAND, "laps", str(bundled("datasets", "laps.csv"))],
    }


def once(command: list[str]) -> tuple[float, float]:
    """Run one process: wall seconds and peak memory in MB."""
    start = time.perf_counter()
    process = subprocess.Popen(command, stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL)
    _, status, usage = os.wait4(process.pid, 0)
    process.returncode = os.waitstatus_to_exitcode(status)
    if process.returncode:
        raise SystemExit(f"{' '.join(command)} ended with {process.returncode}")
    return time.perf_counter() - start, usage.ru_maxrss / 1024.0


def main() -> None:
    """Time all processes in alternating rounds and print the table."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--rounds", type=int, default=9)
    parser.add_argument("--json", type=Path)
    options = parser.parse_args()
    with tempfile.TemporaryDirectory() as folder:
        timed = commands(Path(folder))
        seconds: dict[str, list[float]] = {name: [] for name in timed}
        memory = dict.fromkeys(timed, 0.0)
        for command in timed.values():
            once(command)  # warm files and caches
        for _ in range(options.rounds):
            for name, command in timed.items():
                wall, peak = once(command)
                seconds[name].append(wall)
                memory[name] = max(memory[name], peak)
    peer = statistics.median(seconds[PEER])
    rows = []
    print(f"{'process':<28}{'median s':>10}{'spread':>9}{'ratio':>8}{'target':>8}{'peak MB':>9}")
    for name, walls in seconds.items():
        median = statistics.median(walls)
        spread = (max(walls) - min(walls)) / median
        target = TARGETS.get(name)
        rows.append(
            {
                "process": name,
                "median_s": median,
                "spread": spread,
                "ratio": median / peer,
                "target": target,
                "peak_mb": memory[name],
            }
        )
        print(
            f"{name:<28}{median:>10.3f}{spread:>8.0%} {median / peer:>8.3f}"
            f"{target if target else '':>8}{memory[name]:>9.0f}"
        )
    if options.json:
        options.json.write_text(json.dumps(rows, indent=1))


if __name__ == "__main__":
    main()
