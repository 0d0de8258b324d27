"""The next change as text: what was understood, checks, the change, what waits behind it."""

from __future__ import annotations

from collections.abc import Sequence
from functools import partial
from textwrap import wrap as _wrap

from setupadvisor.advice.next_records import Move, NextChange, Proposal, RemarkTask
from setupadvisor.rulebook.remark_words import Matched, Understanding

WIDTH = 100
MOST_LISTED = 8

wrap = partial(_wrap, break_on_hyphens=False)


def next_text(
    answer: NextChange, matched: Sequence[Matched], understood: Sequence[Understanding]
) -> str:
    """Lay out the next change as text.

    Parameters
    ----------
    answer : NextChange
        What to do.
    matched : sequence of Matched
        The remarks it answers.
    understood : sequence of Understanding
        All that was made of the rider's words.

    Returns
    -------
    str
        Lines of at most 100 columns.
    """
    lines = [
        *_understood(matched, understood),
        *_tasks("CHECKS BEFORE ANY CHANGE", "their time is not in the minutes", answer.checks),
        *_go_back(answer.go_back),
        *_changes(answer),
        *_tasks("WORK THAT MOVES NO SETTING", "when there is time for it", answer.prepare),
    ]
    if answer.notes:
        lines += _section("LEFT OUT, AND NOTES")
        for note in answer.notes:
            lines += _note(note)
    lines += _section("CAUTIONS")
    lines += _note(
        "Ride the first laps after a change easily. The service manual and the event's rules have "
        "the last word."
    )
    return "\n".join(lines[1:])


def few(names: Sequence[str]) -> str:
    """Name the first of many.

    Parameters
    ----------
    names : sequence of str
        The names.

    Returns
    -------
    str
        Eight of them, and how many more there are.

    Examples
    --------
    >>> few([str(number) for number in range(10)])
    '0, 1, 2, 3, 4, 5, 6, 7 or 2 more'
    """
    rest = len(names) - MOST_LISTED
    return ", ".join(names[:MOST_LISTED]) + (f" or {rest} more" if rest > 0 else "")


def _section(title: str, note: str = "") -> list[str]:
    return ["", f"{title}  {note}".rstrip(), "-" * WIDTH]


def _understood(matched: Sequence[Matched], understood: Sequence[Understanding]) -> list[str]:
    lines = _section("UNDERSTOOD")
    for item in matched:
        lines += wrap(
            f"{item.clause!r}: {item.remark.title} ({_counted(item)})",
            WIDTH,
            initial_indent="  ",
            subsequent_indent="    ",
        )
    notes: list[str] = []
    for one in understood:
        notes += [f"{clause!r} could be {few(names)}: say where" for clause, names in one.ambiguous]
        notes += [f"{clause!r}: all is well there" for clause in one.fine]
        notes += [
            f"{clause!r} was not understood and does not count" for clause in one.not_understood
        ]
    for note in notes[:MOST_LISTED]:
        lines += _note(note)
    if len(notes) > MOST_LISTED:
        lines += _note(f"and {len(notes) - MOST_LISTED} more that do not count")
    return lines


def _counted(item: Matched) -> str:
    if item.words == (item.remark.id,):
        return "by its id"
    words = "word" if len(item.words) == 1 else "words"
    return f"{item.remark.id}; {len(item.words)} listed {words}: {', '.join(item.words)}"


def _tasks(title: str, note: str, tasks: Sequence[RemarkTask]) -> list[str]:
    if not tasks:
        return []
    lines = _section(title, note)
    for task in tasks:
        for text in task.tasks:
            lines += wrap(text, WIDTH, initial_indent="  [ ] ", subsequent_indent="      ")
        lines += _hanging("for", f"{task.complaint}: {task.why}")
        lines += _hanging("feel", task.look_for)
        for reason in task.notes:
            lines += _hanging("note", reason)
        for caution in task.cautions:
            lines += _hanging("CARE", caution)
    return lines


def _go_back(moves: Sequence[Move]) -> list[str]:
    if not moves:
        return []
    lines = _section("GO BACK FIRST")
    for move in moves:
        lines += _note(f"{move.title}: {move.shown}, {move.minutes:g} min. {move.undo}")
        for caution in move.cautions:
            lines += _hanging("CARE", caution)
    return lines


def _changes(answer: NextChange) -> list[str]:
    lines = _section("NEXT CHANGE", "one at a time; the others wait behind it")
    if not answer.proposals:
        lines.append(
            "  No setting to change that fits: see below."
            if answer.notes
            else "  No setting to change: what stands here besides is all there is."
        )
    for number, proposal in enumerate(answer.proposals, start=1):
        lines += _proposal(number, proposal)
    return lines


def _proposal(number: int, proposal: Proposal) -> list[str]:
    what = "; ".join(f"{move.title}: {move.shown}" for move in proposal.moves)
    lines = wrap(
        f"{number:>3}  {what}  ({proposal.minutes:g} min)", WIDTH, subsequent_indent="     "
    )
    lines += _hanging("for", f"{proposal.complaint}: {proposal.why}")
    lines += _hanging("chance", f"{proposal.chance:.0%} to help; {proposal.past}")
    for task in proposal.prepare:
        lines += _hanging("also", task)
    for move in proposal.moves:
        lines += _hanging("check", move.check)
        lines += _hanging("undo", move.undo)
    lines += _hanging("feel", proposal.look_for)
    for note in proposal.notes:
        lines += _hanging("note", note)
    for caution in proposal.cautions:
        lines += _hanging("CARE", caution)
    return lines


def _hanging(label: str, text: str) -> list[str]:
    if not text:
        return []
    return wrap(text, WIDTH, initial_indent=f"     {label:<7}", subsequent_indent=" " * 12)


def _note(text: str) -> list[str]:
    return wrap(text, WIDTH, initial_indent="  - ", subsequent_indent="    ")
