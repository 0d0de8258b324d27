"""The sheet of a day as data: what is on the motorcycle, what was ridden, what comes next."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from pydantic_core import PydanticCustomError

from setupadvisor.advice.consult import STANDING_CAUTIONS
from setupadvisor.advice.day_laps import by_setup, comparisons_of, lanes_of
from setupadvisor.advice.day_records import DaySheet, SheetChange, SheetOuting, SheetSetting
from setupadvisor.advice.next_records import NextChange
from setupadvisor.advice.records import Advice, AdvisedSetting
from setupadvisor.entries.logbook.records import Cell, ChangeEntry, Day, Ridden
from setupadvisor.entries.machine import Machine, Setting

# A scale with more places than these is drawn without ticks.
MOST_PLACES = 13
_ALPHABET = "ABCDEFGHIJKLMNOPQRSTUVWXYZ"


@dataclass(frozen=True)
class SetupsOfDay:
    """What was on the motorcycle through a day.

    Parameters
    ----------
    ridden : tuple of dict of str to float
        In each outing, by setting; what was not written again stays as it was.
    now : dict of str to float
        After the last change.
    notes : tuple of str
        What could not be read.
    """

    ridden: tuple[dict[str, float], ...]
    now: dict[str, float]
    notes: tuple[str, ...]


def setups_of(machine: Machine, day: Day) -> SetupsOfDay:
    """Follow the setup through the day.

    Parameters
    ----------
    machine : Machine
        The machine; outings on another one have no setup here.
    day : Day
        What was ridden and changed.

    Returns
    -------
    SetupsOfDay
        The setup of each outing, and what is on the motorcycle now.
    """
    ridden: list[dict[str, float]] = []
    notes: dict[str, None] = {}
    setup: dict[str, float] = {}
    for one in day.outings:
        if one.outing.machine != machine.name:
            notes[f"Outing {one.outing.session_id} was ridden on {one.outing.machine}."] = None
            ridden.append({})
            continue
        written, unread = _readable(machine, one.outing.setup)
        notes |= dict.fromkeys(f"Outing {one.outing.session_id}: {text}" for text in unread)
        changes = [c for c in _after(day, one) if c.setting in machine.settings]
        setup = {**{c.setting: c.start for c in changes}, **setup, **written}
        ridden.append(setup)
        setup = {**setup, **{c.setting: c.to for c in changes}}
    return SetupsOfDay(tuple(ridden), setup, tuple(notes))


def _readable(machine: Machine, cells: Mapping[str, Cell]) -> tuple[dict[str, float], list[str]]:
    values: dict[str, float] = {}
    unread = []
    for name, written in cells.items():
        setting = machine.settings.get(name)
        if setting is None:
            unread.append(f"{machine.name} has no setting {name}.")
            continue
        try:
            values[name] = setting.read(written)
        except PydanticCustomError as error:
            unread.append(f"{setting.title}: {(error.context or {})['found']}.")
    return values, unread


def _after(day: Day, one: Ridden) -> list[ChangeEntry]:
    return [change for change in day.changes if change.after == one.outing.session_id]


def day_sheet(
    machine: Machine,
    *,
    advice: Advice | None = None,
    setup: Mapping[str, float] | None = None,
    day: Day | None = None,
    proposed: NextChange | None = None,
) -> DaySheet:
    """Put the sheet together.

    Parameters
    ----------
    machine : Machine
        The machine.
    advice : Advice, optional
        For the walk of the day.
    setup : mapping of str to float, optional
        What is on the motorcycle; taken from the day where there is one.
    day : Day, optional
        What was ridden and changed.
    proposed : NextChange, optional
        What to try next.

    Returns
    -------
    DaySheet
        The sheet.
    """
    history = _history(machine, day) if day is not None else {}
    on_bike = dict(setup or {})
    notes: tuple[str, ...] = ()
    if day is not None:
        found = setups_of(machine, day)
        on_bike, notes = {**on_bike, **found.now}, found.notes
    return DaySheet(
        **_head(machine, advice, day),
        **history,
        settings=_settings(machine, advice, on_bike),
        proposed=proposed,
        **(_of_the_advice(advice) if advice is not None else {"cautions": STANDING_CAUTIONS}),
        notes=(*notes, *(() if advice is not None else (_NO_WALK,))),
    )


_NO_WALK = "No walk is known for this day: nothing is advised."


def _head(machine: Machine, advice: Advice | None, day: Day | None) -> dict[str, Any]:
    dates = sorted({one.outing.date for one in day.outings}) if day is not None else []
    if not dates and advice is not None:
        dates = [advice.date]
    walk = day.walk if day is not None else None
    return {
        "event": day.event if day is not None else (advice.event if advice else ""),
        "date": " to ".join(dict.fromkeys([dates[0], dates[-1]])) if dates else "",
        "machine": machine.name,
        "venue": advice.venue if advice is not None else (walk.venue if walk else None),
        "rider": day.rider if day is not None else (advice.rider if advice else None),
    }


def _of_the_advice(advice: Advice) -> dict[str, Any]:
    return {
        "drive": advice.drive,
        "open_changes": advice.changes,
        "prepare": advice.prepare,
        "watch": advice.watch,
        "basis": advice.basis,
        "cautions": advice.cautions,
    }


def _settings(
    machine: Machine, advice: Advice | None, on_bike: Mapping[str, float]
) -> tuple[SheetSetting, ...]:
    advised = {one.setting: one for one in advice.settings} if advice is not None else {}
    return tuple(
        _setting(name, setting, advised.get(name), on_bike.get(name))
        for name, setting in machine.settings.items()
    )


def _setting(
    name: str, setting: Setting, advised: AdvisedSetting | None, now: float | None
) -> SheetSetting:
    places = setting.values
    return SheetSetting(
        setting=name,
        title=setting.title,
        group=setting.group,
        unit=setting.unit,
        now=now,
        advised=advised.value if advised else None,
        shown_now="" if now is None else setting.show(now),
        shown=advised.shown if advised else "",
        low=advised.low if advised else None,
        high=advised.high if advised else None,
        range_kind=advised.range_kind if advised else "",
        lowest=setting.lowest,
        highest=setting.highest,
        places=places if len(places) <= MOST_PLACES else (),
        has_names=setting.names is not None,
    )


def _history(machine: Machine, day: Day) -> dict[str, Any]:
    setups = setups_of(machine, day)
    letters = _letters([*setups.ridden, setups.now])
    ridden, pending_setup = letters[:-1], letters[-1]
    lanes = {lane.outing: lane for lane in lanes_of(day.outings, ridden)}
    outings = []
    for number, one in enumerate(day.outings, start=1):
        lane = lanes.get(number)
        best = lane.best_s if lane is not None else None
        outings.append(
            SheetOuting(
                number=number,
                name=one.outing.session_id,
                date=one.outing.date,
                time=one.outing.time,
                setup=ridden[number - 1],
                changes=_changes_before(machine, day, setups, number - 1),
                mark=one.mark,
                said=tuple(remark.text for remark in one.remarks),
                laps=len(lane.lap_s) if lane is not None else 0,
                set_aside=lane.set_aside if lane is not None else 0,
                best_s=one.best_lap_s if best is None else best,
                typical_s=lane.typical_s if lane is not None else None,
            )
        )
    last = _after(day, day.outings[-1]) if day.outings else []
    return {
        "outings": tuple(outings),
        "pending": tuple(_recorded(machine, last)),
        "pending_setup": pending_setup,
        "laps": by_setup(list(lanes.values())),
        "comparisons": comparisons_of(day.outings, ridden),
    }


def _letters(setups: Sequence[Mapping[str, float]]) -> list[str]:
    """Name each different setup by a letter, in the order ridden.

    A setting that is first written down later in the day counts as not moved until then.
    """
    first: dict[str, float] = {}
    for setup in setups:
        first = {**setup, **first}
    known: dict[frozenset[tuple[str, float]], str] = {}
    letters = []
    for setup in setups:
        if not setup:
            letters.append("")
            continue
        key = frozenset({**first, **setup}.items())
        round_, place = divmod(len(known), len(_ALPHABET))
        letters.append(known.setdefault(key, _ALPHABET[place] + (str(round_ + 1) * bool(round_))))
    return letters


def _changes_before(
    machine: Machine, day: Day, setups: SetupsOfDay, place: int
) -> tuple[SheetChange, ...]:
    """Compare the setup of an outing with the one before; what was written down comes along."""
    if place == 0:
        return ()
    before, then = setups.ridden[place - 1], setups.ridden[place]
    written = _after(day, day.outings[place - 1])
    verdicts = {change.setting: change.verdict for change in written}
    found = [
        _change(machine.settings[name], name, before[name], then[name], verdicts.get(name, ""))
        for name in machine.settings
        if name in before and name in then and before[name] != then[name]
    ]
    moved = {change.setting for change in found}
    rest = [change for change in written if change.setting not in moved]
    return (*found, *_recorded(machine, rest))


def _recorded(machine: Machine, written: Iterable[ChangeEntry]) -> list[SheetChange]:
    return [
        _change(machine.settings.get(one.setting), one.setting, one.start, one.to, one.verdict)
        for one in written
        if one.start != one.to
    ]


def _change(
    setting: Setting | None, name: str, start: float, to: float, verdict: str
) -> SheetChange:
    if setting is None:
        return SheetChange(name, name.replace("_", " "), f"{start:g} → {to:g}", verdict)
    shown = f"{setting.show(start)} → {setting.show(to)}"
    if setting.names is None and setting.unit:
        shown = f"{setting.show(start).removesuffix(setting.unit).rstrip()} → {setting.show(to)}"
    return SheetChange(name, setting.title, shown, verdict)
