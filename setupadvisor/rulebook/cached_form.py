"""A rule base and its compiled conditions as plain lists and texts, for a file that holds data.

Records stand as rows in the order of their fields. Conditions, changes and files are kept once
each and named by their number.
"""

from __future__ import annotations

from collections.abc import Callable, Hashable, Iterable
from typing import Any, Generic, TypeVar

import numpy as np

from setupadvisor.rulebook.compiled import Compiled, Level
from setupadvisor.rulebook.conditions import Condition
from setupadvisor.rulebook.reading import Origin
from setupadvisor.rulebook.remarks import Candidate, Remark
from setupadvisor.rulebook.rulebase import Replaced, RuleBase, SwitchedOff
from setupadvisor.rulebook.rules import Rule
from setupadvisor.rulebook.settings import Change
from setupadvisor.rulebook.terms import Term

Row = list[Any]
Item = TypeVar("Item", bound=Hashable)


class _Shelf(Generic[Item]):
    """Distinct items by number, in the order they were first asked for."""

    def __init__(self, as_row: Callable[[Item], Any]) -> None:
        self._as_row = as_row
        self._numbers: dict[Item, int] = {}
        self.rows: Row = []

    def number(self, item: Item) -> int:
        known = self._numbers.get(item)
        if known is None:
            # The row first: it may put the parts of this item on the shelf.
            row = self._as_row(item)
            known = self._numbers[item] = len(self.rows)
            self.rows.append(row)
        return known


class _Packing:
    def __init__(self) -> None:
        self.files: _Shelf[tuple[str, str]] = _Shelf(list)
        self.conditions: _Shelf[Condition] = _Shelf(self._condition)
        self.changes: _Shelf[Change] = _Shelf(lambda c: [c.setting, c.amount, c.direction])

    def _condition(self, condition: Condition) -> Any:
        if condition.kind == "term":
            return condition.term
        return [condition.kind, [self.conditions.number(part) for part in condition.parts]]

    def origin(self, origin: Origin) -> Row:
        return [self.files.number((origin.folder, origin.file)), origin.line]

    def optional(self, condition: Condition | None) -> int | None:
        return None if condition is None else self.conditions.number(condition)

    def changed(self, changes: Iterable[Change]) -> Row:
        return [self.changes.number(change) for change in changes]

    def term(self, term: Term) -> Row:
        when, origin = self.optional(term.when), self.origin(term.origin)
        return [term.name, term.fact, term.points, term.choices, when, term.why, origin]

    def rule(self, rule: Rule) -> Row:
        return [
            rule.id,
            rule.subject,
            rule.title,
            self.conditions.number(rule.when),
            self.changed(rule.changes),
            rule.confidence,
            rule.why,
            rule.look_for,
            rule.source,
            rule.caution,
            rule.balances,
            rule.prepare,
            rule.watch,
            self.origin(rule.origin),
        ]

    def candidate(self, candidate: Candidate) -> Row:
        return [
            self.changed(candidate.changes),
            candidate.check,
            candidate.prepare,
            candidate.gain,
            candidate.why,
            self.optional(candidate.when),
            self.optional(candidate.better),
            self.optional(candidate.worse),
            candidate.caution,
        ]

    def remark(self, remark: Remark) -> Row:
        return [
            remark.id,
            remark.title,
            remark.where,
            remark.what,
            remark.end,
            remark.words,
            [self.candidate(candidate) for candidate in remark.candidates],
            remark.look_for,
            remark.source,
            self.origin(remark.origin),
        ]


def to_plain(rulebase: RuleBase, compiled: Compiled) -> dict[str, Any]:
    """Turn a rule base and its compiled conditions into what JSON can hold.

    Parameters
    ----------
    rulebase : RuleBase
        The rules.
    compiled : Compiled
        Their conditions.

    Returns
    -------
    dict
        Texts, numbers and lists; `from_plain` gives back what was put in.
    """
    packing = _Packing()
    plain: dict[str, Any] = {
        "terms": [packing.term(term) for term in rulebase.terms.values()],
        "rules": [packing.rule(rule) for rule in rulebase.rules],
        "remarks": [packing.remark(remark) for remark in rulebase.remarks],
        "digest": rulebase.digest,
        "switched_off": [
            [packing.rule(off.rule), off.reason, packing.origin(off.origin)]
            for off in rulebase.switched_off
        ],
        "replaced": [
            [packing.rule(old.rule), packing.origin(old.origin)] for old in rulebase.replaced
        ],
        "compiled": _compiled_row(compiled),
    }
    return {
        **plain,
        "files": packing.files.rows,
        "conditions": packing.conditions.rows,
        "changes": packing.changes.rows,
    }


def _compiled_row(compiled: Compiled) -> Row:
    return [
        compiled.fact_names,
        compiled.ramp_fact.tolist(),
        compiled.ramp_start.tolist(),
        compiled.ramp_slope.tolist(),
        compiled.sum_first.tolist(),
        compiled.sum_ramp.tolist(),
        compiled.sum_weight.tolist(),
        compiled.sum_offsets.tolist(),
        [compiled.mirrored.start, compiled.mirrored.stop],
        [
            [level.largest, level.start, level.stop, level.parts.tolist(), level.offsets.tolist()]
            for level in compiled.levels
        ],
        compiled.roots.tolist(),
        compiled.size,
    ]


class _Unpacking:
    def __init__(self, plain: dict[str, Any]) -> None:
        self.files = plain["files"]
        self.changes = [Change(*row) for row in plain["changes"]]
        # A condition stands after its parts.
        self.conditions: list[Condition] = []
        for row in plain["conditions"]:
            if isinstance(row, str):
                condition = Condition("term", row)
            else:
                kind, parts = row
                condition = Condition(kind, "", tuple([self.conditions[part] for part in parts]))
            self.conditions.append(condition)

    def origin(self, row: Row) -> Origin:
        folder, file = self.files[row[0]]
        return Origin(folder, file, row[1])

    def optional(self, number: int | None) -> Condition | None:
        return None if number is None else self.conditions[number]

    def changed(self, numbers: list[int]) -> tuple[Change, ...]:
        return tuple([self.changes[number] for number in numbers])

    def term(self, row: Row) -> Term:
        name, fact, points, choices, when, why, origin = row
        return Term(
            name,
            fact,
            tuple([(value, height) for value, height in points]),
            tuple(choices),
            self.optional(when),
            why,
            self.origin(origin),
        )

    def rule(self, row: Row) -> Rule:
        name, subject, title, when, changes, confidence, why, look_for, *rest = row
        source, caution, balances, prepare, watch, origin = rest
        return Rule(
            name,
            subject,
            title,
            self.conditions[when],
            self.changed(changes),
            confidence,
            why,
            look_for,
            source,
            caution,
            tuple(balances),
            tuple(prepare),
            tuple(watch),
            self.origin(origin),
        )

    def candidate(self, row: Row) -> Candidate:
        changes, check, prepare, gain, why, when, better, worse, caution = row
        return Candidate(
            self.changed(changes),
            tuple(check),
            tuple(prepare),
            gain,
            why,
            self.optional(when),
            self.optional(better),
            self.optional(worse),
            caution,
        )

    def remark(self, row: Row) -> Remark:
        name, title, where, what, end, words, candidates, look_for, source, origin = row
        tried = tuple([self.candidate(candidate) for candidate in candidates])
        place = self.origin(origin)
        return Remark(name, title, where, what, end, tuple(words), tried, look_for, source, place)


def from_plain(plain: dict[str, Any]) -> tuple[RuleBase, Compiled]:
    """Build a rule base and its compiled conditions from what `to_plain` gave.

    Parameters
    ----------
    plain : dict
        As read from JSON.

    Returns
    -------
    tuple of RuleBase and Compiled
        What was put in.

    Raises
    ------
    KeyError, IndexError, TypeError, ValueError
        If `plain` is not of this form.
    """
    unpacking = _Unpacking(plain)
    terms = [unpacking.term(row) for row in plain["terms"]]
    rulebase = RuleBase(
        terms={term.name: term for term in terms},
        rules=tuple([unpacking.rule(row) for row in plain["rules"]]),
        remarks=tuple([unpacking.remark(row) for row in plain["remarks"]]),
        digest=plain["digest"],
        switched_off=tuple(
            SwitchedOff(unpacking.rule(rule), reason, unpacking.origin(origin))
            for rule, reason, origin in plain["switched_off"]
        ),
        replaced=tuple(
            Replaced(unpacking.rule(rule), unpacking.origin(origin))
            for rule, origin in plain["replaced"]
        ),
    )
    return rulebase, _compiled(*plain["compiled"])


def _compiled(fact_names: list[str], *rest: Any) -> Compiled:
    (ramp_fact, ramp_start, ramp_slope, *sums, mirrored, levels, roots, size) = rest
    sum_first, sum_ramp, sum_weight, sum_offsets = sums
    return Compiled(
        fact_names=tuple(fact_names),
        ramp_fact=np.array(ramp_fact, dtype=np.intp),
        ramp_start=np.array(ramp_start, dtype=np.float64),
        ramp_slope=np.array(ramp_slope, dtype=np.float64),
        sum_first=np.array(sum_first, dtype=np.float64),
        sum_ramp=np.array(sum_ramp, dtype=np.intp),
        sum_weight=np.array(sum_weight, dtype=np.float64),
        sum_offsets=np.array(sum_offsets, dtype=np.intp),
        mirrored=slice(*mirrored),
        levels=tuple(
            Level(
                largest,
                start,
                stop,
                np.array(parts, dtype=np.intp),
                np.array(offsets, dtype=np.intp),
            )
            for largest, start, stop, parts, offsets in levels
        ),
        roots=np.array(roots, dtype=np.intp),
        size=size,
    )
