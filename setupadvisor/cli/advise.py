"""The command `advise`."""

from __future__ import annotations

import argparse
import json
import sys
from collections.abc import Mapping
from dataclasses import asdict
from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING, Any

from setupadvisor.advice.consult import consult
from setupadvisor.advice.difference import Difference, difference
from setupadvisor.advice.later import later_in_the_day
from setupadvisor.advice.records import Advice
from setupadvisor.advice.workshop import Workshop, knowledge, open_workshop
from setupadvisor.cli.inputs import Gathering, read_machine, read_season_strictly, read_setup
from setupadvisor.cli.pit_sheet import difference_text, pit_sheet
from setupadvisor.entries.files import load_entry
from setupadvisor.entries.quantity import shown
from setupadvisor.entries.rider import Rider
from setupadvisor.entries.walk import Walk
from setupadvisor.errors import InputError, Mistake
from setupadvisor.facts.columns import columns_from_entries
from setupadvisor.learning.model import Model, untrained

if TYPE_CHECKING:
    from setupadvisor.learning.in_parts import ModelInParts


def run(options: argparse.Namespace) -> int:
    """Read the files, ask for the advice, print it.

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
        With every mistake in the files.
    """
    files = Gathering()
    walk = files.take(lambda: load_entry(options.walk, Walk))
    then = files.take(lambda: load_entry(options.then, Walk)) if options.then else None
    machine = files.take(lambda: read_machine(options.machine))
    rider = files.take(lambda: load_entry(options.rider, Rider)) if options.rider else None
    on_bike = None
    workshop = None
    if machine is not None:
        on_bike = (
            files.take(lambda: read_setup(options.on_bike, machine)) if options.on_bike else None
        )
        workshop = files.take(lambda: open_workshop(machine, options.rules))
    model: Model | ModelInParts | None = None
    provenance: Mapping[str, Any] | None = None
    if workshop is not None:
        trained = files.take(lambda: model_for(options, workshop))
        if trained is not None:
            model, provenance = trained
    files.done()
    if walk is None or workshop is None or model is None:
        raise AssertionError("files.done() refuses missing inputs")
    ask = partial(
        consult,
        workshop,
        model=model,
        rider=rider,
        minutes=options.minutes,
        level=options.level,
        provenance=provenance,
    )
    advice = ask(walk, on_bike=on_bike)
    if then is None and options.at is None:
        show(advice, options)
        return 0
    # The first walk's advice is on the motorcycle by then.
    set_up = {setting.setting: setting.value for setting in advice.settings}
    now = columns_from_entries(walk, rider)
    if then is not None:
        changed = columns_from_entries(then, rider)
        after = ask(then, on_bike=set_up)
    else:
        changed, notes = later_in_the_day(walk, now, options.at, str(options.walk))
        after = ask(walk, conditions=changed, on_bike=set_up, notes=notes)
    show_difference(difference(workshop, now, changed, advice, after), after, options)
    return 0


def show(advice: Advice, options: argparse.Namespace) -> None:
    """Print the advice as JSON or as a pit sheet.

    Parameters
    ----------
    advice : Advice
        The advice.
    options : argparse.Namespace
        With ``json``, and where there are any ``minutes`` and ``why``.
    """
    if options.json:
        # Plain ASCII, so that no terminal's or pipe's encoding can spoil it.
        json.dump(advice.to_json(), sys.stdout, allow_nan=False, indent=1)
        print()
    else:
        minutes = getattr(options, "minutes", None)
        print(pit_sheet(advice, minutes=minutes, why=getattr(options, "why", False)), end="")


def show_difference(found: Difference, later: Advice, options: argparse.Namespace) -> None:
    """Print what changes between two walks, and the advice for the second.

    Parameters
    ----------
    found : Difference
        What differs.
    later : Advice
        The advice for the second walk, counted from the first one's.
    options : argparse.Namespace
        With ``json``, ``minutes`` and ``why``.
    """
    if options.json:
        told = {"difference": asdict(found), **later.to_json()}
        json.dump(told, sys.stdout, allow_nan=False, indent=1)
        print()
    else:
        print(difference_text(found), end="")
        print(pit_sheet(later, minutes=options.minutes, why=options.why), end="")


def model_for(
    options: argparse.Namespace, workshop: Workshop
) -> tuple[Model | ModelInParts, Mapping[str, Any] | None]:
    """Load the model, learn from the season, or go without past sessions.

    Parameters
    ----------
    options : argparse.Namespace
        With ``model`` and ``season``.
    workshop : Workshop
        The machine and its rules.

    Returns
    -------
    tuple of Model or ModelInParts, and mapping or None
        The model and where it came from.

    Raises
    ------
    InputError
        If the model was trained with other rules or for another machine.
    """
    if options.model:
        model, provenance = read_model(options.model)
        check_model(options.model, provenance, workshop)
        return model, provenance
    if options.season:
        from setupadvisor.advice.season_learning import learn  # noqa: PLC0415

        season, machines = read_season_strictly(options.season, workshop.machine)
        return learn(season, workshop, machines, options.rules)
    return untrained(knowledge(workshop)), None


def read_model(path: Path) -> tuple[Model | ModelInParts, Mapping[str, Any]]:
    """Read a model: a file that a season taught, or a folder that an archive taught.

    Parameters
    ----------
    path : pathlib.Path
        The file or folder.

    Returns
    -------
    tuple of Model or ModelInParts, and mapping
        The model and where it came from.

    Raises
    ------
    InputError
        If it is no model, or a damaged one.
    """
    if not path.is_dir():
        from setupadvisor.learning.model_file import load_model  # noqa: PLC0415

        return load_model(path)
    from setupadvisor.learning.in_parts import is_model_in_parts, load_in_parts  # noqa: PLC0415

    if not is_model_in_parts(path):
        mend = "name a model file, or the folder that retrain made of an archive"
        raise InputError(Mistake(str(path), "this folder is no model", mend))
    return load_in_parts(path)


def check_model(path: Path, provenance: Mapping[str, Any], workshop: Workshop) -> None:
    """Refuse a model that speaks of other rules or another machine.

    Parameters
    ----------
    path : pathlib.Path
        The model's file.
    provenance : mapping
        Where it came from.
    workshop : Workshop
        The machine and rules of today.

    Raises
    ------
    InputError
        With each thing that differs.
    """
    mistakes = []
    if provenance.get("rules") != workshop.rulebase.meaning:
        mistakes.append(
            Mistake(
                str(path),
                "the model was trained with other rules than these",
                "retrain it, or give the same --rules as then",
            )
        )
    if provenance.get("machine") != workshop.machine.name or (
        provenance.get("settings") != list(workshop.settings)
    ):
        settings = provenance.get("settings")
        count = len(settings) if isinstance(settings, list) else "unknown"
        mistakes.append(
            Mistake(
                str(path),
                f"the model was trained for the machine {shown(provenance.get('machine'))} with "
                f"{count} settings",
                f"give that machine with --machine, or retrain for {workshop.machine.name}",
            )
        )
    if mistakes:
        raise InputError(mistakes)
