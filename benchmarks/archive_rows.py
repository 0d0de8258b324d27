"""Rows of training on an archive, part by part, and of advice in bulk from its model.

The figures are those of `archive_growth.py`, which also makes sure that the same sessions trained
on in memory give the same values and ranges; it is run on small sizes here. `run.py --archive FILE`
takes the figures of a larger run, `archive_growth.py --json FILE`, as they are.
"""

from __future__ import annotations

import json
import subprocess
import sys
import tempfile
from pathlib import Path
from typing import Any

from measuring import Row, Scale

TITLE = "Archive"
SCRIPT = Path(__file__).with_name("archive_growth.py")
STAGES = {
    "look": "looked through",
    "prepare": "prepared",
    "train": "trained on",
    "bulk": "walks advised from its model",
}


def parts(scale: Scale) -> list[dict[str, object]]:
    sizes, walks = {
        "tiny": ([500], 20),
        "quick": ([1_000, 4_000], 50),
        "full": ([10_000, 50_000], 1_000),
    }[scale]
    return [{"sizes": sizes, "walks": walks}]


def rows(sizes: list[int], walks: int, figures: str = "") -> list[Row]:
    """Take figures over, or run the script for them."""
    if figures:
        return rows_of(json.loads(Path(figures).read_text(encoding="utf-8")), "taken over")
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "figures.json"
        words = ["--sizes", *map(str, sizes), "--walks", str(walks), "--json", str(path)]
        subprocess.run([sys.executable, str(SCRIPT), *words], check=True, stdout=sys.stderr)
        return rows_of(json.loads(path.read_text(encoding="utf-8")), "")


def rows_of(told: dict[str, Any], note: str) -> list[Row]:
    """Make a row for each stage and size; memory is that of all processes together."""
    found = []
    compared = told.get("compared", {})
    for place, one in enumerate(told["rows"]):
        in_parts = f"{one['parts']} part{'s' * (one['parts'] > 1)}"
        for stage, what in STAGES.items():
            in_memory = compared.get("in_memory_s") if place == 0 and stage == "train" else None
            found.append(
                Row(
                    name=f"{one['sessions']:,} sessions in {in_parts}: {what}",
                    values=[one[f"{stage}_s"]],
                    peer="the same trained in memory" if in_memory else "",
                    peer_value=in_memory,
                    peak_mb=one["bulk_mb" if stage == "bulk" else "train_mb"],
                    family=f"archive, {what}",
                    size=one["sessions"],
                    note=note,
                    checked="the same values and ranges as in memory",
                )
            )
    return found
