"""Review of single conditions: rules and candidates that never speak, or always do."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence

from setupadvisor.facts.fact import Fact
from setupadvisor.rulebook.conditions import Condition
from setupadvisor.rulebook.findings import Finding
from setupadvisor.rulebook.ground import Grounds, Level, TooTangled
from setupadvisor.rulebook.rulebase import RuleBase


def rule_ground_findings(
    rulebase: RuleBase, grounds: Grounds, judged: Sequence[int]
) -> Iterator[Finding]:
    """Find rules that can never speak, never clearly, or always do.

    Parameters
    ----------
    rulebase : RuleBase
        The rules.
    grounds : Grounds
        Of the rules' conditions, by their place.
    judged : sequence of int
        Places of the rules to look at.

    Yields
    ------
    Finding
        In the order of the rules.
    """
    for place in judged:
        rule = rulebase.rules[place]
        where = f"{rule.origin} rules.{rule.id}.when"
        words = str(rule.when)
        if not grounds.where(place):
            yield Finding(
                "never speaks",
                "serious",
                where,
                f"no track can be '{words}'",
                "let its terms overlap, or take the rule out",
            )
        elif not grounds.where(place, reached=False):
            yield Finding(
                "always speaks",
                "serious",
                where,
                f"every track is at least a little '{words}'",
                "move it into the house value, or add the term that it depends on",
            )
        elif not grounds.where(place, Level.HALF):
            yield Finding(
                "never clearly",
                "worth a look",
                where,
                f"'{words}' holds less than half on every track",
                "let its terms overlap further, or the amount will never be reached",
            )


def remark_findings(rulebase: RuleBase, facts: Mapping[str, Fact]) -> Iterator[Finding]:
    """Find candidates of remarks that are never offered, or ranked by what says nothing.

    Parameters
    ----------
    rulebase : RuleBase
        The remarks.
    facts : mapping of str to Fact
        The facts.

    Yields
    ------
    Finding
        In the order of the remarks.
    """
    places: list[tuple[str, str]] = []
    conditions: list[Condition] = []
    for remark in rulebase.remarks:
        seen: dict[object, int] = {}
        for number, candidate in enumerate(remark.candidates, start=1):
            path = f"{remark.origin} remarks.{remark.id}.try.{number}"
            same = (candidate.changes, candidate.check, candidate.prepare)
            first = seen.setdefault(same, number)
            if first != number:
                yield Finding(
                    "tried twice",
                    "worth a look",
                    path,
                    f"the same is tried as number {first}",
                    "keep one of them, with both conditions under any",
                )
            for key in ("when", "better", "worse"):
                condition: Condition | None = getattr(candidate, key)
                if condition is not None:
                    places.append((path, key))
                    conditions.append(condition)
    grounds = Grounds(conditions, rulebase.terms, facts)
    for place, (path, key) in enumerate(places):
        yield from _candidate_finding(grounds, place, f"{path}.{key}", key, str(conditions[place]))


def _candidate_finding(
    grounds: Grounds, place: int, where: str, key: str, words: str
) -> Iterator[Finding]:
    try:
        ever, sometimes_not = grounds.where(place), grounds.where(place, reached=False)
    except TooTangled:
        return
    if not ever:
        yield Finding(
            "never offered" if key == "when" else "never ranked",
            "serious" if key == "when" else "worth a look",
            where,
            f"no track can be '{words}'",
            "let its terms overlap, or take it out",
        )
    elif not sometimes_not:
        yield Finding(
            "always ranked",
            "worth a look",
            where,
            f"every track is at least a little '{words}'",
            "take the condition out, and change the order or the gain instead",
        )
