"""How training on an archive and bulk advice grow with the sessions, in time and memory.

    python benchmarks/archive_growth.py [--sizes 50000 500000 5000000] [--jobs 2] [--walks 1000]
                                        [--folder F] [--keep] [--json FILE]

Each size is an invented archive of `datasets/make_archive.py` in parts of 50,000 sessions, in a
temporary folder unless one is named; archives and models that are there already are taken as they
are with --keep. Timed, each in a process of its own and what it starts:

- look: parts are read and judged, as `retrain` does before it begins;
- prepare: parts are read again, facts, rules and house values worked out, and written down;
- train: everything after that, to the model's folder;
- bulk: advice with ranges on walks nobody has ridden, from the model's folder to a CSV.

Other work on the machine slows all of it: run it alone. Processor seconds, those of all processes
of look, prepare and train together, hardly follow that.

Memory is the peak of the sum over all processes of a stage, read from /proc five times a second:
resident memory (pages that processes share counted once each: too much) and proportional memory
(shared pages counted once in all). As many sessions as the smallest size, in five parts, are
trained on in parts and in memory, and the run ends if any value or end of a range of 300 walks
differs by more than a hundred-thousandth of a step (past sessions are summed up in single
precision). Growth is the exponent between neighbouring sizes. The last lines work out on paper what
a billion sessions would take, in proportion where growth is less than that; nobody has run it.
"""

from __future__ import annotations

import argparse
import json
import math
import os
import shutil
import subprocess
import sys
import tempfile
import threading
import time
from collections.abc import Sequence
from itertools import pairwise
from pathlib import Path
from typing import Any

import numpy as np
import pandas as pd
from setupadvisor.bundled_datasets.make_archive import Plan, part_of, write

from setupadvisor.advice.archive_learning import Judged, judged, learn_from_archive
from setupadvisor.advice.bulk_tables import Asked, advise_tables, look_over
from setupadvisor.advice.season_learning import sessions_from
from setupadvisor.advice.workshop import house_machine, knowledge, open_workshop
from setupadvisor.entries.archive import open_archive
from setupadvisor.entries.season import NEEDED
from setupadvisor.entries.season_joining import joined_seasons
from setupadvisor.entries.table_writing import new_table
from setupadvisor.learning.in_parts import load_in_parts, predict_in_parts
from setupadvisor.learning.prediction import predict
from setupadvisor.learning.training import train

SIZES = (50_000, 500_000, 5_000_000)
BILLION = 1_000_000_000
SECONDS_BETWEEN_LOOKS = 0.2
STEPS_ALIKE = 1e-5
MOST_COMPARED = 100_000
# What training keeps of each event, as `learning.in_parts` says.
BYTES_AN_EVENT = 40
STAGES = ("look", "prepare", "train", "bulk")


def parent_of(status: str) -> int:
    """The fourth field of /proc/N/stat; the second, a name in brackets, may hold anything."""
    return int(status.rpartition(")")[2].split()[1])


def family_of(process: int) -> list[int]:
    """A process and all that descend from it."""
    children: dict[int, list[int]] = {}
    for path in Path("/proc").glob("[0-9]*/stat"):
        try:
            children.setdefault(parent_of(path.read_text()), []).append(int(path.parent.name))
        except OSError:
            continue  # it has ended meanwhile
    found, todo = [], [process]
    while todo:
        found.append(todo.pop())
        todo += children.get(found[-1], [])
    return found


def processor_s(process: int) -> float:
    """Seconds on a processor so far, of all threads."""
    try:
        fields = Path(f"/proc/{process}/stat").read_text().rpartition(")")[2].split()
    except OSError:
        return 0.0
    return (int(fields[11]) + int(fields[12])) / os.sysconf("SC_CLK_TCK")


def memory_of(processes: Sequence[int]) -> tuple[float, float]:
    """Resident and proportional memory of processes together, in MB."""
    resident = proportional = 0
    for process in processes:
        try:
            lines = Path(f"/proc/{process}/smaps_rollup").read_text().splitlines()
        except OSError:
            continue
        sizes = {line.split()[0]: int(line.split()[1]) for line in lines[1:]}
        resident += sizes["Rss:"]
        proportional += sizes["Pss:"]
    return resident / 1024.0, proportional / 1024.0


class Watch(threading.Thread):
    """Keeps memory and processor time of a process and its descendants, until it is stopped."""

    def __init__(self, process: int) -> None:
        super().__init__(daemon=True)
        self.process = process
        self.resident = self.proportional = 0.0
        self.processes = 0
        self.processor_s: dict[int, float] = {}
        self.ended = threading.Event()

    def run(self) -> None:
        while not self.ended.wait(SECONDS_BETWEEN_LOOKS):
            family = family_of(self.process)
            resident, proportional = memory_of(family)
            self.resident = max(self.resident, resident)
            self.proportional = max(self.proportional, proportional)
            self.processes = max(self.processes, len(family))
            for process in family:
                self.processor_s[process] = max(
                    self.processor_s.get(process, 0.0), processor_s(process)
                )


def in_a_process(stage: str, folder: Path, options: argparse.Namespace) -> dict[str, Any]:
    """Run one stage in a process of its own, and watch its memory."""
    words = ["--stage", stage, "--folder", str(folder), "--jobs", str(options.jobs)]
    started = time.perf_counter()
    with subprocess.Popen(
        [sys.executable, __file__, *words], stdout=subprocess.PIPE, text=True
    ) as process:
        watch = Watch(process.pid)
        watch.start()
        out, _ = process.communicate()
        watch.ended.set()
        watch.join()
    if process.returncode:
        raise SystemExit(f"{stage} of {folder} ended with {process.returncode}")
    told: dict[str, Any] = json.loads(out.splitlines()[-1])
    return {
        **told,
        "whole_s": time.perf_counter() - started,
        "resident_mb": watch.resident,
        "proportional_mb": watch.proportional,
        "processes": watch.processes,
        "processor_s": sum(watch.processor_s.values()),
    }


def judged_archive(folder: Path, jobs: int) -> Judged:
    archive = open_archive(folder / "archive", NEEDED)
    return judged(archive, house_machine(), jobs=jobs)


def stage_train(folder: Path, jobs: int) -> dict[str, Any]:
    """Look, prepare and train; how long each step that is told of took."""
    start = time.perf_counter()
    found = judged_archive(folder, jobs)
    looked = time.perf_counter()
    told: list[tuple[str, float]] = [("reading parts", looked)]

    def note(what: str, done: int, total: int) -> None:
        told.append((what, time.perf_counter()))

    workshop = open_workshop(house_machine())
    learn_from_archive(found, "archive", workshop, folder / "model", progress=note, jobs=jobs)
    ended = time.perf_counter()
    steps: dict[str, float] = {}
    for (what, since), (_, until) in pairwise([*told, ("", ended)]):
        steps[what] = steps.get(what, 0.0) + until - since
    prepared = max(at for what, at in told if what == "reading parts") - looked
    return {
        "sessions": found.sessions,
        "events": found.events,
        "parts": len(found.parts),
        "look_s": looked - start,
        "prepare_s": prepared,
        "train_s": ended - looked - prepared,
        "steps": steps,
    }


def stage_bulk(folder: Path, jobs: int) -> dict[str, Any]:
    """Advise on the walks from the model's folder."""
    archive = open_archive(folder / "archive", NEEDED)
    asked = Asked(
        tables=(folder / "walks.parquet",),
        where=folder,
        model=folder / "model",
        machine=house_machine(),
        riders=archive.riders,
    )
    start = time.perf_counter()
    seen = look_over(asked)
    with new_table(folder / "advised.csv") as write_rows:
        advise_tables(asked, write_rows, seen.walks, jobs=jobs)
    return {"bulk_s": time.perf_counter() - start, "walks": seen.walks}


def stage_compare(folder: Path, jobs: int) -> dict[str, Any]:
    """Train on the same sessions in five parts and in memory, and compare values and ranges."""
    whole = len(open_archive(folder / "archive", NEEDED))
    folder = folder / "compared"
    if not (folder / "archive").exists():
        write(Plan(whole, rows=-(-whole // 5)), folder / "archive", jobs)
    found = judged_archive(folder, jobs)
    workshop = open_workshop(house_machine())
    learn_from_archive(found, "archive", workshop, folder / "model", jobs=jobs)
    machines = {workshop.machine.name: workshop.machine}
    season = joined_seasons([part.read()[0] for part in found.parts], "archive")
    start = time.perf_counter()
    here = train(sessions_from(season, workshop, machines), knowledge(workshop))
    seconds = time.perf_counter() - start
    there, _ = load_in_parts(folder / "model")
    walks = part_of(walks_plan(300), 0).iloc[::4].head(300)
    path = folder / "walks.parquet"
    walks.to_parquet(path)
    asked_season = joined_seasons([_read(path, folder)], "walks")
    sessions = sessions_from(asked_season, workshop, machines)
    asked = {
        "rider": [sessions.rider_name[code] for code in sessions.rider],
        "fields": sessions.fields,
        "venue": [sessions.venue_name[code] for code in sessions.venue],
        "day": sessions.day,
    }
    one = predict(here, sessions.degrees, sessions.house, **asked)
    other = predict_in_parts(there, sessions.degrees, sessions.house, **asked)
    apart = {
        name: float(np.nanmax(np.abs(getattr(one, name) - getattr(other, name)) / here.step))
        for name in ("value", "low", "high")
    }
    return {"in_memory_s": seconds, "steps_apart": apart}


def _read(path: Path, folder: Path) -> Any:
    from setupadvisor.entries.season import read_season  # noqa: PLC0415

    riders = open_archive(folder / "archive", NEEDED).riders
    season, mistakes = read_season(path, {house_machine().name: house_machine()}, riders)
    assert not mistakes
    return season


def walks_plan(walks: int) -> Plan:
    """Other days in the same country: four sessions a rider, of which one is asked about."""
    return Plan(sessions=4 * walks, rows=8 * walks, random_state=1)


def made(folder: Path, sessions: int, options: argparse.Namespace) -> float:
    """Make the archive and the walks of one size; seconds, 0 where they were there."""
    folder.mkdir(parents=True, exist_ok=True)
    walks = part_of(walks_plan(options.walks), 0).iloc[::4].head(options.walks)
    walks.drop(columns=[name for name in walks.columns if name.startswith("setup.")]).to_parquet(
        folder / "walks.parquet"
    )
    if (folder / "archive").exists():
        return 0.0
    start = time.perf_counter()
    write(Plan(sessions), folder / "archive", options.jobs)
    return time.perf_counter() - start


def bytes_of(folder: Path) -> int:
    return sum(path.stat().st_size for path in folder.rglob("*") if path.is_file())


def measured(folder: Path, sessions: int, options: argparse.Namespace) -> dict[str, Any]:
    """Everything of one size."""
    making = made(folder, sessions, options)
    training = in_a_process("train", folder, options)
    bulk = in_a_process("bulk", folder, options)
    advised = pd.read_csv(folder / "advised.csv")
    assert len(advised) == options.walks
    return {
        **{name: training[name] for name in ("sessions", "events", "parts", "steps")},
        "making_s": making,
        **{f"{stage}_s": training[f"{stage}_s"] for stage in ("look", "prepare", "train")},
        "bulk_s": bulk["bulk_s"],
        "train_mb": training["proportional_mb"],
        "train_resident_mb": training["resident_mb"],
        "bulk_mb": bulk["proportional_mb"],
        "bulk_resident_mb": bulk["resident_mb"],
        "processes": training["processes"],
        "train_processor_s": training["processor_s"],
        "bulk_processor_s": bulk["processor_s"],
        "archive_mb": bytes_of(folder / "archive") / 1e6,
        "model_mb": bytes_of(folder / "model") / 1e6,
    }


def growth(rows: Sequence[dict[str, Any]], name: str) -> list[float]:
    """Exponents between neighbouring sizes."""
    return [
        math.log(large[name] / small[name]) / math.log(large["sessions"] / small["sessions"])
        for small, large in pairwise(rows)
    ]


def on_paper(rows: Sequence[dict[str, Any]], sessions: int) -> dict[str, float]:
    """What so many sessions would take: time in proportion at least, memory by the events kept."""
    last = rows[-1]
    times = sessions / last["sessions"]
    names = [*(f"{stage}_s" for stage in STAGES), "train_processor_s", "archive_mb", "model_mb"]
    paper = {name: last[name] * times ** max(1.0, growth(rows[-2:], name)[0]) for name in names}
    events = last["events"] * (times - 1.0)
    return {
        **paper,
        "train_mb": last["train_mb"] + events * BYTES_AN_EVENT / 1e6,
        "bulk_mb": last["bulk_mb"],
    }


def show(rows: Sequence[dict[str, Any]]) -> None:
    head = ("sessions", "parts", *(f"{stage} s" for stage in STAGES))
    head += ("processor", "train MB", "(resident)", "bulk MB", "(resident)")
    head += ("archive MB", "model MB")
    print("".join(f"{name:>11}" for name in head))
    names = ("sessions", "parts", *(f"{stage}_s" for stage in STAGES), "train_processor_s")
    names += (
        "train_mb",
        "train_resident_mb",
        "bulk_mb",
        "bulk_resident_mb",
        "archive_mb",
        "model_mb",
    )
    for row in rows:
        print("".join(f"{row[name]:>11,.{1 if name.endswith('_s') else 0}f}" for name in names))
    for place in range(len(rows) - 1):
        exponents = [growth(rows, name)[place] for name in names[2:]]
        print(f"{'growth':>22}" + "".join(f"{exponent:>11.2f}" for exponent in exponents))
    if len(rows) > 1:
        paper = on_paper(rows, BILLION)
        hours = sum(paper[f"{stage}_s"] for stage in ("look", "prepare", "train")) / 3600.0
        print(
            f"On paper, a billion sessions on this machine: {hours:,.0f} hours to look, prepare "
            f"and train\nin {paper['train_mb'] / 1000.0:,.1f} GB of memory, "
            f"{paper['bulk_s'] / 3600.0:,.1f} hours for the walks in "
            f"{paper['bulk_mb'] / 1000.0:,.1f} GB; {paper['archive_mb'] / 1e6:,.2f} TB of archive\n"
            f"and {paper['model_mb'] / 1e6:,.2f} TB of model. Not run."
        )


def main() -> int:
    parser = argparse.ArgumentParser(description="How work on archives grows with the sessions.")
    parser.add_argument("--sizes", type=int, nargs="+", default=list(SIZES))
    parser.add_argument("--jobs", type=int, default=2)
    parser.add_argument("--walks", type=int, default=1_000)
    parser.add_argument("--folder", type=Path, help="where to work (a temporary folder)")
    parser.add_argument("--keep", action="store_true", help="leave archives and models there")
    parser.add_argument("--json", type=Path, metavar="FILE")
    parser.add_argument("--stage", choices=["train", "bulk", "compare"], help=argparse.SUPPRESS)
    options = parser.parse_args()
    if options.stage:
        stages = {"train": stage_train, "bulk": stage_bulk, "compare": stage_compare}
        print(json.dumps(stages[options.stage](options.folder, options.jobs)))
        return 0
    rows: list[dict[str, Any]] = []
    work = options.folder or Path(tempfile.mkdtemp(prefix="archive-growth-"))
    try:
        compared: dict[str, Any] = {}
        for sessions in sorted(options.sizes):
            folder = work / f"{sessions}"
            rows.append(measured(folder, sessions, options))
            print(f"{sessions:,} sessions done", file=sys.stderr)
            if not compared and sessions <= MOST_COMPARED:
                compared = in_a_process("compare", folder, options)
                worst = max(compared["steps_apart"].values())
                if worst > STEPS_ALIKE:
                    raise SystemExit(f"answers in parts are {worst:g} steps off those in memory")
                print(
                    f"{sessions:,} sessions in memory: trained in {compared['in_memory_s']:.1f} s, "
                    f"{compared['resident_mb']:,.0f} MB; values and ranges of 300 walks at most "
                    f"{worst:.1g} steps apart"
                )
            if not options.keep:
                shutil.rmtree(folder)
        show(rows)
        if options.json:
            told = {"jobs": options.jobs, "rows": rows, "compared": compared}
            if len(rows) > 1:
                told["on_paper"] = {"sessions": BILLION, **on_paper(rows, BILLION)}
            options.json.write_text(json.dumps(told, indent=1), encoding="utf-8")
    finally:
        if not options.folder:
            shutil.rmtree(work, ignore_errors=True)
    return 0


if __name__ == "__main__":
    sys.exit(main())
