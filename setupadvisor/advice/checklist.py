"""The changes worth making, in working order, within the minutes there are."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from setupadvisor.advice.fitting import DRIVE_SETTINGS
from setupadvisor.entries.machine import Machine, Setting

# These follow from the sprockets; the rider feels the ratio and the axle, not the links.
FOLLOWING = ("chain_links",)
MINUTE_GRAIN = 2  # the knapsack works in half minutes
# A change is left alone where it is worth less than one sure felt change in 50 minutes of work, and
# where the wish lies hardly beyond the middle between what is fitted and the next step (common
# practice, no source).
LEAST_WORTH_A_MINUTE = 0.02
BEYOND_THE_MIDDLE = 0.6


@dataclass(frozen=True)
class Wish:
    """What the advice would set, beside what is on the motorcycle.

    Parameters
    ----------
    setting : str
        The setting's name.
    now, value : float
        What is on the motorcycle, and the advised value that can be set.
    spread : float
        Half of the advice's range, in the setting's unit.
    raw : float or None
        The wish before it was fitted; None where it is the value itself.
    asked : bool
        Whether anything of this walk asks for it: a rule, a formula, the rider or past sessions.
    """

    setting: str
    now: float
    value: float
    spread: float
    raw: float | None = None
    asked: bool = True


@dataclass(frozen=True)
class Job:
    """Changes done in one go: one setting, or sprockets, chain and axle together.

    Parameters
    ----------
    wishes : tuple of Wish
        Its changes.
    minutes : float
        Time for all of them.
    worth : float
        How much the rider would feel, in smallest felt changes, weighed by how sure it is.
    """

    wishes: tuple[Wish, ...]
    minutes: float
    worth: float


def certainty(wish: Wish) -> float:
    """Say how sure it is that the change goes the right way.

    Parameters
    ----------
    wish : Wish
        The change.

    Returns
    -------
    float
        0 when it may as well be wrong, 1 when it is sure. The range is taken as the middle
        80 % of a normal distribution.

    Examples
    --------
    >>> round(certainty(Wish("fork_height", 5.0, 5.0, 1.0)), 2)
    0.0
    >>> round(certainty(Wish("fork_height", 5.0, 7.0, 1.0)), 2)
    0.99
    """
    if wish.spread <= 0:
        return 1.0
    deviation = wish.spread / 1.2816  # 80 % of a normal distribution lie within 1.2816 deviations
    return math.erf(abs(wish.value - wish.now) / deviation / math.sqrt(2.0))


def felt_changes(setting: Setting, wish: Wish) -> float:
    """Count a change in the smallest changes a rider feels.

    Parameters
    ----------
    setting : Setting
        The setting.
    wish : Wish
        The change.

    Returns
    -------
    float
        1.0 is just felt.
    """
    if setting.names is not None or (setting.shelf is not None and setting.felt is None):
        return abs(_place(setting, wish.now) - _place(setting, wish.value))
    return abs(wish.value - wish.now) / (setting.felt or setting.step or 1.0)


def _place(setting: Setting, value: float) -> int:
    distances = [abs(known - value) for known in setting.values]
    return distances.index(min(distances))


def jobs(machine: Machine, wishes: Sequence[Wish]) -> tuple[list[Job], dict[str, str]]:
    """Sort wishes into jobs worth doing and settings better left alone.

    Parameters
    ----------
    machine : Machine
        The machine.
    wishes : sequence of Wish
        One a setting.

    Returns
    -------
    tuple of list of Job, and dict of str to str
        The jobs, and by setting why it is left alone.
    """
    found: list[Job] = []
    alone: dict[str, str] = {}
    drive = [wish for wish in wishes if wish.setting in DRIVE_SETTINGS]
    moves_drive = any(wish.now != wish.value for wish in drive if wish.setting != "axle_position")
    for wish in wishes:
        reason = _better_left(machine.settings[wish.setting], wish)
        if wish.setting in DRIVE_SETTINGS and moves_drive:
            if wish.now == wish.value:
                alone[wish.setting] = "already there"
        elif reason:
            alone[wish.setting] = reason
        else:
            found.append(_job(machine, (wish,)))
    if moves_drive:
        found.append(_job(machine, tuple(wish for wish in drive if wish.now != wish.value)))
    worth_it = [job for job in found if job.worth >= LEAST_WORTH_A_MINUTE * job.minutes]
    for job in found:
        if job not in worth_it:
            for wish in job.wishes:
                shown = machine.settings[wish.setting].show(wish.value)
                alone[wish.setting] = f"not worth the work: {shown}, {job.minutes:g} min"
    return worth_it, alone


def _better_left(setting: Setting, wish: Wish) -> str:
    """Say why a change is not worth thinking about; empty where it is."""
    if wish.now == wish.value:
        return "already there"
    told = f"{setting.show(wish.now)} against {setting.show(wish.value)}"
    if not wish.asked:
        return f"set otherwise than the house value, and nothing on this walk asks for it: {told}"
    if felt_changes(setting, wish) < 1.0:
        return f"too little to feel: {told}"
    if wish.raw is not None:
        next_to = min(
            (value for value in setting.values if (value - wish.now) * (wish.value - wish.now) > 0),
            key=lambda value: abs(value - wish.now),
        )
        if abs(wish.raw - wish.now) < BEYOND_THE_MIDDLE * abs(next_to - wish.now):
            return f"hardly past the middle of a step: {told}"
    return ""


def _job(machine: Machine, wishes: tuple[Wish, ...]) -> Job:
    settings = [machine.settings[wish.setting] for wish in wishes]
    worth = sum(
        felt_changes(setting, wish) * certainty(wish)
        for setting, wish in zip(settings, wishes, strict=True)
        if wish.setting not in FOLLOWING
    )
    # One job, one time on the stand: the longest in full, the others at half.
    minutes = sorted((setting.minutes for setting in settings), reverse=True)
    return Job(wishes, minutes[0] + 0.5 * sum(minutes[1:]), worth)


def within_minutes(candidates: Sequence[Job], minutes: float | None) -> list[Job]:
    """Pick the jobs worth most that fit into the time.

    Parameters
    ----------
    candidates : sequence of Job
        All jobs worth doing.
    minutes : float or None
        The time there is; None for no limit.

    Returns
    -------
    list of Job
        Of all selections that fit, the one worth most (exact, in half minutes).
    """
    if minutes is None:
        return list(candidates)
    costs = [math.ceil(job.minutes * MINUTE_GRAIN) for job in candidates]
    room = min(int(minutes * MINUTE_GRAIN), sum(costs))
    best: list[tuple[float, tuple[int, ...]]] = [(0.0, ())] * (room + 1)
    for place, (job, cost) in enumerate(zip(candidates, costs, strict=True)):
        for left in range(room, cost - 1, -1):
            worth, chosen = best[left - cost]
            if worth + job.worth > best[left][0]:
                best[left] = (worth + job.worth, (*chosen, place))
    return [candidates[place] for place in best[room][1]]


def working_order(machine: Machine, chosen: Sequence[Job]) -> list[Wish]:
    """Put the changes of the chosen jobs in working order.

    Parameters
    ----------
    machine : Machine
        The machine, whose settings carry their place in the order.
    chosen : sequence of Job
        The jobs.

    Returns
    -------
    list of Wish
        What to do first comes first.
    """
    wishes = [wish for job in chosen for wish in job.wishes]
    return sorted(wishes, key=lambda wish: (machine.settings[wish.setting].order, wish.setting))


def minutes_each(chosen: Sequence[Job], machine: Machine) -> Mapping[str, float]:
    """Share each job's minutes out over its changes, so that they add up.

    Parameters
    ----------
    chosen : sequence of Job
        The jobs.
    machine : Machine
        The machine.

    Returns
    -------
    mapping of str to float
        Minutes by setting.
    """
    shared: dict[str, float] = {}
    for job in chosen:
        whole = sum(machine.settings[wish.setting].minutes for wish in job.wishes)
        rest = job.minutes
        for wish in job.wishes[:-1]:
            own = machine.settings[wish.setting].minutes
            shared[wish.setting] = round(job.minutes * own / whole, 1)
            rest -= shared[wish.setting]
        shared[job.wishes[-1].setting] = round(rest, 6)
    return shared
