"""The table of formulas in DEVELOPERS.md: nothing missing, nothing that is not there."""

from __future__ import annotations

import importlib
import inspect
import pkgutil
import re
from dataclasses import dataclass
from functools import cache
from pathlib import Path

import pytest

import setupadvisor.facts as floor
from setupadvisor.facts.catalogue import FACTS
from setupadvisor.facts.fact import AS_ENTERED, Fact

ROOT = Path(__file__).resolve().parent.parent
PAGE = (ROOT / "DEVELOPERS.md").read_text(encoding="utf-8")
TESTS = ROOT / "tests" / "facts"
COLUMNS = ("fact", "function", "formula", "source", "checked in", "limits")
# Modules of this floor that hold no formula: they carry columns, facts and messages about.
PLUMBING = {
    "catalogue",
    "categories",
    "columns",
    "fact",
    "gaps",
    "needed",
    "origins",
    "remembered",
    "report",
    "table",
    "valid_range",
}


@dataclass(frozen=True)
class Row:
    """One row of the table."""

    facts: tuple[str, ...]
    functions: tuple[str, ...]
    formula: str
    source: str
    tests: tuple[str, ...]
    limits: str


@cache
def rows() -> tuple[Row, ...]:
    text = PAGE[PAGE.index("## The formulas") :]
    found = []
    for line in text.splitlines():
        cells = [cell.strip() for cell in line.strip().strip("|").split(" | ")]
        if not line.startswith("| ") or cells[0] == "fact":
            continue
        assert len(cells) == len(COLUMNS), line
        facts, functions = (tuple(re.findall(r"`([^`]+)`", cell)) for cell in cells[:2])
        tests = tuple(re.findall(r"test_\w+\.py", cells[4]))
        found.append(Row(facts, functions, cells[2], cells[3], tests, cells[5]))
    return tuple(found)


def formulas() -> dict[str, Fact]:
    return {name: fact for name, fact in FACTS.items() if fact.formula != AS_ENTERED}


@cache
def functions() -> tuple[str, ...]:
    """Every public function of the modules that hold formulas."""
    return tuple(
        f"{found.name}.{name}"
        for found in pkgutil.iter_modules(floor.__path__)
        if found.name not in PLUMBING and not found.name.endswith("_facts")
        for name, code in vars(importlib.import_module(f"{floor.__name__}.{found.name}")).items()
        if inspect.isfunction(code)
        and code.__module__ == f"{floor.__name__}.{found.name}"
        and not name.startswith("_")
    )


def test_the_table_is_there() -> None:
    assert len(rows()) > 40
    assert len(formulas()) > 60
    assert len(functions()) > 100


@pytest.mark.parametrize("name", formulas())
def test_every_fact_with_a_formula_stands_in_one_row(name: str) -> None:
    assert sum(name in row.facts for row in rows()) == 1


@pytest.mark.parametrize("name", functions())
def test_every_function_stands_in_one_row(name: str) -> None:
    assert sum(name in row.functions for row in rows()) == 1


def test_no_row_names_what_is_not_there() -> None:
    for row in rows():
        assert row.facts or row.functions
        assert set(row.facts) <= set(formulas())
        for name in row.functions:
            module, _, function = name.partition(".")
            assert hasattr(importlib.import_module(f"{floor.__name__}.{module}"), function), name


@pytest.mark.parametrize("row", rows(), ids=lambda row: (row.facts or row.functions)[0])
def test_a_row_says_formula_source_check_and_limits(row: Row) -> None:
    assert all((row.formula, row.source, row.tests, row.limits))
    assert "–" not in (row.formula, row.source, row.limits)


@pytest.mark.parametrize("row", rows(), ids=lambda row: (row.facts or row.functions)[0])
def test_the_checks_of_a_row_are_there_and_name_what_they_check(row: Row) -> None:
    """By the function's or the fact's own name, in one of the files at least."""
    texts = [(TESTS / name).read_text(encoding="utf-8") for name in row.tests]
    names = [*(name.partition(".")[2] for name in row.functions), *row.facts]
    assert any(re.search(rf"\b{name}\b", text) for name in names for text in texts)
    for name in row.functions:
        module = name.partition(".")[0]
        assert any(module in text for text in texts), f"{name} is in none of {row.tests}"


def words_of(source: str) -> set[str]:
    """Years and numbered standards, and the first word of each part: Cossalter, ISO 2533, 2006."""
    return {
        *re.findall(r"\b(?:19|20)\d\d\b", source),
        *(part.split()[0].strip(",:") for part in source.split("; ")),
    }


@pytest.mark.parametrize("name", formulas())
def test_the_row_names_the_sources_that_the_fact_names(name: str) -> None:
    """So that `facts` and the table never tell different tales."""
    (row,) = (row for row in rows() if name in row.facts)
    missing = {
        word for word in words_of(FACTS[name].source) if word.lower() not in row.source.lower()
    }
    assert not missing, row.source
    assert ("from memory" in FACTS[name].source) <= ("from memory" in row.source)
    assert ("common practice" in FACTS[name].source) <= ("common practice" in row.source)


def test_a_source_from_memory_in_a_docstring_is_one_in_the_table() -> None:
    silent = []
    for name in functions():
        module, _, function = name.partition(".")
        code = getattr(importlib.import_module(f"{floor.__name__}.{module}"), function)
        (row,) = (row for row in rows() if name in row.functions)
        if "from memory" in (inspect.getdoc(code) or "") and "from memory" not in row.source:
            silent.append(name)
    assert silent == []
