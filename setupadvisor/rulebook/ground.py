"""Where conditions hold, exactly: unions of boxes over facts.

The breakpoints of all words over one fact cut its reachable range into cells, which are points and
open stretches. In each of them every word either holds throughout or nowhere: at all (above 0), at
least half, or fully (1). A box is a set of cells for each of some facts. A condition holds, at each
of these three levels, on a union of boxes, since minimum and maximum are "and" and "or" of a level.
Two conditions meet if and only if two of their boxes do.

Facts are taken as independent of each other: any value inside one fact's reachable range beside
any value inside another's. Where nature ties facts together (texture and share of clay), the ground
is therefore never too small, but may be larger than any track.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from enum import Enum
from itertools import pairwise

from setupadvisor.facts.fact import Fact
from setupadvisor.rulebook.conditions import Condition
from setupadvisor.rulebook.memberships import Shape
from setupadvisor.rulebook.normal_form import Join, Leaf, Net, build_net
from setupadvisor.rulebook.terms import Term

# More boxes than a person's conditions come to; beyond it a condition is not judged.
MOST_BOXES = 4000
# Sums of ramps are rounded: degrees that differ by less are the same.
_SAME = 1e-9
_NARROW = 1e-12


class Level(Enum):
    """How far a condition holds: at all, at least half, fully."""

    SPEAKS = 0.0
    HALF = 0.5
    FULLY = 1.0

    def reached(self, degree: float) -> bool:
        """Say whether a degree reaches this level."""
        if self is Level.SPEAKS:
            return degree > _SAME
        return degree >= float(self.value) - _SAME


@dataclass(frozen=True, slots=True)
class Axis:
    """The cells of one fact.

    Parameters
    ----------
    points : tuple of float
        The values that are a cell each, rising; for a category the places of its words.
    stretches : tuple of (float, float)
        The open stretches between neighbouring points; none for a category. Their cells are
        numbered behind those of the points.
    """

    points: tuple[float, ...]
    stretches: tuple[tuple[float, float], ...]

    @property
    def everything(self) -> int:
        """The set of all cells, one bit a cell."""
        return (1 << (len(self.points) + len(self.stretches))) - 1

    def cells(self, leaf: Leaf, level: Level) -> int:
        """Give the set of the cells in which a degree reaches a level."""
        found = 0
        for cell, point in enumerate(self.points):
            found |= level.reached(leaf_degree(leaf, point)) << cell
        # A degree is straight inside a stretch, so it is above 0 where either end is, and reaches
        # a half or 1 only where both ends do, as no level is crossed inside.
        either_end = any if level is Level.SPEAKS else all
        for cell, ends in enumerate(self.stretches, len(self.points)):
            found |= either_end(level.reached(leaf_degree(leaf, end)) for end in ends) << cell
        return found


# The facts a box is about and the cells it holds of each; it holds all of every other fact.
Box = Mapping[str, int]
Boxes = tuple[Box, ...]


class TooTangled(Exception):
    """A condition comes to more boxes than `MOST_BOXES`."""


def leaf_degree(leaf: Leaf, value: float) -> float:
    """Give a leaf's degree at one value of its fact.

    Parameters
    ----------
    leaf : Leaf
        A shape or its complement.
    value : float
        The fact's value.

    Returns
    -------
    float
        From 0 to 1.
    """
    total = leaf.shape.first
    for ramp, weight in leaf.shape.steps:
        total += weight * min(1.0, max(0.0, (value - ramp.start) * ramp.slope))
    total = min(1.0, max(0.0, total))
    return 1.0 - total if leaf.complement else total


def fact_of(shape: Shape) -> str:
    """Give the fact that a shape is over.

    Parameters
    ----------
    shape : Shape
        The shape.

    Returns
    -------
    str
        The fact's name.
    """
    return shape.steps[0][0].fact


def corners(leaves: Iterable[Leaf], fact: Fact) -> tuple[float, ...]:
    """Give the values between which every leaf's degree is a straight line.

    Parameters
    ----------
    leaves : iterable of Leaf
        All over `fact`.
    fact : Fact
        A number; its reachable range bounds the values.

    Returns
    -------
    tuple of float
        Rising; both ends of the reachable range among them.
    """
    values = {float(fact.low), float(fact.high)}
    for leaf in leaves:
        for ramp, _ in leaf.shape.steps:
            values.update(end for end in (ramp.start, ramp.end) if fact.low <= end <= fact.high)
    return tuple(sorted(values))


def axis_of(leaves: Sequence[Leaf], fact: Fact) -> Axis:
    """Cut a fact's reachable range into cells.

    Parameters
    ----------
    leaves : sequence of Leaf
        All leaves over the fact.
    fact : Fact
        The fact.

    Returns
    -------
    Axis
        Its cells.
    """
    if fact.is_category:
        return Axis(tuple(float(place) for place in range(len(fact.choices))), ())
    values = corners(leaves, fact)
    halves = set()
    for left, right in filter(_has_an_inside, pairwise(values)):
        for leaf in leaves:
            before, after = leaf_degree(leaf, left), leaf_degree(leaf, right)
            if min(before, after) < Level.HALF.value < max(before, after):
                share = (Level.HALF.value - before) / (after - before)
                halves.add(left + share * (right - left))
    points = tuple(sorted({*values, *halves}))
    return Axis(points, tuple(filter(_has_an_inside, pairwise(points))))


def _has_an_inside(stretch: tuple[float, float]) -> bool:
    # A vertical side is a ramp between two numbers that nobody can tell apart.
    left, right = stretch
    return right - left > _NARROW * max(1.0, abs(left), abs(right))


class Grounds:
    """Where the conditions of one rule base hold.

    Parameters
    ----------
    conditions : sequence of Condition
        The conditions, named by their place from then on.
    terms : mapping of str to Term
        The terms they name; a term stands after every term it is made of.
    facts : mapping of str to Fact
        The facts the terms are about.
    """

    def __init__(
        self,
        conditions: Sequence[Condition],
        terms: Mapping[str, Term],
        facts: Mapping[str, Fact],
    ) -> None:
        self.facts = facts
        self.net: Net
        self.net, self.roots = build_net(conditions, terms)
        self.axes: dict[str, Axis] = {}
        by_fact: dict[str, list[Leaf]] = {}
        for node in self.net.nodes:
            if isinstance(node, Leaf):
                by_fact.setdefault(fact_of(node.shape), []).append(node)
        for name, leaves in by_fact.items():
            self.axes[name] = axis_of(leaves, facts[name])
        self._known: dict[tuple[int, Level, bool], Boxes] = {}

    def where(self, place: int, level: Level = Level.SPEAKS, *, reached: bool = True) -> Boxes:
        """Give the boxes on which a condition reaches a level, or on which it does not.

        Parameters
        ----------
        place : int
            The condition's place.
        level : Level
            How far it must hold.
        reached : bool
            Whether to give where it does, or where it does not.

        Returns
        -------
        tuple of dict of str to int
            Boxes, empty if there is no such ground.

        Raises
        ------
        TooTangled
            If there are more than `MOST_BOXES`.
        """
        return self._boxes(self.roots[place], level, reached)

    def _boxes(self, number: int, level: Level, reached: bool) -> Boxes:
        key = (number, level, reached)
        if key not in self._known:
            node = self.net.nodes[number]
            if isinstance(node, Join):
                parts = [self._boxes(part, level, reached) for part in node.parts]
                # The largest reaches a level where any does, and misses it where all do.
                either = node.largest == reached
                self._known[key] = _united(parts) if either else meeting(*parts)
            else:
                self._known[key] = self._leaf_boxes(node, level, reached)
        return self._known[key]

    def _leaf_boxes(self, leaf: Leaf, level: Level, reached: bool) -> Boxes:
        name = fact_of(leaf.shape)
        axis = self.axes[name]
        cells = axis.cells(leaf, level)
        if not reached:
            cells ^= axis.everything
        if not cells:
            return ()
        return ({},) if cells == axis.everything else ({name: cells},)

    def told(self, box: Box) -> str:
        """Say a box in words.

        Parameters
        ----------
        box : dict of str to int
            One of the boxes of this rule base.

        Returns
        -------
        str
            ``"cone_index_kpa 300 to 700, gate_surface metal_grid or dirt"``.
        """
        return ", ".join(f"{name} {self._told(name, cells)}" for name, cells in box.items())

    def _told(self, name: str, cells: int) -> str:
        axis, fact = self.axes[name], self.facts[name]
        ends = [(point, point) for point in axis.points] + list(axis.stretches)
        held = [end for cell, end in enumerate(ends) if cells >> cell & 1]
        if fact.is_category:
            return " or ".join(fact.choices[int(point)] for point, _ in held)
        low, high = min(left for left, _ in held), max(right for _, right in held)
        return f"{low:.4g}" if low == high else f"{low:.4g} to {high:.4g}"


def _united(unions: Iterable[Boxes]) -> Boxes:
    return _without_contained([box for union in unions for box in union])


def meeting(*unions: Boxes) -> Boxes:
    """Give the ground that several unions of boxes have in common.

    Parameters
    ----------
    *unions : tuple of dict of str to int
        Unions of boxes.

    Returns
    -------
    tuple of dict of str to int
        Boxes, empty if there is no common ground.

    Raises
    ------
    TooTangled
        If there are more than `MOST_BOXES`.

    Examples
    --------
    >>> meeting(({"wind": 0b011},), ({"wind": 0b110, "rain": 0b1},))
    ({'wind': 2, 'rain': 1},)
    """
    common: Boxes = ({},)
    for union in unions:
        met = (_both(one, other) for one in common for other in union)
        common = _without_contained([box for box in met if box is not None])
    return common


def meet(one: Boxes, other: Boxes) -> Box | None:
    """Give a box of the ground that two unions of boxes have in common.

    Parameters
    ----------
    one, other : tuple of dict of str to int
        Unions of boxes.

    Returns
    -------
    dict of str to int or None
        None if they have no common ground.

    Examples
    --------
    >>> meet(({"wind": 0b001},), ({"wind": 0b110},)) is None
    True
    """
    met = (_both(left, right) for left in one for right in other)
    return next((box for box in met if box is not None), None)


def _both(one: Box, other: Box) -> Box | None:
    small, large = (one, other) if len(one) < len(other) else (other, one)
    both = dict(large)
    for name, cells in small.items():
        common = both.get(name, cells) & cells
        if not common:
            return None
        both[name] = common
    return both


def _without_contained(boxes: list[Box]) -> Boxes:
    kept: list[Box] = []
    for box in sorted(boxes, key=len):
        if not any(_inside(box, other) for other in kept):
            kept.append(box)
            if len(kept) > MOST_BOXES:
                raise TooTangled
    return tuple(kept)


def _inside(box: Box, other: Box) -> bool:
    return all(name in box and box[name] & ~cells == 0 for name, cells in other.items())
