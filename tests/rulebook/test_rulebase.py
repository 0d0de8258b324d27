from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

from setupadvisor.errors import InputError
from setupadvisor.rulebook.compiled import compile_degrees
from setupadvisor.rulebook.degrees import degrees, shifts
from setupadvisor.rulebook.rulebase import signed_amounts
from setupadvisor.rulebook.settings import SettingWords
from tests.rulebook.small_world import FACTS, RULES, SETTINGS, TERMS, load, write

SECOND = """
  any-slip:
    title: t
    when: {any: [slippery_ground, soft_ground]}
    change: {start_lock_depth: 5 deeper}
    confidence: firm
    why: w
    look_for: l
    source: common practice, no source
"""


def test_amounts_carry_the_sign_of_their_direction_word(tmp_path: Path) -> None:
    rulebase = load(write(tmp_path, terms=TERMS, start=RULES + SECOND))

    amounts = signed_amounts(rulebase, SETTINGS)

    assert amounts.tolist() == [[-1.0, -10.0, 0.0, 0.0, 0.0], [0.0, 5.0, 0.0, 0.0, 0.0]]


def test_a_machine_may_lack_a_setting_that_a_rule_moves(tmp_path: Path) -> None:
    rulebase = load(write(tmp_path, terms=TERMS, start=RULES))

    only = {"fork_height": SETTINGS["fork_height"]}

    assert signed_amounts(rulebase, only).tolist() == [[-1.0]]


def test_a_machine_with_other_direction_words_is_refused(tmp_path: Path) -> None:
    rulebase = load(write(tmp_path, terms=TERMS, start=RULES))
    other = {"fork_height": SettingWords("mm", "up", "down", 1, 0, 12)}

    with pytest.raises(InputError, match=r"start\.yaml:4 rules\.soft-after-gate\.change"):
        signed_amounts(rulebase, other)


def test_facts_are_found_through_terms_over_terms(tmp_path: Path) -> None:
    rulebase = load(write(tmp_path, terms=TERMS, start=RULES + SECOND))

    first, second = rulebase.rules
    assert rulebase.facts_read(first) == ("cone_index_kpa", "gate_surface")
    assert rulebase.facts_read(second.when) == ("dust", "cone_index_kpa")
    assert rulebase.rules_moving("fork_height") == (first,)
    assert rulebase.rules_moving("start_lock_depth") == (first, second)
    assert rulebase.by_id["any-slip"] is second


def test_the_digest_follows_every_letter_and_the_meaning_only_what_moves_a_number(
    tmp_path: Path,
) -> None:
    plain = load(write(tmp_path / "a", terms=TERMS, start=RULES))
    same = load(write(tmp_path / "b", terms=TERMS, start=RULES))
    reworded = load(
        write(tmp_path / "c", terms=TERMS, start=RULES.replace("a front wheel", "the wheel"))
    )
    stronger = load(write(tmp_path / "d", terms=TERMS, start=RULES.replace("10 mm", "15 mm")))
    wider = load(write(tmp_path / "e", terms=TERMS.replace("700", "750"), start=RULES))

    assert same.digest == plain.digest
    assert same.meaning == plain.meaning
    assert reworded.digest != plain.digest
    assert reworded.meaning == plain.meaning
    assert len({plain.meaning, stronger.meaning, wider.meaning}) == 3


def test_a_walk_moves_settings_by_amount_times_degree(tmp_path: Path) -> None:
    """Half soft ground (500 kPa between 300 and 700) on dirt: half of each amount."""
    rulebase = load(write(tmp_path, terms=TERMS, start=RULES))
    names = tuple(FACTS)
    facts = {"cone_index_kpa": 500.0, "gate_surface": 2.0}
    low, high = degrees(
        compile_degrees(rulebase, names),
        np.array([facts.get(name, np.nan) for name in names]),
    )

    assert low.tolist() == high.tolist() == [0.5]
    assert shifts(signed_amounts(rulebase, SETTINGS), low).tolist() == [-0.5, -5.0, 0, 0, 0]
