"""The errors of `retrain` as a table: this design beside simpler ways, on events left out."""

from __future__ import annotations

from collections.abc import Sequence
from textwrap import wrap

from setupadvisor.advice.season_learning import Learnt
from setupadvisor.entries.machine import Machine
from setupadvisor.learning.evaluation import ALTERNATIVES, DESIGN, SettingErrors

WIDTH = 100
SHORT = {
    DESIGN: "design",
    "rules as written": "written",
    "rider's mean": "rider",
    "same venue last time": "venue",
    "k-nearest sessions": "nearest",
    "random forest": "forest",
    "amounts only": "amounts",
}


def error_table(learnt: Learnt, machine: Machine) -> str:
    """Lay out the errors.

    Parameters
    ----------
    learnt : Learnt
        What `learn_and_evaluate` gave.
    machine : Machine
        The machine, for titles and units.

    Returns
    -------
    str
        Lines of at most 100 columns.
    """
    found = learnt.evaluation
    ways = (DESIGN, *ALTERNATIVES)
    events = f"{found.events} event{'' if found.events == 1 else 's'}"
    folds = f"{found.folds} fold{'' if found.folds == 1 else 's'}"
    lines = [
        f"ERROR ON EVENTS LEFT OUT  {found.settled} settled setups, {events} in {folds} of whole "
        "events",
        "=" * WIDTH,
        "Mean absolute error in each setting's own unit; * marks the smallest.",
        "",
        f"{'':<36}{'unit':<7}" + "".join(f"{SHORT[way]:>8}" for way in ways),
    ]
    lines += [
        _row(one, machine, ways) for one in found.settings if one.error.get(DESIGN) is not None
    ]
    lines += ["-" * WIDTH, f"{'overall, in steps':<43}" + _cells(found.overall, ways), ""]
    lines += _verdict(found.overall, ways)
    lines += _beaten(found.settings, machine)
    return "\n".join(line.rstrip() for line in lines) + "\n"


def _row(one: SettingErrors, machine: Machine, ways: Sequence[str]) -> str:
    setting = machine.settings[one.setting]
    title = setting.title if len(setting.title) <= 35 else f"{setting.title[:34]}…"
    unit = setting.unit or "place"
    return f"{title:<36}{unit[:6]:<7}" + _cells(one.error, ways)


def _cells(errors: dict[str, float | None], ways: Sequence[str]) -> str:
    known = [error for error in errors.values() if error is not None]
    smallest = min(known, default=None)
    return "".join(_cell(errors.get(way), smallest) for way in ways)


def _cell(error: float | None, smallest: float | None) -> str:
    if error is None:
        return f"{'-':>8}"
    mark = "*" if error == smallest else " "
    digits = 2 if error < 100 else 0
    return f"{f'{error:.{digits}f}{mark}':>8}"


def _verdict(overall: dict[str, float | None], ways: Sequence[str]) -> list[str]:
    own = overall.get(DESIGN)
    others = {way: error for way in ways if way != DESIGN and (error := overall.get(way))}
    if own is None or not others:
        return ["Too few events to compare."]
    best = min(others, key=lambda way: others[way])
    word = "below" if own < others[best] else "not below"
    return [f"Overall {word} every simpler way; the best of them is {best}, at {others[best]:.2f}."]


def _beaten(settings: Sequence[SettingErrors], machine: Machine) -> list[str]:
    lines: list[str] = []
    for one in settings:
        if one.beaten_by is None:
            continue
        said = f"{machine.settings[one.setting].title}: {one.beaten_by} does better"
        if one.chance is not None:
            said += f" (by chance in {one.chance:.0%} of such seasons)"
        if one.fallback:
            said += f"; falls back to {one.fallback}"
        lines += wrap(said, WIDTH, initial_indent="  ", subsequent_indent="    ")
    if not lines:
        return ["No setting is beaten by a simpler way."]
    note = (
        "Beaten in these settings; a setting falls back where the simpler way is one that can be "
        "followed and clearly better:"
    )
    return [*wrap(note, WIDTH), *lines]
