"""The command `facts`: every fact of a walk, with its formula, source and the entries behind it."""

from __future__ import annotations

import argparse
import json
import sys
from collections.abc import Sequence
from dataclasses import asdict
from textwrap import wrap

from setupadvisor.cli.inputs import Gathering, read_machine
from setupadvisor.entries.files import load_entry
from setupadvisor.entries.rider import Rider
from setupadvisor.entries.walk import Walk
from setupadvisor.facts.columns import columns_from_entries, columns_from_machine
from setupadvisor.facts.report import FactLine, explain
from setupadvisor.facts.table import facts_from

WIDTH = 100


def run(options: argparse.Namespace) -> int:
    """Work out all facts and print them.

    Parameters
    ----------
    options : argparse.Namespace
        The command line.

    Returns
    -------
    int
        0.
    """
    files = Gathering()
    walk = files.take(lambda: load_entry(options.walk, Walk))
    machine = files.take(lambda: read_machine(options.machine))
    rider = files.take(lambda: load_entry(options.rider, Rider)) if options.rider else None
    files.done()
    if walk is None or machine is None:
        raise AssertionError("files.done() refuses missing inputs")
    conditions = columns_from_entries(walk, rider)
    constants = columns_from_machine(machine)
    table = facts_from(conditions, constants)
    lines = explain(conditions, machine, table)
    if options.json:
        told = {
            "facts": [asdict(line) for line in lines],
            "warnings": list(table.warnings),
        }
        json.dump(told, sys.stdout, allow_nan=False, indent=1)
        print()
    else:
        print("\n".join(_text(lines, table.warnings)))
    return 0


def _text(facts: Sequence[FactLine], warnings: Sequence[str]) -> list[str]:
    known = [fact for fact in facts if fact.value is not None]
    missing = [fact for fact in facts if fact.value is None]
    lines = [f"FACTS  {len(known)} known, {len(missing)} not known", "=" * WIDTH]
    for fact in known:
        lines += _known(fact)
    if missing:
        lines += ["", "NOT KNOWN, AND WHAT WOULD GIVE IT", "-" * WIDTH]
    for fact in missing:
        needs = ", ".join(fact.missing) or "does not apply to this walk"
        lines += wrap(f"{fact.title}: {needs}", WIDTH, subsequent_indent="    ")
    if warnings:
        lines += ["", "LESS CERTAIN", "-" * WIDTH]
        for warning in warnings:
            lines += wrap(warning, WIDTH, initial_indent="! ", subsequent_indent="  ")
    return lines


def _known(fact: FactLine) -> list[str]:
    shown = (fact.word or "").replace("_", " ") or f"{fact.value:.4g} {fact.unit}".strip()
    head = f"{fact.title:<62} {shown:>20}"
    came = ", ".join(fact.from_entries)
    return [
        head if len(head) <= WIDTH else f"{fact.title}\n{shown:>83}",
        *wrap(
            f"{fact.formula} [{fact.source}]" + (f"; from {came}" if came else ""),
            WIDTH,
            initial_indent="    ",
            subsequent_indent="    ",
        ),
    ]
