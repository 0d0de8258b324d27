"""The command `schema`: prints what an editor needs to complete and underline our files."""

from __future__ import annotations

import argparse
import json
from typing import Any

from setupadvisor.advice.workshop import known_settings, setting_words
from setupadvisor.cli.inputs import read_machine
from setupadvisor.entries.schema import entry_schemas
from setupadvisor.facts.catalogue import FACTS
from setupadvisor.rulebook.schema import rule_file_schema


def run(options: argparse.Namespace) -> int:
    """Print one JSON Schema, or all of them by name.

    Parameters
    ----------
    options : argparse.Namespace
        The command line.

    Returns
    -------
    int
        0.

    Raises
    ------
    InputError
        If the machine file named on the command line has a mistake.
    """
    settings = setting_words(known_settings(read_machine(options.machine)))
    schemas: dict[str, Any] = {**entry_schemas(), "rules": rule_file_schema(FACTS, settings)}
    shown = schemas[options.name] if options.name else schemas
    print(json.dumps(shown, indent=2))
    return 0
