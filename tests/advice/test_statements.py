"""Sanity statements of the bundled rules over random walks, and the test that tests them."""

from __future__ import annotations

import dataclasses
from functools import cache
from pathlib import Path

import numpy as np
import pytest

from setupadvisor.advice.random_walks import JUMPS, facts_along, random_walks
from setupadvisor.advice.sanity_runner import WALKS, StatementOutcome, check_statements
from setupadvisor.advice.workshop import Workshop, house_machine, open_workshop
from setupadvisor.entries.files import bundled
from setupadvisor.entries.quantity import Quantity
from setupadvisor.facts.catalogue import FACTS
from setupadvisor.facts.columns import condition_fields
from setupadvisor.facts.table import facts_from
from setupadvisor.rulebook.sanity import Statement, load_statements


@cache
def workshop() -> Workshop:
    return open_workshop(house_machine())


@cache
def statements() -> dict[str, Statement]:
    machine, rules = workshop().machine, workshop().rulebase.by_id
    return load_statements(bundled("rules"), FACTS, machine.settings, rules)


@cache
def results() -> dict[str, StatementOutcome]:
    return {
        found.statement.id: found
        for found in check_statements(workshop(), statements().values(), WALKS)
    }


def test_every_statement_holds_over_random_walks() -> None:
    wrong = [str(mistake) for result in results().values() for mistake in result.mistakes()]

    assert WALKS >= 200
    assert not wrong, "\n".join(wrong)


def test_there_are_at_least_forty_directions_and_the_well_known_ones_are_among_them() -> None:
    directions = {
        (path, statement.rising, setting, word)
        for statement in statements().values()
        for path in statement.along
        for setting, word, _ in statement.never
    }

    assert len([found for found in statements().values() if found.never]) >= 40
    assert ("walk.ground.cone_index_kpa", False, "fork_height", "lower") in directions
    assert ("walk.air.temperature_c", True, "cooling_fan", "less") in directions
    assert ("rider.mass_kg", True, "fork_spring", "softer") in directions
    assert ("rider.mass_kg", True, "shock_spring", "softer") in directions


def test_every_number_of_walk_and_rider_is_continuous_or_left_out_with_a_reason() -> None:
    numbers = {
        path
        for path, field in condition_fields().items()
        if isinstance(field.kind, Quantity) and not field.kind.whole
    }
    smooth = [found for found in statements().values() if found.largest_jump]
    covered = {path for found in smooth for path in found.along}
    left_out = {path for found in smooth for path, reason in found.leaving_out if reason}

    assert covered | left_out == numbers
    assert not covered & left_out
    assert max(found.largest_jump for found in smooth) <= 0.05


def test_exceptions_are_few_and_argued() -> None:
    exceptions = [pair for found in statements().values() for pair in found.apart_from]

    assert len(exceptions) <= 5
    assert all(len(reason) > 40 for _, reason in exceptions)


def test_an_exception_is_needed() -> None:
    """Without the rule named under apart_from the statement would not hold."""
    for name, found in statements().items():
        if found.apart_from:
            strict = dataclasses.replace(found, apart_from=())
            (result,) = check_statements(workshop(), [strict], 500)
            assert result.violations, name


def test_the_opposite_of_every_direction_is_violated() -> None:
    """What is stated can fail: the setting does move along it, the other way."""
    turned = [
        dataclasses.replace(
            found, never=tuple((setting, word, -sign) for setting, word, sign in found.never)
        )
        for found in statements().values()
        if found.never
    ]

    for result in check_statements(workshop(), turned, WALKS):
        violated = {violation.setting for violation in result.violations}
        assert violated == {setting for setting, _, _ in result.statement.never}, (
            result.statement.id
        )


TERMS = """
terms:
  softer_than_500:
    fact: cone_index_kpa
    points: [[500, 1], [500, 0]]
    why: a cliff, to see that it is found
  between_400_and_600:
    fact: cone_index_kpa
    points: [[400, 0], [500, 1], [600, 0]]
    why: a hill, to see that it is found
"""
RULES = """
subject: wrong on purpose
rules:
  {name}:
    title: Wrong on purpose
    when: [{term}]
    change: {{fork_height: 2 higher, steering_damper: 2 softer}}
    confidence: firm
    why: To see that it is found.
    look_for: Nothing.
    source: common practice, no source
"""
ALONG = """
statements:
  hill:
    title: The damper is never stiffer in softer ground
    along: falling ground.cone_index
    never: {steering_damper: stiffer}
    source: common practice, no source
  cliff:
    title: No jump along firmness
    along: [ground.cone_index]
    continuous: 0.05
    source: common practice, no source
  still:
    title: Firmness moves no lever
    along: rising ground.cone_index
    never: {front_brake_lever_reach: closer in}
    source: common practice, no source
"""


def wrong(folder: Path, name: str, term: str) -> dict[str, StatementOutcome]:
    (folder / "terms.yaml").write_text(TERMS, encoding="utf-8")
    (folder / "rules.yaml").write_text(RULES.format(name=name, term=term), encoding="utf-8")
    (folder / "along.yaml").write_text(ALONG, encoding="utf-8")
    own = open_workshop(house_machine(), (folder,))
    found = load_statements(folder, FACTS, own.machine.settings, own.rulebase.by_id)
    return {result.statement.id: result for result in check_statements(own, found.values(), 40)}


def test_a_rule_with_a_vertical_side_is_found_as_a_jump_at_its_place(tmp_path: Path) -> None:
    found = wrong(tmp_path, "a-cliff", "softer_than_500")

    jumps = {jump.setting: jump for jump in found["cliff"].violations}

    assert set(jumps) == {"fork_height", "steering_damper"}
    assert jumps["steering_damper"].rules == ("a-cliff",)
    assert jumps["steering_damper"].steps == pytest.approx(2.0)
    assert jumps["steering_damper"].start == pytest.approx(500.0, abs=0.1)
    assert jumps["steering_damper"].end == pytest.approx(500.0, abs=0.1)
    assert "a-cliff" in str(found["cliff"].mistakes()[0])


def test_a_rule_with_two_slopes_is_no_jump_but_goes_both_ways(tmp_path: Path) -> None:
    found = wrong(tmp_path, "a-hill", "between_400_and_600")

    assert not found["cliff"].violations
    (violation,) = found["hill"].violations
    assert violation.rules == ("a-hill",)
    assert violation.end < 500.0
    assert violation.start < 600.0
    assert found["hill"].mistakes()[0].where.endswith("along.yaml:3 statements.hill")


def test_a_statement_about_what_never_moves_is_told(tmp_path: Path) -> None:
    (mistake,) = wrong(tmp_path, "a-hill", "between_400_and_600")["still"].mistakes()

    assert mistake.found == "nothing ever moves front_brake_lever_reach along it"


def test_the_same_random_state_gives_the_same_result() -> None:
    some = [found for found in statements().values() if found.never][:3]

    first = check_statements(workshop(), some, 30, random_state=5)
    again = check_statements(workshop(), some, 30, random_state=5)

    assert first == again


def test_facts_along_an_entry_are_those_of_the_whole_table() -> None:
    """What does not depend on the entry is kept, what does is calculated anew."""
    random = np.random.default_rng(3)
    walks = random_walks(6, random)
    base = facts_from(walks, workshop().constants, 6)
    for path, field in condition_fields().items():
        kind = field.kind
        if path not in walks or not isinstance(kind, Quantity):
            continue
        points = np.sort(random.uniform(kind.plausible[0], kind.plausible[-1], (6, 3)), axis=1)
        points = np.round(points) if kind.whole else points
        column = points.ravel()
        changed = {other: np.repeat(values, 3, axis=0) for other, values in walks.items()}
        if field.listed:
            changed[path][:, 0] = column
        else:
            changed[path] = column

        along = facts_along(workshop(), base, walks, path, points)

        whole = facts_from(changed, workshop().constants, 18)
        np.testing.assert_allclose(along.values, whole.values, rtol=1e-9, err_msg=path)


def test_random_walks_are_entries_that_can_be() -> None:
    walks = random_walks(300, np.random.default_rng(0))

    for path, values in walks.items():
        field = condition_fields()[path]
        assert values.shape == ((300, JUMPS) if field.listed else (300,))
        share = np.isnan(values).mean()
        assert 0.0 < share < 0.15
        if isinstance(field.kind, Quantity):
            assert np.nanmin(values) >= field.kind.low
            assert np.nanmax(values) <= field.kind.high
        else:
            assert set(values[np.isfinite(values)]) == set(range(len(field.kind.choices)))
