"""Every value is the sum of its parts and can be set, whatever was entered."""

from __future__ import annotations

import math

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from setupadvisor.advice.consult import consult
from setupadvisor.advice.records import Advice
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

# The contract of `advise --json`.
TOLERANCE = 1e-9
SOURCES = ("house", "rider", "past_sessions", "fitting")


def check_parts(given: Advice) -> None:
    for setting in given.settings:
        total = math.fsum(part.amount for part in setting.parts)
        assert abs(total - setting.value) < TOLERANCE, setting.setting
        assert setting.parts[0].source == "house"
        assert setting.parts[0].amount == setting.house
        sources = [part.source for part in setting.parts]
        assert len(set(sources)) == len(sources), setting.setting
        assert all(source in SOURCES or source.startswith("rule:") for source in sources)


def check_settable(given: Advice, machine: str) -> None:
    for setting in given.settings:
        known = workshop(machine).machine.settings[setting.setting].values
        assert any(math.isclose(setting.value, one, abs_tol=1e-9) for one in known), setting
        assert known[0] <= setting.low <= setting.value <= setting.high <= known[-1], setting


@given(st.sampled_from(MACHINES), walks(), riders(), st.data())
@settings(max_examples=60, deadline=None)
def test_parts_sum_to_a_value_that_can_be_set(
    machine: str, walk: Walk, rider: Rider | None, data: st.DataObject
) -> None:
    on_bike = data.draw(setups(machine))
    given = advice(walk, machine, rider=rider, on_bike=on_bike)
    check_parts(given)
    check_settable(given, machine)
    assert [setting.setting for setting in given.settings] == list(
        workshop(machine).machine.settings
    )


@given(walks(), riders())
@settings(max_examples=30, deadline=None)
def test_parts_sum_with_past_sessions_too(walk: Walk, rider: Rider | None) -> None:
    model, provenance = trained()
    given = consult(workshop(), walk, model, rider=rider, provenance=provenance)
    check_parts(given)
    check_settable(given, "works-450")


def test_a_known_rider_and_a_known_venue_bring_their_own_parts() -> None:
    model, provenance = trained()
    given = consult(
        workshop(),
        bundled_walk("deep-sand"),
        model,
        rider=bundled_rider("north"),
        provenance=provenance,
    )
    parts = [part for setting in given.settings for part in setting.parts]
    assert any(part.source == "rider" and abs(part.amount) > 0.5 for part in parts)
    assert any(part.source == "past_sessions" and abs(part.amount) > 0.05 for part in parts)


def test_a_rider_never_seen_has_no_habit() -> None:
    model, provenance = trained()
    given = consult(
        workshop(),
        bundled_walk("deep-sand"),
        model,
        rider=Rider(name="nobody knows"),
        provenance=provenance,
    )
    assert not [p for s in given.settings for p in s.parts if p.source == "rider"]


@pytest.mark.parametrize("machine", MACHINES)
@pytest.mark.parametrize("walk", WALKS)
def test_only_rules_that_apply_stand_among_the_parts(walk: str, machine: str) -> None:
    given = advice(bundled_walk(walk), machine, rider=bundled_rider("east"))
    check_parts(given)
    check_settable(given, machine)
    unknown = {rule for rule, _, _ in given.not_judged}
    for setting in given.settings:
        for part in setting.parts:
            assert part.amount != 0 or part.source == "house"
            assert part.source.removeprefix("rule:") not in unknown
            assert part.why.strip()


@pytest.mark.parametrize("walk", WALKS)
def test_moves_towards_the_rules_not_away_from_them(walk: str) -> None:
    """Fitting moves a plain setting by half a step at the most, unless the range ends."""
    for setting in advice(bundled_walk(walk)).settings:
        own = workshop().machine.settings[setting.setting]
        rest = next((part.amount for part in setting.parts if part.source == "fitting"), 0.0)
        wish = setting.value - rest
        drive = setting.group == "Drive"
        if own.step is not None and not drive and own.lowest <= wish <= own.highest:
            assert abs(rest) <= own.step / 2 + 1e-9, setting.setting
