"""The command `check`: validates whatever it is given and lists every mistake."""

from __future__ import annotations

import argparse
import sys
from collections.abc import Iterator
from pathlib import Path

from setupadvisor.advice.rule_review import review_rules
from setupadvisor.advice.rule_tests import mistakes_in_cases, run_tests
from setupadvisor.advice.workshop import open_workshop
from setupadvisor.cli.inputs import machines_beside, read_machine, read_setup, riders_beside
from setupadvisor.entries.files import bundled, entry_from
from setupadvisor.entries.logbook.location import SUFFIX as BOOK_ENDING
from setupadvisor.entries.logbook.location import is_book
from setupadvisor.entries.machine import Machine
from setupadvisor.entries.rider import Rider
from setupadvisor.entries.walk import Walk
from setupadvisor.entries.yaml_file import Document, read_yaml
from setupadvisor.errors import InputError, Mistake
from setupadvisor.facts.columns import columns_from_entries, condition_fields
from setupadvisor.rulebook.findings import Finding

SEASON_ENDINGS = {".csv", ".parquet", ".pq"}
RULE_KEYS = {"rules", "terms", "remarks", "cases", "statements", "switch_off", "subject"}
YAML_ENDINGS = {".yaml", ".yml"}
MODEL_ENDING = ".model"
KNOWN_ENDINGS = {*SEASON_ENDINGS, *YAML_ENDINGS, MODEL_ENDING, BOOK_ENDING}


def run(options: argparse.Namespace) -> int:
    """Check every path, print what is fine, list what is not.

    Parameters
    ----------
    options : argparse.Namespace
        The command line.

    Returns
    -------
    int
        0 when all is fine, 1 when anything had a mistake, or with ``--strict`` a finding.

    Raises
    ------
    InputError
        If the machine file named on the command line has a mistake.
    """
    machine = read_machine(options.machine)
    wrong = found = 0
    for path in options.paths or [bundled("rules")]:
        for said in _checked(path, machine):
            if isinstance(said, Mistake):
                wrong += 1
                print(said, file=sys.stderr)
            else:
                found += isinstance(said, Finding)
                print(said)
    if wrong:
        print(f"{wrong} mistake{'s' if wrong > 1 else ''}", file=sys.stderr)
    return 1 if wrong or (found and options.strict) else 0


def _checked(path: Path, machine: Machine) -> Iterator[str | Mistake | Finding]:
    try:
        if path.is_dir():
            yield from _folder(path, machine)
        elif path.is_file() and _is_lap_table(path):
            yield from _laps(path)
        elif path.suffix.lower() in SEASON_ENDINGS:
            yield from _season(path, machine)
        elif path.suffix.lower() == MODEL_ENDING:
            yield _model(path)
        elif is_book(path):
            yield from _book(path, machine)
        else:
            yield from _entry(path, machine)
    except InputError as error:
        yield from error.mistakes


def _folder(path: Path, machine: Machine) -> Iterator[str | Mistake | Finding]:
    files = [
        found
        for found in sorted(path.rglob("*"))
        if found.suffix.lower() in KNOWN_ENDINGS and found.is_file()
    ]
    rules = [found for found in files if _is_rule_file(found)]
    if not files:
        yield Mistake(str(path), "there is nothing to check in it", "name a folder with entries")
    elif rules and (len(rules) == len(files) or any(found.parent == path for found in rules)):
        yield from _rules(path, machine)
    elif rules:
        for inside in sorted(path.iterdir()):
            if any(inside in {found, *found.parents} for found in files):
                yield from _checked(inside, machine)
    else:
        for found in files:
            yield from _checked(found, machine)


def _is_rule_file(path: Path) -> bool:
    if path.suffix.lower() not in YAML_ENDINGS:
        return False
    try:
        content = read_yaml(path).content
    except InputError:
        return False
    return isinstance(content, dict) and bool(RULE_KEYS & set(content))


def _rules(path: Path, machine: Machine) -> Iterator[str | Mistake | Finding]:
    own = [] if path.resolve() == bundled("rules").resolve() else [path]
    try:
        rulebase = open_workshop(machine, own).rulebase
    except InputError as error:
        yield from dict.fromkeys([*error.mistakes, *mistakes_in_cases(path, machine)])
        return
    findings = review_rules(rulebase, machine)
    yield (
        f"{path}: {len(rulebase.rules)} rules, {len(rulebase.terms)} terms, "
        f"{len(rulebase.remarks)} remarks"
        + (" (with the bundled ones)" if own else "")
        + f", {len(findings) or 'no'} finding{'' if len(findings) == 1 else 's'}"
    )
    yield from findings
    yield from run_tests(path, machine, rulebase.by_id)


def _is_lap_table(path: Path) -> bool:
    if path.suffix.lower() != ".csv":
        return False
    with path.open("rb") as stream:
        head = stream.readline(100_000).decode("utf-8-sig", errors="replace")
    return "lap_s" in [name.strip().strip('"') for name in head.split(",")]


def _laps(path: Path) -> Iterator[str | Mistake]:
    from setupadvisor.entries.laps import read_laps  # noqa: PLC0415

    table, mistakes = read_laps(path)
    yield from mistakes
    yield f"{path}: a table of {len(table)} laps"


def _season(path: Path, machine: Machine) -> Iterator[str | Mistake]:
    from setupadvisor.entries.season import read_season  # noqa: PLC0415 - brings pandas

    season, mistakes = read_season(path, machines_beside(path, machine), riders_beside(path))
    yield from mistakes
    yield from season.notices
    counts = {
        "sound session": len(season),
        "event": len(set(season.event)),
        "rider": len(set(season.rider)),
    }
    sessions, events, riders = (
        f"{count} {name}{'' if count == 1 else 's'}" for name, count in counts.items()
    )
    yield f"{path}: {sessions} of {events} and {riders}"


def _model(path: Path) -> str:
    from setupadvisor.learning.model_file import load_model  # noqa: PLC0415

    _, provenance = load_model(path)
    return (
        f"{path}: a model of {provenance.get('sessions')} sessions for {provenance.get('machine')}"
    )


def _book(path: Path, machine: Machine) -> Iterator[str | Mistake]:
    from setupadvisor.entries.logbook.book_check import check_book  # noqa: PLC0415 - SQLAlchemy

    said, mistakes = check_book(path, {machine.name: machine})
    yield from mistakes
    yield said


def _entry(path: Path, machine: Machine) -> Iterator[str | Mistake]:
    document = read_yaml(path)
    content = document.content
    keys = set(content) if isinstance(content, dict) else set()
    if RULE_KEYS & keys:
        yield Mistake(str(path), "this is one rule file", "check its folder, for its terms")
    elif {"geometry", "engine"} & keys:
        found = entry_from(document, Machine)
        open_workshop(found)
        yield f"{path}: machine {found.name} with {len(found.settings)} settings"
    elif "settings" in keys:
        values = read_setup(path, machine)
        yield f"{path}: a setup of {len(values)} settings of {machine.name}"
    elif {"event", "date"} & keys:
        walk = entry_from(document, Walk)
        given = len(columns_from_entries(walk, None))
        asked = sum(path.startswith("walk.") for path in condition_fields())
        yield f"{path}: a walk of {walk.event}, {given} of {asked} fields given"
    elif {"name", "mass"} & keys:
        yield f"{path}: rider {entry_from(document, Rider).name}"
    else:
        yield _unknown(document)


def _unknown(document: Document) -> Mistake:
    # The kinds of entries, said by what each must have.
    return Mistake(
        document.source,
        "no entry can be recognised" if document.content else "the file is empty",
        "a walk has event and date, a rider name and mass, a setup settings, a machine geometry",
    )
