"""The rider: what the springs carry and how the controls are used."""

from __future__ import annotations

from typing import Annotated

from setupadvisor.entries import words
from setupadvisor.entries.quantity import Entry, Quantity, Word
from setupadvisor.entries.texts import Name, Note


class Rider(Entry):
    """A rider, in riding gear."""

    name: Name
    mass_kg: (
        Annotated[float, Quantity("kg", 20, 180, "Rider with all riding gear", (62, 75, 88))] | None
    ) = None
    height_cm: (
        Annotated[float, Quantity("cm", 100, 220, "Rider's height", (165, 176, 188))] | None
    ) = None
    skill: Annotated[str, Word("Skill", words.SKILLS)] | None = None
    clutch_hand: Annotated[str, Word("How the clutch is used", words.HANDS)] | None = None
    throttle_hand: Annotated[str, Word("How the throttle is opened", words.HANDS)] | None = None
    braking: Annotated[str, Word("How the brakes are used", words.HANDS)] | None = None
    arm_pump: Annotated[str, Word("Arms tire early", words.AMOUNTS)] | None = None
    note: Note | None = None
