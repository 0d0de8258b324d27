"""The bundled rule base: no finding open, and one style of texts."""

from __future__ import annotations

from collections.abc import Iterator

import pytest

from setupadvisor.advice.rule_review import review_rules
from setupadvisor.advice.workshop import house_machine, open_workshop
from setupadvisor.entries.files import bundled, load_entry
from setupadvisor.entries.machine import Machine
from setupadvisor.rulebook.rulebase import RuleBase


@pytest.fixture(scope="module")
def rulebase() -> RuleBase:
    return open_workshop(house_machine()).rulebase


def test_the_review_has_nothing_open(rulebase: RuleBase) -> None:
    assert review_rules(rulebase, house_machine()) == []


def test_on_a_machine_of_shorter_ranges_only_the_amounts_are_found_large() -> None:
    """The amounts are written for the ranges of the larger machine; those of the smaller one are
    shorter, which its crew should know."""
    bike = load_entry(bundled("datasets", "machines", "works-250.yaml"), Machine)

    kinds = {finding.kind for finding in review_rules(open_workshop(bike).rulebase, bike)}

    assert kinds <= {"too far", "beyond its range"}


def _sentences(rulebase: RuleBase) -> Iterator[tuple[str, str]]:
    for rule in rulebase.rules:
        for text in (rule.why, rule.look_for, rule.caution):
            yield rule.id, text
    for remark in rulebase.remarks:
        yield remark.id, remark.look_for
        for candidate in remark.candidates:
            yield remark.id, candidate.why
            yield remark.id, candidate.caution


def test_reasons_signs_and_cautions_are_whole_sentences(rulebase: RuleBase) -> None:
    wrong = [
        (name, text)
        for name, text in _sentences(rulebase)
        if text and (text[0].islower() or text[-1] not in ".!?")
    ]
    assert wrong == []


def test_titles_and_tasks_are_headings_without_a_full_stop(rulebase: RuleBase) -> None:
    headings = [
        *((rule.id, text) for rule in rulebase.rules for text in (rule.title, *rule.prepare)),
        *((rule.id, text) for rule in rulebase.rules for text in rule.watch),
        *((remark.id, remark.title) for remark in rulebase.remarks),
        *(
            (remark.id, text)
            for remark in rulebase.remarks
            for candidate in remark.candidates
            for text in (*candidate.check, *candidate.prepare)
        ),
    ]
    wrong = [(name, text) for name, text in headings if text[0].islower() or text.endswith(".")]
    assert wrong == []
