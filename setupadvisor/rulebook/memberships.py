"""Terms over facts as sums of ramps: one form for every shape, evaluated in one pass.

A piecewise linear degree is its first height plus a weighted sum of ramps, each rising from 0
to 1 between two values of the fact: trapezoids, shoulders and vertical sides alike. A vertical
side is a ramp between two neighbouring floating-point numbers, and a category's word is a
triangle over the words' places.
"""

from __future__ import annotations

import math
from collections.abc import Collection, Iterable
from dataclasses import dataclass
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from setupadvisor.rulebook.terms import Points

FloatArray = NDArray[np.float64]
IndexArray = NDArray[np.intp]

# The narrowest ramp: at a value of 0 the neighbouring number is too close to divide by.
_NARROWEST = 2.0**-664


@dataclass(frozen=True, slots=True)
class Ramp:
    """A degree rising from 0 at `start` to 1 at `end` of one fact.

    Parameters
    ----------
    fact : str
        The fact.
    start, end : float
        Values of the fact, `start` below `end`.
    """

    fact: str
    start: float
    end: float

    @property
    def slope(self) -> float:
        """The rise per unit of the fact, rounded so that the ramp does reach 1 at its end."""
        width = self.end - self.start
        slope = 1.0 / width
        return slope if width * slope >= 1.0 else math.nextafter(slope, math.inf)


@dataclass(frozen=True, slots=True)
class Shape:
    """A degree as `first` plus the weighted sum of ramps.

    Parameters
    ----------
    first : float
        The degree below all ramps, at most 1/2; a shape that begins higher is kept as the
        complement of its mirror image.
    steps : tuple of (Ramp, float)
        Ramps and their weights.
    """

    first: float
    steps: tuple[tuple[Ramp, float], ...]


def shape_of(fact: str, points: Points) -> tuple[Shape, bool]:
    """Give a term's shape.

    Parameters
    ----------
    fact : str
        The term's fact.
    points : tuple of (float, float)
        Its breakpoints.

    Returns
    -------
    tuple of Shape and bool
        The shape, and whether the term is its complement.

    Examples
    --------
    >>> shape, complement = shape_of("cone_index_kpa", ((300.0, 1.0), (700.0, 0.0)))
    >>> complement, shape.first, [(r.start, r.end, w) for r, w in shape.steps]
    (True, 0.0, [(300.0, 700.0, 1.0)])
    """
    complement = points[0][1] > 0.5
    heights = [(value, 1.0 - height if complement else height) for value, height in points]
    steps = []
    for (left, before), (right, after) in pairwise(heights):
        if before == after:
            continue
        start, end = left, right
        if left == right and (after > before) != complement:
            start = min(math.nextafter(left, -math.inf), left - _NARROWEST)
        elif left == right:
            end = max(math.nextafter(right, math.inf), right + _NARROWEST)
        steps.append((Ramp(fact, start, end), after - before))
    return Shape(heights[0][1], tuple(steps)), complement


@dataclass(frozen=True)
class ShapeTable:
    """Ramps, sums of ramps and complements, numbered in this order.

    Parameters
    ----------
    ramps : dict of Ramp to int
        The ramps' numbers.
    sums : dict of Shape to int
        The numbers, from 0, of shapes that are more than a single ramp.
    mirrored : slice
        The numbers of ramps and sums that have a complement; they stand together.
    """

    ramps: dict[Ramp, int]
    sums: dict[Shape, int]
    mirrored: slice

    @property
    def leaves(self) -> int:
        """How many numbers are given."""
        mirrored: int = self.mirrored.stop - self.mirrored.start
        return len(self.ramps) + len(self.sums) + mirrored

    def place(self, shape: Shape, *, complement: bool = False) -> int:
        """Give the number of a shape or of its complement."""
        plain = len(self.ramps) + len(self.sums)
        if is_plain(shape):
            number = self.ramps[shape.steps[0][0]]
        else:
            number = len(self.ramps) + self.sums[shape]
        first: int = self.mirrored.start
        return plain + number - first if complement else number


def number_shapes(shapes: Iterable[Shape], mirrored: Collection[Shape]) -> ShapeTable:
    """Give numbers to shapes so that those with a complement stand together.

    Parameters
    ----------
    shapes : iterable of Shape
        The shapes.
    mirrored : collection of Shape
        Those of them that have a complement.

    Returns
    -------
    ShapeTable
        The ramps that have a complement come last, the sums that have one first.
    """
    listed = list(shapes)
    mirrored_ramps = {shape.steps[0][0] for shape in mirrored if is_plain(shape)}
    ramps = dict.fromkeys(ramp for shape in listed for ramp, _ in shape.steps)
    ordered = sorted(ramps, key=mirrored_ramps.__contains__)
    sums = sorted(
        (shape for shape in listed if not is_plain(shape)),
        key=lambda shape: shape not in mirrored,
    )
    mirrored_sums = sum(shape in mirrored for shape in sums)
    return ShapeTable(
        {ramp: number for number, ramp in enumerate(ordered)},
        {shape: number for number, shape in enumerate(sums)},
        slice(len(ordered) - len(mirrored_ramps), len(ordered) + mirrored_sums),
    )


def is_plain(shape: Shape) -> bool:
    """Say whether a shape is nothing but a single ramp.

    Parameters
    ----------
    shape : Shape
        The shape.

    Returns
    -------
    bool
        Whether it is.
    """
    return shape.first == 0.0 and len(shape.steps) == 1 and shape.steps[0][1] == 1.0
