"""The contract of `advise --json`: every key, plain finite values, nothing lost on the way."""

from __future__ import annotations

import json
import math
from collections.abc import Iterator
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from setupadvisor.advice.consult import consult
from setupadvisor.entries.rider import Rider
from setupadvisor.entries.walk import Walk
from tests.advice.invented import (
    MACHINES,
    WALKS,
    advice,
    bundled_rider,
    bundled_walk,
    riders,
    setups,
    walks,
    workshop,
)
from tests.advice.small_season import trained

# What other programs rely on; more keys may stand beside these.
CONTRACT: dict[str, set[str]] = {
    "settings": {"setting", "unit", "value", "low", "high", "now", "parts"},
    "changes": {"setting", "from", "to", "unit", "minutes", "why", "check", "undo", "cautions"},
    "prepare": {"task", "why", "cautions"},
    "watch": {"what", "why"},
    "left_alone": {"setting", "why"},
    "not_judged": {"rule", "needs"},
    "worth_measuring": {"entry", "moves"},
}
BASIS = {"sessions", "events", "nearest", "model", "rules"}


def numbers(content: Any) -> Iterator[float]:
    if isinstance(content, dict):
        content = list(content.values())
    if isinstance(content, list):
        for item in content:
            yield from numbers(item)
    elif isinstance(content, int | float) and not isinstance(content, bool):
        yield float(content)


def check_contract(found: dict[str, Any]) -> None:
    assert {*CONTRACT, "basis", "cautions"} <= set(found)
    for name, keys in CONTRACT.items():
        assert isinstance(found[name], list)
        for item in found[name]:
            assert keys <= set(item), name
    for setting in found["settings"]:
        for part in setting["parts"]:
            assert set(part) == {"from", "amount", "why"}
        total = math.fsum(part["amount"] for part in setting["parts"])
        assert abs(total - setting["value"]) < 1e-9
        assert setting["now"] is None or isinstance(setting["now"], float)
    assert set(found["basis"]) >= BASIS
    assert all(isinstance(caution, str) and caution for caution in found["cautions"])
    assert all(math.isfinite(number) for number in numbers(found))


@given(st.sampled_from(MACHINES), walks(), riders(), st.data())
@settings(max_examples=40, deadline=None)
def test_json_holds_the_contract_whatever_was_entered(
    machine: str, walk: Walk, rider: Rider | None, data: st.DataObject
) -> None:
    on_bike = data.draw(setups(machine))
    found = advice(walk, machine, rider=rider, on_bike=on_bike, minutes=30.0).to_json()
    check_contract(found)
    assert json.loads(json.dumps(found, allow_nan=False)) == found


@pytest.mark.parametrize("walk", WALKS)
def test_json_with_past_sessions_holds_the_contract(walk: str) -> None:
    model, provenance = trained()
    found = consult(
        workshop(),
        bundled_walk(walk),
        model,
        rider=bundled_rider("north"),
        provenance=provenance,
    ).to_json()
    check_contract(found)
    assert json.loads(json.dumps(found, allow_nan=False)) == found
    assert found["basis"]["sessions"] == 32
    assert found["basis"]["events"] == 8
    assert found["basis"]["model"] == provenance
    assert found["basis"]["nearest"]
    for item in found["basis"]["nearest"]:
        assert {"event", "venue", "date", "rider", "distance", "shares", "differs"} <= set(item)


@pytest.mark.parametrize("walk", WALKS)
def test_json_says_the_same_as_the_advice(walk: str) -> None:
    given_advice = advice(bundled_walk(walk), on_bike={"fork_height": 4.0})
    found = given_advice.to_json()
    assert [item["value"] for item in found["settings"]] == [s.value for s in given_advice.settings]
    assert [(item["setting"], item["from"], item["to"]) for item in found["changes"]] == [
        (change.setting, change.start, change.to) for change in given_advice.changes
    ]
    now = {item["setting"]: item["now"] for item in found["settings"]}
    assert now.pop("fork_height") == 4.0
    assert set(now.values()) == {None}
    assert found["not_judged"] == [
        {"rule": rule, "title": title, "needs": list(needs)}
        for rule, title, needs in given_advice.not_judged
    ]


@pytest.mark.parametrize("walk", WALKS)
def test_tasks_come_from_rules_that_apply_and_carry_their_cautions(walk: str) -> None:
    rules = workshop().rulebase.by_id
    found = advice(bundled_walk(walk)).to_json()
    for task in found["prepare"]:
        rule = rules[task["rule"]]
        assert task["task"] in rule.prepare
        assert task["cautions"] == ([rule.caution] if rule.caution else [])
    for item in found["watch"]:
        assert item["what"] in rules[item["rule"]].watch
    tasks = [task["task"] for task in found["prepare"]]
    assert len(set(tasks)) == len(tasks)


def test_standing_cautions_name_the_manual_the_event_rules_and_qualified_people() -> None:
    text = " ".join(advice(bundled_walk("bare-walk")).cautions)
    assert "service manual" in text
    assert "event's rules" in text
    assert "qualified" in text
    assert "first laps" in text
