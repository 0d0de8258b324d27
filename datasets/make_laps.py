"""Invents the lap table of the demo's day: two setups, ridden in turn, on an invented track.

Nothing here was ever ridden. Rewrite the file with ``python datasets/make_laps.py``; ``--out``
writes somewhere else.
"""

from __future__ import annotations

import argparse
import sys
from collections.abc import Sequence
from pathlib import Path

import numpy as np

from setupadvisor.entries.files import write_atomic

LAP_S, BETTER_S, SLOWING_S_PER_LAP, SPREAD_S, RUN_SPREAD_S = 101.0, 0.8, 0.05, 0.45, 0.2
RUNS = (("A", "11:00"), ("B", "11:40"), ("A", "12:20"), ("B", "13:00"))
LAPS_A_RUN = 8
RANDOM_STATE = 12


def invented_laps() -> str:
    """Invent the table.

    Returns
    -------
    str
        CSV text: the same at every call.
    """
    random = np.random.default_rng(RANDOM_STATE)
    lines = ["run,rider,setup,lap,lap_s,clock,flag"]
    ridden = 0
    for number, (setup, start) in enumerate(RUNS, start=1):
        own = random.normal(0.0, RUN_SPREAD_S)
        hours, minutes = (int(part) for part in start.split(":"))
        clock_s = 3600.0 * hours + 60.0 * minutes
        for lap in range(1, LAPS_A_RUN + 1):
            time_s = LAP_S + own + SLOWING_S_PER_LAP * ridden + random.normal(0.0, SPREAD_S)
            time_s -= BETTER_S if setup == "B" else 0.0
            flag = {1: "out", LAPS_A_RUN: "in"}.get(lap, "")
            time_s += 9.0 if flag else 0.0
            if (number, lap) == (2, 5):
                time_s += 31.0  # a fall
            clock_s += time_s
            whole, rest = divmod(int(clock_s), 3600)
            written = f"{whole:02d}:{rest // 60:02d}:{rest % 60:02d}"
            minute, second = divmod(round(time_s, 3), 60.0)
            lines.append(
                f"{number},north,{setup},{lap},{int(minute)}:{second:06.3f},{written},{flag}"
            )
            ridden += 1
    return "\n".join(lines) + "\n"


def main(arguments: Sequence[str] | None = None) -> int:
    """Run the script."""
    parser = argparse.ArgumentParser(description="Invent the demo's laps and write them as CSV.")
    parser.add_argument("--out", type=Path, default=Path(__file__).with_name("laps.csv"))
    asked = parser.parse_args(arguments)
    write_atomic(asked.out, invented_laps().encode())
    return 0


if __name__ == "__main__":
    sys.exit(main())
