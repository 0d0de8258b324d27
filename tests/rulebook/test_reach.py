"""The furthest that rules can move a setting, against trying values."""

from __future__ import annotations

import itertools

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from setupadvisor.rulebook import reach
from setupadvisor.rulebook.compiled import compile_conditions
from setupadvisor.rulebook.conditions import Condition
from setupadvisor.rulebook.degrees import degrees
from setupadvisor.rulebook.normal_form import build_net
from setupadvisor.rulebook.reach import Furthest, furthest
from setupadvisor.rulebook.terms import Points, Term, category_points
from tests.rulebook.test_ground import (
    COLOURS,
    FACTS,
    HIGH,
    LOW,
    NAMES,
    both,
    conditions,
    either,
    negated,
    shapes,
    term,
    vocabularies,
    word,
)

# The solver's tolerance for whole numbers is 1e-6, beside amounts of up to 3.
TOLERANCE = 1e-4


def found(wanted: list[Condition], amounts: list[float], terms: dict[str, Term]) -> Furthest:
    net, roots = build_net(wanted, terms)
    weights = {place: amount for place, amount in enumerate(amounts) if amount}
    return furthest(net, weights, roots, FACTS)


def shift_at(
    wanted: list[Condition], amounts: list[float], terms: dict[str, Term], walks: np.ndarray
) -> np.ndarray:
    low, _ = degrees(compile_conditions(wanted, terms, NAMES), walks)
    return np.asarray(amounts) @ low


def grid(count: int) -> np.ndarray:
    line = np.linspace(LOW, HIGH, count)
    return np.array(list(itertools.product(line, line, range(len(COLOURS))))).T


# Every whole number and half. All breakpoints are whole numbers, so between two grid points each
# degree is straight (a vertical side stands at a grid point) and changes by at most a half.
GRID = grid(41)


@settings(deadline=None, max_examples=40)
@given(
    vocabularies(),
    st.lists(conditions, min_size=1, max_size=4),
    st.lists(st.sampled_from([-3.0, -1.0, 0.5, 2.0]), min_size=4, max_size=4),
)
def test_no_walk_moves_further_and_some_walk_comes_near(
    terms: dict[str, Term], wanted: list[Condition], amounts: list[float]
) -> None:
    amounts = amounts[: len(wanted)]

    largest = found(wanted, amounts, terms)

    tried = max(0.0, float(shift_at(wanted, amounts, terms, GRID).max()))
    assert tried - TOLERANCE <= largest.shift
    assert largest.shift <= tried + 0.5 * sum(map(abs, amounts)) + TOLERANCE


@settings(deadline=None, max_examples=40)
@given(
    st.lists(shapes(), min_size=2, max_size=4),
    st.lists(st.sampled_from([-2.0, -1.0, 1.0, 3.0]), min_size=4, max_size=4),
)
def test_words_over_one_fact_are_exact(points: list[Points], amounts: list[float]) -> None:
    """A sum of piecewise linear degrees is largest at a breakpoint, or just beside a vertical side
    at one; all breakpoints are whole numbers, and between them the sum is linear."""
    terms = {f"t{n}": term(f"t{n}", "a", shape) for n, shape in enumerate(points)}
    amounts = amounts[: len(points)]
    whole = np.arange(LOW, HIGH + 1)
    tried = np.concatenate([whole, whole[:-1] + 1e-9, whole[1:] - 1e-9])
    walks = np.zeros((len(NAMES), len(tried)))
    walks[0] = tried

    largest = found([word(name) for name in terms], amounts, terms)

    at_best = float(shift_at([word(name) for name in terms], amounts, terms, walks).max())
    assert largest.shift == pytest.approx(max(0.0, at_best), abs=TOLERANCE)


def test_words_that_exclude_each_other_do_not_add_up() -> None:
    """Worked by hand: 2 on soft ground or 3 on firm ground, never 5; where the two ramps cross
    (a = 5, both half) it is 2.5."""
    terms = {
        "soft": term("soft", "a", ((0, 1), (10, 0))),
        "firm": term("firm", "a", ((0, 0), (10, 1))),
        "wet": term("wet", "b", ((0, 0), (1, 1))),
    }
    soft, firm, wet = (word(name) for name in terms)

    assert found([soft, firm], [2, 3], terms).shift == pytest.approx(3, abs=TOLERANCE)
    assert found([soft, firm, wet], [2, 3, 1], terms).shift == pytest.approx(4, abs=TOLERANCE)
    half = found([both(soft, firm)], [1], terms)
    assert half.shift == pytest.approx(0.5, abs=TOLERANCE)


def test_a_rule_that_must_speak_along_is_counted_against() -> None:
    """Worked by hand: 3 where wet, but then a rule on anything wet or soft takes 2 back."""
    terms = {
        "soft": term("soft", "a", ((0, 1), (10, 0))),
        "wet": term("wet", "b", ((0, 0), (1, 1))),
    }
    soft, wet = word("soft"), word("wet")

    largest = found([wet, either(wet, soft)], [3, -2], terms)

    assert largest.shift == pytest.approx(1, abs=TOLERANCE)
    assert largest.degrees == pytest.approx({0: 1.0, 1: 1.0}, abs=TOLERANCE)
    # Not on soft ground: the second rule can stay silent only where it is neither wet nor soft.
    assert found([negated(soft), either(wet, soft)], [3, -2], terms).shift == pytest.approx(
        3, abs=TOLERANCE
    )


def test_a_category_is_one_of_its_words() -> None:
    terms = {name: term(name, "colour", category_points((name,), COLOURS)) for name in COLOURS}
    wanted = [word(name) for name in COLOURS]

    largest = found(wanted, [1, 2, -1], terms)

    assert largest.shift == pytest.approx(2, abs=TOLERANCE)
    assert largest.degrees == pytest.approx({1: 1.0}, abs=TOLERANCE)


def test_rules_that_only_pull_the_other_way_do_not_move_at_all() -> None:
    terms = {"wet": term("wet", "b", ((0, 0), (1, 1)))}
    assert found([word("wet")], [-2], terms) == Furthest(0.0, {})


def test_when_the_search_is_stopped_the_proven_bound_is_taken(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    monkeypatch.setattr(reach, "LONGEST_SEARCH_S", 0.0)
    terms = {
        "soft": term("soft", "a", ((-3, 1), (4, 0))),
        "firm": term("firm", "a", ((-4, 0), (3, 1))),
    }
    stopped = found([both(word("soft"), word("firm"))], [1], terms)

    # The true answer is 4/7, at a = 0.
    assert stopped.shift >= 4 / 7 - TOLERANCE
