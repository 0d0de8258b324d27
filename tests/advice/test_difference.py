"""What changes between two walks: entries, rules, settings; nothing else and nothing lost."""

from __future__ import annotations

from functools import cache
from typing import Any

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from setupadvisor.advice.consult import consult
from setupadvisor.advice.difference import TELLING_DEGREE, Difference, difference
from setupadvisor.advice.workshop import Workshop, knowledge, situations
from setupadvisor.entries.walk import Walk
from setupadvisor.facts.columns import Columns, columns_from_entries, condition_fields
from setupadvisor.learning.model import untrained
from tests.advice.invented import bundled_walk, walk_of, walks, workshop
from tests.advice.small_shop import shop

RULES = """
subject: shock
rules:
  softer-on-soft-ground:
    title: Soft ground, open the rebound
    when: [soft_ground]
    change: {shock_rebound_low: 4 softer}
    confidence: usual
    why: invented
    look_for: nothing
    source: common practice, no source
  look-on-soft-ground:
    title: Soft ground, look at the chain
    when: [soft_ground]
    watch: [chain]
    why: invented
    source: common practice, no source
"""


@cache
def small() -> Workshop:
    """A machine with two rules."""
    return shop(rules=RULES)


def compared(shop_: Workshop, first: Walk, then: Walk) -> Difference:
    model = untrained(knowledge(shop_))
    columns: list[Columns] = [columns_from_entries(walk, None) for walk in (first, then)]
    return difference(shop_, *columns, consult(shop_, first, model), consult(shop_, then, model))


def walk(**ground: Any) -> Walk:
    return walk_of({f"walk.ground.{name}": value for name, value in ground.items()})


def test_an_entry_is_told_before_and_after_in_the_crews_words() -> None:
    found = compared(
        workshop(),
        walk(cone_index_kpa=400.0, wear="used"),
        walk(cone_index_kpa=900.0, wear="rough"),
    )
    assert {one.title: (one.before, one.after) for one in found.entries} == {
        condition_fields()["walk.ground.cone_index_kpa"].title: ("400 kPa", "900 kPa"),
        condition_fields()["walk.ground.wear"].title: ("used", "rough"),
    }


def test_what_was_felt_before_it_was_measured_is_told_as_felt() -> None:
    """A heel that dents stands for 700 kPa, the middle of its class."""
    found = compared(
        workshop(), walk(firmness="dents"), walk(firmness="dents", cone_index_kpa=640.0)
    )
    (one,) = found.entries
    assert (one.before, one.after) == ("700 kPa by feel", "640 kPa")


def test_an_entry_that_comes_or_goes_is_told_as_not_entered() -> None:
    found = compared(workshop(), walk(stones="some"), walk(rut_depth_mm=120.0))
    assert [(one.before, one.after) for one in found.entries] == [
        ("not entered", "120 mm"),
        ("some", "not entered"),
    ]


def test_jumps_are_told_in_their_order_with_gaps_where_nothing_was_entered() -> None:
    first = walk_of({}, [{"gap": 12.0}, {"drop": 1.0}, {"gap": 9.0}])
    then = walk_of({}, [{"gap": 12.0}, {"drop": 1.0, "gap": 6.0}, {"gap": 9.0}])
    (one,) = compared(workshop(), first, then).entries
    assert one.entry == "jumps"
    assert (one.before, one.after) == ("12, –, 9 m", "12, 6, 9 m")


def test_a_rule_is_told_with_its_degrees_and_the_setting_that_follows() -> None:
    """500 kPa lies half way between soft (300) and not soft (700): two clicks of four."""
    found = compared(small(), walk(cone_index_kpa=700.0), walk(cone_index_kpa=500.0))
    assert {(one.rule, one.before, one.after) for one in found.rules} == {
        ("softer-on-soft-ground", 0.0, 0.5),
        ("look-on-soft-ground", 0.0, 0.5),
    }
    assert [(one.title, one.before, one.after) for one in found.settings] == [
        ("Rebound", "12 clicks", "14 clicks")
    ]


def test_a_rule_that_could_not_be_judged_before_is_told_as_such() -> None:
    found = compared(small(), walk(stones="none"), walk(stones="none", cone_index_kpa=300.0))
    assert {(one.before, one.after) for one in found.rules} == {(None, 1.0)}


@pytest.mark.parametrize(("degree", "told"), [(0.9, False), (1.1, True)])
def test_a_rule_that_hardly_moves_is_not_told(degree: float, told: bool) -> None:
    then = 700.0 - 400.0 * TELLING_DEGREE * degree
    found = compared(small(), walk(cone_index_kpa=700.0), walk(cone_index_kpa=then))
    assert bool(found.rules) == told


def test_the_rules_that_move_most_come_first() -> None:
    found = compared(workshop(), bundled_walk("deep-sand"), bundled_walk("stadium-metal-grid"))
    moved = [abs((one.after or 0.0) - (one.before or 0.0)) for one in found.rules]
    assert len(moved) > 5
    assert moved == sorted(moved, reverse=True)
    assert min(moved) >= TELLING_DEGREE - 1e-3, "degrees are rounded to thousandths"


@settings(max_examples=15, deadline=None)
@given(walks())
def test_a_walk_differs_from_itself_in_nothing(any_walk: Walk) -> None:
    found = compared(workshop(), any_walk, any_walk)
    assert (found.entries, found.rules, found.settings) == ((), (), ())


@settings(max_examples=15, deadline=None)
@given(walks(), walks())
def test_the_way_back_is_the_difference_turned_round(one: Walk, other: Walk) -> None:
    there, back = compared(workshop(), one, other), compared(workshop(), other, one)
    assert [(x.title, x.after, x.before) for x in there.entries] == [
        (x.title, x.before, x.after) for x in back.entries
    ]
    assert [(x.setting, x.after, x.before) for x in there.settings] == [
        (x.setting, x.before, x.after) for x in back.settings
    ]
    assert {(x.rule, x.after, x.before) for x in there.rules} == {
        (x.rule, x.before, x.after) for x in back.rules
    }


@settings(max_examples=15, deadline=None)
@given(walks(), walks())
def test_every_rule_that_moves_enough_is_told(one: Walk, other: Walk) -> None:
    found = compared(workshop(), one, other)
    degrees = [
        np.nan_to_num(situations(workshop(), columns_from_entries(walk, None), 1).degrees[0])
        for walk in (one, other)
    ]
    moved = np.abs(degrees[1] - degrees[0]) >= TELLING_DEGREE
    named = {rule.id for rule, moves in zip(workshop().rulebase.rules, moved, strict=True) if moves}
    assert {one.rule for one in found.rules} == named


@settings(deadline=None)
@given(st.floats(5.0, 9000.0))
def test_numbers_are_told_to_four_digits(cone_index_kpa: float) -> None:
    found = compared(small(), walk(), walk(cone_index_kpa=cone_index_kpa))
    (one,) = found.entries
    assert float(one.after.removesuffix(" kPa")) == pytest.approx(cone_index_kpa, rel=5e-4)
