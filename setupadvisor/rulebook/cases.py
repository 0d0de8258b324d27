"""Cases: a partial walk, and what must come out of it; a rule base's own tests.

Cases stand in rule folders under the key ``cases`` and are read on their own, by those who run
them: advice needs none.
"""

from __future__ import annotations

import re
from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path

from setupadvisor.entries.machine import Machine
from setupadvisor.entries.rider import Rider
from setupadvisor.entries.walk import Walk
from setupadvisor.entries.yaml_file import parse_yaml
from setupadvisor.errors import InputError, Mistake
from setupadvisor.facts.columns import condition_fields
from setupadvisor.rulebook.cases_drafts import (
    EVENT,
    NAME,
    Draft,
    draft_cases,
    join,
    joined_entry,
)
from setupadvisor.rulebook.cases_sentences import (
    NotASentence,
    Sentence,
    Vocabulary,
    read_sentence,
)
from setupadvisor.rulebook.reading import MOST_MISTAKES, Origin, Reading
from setupadvisor.rulebook.rule_files import read_rule_files

_HAS_CASES = re.compile(r"\bcases\b")


@dataclass(frozen=True, slots=True)
class Case:
    """A partial walk, and what must come out of it.

    Parameters
    ----------
    id : str
        Its name in the rule base.
    title : str
        The case in a sentence.
    walk : Walk
        With what it takes from the case it stands on; event and date mean nothing.
    rider : Rider or None
        None where no rider is given.
    machine : str
        The machine's name.
    expect : tuple of Sentence
        What must hold.
    wheres : tuple of str
        Where each of them stands: file, line, key.
    source : str
        Where the claim comes from.
    origin : Origin
        Where the case stands.
    """

    id: str
    title: str
    walk: Walk
    rider: Rider | None
    machine: str
    expect: tuple[Sentence, ...]
    wheres: tuple[str, ...]
    source: str
    origin: Origin


def load_cases(
    folders: Sequence[Path],
    machines: Mapping[str, Machine],
    usual: Sequence[str],
    rules: Collection[str] | None = None,
) -> dict[str, Case]:
    """Read the cases of rule folders.

    Parameters
    ----------
    folders : sequence of pathlib.Path
        Rule folders; a case of a later one replaces one of the same id.
    machines : mapping of str to Machine
        The machines a case can name.
    usual : sequence of str
        For each folder, the machine of cases that name none.
    rules : collection of str, optional
        Ids of the rules, to look up those that the last folder's cases name; the cases of earlier
        folders were written for rules that a later one may have switched off.

    Returns
    -------
    dict of str to Case
        By id, in the order of folders, files and lines.

    Raises
    ------
    InputError
        With every mistake of every case.
    """
    files, mistakes = read_rule_files(folders)
    readings: list[Reading] = []
    drafts: dict[str, Draft] = {}
    for file in files:
        if not _HAS_CASES.search(file.text):
            continue
        try:
            reading = Reading(parse_yaml(file.text, file.path), file.folder)
        except InputError as error:
            mistakes.extend(error.mistakes)
            continue
        content = reading.document.content
        if isinstance(content, dict) and "cases" in content:
            readings.append(reading)
            draft_cases(reading, file.place, drafts)
    machine_of = join(drafts, machines, usual)
    settings_of = {case: machines[machine].settings for case, machine in machine_of.items()}
    entries = _entry_keys()
    cases: dict[str, Case | None] = {}
    for name, draft in drafts.items():
        looked_up = rules if draft.place == len(folders) - 1 else None
        known = Vocabulary(settings_of[name], settings_of, looked_up, entries)
        cases[name] = _case(draft, machine_of[name], known)
        if sum(len(reading.mistakes) for reading in readings) >= MOST_MISTAKES:
            break
    for reading in readings:
        mistakes.extend(reading.document.mistakes)
        mistakes.extend(sorted(reading.mistakes, key=_line))
    if mistakes:
        raise InputError(mistakes[:MOST_MISTAKES])
    return {name: case for name, case in cases.items() if case is not None}


def _line(mistake: Mistake) -> int:
    digits = mistake.where.split(" ", 1)[0].rsplit(":", 1)[-1]
    return int(digits) if digits.isdigit() else 0


def _entry_keys() -> set[str]:
    return {
        "jumps"
        if field.listed
        else (field.key if field.path.startswith("walk.") else f"rider {field.key}")
        for field in condition_fields().values()
    }


def _case(draft: Draft, machine: str, known: Vocabulary) -> Case | None:
    if draft.sound and not draft.walk and not draft.rider:
        draft.wrong((), "the case has no walk", "add some keys of a walk, or a case to stand on")
    sentences: list[Sentence] = []
    for place, text in enumerate(draft.sentences):
        if text:
            try:
                sentences.append(read_sentence(text, known))
            except NotASentence as error:
                draft.wrong(("expect", place), error.found, error.mend)
    document, path = draft.reading.document, draft.path
    walk = joined_entry(draft, "walk", {**EVENT, **draft.walk}, Walk)
    rider = joined_entry(draft, "rider", {**NAME, **draft.rider}, Rider) if draft.rider else None
    if draft.form is None or walk is None or not draft.sound:
        return None
    return Case(
        id=draft.name,
        title=draft.form.title,
        walk=walk,
        rider=rider,
        machine=machine,
        expect=tuple(sentences),
        wheres=tuple(
            document.where((*path, "expect", place)) for place in range(len(draft.sentences))
        ),
        source=draft.form.source,
        origin=draft.reading.origin(path),
    )
