"""Moving a setting from where it stands, and back to the last good setup."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace

from setupadvisor.advice.fitting import fit
from setupadvisor.advice.next_records import Move, Tried
from setupadvisor.advice.workshop import Workshop
from setupadvisor.entries.machine import Setting

TRIES_BEFORE_GOING_BACK = 2


def move_by(name: str, setting: Setting, setup: Mapping[str, float], shift: float) -> Move | None:
    """Move a setting by an amount, by one place at least.

    Parameters
    ----------
    name : str
        The setting's name.
    setting : Setting
        The setting.
    setup : mapping of str to float
        What is on the motorcycle; a missing setting counts as at its house value.
    shift : float
        By how much, in the setting's number.

    Returns
    -------
    Move or None
        None at the end of its range.
    """
    start = fit(setting, setup.get(name, setting.fixed_house))
    to = fit(setting, start + shift)
    if to == start:
        onward = [value for value in setting.values if (value - start) * shift > 0]
        if not onward:
            return None
        to = min(onward, key=lambda value: abs(value - start))
    direction = setting.up if to > start else setting.down
    return Move(
        setting=name,
        title=setting.title,
        start=start,
        to=to,
        shown=f"{setting.show(start)} → {setting.show(to)} ({direction})",
        minutes=setting.minutes,
        check=setting.check,
        undo=f"Back to {setting.show(start)}: {setting.undo}",
        cautions=tuple(setting.cautions),
    )


def going_back(
    workshop: Workshop, setup: Mapping[str, float], tried: Sequence[Tried]
) -> tuple[tuple[Move, ...], list[str]]:
    """Take back a change that made it worse, and everything after two that did not help.

    Parameters
    ----------
    workshop : Workshop
        The machine.
    setup : mapping of str to float
        What is on the motorcycle.
    tried : sequence of Tried
        What was tried today, in order.

    Returns
    -------
    tuple of tuple of Move and list of str
        What to take back, and the reason.
    """
    failed: list[Tried] = []
    for one in reversed(tried):
        if one.verdict not in {"same", "worse"}:
            break
        failed.append(one)
    if not failed or (failed[0].verdict != "worse" and len(failed) < TRIES_BEFORE_GOING_BACK):
        return (), []
    back: dict[str, float] = {}
    take_back = failed if len(failed) >= TRIES_BEFORE_GOING_BACK else failed[:1]
    for one in take_back:
        back[one.setting] = one.start  # the earliest start wins: it was the last good setup
    moves, notes = [], []
    for name, value in back.items():
        setting = workshop.machine.settings[name]
        move = move_by(name, setting, setup, value - setup[name]) if setup[name] != value else None
        if move is not None:
            undo = f"Back to {setting.show(move.to)}: {setting.undo}"
            moves.append(replace(move, undo=undo))
        else:
            notes.append(f"{setting.title} is back at {setting.show(value)} already")
    if moves:
        reason = (
            f"{len(failed)} changes in a row did not help: back to the last good setup first"
            if len(failed) >= TRIES_BEFORE_GOING_BACK
            else "The last change made it worse: take it back first"
        )
        notes.insert(0, reason)
    return tuple(moves), notes
