"""A rule folder's own tests: its cases and its sanity statements, read and run."""

from __future__ import annotations

from collections.abc import Collection, Iterator
from pathlib import Path

from setupadvisor.advice.case_runner import check_cases, is_bundled, read_cases
from setupadvisor.advice.sanity_runner import WALKS, check_statements
from setupadvisor.advice.workshop import house_machine, open_workshop
from setupadvisor.entries.machine import Machine
from setupadvisor.errors import InputError, Mistake
from setupadvisor.facts.catalogue import FACTS
from setupadvisor.rulebook.sanity import load_statements


def run_tests(folder: Path, machine: Machine, rules: Collection[str]) -> Iterator[str | Mistake]:
    """Run a rule folder's cases and sanity statements.

    Parameters
    ----------
    folder : pathlib.Path
        The bundled rules, or a team's own, which stand on top of the bundled ones.
    machine : Machine
        The machine of a team's cases and statements; the bundled ones are of the bundled machine.
    rules : collection of str
        Ids of the rules.

    Yields
    ------
    str or Mistake
        How many hold, and every one that does not.
    """
    yield from _cases(folder, machine, rules)
    yield from _statements(folder, machine, rules)


def mistakes_in_cases(folder: Path, machine: Machine) -> list[Mistake]:
    """Read a rule folder's cases without running them, where its rules cannot be loaded.

    Parameters
    ----------
    folder : pathlib.Path
        A rule folder.
    machine : Machine
        The machine of a team's cases.

    Returns
    -------
    list of Mistake
        Every mistake in the cases.
    """
    try:
        read_cases(folder, machine)
    except InputError as error:
        return list(error.mistakes)
    return []


def _cases(folder: Path, machine: Machine, rules: Collection[str]) -> Iterator[str | Mistake]:
    try:
        outcomes = check_cases(folder, machine, rules)
    except InputError as error:
        yield from error.mistakes
        return
    if outcomes:
        cases = {outcome.case.id for outcome in outcomes}
        failed = {outcome.case.id for outcome in outcomes if not outcome.holds}
        yield (
            f"{folder}: {_count(len(cases), 'case')} with {_count(len(outcomes), 'sentence')}, "
            f"{f'{len(failed)} of them do not hold' if failed else 'all hold'}"
        )
    for outcome in outcomes:
        if not outcome.holds:
            yield outcome.as_mistake()


def _statements(folder: Path, machine: Machine, rules: Collection[str]) -> Iterator[str | Mistake]:
    own = house_machine() if is_bundled(folder) else machine
    try:
        statements = load_statements(folder, FACTS, own.settings, rules)
    except InputError as error:
        yield from error.mistakes
        return
    if not statements:
        return
    workshop = open_workshop(own, () if is_bundled(folder) else (folder,))
    tested = check_statements(workshop, statements.values(), WALKS)
    mistakes = [mistake for found in tested for mistake in found.mistakes()]
    failed = sum(bool(found.violations or found.still) for found in tested)
    yield (
        f"{folder}: {_count(len(tested), 'sanity statement')} on {WALKS} random walks each, "
        f"{f'{failed} of them do not hold' if failed else 'all hold'}"
    )
    yield from mistakes


def _count(number: int, thing: str) -> str:
    return f"{number} {thing}{'' if number == 1 else 's'}"
