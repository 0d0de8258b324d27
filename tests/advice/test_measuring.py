"""What was not looked at: rules not judged, and what is worth going back for."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import numpy as np
import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st

from setupadvisor.advice.measuring import BY_INSTRUMENT, not_judged, worth_measuring
from setupadvisor.advice.workshop import entries_behind, open_workshop, situations
from setupadvisor.entries.walk import Walk
from setupadvisor.facts.columns import columns_from_entries, condition_fields
from tests.advice.invented import (
    WALKS,
    advice,
    answers,
    bundled_rider,
    bundled_walk,
    jumps,
    riders,
    values,
    walk_of,
    walks,
    workshop,
)

LIMITS_RULE = """
subject: start
terms:
  limits_meet_somewhere:
    fact: lock_depth_where_limits_meet_mm
    points: [[60, 0], [120, 1]]
    why: invented
rules:
  limits-meet:
    title: Invented
    when: [limits_meet_somewhere]
    change: {start_rpm: 250 higher}
    confidence: loose
    why: invented
    look_for: nothing
    source: common practice, no source
"""
SINGLE = {
    path: field
    for path, field in condition_fields().items()
    if path.startswith("walk.") and not field.listed
}
BY_KEY = {field.key: field for field in SINGLE.values()}


@given(walks(), riders())
@settings(max_examples=40, deadline=None)
def test_an_entry_that_was_given_is_never_asked_for(walk: Walk, rider: Any) -> None:
    conditions = columns_from_entries(walk, rider)
    given_keys = {
        field.key if path.startswith("walk.") else f"rider {field.key}"
        for path, field in condition_fields().items()
        if path in conditions and not field.listed
    }
    found = advice(walk, rider=rider)
    asked = {entry for entry, _, _ in found.worth_measuring}
    assert not asked & given_keys
    needed = {need for _, _, needs in found.not_judged for need in needs}
    assert not needed & given_keys


@given(jumps.filter(bool))
@settings(max_examples=30, deadline=None)
def test_jumps_that_were_listed_are_not_asked_for_again(listed: list[dict[str, Any]]) -> None:
    walk = walk_of({}, listed)
    entered = any(path.startswith("walk.jumps.") for path in columns_from_entries(walk, None))
    asked = {entry for entry, _, _ in advice(walk).worth_measuring}
    assert ("jumps" in asked) == (not entered)


@pytest.mark.parametrize("walk", WALKS)
def test_nobody_is_sent_for_an_instrument(walk: str) -> None:
    by_instrument = {condition_fields()[path].key for path in BY_INSTRUMENT}
    found = advice(bundled_walk(walk))
    assert not by_instrument & {entry for entry, _, _ in found.worth_measuring}
    assert not by_instrument & {need for _, _, needs in found.not_judged for need in needs}


def test_a_rule_over_what_has_no_value_here_is_not_waiting_for_anything(tmp_path: Path) -> None:
    """On this gate the rear wheel spins first however deep the lock: the limits never meet."""
    (tmp_path / "ours.yaml").write_text(LIMITS_RULE, encoding="utf-8")
    own = open_workshop(workshop().machine, [tmp_path])
    answers_given = {
        "walk.air.temperature_c": 0.0,
        "walk.ground.texture": "sand",
        "walk.ground.moisture": "waterlogged",
        "walk.start.surface": "concrete",
        "walk.start.condition": "dusty",
        "walk.start.surface_length_m": 0.0,
        "walk.start.after_cone_index_kpa": 666.0,
        "walk.start.after_moisture": "moist",
    }
    waiting = []
    for left_out in (None, "walk.start.after_cone_index_kpa"):
        given_now = {path: answer for path, answer in answers_given.items() if path != left_out}
        conditions = columns_from_entries(walk_of(given_now), bundled_rider("north"))
        found = situations(own, conditions, 1)
        assert np.isnan(found.facts["lock_depth_where_limits_meet_mm"][0])
        waiting.append(dict(not_judged(own, found, conditions)).get("limits-meet"))
    assert waiting[0] is None
    assert "start.after_firmness" in waiting[1]


@given(walks(), riders())
@settings(max_examples=25, deadline=None)
def test_no_rule_waits_for_nothing(walk: Walk, rider: Any) -> None:
    for rule, _, needs in advice(walk, rider=rider).not_judged:
        assert needs, rule


@pytest.mark.parametrize("walk", WALKS)
def test_every_rule_that_was_not_judged_names_what_it_waits_for(walk: str) -> None:
    for rule, title, needs in advice(bundled_walk(walk)).not_judged:
        assert needs, rule
        assert title


@pytest.mark.parametrize("walk", WALKS)
def test_what_is_most_telling_comes_first_and_moves_something(walk: str) -> None:
    given_walk = bundled_walk(walk)
    found = worth_measuring(workshop(), columns_from_entries(given_walk, None))
    weights = [item.weight for item in found]
    assert weights == sorted(weights, reverse=True)
    for item in found:
        assert item.moves
        amounts = list(item.moves.values())
        assert min(amounts) > 0
        assert set(item.moves) <= set(workshop().settings)


def test_a_bare_walk_has_much_to_go_back_for() -> None:
    found = advice(bundled_walk("bare-walk"))
    assert len(found.worth_measuring) >= 10
    assert len(found.not_judged) > len(advice(bundled_walk("deep-sand")).not_judged)


def test_a_full_walk_leaves_nothing_to_ask() -> None:
    everything = {path: _middle(path) for path in SINGLE}
    listed = [{"gap": 9, "drop": 0, "take_off_angle": 25, "landing": "slope", "landing_angle": 20}]
    found = advice(walk_of(everything, listed), rider=bundled_rider("north"))
    assert found.worth_measuring == ()
    assert found.not_judged == ()


def _middle(path: str) -> Any:
    kind = SINGLE[path].kind
    assert kind is not None
    if path in {"walk.ground.sand_pct", "walk.ground.silt_pct", "walk.ground.clay_pct"}:
        return {"sand_pct": 60, "silt_pct": 25, "clay_pct": 15}[path.rsplit(".", 1)[-1]]
    if hasattr(kind, "choices"):
        return kind.choices[len(kind.choices) // 2]
    return kind.plausible[len(kind.plausible) // 2]


@given(answers("walk.", 0.3), st.data())
@settings(max_examples=25, deadline=None)
def test_giving_all_that_a_rule_waits_for_decides_it(
    extra: dict[str, Any], data: st.DataObject
) -> None:
    """Whatever is answered, as long as the ground can carry somebody."""
    walk = walk_of(extra)
    conditions = columns_from_entries(walk, None)
    found = situations(workshop(), conditions, 1)
    waiting = not_judged(workshop(), found, conditions)
    if not waiting:
        return
    rule, needs = data.draw(st.sampled_from(waiting))
    answers_now = {
        BY_KEY[need].path: data.draw(values(BY_KEY[need])) for need in needs if need in BY_KEY
    }
    listed = (
        [{"gap": 9, "drop": 0, "take_off_angle": 25, "landing": "slope"}]
        if "jumps" in needs
        else None
    )
    more = walk_of({**extra, **answers_now}, listed)
    # An answer that cannot be true beside another takes one of them out again.
    assume({*answers_now, *conditions} <= set(columns_from_entries(more, None)))
    again = advice(more, rider=bundled_rider("north"))
    assert rule not in {other for other, _, _ in again.not_judged}, (rule, needs, answers_now)


def test_entries_behind_a_fact_are_found_through_other_facts() -> None:
    assert {"walk.ground.firmness", "walk.ground.moisture"} <= entries_behind(["track_grip"])
    assert not any(path.startswith("machine.") for path in entries_behind(["track_grip"]))


def test_what_an_entry_moves_is_what_it_moves_when_it_is_given() -> None:
    """Trying all answers by hand gives the spread that the sheet promises."""
    bare = {"walk.kind": "outdoor", "walk.ground.firmness": "dents"}
    found = {
        item.entry: item
        for item in worth_measuring(workshop(), columns_from_entries(walk_of(bare), None))
    }
    item = found["air.temperature"]
    fixed = {
        path: field.kind.plausible[(len(field.kind.plausible) - 1) // 2]
        if hasattr(field.kind, "plausible")
        else field.kind.choices[(len(field.kind.choices) - 1) // 2]
        for path, field in SINGLE.items()
        if path.startswith("walk.air.")
        and path != "walk.air.temperature_c"
        and field.kind
        and path not in BY_INSTRUMENT
    }
    wishes = []
    for temperature in BY_KEY["air.temperature"].kind.plausible:
        advised = advice(walk_of({**bare, **fixed, "walk.air.temperature_c": temperature}))
        wishes.append(
            {
                setting.setting: sum(p.amount for p in setting.parts if p.source != "fitting")
                for setting in advised.settings
            }
        )
    for name, amount in item.moves.items():
        seen = [wish[name] for wish in wishes]
        assert amount == pytest.approx(np.ptp(seen), abs=2e-3), name
