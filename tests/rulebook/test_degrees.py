from __future__ import annotations

import math
from typing import Any

import numpy as np
import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st
from numpy.testing import assert_allclose, assert_array_equal

from setupadvisor.errors import SetupAdvisorError
from setupadvisor.rulebook import degrees as degrees_module
from setupadvisor.rulebook.compiled import Compiled, compile_conditions
from setupadvisor.rulebook.conditions import Condition
from setupadvisor.rulebook.degrees import degrees
from setupadvisor.rulebook.reading import Origin
from setupadvisor.rulebook.terms import Points, Term, degree

NOWHERE = Origin("", "", 1)
FACT_NAMES = ("a", "b", "c")


def term(name: str, fact: str, points: Points) -> Term:
    return Term(name, fact, points, (), None, "", NOWHERE)


def composed(name: str, when: Condition) -> Term:
    return Term(name, "", (), (), when, "", NOWHERE)


def word(name: str) -> Condition:
    return Condition("term", name)


def compiled_word(points: Points) -> Compiled:
    return compile_conditions([word("t")], {"t": term("t", "a", points)}, ("a",))


# Reference values: scikit-fuzzy 0.5, trapmf, with the vertical side at [0, 0, 2, 4] and at
# [4, 6, 7, 7]. Tolerance: one rounding of a division of numbers below 10.
TRAPEZOIDS = [
    ("left", ((0, 0), (0, 1), (2, 1), (4, 0)), [0, 2, 3, 4], [1, 1, 0.5, 0]),
    ("right", ((4, 0), (6, 1), (7, 1), (7, 0)), [4, 5, 6, 7], [0, 0.5, 1, 1]),
]


@pytest.mark.parametrize(("side", "points", "values", "expected"), TRAPEZOIDS)
def test_trapezoids_with_vertical_sides_agree_with_scikit_fuzzy(
    side: str, points: Points, values: list[float], expected: list[float]
) -> None:
    compiled = compiled_word(points)

    many, _ = degrees(compiled, np.array([values], dtype=float))
    one = [degrees(compiled, np.array([float(value)]))[0][0] for value in values]

    assert_allclose(many[0], expected, rtol=0, atol=1e-15)
    assert_allclose(one, expected, rtol=0, atol=1e-15)
    assert_allclose([degree(points, value) for value in values], expected, rtol=0, atol=1e-15)


@given(
    corners=st.lists(st.floats(-1e4, 1e4), min_size=4, max_size=4).map(sorted),
    values=st.lists(st.floats(-2e4, 2e4), min_size=1, max_size=20),
)
def test_any_trapezoid_agrees_with_scikit_fuzzy(corners: list[float], values: list[float]) -> None:
    trapmf = pytest.importorskip("skfuzzy").trapmf
    first, second, third, fourth = corners
    if not (first + 1e-6 < second and third + 1e-6 < fourth):
        return
    points = tuple(dict.fromkeys([(first, 0.0), (second, 1.0), (third, 1.0), (fourth, 0.0)]).keys())
    places = np.array([*values, *corners])

    found, _ = degrees(compiled_word(points), places[np.newaxis, :])

    # Two roundings of a difference of up to 2e4, divided by a side as narrow as 1e-6.
    assert_allclose(found[0], trapmf(places, corners), rtol=0, atol=1e-5)


def test_outside_its_points_a_term_keeps_its_degree() -> None:
    low, _ = degrees(compiled_word(((1, 0.25), (2, 0.75))), np.array([[-1e9, 1, 1.5, 2, 1e9]]))

    assert_allclose(low[0], [0.25, 0.25, 0.5, 0.75, 0.75], atol=1e-15)


@pytest.mark.parametrize("height", [0.0, 1e-300, 5e-324, 0.1, 7.0, -3.3, 8999.9])
@pytest.mark.parametrize("rising", [True, False])
def test_on_a_vertical_side_the_higher_degree_holds(height: float, rising: bool) -> None:
    sides = (0.0, 1.0) if rising else (1.0, 0.0)
    below, above = (
        (math.nextafter(height, -math.inf), math.nextafter(height, math.inf))
        if abs(height) > 1e-100
        else (height - 1e-90, height + 1e-90)
    )

    low, _ = degrees(
        compiled_word(((height, sides[0]), (height, sides[1]))),
        np.array([[below, height, above]]),
    )

    assert low[0].tolist() == [sides[0], 1.0, sides[1]]


def test_a_degree_reaches_exactly_1_at_its_breakpoint() -> None:
    starts = np.random.default_rng(1).uniform(-100, 100, 500)
    for start in starts:
        low, _ = degrees(compiled_word(((start, 0), (start + 0.7, 1))), np.array([start + 0.7]))
        assert low[0] == 1.0


def test_all_is_the_smallest_any_the_largest_and_not_the_rest_to_one() -> None:
    terms = {name: term(name, name, ((0, 0), (1, 1))) for name in FACT_NAMES}
    a, b, c = (word(name) for name in FACT_NAMES)
    conditions = [
        Condition("all", parts=(a, b, c)),
        Condition("any", parts=(a, b, c)),
        Condition("not", parts=(a,)),
        Condition("not", parts=(Condition("all", parts=(a, Condition("not", parts=(b,)))),)),
        a,
    ]

    low, high = degrees(
        compile_conditions(conditions, terms, FACT_NAMES), np.array([0.2, 0.9, 0.5])
    )

    assert_allclose(low, [0.2, 0.9, 0.8, 0.9, 0.2], atol=1e-15)
    assert_array_equal(low, high)


def test_a_rule_that_a_missing_fact_cannot_change_is_judged() -> None:
    terms = {name: term(name, name, ((0, 0), (1, 1))) for name in FACT_NAMES}
    a, b, _ = (word(name) for name in FACT_NAMES)
    both, either = Condition("all", parts=(a, b)), Condition("any", parts=(a, b))

    low, high = degrees(
        compile_conditions([both, either], terms, FACT_NAMES), np.array([0.0, np.nan, np.nan])
    )

    assert (low[0], high[0]) == (0.0, 0.0)
    assert (low[1], high[1]) == (0.0, 1.0)


def test_every_fact_a_rule_reads_must_be_given() -> None:
    terms = {"t": term("t", "elsewhere", ((0, 0), (1, 1)))}

    with pytest.raises(SetupAdvisorError, match="elsewhere"):
        compile_conditions([word("t")], terms, FACT_NAMES)


@pytest.mark.parametrize("shape", [(2,), (4, 5), (3, 2, 2), ()])
def test_facts_of_another_shape_are_refused(shape: tuple[int, ...]) -> None:
    compiled = compile_conditions([word("a")], {"a": term("a", "a", ((0, 0), (1, 1)))}, FACT_NAMES)

    with pytest.raises(SetupAdvisorError, match="one row for each of the 3 facts"):
        degrees(compiled, np.zeros(shape))


def test_no_rules_and_no_rows_give_empty_degrees() -> None:
    nothing = compile_conditions([], {}, FACT_NAMES)
    something = compile_conditions([word("a")], {"a": term("a", "a", ((0, 0), (1, 1)))}, ("a",))

    assert degrees(nothing, np.zeros(3))[0].shape == (0,)
    assert degrees(nothing, np.full((3, 7), np.nan))[1].shape == (0, 7)
    assert degrees(something, np.zeros((1, 0)))[0].shape == (1, 0)


# --- Random rule bases against a plain recursive evaluation ---

HEIGHTS = st.sampled_from([0.0, 0.0, 0.25, 0.6, 1.0, 1.0])
PLACES = st.sampled_from([-1.0, 0.0, 0.5, 1.0, 2.0, 3.5])


@st.composite
def points(draw: st.DrawFn) -> Points:
    places = sorted(draw(st.lists(PLACES, min_size=2, max_size=5)))
    places = [place for at, place in enumerate(places) if places[at - 2 : at] != [place, place]]
    heights = draw(st.lists(HEIGHTS, min_size=len(places), max_size=len(places)))
    assume(len(set(heights)) > 1)  # a constant term is refused when it is read
    return tuple(zip(places, heights, strict=True))


def conditions(names: list[str]) -> st.SearchStrategy[Condition]:
    return st.recursive(
        st.sampled_from(names).map(word),
        lambda inner: st.one_of(
            inner.map(lambda part: Condition("not", parts=(part,))),
            st.builds(
                lambda kind, parts: Condition(kind, parts=tuple(parts)),
                st.sampled_from(["all", "any"]),
                st.lists(inner, min_size=1, max_size=4),
            ),
        ),
        max_leaves=8,
    )


@st.composite
def rule_bases(draw: st.DrawFn) -> tuple[dict[str, Term], list[Condition]]:
    names = [f"t{n}" for n in range(draw(st.integers(1, 6)))]
    terms = {name: term(name, draw(st.sampled_from(FACT_NAMES)), draw(points())) for name in names}
    for number in range(draw(st.integers(0, 3))):
        name = f"composed{number}"
        terms[name] = composed(name, draw(conditions(list(terms))))
    return terms, draw(st.lists(conditions(list(terms)), min_size=1, max_size=6))


def plain_interval(
    condition: Condition, terms: dict[str, Term], facts: dict[str, float]
) -> tuple[float, float]:
    """Evaluate a condition word by word, as the words say it."""
    if condition.kind == "term":
        found = terms[condition.term]
        if found.when is not None:
            return plain_interval(found.when, terms, facts)
        value = facts[found.fact]
        if math.isnan(value):
            return 0.0, 1.0
        return degree(found.points, value), degree(found.points, value)
    parts = [plain_interval(part, terms, facts) for part in condition.parts]
    if condition.kind == "not":
        ((low, high),) = parts
        return 1.0 - high, 1.0 - low
    join: Any = min if condition.kind == "all" else max
    return join(low for low, _ in parts), join(high for _, high in parts)


# Rounded, as a vertical side at 0 is 1e-200 wide.
VALUES = st.floats(-2.0, 5.0).map(lambda value: round(value, 9))
FACT_VALUES = st.one_of(PLACES, VALUES, st.just(math.nan))


@settings(max_examples=300, deadline=None)
@given(
    base=rule_bases(),
    rows=st.lists(st.tuples(FACT_VALUES, FACT_VALUES, FACT_VALUES), min_size=1, max_size=9),
    block=st.sampled_from([1, 2, 4, 1024]),
)
def test_compiled_rules_say_what_the_words_say(
    base: tuple[dict[str, Term], list[Condition]],
    rows: list[tuple[float, float, float]],
    block: int,
) -> None:
    terms, wanted = base
    facts = np.array(rows).T
    compiled = compile_conditions(wanted, terms, FACT_NAMES)
    expected = np.array(
        [
            [
                plain_interval(condition, terms, dict(zip(FACT_NAMES, row, strict=True)))
                for row in rows
            ]
            for condition in wanted
        ]
    )

    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(degrees_module, "BLOCK", block)
        low, high = degrees(compiled, facts)

    assert_allclose(low, expected[:, :, 0], rtol=0, atol=1e-12)
    assert_allclose(high, expected[:, :, 1], rtol=0, atol=1e-12)
    for column in range(facts.shape[1]):
        # Sums of ramps may round in another order: a few roundings of numbers up to 1.
        one_low, one_high = degrees(compiled, facts[:, column])
        assert_allclose(one_low, low[:, column], rtol=0, atol=1e-15)
        assert_allclose(one_high, high[:, column], rtol=0, atol=1e-15)
    assert np.array_equal(facts, np.array(rows).T, equal_nan=True)
