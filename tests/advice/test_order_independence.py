"""The order in which things were written down never matters."""

from __future__ import annotations

from collections.abc import Iterable
from functools import cache
from pathlib import Path
from typing import Any

import numpy as np
import pytest
import yaml
from hypothesis import given, settings
from hypothesis import strategies as st

from setupadvisor.advice.consult import consult
from setupadvisor.advice.records import Advice
from setupadvisor.advice.workshop import Workshop, house_machine, knowledge, open_workshop
from setupadvisor.entries.files import bundled
from setupadvisor.entries.machine import Machine
from setupadvisor.entries.walk import Walk
from setupadvisor.entries.yaml_file import read_yaml
from setupadvisor.learning.model import untrained
from tests.advice.invented import WALKS, advice, bundled_rider, bundled_walk

RULE = """
subject: start
rules:
  {name}:
    title: Invented rule {name}
    when: [soft_ground]
    change: {{{setting}: {amount}}}
    confidence: usual
    why: invented for this test
    look_for: nothing
    source: common practice, no source
"""


def reversed_keys(content: Any) -> Any:
    """The same content with the keys of every group the other way round."""
    if isinstance(content, dict):
        return {key: reversed_keys(value) for key, value in reversed(content.items())}
    if isinstance(content, list):
        return [reversed_keys(item) for item in content]
    return content


def ask(workshop: Workshop, walk: str) -> Advice:
    return consult(
        workshop,
        bundled_walk(walk),
        untrained(knowledge(workshop)),
        rider=bundled_rider("south"),
    )


def by_setting(found: Advice) -> dict[str, Any]:
    """What matters of the settings, the parts by source and not by place."""
    return {
        setting.setting: (
            setting.value,
            pytest.approx(setting.low),
            pytest.approx(setting.high),
            {part.source: pytest.approx(part.amount, abs=1e-9) for part in setting.parts},
        )
        for setting in found.settings
    }


@pytest.mark.parametrize("name", WALKS)
def test_the_order_of_keys_in_a_walk_does_not_matter(name: str) -> None:
    content = read_yaml(bundled("datasets", "walks", f"{name}.yaml")).content
    turned = Walk.model_validate(reversed_keys(content))
    assert turned == bundled_walk(name)
    assert advice(turned) == advice(bundled_walk(name))


def test_the_order_of_jumps_does_not_matter() -> None:
    content = read_yaml(bundled("datasets", "walks", "deep-sand.yaml")).content
    turned = Walk.model_validate({**content, "jumps": content["jumps"][::-1]})
    assert advice(turned) == advice(bundled_walk("deep-sand"))


@given(st.randoms(use_true_random=False), st.sampled_from(WALKS))
@settings(max_examples=8, deadline=None)
def test_the_order_of_settings_in_the_machine_file_does_not_matter(dice: Any, name: str) -> None:
    machine = house_machine()
    names = list(machine.settings)
    dice.shuffle(names)
    shuffled = machine.model_copy(update={"settings": {k: machine.settings[k] for k in names}})
    found = ask(open_workshop(shuffled), name)
    assert [setting.setting for setting in found.settings] == names
    usual = ask(_house_workshop(), name)
    assert by_setting(found) == by_setting(usual)
    assert [(c.setting, c.start, c.to, c.minutes) for c in found.changes] == [
        (c.setting, c.start, c.to, c.minutes) for c in usual.changes
    ]


@cache
def _house_workshop() -> Workshop:
    return open_workshop(house_machine())


def test_the_order_of_keys_in_the_machine_file_does_not_matter() -> None:
    content = read_yaml(bundled("datasets", "machines", "works-450.yaml")).content
    turned = Machine.model_validate(reversed_keys(content))
    assert turned == house_machine()
    assert by_setting(ask(open_workshop(turned), "mud")) == by_setting(
        ask(_house_workshop(), "mud")
    )


def folders(tmp_path: Path) -> list[Path]:
    """Two folders of rules that add to the bundled ones."""
    made = []
    for name, setting, amount in (
        ("invented-one", "fork_height", "2 lower"),
        ("invented-two", "idle_speed", "100 higher"),
    ):
        folder = tmp_path / name
        folder.mkdir()
        text = RULE.format(name=name, setting=setting, amount=amount)
        (folder / "own.yaml").write_text(text, encoding="utf-8")
        made.append(folder)
    return made


@pytest.mark.parametrize("walk", ["deep-sand", "mud", "bare-walk"])
def test_the_order_of_folders_whose_rules_add_does_not_matter(tmp_path: Path, walk: str) -> None:
    one, two = folders(tmp_path)
    forth, back = (
        ask(open_workshop(house_machine(), order), walk) for order in ([one, two], [two, one])
    )
    assert by_setting(forth) == by_setting(back)
    assert {change.setting: change.to for change in forth.changes} == {
        change.setting: change.to for change in back.changes
    }
    assert forth.basis["rules"]["of_the_team"] == ["invented-one", "invented-two"]
    assert forth.basis["rules"]["of_the_team"] == back.basis["rules"]["of_the_team"]


def test_rules_in_one_file_and_in_several_say_the_same(tmp_path: Path) -> None:
    one, two = folders(tmp_path)
    contents = [yaml.safe_load((folder / "own.yaml").read_text("utf-8")) for folder in (one, two)]
    joined = tmp_path / "joined"
    joined.mkdir()
    rules = {**contents[1]["rules"], **contents[0]["rules"]}
    (joined / "all.yaml").write_text(
        yaml.safe_dump({"subject": "start", "rules": rules}, sort_keys=False), encoding="utf-8"
    )
    apart = ask(open_workshop(house_machine(), [one, two]), "deep-sand")
    together = ask(open_workshop(house_machine(), [joined]), "deep-sand")
    assert by_setting(apart) == by_setting(together)


def test_a_rule_of_the_team_that_replaces_a_bundled_one_is_the_team_s(tmp_path: Path) -> None:
    """Also when it is the very first rule of all."""
    rules = _house_workshop().rulebase.rules
    for replaced in (rules[0].id, rules[-1].id):
        folder = tmp_path / replaced
        folder.mkdir()
        text = RULE.format(name=replaced, setting="fork_height", amount="2 lower")
        (folder / "own.yaml").write_text(text, encoding="utf-8")
        found = ask(open_workshop(house_machine(), [folder]), "deep-sand")
        assert found.basis["rules"]["of_the_team"] == [replaced]


def test_signed_amounts_stand_in_the_columns_of_the_machine_s_own_order() -> None:
    """A setting's direction words decide the sign, wherever it stands in the file."""
    names = list(house_machine().settings)
    turned = house_machine().model_copy(
        update={"settings": {name: house_machine().settings[name] for name in reversed(names)}}
    )
    plain, other = _house_workshop(), open_workshop(turned)
    assert np.array_equal(plain.amounts, other.amounts[:, ::-1])
    places: Iterable[int] = [names.index("fork_height"), names.index("start_lock_depth")]
    assert all(plain.amounts[:, place].any() for place in places)
