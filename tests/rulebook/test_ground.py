"""Boxes on which conditions hold, against the degrees themselves."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import assume, given
from hypothesis import strategies as st

from setupadvisor.facts.fact import Fact
from setupadvisor.rulebook import ground
from setupadvisor.rulebook.compiled import compile_conditions
from setupadvisor.rulebook.conditions import Condition
from setupadvisor.rulebook.degrees import degrees
from setupadvisor.rulebook.ground import Boxes, Grounds, Level, TooTangled, meet, meeting
from setupadvisor.rulebook.reading import Origin
from setupadvisor.rulebook.terms import Points, Term, category_points

NOWHERE = Origin("", "", 1)
LOW, HIGH = -10.0, 10.0
COLOURS = ("red", "green", "blue")
FACTS = {
    "a": Fact("a", "a", "", LOW, HIGH, float, (), "", ""),
    "b": Fact("b", "b", "", LOW, HIGH, float, (), "", ""),
    "colour": Fact("colour", "colour", "", 0, 2, float, (), "", "", COLOURS),
}
NAMES = tuple(FACTS)


def term(name: str, fact: str, points: Points) -> Term:
    return Term(name, fact, points, (), None, "", NOWHERE)


def word(name: str) -> Condition:
    return Condition("term", name)


def negated(condition: Condition) -> Condition:
    return Condition("not", parts=(condition,))


def both(*parts: Condition) -> Condition:
    return Condition("all", parts=parts)


def either(*parts: Condition) -> Condition:
    return Condition("any", parts=parts)


# Whole numbers and quarters, so that breakpoints of different words meet often; the outermost lie
# beyond the reachable range.
places = st.integers(-12, 12).map(float)
heights = st.sampled_from([0.0, 0.25, 0.5, 0.75, 1.0])


@st.composite
def shapes(draw: st.DrawFn) -> Points:
    values = sorted(draw(st.lists(places, min_size=2, max_size=4)))
    points = [(value, draw(heights)) for value in values]
    kept = [
        point
        for number, point in enumerate(points)
        if not (number >= 2 and points[number - 2][0] == point[0]) and point not in points[:number]
    ]
    assume(len(kept) >= 2 and len({height for _, height in kept}) > 1)
    return tuple(kept)


@st.composite
def vocabularies(draw: st.DrawFn) -> dict[str, Term]:
    terms = {}
    for name, fact in (("a1", "a"), ("a2", "a"), ("b1", "b"), ("b2", "b")):
        terms[name] = term(name, fact, draw(shapes()))
    words = draw(st.sets(st.sampled_from(COLOURS), min_size=1, max_size=2))
    terms["warm"] = term("warm", "colour", category_points(tuple(words), COLOURS))
    return terms


conditions = st.recursive(
    st.sampled_from(["a1", "a2", "b1", "b2", "warm"]).map(word),
    lambda inner: (
        inner.map(negated)
        | st.lists(inner, min_size=2, max_size=3).map(lambda parts: both(*parts))
        | st.lists(inner, min_size=2, max_size=3).map(lambda parts: either(*parts))
    ),
    max_leaves=8,
)
# Thousandths: nearer to a vertical side nobody measures.
values = st.integers(int(LOW * 1000), int(HIGH * 1000)).map(lambda value: value / 1000)
reachable = st.one_of(places.filter(lambda value: LOW <= value <= HIGH), values)
walks = st.tuples(
    reachable,
    reachable,
    st.sampled_from([0.0, 1.0, 2.0]),
)


def degree_of(condition: Condition, terms: dict[str, Term], walk: tuple[float, ...]) -> float:
    compiled = compile_conditions([condition], terms, NAMES)
    return float(degrees(compiled, np.array(walk))[0][0])


def holds(grounds: Grounds, boxes: Boxes, walk: tuple[float, ...]) -> bool:
    values = dict(zip(NAMES, walk, strict=True))

    def cell(name: str) -> int:
        axis = grounds.axes[name]
        if values[name] in axis.points:
            return axis.points.index(values[name])
        return len(axis.points) + next(
            number
            for number, (left, right) in enumerate(axis.stretches)
            if left < values[name] < right
        )

    return any(all(cells >> cell(name) & 1 for name, cells in box.items()) for box in boxes)


@given(vocabularies(), conditions, st.lists(walks, min_size=1, max_size=10))
def test_a_walk_is_in_the_boxes_exactly_where_its_degree_reaches_the_level(
    terms: dict[str, Term], condition: Condition, given_walks: list[tuple[float, ...]]
) -> None:
    grounds = Grounds([condition], terms, FACTS)
    for walk in given_walks:
        found = degree_of(condition, terms, walk)
        for level in Level:
            # Closer to a level than degrees are rounded, either answer is right.
            if 0 < abs(found - level.value) < 1e-6:
                continue
            reached = found > 0 if level is Level.SPEAKS else found >= level.value
            assert holds(grounds, grounds.where(0, level), walk) == reached
            assert holds(grounds, grounds.where(0, level, reached=False), walk) == (not reached)


@given(vocabularies(), conditions, conditions, walks)
def test_conditions_that_do_not_meet_never_speak_together(
    terms: dict[str, Term], one: Condition, other: Condition, walk: tuple[float, ...]
) -> None:
    grounds = Grounds([one, other, both(one, other)], terms, FACTS)

    met = meet(grounds.where(0), grounds.where(1))

    assert (met is not None) == bool(grounds.where(2))
    if met is None:
        assert min(degree_of(one, terms, walk), degree_of(other, terms, walk)) < 1e-9
    else:
        assert meeting((met,), grounds.where(0))
        assert meeting((met,), grounds.where(1))


def step(start: float, rising: bool) -> Points:
    return ((start, 0.0), (start, 1.0)) if rising else ((start, 1.0), (start, 0.0))


@pytest.mark.parametrize("start", [3.0, 0.0, 7.3])
def test_two_vertical_sides_at_one_value_meet_in_that_value_alone(start: float) -> None:
    """On a vertical side the higher degree holds, so both words hold there; a word and its
    complement have nothing in common."""
    terms = {
        "above": term("above", "a", step(start, rising=True)),
        "below": term("below", "a", step(start, rising=False)),
    }
    above, below = word("above"), word("below")
    grounds = Grounds([above, below, negated(above)], terms, FACTS)

    assert grounds.told(meet(grounds.where(0), grounds.where(1)) or {}) == f"a {start:g}"
    assert meet(grounds.where(0), grounds.where(2)) is None
    assert meet(grounds.where(1), grounds.where(2)) is not None


def test_ramps_that_only_touch_do_not_meet() -> None:
    terms = {
        "soft": term("soft", "a", ((1, 1), (3, 0))),
        "firm": term("firm", "a", ((3, 0), (5, 1))),
        "nearly": term("nearly", "a", ((2.9, 0), (5, 1))),
    }
    grounds = Grounds([word("soft"), word("firm"), word("nearly")], terms, FACTS)

    assert meet(grounds.where(0), grounds.where(1)) is None
    assert grounds.told(meet(grounds.where(0), grounds.where(2)) or {}) == "a 2.9 to 3"


def test_a_word_that_only_holds_beyond_the_reachable_range_has_no_ground() -> None:
    terms = {"far": term("far", "a", ((HIGH, 0), (2 * HIGH, 1)))}
    grounds = Grounds([word("far")], terms, FACTS)

    assert grounds.where(0) == ()
    assert grounds.where(0, reached=False) == ({},)


def test_a_word_and_its_complement_both_speak_on_a_slope() -> None:
    terms = {"soft": term("soft", "a", ((-5, 1), (5, 0)))}
    soft = word("soft")
    grounds = Grounds([both(soft, negated(soft)), either(soft, negated(soft))], terms, FACTS)

    assert grounds.told(grounds.where(0)[0]) == "a -5 to 5"
    assert grounds.told(grounds.where(0, Level.HALF)[0]) == "a 0"
    assert grounds.where(0, Level.FULLY) == ()
    assert grounds.where(1, reached=False) == ()


def test_a_box_is_told_in_words_of_facts_and_categories() -> None:
    terms = {
        "soft": term("soft", "a", ((-2, 0), (1, 1))),
        "warm": term("warm", "colour", category_points(("red", "blue"), COLOURS)),
    }
    grounds = Grounds([both(word("soft"), word("warm"))], terms, FACTS)

    (box,) = grounds.where(0)

    assert sorted(grounds.told(box).split(", ")) == ["a -2 to 10", "colour red or blue"]


def test_a_condition_of_too_many_boxes_is_refused_in_bounded_time(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    facts = {f"f{n}": Fact(f"f{n}", "f", "", 0, 1, float, (), "", "") for n in range(24)}
    terms = {name: term(name, name, ((0, 0), (1, 1))) for name in facts}
    names = list(terms)
    # 2 to the power of 12 boxes, none inside another.
    pairs = [either(word(names[n]), word(names[n + 1])) for n in range(0, 24, 2)]
    monkeypatch.setattr(ground, "MOST_BOXES", 500)

    with pytest.raises(TooTangled):
        Grounds([both(*pairs)], terms, facts).where(0)
