"""Conditions in negation normal form: 'not' moved down to the terms, equal parts shared.

De Morgan's laws hold for min, max and 1 - x (IEC 61131-7's AND, OR and NOT), so every condition
is a net of minima and maxima over degrees and their complements.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field

from setupadvisor.rulebook.conditions import Condition, terms_in
from setupadvisor.rulebook.memberships import Shape, shape_of
from setupadvisor.rulebook.terms import Term


@dataclass(frozen=True, slots=True)
class Leaf:
    """The degree of a shape, or its complement.

    Parameters
    ----------
    shape : Shape
        The shape.
    complement : bool
        Whether it is 1 less the shape's degree.
    """

    shape: Shape
    complement: bool


@dataclass(frozen=True, slots=True)
class Join:
    """The minimum or maximum of other nodes of the net.

    Parameters
    ----------
    largest : bool
        Whether it is the maximum.
    parts : tuple of int
        The nodes' numbers, each once, rising; at least two.
    """

    largest: bool
    parts: tuple[int, ...]


@dataclass
class Net:
    """Nodes by number, each once; the parts of a join have smaller numbers.

    Parameters
    ----------
    nodes : list of Leaf or Join
        The nodes.
    """

    nodes: list[Leaf | Join] = field(default_factory=list)
    _numbers: dict[Leaf | Join, int] = field(default_factory=dict)

    def number(self, node: Leaf | Join) -> int:
        """Give a node's number, taking it in when it is new."""
        number = self._numbers.setdefault(node, len(self.nodes))
        if number == len(self.nodes):
            self.nodes.append(node)
        return number

    def join(self, parts: Iterable[int], *, largest: bool) -> int:
        """Give the number of the minimum or maximum of nodes."""
        distinct = tuple(sorted(set(parts)))
        return distinct[0] if len(distinct) == 1 else self.number(Join(largest, distinct))


def build_net(conditions: Iterable[Condition], terms: Mapping[str, Term]) -> tuple[Net, list[int]]:
    """Bring conditions into one net.

    Parameters
    ----------
    conditions : iterable of Condition
        The conditions.
    terms : mapping of str to Term
        The terms they name; a term stands after every term it is made of.

    Returns
    -------
    tuple of Net and list of int
        The net, holding nothing but what the conditions need, and each condition's node.
    """
    wanted = list(conditions)
    net = Net()
    # A term's node and its complement's, by name.
    known: dict[str, tuple[int, int]] = {}
    needed = _needed_terms(wanted, terms)
    for name, term in terms.items():
        if name not in needed:
            continue
        if term.when is None:
            shape, complement = shape_of(term.fact, term.points)
            known[name] = (
                net.number(Leaf(shape, complement)),
                net.number(Leaf(shape, not complement)),
            )
        else:
            known[name] = (
                _node(term.when, net, known, negated=False),
                _node(term.when, net, known, negated=True),
            )
    roots = [_node(condition, net, known, negated=False) for condition in wanted]
    return _pruned(net, roots)


def _needed_terms(conditions: list[Condition], terms: Mapping[str, Term]) -> set[str]:
    needed = {name for condition in conditions for name in terms_in(condition)}
    for term in reversed(list(terms.values())):
        if term.when is not None and term.name in needed:
            needed.update(terms_in(term.when))
    return needed


def _node(
    condition: Condition, net: Net, known: Mapping[str, tuple[int, int]], *, negated: bool
) -> int:
    if condition.kind == "term":
        return known[condition.term][negated]
    if condition.kind == "not":
        return _node(condition.parts[0], net, known, negated=not negated)
    return net.join(
        _parts(condition, condition.kind, net, known, negated=negated),
        largest=(condition.kind == "any") != negated,
    )


def _parts(
    condition: Condition,
    kind: str,
    net: Net,
    known: Mapping[str, tuple[int, int]],
    *,
    negated: bool,
) -> list[int]:
    # A list inside a list of the same kind is one list.
    parts: list[int] = []
    for part in condition.parts:
        if part.kind == kind:
            parts.extend(_parts(part, kind, net, known, negated=negated))
        else:
            parts.append(_node(part, net, known, negated=negated))
    return parts


def _pruned(net: Net, roots: list[int]) -> tuple[Net, list[int]]:
    used = set(roots)
    for number in range(len(net.nodes) - 1, -1, -1):
        node = net.nodes[number]
        if number in used and isinstance(node, Join):
            used.update(node.parts)
    pruned = Net()
    renamed: dict[int, int] = {}
    for number in sorted(used):
        node = net.nodes[number]
        if isinstance(node, Join):
            node = Join(node.largest, tuple(sorted(renamed[part] for part in node.parts)))
        renamed[number] = pruned.number(node)
    return pruned, [renamed[root] for root in roots]
