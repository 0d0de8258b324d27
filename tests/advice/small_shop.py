"""A machine with four settings and a rule base of a few lines, where each number can be checked."""

from __future__ import annotations

from pathlib import Path
from tempfile import TemporaryDirectory
from typing import Any

from setupadvisor.advice.workshop import (
    Situations,
    Workshop,
    house_machine,
    setting_words,
    situations,
)
from setupadvisor.entries.setting import Setting
from setupadvisor.facts.catalogue import FACTS
from setupadvisor.facts.columns import columns_from_entries
from setupadvisor.facts.table import NAMES
from setupadvisor.rulebook.compiled import compile_degrees
from setupadvisor.rulebook.loading import load_rulebase
from setupadvisor.rulebook.rulebase import signed_amounts
from tests.advice.invented import walk_of


def setting(title: str, minutes: float, **others: Any) -> Setting:
    """Clicks from 2 to 24 in steps of one, house 12, unless told otherwise."""
    return Setting.model_validate(
        {
            "title": title,
            "group": "Invented",
            "unit": "clicks",
            "range": [2, 24],
            "step": 1,
            "up": "softer",
            "down": "stiffer",
            "house": 12,
            "minutes": minutes,
            "tools": [],
            "order": 1,
            "check": "Count.",
            "undo": "Count back.",
            **others,
        }
    )


SETTINGS = {
    "shock_rebound_low": setting("Rebound", 1),
    "shock_compression_low": setting("Compression", 1, cautions=["Hot."]),
    "race_sag": setting(
        "Sag", 15, unit="mm", range=[95, 115], up="more", down="less", house=104
    ),
    "shock_spring": setting(
        "Spring", 40, unit="N/mm", range=None, step=None, shelf=[44, 48, 54], up="stiffer",
        down="softer", house=48,
    ),
}  # fmt: skip

TERMS = """
terms:
  soft_ground:
    fact: cone_index_kpa
    points: [[300, 1], [700, 0]]
    why: invented
"""


def remark(name: str, what: str, end: str, *ways: str) -> str:
    """A remark in the rules' language; a way is 'setting: change | gain | more keys'."""
    text = (
        f"  {name}:\n    title: Title of {name}\n    where: whoops\n    what: {what}\n"
        f"    end: {end}\n    words: [word of {name}]\n    look_for: less of it\n"
        "    source: common practice, no source\n    try:\n"
    )
    for way in ways:
        change, gain, *more = way.split(" | ")
        text += f"      - change: {{{change}}}\n        gain: {gain}\n        why: Because.\n"
        text += "".join(f"        {line}\n" for line in more)
    return text


def shop(*remarks: str, rules: str = "") -> Workshop:
    """The machine with these remarks."""
    machine = house_machine().model_copy(update={"settings": SETTINGS})
    words = setting_words(SETTINGS)
    with TemporaryDirectory() as folder:
        path = Path(folder, "rules.yaml")
        said = f"remarks:\n{''.join(remarks)}" if remarks else ""
        path.write_text(f"{TERMS}\n{rules}\n{said}", encoding="utf-8")
        rulebase = load_rulebase([Path(folder)], FACTS, words)
    compiled = compile_degrees(rulebase, NAMES)
    return Workshop(machine, rulebase, compiled, signed_amounts(rulebase, words))


def ground(workshop: Workshop, cone_index_kpa: float | None = 1500.0) -> Situations:
    """What follows from a walk that says how firm the ground is, or nothing."""
    entries = {} if cone_index_kpa is None else {"walk.ground.cone_index_kpa": cone_index_kpa}
    return situations(workshop, columns_from_entries(walk_of(entries), None), 1)
