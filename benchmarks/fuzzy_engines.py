"""General-purpose fuzzy libraries, given the same terms and rules, asked for the degrees.

Terms are piecewise-linear memberships, "and" the minimum, "or" the maximum, "not" the complement,
as in the rule book. Only rules whose terms all stand over numbers and have no vertical side are
given, since the libraries take the mean or either side there.
"""

from __future__ import annotations

import warnings
from collections.abc import Callable, Iterator, Mapping, Sequence
from typing import Any

import numpy as np

from setupadvisor.rulebook.conditions import Condition, terms_in
from setupadvisor.rulebook.rulebase import RuleBase
from setupadvisor.rulebook.rules import Rule
from setupadvisor.rulebook.terms import Term

# From facts by name to degrees (rules, rows).
Ask = Callable[[Mapping[str, np.ndarray]], np.ndarray]


def expressible(rulebase: RuleBase) -> list[Rule]:
    """The rules that the fuzzy libraries can express."""

    def plain(term: Term) -> bool:
        values = [value for value, _ in term.points]
        return not term.choices and len(set(values)) == len(values)

    return [rule for rule in rulebase.rules if all(map(plain, terms_under(rulebase, rule.when)))]


def terms_under(rulebase: RuleBase, condition: Condition) -> Iterator[Term]:
    """The terms over facts that a condition comes down to."""
    for name in terms_in(condition):
        term = rulebase.terms[name]
        if term.when is None:
            yield term
        else:
            yield from terms_under(rulebase, term.when)


def _facts(rulebase: RuleBase, rules: Sequence[Rule]) -> dict[str, dict[str, Term]]:
    """The terms over each fact."""
    found: dict[str, dict[str, Term]] = {}
    for rule in rules:
        for term in terms_under(rulebase, rule.when):
            found.setdefault(term.fact, {})[term.name] = term
    return found


def _universe(terms: Mapping[str, Term]) -> np.ndarray:
    """All breakpoints of a fact's terms."""
    return np.unique([value for term in terms.values() for value, _ in term.points])


def _on(universe: np.ndarray, term: Term) -> np.ndarray:
    values, heights = zip(*term.points, strict=True)
    return np.interp(universe, values, heights)


def simpful_rules(rulebase: RuleBase, rules: Sequence[Rule]) -> Ask:
    """Python, `simpful`: rules as text, firing strengths read out; one row at a time."""
    import simpful  # noqa: PLC0415 - an extra

    facts = _facts(rulebase, rules)
    # Its words may hold letters, figures and underscores; terms are numbered to be safe.
    number = {name: f"t{place}" for place, name in enumerate(rulebase.terms)}
    system = simpful.FuzzySystem(show_banner=False, verbose=False)
    for fact, terms in facts.items():
        universe = _universe(terms)
        sets = [
            simpful.FuzzySet(
                points=np.column_stack([universe, _on(universe, term)]).tolist(), term=number[name]
            )
            for name, term in terms.items()
        ]
        system.add_linguistic_variable(fact, simpful.LinguisticVariable(sets, concept=fact))
    system.set_crisp_output_value("yes", 1.0)

    def written(condition: Condition) -> str:
        if condition.kind == "term":
            term = rulebase.terms[condition.term]
            if term.when is not None:
                return written(term.when)
            return f"({term.fact} IS {number[term.name]})"
        if condition.kind == "not":
            return f"(NOT {written(condition.parts[0])})"
        words = [written(part) for part in condition.parts]
        joint = " OR " if condition.kind == "any" else " AND "
        found = words[0]
        for word in words[1:]:
            found = f"({found}{joint}{word})"
        return found

    system.add_rules([f"IF {written(rule.when)} THEN (speaks IS yes)" for rule in rules])

    def ask(values: Mapping[str, np.ndarray]) -> np.ndarray:
        rows = len(next(iter(values.values())))
        found = np.empty((len(rules), rows))
        for row in range(rows):
            for fact in facts:
                system.set_variable(fact, float(values[fact][row]))
            found[:, row] = system.get_firing_strengths()
        return found

    return ask


def scikit_fuzzy_control(rulebase: RuleBase, rules: Sequence[Rule]) -> Ask:
    """Python and numpy, `scikit-fuzzy`: its control system, arrays in."""
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        from skfuzzy import control  # noqa: PLC0415 - an extra
        from skfuzzy.control import controlsystem  # noqa: PLC0415

    facts = _facts(rulebase, rules)
    variables = {}
    for fact, terms in facts.items():
        universe = _universe(terms)
        variables[fact] = control.Antecedent(universe, fact)
        for name, term in terms.items():
            variables[fact][name] = _on(universe, term)

    def written(condition: Condition) -> object:
        if condition.kind == "term":
            term = rulebase.terms[condition.term]
            return written(term.when) if term.when is not None else variables[term.fact][term.name]
        if condition.kind == "not":
            return ~written(condition.parts[0])
        found = written(condition.parts[0])
        for part in condition.parts[1:]:
            other = written(part)
            found = found | other if condition.kind == "any" else found & other
        return found

    speaks = control.Consequent(np.array([0.0, 1.0]), "speaks")
    speaks["yes"] = np.array([0.0, 1.0])
    given = [control.Rule(written(rule.when), speaks["yes"]) for rule in rules]
    simulation = control.ControlSystemSimulation(control.ControlSystem(given), cache=False)
    ends = {fact: (terms.universe[0], terms.universe[-1]) for fact, terms in variables.items()}

    def ask(values: Mapping[str, np.ndarray]) -> np.ndarray:
        # Memberships and firing strengths as its `compute` finds them, without the costly step from
        # there to a single output, which is not asked for.
        for fact, variable in variables.items():
            inside = np.clip(values[fact], *ends[fact])
            controlsystem.CrispValueCalculator(variable, simulation).fuzz(inside)
        found = np.array([firing(rule) for rule in given])
        simulation._reset_simulation()
        return found

    def firing(rule: Any) -> np.ndarray:
        if hasattr(rule.antecedent, "agg_methods"):
            rule.antecedent.agg_methods = rule._aggregation_methods
        return rule.antecedent.membership_value[simulation]

    return ask


def scikit_fuzzy_by_hand(rulebase: RuleBase, rules: Sequence[Rule]) -> Ask:
    """The rules written out by hand in numpy over `scikit-fuzzy`'s memberships; no engine."""
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        from skfuzzy import interp_membership  # noqa: PLC0415 - an extra

    points = {
        name: tuple(np.array(side) for side in zip(*term.points, strict=True))
        for terms in _facts(rulebase, rules).values()
        for name, term in terms.items()
    }

    def ask(values: Mapping[str, np.ndarray]) -> np.ndarray:
        known: dict[str, np.ndarray] = {}

        def degree(condition: Condition) -> np.ndarray:
            if condition.kind == "term":
                name = condition.term
                term = rulebase.terms[name]
                if name not in known:
                    known[name] = (
                        degree(term.when)
                        if term.when is not None
                        else interp_membership(*points[name], values[term.fact], False)
                    )
                return known[name]
            parts = [degree(part) for part in condition.parts]
            if condition.kind == "not":
                return 1.0 - parts[0]
            joint = np.fmax if condition.kind == "any" else np.fmin
            found = parts[0]
            for part in parts[1:]:
                found = joint(found, part)
            return found

        return np.array([degree(rule.when) for rule in rules])

    return ask


FUZZY: Mapping[str, Callable[[RuleBase, Sequence[Rule]], Ask]] = {
    "simpful": simpful_rules,
    "scikit-fuzzy control": scikit_fuzzy_control,
}
BY_HAND = "scikit-fuzzy by hand"
