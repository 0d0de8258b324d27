"""Facts of one walk and of 100,000, against reading that table with pandas; no arguments.

The bar: 100,000 rows at no more than 20 times the cost of `pandas.read_csv`, one walk under 2 ms.
Read and calculated in turns, so that a busy machine slows both.
"""

from __future__ import annotations

import tempfile
import time
from collections.abc import Callable
from pathlib import Path
from statistics import median

import numpy as np
import pandas as pd

from setupadvisor.entries.files import bundled, load_entry
from setupadvisor.entries.machine import Machine
from setupadvisor.entries.quantity import Quantity, Word
from setupadvisor.facts.columns import Columns, columns_from_machine, condition_fields
from setupadvisor.facts.table import NAMES, facts_from

ROWS = 100_000
JUMPS = 6
MISSING = 0.1
ROUNDS = 3


def seconds(function: Callable[[], object]) -> float:
    begin = time.perf_counter()
    function()
    return time.perf_counter() - begin


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


def main() -> None:
    machine = load_entry(bundled("datasets", "machines", "works-450.yaml"), Machine)
    constants = columns_from_machine(machine)
    conditions = invented_conditions(ROWS)
    one = {path: values[:1] for path, values in invented_conditions(1).items()}
    facts_from(one, constants)  # what a machine needs only once
    reading, calculating, single = [], [], []
    with tempfile.TemporaryDirectory() as folder:
        file = Path(folder) / "season.csv"
        table = as_table(conditions)
        table.to_csv(file, index=False)
        for _ in range(ROUNDS):
            reading.append(seconds(lambda: pd.read_csv(file)))
            calculating.append(seconds(lambda: facts_from(conditions, constants, ROWS)))
            single += [seconds(lambda: facts_from(one, constants)) for _ in range(200)]
    ratio = median(calculating) / median(reading)
    print(f"{ROWS:,} rows, {table.shape[1]} columns, {len(NAMES)} facts; medians of {ROUNDS}")
    print(f"pandas.read_csv  {median(reading):8.2f} s")
    print(f"facts_from       {median(calculating):8.2f} s   {ratio:.1f} times (bar: 20)")
    print(f"one walk         {1e3 * median(single):8.2f} ms  (bar: 2)")


if __name__ == "__main__":
    main()
