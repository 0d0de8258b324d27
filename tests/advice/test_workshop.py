"""A machine and the rules joined: plainer machines, other ranges, other words."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest

from setupadvisor.advice.consult import consult
from setupadvisor.advice.workshop import (
    entries_behind,
    field_values,
    house_machine,
    knowledge,
    open_workshop,
    situations,
)
from setupadvisor.entries.machine import Machine
from setupadvisor.errors import InputError
from setupadvisor.facts.columns import columns_from_entries
from setupadvisor.learning.model import untrained
from tests.advice.invented import MACHINES, bundled_rider, bundled_walk, workshop


def altered(name: str, **changes: Any) -> Machine:
    """The house machine with one setting altered."""
    setting = house_machine().settings[name].model_copy(update=changes)
    return house_machine().model_copy(
        update={"settings": {**house_machine().settings, name: setting}}
    )


def values(machine: Machine, walk: str = "deep-sand") -> dict[str, float]:
    own = open_workshop(machine)
    found = consult(own, bundled_walk(walk), untrained(knowledge(own)))
    return {setting.setting: setting.value for setting in found.settings}


@pytest.mark.parametrize("left_out", ["steering_damper", "chain_links", "fork_spring"])
def test_a_machine_with_fewer_settings_is_advised_on_whatever_its_name(left_out: str) -> None:
    """Somebody copies the bundled file, deletes what the motorcycle lacks, keeps the name."""
    fewer = {name: s for name, s in house_machine().settings.items() if name != left_out}
    own = house_machine().model_copy(update={"settings": fewer})
    assert list(values(own)) == list(fewer)


def test_a_setting_of_one_s_own_is_kept_at_its_house_value() -> None:
    own = house_machine().settings["fork_height"].model_copy(update={"title": "Peg height"})
    machine = house_machine().model_copy(
        update={"settings": {**house_machine().settings, "peg_height": own}}
    )
    assert values(machine)["peg_height"] == 5.0


def test_a_range_smaller_than_a_rule_s_amount_is_no_mistake() -> None:
    """The wish ends at the end of the range."""
    small = altered("start_lock_depth", range=[105.0, 110.0], house=110.0)
    assert values(small)["start_lock_depth"] == 105.0


def test_an_adjuster_counted_the_other_way_moves_the_other_way() -> None:
    """Clicks counted in from open: stiffer is more of them."""
    usual = open_workshop(house_machine())
    turned = open_workshop(altered("fork_compression_low", up="stiffer", down="softer"))
    place = usual.settings.index("fork_compression_low")
    assert usual.amounts[:, place].any()
    assert np.array_equal(turned.amounts[:, place], -usual.amounts[:, place])
    rest = np.arange(len(usual.settings)) != place
    assert np.array_equal(turned.amounts[:, rest], usual.amounts[:, rest])


@pytest.mark.parametrize(
    ("changes", "said"),
    [
        ({"up": "front lower", "down": "front higher"}, "'front lower' or 'front higher' in mm"),
        ({"unit": "in"}, "'lower' or 'higher' in in"),
    ],
)
def test_words_or_units_the_rules_do_not_know_are_the_machine_s_mistake(
    changes: dict[str, str], said: str
) -> None:
    with pytest.raises(InputError) as caught:
        open_workshop(altered("fork_height", **changes))
    (mistake,) = caught.value.mistakes
    assert mistake.where == "machine works-450: settings.fork_height"
    assert said in mistake.found
    assert "'lower' or 'higher' in mm" in mistake.found
    assert mistake.mend


def test_a_house_value_by_an_unknown_fact_is_refused() -> None:
    house = (
        house_machine()
        .settings["fork_spring"]
        .house.model_copy(  # type: ignore[union-attr]
            update={"fact": "phase_of_the_moon"}
        )
    )
    with pytest.raises(InputError, match="phase_of_the_moon"):
        open_workshop(altered("fork_spring", house=house))


@pytest.mark.parametrize("machine", MACHINES)
def test_amounts_have_the_sign_of_their_direction_word(machine: str) -> None:
    own = workshop(machine)
    for place, rule in enumerate(own.rulebase.rules):
        moved = {own.settings[column] for column in np.flatnonzero(own.amounts[place])}
        for change in rule.changes:
            setting = own.machine.settings.get(change.setting)
            if setting is not None:
                column = own.settings.index(change.setting)
                sign = 1 if change.direction == setting.up else -1
                assert own.amounts[place, column] == sign * change.amount
                moved.discard(change.setting)
        assert not moved


def test_a_rule_reads_the_entries_behind_its_facts_for_past_sessions_too() -> None:
    known = knowledge(workshop())
    column = known.field.index("walk.ground.moisture")
    rules = workshop().rulebase.rules
    for place in range(len(known.setting)):
        wanted = any(
            workshop().amounts[number, place] != 0
            and "walk.ground.moisture" in entries_behind(workshop().rulebase.facts_read(rule))
            for number, rule in enumerate(rules)
        )
        assert known.reads[place, column] == wanted


def test_what_walks_are_compared_by_is_what_was_entered() -> None:
    conditions = columns_from_entries(bundled_walk("deep-sand"), bundled_rider("north"))
    found = situations(workshop(), conditions, 1)
    row = field_values(workshop(), conditions, found.facts)[0]
    by_name = dict(zip(workshop().fields, row.tolist(), strict=True))
    assert by_name["walk.ground.cone_index_kpa"] == 230.0
    assert by_name["jump_count"] == 3.0
    assert not any(name.startswith("rider.") for name in by_name)
    missing = {name for name, value in by_name.items() if np.isnan(value)}
    assert not missing & set(conditions)
