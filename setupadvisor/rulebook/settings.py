"""A setting's words, and reading amounts such as ``10 mm shallower``."""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from setupadvisor.entries.quantity import shown
from setupadvisor.entries.yaml_file import KeyPath
from setupadvisor.rulebook.reading import Reading, group, hint

_AMOUNT = re.compile(r"([-+]?(?:\d+(?:[.,]\d*)?|[.,]\d+))\s*(.*)", re.DOTALL)
# How one of a counted unit is written.
_SINGULAR = {"clicks": "click", "teeth": "tooth", "links": "link", "turns": "turn"}
_STEPS = ("steps", "step")


@dataclass(frozen=True, slots=True)
class SettingWords:
    """What a rule must know of a setting.

    Parameters
    ----------
    unit : str
        As printed; empty for a setting without one.
    up, down : str
        The direction words of a growing and of a shrinking number.
    step : float or None
        The smallest change; None for parts on a shelf.
    low, high : float
        The range of the number, in `unit`.

    Examples
    --------
    >>> SettingWords("mm", "lower", "higher", 1.0, 0.0, 12.0).sign("higher")
    -1
    """

    unit: str
    up: str
    down: str
    step: float | None
    low: float
    high: float

    def sign(self, direction: str) -> int:
        """Give +1 or -1 for a direction word, 0 for a word that is none."""
        return (direction == self.up) - (direction == self.down)


@dataclass(frozen=True, slots=True)
class Change:
    """How a rule at full degree moves one setting.

    Parameters
    ----------
    setting : str
        The setting's name.
    amount : float
        Above zero, in the setting's unit.
    direction : str
        One of the setting's two direction words.
    """

    setting: str
    amount: float
    direction: str

    def __str__(self) -> str:
        return f"{self.setting}: {self.amount:g} {self.direction}"


def read_changes(
    reading: Reading, path: KeyPath, written: Any, settings: Mapping[str, SettingWords]
) -> tuple[Change, ...]:
    """Read the changes of a rule or of a candidate.

    Parameters
    ----------
    reading : Reading
        Takes the mistakes.
    path : tuple of str and int
        Where they stand.
    written : object
        Setting to amount, as read from YAML.
    settings : mapping of str to SettingWords
        The settings there are.

    Returns
    -------
    tuple of Change
        The changes that could be read.
    """
    changes = []
    content = group(reading, path, written, "a setting and an amount: 'fork_height: 2 lower'")
    for name, amount in content.items():
        here = (*path, name)
        if name not in settings:
            mend = hint(name, settings, "the machine file lists the settings there are")
            reading.wrong(here, "there is no such setting", mend)
            continue
        change = _read_amount(reading, here, name, amount, settings[name])
        if change is not None:
            changes.append(change)
    return tuple(changes)


def _read_amount(
    reading: Reading, path: KeyPath, name: str, written: Any, setting: SettingWords
) -> Change | None:
    example = f"'2 {setting.up}' or '2 {setting.down}'"
    match = _AMOUNT.fullmatch(written.strip()) if isinstance(written, str) else None
    if match is None:
        is_number = isinstance(written, int | float) and not isinstance(written, bool)
        missing = "has no direction" if is_number else "is no amount and direction"
        reading.wrong(path, f"{shown(written)} {missing}", f"write an amount such as {example}")
        return None
    amount = float(match[1].replace(",", "."))
    direction = _direction(match[2], setting)
    if not setting.sign(direction):
        found = f"{shown(direction)} is no direction here" if direction else "no direction word"
        reading.wrong(path, f"{found} ({shown(written)})", f"{name} goes {_both(setting)}")
        return None
    span = setting.high - setting.low
    if amount < 0 or match[1][0] in "+-":
        reading.wrong(path, f"{shown(written)} has a sign", f"the word says it: write {example}")
    elif amount == 0:
        reading.wrong(path, "0 moves nothing", "write an amount above 0 or take the key out")
    elif amount > span:
        reading.wrong(
            path,
            f"{amount:g} is more than {name} can move",
            f"its whole range is {span:g} {setting.unit}".rstrip()
            + f" ({setting.low:g} to {setting.high:g}); write a smaller amount",
        )
    else:
        return Change(name, amount, direction)
    return None


def unit_words(unit: str) -> tuple[str, ...]:
    """Give the words that may stand between an amount and its direction.

    Parameters
    ----------
    unit : str
        A setting's unit; empty for none.

    Returns
    -------
    tuple of str
        The unit and how one of it is written.

    Examples
    --------
    >>> unit_words("clicks"), unit_words("kPa"), unit_words("")
    (('clicks', 'click'), ('kPa',), ('steps', 'step'))
    """
    if not unit:
        return _STEPS
    return (unit, _SINGULAR[unit]) if unit in _SINGULAR else (unit,)


def _direction(words: str, setting: SettingWords) -> str:
    text = " ".join(words.split()).lower()
    for unit in unit_words(setting.unit):
        if text.startswith(f"{unit.lower()} "):
            return text[len(unit) + 1 :]
    return text


def _both(setting: SettingWords) -> str:
    return f"'{setting.up}' or '{setting.down}'"
