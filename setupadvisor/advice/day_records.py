"""What stands on the sheet of a day, as plain records."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import asdict, dataclass, field
from typing import Any

from setupadvisor.advice.day_laps import SetupLaps
from setupadvisor.advice.next_records import NextChange
from setupadvisor.advice.records import Change, Task
from setupadvisor.learning.laps import Comparison


@dataclass(frozen=True)
class SheetSetting:
    """One setting on the sheet.

    Parameters
    ----------
    setting, title, group, unit : str
        What it is.
    now, advised : float or None
        What is on the motorcycle and what is advised; None where not known.
    shown_now, shown : str
        The same as a mechanic reads them; empty where not known.
    low, high : float or None
        The advised range.
    range_kind : str
        ``cv+`` from past events, ``prior`` from the rules' confidence alone, empty without advice.
    lowest, highest : float
        The ends of what can be set.
    places : tuple of float
        What can be set, where that is a handful of places.
    has_names : bool
        Whether its values are names in an order.
    """

    setting: str
    title: str
    group: str
    unit: str
    now: float | None
    advised: float | None
    shown_now: str
    shown: str
    low: float | None
    high: float | None
    range_kind: str
    lowest: float
    highest: float
    places: tuple[float, ...]
    has_names: bool

    @property
    def differs(self) -> bool:
        """Whether something else is on the motorcycle than what is advised."""
        return None not in (self.now, self.advised) and self.now != self.advised


@dataclass(frozen=True)
class SheetChange:
    """A setting changed between two outings.

    Parameters
    ----------
    setting, title : str
        What was changed.
    shown : str
        From what to what.
    verdict : str
        ``better``, ``same``, ``worse``, or empty while it is not known.
    """

    setting: str
    title: str
    shown: str
    verdict: str


@dataclass(frozen=True)
class SheetOuting:
    """One outing of the day.

    Parameters
    ----------
    number : int
        Its place in the day, from 1.
    name, date, time : str
        As in the book; the time may be empty.
    setup : str
        The letter of its setup: the same setup has the same letter all day; empty where nothing
        is known of it.
    changes : tuple of SheetChange
        What was changed before it.
    mark : float or None
        The rider's mark, 1 to 5.
    said : tuple of str
        The rider's words.
    laps, set_aside : int
        Laps that count, and those that do not.
    best_s, typical_s : float or None
        Best lap, and median of the laps that count, in seconds.
    """

    number: int
    name: str
    date: str
    time: str
    setup: str
    changes: tuple[SheetChange, ...]
    mark: float | None
    said: tuple[str, ...]
    laps: int
    set_aside: int
    best_s: float | None
    typical_s: float | None


@dataclass(frozen=True)
class DaySheet:
    """Everything that stands on the sheet.

    Parameters
    ----------
    event, date, machine : str
        Which day, on what.
    venue, rider : str or None
        None where not given.
    settings : tuple of SheetSetting
        All of the machine's, in the order of its file.
    drive : tuple of str
        Notes on sprockets, chain and axle.
    outings : tuple of SheetOuting
        In the order ridden.
    pending : tuple of SheetChange
        What was changed after the last outing.
    pending_setup : str
        The letter of the setup for the next outing; empty where it is not known.
    laps : tuple of SetupLaps
        Laps by setup.
    comparisons : tuple of Comparison
        Each setup against the one before it.
    proposed : NextChange or None
        The next change, where the rider said something after the last outing.
    open_changes : tuple of Change
        What the advice asks for and is not on the motorcycle, in working order.
    prepare, watch : tuple of Task
        Of the advice.
    basis : dict
        What the advice rests on; empty without one.
    notes, cautions : tuple of str
        What was not known, and what holds for all of it.
    """

    event: str
    date: str
    machine: str
    venue: str | None
    rider: str | None
    settings: tuple[SheetSetting, ...]
    drive: tuple[str, ...] = ()
    outings: tuple[SheetOuting, ...] = ()
    pending: tuple[SheetChange, ...] = ()
    pending_setup: str = ""
    laps: tuple[SetupLaps, ...] = ()
    comparisons: tuple[Comparison, ...] = ()
    proposed: NextChange | None = None
    open_changes: tuple[Change, ...] = ()
    prepare: tuple[Task, ...] = ()
    watch: tuple[Task, ...] = ()
    basis: Mapping[str, Any] = field(default_factory=dict)
    notes: tuple[str, ...] = ()
    cautions: tuple[str, ...] = ()

    def to_json(self) -> dict[str, Any]:
        """Give plain values; None for what is not known."""
        plain = {**asdict(self), "comparisons": [one.to_json() for one in self.comparisons]}
        return {key: _plain(value) for key, value in plain.items()}


def _plain(value: Any) -> Any:
    if isinstance(value, Mapping):
        return {key: _plain(inner) for key, inner in value.items()}
    if isinstance(value, list | tuple):
        return [_plain(inner) for inner in value]
    return None if isinstance(value, float) and not math.isfinite(value) else value
