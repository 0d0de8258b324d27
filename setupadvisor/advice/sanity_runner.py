"""Testing sanity statements over random walks, all of them at once."""

from __future__ import annotations

import warnings
from collections.abc import Iterable
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from setupadvisor.advice.case_runner import smallest_step
from setupadvisor.advice.random_walks import JUMPS, facts_along, random_walks
from setupadvisor.advice.workshop import Workshop, house_values
from setupadvisor.entries.machine import House
from setupadvisor.entries.quantity import Quantity, Word
from setupadvisor.errors import Mistake, OutsideValidRange
from setupadvisor.facts.columns import Columns, condition_fields
from setupadvisor.facts.table import PLACE, FactTable, facts_from
from setupadvisor.facts.valid_range import FloatArray
from setupadvisor.rulebook.degrees import degrees
from setupadvisor.rulebook.sanity import Statement

WALKS = 200
POINTS = 15
# Places beyond what is met in practice, up to what is possible, at either end.
POINTS_BEYOND = 3
# The physics rounds: less than a hundredth of a step is no direction.
SHARE_OF_A_STEP = 0.01
# Halvings of an interval: from a twentieth of a range to less than a millionth of it.
HALVINGS = 18


@dataclass(frozen=True)
class Violation:
    """Where a statement does not hold.

    Parameters
    ----------
    walks : int
        On how many of the random walks.
    setting : str
        The setting.
    steps : float
        By how many of its steps it goes where it must not, at the most.
    along : str
        The entry or fact.
    start, end : float
        Between which values of it.
    rules : tuple of str
        The rules that move it there, the strongest first.
    """

    walks: int
    setting: str
    steps: float
    along: str
    start: float
    end: float
    rules: tuple[str, ...]

    def __str__(self) -> str:
        by = f", moved by {', '.join(self.rules)}" if self.rules else ""
        return (
            f"from {self.start:.6g} to {self.end:.6g} of {self.along} {self.setting} goes by "
            f"{self.steps:.2g} steps{by} (on {self.walks} random walks)"
        )


@dataclass(frozen=True)
class StatementOutcome:
    """One statement, tested.

    Parameters
    ----------
    statement : Statement
        The statement.
    violations : tuple of Violation
        Empty where it holds.
    still : tuple of str
        Settings it speaks of that nothing ever moved, so that it says nothing of them.
    """

    statement: Statement
    violations: tuple[Violation, ...]
    still: tuple[str, ...]

    def mistakes(self) -> list[Mistake]:
        """Say what does not hold, as mistakes in the file of the statement."""
        where = self.statement.where_it_stands
        mend = "mend the rules, or name the rule under apart_from with the reason"
        return [
            *(Mistake(where, str(violation), mend) for violation in self.violations),
            *(
                Mistake(where, f"nothing ever moves {name} along it", "take the setting out")
                for name in self.still
            ),
        ]


@dataclass(frozen=True)
class _Base:
    """Random walks that a statement is tested on."""

    workshop: Workshop
    conditions: Columns
    facts: FactTable
    amounts: NDArray[np.float64]
    steps: NDArray[np.float64]

    def taken(self, rows: NDArray[np.intp]) -> _Base:
        conditions = {path: column[rows] for path, column in self.conditions.items()}
        facts = FactTable(self.facts.values[:, rows], ())
        return replace(self, conditions=conditions, facts=facts)


@dataclass(frozen=True)
class _Moves:
    """How settings move from each point to the next, in steps; and by which rules."""

    steps: NDArray[np.float64]  # walks, points - 1, settings
    degrees: NDArray[np.float64]  # rules that move, walks, points - 1
    rules: NDArray[np.intp]  # which rules these are


def check_statements(
    workshop: Workshop,
    statements: Iterable[Statement],
    how_many: int = WALKS,
    random_state: int = 0,
) -> list[StatementOutcome]:
    """Test sanity statements over random walks.

    Parameters
    ----------
    workshop : Workshop
        The machine and its rules.
    statements : iterable of Statement
        What must hold.
    how_many : int
        Random walks for each statement.
    random_state : int
        Makes the walks the same each time.

    Returns
    -------
    list of StatementOutcome
        In the order of the statements.

    Notes
    -----
    A walk is compared with itself along the entry; rules that cannot be judged at one of two
    neighbouring points do not count between them, since nothing is known there to compare.
    """
    random = np.random.default_rng(random_state)
    drawn = random_walks(how_many, random)
    return [_tested(workshop, statement, drawn, random) for statement in statements]


def _tested(
    workshop: Workshop, statement: Statement, drawn: Columns, random: np.random.Generator
) -> StatementOutcome:
    base = _base(workshop, statement, drawn)
    violations: list[Violation] = []
    moved: set[str] = set()
    for path in statement.along:
        points = _points(statement, path, base, random)
        moves = _moves(base, path, points)
        if statement.largest_jump:
            violations += _jumps(statement, base, path, points, moves)
            continue
        for name, _, sign in statement.never:
            place = workshop.settings.index(name)
            wrong = sign * moves.steps[:, :, place]
            if np.abs(wrong).max(initial=0.0) > SHARE_OF_A_STEP:
                moved.add(name)
            violations += _violation(base, path, points, moves, place, wrong, SHARE_OF_A_STEP)
    still = tuple(name for name, _, _ in statement.never if name not in moved)
    return StatementOutcome(statement, tuple(violations), still)


def _base(workshop: Workshop, statement: Statement, drawn: Columns) -> _Base:
    count = len(next(iter(drawn.values())))
    conditions = dict(drawn)
    for path, value in statement.where:
        shape = (count, JUMPS) if condition_fields()[path].listed else (count,)
        conditions[path] = np.full(shape, value)
    exceptions = {rule for rule, _ in statement.apart_from}
    speaks = [rule.id not in exceptions for rule in workshop.rulebase.rules]
    settings = workshop.machine.settings.values()
    with warnings.catch_warnings():
        warnings.simplefilter("ignore", OutsideValidRange)
        facts = facts_from(conditions, workshop.constants, count)
    return _Base(
        workshop,
        conditions,
        facts,
        workshop.amounts * np.array(speaks, dtype=np.float64)[:, np.newaxis],
        np.array([smallest_step(setting) for setting in settings]),
    )


def _points(
    statement: Statement, path: str, base: _Base, random: np.random.Generator
) -> FloatArray:
    """Give each walk its own points along an entry or a fact, from the first to the last."""
    count = base.facts.values.shape[1]
    field = condition_fields().get(path)
    kind = field.kind if field is not None else None
    if isinstance(kind, Word):
        points = np.tile(np.arange(len(kind.choices), dtype=np.float64), (count, 1))
    elif isinstance(kind, Quantity) and not statement.between:
        low, first, last, high = kind.low, kind.plausible[0], kind.plausible[-1], kind.high
        points = np.hstack(
            [
                random.uniform(low, first, (count, POINTS_BEYOND)),
                random.uniform(first, last, (count, POINTS)),
                random.uniform(last, high, (count, POINTS_BEYOND)),
            ]
        )
    else:
        met = base.facts.values[PLACE[path]] if path in PLACE else np.zeros(1)
        low, high = statement.between or (np.nanmin(met), np.nanmax(met))
        points = random.uniform(low, high, (count, POINTS + 2 * POINTS_BEYOND))
    if isinstance(kind, Quantity) and kind.whole:
        points = np.round(points)
    points = np.sort(points, axis=1)
    return points if statement.rising else points[:, ::-1]


def _moves(base: _Base, path: str, points: FloatArray) -> _Moves:
    facts = facts_along(base.workshop, base.facts, base.conditions, path, points)
    shape = points.shape
    low, high = degrees(base.workshop.compiled, facts.values)
    low, high = low.reshape(-1, *shape), high.reshape(-1, *shape)
    # Most rules stand still along one entry.
    rules = np.flatnonzero((low != low[:, :, :1]).any(axis=(1, 2)))
    low, judged = low[rules], low[rules] == high[rules]
    both = judged[:, :, 1:] & judged[:, :, :-1]
    moved = np.where(both, low[:, :, 1:] - low[:, :, :-1], 0.0)
    steps = np.diff(house_values(base.workshop.machine, facts).reshape(*shape, -1), axis=1)
    for place, setting in enumerate(base.workshop.machine.settings.values()):
        if isinstance(setting.house, House):
            known = np.isfinite(facts[setting.house.fact]).reshape(shape)
            steps[:, :, place] *= known[:, 1:] & known[:, :-1]
    steps += np.tensordot(moved, base.amounts[rules], axes=(0, 0))
    return _Moves(steps / base.steps, moved, rules)


def _violation(
    base: _Base,
    path: str,
    points: FloatArray,
    moves: _Moves,
    place: int,
    wrong: FloatArray,
    allowed: float,
) -> list[Violation]:
    if not np.count_nonzero(wrong > allowed):
        return []
    walk, point = np.unravel_index(int(np.argmax(wrong)), wrong.shape)
    sign = np.sign(moves.steps[walk, point, place])
    pulls = sign * moves.degrees[:, walk, point] * base.amounts[moves.rules, place]
    strongest = [moves.rules[rule] for rule in np.argsort(-pulls)[:3] if pulls[rule] > 0]
    return [
        Violation(
            walks=int(np.count_nonzero((wrong > allowed).any(axis=1))),
            setting=base.workshop.settings[place],
            steps=float(abs(moves.steps[walk, point, place])),
            along=_key(path),
            start=float(points[walk, point]),
            end=float(points[walk, point + 1]),
            rules=tuple(base.workshop.rulebase.rules[rule].id for rule in strongest),
        )
    ]


def _key(path: str) -> str:
    field = condition_fields().get(path)
    return path if field is None else field.key


def _jumps(
    statement: Statement, base: _Base, path: str, points: FloatArray, moves: _Moves
) -> list[Violation]:
    """Halve the intervals where most happens, keeping the half where more happens."""
    most = np.abs(moves.steps).max(axis=2)
    rows = np.arange(len(most))
    at = np.argmax(most, axis=1)
    ends = np.stack([points[rows, at], points[rows, at + 1]], axis=1)
    for _ in range(HALVINGS):
        keep = np.flatnonzero(most.max(axis=1, initial=0.0) > statement.largest_jump)
        base, ends = base.taken(keep), ends[keep]
        if not len(keep):
            return []
        middle = ends.mean(axis=1, keepdims=True)
        three = np.hstack([ends[:, :1], middle, ends[:, 1:]])
        most = np.abs(_moves(base, path, three).steps).max(axis=2)
        half = np.argmax(most, axis=1)
        rows = np.arange(len(half))
        ends = np.stack([three[rows, half], three[rows, half + 1]], axis=1)
    moves = _moves(base, path, ends)
    return [
        violation
        for place in range(len(base.workshop.settings))
        for violation in _violation(
            base,
            path,
            ends,
            moves,
            place,
            np.abs(moves.steps[:, :, place]),
            statement.largest_jump,
        )
    ]
