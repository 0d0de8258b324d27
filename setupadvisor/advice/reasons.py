"""Why a value is what it is, and why a change goes the way it goes, in words."""

from __future__ import annotations

import numpy as np

from setupadvisor.advice.checklist import Wish
from setupadvisor.advice.fitting import DRIVE_SETTINGS
from setupadvisor.advice.records import AdvisedSetting, Part
from setupadvisor.advice.workshop import Situations
from setupadvisor.entries.machine import House
from setupadvisor.entries.setting import Setting
from setupadvisor.facts.catalogue import FACTS

# A part pulls a change where it makes up this much of it.
TELLING_SHARE = 0.35


def house_why(setting: Setting, found: Situations) -> str:
    """Say where a house value comes from.

    Parameters
    ----------
    setting : Setting
        The setting.
    found : Situations
        One row.

    Returns
    -------
    str
        The fact and formula behind it, or that it is the machine's own.
    """
    if not isinstance(setting.house, House):
        return "the machine's house value"
    fact = FACTS[setting.house.fact]
    if np.isnan(found.facts[fact.name][0]):
        return f"the machine's house value; {fact.title[:1].lower()}{fact.title[1:]} is not known"
    return f"{fact.title} ({fact.formula})"


def fitting_why(name: str, setting: Setting) -> str:
    """Say what fitting did to a wish.

    Parameters
    ----------
    name : str
        The setting's name.
    setting : Setting
        The setting.

    Returns
    -------
    str
        The step, the shelf, or the chain.
    """
    if name in DRIVE_SETTINGS:
        return "sprockets, even chain links and the axle slot chosen together"
    if setting.step is None:
        return "the nearest on the shelf"
    return f"the nearest step of {setting.step:g} {setting.unit}".rstrip()


def in_words(setting: Setting, wish: Wish) -> str:
    """Say a change as a mechanic reads it.

    Parameters
    ----------
    setting : Setting
        The setting.
    wish : Wish
        The change.

    Returns
    -------
    str
        ``12 clicks → 10 clicks (2 stiffer)``.
    """
    direction = setting.up if wish.value > wish.now else setting.down
    if setting.names is not None or setting.shelf is not None:
        return f"{setting.show(wish.now)} → {setting.show(wish.value)} ({direction})"
    amount = f"{round(abs(wish.value - wish.now), 2):g} {direction}"
    return f"{setting.show(wish.now)} → {setting.show(wish.value)} ({amount})"


def change_why(advised: AdvisedSetting, wish: Wish) -> str:
    """Name the one or two parts that pull the change its way the most.

    Parameters
    ----------
    advised : AdvisedSetting
        The setting with its parts.
    wish : Wish
        The change.

    Returns
    -------
    str
        Their reasons.
    """
    sign = 1.0 if wish.value > wish.now else -1.0
    pulling = sorted(
        (part for part in advised.parts if part.source != "house" and sign * part.amount > 0),
        key=lambda part: -abs(part.amount),
    )
    strongest = [part for part in pulling if part.source != "fitting"][:2]
    pull = sum(abs(part.amount) for part in pulling if part.source != "fitting")
    if strongest and pull >= TELLING_SHARE * abs(wish.value - wish.now):
        return _joined(strongest)
    house = advised.parts[0]
    back = f"towards {house.why}; nothing else on this walk asks for more"
    if advised.now is not None and sign * (advised.house - wish.now) > 0:
        return back
    return _joined(strongest or pulling[:1]) or back


def _joined(parts: list[Part]) -> str:
    return "; ".join(part.why.rstrip(".") for part in parts)
