"""Review of terms and facts: unused ones, impossible ones, wrong units."""

from __future__ import annotations

from collections.abc import Collection, Iterable, Iterator, Mapping

from setupadvisor.facts.fact import Fact
from setupadvisor.rulebook.conditions import Condition, terms_in
from setupadvisor.rulebook.findings import Finding
from setupadvisor.rulebook.rulebase import RuleBase
from setupadvisor.rulebook.terms import Term, degree


def term_findings(rulebase: RuleBase, facts: Mapping[str, Fact]) -> Iterator[Finding]:
    """Find terms that nobody uses, that say nothing, or that are there twice.

    Parameters
    ----------
    rulebase : RuleBase
        The terms.
    facts : mapping of str to Fact
        The facts with their reachable ranges.

    Yields
    ------
    Finding
        In the order of the terms.
    """
    used = used_terms(rulebase)
    meant: dict[object, str] = {}
    for name, term in rulebase.terms.items():
        where = f"{term.origin} terms.{name}"
        if name not in used:
            yield Finding(
                "unused term",
                "worth a look",
                where,
                "no rule and no remark uses the term",
                "use it or take it out",
            )
        first = meant.setdefault((term.fact, term.points, term.when), name)
        if first != name:
            found = f"it means the same as {first}"
            yield Finding("same term", "worth a look", where, found, "keep one word for one thing")
        if term.when is None and not facts[term.fact].is_category:
            yield from _over_number(term, facts[term.fact], where)


def used_terms(rulebase: RuleBase) -> set[str]:
    """Give the terms that rules and remarks name, and the terms that those are made of.

    Parameters
    ----------
    rulebase : RuleBase
        The rule base.

    Returns
    -------
    set of str
        Their names.
    """
    used = {name for condition in _conditions(rulebase) for name in terms_in(condition)}
    for term in reversed(list(rulebase.terms.values())):
        if term.name in used and term.when is not None:
            used.update(terms_in(term.when))
    return used


def _conditions(rulebase: RuleBase) -> Iterator[Condition]:
    for rule in rulebase.rules:
        yield rule.when
    for remark in rulebase.remarks:
        for candidate in remark.candidates:
            for condition in (candidate.when, candidate.better, candidate.worse):
                if condition is not None:
                    yield condition


def _over_number(term: Term, fact: Fact, where: str) -> Iterator[Finding]:
    reach = f"{fact.low:g} to {fact.high:g} {fact.unit}".rstrip()
    inside = [value for value, _ in term.points if fact.low <= value <= fact.high]
    degrees = {degree(term.points, value) for value in (fact.low, *inside, fact.high)}
    if len(degrees) == 1:
        yield Finding(
            "says nothing",
            "serious",
            f"{where}.points",
            f"its degree is {degrees.pop():g} wherever {fact.name} can be ({reach})",
            f"are the points in {fact.unit or 'the unit of the fact'}?",
        )
    elif len(inside) < len(term.points):
        beyond = next(value for value, _ in term.points if value not in inside)
        yield Finding(
            "beyond reach",
            "worth a look",
            f"{where}.points",
            f"{beyond:g} is outside what {fact.name} can be ({reach})",
            "move the point inside, so that the term can reach its degree",
        )


def fact_findings(
    rulebase: RuleBase,
    facts: Mapping[str, Fact],
    entries: Collection[str],
    facts_used: Collection[str],
) -> Iterator[Finding]:
    """Find facts that nobody uses, and facts in use that nobody can enter.

    Parameters
    ----------
    rulebase : RuleBase
        The terms that use facts.
    facts : mapping of str to Fact
        The facts.
    entries : collection of str
        Paths that a person can fill in; empty if that is not known.
    facts_used : collection of str
        Facts that something beside the rules uses.

    Yields
    ------
    Finding
        In the order of the facts.
    """
    used = used_terms(rulebase)
    read = {term.fact: term for name, term in rulebase.terms.items() if name in used and term.fact}
    needed = _with_inputs({*read, *facts_used}, facts)
    for name, fact in facts.items():
        if name not in needed:
            yield Finding(
                "unused fact",
                "worth a look",
                f"fact {name}",
                "no rule, no other fact and no house value uses it",
                "make a term of it, or take it out of the catalogue",
            )
        elif name in read and entries:
            missing = sorted(
                path
                for path in _with_inputs({name}, facts)
                if path not in facts and path not in entries
            )
            if missing or not fact.inputs:
                yield Finding(
                    "cannot be entered",
                    "serious",
                    f"{read[name].origin} terms.{read[name].name}",
                    f"{name} stands on {', '.join(missing) or 'nothing'}, which nobody can enter",
                    "add the field to the entry, or use another fact",
                )


def _with_inputs(names: Iterable[str], facts: Mapping[str, Fact]) -> set[str]:
    found: set[str] = set()
    todo = list(names)
    while todo:
        name = todo.pop()
        if name not in found:
            found.add(name)
            if name in facts:
                todo.extend(facts[name].inputs)
    return found
