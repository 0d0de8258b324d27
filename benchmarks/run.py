"""All measurements of speed and memory in one run and one table.

    python benchmarks/run.py [--quick] [--only WORDS] [--json FILE] [--write-page] [--archive FILE]

Needs `pip install setupadvisor[bench]`; rows whose peer is missing say so. Each part runs in a
process of its own. `--only` keeps the groups and parts whose name holds one of the words.
`--write-page` puts the table into `benchmarks/README.md`; `--archive` takes over the figures of a
large run of `archive_growth.py --json FILE` instead of a small one.

Times are of the wall clock: a quiet machine is needed, as peers and some of ours use all cores.
"""

from __future__ import annotations

import argparse
import importlib
import json
import os
import subprocess
import sys
import time
from dataclasses import asdict
from pathlib import Path

from measuring import Row, Scale, Target
from page import as_text, machine, write_page
from totals import growth_rows

GROUPS = {
    "memory": "memory_limit",
    "commands": "command_speed",
    "rules": "rulebook_speed",
    "engines": "engines_speed",
    "facts": "facts_speed",
    "past": "past_sessions_speed",
    "retraining": "retrain_speed",
    "season": "season_speed",
    "logbook": "logbook_speed",
    "archive": "archive_rows",
    "errors": "errors_of_advice",
}
FAILED = "failed: see what it printed"
# Threads of one library that wait by spinning slow the next one down, on few cores many times over.
QUIET = os.environ | {"OMP_WAIT_POLICY": "passive"}


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--quick", action="store_true", help="small sizes, about two minutes")
    parser.add_argument("--only", nargs="+", metavar="WORD", help="groups or parts so named")
    parser.add_argument("--archive", type=Path, metavar="FILE", help="figures of archive_growth.py")
    parser.add_argument("--json", type=Path, metavar="FILE", help="write all figures")
    parser.add_argument("--write-page", action="store_true", help="into benchmarks/README.md")
    parser.add_argument("--here", nargs=2, help=argparse.SUPPRESS)
    options = parser.parse_args()
    if options.here:
        group, part = options.here
        module = importlib.import_module(GROUPS[group])
        print(json.dumps([asdict(row) for row in module.rows(**json.loads(part))]))
        return
    scale: Scale = "quick" if options.quick else "full"
    begin = time.perf_counter()
    tables: dict[str, list[Row]] = {}
    for group, name in GROUPS.items():
        module = importlib.import_module(name)
        for part in module.parts(scale):
            if group == "archive" and options.archive:
                part |= {"figures": str(options.archive.resolve())}
            wanted = f"{group} {module.TITLE} {json.dumps(part)}".lower()
            if not options.only or any(word.lower() in wanted for word in options.only):
                tables.setdefault(module.TITLE, []).extend(in_own_process(group, part))
    tables |= growth_rows(tables)
    taken = time.perf_counter() - begin
    facts = machine() | {
        "command": " ".join(["python benchmarks/run.py", *sys.argv[1:]]),
        "minutes": f"{taken / 60:.0f}",
    }
    print(as_text(tables))
    print("\n".join(f"{key}: {value}" for key, value in facts.items()))
    if options.json:
        written = {name: [asdict(row) for row in rows] for name, rows in tables.items()}
        options.json.write_text(json.dumps({"machine": facts, "rows": written}, indent=1) + "\n")
    if options.write_page:
        write_page(tables, facts)
    if any(row.note == FAILED for rows in tables.values() for row in rows):
        sys.exit("some parts failed")


def in_own_process(group: str, part: dict[str, object]) -> list[Row]:
    """Run one part in a new process, so that its memory is its own."""
    command = [sys.executable, __file__, "--here", group, json.dumps(part)]
    begin = time.perf_counter()
    done = subprocess.run(command, check=False, stdout=subprocess.PIPE, text=True, env=QUIET)
    taken = time.perf_counter() - begin
    print(f"{group} {json.dumps(part)}: {taken:.0f} s", file=sys.stderr, flush=True)
    if done.returncode:
        return [Row(f"{group} {json.dumps(part)}", [], note=FAILED)]
    rows = json.loads(done.stdout.splitlines()[-1])
    return [Row(**row | {"targets": [Target(**one) for one in row["targets"]]}) for row in rows]


if __name__ == "__main__":
    main()
