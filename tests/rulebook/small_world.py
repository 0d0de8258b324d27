"""A few invented facts and settings, and a rule folder on disk, for the rule book's tests."""

from __future__ import annotations

from pathlib import Path

from setupadvisor.facts.fact import Fact
from setupadvisor.rulebook.loading import load_rulebase
from setupadvisor.rulebook.rulebase import RuleBase
from setupadvisor.rulebook.settings import SettingWords


def _number(name: str, unit: str, low: float, high: float) -> Fact:
    return Fact(name, name, unit, low, high, float, (f"walk.{name}",), "as entered", "entry")


def _category(name: str, choices: tuple[str, ...]) -> Fact:
    last = len(choices) - 1
    return Fact(name, name, "", 0, last, float, (f"walk.{name}",), "as entered", "entry", choices)


FACTS = {
    fact.name: fact
    for fact in (
        _number("cone_index_kpa", "kPa", 5, 9000),
        _number("air_temperature_c", "°C", -25, 55),
        _number("stickiness", "", 0, 1),
        _category("gate_surface", ("concrete", "metal_grid", "dirt")),
        _category("dust", ("none", "some", "heavy")),
        _category("flat_landing", ("no", "yes")),
    )
}

SETTINGS = {
    "fork_height": SettingWords("mm", "lower", "higher", 1, 0, 12),
    "start_lock_depth": SettingWords("mm", "deeper", "shallower", 5, 40, 170),
    "fork_rebound_low": SettingWords("clicks", "softer", "stiffer", 1, 2, 24),
    "axle_position": SettingWords("mm", "further back", "further forward", 1, 0, 45),
    "cooling_fan": SettingWords("", "more", "less", 1, 1, 3),
}

TERMS = """
terms:
  soft_ground:
    fact: cone_index_kpa
    points: [[300, 1], [700, 0]]
    why: a heel sinks below about 300 kPa and only dents above 700 kPa
  metal_gate:
    fact: gate_surface
    is: [metal_grid]
    why: steel gives the same grip on every day
  dusty_ground:
    fact: dust
    is: [some, heavy]
    why: dust is loose ground
  slippery_ground:
    when: {any: [dusty_ground, soft_ground]}
    why: either gives way under the tyre
"""

RULES = """
subject: start
rules:
  soft-after-gate:
    title: Soft ground after the gate, front up
    when: [soft_ground, not metal_gate]
    change: {start_lock_depth: 10 mm shallower, fork_height: 1 higher}
    confidence: usual
    why: the rear wheel spins before the front wheel lifts
    look_for: a front wheel that skims
    source: common practice, no source
"""


def write(folder: Path, **texts: str) -> Path:
    """Write rule files, one for each keyword, and give the folder."""
    folder.mkdir(parents=True, exist_ok=True)
    for name, text in texts.items():
        (folder / f"{name}.yaml").write_text(text, encoding="utf-8")
    return folder


def load(*folders: Path) -> RuleBase:
    """Load rule folders with the facts and settings above."""
    return load_rulebase(folders, FACTS, SETTINGS)
