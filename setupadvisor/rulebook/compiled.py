"""Conditions compiled to a few arrays, ready to be evaluated."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import cast

import numpy as np

from setupadvisor.errors import SetupAdvisorError
from setupadvisor.rulebook.conditions import Condition
from setupadvisor.rulebook.memberships import FloatArray, IndexArray, ShapeTable, number_shapes
from setupadvisor.rulebook.normal_form import Join, Leaf, Net, build_net
from setupadvisor.rulebook.rulebase import RuleBase
from setupadvisor.rulebook.terms import Term


@dataclass(frozen=True, slots=True)
class Level:
    """Joins of one kind that only need what was calculated before them.

    Parameters
    ----------
    largest : bool
        Maxima or minima.
    start, stop : int
        Their places in the vector of values.
    parts : numpy.ndarray
        Shape (sum of the joins' parts,): places of their parts, join after join.
    offsets : numpy.ndarray
        Shape (stop - start,): where each join's parts begin in `parts`.
    """

    largest: bool
    start: int
    stop: int
    parts: IndexArray
    offsets: IndexArray


@dataclass(frozen=True, slots=True)
class Compiled:
    """Conditions ready to be evaluated.

    The vector of values holds the ramps, the sums of ramps, the complements, then the joins.

    Parameters
    ----------
    fact_names : tuple of str
        The facts, in the order of the rows to be given.
    ramp_fact, ramp_start, ramp_slope : numpy.ndarray
        Shape (ramps,): row of the fact, where the ramp starts, its rise.
    sum_first : numpy.ndarray
        Shape (sums,): the degree below all ramps.
    sum_ramp, sum_weight, sum_offsets : numpy.ndarray
        The sums' ramps and weights, sum after sum, and where each begins.
    mirrored : slice
        The values, ramps or sums standing together, of which each complement is 1 less.
    levels : tuple of Level
        In the order they must be calculated.
    roots : numpy.ndarray
        Shape (conditions,): each condition's place.
    size : int
        Length of the vector of values.
    """

    fact_names: tuple[str, ...]
    ramp_fact: IndexArray
    ramp_start: FloatArray
    ramp_slope: FloatArray
    sum_first: FloatArray
    sum_ramp: IndexArray
    sum_weight: FloatArray
    sum_offsets: IndexArray
    mirrored: slice
    levels: tuple[Level, ...]
    roots: IndexArray
    size: int

    @property
    def plain(self) -> int:
        """How many values are ramps or sums."""
        return len(self.ramp_fact) + len(self.sum_first)

    @property
    def leaves(self) -> int:
        """How many values are degrees or complements; the joins follow."""
        mirrored: int = self.mirrored.stop - self.mirrored.start
        return self.plain + mirrored


def compile_degrees(rulebase: RuleBase, fact_names: tuple[str, ...]) -> Compiled:
    """Compile the conditions of all rules.

    Parameters
    ----------
    rulebase : RuleBase
        The rules.
    fact_names : tuple of str
        The facts, in the order of the rows to be given to `degrees`.

    Returns
    -------
    Compiled
        One condition for each rule, in the rule base's order.

    Raises
    ------
    SetupAdvisorError
        If a rule reads a fact that is not among `fact_names`.
    """
    return compile_conditions([rule.when for rule in rulebase.rules], rulebase.terms, fact_names)


def compile_conditions(
    conditions: Sequence[Condition], terms: Mapping[str, Term], fact_names: tuple[str, ...]
) -> Compiled:
    """Compile any conditions: of rules, of remarks' candidates, or single terms.

    Parameters
    ----------
    conditions : sequence of Condition
        The conditions.
    terms : mapping of str to Term
        The terms they name; a term stands after every term it is made of.
    fact_names : tuple of str
        The facts, in the order of the rows to be given to `degrees`.

    Returns
    -------
    Compiled
        Ready for `degrees`.

    Raises
    ------
    SetupAdvisorError
        If a condition reads a fact that is not among `fact_names`.
    """
    net, roots = build_net(conditions, terms)
    leaves = [node for node in net.nodes if isinstance(node, Leaf)]
    mirrored = dict.fromkeys(leaf.shape for leaf in leaves if leaf.complement)
    table = number_shapes(dict.fromkeys(leaf.shape for leaf in leaves), mirrored)
    rows = {name: row for row, name in enumerate(fact_names)}
    unknown = sorted({ramp.fact for ramp in table.ramps} - rows.keys())
    if unknown:
        raise SetupAdvisorError(
            f"the conditions read {', '.join(unknown)}, which is not among the given facts; "
            "pass every fact of the catalogue"
        )
    places, levels = _levels(net, table)
    ramps = list(table.ramps)
    steps = [step for shape in table.sums for step in shape.steps]
    return Compiled(
        fact_names=fact_names,
        ramp_fact=np.array([rows[ramp.fact] for ramp in ramps], dtype=np.intp),
        ramp_start=np.array([ramp.start for ramp in ramps], dtype=np.float64),
        ramp_slope=np.array([ramp.slope for ramp in ramps], dtype=np.float64),
        sum_first=np.array([shape.first for shape in table.sums], dtype=np.float64),
        sum_ramp=np.array([table.ramps[ramp] for ramp, _ in steps], dtype=np.intp),
        sum_weight=np.array([weight for _, weight in steps], dtype=np.float64),
        sum_offsets=_offsets([len(shape.steps) for shape in table.sums]),
        mirrored=table.mirrored,
        levels=levels,
        roots=np.array([places[root] for root in roots], dtype=np.intp),
        size=table.leaves + sum(level.stop - level.start for level in levels),
    )


def _offsets(lengths: Sequence[int]) -> IndexArray:
    ends = np.cumsum(np.array(lengths, dtype=np.intp))
    return np.concatenate([np.zeros(1, dtype=np.intp), ends])[: len(lengths)].astype(np.intp)


def _levels(net: Net, table: ShapeTable) -> tuple[list[int], tuple[Level, ...]]:
    """Give every node its place, joins ordered by depth and kind."""
    places = [0] * len(net.nodes)
    depths = [0] * len(net.nodes)
    joins: dict[tuple[int, bool], list[int]] = {}
    for number, node in enumerate(net.nodes):
        if isinstance(node, Join):
            depths[number] = 1 + max(depths[part] for part in node.parts)
            joins.setdefault((depths[number], node.largest), []).append(number)
        else:
            places[number] = table.place(node.shape, complement=node.complement)
    start = table.leaves
    levels = []
    for (_, largest), numbers in sorted(joins.items()):
        parts: list[int] = []
        lengths = []
        for place, number in enumerate(numbers, start=start):
            places[number] = place
            node = cast(Join, net.nodes[number])
            parts.extend(places[part] for part in node.parts)
            lengths.append(len(node.parts))
        stop = start + len(numbers)
        levels.append(
            Level(largest, start, stop, np.array(parts, dtype=np.intp), _offsets(lengths))
        )
        start = stop
    return places, tuple(levels)
