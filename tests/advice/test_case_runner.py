from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

from setupadvisor.advice.case_bench import lay_out
from setupadvisor.advice.case_runner import (
    Outcome,
    check_cases,
    read_cases,
    run_cases,
    smallest_step,
)
from setupadvisor.advice.consult import consult
from setupadvisor.advice.rule_tests import mistakes_in_cases, run_tests
from setupadvisor.advice.workshop import Workshop, house_machine, knowledge, open_workshop
from setupadvisor.entries.files import bundled
from setupadvisor.errors import Mistake
from setupadvisor.learning.model import untrained

TERMS = """
terms:
  our_soft_ground:
    fact: cone_index_kpa
    points: [[300, 1], [700, 0]]
    why: a heel sinks below about 300 kPa and only dents above 700 kPa
"""
RULES = """
subject: our own
rules:
  our-front-up:
    title: Our front goes up in soft ground
    when: [our_soft_ground]
    change: {fork_height: 2 higher, cooling_fan: 1 more, rear_tyre: 1 for harder ground}
    confidence: firm
    why: The front floats.
    look_for: A floating front.
    source: common practice, no source
    prepare: [Take the Long shovel along]
    watch: [The depth of the ruts]
"""
CASES = """
cases:
  soft:
    title: Soft ground
    walk: {kind: outdoor, ground: {cone_index: 300 kPa}}
    expect: [fork_height higher than house]
    source: common practice, no source
  middling:
    title: Ground between soft and firm
    with: soft
    walk: {ground: {cone_index: 500 kPa}}
    expect: [fork_height higher than house]
    source: common practice, no source
  firm:
    title: Firm ground
    with: soft
    walk: {ground: {cone_index: 700 kPa}}
    expect: [fork_height unchanged from house]
    source: common practice, no source
  unknown:
    title: Ground that nobody looked at
    with: soft
    walk: {ground: {cone_index: }}
    expect: [fork_height unchanged from house]
    source: common practice, no source
"""


def team(folder: Path, *, cases: str = CASES, rules: str = RULES) -> Path:
    """A folder of one term, one rule and some cases that switches no bundled rule off."""
    folder.mkdir(exist_ok=True)
    (folder / "terms.yaml").write_text(TERMS, encoding="utf-8")
    (folder / "ours.yaml").write_text(rules, encoding="utf-8")
    (folder / "cases.yaml").write_text(cases, encoding="utf-8")
    return folder


@pytest.fixture(scope="module")
def alone(tmp_path_factory: pytest.TempPathFactory) -> tuple[Path, Workshop]:
    """The team's rule with every bundled rule muted, so that one number decides."""
    folder = team(tmp_path_factory.mktemp("team"))
    workshop = open_workshop(house_machine(), (folder,))
    mine = np.array([rule.id == "our-front-up" for rule in workshop.rulebase.rules])
    amounts = workshop.amounts * mine[:, np.newaxis]
    return folder, Workshop(workshop.machine, workshop.rulebase, workshop.compiled, amounts)


def outcome(alone: tuple[Path, Workshop], sentence: str, case: str = "soft") -> Outcome:
    folder, workshop = alone
    expect = CASES.replace("[fork_height higher than house]", f'["{sentence}"]').replace(
        "[fork_height unchanged from house]", f'["{sentence}"]'
    )
    rules = [rule.id for rule in workshop.rulebase.rules]
    cases = read_cases(team(folder, cases=expect), workshop.machine, rules)
    wanted = {name: cases[name] for name in ("soft", "middling", "firm", "unknown")}
    (found,) = run_cases([wanted[case]], wanted, {workshop.machine.name: workshop})
    return found


@pytest.mark.parametrize(
    ("case", "sentence", "holds"),
    [
        # The rule lifts the front by 2 mm at 300 kPa, by 1 mm at 500 kPa, by nothing at 700 kPa.
        ("soft", "fork_height higher than house", True),
        ("soft", "fork_height lower than house", False),
        ("firm", "fork_height higher than house", False),
        ("firm", "fork_height lower than house", False),
        ("soft", "fork_height not lower than house", True),
        ("soft", "fork_height not higher than house", False),
        ("firm", "fork_height not higher than house", True),
        ("soft", "fork_height at least 2 mm higher than house", True),
        ("soft", "fork_height at least 2.1 mm higher than house", False),
        ("soft", "fork_height at least 1 mm higher than on case middling", True),
        ("soft", "fork_height at least 1.1 mm higher than on case middling", False),
        ("middling", "fork_height at most 1 mm higher than house", True),
        ("soft", "fork_height at most 1 mm higher than house", False),
        ("firm", "fork_height at most 1 mm higher than house", True),
        ("firm", "fork_height unchanged from house", True),
        ("middling", "fork_height unchanged from house", False),
        ("middling", "fork_height unchanged from case middling", True),
        ("middling", "fork_height within 1 mm of house", True),
        ("middling", "fork_height within 0.9 mm of house", False),
        ("middling", "fork_height within 1 mm of case soft", True),
        # House 5 mm; the wish is 3 mm on soft ground.
        ("soft", "fork_height at 3 mm", True),
        ("soft", "fork_height at 4 mm", False),
        ("soft", "fork_height at least 3 mm", True),
        ("soft", "fork_height at least 4 mm", False),
        ("soft", "fork_height at most 3 mm", True),
        ("soft", "fork_height at most 2 mm", False),
        ("soft", "cooling_fan at 'on thermostat'", True),
        ("soft", "cooling_fan at 'always on'", False),
        # Named values: the wish of 3.5 on half soft ground fits to 4.
        ("middling", "rear_tyre at hard", True),
        ("middling", "rear_tyre at intermediate", False),
        ("middling", "rear_tyre at least 0.6 for harder ground than house", False),
        ("middling", "sheet rear_tyre at least 1 for harder ground than house", True),
        ("soft", "sheet fork_height at least 2 mm higher than house", True),
        ("soft", "sheet fork_height unchanged from house", False),
        ("soft", "rule our-front-up speaks", True),
        ("soft", "rule our-front-up speaks fully", True),
        ("middling", "rule our-front-up speaks", True),
        ("middling", "rule our-front-up speaks fully", False),
        ("middling", "rule our-front-up silent", False),
        ("firm", "rule our-front-up silent", True),
        ("firm", "rule our-front-up speaks", False),
        ("unknown", "rule our-front-up silent", False),
        ("unknown", "rule our-front-up speaks", False),
        ("unknown", "rule our-front-up not judged: needs ground.firmness", True),
        ("unknown", "rule our-front-up not judged: needs ground.moisture", False),
        ("soft", "rule our-front-up not judged: needs ground.firmness", False),
        ("unknown", "not judged: needs ground.firmness", True),
        ("unknown", "not judged: needs kind", False),
        ("soft", "prepare mentions LONG shovel", True),
        ("soft", "prepare mentions short shovel", False),
        ("soft", "prepare does not mention long shovel", False),
        # A task is asked for from half a degree on.
        ("middling", "prepare mentions long shovel", True),
        ("firm", "prepare mentions long shovel", False),
        ("firm", "prepare does not mention long shovel", True),
        ("unknown", "prepare mentions long shovel", False),
        ("soft", "watch mentions depth of the ruts", True),
        ("soft", "prepare mentions depth of the ruts", False),
    ],
)
def test_a_sentence_holds_where_it_is_true_and_only_there(
    alone: tuple[Path, Workshop], case: str, sentence: str, holds: bool
) -> None:
    assert outcome(alone, sentence, case).holds is holds


def test_less_than_a_tenth_of_a_step_is_no_difference(alone: tuple[Path, Workshop]) -> None:
    """The rule's 2 mm at a degree of 0.045 are 0.09 mm, at 0.055 they are 0.11 mm; step 1 mm."""
    folder, workshop = alone
    for cone_index, further in ((682, False), (678, True)):
        text = CASES.replace("500 kPa", f"{cone_index} kPa")
        middling = read_cases(team(folder, cases=text), workshop.machine)["middling"]
        (found,) = run_cases([middling], {"middling": middling}, {"works-450": workshop})
        assert found.holds is further


def test_a_failed_sentence_says_what_was_expected_what_came_out_and_who_moved_it(
    alone: tuple[Path, Workshop],
) -> None:
    mistake = outcome(alone, "fork_height lower than on case middling").as_mistake()

    assert mistake.where.endswith("cases.yaml:6 cases.soft.expect.1")
    assert mistake.found == (
        "expected 'fork_height lower than on case middling', but it is 3 mm, on case middling 4 mm "
        "(moved by our-front-up -2)"
    )


def test_a_failed_verdict_names_the_degree_or_what_is_missing(
    alone: tuple[Path, Workshop],
) -> None:
    assert outcome(alone, "rule our-front-up silent", "middling").came_out == "its degree is 0.5"
    unknown = outcome(alone, "rule our-front-up silent", "unknown").came_out
    assert unknown == "the rule cannot be judged: needs ground.firmness"
    task = outcome(alone, "prepare mentions spade").came_out
    assert task.startswith("nothing mentions it (asked for by ")
    assert "our-front-up" in task


def test_wishes_and_sheet_of_a_case_are_those_of_the_advice() -> None:
    """What a case is held against is what `advise` prints for the same walk, without sessions."""
    machine = house_machine()
    workshop = open_workshop(machine)
    cases = read_cases(bundled("rules"), machine)
    wanted = [cases[name] for name in ("hard-stadium", "deep-sand", "rider-not-known")]
    bench = lay_out(workshop, wanted)
    model = untrained(knowledge(workshop))

    for row, case in enumerate(wanted):
        advice = consult(workshop, case.walk, model, rider=case.rider)
        for place, setting in enumerate(advice.settings):
            wish = sum(part.amount for part in setting.parts if part.source != "fitting")
            assert bench.wishes[row, place] == pytest.approx(wish, abs=1e-9)
            assert bench.sheet(row, of_house=False)[setting.setting] == setting.value
        assert set(bench.tasks(row, "prepare")) == {task.text for task in advice.prepare}
        assert set(bench.tasks(row, "watch")) == {task.text for task in advice.watch}


def test_cases_laid_out_together_come_out_as_each_alone() -> None:
    machine = house_machine()
    workshop = open_workshop(machine)
    cases = list(read_cases(bundled("rules"), machine).values())[:12]
    together = lay_out(workshop, cases)

    for row, case in enumerate(cases):
        alone = lay_out(workshop, [case])
        np.testing.assert_allclose(together.wishes[row], alone.wishes[0], atol=1e-9)


def test_a_team_s_folder_runs_its_own_cases_with_its_own_rules(tmp_path: Path) -> None:
    """They may stand on bundled cases, which are not run with them."""
    text = CASES + (
        "  sandy:\n    title: On a bundled case\n    with: deep-sand\n"
        "    expect: [fork_height at least 2 mm higher than on case firm]\n"
        "    source: common practice, no source\n"
    )
    folder = team(tmp_path, cases=text)
    machine = house_machine()
    rules = open_workshop(machine, (folder,)).rulebase.by_id

    outcomes = check_cases(folder, machine, rules)

    assert [found.case.id for found in outcomes] == ["soft", "middling", "firm", "unknown", "sandy"]
    assert outcomes[-1].holds


def test_a_folder_without_cases_has_nothing_to_run(tmp_path: Path) -> None:
    folder = team(tmp_path, cases="subject: nothing\n")
    machine = house_machine()

    assert check_cases(folder, machine, ["our-front-up"]) == []
    assert list(run_tests(folder, machine, ["our-front-up"])) == []


def test_the_tests_of_a_folder_are_told_with_their_number(tmp_path: Path) -> None:
    wrong = CASES.replace("[fork_height unchanged from house]", "[fork_height lower than house]", 1)
    machine = house_machine()
    rules = open_workshop(machine, (team(tmp_path),)).rulebase.by_id

    good = list(run_tests(team(tmp_path), machine, rules))
    bad = list(run_tests(team(tmp_path, cases=wrong), machine, rules))

    assert good[0] == f"{tmp_path}: 4 cases with 4 sentences, all hold"
    assert bad[0] == f"{tmp_path}: 4 cases with 4 sentences, 1 of them do not hold"
    assert isinstance(bad[1], Mistake)
    assert "cases.firm.expect.1" in bad[1].where


def test_mistakes_in_cases_are_found_where_the_rules_cannot_be_loaded(tmp_path: Path) -> None:
    folder = team(tmp_path, cases=CASES.replace("outdoor", "moon"), rules="rules: {}\n")

    (mistake,) = mistakes_in_cases(folder, house_machine())

    assert "'moon'" in mistake.found


def test_the_smallest_step_is_the_step_or_the_least_distance_on_the_shelf() -> None:
    settings = house_machine().settings

    assert smallest_step(settings["fork_height"]) == 1.0
    assert smallest_step(settings["fork_spring"]) == pytest.approx(0.1)
    assert smallest_step(settings["rear_tyre"]) == 1.0
