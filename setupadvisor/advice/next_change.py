"""The next change: what to try after the rider's remarks, from rules, walk and record.

Each candidate of a remark has a chance to help: a Beta prior from how often the rule base says it
helps, moved by the conditions, updated by the team's record of the same kind of change. What counts
is the expected gain for each minute: of ways that are tried one after the other until one helps,
the order by chance over time finds it soonest. Checks and preparation move no setting and stand
outside that order: with a loose bearing no change of a setting tells anything.

References
----------
L. G. Mitten, "An analytic solution to the least cost testing sequence problem", Journal of
Industrial Engineering 11 (1960), 17 (from memory).
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

import numpy as np

from setupadvisor.advice.next_moves import going_back, move_by
from setupadvisor.advice.next_records import (
    Move,
    NextChange,
    Proposal,
    Record,
    RemarkTask,
    Tried,
)
from setupadvisor.advice.workshop import Situations, Workshop, rules_alone
from setupadvisor.facts.table import NAMES
from setupadvisor.rulebook.compiled import compile_conditions
from setupadvisor.rulebook.conditions import Condition
from setupadvisor.rulebook.degrees import degrees
from setupadvisor.rulebook.remarks import Candidate, Remark

# Chance to help and how many changes that opinion is worth (common practice, no source).
PRIOR = {"firm": (0.70, 8.0), "usual": (0.60, 5.0), "loose": (0.50, 3.0)}
# How far conditions, the walk's own wish, and a complaint it would feed move the chance.
CONDITION_SHIFT, WALK_SHIFT, OPPOSED_SHIFT = 0.15, 0.08, 0.20
# Going out to feel a change takes this long, whatever the change (common practice, no source).
MINUTES_TO_FEEL = 5.0
# What can throw a rider comes first (common practice, no source).
SEVERITY = {
    "headshake": 3.0,
    "fades": 3.0,
    "swaps": 2.5,
    "kicks": 2.5,
    "deflects": 2.0,
    "bottoms": 1.6,
    "dives": 1.6,
    "pushes": 1.4,
    "boils": 1.4,
}
MOST_PROPOSED = 3
# A way that has conditions is offered from this degree on.
SUITS = 0.5


def next_change(
    workshop: Workshop,
    found: Situations,
    setup: Mapping[str, float],
    remarks: Sequence[Remark],
    *,
    tried: Sequence[Tried] = (),
    records: Sequence[Record] = (),
    minutes: float | None = None,
) -> NextChange:
    """Propose the change to try next, and two behind it.

    Parameters
    ----------
    workshop : Workshop
        The machine and its rules.
    found : Situations
        What follows from the walk; one row.
    setup : mapping of str to float
        What is on the motorcycle; a missing setting counts as where the last change of today left
        it, else as at its house value.
    remarks : sequence of Remark
        What the rider complains of.
    tried : sequence of Tried
        What was tried today, in order; settings that the machine lacks are passed over.
    records : sequence of Record
        How such changes did before.
    minutes : float, optional
        Time until the next outing.

    Returns
    -------
    NextChange
        Proposals, what to take back, notes, and what to check and prepare.
    """
    tried = [one for one in tried if one.setting in workshop.machine.settings]
    now = {**{one.setting: one.to for one in tried}, **setup}
    go_back, notes = going_back(workshop, now, tried)
    on_bike = {**now, **{move.setting: move.to for move in go_back}}
    left = None if minutes is None else minutes - sum(move.minutes for move in go_back)
    wishes = dict(zip(workshop.settings, rules_alone(workshop, found)[0].tolist(), strict=True))
    options: list[Proposal] = []
    checks: list[tuple[float, RemarkTask]] = []
    prepare: list[tuple[float, RemarkTask]] = []
    for remark in remarks:
        for candidate in remark.candidates:
            asked = {
                name: _degree(workshop, found, getattr(candidate, name)) for name in _CONDITIONS
            }
            unsuited = _unsuited(remark, candidate, asked["when"])
            if unsuited:
                notes.append(unsuited)
                continue
            if candidate.check:
                checks.append(_task(remark, candidate, candidate.check, asked))
            if not candidate.changes:
                if candidate.prepare:
                    prepare.append(_task(remark, candidate, candidate.prepare, asked))
                continue
            built = _proposal(
                workshop, on_bike, wishes, remark, candidate, asked, remarks, tried, records
            )
            if isinstance(built, str):
                notes.append(built)
            elif left is not None and built.minutes > left:
                notes.append(
                    f"{_named(built)} would take {built.minutes:g} min of {max(left, 0.0):g} left"
                )
            else:
                options.append(built)
    notes.extend(_opposed_notes(remarks, options))
    ranked = sorted(options, key=lambda option: -option.gain_per_minute)
    return NextChange(
        _different(ranked),
        go_back,
        tuple(dict.fromkeys(notes)),
        checks=_most_telling_first(checks),
        prepare=_most_telling_first(prepare),
    )


def _unsuited(remark: Remark, candidate: Candidate, suits: tuple[float, float]) -> str:
    """Say why a candidate is not for this ground; empty if it is."""
    if candidate.when is None or suits[0] >= SUITS:
        return ""
    known = "does not suit this ground" if suits[1] < SUITS else "may suit this ground"
    needs = f"not known: {candidate.when}" if suits[1] >= SUITS else candidate.why
    return f"{remark.title}: one more way {known} ({needs})"


def _task(
    remark: Remark,
    candidate: Candidate,
    tasks: tuple[str, ...],
    asked: Mapping[str, tuple[float, float]],
) -> tuple[float, RemarkTask]:
    """Build a task, with what the order of tasks goes by."""
    mean, notes = _on_this_ground(candidate, asked, "{} likely")
    task = RemarkTask(
        remark=remark.id,
        complaint=remark.title,
        tasks=tasks,
        why=candidate.why,
        look_for=remark.look_for,
        notes=tuple(notes),
        cautions=_once(candidate.caution),
    )
    return SEVERITY.get(remark.what, 1.0) * mean, task


def _most_telling_first(tasks: Sequence[tuple[float, RemarkTask]]) -> tuple[RemarkTask, ...]:
    """Order tasks; the same one asked for by several complaints stands once."""
    ranked = [task for _, task in sorted(tasks, key=lambda item: -item[0])]
    kept: dict[tuple[tuple[str, ...], tuple[str, ...]], RemarkTask] = {}
    for task in ranked:
        kept.setdefault((task.tasks, task.cautions), task)
    return tuple(kept.values())


def _once(*texts: str) -> tuple[str, ...]:
    return tuple(dict.fromkeys(text for text in texts if text))


def _proposal(
    workshop: Workshop,
    setup: Mapping[str, float],
    wishes: Mapping[str, float],
    remark: Remark,
    candidate: Candidate,
    asked: Mapping[str, tuple[float, float]],
    remarks: Sequence[Remark],
    tried: Sequence[Tried],
    records: Sequence[Record],
) -> Proposal | str:
    """Build a proposal, or say why the candidate is left out."""
    moves: list[Move] = []
    for change in candidate.changes:
        setting = workshop.machine.settings.get(change.setting)
        if setting is None:
            return f"{workshop.machine.name} has no {change.setting.replace('_', ' ')}"
        sign = 1.0 if change.direction == setting.up else -1.0
        move = move_by(change.setting, setting, setup, sign * change.amount)
        if move is None:
            return f"{setting.title} is at its end ({change.direction})"
        if _failed_today(change.setting, sign, tried):
            return f"{setting.title} {change.direction}: tried today, did not help"
        moves.append(move)
    chance, past, notes = _chance(
        workshop, wishes, remark, candidate, asked, moves, remarks, records
    )
    work = sum(move.minutes for move in moves)
    gain = SEVERITY.get(remark.what, 1.0) * chance
    return Proposal(
        remark=remark.id,
        complaint=remark.title,
        moves=tuple(moves),
        prepare=candidate.prepare,
        chance=chance,
        past=past,
        gain_per_minute=gain / (work + MINUTES_TO_FEEL),
        minutes=work,
        why=candidate.why,
        look_for=remark.look_for,
        notes=tuple(notes),
        cautions=_once(candidate.caution, *(text for move in moves for text in move.cautions)),
    )


_CONDITIONS = ("when", "better", "worse")


def _failed_today(setting: str, sign: float, tried: Sequence[Tried]) -> bool:
    """Say whether the last try of a setting in this direction did not help."""
    verdicts = [
        one.verdict
        for one in tried
        if one.setting == setting and one.verdict and (one.to - one.start) * sign > 0
    ]
    return bool(verdicts) and verdicts[-1] != "better"


def _chance(
    workshop: Workshop,
    wishes: Mapping[str, float],
    remark: Remark,
    candidate: Candidate,
    asked: Mapping[str, tuple[float, float]],
    moves: Sequence[Move],
    remarks: Sequence[Remark],
    records: Sequence[Record],
) -> tuple[float, str, list[str]]:
    mean, notes = _on_this_ground(candidate, asked, "helps {}")
    _, worth = PRIOR[candidate.gain]
    for move in moves:
        wish = wishes[move.setting] - move.start
        step = abs(move.to - move.start)
        agrees = float(np.clip(wish / step, -1.0, 1.0)) * float(np.sign(move.to - move.start))
        mean += WALK_SHIFT * agrees / len(moves)
    against = _fed_complaints(workshop, remark, candidate, remarks)
    if against:
        mean -= OPPOSED_SHIFT
        notes.append(f"works against: {', '.join(against)}")
    mean = min(max(mean, 0.05), 0.95)
    helped, not_helped = _past(remark, candidate, records)
    chance = (mean * worth + helped) / (worth + helped + not_helped)
    told = (
        f"helped {helped:g} of {helped + not_helped:g} times before"
        if helped + not_helped
        else "not tried before"
    )
    return chance, told, notes


def _on_this_ground(
    candidate: Candidate, asked: Mapping[str, tuple[float, float]], words: str
) -> tuple[float, list[str]]:
    """Give the chance to help before any record, moved by the ground, and what moved it."""
    mean, _ = PRIOR[candidate.gain]
    notes = []
    for name, sign, more in (("better", 1, "more"), ("worse", -1, "less")):
        degree, _ = asked[name]
        if degree > 0:
            mean += sign * CONDITION_SHIFT * degree
            notes.append(f"{words.format(more)} on this ground: {getattr(candidate, name)}")
    return mean, notes


def _past(remark: Remark, candidate: Candidate, records: Sequence[Record]) -> tuple[float, float]:
    """Count how such changes did; one that changed nothing counts half against."""
    kinds = {(change.setting, change.direction) for change in candidate.changes}
    same_kind = [
        record
        for record in records
        if (record.setting, record.direction) in kinds
        and (record.behaviour, record.end) == (remark.what, remark.end)
    ]
    helped = float(sum(record.better for record in same_kind))
    return helped, sum(record.worse + 0.5 * record.same for record in same_kind)


def _fed_complaints(
    workshop: Workshop, remark: Remark, candidate: Candidate, remarks: Sequence[Remark]
) -> list[str]:
    """Name the other complaints whose first cure is the opposite of this change."""
    fed = []
    for other in remarks:
        if other.id == remark.id:
            continue
        for cure in other.candidates[:2]:
            if any(
                mine.setting == theirs.setting and mine.direction != theirs.direction
                for mine in candidate.changes
                for theirs in cure.changes
            ):
                fed.append(other.title)
                break
    return fed


def _opposed_notes(remarks: Sequence[Remark], options: Sequence[Proposal]) -> list[str]:
    opposed = {
        (option.complaint, note.removeprefix("works against: "))
        for option in options
        for note in option.notes
        if note.startswith("works against: ")
    }
    if not opposed:
        return []
    first = max(remarks, key=lambda remark: SEVERITY.get(remark.what, 1.0))
    return [
        f"Some complaints ask for opposite changes; what can throw the rider goes first: "
        f"{first.title}"
    ]


def _different(ranked: Sequence[Proposal]) -> tuple[Proposal, ...]:
    """Keep the best three that move different settings."""
    kept: list[Proposal] = []
    for option in ranked:
        moved = {move.setting for move in option.moves}
        if all(moved.isdisjoint(move.setting for move in other.moves) for other in kept):
            kept.append(option)
        if len(kept) == MOST_PROPOSED:
            break
    return tuple(kept)


def _degree(
    workshop: Workshop, found: Situations, condition: Condition | None
) -> tuple[float, float]:
    """Give a condition's degree at the least and at the most; they differ where facts miss."""
    if condition is None:
        return 0.0, 0.0
    compiled: Any = compile_conditions((condition,), workshop.rulebase.terms, NAMES)
    low, high = degrees(compiled, found.facts.values[:, 0])
    return float(np.ravel(low)[0]), float(np.ravel(high)[0])


def _named(option: Proposal) -> str:
    return ", ".join(f"{move.title} {move.shown}" for move in option.moves)
