"""Help, version and words of the command line that cannot be."""

from __future__ import annotations

import argparse
from importlib.metadata import version
from pathlib import Path

import pytest

from setupadvisor.cli.arguments import build_parser
from tests.cli.commands import DATA, run, run_process

COMMANDS = next(
    tuple(action.choices)
    for action in build_parser()._actions
    if isinstance(action, argparse._SubParsersAction)
)


@pytest.mark.parametrize("module", [True, False], ids=["python -m", "script"])
def test_help_names_every_command(module: bool, tmp_path: Path) -> None:
    done = run_process("--help", folder=tmp_path, module=module)
    assert done.code == 0
    assert all(f"\n    {command}" in done.out for command in COMMANDS)
    assert done.out.startswith("usage: setupadvisor")
    assert done.err == ""


def test_the_commands_that_other_programs_rely_on_are_there() -> None:
    assert {"demo", "walk", "advise", "retrain", "check"} <= set(COMMANDS)


@pytest.mark.parametrize("command", COMMANDS)
def test_every_command_has_help_of_its_own(command: str, tmp_path: Path) -> None:
    done = run(command, "--help", folder=tmp_path)
    assert done.code == 0
    assert done.out.startswith(f"usage: setupadvisor {command}")
    assert max(map(len, done.out.splitlines())) <= 100


@pytest.mark.parametrize("module", [True, False], ids=["python -m", "script"])
def test_version_is_the_package_s(module: bool, tmp_path: Path) -> None:
    done = run_process("--version", folder=tmp_path, module=module)
    assert (done.code, done.out) == (0, f"setupadvisor {version('setupadvisor')}\n")


def test_without_a_command_the_help_is_shown_and_the_exit_is_that_of_usage(tmp_path: Path) -> None:
    done = run_process(folder=tmp_path)
    assert done.code == 2
    assert "usage: setupadvisor" in done.out


@pytest.mark.parametrize(
    ("words", "said"),
    [
        (["advice"], "invalid choice"),
        (["advise"], "WALK"),
        (["advise", "walk.yaml", "--minuets", "3"], "--minuets"),
        (["advise", "walk.yaml", "--minutes", "-1"], "give a number from 0"),
        (["advise", "walk.yaml", "--minutes", "nan"], "give a number from 0"),
        (["advise", "walk.yaml", "--minutes", "inf"], "give a number from 0"),
        (["advise", "walk.yaml", "--minutes", "half an hour"], "'half an hour' minutes"),
        (["advise", "walk.yaml", "--level", "1.5"], "from 50% to 99%"),
        (["advise", "walk.yaml", "--level", "high"], "from 50% to 99%"),
        (["advise", "walk.yaml", "--model", "a", "--season", "b"], "not allowed with"),
        (["retrain", "season.csv"], "--output"),
        (["retrain", "season.csv", "-o", "m", "--jobs", "0"], "give 1 or more, or -1"),
        (["retrain", "season.csv", "-o", "m", "--jobs", "1.5"], "give 1 or more, or -1"),
        (["walk"], "FILE"),
        (["check", "--sctrict"], "--sctrict"),
    ],
)
def test_wrong_usage_is_told_on_the_error_stream_with_exit_2(
    words: list[str], said: str, tmp_path: Path
) -> None:
    done = run(*words, folder=tmp_path)
    assert done.code == 2
    assert done.out == ""
    assert said in done.err
    assert "usage: setupadvisor" in done.err
    assert "_minutes" not in done.err
    assert list(tmp_path.iterdir()) == []


def test_wrong_usage_in_a_process_of_its_own(tmp_path: Path) -> None:
    done = run_process("advise", "walk.yaml", "--minutes", "soon", folder=tmp_path)
    assert (done.code, done.out) == (2, "")
    assert "'soon' minutes cannot be" in done.err


@pytest.mark.parametrize("level", ["0.8", "80%", "0.95"])
def test_levels_are_taken_as_share_or_per_cent(level: str, tmp_path: Path) -> None:
    walk = DATA / "walks" / "bare-walk.yaml"
    assert run("advise", walk, "--level", level, folder=tmp_path).code == 0
