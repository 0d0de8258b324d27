"""Rows of the rule book: loading it, and the degrees of all rules for 1 to 1,000,000 sessions.

Loading is compared with what PyYAML's C loader needs just to read the same files. Degrees come with
what they add to every setting (`shifts`), with everything known and with a tenth of the facts
missing, where each degree is an interval. Many sessions go in blocks, so that memory stays small.
"""

from __future__ import annotations

import os
import tempfile
from dataclasses import replace

import numpy as np
import yaml
from measuring import Row, Scale, Target, at_most, in_turns, peak_of

from setupadvisor.advice.workshop import house_machine, setting_words
from setupadvisor.entries.files import bundled
from setupadvisor.facts.catalogue import FACTS
from setupadvisor.facts.table import NAMES
from setupadvisor.rulebook import cache
from setupadvisor.rulebook.cache import load_compiled
from setupadvisor.rulebook.compiled import Compiled
from setupadvisor.rulebook.degrees import degrees, shifts
from setupadvisor.rulebook.memberships import FloatArray
from setupadvisor.rulebook.rulebase import RuleBase, signed_amounts

TITLE = "Rule book"
MISSING = 0.1
BLOCK = 50_000
PEER = "PyYAML's C loader"


def parts(scale: Scale) -> list[dict[str, object]]:
    sizes = {"tiny": [1, 100], "quick": [1, 10_000], "full": [1, 10_000, 1_000_000]}[scale]
    rounds = {"tiny": 1, "quick": 5, "full": 15}[scale]
    rounds_of = {1: 1000, 100: 1, 10_000: rounds, 1_000_000: 3}
    loads = [{"sessions": 0, "missing": 0.0, "rounds": rounds}]
    return loads + [
        {"sessions": n, "missing": missing, "rounds": rounds_of[n]}
        for missing in (0.0, MISSING)
        for n in sizes
    ]


def rows(sessions: int, missing: float, rounds: int) -> list[Row]:
    """Time loading (no sessions), or degrees and shifts of some sessions."""
    return asking(sessions, missing, rounds) if sessions else loading(rounds)


def bundled_rules() -> tuple[RuleBase, Compiled, FloatArray]:
    """Return the bundled rules, compiled, and what each adds to each setting."""
    settings = setting_words(house_machine().settings)
    rulebase, compiled = load_compiled([bundled("rules")], FACTS, settings, NAMES)
    return rulebase, compiled, signed_amounts(rulebase, settings)


def invented_facts(rows: int, missing: float = 0.0) -> FloatArray:
    """Facts anywhere in their reachable ranges."""
    generator = np.random.default_rng(1)
    values = np.empty((len(NAMES), rows))
    for place, fact in enumerate(FACTS.values()):
        if fact.is_category:
            values[place] = generator.integers(0, len(fact.choices), rows)
        else:
            values[place] = generator.uniform(fact.low, fact.high, rows)
        values[place, generator.random(rows) < missing] = np.nan
    return values


def loading(rounds: int) -> list[Row]:
    """Time loading without a cache and from it, beside reading the files."""
    rules = bundled("rules")
    # Files of nothing but cases and statements are read for their digest only; advice needs none.
    told = [
        path
        for path in sorted(rules.rglob("*.yaml"))
        if path.parent.name != "cases" and path.name != "statements.yaml"
    ]
    settings = setting_words(house_machine().settings)

    def read() -> None:
        for path in told:
            with path.open("rb") as file:
                yaml.load(file, Loader=yaml.CSafeLoader)

    def load(where: str) -> tuple[RuleBase, Compiled]:
        # What a new process finds out once is found out again.
        cache._code_digest.cache_clear()
        os.environ[cache.VARIABLE] = where
        return load_compiled([rules], FACTS, settings, NAMES)

    with tempfile.TemporaryDirectory() as folder:
        peak = peak_of(lambda: load(cache.OFF))
        works = {
            PEER: read,
            "loaded and compiled, no cache": lambda: load(cache.OFF),
            "loaded from the cache": lambda: load(folder),
        }
        timed = in_turns(works, rounds=rounds)
        rulebase, compiled = load(cache.OFF)
        kept_rulebase, kept = load(folder)
    facts = invented_facts(50, MISSING)
    if kept_rulebase != rulebase or not all(
        np.array_equal(one, other)
        for one, other in zip(degrees(kept, facts), degrees(compiled, facts), strict=True)
    ):
        raise SystemExit("the cache holds another rule base")
    count = f"{len(rulebase.rules)} rules, {len(rulebase.terms)} terms, {len(told)} files"
    _, cold, cached = (
        Row(name, timed.seconds[name], peer=PEER, peer_value=timed.median(PEER), note=count)
        for name in works
    )
    of_cold = Target("a fifth of no cache", cached.median / cold.median, 0.2)
    return [
        replace(cold, peak_mb=peak, targets=[at_most(3.0, cold, "the reading")]),
        replace(cached, targets=[of_cold], checked="the same rule base"),
    ]


def asking(sessions: int, missing: float, rounds: int) -> list[Row]:
    """Time degrees alone, and degrees with shifts."""
    rulebase, compiled, amounts = bundled_rules()
    facts = invented_facts(sessions, missing)
    blocks = [facts[:, start : start + BLOCK] for start in range(0, sessions, BLOCK)]
    if sessions == 1:
        blocks = [facts[:, 0]]

    def judge() -> None:
        for block in blocks:
            degrees(compiled, block)

    def add_up() -> None:
        for block in blocks:
            low, high = degrees(compiled, block)
            shifts(amounts, low if low is high else np.where(low == high, low, 0.0))

    peak = peak_of(add_up)
    timed = in_turns({"degrees": judge, "shifts": add_up}, rounds=rounds, at_most=20.0, warm=False)
    state = "a tenth missing" if missing else "everything known"
    of = f"{sessions:,} session{'s' * (sessions > 1)}, {state}"
    note = f"in blocks of {BLOCK:,}" if sessions > BLOCK else ""
    judged = Row(
        name=f"degrees, {of}",
        values=timed.seconds["degrees"],
        peak_mb=peak,
        family=f"degrees, {state}" if sessions > 1 else "",
        size=sessions,
        note=note,
    )
    added = Row(
        name=f"degrees and shifts, {of}",
        values=timed.seconds["shifts"],
        peak_mb=peak,
        family=f"degrees and shifts, {state}" if sessions > 1 else "",
        size=sessions,
        note=note,
    )
    if sessions == 1:
        return [judged, replace(added, targets=[Target("100 µs", added.median, 1e-4)])]
    rate = sessions * len(rulebase.rules) / judged.median
    note = "; ".join(part for part in (note, f"{rate:.2g} rows times rules a second") if part)
    judged = replace(judged, note=note)
    if not missing and sessions >= 10_000:
        fast = Target("2e8 rows times rules a second", 2e8 / rate, 1.0)
        judged = replace(judged, targets=[fast])
    return [judged, added]
