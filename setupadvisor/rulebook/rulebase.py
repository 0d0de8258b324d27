"""The rule base: everything that stands in the rule folders, checked and in order."""

from __future__ import annotations

import hashlib
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from setupadvisor.errors import InputError, Mistake
from setupadvisor.rulebook.conditions import Condition, terms_in
from setupadvisor.rulebook.reading import Origin
from setupadvisor.rulebook.remarks import Remark
from setupadvisor.rulebook.rules import Rule
from setupadvisor.rulebook.settings import SettingWords
from setupadvisor.rulebook.terms import Term


@dataclass(frozen=True, slots=True)
class SwitchedOff:
    """A rule that a later folder switched off.

    Parameters
    ----------
    rule : Rule
        The rule.
    reason : str
        As the team wrote it.
    origin : Origin
        Where it was switched off.
    """

    rule: Rule
    reason: str
    origin: Origin


@dataclass(frozen=True, slots=True)
class Replaced:
    """A rule that a later folder replaced by its own of the same id.

    Parameters
    ----------
    rule : Rule
        The rule as it was.
    origin : Origin
        Where its replacement stands.
    """

    rule: Rule
    origin: Origin


@dataclass(frozen=True)
class RuleBase:
    """Terms, rules and remarks that belong together.

    Parameters
    ----------
    terms : mapping of str to Term
        By name; a term stands after every term it is made of.
    rules : tuple of Rule
        In a stable order: by folder, file and place; a replacement stands where the replaced
        rule stood.
    remarks : tuple of Remark
        In the same order.
    digest : str
        SHA-256 over the files' names and texts.
    switched_off : tuple of SwitchedOff
        Rules that a later folder switched off.
    replaced : tuple of Replaced
        Rules that a later folder replaced.
    """

    terms: Mapping[str, Term]
    rules: tuple[Rule, ...]
    remarks: tuple[Remark, ...]
    digest: str
    switched_off: tuple[SwitchedOff, ...] = ()
    replaced: tuple[Replaced, ...] = field(default=())

    @cached_property
    def by_id(self) -> Mapping[str, Rule]:
        """The rules by id."""
        return {rule.id: rule for rule in self.rules}

    @cached_property
    def meaning(self) -> str:
        """SHA-256 over what moves a number: terms, conditions, amounts and confidence.

        Texts, remarks, comments and file names do not count, so a better worded reason leaves
        what was learnt from a season valid.
        """
        total = hashlib.sha256()
        for term in sorted(self.terms.values(), key=lambda term: term.name):
            total.update(repr((term.name, term.fact, term.points, term.when)).encode())
        for rule in sorted(self.rules, key=lambda rule: rule.id):
            told = (rule.id, rule.when, rule.changes, rule.confidence)
            total.update(repr(told).encode())
        return total.hexdigest()

    def facts_read(self, what: Rule | Condition) -> tuple[str, ...]:
        """Give the facts a rule or condition reads.

        Parameters
        ----------
        what : Rule or Condition
            Of this rule base.

        Returns
        -------
        tuple of str
            Each fact once, in the order it is first read.
        """
        condition = what.when if isinstance(what, Rule) else what
        return tuple(dict.fromkeys(self._facts(condition, set())))

    def _facts(self, condition: Condition, seen: set[str]) -> Iterator[str]:
        for name in terms_in(condition):
            if name in seen:
                continue
            seen.add(name)
            term = self.terms[name]
            if term.when is None:
                yield term.fact
            else:
                yield from self._facts(term.when, seen)

    def rules_moving(self, setting: str) -> tuple[Rule, ...]:
        """Give the rules that move a setting.

        Parameters
        ----------
        setting : str
            The setting's name.

        Returns
        -------
        tuple of Rule
            In the rule base's order.
        """
        return tuple(
            rule for rule in self.rules if any(change.setting == setting for change in rule.changes)
        )


def signed_amounts(rulebase: RuleBase, settings: Mapping[str, SettingWords]) -> NDArray[np.float64]:
    """Give what each rule at full degree adds to each setting's number.

    Parameters
    ----------
    rulebase : RuleBase
        The rules.
    settings : mapping of str to SettingWords
        The settings wanted, in their order; changes of other settings are left out.

    Returns
    -------
    numpy.ndarray
        Shape (rules, settings), each in the setting's unit.

    Raises
    ------
    InputError
        If a rule's direction word is none of the setting's.
    """
    amounts = np.zeros((len(rulebase.rules), len(settings)))
    places = {name: place for place, name in enumerate(settings)}
    mistakes = []
    for row, rule in enumerate(rulebase.rules):
        for change in rule.changes:
            if change.setting not in places:
                continue
            words = settings[change.setting]
            sign = words.sign(change.direction)
            if not sign:
                mistakes.append(
                    Mistake(
                        f"{rule.origin} rules.{rule.id}.change.{change.setting}",
                        f"{change.direction!r} is no direction of this machine's setting",
                        f"use '{words.up}' or '{words.down}'",
                    )
                )
            amounts[row, places[change.setting]] += sign * change.amount
    if mistakes:
        raise InputError(mistakes)
    return amounts
