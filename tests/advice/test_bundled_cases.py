"""The bundled rules against the bundled cases, and the cases against rules that are wrong."""

from __future__ import annotations

import dataclasses
from collections import Counter
from collections.abc import Callable
from functools import cache

import numpy as np
import pytest

import setupadvisor.advice.case_bench as bench_module
from setupadvisor.advice.case_runner import Outcome, bundled_machines, read_cases, run_cases
from setupadvisor.advice.workshop import (
    Situations,
    Workshop,
    house_machine,
    open_workshop,
    situations,
)
from setupadvisor.entries.files import bundled
from setupadvisor.facts.columns import Columns
from setupadvisor.facts.valid_range import FloatArray
from setupadvisor.rulebook.cases import Case

# The trade's commonplaces (common practice, no source), and the cases that hold the rules to them.
COMMONPLACES = {
    "stadium tracks want clearly higher spring rates than outdoor ones": (
        "stadium-springs-clearly-stiffer",
        "stadium-springs-for-a-light-rider",
        "hard-slick-stadium-keeps-its-springs",
    ),
    "the axle is kept as far back as the chain allows for the whoops": (
        "whoops-axle-back",
        "sandy-whoops-axle-further-back",
        "stadium-whoops-keep-the-axle-back",
    ),
    "gearing is not changed so far that the axle position is lost": (
        "sprockets-do-not-cost-the-axle",
        "stadium-whoops-keep-the-axle-back",
    ),
    "on a metal grid what matters most is the ground just behind it": (
        "metal-grid-firm-behind",
        "metal-grid-soft-behind",
        "metal-grid-wet-behind",
        "ground-behind-the-gate-not-looked-at",
    ),
    "the front goes up or down from track to track with the grid's traction": (
        "metal-grid-tacky-behind",
        "metal-grid-slick-behind",
    ),
    "engine maps are touched at every track for dirt and corners": (
        "map-touched-on-tacky-loam",
        "map-touched-in-the-stadium",
        "map-touched-in-sand",
        "map-touched-in-mud",
        "map-touched-on-dry-hills",
        "slick-corners-milder-map",
    ),
    "outdoor heat wants the fan and another air filter than the stadium": (
        "outdoor-heat-fan-and-filter",
        "stadium-open-filter",
    ),
    "a rider hard on the clutch wants other springs and plates": (
        "hard-clutch-hand",
        "smooth-clutch-hand-left-alone",
    ),
    "two compression and two rebound circuits at both ends": (
        "braking-bumps-open-the-circuits",
        "big-bumps-hold-the-fork-up",
        "hard-landing-high-speed-circuits",
    ),
    "air in the fork is a last help": (
        "air-is-the-last-help",
        "no-air-where-nothing-bottoms",
        "no-air-on-a-slope",
    ),
    "the linkage stays, shock length and spring move": ("stadium-shock-not-linkage",),
    "tape and grip aids where the rider holds on": (
        "tape-where-the-rider-holds-on",
        "tape-in-the-mud",
    ),
    "an auxiliary starting lead in reach": (
        "auxiliary-lead-in-reach",
        "auxiliary-lead-for-a-novice",
        "easy-day-without-the-lead",
    ),
}


@cache
def workshops() -> dict[str, Workshop]:
    return {name: open_workshop(machine) for name, machine in bundled_machines().items()}


@cache
def cases() -> dict[str, Case]:
    rules = [rule.id for rule in workshops()[house_machine().name].rulebase.rules]
    return read_cases(bundled("rules"), house_machine(), rules)


def outcomes() -> list[Outcome]:
    return run_cases(cases().values(), cases(), workshops())


def test_every_bundled_case_holds() -> None:
    wrong = [str(outcome.as_mistake()) for outcome in outcomes() if not outcome.holds]

    assert not wrong, "\n".join(wrong)


def test_there_are_cases_of_every_subject() -> None:
    subjects = Counter(case.origin.file.rpartition("/")[2] for case in cases().values())

    assert len(cases()) >= 110
    assert len(subjects) >= 10
    assert min(subjects.values()) >= 5


@pytest.mark.parametrize("commonplace", COMMONPLACES)
def test_the_trade_s_commonplaces_have_cases_with_titles_and_a_source(commonplace: str) -> None:
    for name in COMMONPLACES[commonplace]:
        assert cases()[name].title
        assert cases()[name].source


def test_no_setting_is_the_linkage() -> None:
    """The linkage stays: what moves at the rear is the shock's length and its spring."""
    for machine in bundled_machines().values():
        titles = " ".join(setting.title for setting in machine.settings.values()).lower()
        assert "linkage" not in titles
        assert {"shock_length", "shock_spring"} <= machine.settings.keys()


def test_every_setting_that_rules_move_is_spoken_of_by_a_case() -> None:
    moved = {
        change.setting
        for rule in workshops()["works-450"].rulebase.rules
        for change in rule.changes
    }
    spoken = {
        sentence.setting
        for case in cases().values()
        for sentence in case.expect
        if hasattr(sentence, "setting")
    }

    assert moved <= spoken


World = Callable[[Workshop, Columns, int], Situations]
Degrees = Callable[[FloatArray, FloatArray], tuple[FloatArray, FloatArray]]


def _world(degrees: Degrees) -> World:
    def found(workshop: Workshop, conditions: Columns, rows: int) -> Situations:
        true = situations(workshop, conditions, rows)
        low, high = degrees(true.low, true.high)
        return dataclasses.replace(true, low=low, high=high)

    return found


def _same_house(workshop: Workshop, conditions: Columns, rows: int) -> Situations:
    """House values that take nothing from walk or rider, and mute rules."""
    true = situations(workshop, conditions, rows)
    house = [setting.fixed_house for setting in workshop.machine.settings.values()]
    mute = np.zeros_like(true.low)
    return dataclasses.replace(true, low=mute, high=mute, house=np.tile(house, (rows, 1)))


def _dice(random_state: int) -> World:
    random = np.random.default_rng(random_state)

    def thrown(low: FloatArray, high: FloatArray) -> tuple[FloatArray, FloatArray]:
        dice = random.integers(0, 2, low.shape).astype(np.float64)
        return dice, dice

    return _world(thrown)


# Rule bases that are wrong, each in its own way.
WRONG_WORLDS: dict[str, World] = {
    "rules are mute": _world(lambda low, high: (low * 0.0, low * 0.0)),
    "every rule always speaks": _world(lambda low, high: (low * 0.0 + 1.0, low * 0.0 + 1.0)),
    "rules speak where they should not": _world(lambda low, high: (1.0 - high, 1.0 - low)),
    "rules speak thrice as loud": _world(lambda low, high: (low * 3.0, high * 3.0)),
    "house values are the same for all": _same_house,
    "dice are thrown": _dice(1),
    "dice are thrown again": _dice(2),
}


def _held(world: World, monkeypatch: pytest.MonkeyPatch, sign: float = 1.0) -> list[bool]:
    monkeypatch.setattr(bench_module, "situations", world)
    turned = {
        name: dataclasses.replace(workshop, amounts=sign * workshop.amounts)
        for name, workshop in workshops().items()
    }
    return [outcome.holds for outcome in run_cases(cases().values(), cases(), turned)]


def test_every_sentence_fails_where_the_rules_are_wrong(monkeypatch: pytest.MonkeyPatch) -> None:
    """A sentence that holds whatever the rules say would test nothing."""
    worlds = [_held(world, monkeypatch) for world in WRONG_WORLDS.values()]
    worlds.append(_held(situations, monkeypatch, sign=-1.0))  # rules push the wrong way
    sentences = [(outcome.case.id, outcome.sentence.text) for outcome in outcomes()]

    never = [said for place, said in enumerate(sentences) if all(held[place] for held in worlds)]

    assert never == []


def test_mute_rules_fail_nearly_every_case(monkeypatch: pytest.MonkeyPatch) -> None:
    """Only what rules must leave alone can hold where they say nothing at all."""
    held = _held(WRONG_WORLDS["rules are mute"], monkeypatch)
    by_case: dict[str, bool] = {}
    for outcome, holds in zip(outcomes(), held, strict=True):
        by_case[outcome.case.id] = by_case.get(outcome.case.id, True) and holds

    assert sum(by_case.values()) <= 0.15 * len(by_case)
