"""Not knowing: an entry taken away never breaks the advice, and the rules that need it say so."""

from __future__ import annotations

from functools import cache
from typing import Any

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from setupadvisor.advice.workshop import entries_behind, rules_alone, situations
from setupadvisor.entries.files import bundled
from setupadvisor.entries.rider import Rider
from setupadvisor.entries.walk import Walk
from setupadvisor.entries.yaml_file import read_yaml
from setupadvisor.facts.columns import Columns, columns_from_entries, condition_fields
from tests.advice.invented import (
    MACHINES,
    WALKS,
    advice,
    bundled_rider,
    bundled_walk,
    walks,
    workshop,
)


def without(name: str, path: str) -> Walk:
    """The bundled walk with one entry taken out."""
    content = read_yaml(bundled("datasets", "walks", f"{name}.yaml")).content
    *groups, last = condition_fields()[path].key.split(".")
    place = content
    for group in groups:
        place = place[group]
    del place[last]
    return Walk.model_validate(content)


@cache
def entered(name: str) -> list[str]:
    return [
        path
        for path in columns_from_entries(bundled_walk(name), None)
        if not condition_fields()[path].listed
    ]


@given(st.sampled_from(WALKS), st.sampled_from(MACHINES), st.data())
@settings(max_examples=80, deadline=None)
def test_taking_one_entry_out_never_raises_and_never_judges_a_rule_more(
    name: str, machine: str, data: st.DataObject
) -> None:
    path = data.draw(st.sampled_from(entered(name)))
    full = advice(bundled_walk(name), machine)
    fewer = advice(without(name, path), machine)
    judged_before = {rule for rule, _, _ in full.not_judged}
    not_judged_now = {rule for rule, _, _ in fewer.not_judged}
    lost = not_judged_now - judged_before
    reading = {
        rule.id for rule in workshop(machine).rulebase.rules if path in entries(machine, rule.id)
    }
    assert lost <= reading, f"{lost - reading} do not read {path}"


@cache
def entries(machine: str, rule: str) -> set[str]:
    own = workshop(machine)
    return entries_behind(own.rulebase.facts_read(own.rulebase.by_id[rule]))


@pytest.mark.parametrize("machine", MACHINES)
def test_a_walk_of_event_and_date_alone_gives_house_values(machine: str) -> None:
    """Rules about the machine itself may speak, but not loud enough to move anything."""
    found = advice(Walk.model_validate({"event": "x", "date": "2026-05-17"}), machine)
    for setting in found.settings:
        own = workshop(machine).machine.settings[setting.setting]
        assert setting.house == own.fixed_house
        assert setting.value == own.fixed_house, setting.setting
    assert found.changes == ()
    assert len(found.not_judged) > 200
    assert found.prepare == ()


def test_a_house_value_by_formula_falls_back_and_says_so() -> None:
    found = advice(Walk.model_validate({"event": "x", "date": "2026-05-17"}))
    spring = next(s for s in found.settings if s.setting == "fork_spring")
    assert spring.value == 4.7
    assert "not known" in spring.parts[0].why
    heavy = advice(
        Walk.model_validate({"event": "x", "date": "2026-05-17"}), rider=bundled_rider("north")
    )
    spring = next(s for s in heavy.settings if s.setting == "fork_spring")
    assert spring.house > 4.7
    assert "not known" not in spring.parts[0].why


def test_what_was_not_given_is_named_among_the_cautions() -> None:
    walk = bundled_walk("deep-sand")
    bare = " ".join(advice(walk).cautions)
    assert "--rider" in bare
    assert "--on-bike" in bare
    full = " ".join(
        advice(walk, rider=bundled_rider("north"), on_bike={"fork_height": 5.0}).cautions
    )
    assert "--rider" not in full
    assert "--on-bike" not in full


def test_a_rider_of_whom_only_the_name_is_known_changes_nothing() -> None:
    walk = bundled_walk("deep-sand")
    assert [s.value for s in advice(walk).settings] == [
        s.value for s in advice(walk, rider=Rider(name="somebody")).settings
    ]


@given(walks(), st.integers(2, 5))
@settings(max_examples=25, deadline=None)
def test_one_walk_and_many_rows_of_it_say_the_same(walk: Walk, count: int) -> None:
    conditions = columns_from_entries(walk, bundled_rider("east"))
    one = situations(workshop(), conditions, 1)
    repeated: Columns = {path: np.repeat(col, count, axis=0) for path, col in conditions.items()}
    many = situations(workshop(), repeated, count)
    assert many.facts.values == pytest.approx(
        np.repeat(one.facts.values, count, axis=1), rel=1e-12, nan_ok=True
    )
    wish = rules_alone(workshop(), one)
    assert rules_alone(workshop(), many) == pytest.approx(np.repeat(wish, count, axis=0), abs=1e-9)


def test_a_formula_used_outside_its_range_is_said_among_the_cautions() -> None:
    """The soil water equations of Saxton & Rawls 2006 stop at 60 % clay."""
    content: dict[str, Any] = {"event": "x", "date": "2026-05-17"}
    quiet = advice(Walk.model_validate(content)).cautions
    clay = {"sand": 10, "silt": 10, "clay": 80, "moisture": "moist"}
    loud = advice(Walk.model_validate({**content, "ground": clay})).cautions
    (said,) = set(loud) - set(quiet)
    assert "clay 80 %" in said
    assert "less certain" in said


@pytest.mark.parametrize("name", WALKS)
def test_every_warning_of_the_facts_reaches_the_cautions(name: str) -> None:
    """Also those of ground softer than the wheels were tried on."""
    content = read_yaml(bundled("datasets", "walks", f"{name}.yaml")).content
    content.setdefault("ground", {})["cone_index"] = 5
    walk = Walk.model_validate(content)
    found = situations(workshop(), columns_from_entries(walk, None), 1)
    assert found.facts.warnings
    assert set(found.facts.warnings) <= set(advice(walk).cautions)
