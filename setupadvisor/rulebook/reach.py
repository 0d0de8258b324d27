"""How far rules together can move a setting, by any values of the facts.

The shift is a sum of minima and maxima of piecewise linear degrees. Its largest value over all
reachable facts is a mixed-integer linear programme: a fact is a point between two of its corners
(one binary a stretch, weights on the stretch's ends), a minimum that should be large lies below
its parts, a maximum that should be large below the part that a binary chooses, and the other way
round for what should be small (Williams, Model Building in Mathematical Programming, 2013,
chapters 7 and 9). It is solved exactly by branch and bound.

Facts are taken as independent of each other, so that the answer is never too small.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field

from setupadvisor.facts.fact import Fact
from setupadvisor.rulebook.ground import corners, fact_of, leaf_degree
from setupadvisor.rulebook.memberships import FloatArray
from setupadvisor.rulebook.normal_form import Join, Leaf, Net

# Beyond this the proven bound is taken in place of the largest shift itself.
LONGEST_SEARCH_S = 5.0

# A weighted sum of variables.
Sum = list[tuple[int, float]]


@dataclass(frozen=True)
class Furthest:
    """The furthest that rules can move a setting one way.

    Parameters
    ----------
    shift : float
        In the setting's unit, at least 0.
    degrees : dict of int to float
        Degrees, there, of the conditions that speak.
    """

    shift: float
    degrees: dict[int, float]


@dataclass
class _Programme:
    """Variables from 0 to 1 with their cost, and rows of bounded sums."""

    cost: list[float] = field(default_factory=list)
    whole: list[bool] = field(default_factory=list)
    rows: list[tuple[Sum, float, float]] = field(default_factory=list)

    def variable(self, *, whole: bool = False) -> int:
        self.cost.append(0.0)
        self.whole.append(whole)
        return len(self.cost) - 1

    def bound(self, terms: Sum, low: float, high: float) -> None:
        self.rows.append((terms, low, high))

    def solve(self) -> tuple[float, FloatArray | None]:
        """Give the smallest cost (or a bound below it) and the variables there."""
        import numpy as np  # noqa: PLC0415 - beside scipy
        from scipy.optimize import Bounds, LinearConstraint, milp  # noqa: PLC0415 - slow to import
        from scipy.sparse import coo_array  # noqa: PLC0415

        places = [(row, *term) for row, (terms, _, _) in enumerate(self.rows) for term in terms]
        rows, columns, weights = zip(*places, strict=True)
        matrix = coo_array((weights, (rows, columns)), shape=(len(self.rows), len(self.cost)))
        limits = [[row[place] for row in self.rows] for place in (1, 2)]
        solved = milp(
            np.array(self.cost),
            constraints=LinearConstraint(matrix.tocsr(), *limits),
            integrality=np.array(self.whole, dtype=np.int8),
            bounds=Bounds(0, 1),
            options={"time_limit": LONGEST_SEARCH_S, "mip_rel_gap": 0.0},
        )
        if solved.status == 0:
            return float(solved.fun), solved.x
        bound = solved.mip_dual_bound
        return (-math.inf if bound is None else float(bound)), None


def furthest(
    net: Net, weights: Mapping[int, float], roots: Sequence[int], facts: Mapping[str, Fact]
) -> Furthest:
    """Give the largest weighted sum of conditions' degrees that any values of the facts reach.

    Parameters
    ----------
    net : Net
        Holds the conditions.
    weights : mapping of int to float
        A condition's place to its weight, none of them 0.
    roots : sequence of int
        The conditions' nodes, by place.
    facts : mapping of str to Fact
        The facts with their reachable ranges.

    Returns
    -------
    Furthest
        The sum, and who speaks there.
    """
    if not any(weight > 0 for weight in weights.values()):
        return Furthest(0.0, {})
    programme = _Programme()
    written = _Writing(programme, net)
    written.facts({roots[place] for place in weights}, facts)
    sums = {
        place: written.node(roots[place], large=weight > 0) for place, weight in weights.items()
    }
    for place, weight in weights.items():
        for variable, share in sums[place]:
            programme.cost[variable] -= weight * share
    least, values = programme.solve()
    if values is None:
        return Furthest(max(0.0, -least), {})
    degrees = {
        place: sum(share * float(values[variable]) for variable, share in terms)
        for place, terms in sums.items()
    }
    return Furthest(
        max(0.0, -least), {place: degree for place, degree in degrees.items() if degree > 1e-6}
    )


class _Writing:
    """Conditions as rows of a programme."""

    def __init__(self, programme: _Programme, net: Net) -> None:
        self.programme = programme
        self.net = net
        self.leaves: dict[int, Sum] = {}
        self.joins: dict[tuple[int, bool], int] = {}

    def facts(self, wanted: set[int], facts: Mapping[str, Fact]) -> None:
        """Write a variable's place for every fact that the wanted nodes read."""
        needed = set(wanted)
        for number in range(len(self.net.nodes) - 1, -1, -1):
            node = self.net.nodes[number]
            if number in needed and isinstance(node, Join):
                needed.update(node.parts)
        by_fact: dict[str, list[tuple[int, Leaf]]] = {}
        for number in sorted(needed):
            node = self.net.nodes[number]
            if isinstance(node, Leaf):
                by_fact.setdefault(fact_of(node.shape), []).append((number, node))
        for name, leaves in by_fact.items():
            fact = facts[name]
            if fact.is_category:
                values = tuple(float(place) for place in range(len(fact.choices)))
            else:
                values = corners((leaf for _, leaf in leaves), fact)
            shares = self._place(len(values), chosen=fact.is_category)
            for number, leaf in leaves:
                self.leaves[number] = [
                    (share, leaf_degree(leaf, value))
                    for share, value in zip(shares, values, strict=True)
                ]

    def _place(self, count: int, *, chosen: bool) -> list[int]:
        programme = self.programme
        shares = [programme.variable(whole=chosen) for _ in range(count)]
        programme.bound([(share, 1.0) for share in shares], 1.0, 1.0)
        if chosen or count < 3:
            return shares
        stretches = [programme.variable(whole=True) for _ in range(count - 1)]
        programme.bound([(stretch, 1.0) for stretch in stretches], 1.0, 1.0)
        for place, share in enumerate(shares):
            beside = stretches[max(0, place - 1) : place + 1]
            programme.bound([(share, 1.0), *((one, -1.0) for one in beside)], -math.inf, 0.0)
        return shares

    def node(self, number: int, *, large: bool) -> Sum:
        """Give a node's degree as a sum, bounded from above if it should be large."""
        node = self.net.nodes[number]
        if isinstance(node, Leaf):
            return self.leaves[number]
        known = self.joins.get((number, large))
        if known is None:
            parts = [self.node(part, large=large) for part in node.parts]
            known = self.joins[number, large] = self._join(parts, large, node.largest)
        return [(known, 1.0)]

    def _join(self, parts: list[Sum], large: bool, largest: bool) -> int:
        programme = self.programme
        degree = programme.variable()
        # What should be large is not above any part of a minimum, or not above the chosen part of
        # a maximum; what should be small, the other way round.
        choose = largest == large
        chosen = [programme.variable(whole=True) for _ in parts] if choose else []
        if choose:
            programme.bound([(one, 1.0) for one in chosen], 1.0, 1.0)
        for place, part in enumerate(parts):
            row: Sum = [(degree, 1.0), *((variable, -share) for variable, share in part)]
            free = 0.0
            if choose:
                free = 1.0 if large else -1.0
                row.append((chosen[place], free))
            if large:
                programme.bound(row, -math.inf, free)
            else:
                programme.bound(row, free, math.inf)
        return degree
