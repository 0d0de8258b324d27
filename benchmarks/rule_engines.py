"""General-purpose rule engines, asked the rule base's own question: does each rule speak?

Each engine gets every rule's condition as one Boolean expression of comparisons, terms written out
where they stand (`cone_index_kpa < 700`), and answers yes or no for one row. That is less than the
rule book gives (a degree from 0 to 1), so the comparison favours the engines. Each is fed in the
way found fastest: all conditions as one list expression where the engine can give a list.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping, Sequence
from itertools import pairwise

from setupadvisor.rulebook.conditions import Condition
from setupadvisor.rulebook.rulebase import RuleBase
from setupadvisor.rulebook.terms import Points, Term, degree

Row = Mapping[str, float]
# Answers of all rules for each row.
Answers = list[list[bool]]
Engine = Callable[[Sequence[Row]], Answers]


class Syntax:
    """How an engine writes conditions."""

    def __init__(self, both: str, either: str, negation: str, nothing: str, everything: str):
        self.both, self.either, self.negation = both, either, negation
        self.nothing, self.everything = nothing, everything

    def compare(self, fact: str, sign: str, value: float) -> str:
        return f"{fact} {sign} {value!r}"

    def joined(self, parts: Sequence[str], *, either: bool) -> str:
        if len(parts) == 1:
            return parts[0]
        return "(" + f" {self.either if either else self.both} ".join(parts) + ")"


class Prefix(Syntax):
    """The same as lists, the operator first: CLIPS."""

    def compare(self, fact: str, sign: str, value: float) -> str:
        return f"({'=' if sign == '==' else sign} ?{fact} {value!r})"

    def joined(self, parts: Sequence[str], *, either: bool) -> str:
        return parts[0] if len(parts) == 1 else f"({'or' if either else 'and'} {' '.join(parts)})"


C_LIKE = Syntax("&&", "||", "!", "false", "true")
WORDS = Syntax("and", "or", "not ", "false", "true")
LISTS = Prefix("", "", "", "FALSE", "TRUE")


def conditions_in(syntax: Syntax, rulebase: RuleBase) -> list[str]:
    """Write every rule's condition: where its degree is above 0."""
    written = {}
    for name, term in rulebase.terms.items():
        written[name, True] = _term(syntax, term, written, speaks=True)
        written[name, False] = _term(syntax, term, written, speaks=False)
    return [_condition(syntax, rule.when, written, speaks=True) for rule in rulebase.rules]


def _term(
    syntax: Syntax, term: Term, written: Mapping[tuple[str, bool], str], *, speaks: bool
) -> str:
    if term.when is not None:
        return _condition(syntax, term.when, written, speaks=speaks)
    return _where(syntax, term.fact, term.points, speaks=speaks)


def _condition(
    syntax: Syntax,
    condition: Condition,
    written: Mapping[tuple[str, bool], str],
    *,
    speaks: bool,
) -> str:
    """Write where a degree is above 0 (speaks), or below 1, where its complement speaks."""
    if condition.kind == "term":
        return written[condition.term, speaks]
    if condition.kind == "not":
        return _condition(syntax, condition.parts[0], written, speaks=not speaks)
    parts = [_condition(syntax, part, written, speaks=speaks) for part in condition.parts]
    return syntax.joined(parts, either=(condition.kind == "any") == speaks)


def _where(syntax: Syntax, fact: str, points: Points, *, speaks: bool) -> str:
    def holds(value: float) -> bool:
        found = degree(points, value)
        return found > 0 if speaks else found < 1

    values = list(dict.fromkeys(value for value, _ in points))
    middles = [(left + right) / 2 for left, right in pairwise(values)]
    # Cells in order: below, first value, between, second value, ..., above.
    cells = [values[0] - 1, values[0]]
    for middle, value in zip(middles, values[1:], strict=True):
        cells += [middle, value]
    cells.append(values[-1] + 1)
    held = [holds(cell) for cell in cells]
    parts = []
    start = None
    for place in range(len(held) + 1):
        inside = place < len(held) and held[place]
        if inside and start is None:
            start = place
        elif not inside and start is not None:
            parts.append(_between(syntax, fact, values, start, place - 1))
            start = None
    return syntax.joined(parts, either=True) if parts else syntax.nothing


def _between(syntax: Syntax, fact: str, values: Sequence[float], first: int, last: int) -> str:
    """Write a run of cells; even cells are open stretches, odd ones single values."""
    low = values[(first - 1) // 2] if first > 0 else -math.inf
    high = values[last // 2] if last < 2 * len(values) else math.inf
    if low == high:
        return syntax.compare(fact, "==", low)
    parts = []
    if low > -math.inf:
        parts.append(syntax.compare(fact, ">=" if first % 2 else ">", low))
    if high < math.inf:
        parts.append(syntax.compare(fact, "<=" if last % 2 else "<", high))
    return syntax.joined(parts, either=False) if parts else syntax.everything


def zen_engine(rulebase: RuleBase) -> Engine:
    """Rust, its own expression language: one list expression."""
    import zen  # noqa: PLC0415 - an extra

    program = zen.compile_expression(f"[{', '.join(conditions_in(WORDS, rulebase))}]")
    return lambda rows: [program.evaluate(row) for row in rows]


def cel_in_rust(rulebase: RuleBase) -> Engine:
    """Rust binding of the Common Expression Language: one list expression."""
    import cel  # noqa: PLC0415 - an extra

    program = cel.compile(f"[{', '.join(conditions_in(C_LIKE, rulebase))}]")
    return lambda rows: [program.execute(row) for row in rows]


def cel_in_cpp(rulebase: RuleBase) -> Engine:
    """C++ runtime of the Common Expression Language: one list expression, types checked before."""
    from cel_expr_python import cel  # noqa: PLC0415 - an extra

    facts = sorted({term.fact for term in rulebase.terms.values() if term.fact})
    environment = cel.NewEnv(variables=dict.fromkeys(facts, cel.Type.DOUBLE))
    program = environment.compile(f"[{', '.join(conditions_in(C_LIKE, rulebase))}]")
    return lambda rows: [
        [answer.value() for answer in program.eval(data=row).value()] for row in rows
    ]


def clips_rules(rulebase: RuleBase) -> Engine:
    """C, CLIPS: one template fact a row, one rule a condition, forward chaining."""
    import clips  # noqa: PLC0415 - an extra

    facts = sorted({term.fact for term in rulebase.terms.values() if term.fact})
    environment = clips.Environment()
    slots = " ".join(f"(slot {fact} (type FLOAT))" for fact in facts)
    environment.build(f"(deftemplate walk {slots})")
    spoken: list[int] = []
    environment.define_function(spoken.append, "speaks")
    for place, condition in enumerate(conditions_in(LISTS, rulebase)):
        read = " ".join(f"({fact} ?{fact})" for fact in facts if f"?{fact} " in condition)
        environment.build(
            f"(defrule r{place} (walk {read}) (test {condition}) => (speaks {place}))"
        )
    template = environment.find_template("walk")
    count = len(rulebase.rules)

    def answer(rows: Sequence[Row]) -> Answers:
        answers = []
        for row in rows:
            spoken.clear()
            fact = template.assert_fact(**row)
            environment.run()
            fact.retract()
            said = set(spoken)
            answers.append([place in said for place in range(count)])
        return answers

    return answer


def rule_engine_rules(rulebase: RuleBase) -> Engine:
    """Python, `rule-engine`: one rule object a condition."""
    import rule_engine  # noqa: PLC0415 - an extra

    rules = [rule_engine.Rule(condition) for condition in conditions_in(WORDS, rulebase)]
    return lambda rows: [[rule.matches(row) for rule in rules] for row in rows]


ENGINES: Mapping[str, Callable[[RuleBase], Engine]] = {
    "zen-engine": zen_engine,
    "common-expression-language": cel_in_rust,
    "cel-expr-python": cel_in_cpp,
    "clipspy": clips_rules,
    "rule-engine": rule_engine_rules,
}
