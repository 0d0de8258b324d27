"""The measurements run on tiny sizes, with their checks of equal answers; no clock is looked at."""

from __future__ import annotations

import importlib
import sys
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest

BENCHMARKS = Path(__file__).resolve().parent.parent / "benchmarks"
# Those that start whole processes are left to `run.py --quick`.
GROUPS = (
    "memory_limit",
    "rulebook_speed",
    "engines_speed",
    "facts_speed",
    "past_sessions_speed",
    "retrain_speed",
    "season_speed",
)


@pytest.fixture
def benchmarks(monkeypatch: pytest.MonkeyPatch) -> Iterator[None]:
    """The suite's modules can be imported, as they can by its own command."""
    monkeypatch.syspath_prepend(str(BENCHMARKS))
    before = set(sys.modules)
    yield
    for name in set(sys.modules) - before:
        if str(BENCHMARKS) in str(getattr(sys.modules[name], "__file__", "")):
            del sys.modules[name]


@pytest.mark.usefixtures("benchmarks")
@pytest.mark.filterwarnings("ignore")
@pytest.mark.parametrize("group", GROUPS)
def test_a_group_runs_on_tiny_sizes_and_its_answers_are_equal(
    group: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("SETUPADVISOR_CACHE", "off")
    module: Any = importlib.import_module(group)
    page: Any = importlib.import_module("page")
    for part in module.parts("tiny"):
        rows = module.rows(**part)
        assert rows
        for row in rows:
            assert len(page.cells(row)) == len(page.HEADS)
            assert row.values or "not installed" in row.note
            assert row.peer_value is None or row.peer_value > 0


@pytest.mark.usefixtures("benchmarks")
def test_other_answers_end_the_measurement(monkeypatch: pytest.MonkeyPatch) -> None:
    speed: Any = importlib.import_module("past_sessions_speed")
    by_definition = speed.by_definition
    monkeypatch.setattr(speed, "by_definition", lambda *given: by_definition(*given) * 1.01)
    with pytest.raises(SystemExit, match="differ from the definition"):
        speed.rows(sessions=50, way="plain", scale="tiny")


@pytest.mark.usefixtures("benchmarks")
def test_a_peer_that_is_not_installed_has_a_row_that_says_so(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    for name in ("faiss", "gower"):
        monkeypatch.setitem(sys.modules, name, None)
    speed: Any = importlib.import_module("past_sessions_speed")
    rows = speed.rows(sessions=50, way="plain", scale="tiny")
    assert any(row.peer == "faiss flat L1: not installed" for row in rows)


@pytest.mark.usefixtures("benchmarks")
def test_growth_above_n_log_n_is_flagged() -> None:
    totals: Any = importlib.import_module("totals")
    measuring: Any = importlib.import_module("measuring")
    sizes = (1_000, 10_000)

    def verdict(power: float) -> bool:
        rows = [measuring.Row("", [n**power], family="f", size=n) for n in sizes]
        (row,) = totals.growth_rows({"group": rows})[totals.TITLE]
        return bool(row.targets[0].met)

    assert verdict(1.0)
    assert verdict(1.1)
    assert not verdict(1.5)
