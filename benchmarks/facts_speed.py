"""Rows of the facts: of one walk, and of 100,000 beside reading that table with pandas."""

from __future__ import annotations

import tempfile
from pathlib import Path

import numpy as np
import pandas as pd
from measuring import Row, Scale, Target, at_most, in_turns, peak_of

from setupadvisor.entries.files import bundled, load_entry
from setupadvisor.entries.machine import Machine
from setupadvisor.entries.quantity import Quantity, Word
from setupadvisor.facts.columns import Columns, columns_from_machine, condition_fields
from setupadvisor.facts.table import NAMES, facts_from

TITLE = "Facts"
JUMPS = 6
MISSING = 0.1
READING = "pandas.read_csv"


def parts(scale: Scale) -> list[dict[str, object]]:
    sizes = {"tiny": [200], "quick": [1_000, 10_000], "full": [1_000, 10_000, 100_000]}[scale]
    return [{"walks": 1, "rounds": 200}, *({"walks": n, "rounds": 5} for n in sizes)]


def rows(walks: int, rounds: int) -> list[Row]:
    """Time the facts of some walks."""
    machine = load_entry(bundled("datasets", "machines", "works-450.yaml"), Machine)
    constants = columns_from_machine(machine)
    conditions = {path: values[:walks] for path, values in invented_conditions(walks).items()}

    def calculate() -> object:
        return facts_from(conditions, constants, walks)

    peak = peak_of(calculate)
    name = f"{len(NAMES)} facts of {walks:,} walk{'s' * (walks > 1)}"
    if walks == 1:
        values = in_turns({"ours": calculate}, rounds=rounds).seconds["ours"]
        row = Row(name=name, values=values, peak_mb=peak)
        return [Row(name=name, values=values, peak_mb=peak, targets=[below_2_ms(row)])]
    with tempfile.TemporaryDirectory() as folder:
        file = Path(folder) / "season.csv"
        table = as_table(conditions)
        table.to_csv(file, index=False)
        timed = in_turns({"ours": calculate, "peer": lambda: pd.read_csv(file)}, rounds=rounds)
    row = Row(
        name=name,
        values=timed.seconds["ours"],
        peer=f"{READING}, {table.shape[1]} columns",
        peer_value=timed.median("peer"),
        peak_mb=peak,
        family="facts",
        size=walks,
    )
    if walks < 100_000:
        return [row]
    return [Row(**vars(row) | {"targets": [at_most(20.0, row, READING)]})]


def below_2_ms(row: Row) -> Target:
    return Target("2 ms", row.median, 2e-3)


def invented_conditions(rows: int) -> Columns:
    """Walks and riders with values met in practice, a tenth of the cells empty."""
    generator = np.random.default_rng(1)
    columns: Columns = {}
    for path, field in condition_fields().items():
        shape = (rows, JUMPS) if field.listed else (rows,)
        if isinstance(field.kind, Word):
            values = generator.integers(0, len(field.kind.choices), shape).astype(np.float64)
        elif isinstance(field.kind, Quantity):
            low, high = min(field.kind.plausible), max(field.kind.plausible)
            values = generator.uniform(low, high, shape).round(0 if field.kind.whole else 2)
        values[generator.random(shape) < MISSING] = np.nan
        columns[path] = values
    shares = generator.dirichlet([2.0, 2.0, 1.0], rows) * 100.0
    for place, name in enumerate(("sand", "silt", "clay")):
        columns[f"walk.ground.{name}_pct"] = shares[:, place]
    return columns


def as_table(columns: Columns) -> pd.DataFrame:
    """Lay the columns out as a season's table: words as text, a column for each jump."""
    table: dict[str, object] = {}
    for path, values in columns.items():
        kind = condition_fields()[path].kind
        for place in range(values.shape[1]) if values.ndim > 1 else [None]:
            head, _, tail = path.rpartition(".")
            name = path if place is None else f"{head}.{place + 1}.{tail}"
            cells = values if place is None else values[:, place]
            if isinstance(kind, Word):
                words = np.array([*kind.choices, ""], dtype=object)
                table[name] = words[np.where(np.isnan(cells), len(kind.choices), cells).astype(int)]
            else:
                table[name] = cells
    return pd.DataFrame(table)
