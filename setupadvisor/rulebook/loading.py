"""Loading a rule base from folders, with all mistakes of all files at once."""

from __future__ import annotations

import gc
import graphlib
import re
from collections.abc import Iterator, Mapping, Sequence
from contextlib import contextmanager
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from setupadvisor.entries.quantity import shown
from setupadvisor.entries.yaml_file import KeyPath, parse_yaml
from setupadvisor.errors import InputError, Mistake
from setupadvisor.facts.fact import Fact
from setupadvisor.rulebook.conditions import terms_in
from setupadvisor.rulebook.reading import MOST_MISTAKES, Reading, group, hint
from setupadvisor.rulebook.remarks import read_remarks
from setupadvisor.rulebook.rule_files import RuleFile, digest_of, read_rule_files
from setupadvisor.rulebook.rulebase import Replaced, RuleBase, SwitchedOff
from setupadvisor.rulebook.rules import read_rules
from setupadvisor.rulebook.settings import SettingWords
from setupadvisor.rulebook.terms import Term, read_terms

TOP_KEYS = ("subject", "terms", "rules", "remarks", "cases", "statements", "switch_off")
_TESTS = re.compile(r"^(?:cases|statements):", re.MULTILINE)
_MORE_THAN_TESTS = re.compile(r"^(?!(?:cases|statements):)[^\s#]", re.MULTILINE)
MOST_RULES = 10_000
_MOST_CIRCLES = 50


@dataclass(frozen=True)
class _Placed:
    record: Any
    reading: Reading
    path: KeyPath
    place: int


@dataclass
class _Gathered:
    """What was read so far, by name; records that could not be read stand as None."""

    terms: dict[str, _Placed] = field(default_factory=dict)
    rules: dict[str, _Placed] = field(default_factory=dict)
    remarks: dict[str, _Placed] = field(default_factory=dict)
    replaced: list[Replaced] = field(default_factory=list)
    switched_off: list[SwitchedOff] = field(default_factory=list)
    rule_ids: set[str] = field(default_factory=set)


def load_rulebase(
    folders: Sequence[Path], facts: Mapping[str, Fact], settings: Mapping[str, SettingWords]
) -> RuleBase:
    """Load the rules of all folders.

    Parameters
    ----------
    folders : sequence of pathlib.Path
        Rule folders; a later one adds to the earlier ones, overrides their terms, rules and
        remarks by name, and may switch rules off.
    facts : mapping of str to Fact
        The facts there are.
    settings : mapping of str to SettingWords
        The settings there are.

    Returns
    -------
    RuleBase
        Checked: every name it uses exists, every number is in range.

    Raises
    ------
    InputError
        With every mistake of every file.
    """
    files, mistakes = read_rule_files(folders)
    return build_rulebase(files, mistakes, facts, settings)


@contextmanager
def without_garbage_collection() -> Iterator[None]:
    """Switch garbage collection off for a while.

    Records are many, small and free of cycles: collecting among them only costs time.

    Yields
    ------
    None
        While it is off.
    """
    was_on = gc.isenabled()
    gc.disable()
    try:
        yield
    finally:
        if was_on:
            gc.enable()


def build_rulebase(
    files: Sequence[RuleFile],
    mistakes: Sequence[Mistake],
    facts: Mapping[str, Fact],
    settings: Mapping[str, SettingWords],
) -> RuleBase:
    """Build a rule base from files that were read.

    Parameters
    ----------
    files : sequence of RuleFile
        As `read_rule_files` gives them.
    mistakes : sequence of Mistake
        What could not be read.
    facts : mapping of str to Fact
        The facts there are.
    settings : mapping of str to SettingWords
        The settings there are.

    Returns
    -------
    RuleBase
        See `load_rulebase`.

    Raises
    ------
    InputError
        With every mistake of every file, `mistakes` first.
    """
    with without_garbage_collection():
        return _build(files, list(mistakes), facts, settings)


def _build(
    files: Sequence[RuleFile],
    mistakes: list[Mistake],
    facts: Mapping[str, Fact],
    settings: Mapping[str, SettingWords],
) -> RuleBase:
    gathered = _Gathered()
    readings: list[Reading] = []
    for file in files:
        if _TESTS.search(file.text) and not _MORE_THAN_TESTS.search(file.text):
            continue  # read by those who run them; advice needs none
        try:
            reading = Reading(parse_yaml(file.text, file.path), file.folder)
        except InputError as error:
            mistakes.extend(error.mistakes)
            continue
        readings.append(reading)
        _read_document(reading, file.place, gathered, facts, settings)
        if len(gathered.rules) > MOST_RULES:
            mend = "split the rule base or take rules out"
            reading.wrong((), f"there are more than {MOST_RULES} rules", mend)
            break
    _look_up(readings, gathered)
    terms = _in_order(gathered.terms)
    for reading in readings:
        mistakes.extend(_by_line(reading))
    if mistakes:
        raise InputError(_bounded(mistakes))
    return RuleBase(
        terms=terms,
        rules=tuple(placed.record for placed in gathered.rules.values()),
        remarks=tuple(placed.record for placed in gathered.remarks.values()),
        digest=digest_of(files),
        switched_off=tuple(gathered.switched_off),
        replaced=tuple(gathered.replaced),
    )


def _read_document(
    reading: Reading,
    place: int,
    gathered: _Gathered,
    facts: Mapping[str, Fact],
    settings: Mapping[str, SettingWords],
) -> None:
    content = reading.document.content
    if not isinstance(content, dict):
        found = "the file is empty" if content is None else f"{shown(content)} at the top"
        reading.wrong((), found, f"write one of {', '.join(TOP_KEYS)} as a key at the left edge")
        return
    for key in content:
        if key not in TOP_KEYS:
            mend = hint(key, TOP_KEYS, f"known here: {', '.join(TOP_KEYS)}")
            reading.wrong((key,), "the key is unknown", mend)
    subject = content.get("subject", "")
    if not isinstance(subject, str) or ("subject" in content and not subject.strip()):
        reading.wrong(("subject",), f"{shown(subject)} is no subject", "write a word or two")
        subject = ""
    if "terms" in content:
        _place(gathered.terms, "terms", read_terms(reading, facts), reading, place)
    if "rules" in content:
        if "subject" not in content:
            mend = "add what the file's rules are about, for instance 'subject: start'"
            reading.wrong((), "the key subject is missing", mend)
        rules = read_rules(reading, subject.strip(), settings)
        gathered.rule_ids.update(rules)
        replaced = _place(gathered.rules, "rules", rules, reading, place)
        gathered.replaced.extend(
            Replaced(old, rules[old.id].origin)  # type: ignore[union-attr]
            for old in replaced
            if rules[old.id] is not None
        )
    if "remarks" in content:
        _place(gathered.remarks, "remarks", read_remarks(reading, settings), reading, place)
    if "switch_off" in content:
        _switch_off(reading, place, gathered)


def _place(
    shelf: dict[str, _Placed],
    kind: str,
    records: Mapping[str, Any],
    reading: Reading,
    place: int,
) -> list[Any]:
    replaced = []
    for name, record in records.items():
        path = (kind, name)
        known = shelf.get(name)
        if known is not None and known.place == place:
            stands = known.reading.origin(known.path)
            mend = "keep one of them, or give one another name"
            reading.wrong(path, f"{name} stands also in {stands}", mend)
        elif known is not None and known.record is not None:
            replaced.append(known.record)
        shelf[name] = _Placed(record, reading, path, place)
    return replaced


def _switch_off(reading: Reading, place: int, gathered: _Gathered) -> None:
    written = group(
        reading, ("switch_off",), reading.document.content["switch_off"], "rule-id: the reason"
    )
    for name, reason in written.items():
        path = ("switch_off", name)
        if not isinstance(reason, str) or not reason.strip():
            mend = "write in a few words why the rule does not hold for this team"
            reading.wrong(path, f"{shown(reason)} is no reason", mend)
        known = gathered.rules.get(name)
        if known is None:
            earlier = "only rules of an earlier folder can be switched off"
            mend = hint(name, gathered.rules, earlier)
            reading.wrong(path, "there is no such rule", mend)
        elif known.place == place:
            reading.wrong(path, "the rule stands in this folder", "take the rule out instead")
        else:
            del gathered.rules[name]
            if known.record is not None and isinstance(reason, str):
                gathered.switched_off.append(
                    SwitchedOff(known.record, reason.strip(), reading.origin(path))
                )


def _look_up(readings: list[Reading], gathered: _Gathered) -> None:
    known = {"term": gathered.terms.keys(), "rule": gathered.rule_ids}
    ways = {
        "term": "define it under terms, or use one that is defined",
        "rule": "name the id of a rule",
    }
    for reading in readings:
        for reference in reading.references:
            names = known[reference.kind]
            if reference.name not in names:
                found = f"there is no {reference.kind} {shown(reference.name)}"
                mend = hint(reference.name, names, ways[reference.kind])
                reading.wrong(reference.path, found, mend)


def _in_order(placed: Mapping[str, _Placed]) -> dict[str, Term]:
    """Order terms so that each stands after those it is made of; note circles."""
    needs: dict[str, list[str]] = {}
    for name, item in placed.items():
        term: Term | None = item.record
        when = term.when if term is not None else None
        needs[name] = [part for part in terms_in(when) if part in placed] if when else []
    for _ in range(_MOST_CIRCLES):
        try:
            order = tuple(graphlib.TopologicalSorter(needs).static_order())
        except graphlib.CycleError as error:
            circle: list[str] = error.args[1][::-1]
            first = placed[circle[0]]
            shown_circle = circle if len(circle) <= 6 else [*circle[:4], "...", circle[-1]]
            found = f"the term stands on itself: {' -> '.join(shown_circle)}"
            first.reading.wrong((*first.path, "when"), found, "break the circle")
            for name in circle:
                needs[name] = []
        else:
            return {name: placed[name].record for name in order}
    return {}


def _by_line(reading: Reading) -> list[Mistake]:
    source = f"{reading.document.source}:"

    def line(mistake: Mistake) -> int:
        digits = mistake.where.removeprefix(source).split(" ", 1)[0]
        return int(digits) if digits.isdigit() else 0

    return sorted([*reading.document.mistakes, *reading.mistakes], key=line)


def _bounded(mistakes: list[Mistake]) -> list[Mistake]:
    if len(mistakes) <= MOST_MISTAKES:
        return mistakes
    rest = Mistake(
        "the rule base",
        f"{len(mistakes) - MOST_MISTAKES} or more further mistakes are not listed",
        "mend these first",
    )
    return [*mistakes[:MOST_MISTAKES], rest]
