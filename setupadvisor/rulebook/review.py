"""Review of a rule base by machine: what is seldom meant, beside what is wrong.

What is wrong (unknown words, impossible numbers) is an error and stops loading. A finding is sound
to load and probably not what its author wanted: a rule that can never speak, two rules that pull
one setting opposite ways without saying so, a word that nobody uses. Grounds and reaches are exact
for facts that are independent of each other, see `ground` and `reach`.
"""

from __future__ import annotations

from collections.abc import Collection, Iterator, Mapping

from setupadvisor.facts.fact import Fact
from setupadvisor.rulebook.findings import Finding, by_severity
from setupadvisor.rulebook.ground import MOST_BOXES, Grounds, Level, TooTangled
from setupadvisor.rulebook.review_conditions import remark_findings, rule_ground_findings
from setupadvisor.rulebook.review_pairs import pair_findings
from setupadvisor.rulebook.review_reach import reach_findings
from setupadvisor.rulebook.review_texts import text_findings
from setupadvisor.rulebook.review_words import fact_findings, term_findings
from setupadvisor.rulebook.rulebase import RuleBase
from setupadvisor.rulebook.settings import SettingWords

# Above this, comparing every rule with every other one takes longer than anybody waits.
MOST_COMPARED = 2000


def review(
    rulebase: RuleBase,
    facts: Mapping[str, Fact],
    settings: Mapping[str, SettingWords],
    *,
    entries: Collection[str] = (),
    facts_used: Collection[str] = (),
    cautioned: Collection[str] = (),
    house: Mapping[str, float] | None = None,
) -> list[Finding]:
    """Look a rule base through.

    Parameters
    ----------
    rulebase : RuleBase
        Loaded, so free of errors.
    facts : mapping of str to Fact
        The facts there are.
    settings : mapping of str to SettingWords
        The settings there are.
    entries : collection of str
        Paths that a person can fill in (``walk.air.temperature_c``); where none is given, what
        nobody can enter is not looked for.
    facts_used : collection of str
        Facts that something beside the rules uses, house values for instance.
    cautioned : collection of str
        Settings whose own entry carries cautions.
    house : mapping of str to float, optional
        House values: a setting whose house value is one end of its range is moved from there only.

    Returns
    -------
    list of Finding
        Serious ones first, then in the order of the rules.

    Notes
    -----
    Facts count as independent: two rules on ground that no track has (sand by its grains, clay by
    its name) may still be said to meet. Nothing that can meet is missed.
    """
    return by_severity(
        [
            *_rule_findings(rulebase, facts, settings, house or {}),
            *remark_findings(rulebase, facts),
            *term_findings(rulebase, facts),
            *fact_findings(rulebase, facts, entries, facts_used),
            *text_findings(rulebase, settings, cautioned),
        ]
    )


def _rule_findings(
    rulebase: RuleBase,
    facts: Mapping[str, Fact],
    settings: Mapping[str, SettingWords],
    house: Mapping[str, float],
) -> Iterator[Finding]:
    grounds = Grounds([rule.when for rule in rulebase.rules], rulebase.terms, facts)
    judged = []
    for place, rule in enumerate(rulebase.rules):
        if _can_be_judged(grounds, place):
            judged.append(place)
            continue
        yield Finding(
            "too tangled",
            "worth a look",
            f"{rule.origin} rules.{rule.id}.when",
            f"the condition comes to more than {MOST_BOXES} cases and was not reviewed",
            "split the rule, or put its 'any' groups into terms of fewer words",
        )
    yield from rule_ground_findings(rulebase, grounds, judged)
    if len(rulebase.rules) <= MOST_COMPARED:
        yield from pair_findings(rulebase, settings, grounds, judged)
        yield from reach_findings(rulebase, facts, settings, grounds, house)
    else:
        yield Finding(
            "too many rules",
            "worth a look",
            "the rule base",
            f"{len(rulebase.rules)} rules are too many to compare each with each",
            f"review at most {MOST_COMPARED} at once",
        )


def _can_be_judged(grounds: Grounds, place: int) -> bool:
    try:
        for level in Level:
            for reached in (True, False):
                grounds.where(place, level, reached=reached)
    except TooTangled:
        return False
    return True
