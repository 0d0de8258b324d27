"""Rows of the rule book beside general-purpose rule engines and fuzzy libraries.

The rule engines answer yes or no for every rule, the fuzzy ones a degree for those rules that they
can express, with everything known; the rule book gives degrees of all rules either way. Each engine
is fed in the way found fastest, on some of the rows, and its time is multiplied; all are compared
with the rule book on 10,000 sessions in the same run.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import replace

import numpy as np
from fuzzy_engines import BY_HAND, FUZZY, expressible, scikit_fuzzy_by_hand
from measuring import NOT_INSTALLED, Row, Scale, Work, in_turns, peak_of, times_faster
from rule_engines import ENGINES
from rulebook_speed import bundled_rules, invented_facts

from setupadvisor.facts.catalogue import FACTS
from setupadvisor.facts.table import NAMES
from setupadvisor.rulebook.compiled import compile_degrees
from setupadvisor.rulebook.degrees import degrees

TITLE = "Rule book beside engines"
SESSIONS = 10_000
TIMES_FASTER = 40.0


def parts(scale: Scale) -> list[dict[str, object]]:
    sessions, some, rounds, most_rules = {
        "tiny": (100, 5, 2, 10),
        "quick": (SESSIONS, 50, 3, 1000),
        "full": (SESSIONS, 300, 5, 1000),
    }[scale]
    return [
        {
            "kind": kind,
            "sessions": sessions,
            "some": some,
            "rounds": rounds,
            "most_rules": most_rules,
        }
        for kind in ("rule engines", "fuzzy libraries")
    ]


def rows(kind: str, sessions: int, some: int, rounds: int, most_rules: int) -> list[Row]:
    """Time the rule book and all engines of a kind in turns."""
    if kind == "rule engines":
        return judged(sessions, some, rounds)
    return fuzzy(sessions, some, rounds, most_rules)


def judged(sessions: int, some: int, rounds: int) -> list[Row]:
    """Beside rule engines, on all rules."""
    rulebase, compiled, _ = bundled_rules()
    facts = invented_facts(sessions)
    peak = peak_of(lambda: degrees(compiled, facts))
    needed = {term.fact for term in rulebase.terms.values() if term.fact}
    few = [
        {n: float(v) for n, v in zip(NAMES, column, strict=True) if n in needed}
        for column in facts[:, :some].T
    ]
    right = (degrees(compiled, facts[:, :some])[0] > 0).T
    works: dict[str, Work] = {"ours": lambda: degrees(compiled, facts)}
    missing = []
    for name, make in ENGINES.items():
        try:
            engine = make(rulebase)
        except ImportError:
            missing.append(name)
            continue
        if not np.array_equal(np.array(engine(few), dtype=bool), right):
            raise SystemExit(f"{name} answers differently from the rule book")
        works[name] = lambda engine=engine: engine(few)
    first = Row(
        name=f"degrees of {len(rulebase.rules)} rules, {sessions:,} sessions",
        values=[],
        size=sessions,
        peak_mb=peak,
        checked="each rule speaks for the same rows",
    )
    return beside(first, works, missing, rounds, dict.fromkeys(works, sessions / some))


def fuzzy(sessions: int, some: int, rounds: int, most_rules: int) -> list[Row]:
    """Beside fuzzy libraries, on the rules that they can express."""
    rulebase, _, _ = bundled_rules()
    rules = expressible(rulebase)[:most_rules]
    compiled = compile_degrees(replace(rulebase, rules=tuple(rules)), NAMES)
    facts = invented_facts(sessions)
    peak = peak_of(lambda: degrees(compiled, facts))
    needed = [place for place, fact in enumerate(FACTS.values()) if not fact.is_category]
    all_rows = {NAMES[place]: facts[place] for place in needed}
    # One row at a time, simpful takes some 20 ms for each.
    few = {"simpful": min(some, 20), BY_HAND: sessions}
    works: dict[str, Work] = {"ours": lambda: degrees(compiled, facts)}
    missing, times = [], {}
    for name, make in {**FUZZY, BY_HAND: scikit_fuzzy_by_hand}.items():
        count = min(few.get(name, sessions), sessions)
        given = {fact: values[:count] for fact, values in all_rows.items()}
        try:
            ask = make(rulebase, rules)
        except ImportError:
            missing.append(name)
            continue
        right = degrees(compiled, facts[:, :count])[0]
        if not np.allclose(ask(given), right[: len(rules)], atol=1e-9):
            raise SystemExit(f"{name} gives other degrees than the rule book")
        works[name] = lambda ask=ask, given=given: ask(given)
        times[name] = sessions / count
    first = Row(
        name=f"degrees of {len(rules)} rules, {sessions:,} sessions",
        values=[],
        size=sessions,
        peak_mb=peak,
        checked="equal degrees",
    )
    return beside(first, works, missing, rounds, times)


def beside(
    first: Row,
    works: Mapping[str, Callable[[], object]],
    missing: list[str],
    rounds: int,
    times: Mapping[str, float],
) -> list[Row]:
    """Time in turns; a row for each engine, its time multiplied to all sessions."""
    timed = in_turns(works, rounds=rounds, at_most=40.0, warm=False)
    found = []
    for name in works:
        if name == "ours":
            continue
        row = replace(
            first,
            values=timed.seconds["ours"],
            peer=name,
            peer_value=timed.median(name) * times[name],
            note=f"timed on {1 / times[name]:.2%} of the rows" * (times[name] > 1),
        )
        if first.size >= SESSIONS and name != BY_HAND:
            row = replace(row, targets=[times_faster(TIMES_FASTER, row, "each engine")])
        found.append(row)
    own = timed.seconds["ours"]
    return found + [replace(first, peer=f"{name}: {NOT_INSTALLED}", values=own) for name in missing]
