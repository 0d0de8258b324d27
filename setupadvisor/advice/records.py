"""The advice as data: what other programs read as JSON and the pit sheet prints."""

from __future__ import annotations

from dataclasses import asdict, dataclass, field
from typing import Any


@dataclass(frozen=True)
class Part:
    """One part of a setting's value; the parts of a setting sum to its value.

    Parameters
    ----------
    source : str
        ``house``, ``rider``, ``rule:ID``, ``past_sessions`` or ``fitting``.
    amount : float
        In the setting's number.
    why : str
        One sentence.
    """

    source: str
    amount: float
    why: str


@dataclass(frozen=True)
class AdvisedSetting:
    """One setting of the advice.

    Parameters
    ----------
    setting, title, group, unit : str
        What it is.
    value, low, high : float
        What to set, and its range.
    range_kind : str
        ``cv+`` from past events, or ``prior`` from the rules' confidence alone.
    now : float or None
        What is on the motorcycle; None where not entered.
    house : float
        Where it started from.
    shown, shown_now : str
        The value, and what is there now (else the house value), as a mechanic reads them.
    has_names : bool
        Whether its values are names in an order.
    parts : tuple of Part
        They sum to `value`.
    """

    setting: str
    title: str
    group: str
    unit: str
    value: float
    low: float
    high: float
    range_kind: str
    now: float | None
    house: float
    shown: str
    shown_now: str
    has_names: bool
    parts: tuple[Part, ...]


@dataclass(frozen=True)
class Change:
    """One line of the checklist.

    Parameters
    ----------
    setting, title, unit : str
        What is changed.
    start, to : float
        From what to what, in the setting's number.
    shown : str
        The same as a mechanic reads it, with the direction in words.
    minutes : float
        Time it takes.
    why, check, undo : str
        One sentence each.
    cautions : tuple of str
        What is dangerous.
    """

    setting: str
    title: str
    unit: str
    start: float
    to: float
    shown: str
    minutes: float
    why: str
    check: str
    undo: str
    cautions: tuple[str, ...]


@dataclass(frozen=True)
class Task:
    """A preparation task, or a thing to watch.

    Parameters
    ----------
    text, why : str
        What, and why.
    title : str
        The title of the rule that asks for it.
    cautions : tuple of str
        What is dangerous.
    rule, subject : str
        The rule that asks for it, and its subject.
    """

    text: str
    why: str
    title: str
    cautions: tuple[str, ...]
    rule: str
    subject: str


@dataclass(frozen=True)
class Likeness:
    """A past session like this walk.

    Parameters
    ----------
    event, venue, date, rider : str
        Which one.
    distance : float
        Gower's distance, 0 alike to 1.
    shares, differs : tuple of str
        In the crew's words.
    """

    event: str
    venue: str
    date: str
    rider: str
    distance: float
    shares: tuple[str, ...]
    differs: tuple[str, ...]


@dataclass(frozen=True)
class PassedOver:
    """A setting that the machine lacks, and the rules that would have moved it.

    Parameters
    ----------
    setting, title : str
        Its name and title in the bundled machine file.
    rules : tuple of str
        Rules that speak of it on this walk, or might.
    """

    setting: str
    title: str
    rules: tuple[str, ...]


@dataclass(frozen=True)
class Together:
    """What all changes together do to the motorcycle.

    Parameters
    ----------
    name, unit : str
        The quantity.
    before, after : float
        With what is on the motorcycle, and with the changes made.
    """

    name: str
    unit: str
    before: float
    after: float


@dataclass(frozen=True)
class Advice:
    """The whole advice for one walk.

    Parameters
    ----------
    event, date : str
        The walk's.
    venue, rider : str or None
        None where not given.
    machine : str
        Its name.
    settings : tuple of AdvisedSetting
        All of the machine's, in the order of its file.
    changes : tuple of Change
        What is worth doing, in working order.
    prepare, watch : tuple of Task
        Preparation tasks and things to watch, those of the most fitting rules first.
    left_alone : dict of str to str
        By setting, why it is not among the changes.
    not_judged : tuple of (str, str, tuple of str)
        Rule, its title, and the entries it waits for.
    worth_measuring : tuple of (str, str, dict of str to float)
        Entry, its title, and how far it could move which setting; the most telling first.
    together : tuple of Together
        What the changes do to the motorcycle's stance.
    drive : tuple of str
        Notes on sprockets, chain and axle.
    basis : dict
        What the advice rests on: sessions, events, the nearest of them, model, rules.
    cautions : tuple of str
        What holds for all of it.
    passed_over : tuple of PassedOver
        What rules would have moved and the machine lacks.
    """

    event: str
    date: str
    venue: str | None
    rider: str | None
    machine: str
    settings: tuple[AdvisedSetting, ...]
    changes: tuple[Change, ...]
    prepare: tuple[Task, ...]
    watch: tuple[Task, ...]
    left_alone: dict[str, str]
    not_judged: tuple[tuple[str, str, tuple[str, ...]], ...]
    worth_measuring: tuple[tuple[str, str, dict[str, float]], ...]
    together: tuple[Together, ...]
    drive: tuple[str, ...]
    basis: dict[str, Any] = field(default_factory=dict)
    cautions: tuple[str, ...] = ()
    passed_over: tuple[PassedOver, ...] = ()

    def to_json(self) -> dict[str, Any]:
        """Give the object that `advise --json` prints.

        Returns
        -------
        dict
            Plain values only; every number finite.
        """
        return {
            "event": self.event,
            "date": self.date,
            "venue": self.venue,
            "rider": self.rider,
            "machine": self.machine,
            "settings": [
                {
                    **{key: value for key, value in asdict(setting).items() if key != "parts"},
                    "parts": [
                        {"from": part.source, "amount": part.amount, "why": part.why}
                        for part in setting.parts
                    ],
                }
                for setting in self.settings
            ],
            "changes": [
                {
                    "setting": change.setting,
                    "title": change.title,
                    "from": change.start,
                    "to": change.to,
                    "unit": change.unit,
                    "shown": change.shown,
                    "minutes": change.minutes,
                    "why": change.why,
                    "check": change.check,
                    "undo": change.undo,
                    "cautions": list(change.cautions),
                }
                for change in self.changes
            ],
            "prepare": [
                {
                    "task": task.text,
                    "why": task.why,
                    "cautions": list(task.cautions),
                    "rule": task.rule,
                }
                for task in self.prepare
            ],
            "watch": [
                {"what": task.text, "why": task.why, "rule": task.rule} for task in self.watch
            ],
            "left_alone": [
                {"setting": setting, "why": why} for setting, why in self.left_alone.items()
            ],
            "not_judged": [
                {"rule": rule, "title": title, "needs": list(needs)}
                for rule, title, needs in self.not_judged
            ],
            "passed_over": [
                {**asdict(item), "rules": list(item.rules)} for item in self.passed_over
            ],
            "worth_measuring": [
                {"entry": entry, "title": title, "moves": moves}
                for entry, title, moves in self.worth_measuring
            ],
            "together": [asdict(item) for item in self.together],
            "drive": list(self.drive),
            "basis": self.basis,
            "cautions": list(self.cautions),
        }
