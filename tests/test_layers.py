"""The floors of the house hold, and the quick commands stay quick."""

from __future__ import annotations

import os
import subprocess
import sys
import tomllib
from pathlib import Path

import pytest
from importlinter.cli import lint_imports

from setupadvisor.entries.files import bundled

ROOT = Path(__file__).resolve().parent.parent
FLOORS = ["cli", "advice", "learning", "rulebook", "facts", "entries", "errors"]
HEAVY = ("pandas", "sklearn", "scipy", "matplotlib", "joblib", "statsmodels", "pyarrow", "dask")
# Runs a command in this process and prints which of the modules named first came with it.
LOADED = """
import contextlib, io, sys
names, words = sys.argv[1].split(","), sys.argv[2:]
from setupadvisor.__main__ import main
with contextlib.redirect_stdout(io.StringIO()), contextlib.suppress(SystemExit):
    code = main(words)
    assert code == 0, code
print(",".join(name for name in names if name in sys.modules))
"""


def loaded(names: tuple[str, ...], *words: str, folder: Path) -> set[str]:
    """Which of these modules a command brings along."""
    done = subprocess.run(
        [sys.executable, "-c", LOADED, ",".join(names), *words],
        capture_output=True,
        text=True,
        encoding="utf-8",
        cwd=folder,
        env={**os.environ, "SETUPADVISOR_CACHE": "off"},
        check=False,
    )
    assert done.returncode == 0, done.stderr
    return set(filter(None, done.stdout.strip().split(",")))


def test_each_floor_knows_only_the_floors_below(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.chdir(ROOT)
    assert lint_imports(no_cache=True) == 0


def test_the_contract_names_every_floor_in_order_and_leaves_none_out() -> None:
    """A new module must choose its floor."""
    settings = tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))
    (contract,) = settings["tool"]["importlinter"]["contracts"]
    assert contract["type"] == "layers"
    assert contract["exhaustive"] is True
    assert "ignore_imports" not in contract
    assert "exhaustive_ignores" not in contract
    assert [floor for floor in contract["layers"] if floor in FLOORS] == FLOORS
    there = {
        path.stem
        for path in (ROOT / "setupadvisor").iterdir()
        if (path.is_dir() and (path / "__init__.py").exists()) or path.suffix == ".py"
    }
    assert there - {"__init__", "__main__", "bundled_rules", "bundled_datasets"} == set(FLOORS)


@pytest.mark.parametrize("words", [["--help"], ["--version"], ["advise", "--help"], ["walk", "-h"]])
def test_help_needs_nothing_but_the_standard_library(words: list[str], tmp_path: Path) -> None:
    assert loaded((*HEAVY, "pint", "numpy", "pydantic", "yaml"), *words, folder=tmp_path) == set()


@pytest.mark.parametrize("machine", ["works-450", "works-250"])
def test_advise_starts_without_the_libraries_of_learning(machine: str, tmp_path: Path) -> None:
    """A walk without units needs no library of units either."""
    walk = tmp_path / "walk.yaml"
    walk.write_text(
        "event: Invented\ndate: 2026-05-17\nkind: sand\n"
        "air: {temperature: 21, elevation: 300}\nground: {cone_index: 230, rut_depth: 120}\n"
        "jumps: [{gap: 12, take_off_angle: 24, landing: flat}]\n",
        encoding="utf-8",
    )
    entries = bundled("datasets")
    words = (
        "advise",
        str(walk),
        "--machine",
        str(entries / "machines" / f"{machine}.yaml"),
        "--rider",
        str(entries / "riders" / "north.yaml"),
        "--json",
    )
    assert loaded((*HEAVY, "pint"), *words, folder=tmp_path) == set()


@pytest.mark.parametrize("name", ["deep-sand", "imperial-units"])
def test_everyday_units_need_no_library(name: str, tmp_path: Path) -> None:
    walk = str(bundled("datasets", "walks", f"{name}.yaml"))
    assert loaded((*HEAVY, "pint"), "advise", walk, folder=tmp_path) == set()


def test_a_rare_unit_brings_its_library(tmp_path: Path) -> None:
    """Which shows that these tests see what is loaded."""
    walk = tmp_path / "walk.yaml"
    walk.write_text("event: x\ndate: 2026-05-17\nlap: {length: 6 furlong}\n", encoding="utf-8")
    assert loaded((*HEAVY, "pint"), "advise", str(walk), folder=tmp_path) >= {"pint"}


def test_checking_entries_brings_no_library_of_learning(tmp_path: Path) -> None:
    walk = str(bundled("datasets", "walks", "deep-sand.yaml"))
    assert loaded((*HEAVY, "pint"), "check", walk, folder=tmp_path) == set()
