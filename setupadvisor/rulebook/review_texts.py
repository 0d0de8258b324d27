"""Review of what rules say of themselves: source, reason, caution, confidence, direction words."""

from __future__ import annotations

import re
from collections.abc import Collection, Iterator, Mapping
from typing import Literal

from setupadvisor.rulebook.findings import Finding
from setupadvisor.rulebook.rulebase import RuleBase
from setupadvisor.rulebook.rules import Rule
from setupadvisor.rulebook.settings import SettingWords

Evidence = Literal["published", "practice", "none"]

# A reason shorter than this names no cause.
FEWEST_WORDS_OF_A_REASON = 4

_PRACTICE = re.compile(r"\bcommon practice\b", re.IGNORECASE)
# An author and a title or year, or the number of a standard.
_PUBLISHED = re.compile(
    r"\b[A-Z][\w'’-]+.*(?:,\s+\S*[A-Z]|\b(?:1[5-9]|20)\d\d\b)|\b[A-Z]{2,}\b[^,;]*\d"
)
_FROM_MEMORY = re.compile(r"\bfrom memory\b", re.IGNORECASE)
_PLACEHOLDER = re.compile(r"(?i)\b(?:todo|tbd|fixme|to be (?:done|added)|n/?a)\b|\?\?|^\W*$")
# What a task may name that burns, poisons, cuts, crushes or leaves somebody without brakes.
DANGERS = (
    "brake fluid",
    "brake pad",
    "caliper",
    "petrol",
    "fuel",
    "battery",
    "coolant",
    "hot",
    "boil",
    "spray",
    "solvent",
    "cleaner",
    "blow",
    "compressor",
    "pressure",
    "drill",
    "weld",
    "engine running",
    "release agent",
)
_DANGEROUS = re.compile(rf"(?i)\b(?:{'|'.join(DANGERS)})s?\b")


def evidence(source: str) -> Evidence:
    """Say what a source amounts to.

    Parameters
    ----------
    source : str
        As a rule gives it.

    Returns
    -------
    str
        ``"published"`` for a work or a standard by name, ``"practice"`` for common practice that
        says so, ``"none"`` for anything else.

    Examples
    --------
    >>> evidence("Hubbard 2009 (equivalent fall height); amount common practice")
    'published'
    >>> evidence("ISO 5011"), evidence("common practice, no source"), evidence("a mate")
    ('published', 'practice', 'none')
    """
    if _PUBLISHED.search(source):
        return "published"
    return "practice" if _PRACTICE.search(source) else "none"


def text_findings(
    rulebase: RuleBase, settings: Mapping[str, SettingWords], cautioned: Collection[str]
) -> Iterator[Finding]:
    """Find rules whose texts leave out what a reader must know.

    Parameters
    ----------
    rulebase : RuleBase
        The rules and remarks.
    settings : mapping of str to SettingWords
        Tell a setting's two directions.
    cautioned : collection of str
        Settings whose own entry carries cautions.

    Yields
    ------
    Finding
        Rule by rule, then remark by remark.
    """
    titles: dict[str, str] = {}
    for rule in rulebase.rules:
        where = f"{rule.origin} rules.{rule.id}"
        yield from _source(where, rule.source, rule.confidence)
        yield from _reason(where, rule.why, rule.title)
        yield from _caution(where, rule, cautioned)
        yield from _cut_in_two(f"{where}.prepare", rule.prepare)
        yield from _cut_in_two(f"{where}.watch", rule.watch)
        yield from _direction(where, rule, settings)
        first = titles.setdefault(rule.title.casefold(), rule.id)
        if first != rule.id:
            found = f"{first} has the same title"
            mend = "say in the title what sets it apart"
            yield Finding("same title", "worth a look", f"{where}.title", found, mend)
    for remark in rulebase.remarks:
        where = f"{remark.origin} remarks.{remark.id}"
        yield from _source(where, remark.source, "")
        for number, candidate in enumerate(remark.candidates, start=1):
            path = f"{where}.try.{number}"
            yield from _reason(path, candidate.why, remark.title)
            yield from _cut_in_two(f"{path}.check", candidate.check)
            yield from _cut_in_two(f"{path}.prepare", candidate.prepare)
            tasks = (*candidate.check, *candidate.prepare)
            moved = {change.setting for change in candidate.changes}
            if not candidate.caution and (
                moved - set(cautioned) or (not moved and _names_danger(tasks))
            ):
                yield _no_caution(path, sorted(moved - set(cautioned)), tasks)


def _source(where: str, source: str, confidence: str) -> Iterator[Finding]:
    kind = evidence(source)
    here = f"{where}.source"
    if kind == "none" or _PLACEHOLDER.search(source):
        firm = confidence == "firm"
        yield Finding(
            "no source",
            "serious" if firm else "worth a look",
            here,
            f"'{source}' names no published work" + (", and the rule is firm" if firm else ""),
            "name author and title, or a standard, or write 'common practice, no source'",
        )
    elif confidence == "firm" and _FROM_MEMORY.search(source):
        yield Finding(
            "confidence",
            "worth a look",
            here,
            "the rule is firm, but its source is partly from memory",
            "open the source, or let the confidence be usual",
        )


def _reason(where: str, why: str, title: str) -> Iterator[Finding]:
    words = re.findall(r"\w+", why)
    empty = _PLACEHOLDER.search(why) is not None
    if empty or len(words) < FEWEST_WORDS_OF_A_REASON or why.casefold() == title.casefold():
        yield Finding(
            "no reason",
            "worth a look",
            f"{where}.why",
            f"'{why}' is no reason",
            "say in a sentence what happens on the motorcycle",
        )


def _caution(where: str, rule: Rule, cautioned: Collection[str]) -> Iterator[Finding]:
    moved = [change.setting for change in rule.changes]
    bare = [setting for setting in moved if setting not in cautioned]
    tasks = () if moved else (*rule.prepare, *rule.watch)
    if not rule.caution and (bare or _names_danger(tasks)):
        yield _no_caution(where, bare, tasks)


def _names_danger(tasks: tuple[str, ...]) -> bool:
    return any(_DANGEROUS.search(task) for task in tasks)


def _no_caution(where: str, bare: list[str], tasks: tuple[str, ...]) -> Finding:
    found = next((match[0] for task in tasks if (match := _DANGEROUS.search(task))), "")
    return Finding(
        "no caution",
        "worth a look",
        f"{where}.caution",
        f"{', '.join(bare)} has no caution in the machine file and none here"
        if bare
        else f"a task with '{found}' can hurt, and there is no caution",
        "say where it can hurt and whose word is the last (manual, event rules)",
    )


def _cut_in_two(where: str, tasks: tuple[str, ...]) -> Iterator[Finding]:
    """Find a sentence whose commas made several tasks of it: ``[Clean, check and grease it]``."""
    if tasks and not tasks[0][:1].islower() and any(task[:1].islower() for task in tasks):
        cut = next(task for task in tasks if task[:1].islower())
        yield Finding(
            "cut in two",
            "serious",
            where,
            f"'{cut}' stands as a task of its own",
            "put a task with commas in quotes, or begin each task with a capital letter",
        )


def _direction(where: str, rule: Rule, settings: Mapping[str, SettingWords]) -> Iterator[Finding]:
    """Find a title that says the opposite of the rule's only change."""
    if len(rule.changes) != 1 or rule.changes[0].setting not in settings:
        return
    change = rule.changes[0]
    words = settings[change.setting]
    opposite = words.down if change.direction == words.up else words.up
    says = {word: re.search(rf"(?i)\b{re.escape(word)}\b", rule.title) for word in words_of(words)}
    if says[opposite] and not says[change.direction]:
        yield Finding(
            "title",
            "worth a look",
            f"{where}.title",
            f"the title says {opposite}, the change {change.direction}",
            "mend whichever is wrong",
        )


def words_of(setting: SettingWords) -> tuple[str, str]:
    """Give a setting's two direction words.

    Parameters
    ----------
    setting : SettingWords
        The setting.

    Returns
    -------
    tuple of str and str
        Up and down.
    """
    return setting.up, setting.down
