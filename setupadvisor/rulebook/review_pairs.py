"""Review of pairs of rules: repeated ones, opposite ones, and what they say of each other."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterator, Mapping, Sequence
from itertools import combinations, permutations

from setupadvisor.rulebook.findings import Finding
from setupadvisor.rulebook.ground import Grounds, Level, TooTangled, meet
from setupadvisor.rulebook.rulebase import RuleBase
from setupadvisor.rulebook.rules import Rule
from setupadvisor.rulebook.settings import SettingWords

Effect = tuple[str, object, object]


def pair_findings(
    rulebase: RuleBase,
    settings: Mapping[str, SettingWords],
    grounds: Grounds,
    judged: Sequence[int],
) -> Iterator[Finding]:
    """Find rules that repeat others, pull against others unsaid, or balance nothing.

    Parameters
    ----------
    rulebase : RuleBase
        The rules.
    settings : mapping of str to SettingWords
        Tell a setting's two directions.
    grounds : Grounds
        Of the rules' conditions, by their place.
    judged : sequence of int
        Places of the rules to look at.

    Yields
    ------
    Finding
        Repetitions, then opposite pulls, then idle balances.
    """
    rules = rulebase.rules
    yield from _repeated(rules, grounds, judged)
    against: dict[str, dict[str, bool]] = defaultdict(dict)
    for one, other in combinations(judged, 2):
        pulled = _opposite(rules[one], rules[other], settings)
        if not pulled:
            continue
        box = meet(grounds.where(one), grounds.where(other))
        against[rules[one].id][rules[other].id] = against[rules[other].id][rules[one].id] = (
            box is not None
        )
        said = rules[other].id in rules[one].balances or rules[one].id in rules[other].balances
        if box is None or said:
            continue
        strongly = meet(grounds.where(one, Level.HALF), grounds.where(other, Level.HALF))
        ground = grounds.told(strongly or box) or "every track"
        yield Finding(
            "opposite",
            "serious" if strongly is not None else "worth a look",
            f"{rules[other].origin} rules.{rules[other].id}.change",
            f"it pulls {' and '.join(pulled)} against {rules[one].id} where both speak ({ground})",
            f"if that is meant write 'balances: [{rules[one].id}]', else part their conditions",
        )
    yield from _idle(rulebase, against, {rules[place].id for place in judged})


def _effects(rule: Rule) -> frozenset[Effect]:
    changes: set[Effect] = {(c.setting, c.direction, c.amount) for c in rule.changes}
    tasks: set[Effect] = {("prepare", task, None) for task in rule.prepare}
    watched: set[Effect] = {("watch", thing, None) for thing in rule.watch}
    return frozenset(changes | tasks | watched)


def _repeated(rules: Sequence[Rule], grounds: Grounds, judged: Sequence[int]) -> Iterator[Finding]:
    sharing: dict[Effect, list[int]] = defaultdict(list)
    effects = {place: _effects(rules[place]) for place in judged}
    for place in judged:
        for effect in effects[place]:
            sharing[effect].append(place)
    pairs = {pair for places in sharing.values() for pair in permutations(places, 2)}
    for one, other in sorted(pairs):
        if not effects[one] <= effects[other] or not _within(grounds, one, other):
            continue
        same = effects[one] == effects[other] and _within(grounds, other, one)
        if same and one < other:
            continue
        name = rules[other].id
        yield Finding(
            "duplicate" if same else "contained",
            "serious",
            f"{rules[one].origin} rules.{rules[one].id}",
            f"it does and says the same as {name}"
            if same
            else f"wherever it speaks, {name} already does all that it does",
            "keep one of them, since amounts add up"
            if same
            else "take it out, or give it an amount or a task of its own",
        )


def _within(grounds: Grounds, one: int, other: int) -> bool:
    """Say whether the first speaks, and fully speaks, only where the second does."""
    try:
        return all(
            meet(grounds.where(one, level), grounds.where(other, level, reached=False)) is None
            for level in Level
        )
    except TooTangled:
        return False


def _opposite(one: Rule, other: Rule, settings: Mapping[str, SettingWords]) -> list[str]:
    signs = {c.setting: _sign(settings, c.setting, c.direction) for c in one.changes}
    return [
        change.setting
        for change in other.changes
        if signs.get(change.setting, 0) * _sign(settings, change.setting, change.direction) < 0
    ]


def _sign(settings: Mapping[str, SettingWords], setting: str, direction: str) -> int:
    return settings[setting].sign(direction) if setting in settings else 0


def _idle(
    rulebase: RuleBase, against: Mapping[str, Mapping[str, bool]], judged: set[str]
) -> Iterator[Finding]:
    for rule in rulebase.rules:
        for place, other in enumerate(rule.balances, start=1):
            # One that a later folder switched off, or that could not be judged, is no fault here.
            if other not in judged or rule.id not in judged:
                continue
            met = against.get(rule.id, {}).get(other)
            if met:
                continue
            yield Finding(
                "idle balance",
                "worth a look",
                f"{rule.origin} rules.{rule.id}.balances.{place}",
                f"{other} pulls no setting the other way"
                if met is None
                else f"{other} never speaks on the same ground",
                "take it out of the list",
            )
