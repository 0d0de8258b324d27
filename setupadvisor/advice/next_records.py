"""The next change as data: what was tried, what the past says, what is proposed."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True)
class Tried:
    """A change tried today.

    Parameters
    ----------
    setting : str
        What was changed.
    start, to : float
        From what to what.
    verdict : str
        ``"better"``, ``"same"``, ``"worse"``, or empty when not known yet.
    remark : str
        The remark it was for; may be empty.
    """

    setting: str
    start: float
    to: float
    verdict: str = ""
    remark: str = ""


@dataclass(frozen=True)
class Record:
    """How changes of one kind did in the team's past.

    Parameters
    ----------
    setting, direction : str
        What was moved which way.
    behaviour, end : str
        Against which complaint.
    better, same, worse : int
        How often it did what.
    """

    setting: str
    direction: str
    behaviour: str
    end: str
    better: int
    same: int
    worse: int


@dataclass(frozen=True)
class Move:
    """One setting moved by a proposal.

    Parameters
    ----------
    setting, title : str
        What is moved.
    start, to : float
        From what to what, in the setting's number.
    shown : str
        The same as a mechanic reads it.
    minutes : float
        Time it takes.
    check, undo : str
        One sentence each.
    cautions : tuple of str
        What is dangerous.
    """

    setting: str
    title: str
    start: float
    to: float
    shown: str
    minutes: float
    check: str
    undo: str
    cautions: tuple[str, ...]


@dataclass(frozen=True)
class Proposal:
    """One change to try.

    Parameters
    ----------
    remark, complaint : str
        Id and title of the remark it answers.
    moves : tuple of Move
        The settings it moves together; one change.
    prepare : tuple of str
        Tasks that go with it.
    chance : float
        Chance that it helps.
    past : str
        The record behind it, in words.
    gain_per_minute : float
        What the order goes by.
    minutes : float
        Time it takes.
    why, look_for : str
        Reason, and what to feel for.
    notes : tuple of str
        Conditions and complaints that moved the chance.
    cautions : tuple of str
        What is dangerous, each once: about the change itself, then about the settings it moves.
    """

    remark: str
    complaint: str
    moves: tuple[Move, ...]
    prepare: tuple[str, ...]
    chance: float
    past: str
    gain_per_minute: float
    minutes: float
    why: str
    look_for: str
    notes: tuple[str, ...]
    cautions: tuple[str, ...]


@dataclass(frozen=True)
class RemarkTask:
    """Something to look at or to prepare after a remark; it moves no setting.

    Parameters
    ----------
    remark, complaint : str
        Id and title of the remark it answers.
    tasks : tuple of str
        What to do.
    why, look_for : str
        Reason, and what to feel for.
    notes : tuple of str
        Conditions that make it more or less likely.
    cautions : tuple of str
        What is dangerous.
    """

    remark: str
    complaint: str
    tasks: tuple[str, ...]
    why: str
    look_for: str
    notes: tuple[str, ...]
    cautions: tuple[str, ...]


@dataclass(frozen=True)
class NextChange:
    """What to do next.

    Parameters
    ----------
    proposals : tuple of Proposal
        The one to try, and two behind it; alternatives, never to be done together.
    go_back : tuple of Move
        Changes to take back first; empty when there are none.
    notes : tuple of str
        What was left out and why; complaints that oppose each other.
    checks : tuple of RemarkTask
        What must be in order before any setting is changed; what can throw a rider first.
    prepare : tuple of RemarkTask
        Work that helps and moves no setting.
    """

    proposals: tuple[Proposal, ...]
    go_back: tuple[Move, ...]
    notes: tuple[str, ...]
    checks: tuple[RemarkTask, ...] = ()
    prepare: tuple[RemarkTask, ...] = ()
