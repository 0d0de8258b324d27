"""What the rules ask for and a machine lacks is said, not passed over in silence."""

from __future__ import annotations

import pytest

from setupadvisor.advice.passed_over import passed_over
from setupadvisor.advice.workshop import open_workshop, situations
from setupadvisor.cli.pit_sheet import pit_sheet
from setupadvisor.entries.files import bundled, load_entry
from setupadvisor.entries.machine import Machine
from setupadvisor.facts.columns import columns_from_entries
from tests.advice.invented import advice, bundled_walk, workshop

PLAIN = load_entry(bundled("datasets", "machines", "works-250.yaml"), Machine)
SAND = bundled_walk("deep-sand")


def test_a_machine_with_every_setting_passes_nothing_over() -> None:
    found = advice(SAND)
    assert found.passed_over == ()
    assert "Not on this machine" not in pit_sheet(found)


def test_each_setting_that_is_missing_is_told_with_the_rules_that_would_move_it() -> None:
    shop = open_workshop(PLAIN)
    found = situations(shop, columns_from_entries(SAND, None), 1)
    told = {item.setting: set(item.rules) for item in passed_over(shop, found)}
    whole = workshop()
    missing = set(whole.machine.settings) - set(PLAIN.settings)
    speaking = [
        rule for rule, high in zip(shop.rulebase.rules, found.high[:, 0], strict=True) if high > 0
    ]
    expected = {
        name: {rule.id for rule in speaking if name in {one.setting for one in rule.changes}}
        for name in missing
    }
    assert told == {name: rules for name, rules in expected.items() if rules}
    assert "fork_compression_high" in told


def test_the_sheet_and_the_object_say_it() -> None:
    found = advice(SAND, "works-250")
    told = {item["setting"]: item for item in found.to_json()["passed_over"]}
    high = told["fork_compression_high"]
    assert set(high) == {"setting", "title", "rules"}
    assert "fork_compression_high" not in {one["setting"] for one in found.to_json()["settings"]}
    count = len(high["rules"])
    text = " ".join(pit_sheet(found).split())
    assert "Not on this machine (rules passed over): " in text
    assert f"Fork high-speed compression ({count})" in text
    assert text.index("LEFT ALONE") < text.index("Not on this machine") < text.index("NOT LOOKED")


def test_rules_that_are_silent_on_this_ground_do_not_count() -> None:
    """On a walk that says all there is to say, far from what a rule is about."""
    shop = open_workshop(PLAIN)
    sand, hot = (
        {
            rule
            for item in passed_over(
                shop, situations(shop, columns_from_entries(bundled_walk(name), None), 1)
            )
            for rule in item.rules
        }
        for name in ("deep-sand", "high-and-hot-outdoor")
    )
    assert sand - hot
    assert hot - sand


@pytest.mark.parametrize("minutes", [0.0, None])
def test_it_is_said_whatever_the_time(minutes: float | None) -> None:
    found = advice(SAND, "works-250", minutes=minutes)
    assert "Not on this machine" in pit_sheet(found)
