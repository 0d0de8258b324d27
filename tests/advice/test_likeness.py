"""The nearest past sessions, in the crew's words."""

from __future__ import annotations

import pytest

from setupadvisor.advice.consult import consult
from setupadvisor.advice.records import Advice
from tests.advice.invented import bundled_rider, bundled_walk, rules_only, workshop
from tests.advice.small_season import WALKS, trained


def ask(walk: str, **changes: object) -> Advice:
    model, provenance = trained()
    entry = bundled_walk(walk).model_copy(update=changes)
    return consult(workshop(), entry, model, rider=bundled_rider("south"), provenance=provenance)


@pytest.mark.parametrize("walk", WALKS)
def test_the_same_ground_again_is_the_nearest(walk: str) -> None:
    first, *others = ask(walk).basis["nearest"]
    assert first["venue"] == bundled_walk(walk).venue
    assert first["distance"] == pytest.approx(0.0, abs=0.02)
    assert first["shares"]
    assert first["differs"] == []
    assert all(item["distance"] >= 0 for item in others)


def test_what_differs_is_told_with_both_values() -> None:
    differs = [text for item in ask("mud").basis["nearest"] for text in item["differs"]]
    assert differs
    assert all("(here " in text for text in differs)


def test_support_is_high_at_home_and_lower_elsewhere() -> None:
    known = ask("mud").basis["support"]
    strange = ask("bare-walk", venue=None).basis["support"]
    assert 0 <= strange < known <= 1


def test_without_past_sessions_nothing_is_like_it() -> None:
    found = consult(workshop(), bundled_walk("mud"), rules_only())
    assert found.basis["nearest"] == []
    assert found.basis["model"] is None
    assert any("No past sessions" in caution for caution in found.cautions)
    assert {setting.range_kind for setting in found.settings} == {"prior"}


def test_ranges_from_too_few_events_say_so() -> None:
    model, provenance = trained(3)
    found = consult(workshop(), bundled_walk("mud"), model, provenance=provenance)
    assert "prior" in {setting.range_kind for setting in found.settings}
    assert any("3 events are too few" in caution for caution in found.cautions)
