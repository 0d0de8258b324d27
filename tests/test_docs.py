"""Commands, options, functions and records are documented, and files stay short."""

from __future__ import annotations

import argparse
import dataclasses
import importlib
import inspect
import pkgutil
import re
from collections.abc import Iterator
from pathlib import Path
from types import ModuleType
from typing import Any

import pytest

import setupadvisor
from setupadvisor.cli.arguments import build_parser

ROOT = Path(__file__).resolve().parent.parent
README = (ROOT / "README.md").read_text(encoding="utf-8")
# A test file is a list of cases, read one at a time.
MOST_LINES = {"setupadvisor": 420, "datasets": 420, "benchmarks": 420, "tests": 480}


def parsers() -> dict[str, argparse.ArgumentParser]:
    """The parser of every command, by name."""
    (commands,) = (
        action
        for action in build_parser()._actions
        if isinstance(action, argparse._SubParsersAction)
    )
    return dict(commands.choices)


MODULES = tuple(
    found.name
    for found in pkgutil.walk_packages(setupadvisor.__path__, "setupadvisor.")
    if "bundled_" not in found.name
)


def public(module: ModuleType) -> Iterator[tuple[str, Any]]:
    """What a module defines itself and does not hide."""
    for name, thing in vars(module).items():
        if not name.startswith("_") and getattr(thing, "__module__", "") == module.__name__:
            yield name, thing


def documented(doc: str, title: str = "Parameters") -> set[str]:
    """The names in one section of a numpydoc docstring."""
    section = re.search(rf"^{title}\n-+\n(.*?)(?=^\S[^\n]*\n-{{3,}}|\Z)", doc, re.S | re.M)
    lines = section[1].splitlines() if section else []
    heads = [line.split(" : ")[0] for line in lines if line[:1].strip()]
    return {name.strip().lstrip("*") for head in heads for name in head.split(",")}


@pytest.mark.parametrize("command", parsers())
def test_every_command_and_option_has_help(command: str) -> None:
    parser = parsers()[command]
    assert parser.description
    for action in parser._actions:
        assert action.help, f"{command} {action.option_strings or action.dest}"
        assert action.help != argparse.SUPPRESS


@pytest.mark.parametrize("command", parsers())
def test_every_command_has_a_line_in_the_help_of_the_whole(command: str) -> None:
    assert re.search(rf"^ +{command} +\w", build_parser().format_help(), re.M)


@pytest.mark.parametrize("command", parsers())
def test_help_fits_a_pit_laptop(command: str, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("COLUMNS", "100")
    text = parsers()[command].format_help() + build_parser().format_help()
    assert max(map(len, text.splitlines())) <= 100


@pytest.mark.parametrize("command", parsers())
def test_the_readme_names_every_command(command: str) -> None:
    assert f"setupadvisor {command}" in README


def test_the_readme_names_no_command_or_option_that_is_not_there() -> None:
    text = "\n".join(re.findall(r"```.*?```|`[^`\n]+`", README, re.S))
    named = set(re.findall(r"(?:^|[/\s`])setupadvisor ([a-z][\w-]*)", text))
    assert named <= set(parsers())
    for command, rest in re.findall(r"setupadvisor ([a-z][\w-]*)([^\n`]*)", text):
        options = set(re.findall(r"(?<!\S)\[?(--?[a-z][\w-]*)", rest))
        assert options <= options_of(parsers()[command]), command


def options_of(parser: argparse.ArgumentParser) -> set[str]:
    """All options of a command, those of its parts (`log add`) too."""
    found: set[str] = set()
    for action in parser._actions:
        found |= set(action.option_strings)
        if isinstance(action, argparse._SubParsersAction):
            found |= {text for part in action.choices.values() for text in options_of(part)}
    return found


@pytest.mark.parametrize("name_of_module", MODULES)
def test_docstrings_name_every_parameter_and_no_other(name_of_module: str) -> None:
    module = importlib.import_module(name_of_module)
    assert module.__doc__
    for name, thing in public(module):
        if inspect.isfunction(thing):
            doc = inspect.getdoc(thing) or ""
            assert doc, name
            assert documented(doc) == set(inspect.signature(thing).parameters), name


@pytest.mark.parametrize("name_of_module", MODULES)
def test_docstrings_of_records_name_every_field(name_of_module: str) -> None:
    module = importlib.import_module(name_of_module)
    for name, thing in public(module):
        if not inspect.isclass(thing):
            continue
        assert thing.__doc__, name
        fields: list[str] = []
        if dataclasses.is_dataclass(thing):
            fields = [field.name for field in dataclasses.fields(thing) if field.init]
        elif issubclass(thing, tuple) and hasattr(thing, "_fields"):
            fields = list(thing._fields)
        doc = inspect.getdoc(thing) or ""
        told = documented(doc) | documented(doc, "Attributes")
        assert {field for field in fields if not field.startswith("_")} <= told, name


@pytest.mark.parametrize("name_of_module", MODULES)
def test_public_methods_say_what_they_do(name_of_module: str) -> None:
    module = importlib.import_module(name_of_module)
    for name, thing in public(module):
        if inspect.isclass(thing):
            for method, code in vars(thing).items():
                if not method.startswith("_") and inspect.isfunction(code):
                    assert inspect.getdoc(code), f"{name}.{method}"


@pytest.mark.parametrize("folder", MOST_LINES)
def test_files_stay_short(folder: str) -> None:
    paths = list((ROOT / folder).rglob("*.py"))
    assert paths
    for path in paths:
        count = len(path.read_text(encoding="utf-8").splitlines())
        assert count <= MOST_LINES[folder], f"{path.relative_to(ROOT)} has {count} lines"
