"""The table as text, and on the page `benchmarks/README.md` between its markers."""

from __future__ import annotations

import datetime
import math
import os
import platform
from collections.abc import Mapping, Sequence
from importlib.metadata import PackageNotFoundError, version
from pathlib import Path

from measuring import Row, Target

PAGE = Path(__file__).with_name("README.md")
BEGIN, END = "<!-- table: begin -->", "<!-- table: end -->"
HEADS = ("row", "median", "spread", "peer", "of the peer", "of the limit", "peak", "target", "")
LIBRARIES = (
    "setupadvisor",
    "numpy",
    "scipy",
    "scikit-learn",
    "pandas",
    "numba",
    "polars",
    "faiss-cpu",
    "gower",
    "zen-engine",
    "common-expression-language",
    "cel-expr-python",
    "clipspy",
    "rule-engine",
    "simpful",
    "scikit-fuzzy",
    "PyYAML",
)


def cells(row: Row) -> tuple[str, ...]:
    """Write one row's cells."""
    if not len(row.values):
        return (row.name, "", "", "", "", "", "", "", row.note)
    missed = [_missed(one, name=len(row.targets) > 1) for one in row.targets if not one.met]
    verdict = "; ".join(missed) or ("met" if row.targets else "")
    return (
        row.name,
        amount(row.median, row.unit),
        "" if math.isnan(row.spread) else f"{row.spread:.0%}",
        row.peer if row.peer_value is None else f"{row.peer}: {amount(row.peer_value, row.unit)}",
        "" if row.ratio is None else f"{row.ratio:.3g}",
        "" if row.limit_ratio is None else f"{row.limit_ratio:.2f}",
        "" if row.peak_mb is None else f"{row.peak_mb:,.0f} MB",
        "; ".join(one.says for one in row.targets),
        " – ".join(part for part in (verdict, row.note) if part),
    )


def _missed(target: Target, *, name: bool) -> str:
    """Say by how much a target is missed, and which where there are several."""
    if math.isnan(target.value):
        return "not measured"
    which = f" ({target.says})" if name else ""
    return f"missed{which}: {target.value / target.most:.2f} times as much"


def amount(value: float, unit: str) -> str:
    """Write a time in the unit it reads best in; other amounts with theirs."""
    if unit != "s":
        return f"{value:.3g} {unit}".rstrip()
    for factor, name in ((1.0, "s"), (1e3, "ms"), (1e6, "µs")):
        if value * factor >= 1.0:
            return f"{value * factor:.3g} {name}"
    return f"{value * 1e6:.2g} µs"


def as_text(tables: Mapping[str, Sequence[Row]]) -> str:
    """Write all tables in columns."""
    written = {title: [cells(row) for row in rows] for title, rows in tables.items()}
    everything = [HEADS, *(row for rows in written.values() for row in rows)]
    widths = [max(len(row[column]) for row in everything) for column in range(len(HEADS))]

    def line(row: Sequence[str]) -> str:
        parts = (cell.ljust(width) for cell, width in zip(row, widths, strict=True))
        return "  ".join(parts).rstrip()

    lines = [line(HEADS)]
    for title, rows in written.items():
        lines += ["", title, *(line(row) for row in rows)]
    return "\n".join(lines)


def as_page(tables: Mapping[str, Sequence[Row]], facts: Mapping[str, str]) -> str:
    """Write all tables in Markdown, with where and how they were measured."""
    lines = [f"- {key}: {value}" for key, value in facts.items()]
    for title, rows in tables.items():
        lines += ["", f"### {title}", "", _line(HEADS), _line(["---"] * len(HEADS))]
        lines += [_line(cells(row)) for row in rows]
    return "\n".join(lines)


def _line(row: Sequence[str]) -> str:
    return "| " + " | ".join(cell.replace("|", "\\|") for cell in row) + " |"


def write_page(tables: Mapping[str, Sequence[Row]], facts: Mapping[str, str]) -> None:
    """Put the tables between the page's markers."""
    text = PAGE.read_text(encoding="utf-8")
    head, rest = text.split(BEGIN)
    tail = rest.split(END)[1]
    whole = f"{head}{BEGIN}\n{as_page(tables, facts)}\n{END}{tail}"
    PAGE.write_text(whole, encoding="utf-8")


def machine() -> dict[str, str]:
    """Tell where this was measured."""
    found = []
    for name in LIBRARIES:
        try:
            found.append(f"{name} {version(name)}")
        except PackageNotFoundError:
            found.append(f"{name} not installed")
    return {
        "date": datetime.datetime.now(tz=datetime.UTC).date().isoformat(),
        "processor": processor(),
        "cores": str(os.cpu_count()),
        "memory": f"{os.sysconf('SC_PHYS_PAGES') * os.sysconf('SC_PAGE_SIZE') / 1e9:.0f} GB",
        "system": platform.system(),
        "Python": platform.python_version(),
        "libraries": ", ".join(found),
    }


def processor() -> str:
    """Name the processor family."""
    information = Path("/proc/cpuinfo")
    if information.exists():
        for line in information.read_text().splitlines():
            if line.startswith("model name"):
                return line.split(":", 1)[1].strip()
    return platform.processor() or platform.machine()
