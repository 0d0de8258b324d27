"""Speed of the rule book beside general-purpose libraries, in one run; no arguments.

The bars: loading and compiling the bundled rules within 3 times of what PyYAML's C loader needs
just to read the files; from the cache in at most a fifth of that; one walk in less than 100
microseconds; 10,000 sessions at 2e8 rows times rules a second and at least 40 times as fast as the
fastest general-purpose rule engine on the same conditions (``pip install setupadvisor[bench]``).
Whatever is compared runs in turns, and the best of several rounds counts, since a machine's other
work only adds to a time.
"""

from __future__ import annotations

import os
import tempfile
import time
from collections.abc import Callable, Mapping
from pathlib import Path

import numpy as np
import yaml
from rule_engines import ENGINES, Row

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
from setupadvisor.rulebook.settings import SettingWords

ROUNDS = 15
WALKS = 2000
SESSIONS = 10_000
SESSIONS_FOR_ENGINES = 300
ROUNDS_FOR_ENGINES = 5
MISSING = 0.1


def seconds(function: Callable[[], object]) -> float:
    begin = time.perf_counter()
    function()
    return time.perf_counter() - begin


def invented_facts(rows: int, missing: float = 0.0) -> FloatArray:
    """Facts anywhere in their reachable ranges."""
    generator = np.random.default_rng(1)
    values = np.empty((len(NAMES), rows))
    for place, fact in enumerate(FACTS.values()):
        if fact.is_category:
            values[place] = generator.integers(0, len(fact.choices), rows)
        else:
            values[place] = generator.uniform(fact.low, fact.high, rows)
    values[generator.random(values.shape) < missing] = np.nan
    return values


def loading(settings: Mapping[str, SettingWords]) -> tuple[RuleBase, Compiled]:
    rules = bundled("rules")
    # Files of nothing but cases and statements are read for their digest only; advice needs none.
    told = [
        path
        for path in sorted(rules.rglob("*.yaml"))
        if path.parent.name != "cases" and path.name != "statements.yaml"
    ]

    def read() -> None:
        for path in told:
            with path.open("rb") as file:
                yaml.load(file, Loader=yaml.CSafeLoader)

    def load() -> tuple[RuleBase, Compiled]:
        # What a new process finds out once is found out again.
        cache._code_digest.cache_clear()
        return load_compiled([rules], FACTS, settings, NAMES)

    reading, cold, first, second = [], [], [], []
    with tempfile.TemporaryDirectory() as folder:
        for number in range(ROUNDS):
            reading.append(seconds(read))
            os.environ[cache.VARIABLE] = cache.OFF
            cold.append(seconds(load))
            os.environ[cache.VARIABLE] = str(Path(folder) / str(number))
            first.append(seconds(load))
            second.append(seconds(load))
        rulebase, compiled = load()
    print(
        f"{len(rulebase.rules)} rules, {len(rulebase.terms)} terms, {len(rulebase.remarks)} "
        f"remarks in {len(told)} files; best of {ROUNDS} rounds"
    )
    print(f"PyYAML's C loader reads the files   {min(reading) * 1e3:8.2f} ms")
    for name, found in (
        ("load and compile, no cache", cold),
        ("load, compile and keep", first),
        ("load from the cache", second),
    ):
        times = min(found) / min(reading)
        print(f"{name:35s} {min(found) * 1e3:8.2f} ms   {times:5.2f} times the reading")
    share = min(second) / min(cold)
    print(f"{'from the cache / no cache':35s} {share:8.3f}      (bar: 0.2)")
    return rulebase, compiled


def one_walk(compiled: Compiled, amounts: FloatArray) -> None:
    for name, missing in (("everything known", 0.0), ("a tenth missing", MISSING)):
        walk = invented_facts(3, missing)[:, 1]

        def advise(walk: FloatArray = walk) -> None:
            low, high = degrees(compiled, walk)
            shifts(amounts, np.where(low == high, low, 0.0))

        advise()
        found = min(seconds(advise) for _ in range(WALKS))
        print(f"degrees and shifts of one walk, {name:17s} {found * 1e6:6.1f} µs   (bar: 100)")


def many_sessions(rulebase: RuleBase, compiled: Compiled, amounts: FloatArray) -> None:
    facts = invented_facts(SESSIONS)
    gaps = invented_facts(SESSIONS, MISSING)
    some = facts[:, :SESSIONS_FOR_ENGINES]
    rows: list[Row] = [
        {name: float(value) for name, value in zip(NAMES, column, strict=True)} for column in some.T
    ]
    needed = {term.fact for term in rulebase.terms.values() if term.fact}
    rows = [{name: value for name, value in row.items() if name in needed} for row in rows]
    right = (degrees(compiled, some)[0] > 0).T
    ours: list[float] = []
    gappy: list[float] = []
    shifted: list[float] = []
    theirs: dict[str, list[float]] = {}
    judged = len(rulebase.rules)
    for name, make in ENGINES.items():
        try:
            engine = make(rulebase)
        except ImportError:
            print(f"{name}: not installed, left out")
            continue
        if not np.array_equal(np.array(engine(rows), dtype=bool), right):
            raise SystemExit(f"{name} answers differently from the rule book")
        theirs[name] = []
        for _ in range(ROUNDS_FOR_ENGINES):
            ours.append(seconds(lambda: degrees(compiled, facts)))
            gappy.append(seconds(lambda: degrees(compiled, gaps)))
            shifted.append(seconds(lambda: shifts(amounts, degrees(compiled, facts)[0])))
            theirs[name].append(seconds(lambda engine=engine: engine(rows)))
    print(f"rows times rules a second, {SESSIONS} sessions ({SESSIONS_FOR_ENGINES} for engines):")
    rate = SESSIONS * judged / min(ours)
    print(f"  degrees, everything known        {rate:10.3g}   (bar: 2e8)")
    print(f"  degrees, a tenth missing         {SESSIONS * judged / min(gappy):10.3g}")
    print(f"  degrees and shifts               {SESSIONS * judged / min(shifted):10.3g}")
    for name, found in theirs.items():
        other = SESSIONS_FOR_ENGINES * judged / min(found)
        print(f"  {name:32s} {other:10.3g}   {rate / other:6.0f} times slower (bar: 40)")


def main() -> None:
    settings = setting_words(house_machine().settings)
    rulebase, compiled = loading(settings)
    amounts = signed_amounts(rulebase, settings)
    one_walk(compiled, amounts)
    many_sessions(rulebase, compiled, amounts)


if __name__ == "__main__":
    main()
