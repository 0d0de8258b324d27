from __future__ import annotations

import gc
from pathlib import Path

import pytest

from setupadvisor.errors import InputError, Mistake
from setupadvisor.rulebook.loading import load_rulebase
from setupadvisor.rulebook.settings import Change
from tests.rulebook.small_world import FACTS, RULES, SETTINGS, TERMS, load, write

REMARKS = """
remarks:
  front-pushes:
    title: Front pushes in a flat corner
    where: flat_corner
    what: pushes
    end: front
    words: [push, washes]
    try:
      - change: {fork_height: 2 lower}
        gain: usual
        why: more weight on the front tyre
        better: soft_ground
        worse: [metal_gate]
      - check: [look for play in the steering head]
        prepare: [have new bearings at hand]
        gain: loose
        why: play feels like a sliding front
    look_for: a front that bites
    source: common practice, no source
"""


def mistakes_of(folder: Path) -> list[Mistake]:
    with pytest.raises(InputError) as caught:
        load(folder)
    return list(caught.value.mistakes)


def only_mistake(folder: Path) -> Mistake:
    (mistake,) = mistakes_of(folder)
    return mistake


def rule(**changed: str | None) -> str:
    """A good rule with some keys changed, or taken out where None."""
    keys: dict[str, str | None] = {
        "title": "a title",
        "when": "[soft_ground]",
        "change": "{fork_height: 1 lower}",
        "confidence": "firm",
        "why": "a reason",
        "look_for": "a sign",
        "source": "common practice, no source",
    }
    keys |= changed
    lines = [f"    {key}: {value}" for key, value in keys.items() if value is not None]
    return "\n".join(["subject: start", "rules:", "  the-rule:", *lines, ""])


def test_a_rule_base_is_read_as_written(tmp_path: Path) -> None:
    rulebase = load(write(tmp_path, terms=TERMS, start=RULES, remarks=REMARKS))

    (found,) = rulebase.rules
    assert found.id == "soft-after-gate"
    assert found.subject == "start"
    assert str(found.when) == "soft ground and not metal gate"
    assert found.changes == (
        Change("start_lock_depth", 10.0, "shallower"),
        Change("fork_height", 1.0, "higher"),
    )
    assert found.spread == 0.5
    assert found.origin.file.endswith("start.yaml")
    assert found.origin.line == 4
    assert rulebase.terms["soft_ground"].points == ((300.0, 1.0), (700.0, 0.0))
    assert rulebase.terms["metal_gate"].points == ((0.0, 0.0), (1.0, 1.0), (2.0, 0.0))
    (remark,) = rulebase.remarks
    first, second = remark.candidates
    assert (first.changes, str(first.better), str(first.worse)) == (
        (Change("fork_height", 2.0, "lower"),),
        "soft ground",
        "metal gate",
    )
    assert second.check == ("look for play in the steering head",)
    assert second.prepare == ("have new bearings at hand",)
    nothing = REMARKS.replace(
        "      - change: {fork_height: 2 lower}\n        gain", "      - gain"
    )
    found = only_mistake(write(tmp_path, terms=TERMS, remarks=nothing))
    assert found.found == "there is nothing to try"
    assert found.mend == "add change, check or prepare"


def test_a_term_stands_after_the_terms_it_is_made_of(tmp_path: Path) -> None:
    backward = """
terms:
  all_of_it: {when: [most_of_it, metal_gate], why: w}
  most_of_it: {when: {not: soft_ground}, why: w}
"""
    names = list(load(write(tmp_path, a=backward, b=TERMS, start=RULES)).terms)

    assert names.index("soft_ground") < names.index("most_of_it") < names.index("all_of_it")


TWENTY_MISTAKES = """\
subject: start
terms:
  soft_ground: {fact: cone_index_kpa, points: [[300, 1], [700, 0]], why: w}
  a_term: {fact: cone_indx_kpa, points: [[1, 0], [2, 1]], why: w}
  b_term: {fact: cone_index_kpa, points: [[700, 0], [300, 1]], why: w}
  c_term: {fact: cone_index_kpa, points: [[1, 0], [2, 1.5]], why: w}
  d_term: {fact: gate_surface, is: [conrete], why: w}
  e_term: {fact: gate_surface, points: [[0, 1], [1, 0]], why: w}
  f_term: {when: [g_term], why: w}
  g_term: {when: [f_term], why: w}
  h_term: {fact: cone_index_kpa, points: [[1, 0], [2, 1]]}
rules:
  r-one:
    title: t
    when: [soft_grund]
    change: {fork_height: 1 stiffer}
    confidence: sure
    why: w
    look_for: l
  r-two:
    titel: t
    title: t
    when: []
    change: {fork_hight: 1 lower, start_lock_depth: 200 deeper, cooling_fan: 0 more}
    confidence: firm
    why: 12
    look_for: l
    source: s
  r-three:
    title: t
    title: t
    when: {both: [soft_ground]}
    why: w
    source: s
    balances: [r-for]
"""

TWENTY_EXPECTED = [
    ("4 terms.a_term.fact", "there is no fact 'cone_indx_kpa'", "did you mean cone_index_kpa?"),
    ("5 terms.b_term.points.2", "300 after 700", "order the points"),
    ("6 terms.c_term.points.2", "1.5 is no degree", "from 0 to 1"),
    ("7 terms.d_term.is.1", "'conrete' is not known here", "did you mean concrete?"),
    ("8 terms.e_term.points", "gate_surface is a category", "is: [concrete]"),
    ("9 terms.f_term.when", "stands on itself: f_term -> g_term -> f_term", "break the circle"),
    ("11 terms.h_term.why", "the key is missing", "the reason of the breakpoints"),
    ("13 rules.r-one.source", "the key is missing", "a published work by name"),
    ("15 rules.r-one.when.1", "there is no term 'soft_grund'", "did you mean soft_ground?"),
    ("16 rules.r-one.change.fork_height", "'stiffer' is no direction", "'lower' or 'higher'"),
    ("17 rules.r-one.confidence", "'sure' does not fit", "'firm', 'usual' or 'loose'"),
    ("21 rules.r-two.titel", "the key is unknown", "did you mean title?"),
    ("23 rules.r-two.when", "the list is empty", "write a term"),
    ("24 rules.r-two.change.fork_hight", "no such setting", "did you mean fork_height?"),
    ("24 rules.r-two.change.start_lock_depth", "200 is more than", "range is 130 mm"),
    ("24 rules.r-two.change.cooling_fan", "0 moves nothing", "above 0"),
    ("26 rules.r-two.why", "12 does not fit here", "write text"),
    ("29 rules.r-three", "the rule does nothing", "add change, prepare or watch"),
    ("31 rules.r-three.title", "stands twice", "keep one"),
    ("32 rules.r-three.when.both", "'both' joins no terms", "any, all or not"),
    ("35 rules.r-three.balances.1", "there is no rule 'r-for'", "did you mean"),
]


def test_every_mistake_of_a_file_is_named_with_line_key_and_mend(tmp_path: Path) -> None:
    folder = write(tmp_path, rules=TWENTY_MISTAKES)

    found = mistakes_of(folder)

    source = f"{folder / 'rules.yaml'}:"
    assert [mistake.where.removeprefix(source) for mistake in found] == [
        where for where, _, _ in TWENTY_EXPECTED
    ]
    for mistake, (_, what, mend) in zip(found, TWENTY_EXPECTED, strict=True):
        assert what in mistake.found
        assert mend in mistake.mend


def test_mistakes_of_all_files_are_reported_together(tmp_path: Path) -> None:
    folder = write(tmp_path, a="terms: 3", b="ruels: {}", c="terms: {x: [", d="")

    wheres = [mistake.where for mistake in mistakes_of(folder)]

    assert len(wheres) == 4
    assert {Path(where.split(":")[0]).name for where in wheres} == {
        "a.yaml",
        "b.yaml",
        "c.yaml",
        "d.yaml",
    }


@pytest.mark.parametrize(
    ("amount", "found", "mend"),
    [
        ("2", "2 has no direction", "'2 lower' or '2 higher'"),
        ("lower", "'lower' is no amount", "'2 lower' or '2 higher'"),
        ("-2 lower", "'-2 lower' has a sign", "the word says it"),
        ("+2 lower", "'+2 lower' has a sign", "the word says it"),
        ("2 mm", "'mm' is no direction", "'lower' or 'higher'"),
        ("2 cm lower", "'cm lower' is no direction", "'lower' or 'higher'"),
        ("13 lower", "13 is more than fork_height can move", "12 mm (0 to 12)"),
        ("[2, lower]", "a list is no amount", "'2 lower' or '2 higher'"),
        ("true", "true is no amount", "'2 lower'"),
    ],
)
def test_an_amount_that_cannot_be_is_refused(
    tmp_path: Path, amount: str, found: str, mend: str
) -> None:
    folder = write(tmp_path, terms=TERMS, r=rule(change=f"{{fork_height: {amount}}}"))

    mistake = only_mistake(folder)

    assert found in mistake.found
    assert mend in mistake.mend


@pytest.mark.parametrize(
    ("change", "expected"),
    [
        ("fork_height: 1 lower", Change("fork_height", 1.0, "lower")),
        ("fork_height: 1.5 mm lower", Change("fork_height", 1.5, "lower")),
        ("fork_height: '1,5 mm  Lower'", Change("fork_height", 1.5, "lower")),
        ("fork_rebound_low: 2 clicks stiffer", Change("fork_rebound_low", 2.0, "stiffer")),
        ("fork_rebound_low: 1 click softer", Change("fork_rebound_low", 1.0, "softer")),
        ("axle_position: 5 mm further back", Change("axle_position", 5.0, "further back")),
        ("cooling_fan: 1 step more", Change("cooling_fan", 1.0, "more")),
        ("fork_height: .5 higher", Change("fork_height", 0.5, "higher")),
    ],
)
def test_an_amount_is_read_with_or_without_its_unit(
    tmp_path: Path, change: str, expected: Change
) -> None:
    rulebase = load(write(tmp_path, terms=TERMS, r=rule(change=f"{{{change}}}")))

    assert rulebase.rules[0].changes == (expected,)


@pytest.mark.parametrize(
    ("points", "found"),
    [
        ("[[300, 1]]", "1 points"),
        ("300", "300 cannot be"),
        ("[[300, 1], [700]]", "a list is no point"),
        ("[[300, 1], ['700 kPa', 0]]", "a list is no point"),
        ("[[300, 1], [700, true]]", "a list is no point"),
        ("[[300, 1], [1e400, 0]]", "a list is no point"),
        ("[[300, 1], [700, 1]]", "the degree is 1 everywhere"),
        ("[[300, -0.1], [700, 1]]", "-0.1 is no degree"),
        ("[[3, 0], [3, 1], [3, 0.5]]", "3 stands three times"),
        ("[[3, 0], [3, 0], [4, 1]]", "the same point twice"),
    ],
)
def test_breakpoints_that_cannot_be_are_refused(tmp_path: Path, points: str, found: str) -> None:
    text = f"terms: {{t: {{fact: cone_index_kpa, points: {points}, why: w}}}}"

    mistake = only_mistake(write(tmp_path, t=text))

    assert found in mistake.found
    assert "terms.t.points" in mistake.where


@pytest.mark.parametrize(
    ("keys", "found", "mend"),
    [
        ("fact: dust", "the key 'is' is missing", "is: [none]"),
        ("fact: cone_index_kpa", "the key 'points' is missing", "points: [[300, 1], [700, 0]]"),
        ("fact: cone_index_kpa, is: soft", "cone_index_kpa is a number", "write points instead"),
        ("points: [[1, 0], [2, 1]]", "the term is about nothing", "add fact, or when"),
        ("fact: dust, is: [none, some, heavy]", "every word of dust", "says nothing"),
        ("fact: dust, is: []", "the list is empty", "is: [none]"),
        ("fact: dust, is: [some, some]", "some stands twice", "keep it once"),
        ("fact: dust, is: some, when: soft_ground", "fact beside when", "keep either"),
        ("when: 12", "12 is no condition", "write a term"),
        ("when: soft ground", "'soft ground' is no single term", "write a term"),
        ("when: {any: soft_ground}", "'soft_ground' is no list", "any: [term, term]"),
        ("when: {any: [soft_ground], not: metal_gate}", "any, not in one group", "one of any"),
    ],
)
def test_a_term_that_cannot_be_is_refused(tmp_path: Path, keys: str, found: str, mend: str) -> None:
    folder = write(tmp_path, a=TERMS, t=f"terms: {{t: {{why: w, {keys}}}}}")

    mistake = mistakes_of(folder)[0]

    assert found in mistake.found
    assert mend in mistake.mend


def test_yes_and_no_are_read_however_yaml_has_them(tmp_path: Path) -> None:
    text = "terms: {flat: {fact: flat_landing, is: true, why: w}}"

    term = load(write(tmp_path, t=text)).terms["flat"]

    assert term.choices == ("yes",)
    assert term.points == ((0.0, 0.0), (1.0, 1.0))


@pytest.mark.parametrize("key", ["title", "when", "confidence", "why", "look_for", "source"])
def test_a_rule_that_moves_a_setting_needs_all_its_keys(tmp_path: Path, key: str) -> None:
    mistake = only_mistake(write(tmp_path, terms=TERMS, r=rule(**{key: None})))

    assert mistake.where.endswith(f"rules.the-rule.{key}")
    assert mistake.found == "the key is missing"


def test_a_rule_may_only_prepare_or_watch(tmp_path: Path) -> None:
    nothing = {"change": None, "confidence": None, "look_for": None}
    folder = write(tmp_path, terms=TERMS, r=rule(**nothing, watch="[the chain]"))

    assert load(folder).rules[0].watch == ("the chain",)


def test_remarks_name_their_mistakes_down_to_the_candidate(tmp_path: Path) -> None:
    text = (
        REMARKS.replace("flat_corner\n    what: pushes", "flat_conrer\n    what: sings")
        .replace("2 lower", "2 stiffer")
        .replace("gain: loose", "gain: rarely")
        .replace("better: soft_ground", "better: soft_sound")
    )

    found = mistakes_of(write(tmp_path, terms=TERMS, remarks=text))

    assert [mistake.where.rsplit(" ", 1)[-1] for mistake in found] == [
        "remarks.front-pushes.where",
        "remarks.front-pushes.what",
        "remarks.front-pushes.try.1.change.fork_height",
        "remarks.front-pushes.try.1.better",
        "remarks.front-pushes.try.2.gain",
    ]
    assert found[0].mend == "did you mean flat_corner?"


def test_the_same_name_twice_in_one_folder_is_refused(tmp_path: Path) -> None:
    folder = write(tmp_path, terms=TERMS, a=RULES, b=RULES)

    mistake = only_mistake(folder)

    assert "soft-after-gate stands also in" in mistake.found
    assert f"{folder / 'a.yaml'}:4" in mistake.found
    assert mistake.where.startswith(f"{folder / 'b.yaml'}:4 ")


def test_a_later_folder_adds_overrides_and_switches_off(tmp_path: Path) -> None:
    bundled = write(
        tmp_path / "bundled",
        terms=TERMS,
        a=rule(),
        b=rule().replace("the-rule", "second-rule"),
        c=rule().replace("the-rule", "third-rule"),
    )
    team = write(
        tmp_path / "team",
        own=rule(change="{fork_height: 3 lower}")
        + "  own-rule:\n"
        + rule().split("the-rule:\n")[1]
        + "switch_off: {third-rule: our fork does not need it}\n",
    )

    rulebase = load(bundled, team)

    assert [found.id for found in rulebase.rules] == ["the-rule", "second-rule", "own-rule"]
    folders = [Path(found.origin.folder).name for found in rulebase.rules]
    assert folders == ["team", "bundled", "team"]
    assert rulebase.rules[0].changes == (Change("fork_height", 3.0, "lower"),)
    (replaced,) = rulebase.replaced
    assert replaced.rule.changes == (Change("fork_height", 1.0, "lower"),)
    assert replaced.origin == rulebase.rules[0].origin
    (off,) = rulebase.switched_off
    assert (off.rule.id, off.reason) == ("third-rule", "our fork does not need it")


@pytest.mark.parametrize(
    ("text", "found", "mend"),
    [
        ("switch_off: {the-rle: reason}", "there is no such rule", "did you mean the-rule?"),
        ("switch_off: {the-rule: }", "nothing is no reason", "why the rule does not hold"),
        ("switch_off: [the-rule]", "a list does not fit here", "rule-id: the reason"),
    ],
)
def test_a_rule_is_only_switched_off_by_its_id_and_with_a_reason(
    tmp_path: Path, text: str, found: str, mend: str
) -> None:
    bundled = write(tmp_path / "bundled", terms=TERMS, a=rule())
    team = write(tmp_path / "team", own=text)

    with pytest.raises(InputError) as caught:
        load(bundled, team)

    (mistake,) = caught.value.mistakes
    assert found in mistake.found
    assert mend in mistake.mend


def test_a_rule_is_not_switched_off_in_its_own_folder(tmp_path: Path) -> None:
    folder = write(tmp_path, terms=TERMS, a=rule(), b="switch_off: {the-rule: reason}")

    assert "stands in this folder" in only_mistake(folder).found


def test_a_broken_term_is_not_also_reported_where_it_is_used(tmp_path: Path) -> None:
    broken = TERMS.replace("points: [[300, 1], [700, 0]]", "points: [[300, 1], [700, 2]]")

    assert "2 is no degree" in only_mistake(write(tmp_path, t=broken, r=RULES)).found


def test_names_that_cannot_be_told_apart_are_refused(tmp_path: Path) -> None:
    text = rule().replace("the-rule", "'The Rule'")

    assert "is no name" in only_mistake(write(tmp_path, terms=TERMS, r=text)).found


def test_a_missing_or_empty_folder_is_named(tmp_path: Path) -> None:
    assert "no such folder" in only_mistake(tmp_path / "nowhere").found
    assert "no rule file" in only_mistake(write(tmp_path / "empty")).found


def test_a_single_file_can_be_loaded(tmp_path: Path) -> None:
    folder = write(tmp_path, all=TERMS + RULES)

    assert len(load_rulebase([folder / "all.yaml"], FACTS, SETTINGS).rules) == 1


def test_loading_leaves_garbage_collection_as_it_was(tmp_path: Path) -> None:
    folder = write(tmp_path, bad="rules: 3")
    gc.disable()
    try:
        mistakes_of(folder)
        assert not gc.isenabled()
    finally:
        gc.enable()
    mistakes_of(folder)
    assert gc.isenabled()
