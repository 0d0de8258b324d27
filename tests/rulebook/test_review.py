"""Every sort of finding: what brings it about, and what settles it."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import pytest

from setupadvisor.rulebook import review as review_module
from setupadvisor.rulebook.findings import Finding
from setupadvisor.rulebook.review import review
from setupadvisor.rulebook.review_texts import evidence
from setupadvisor.rulebook.settings import SettingWords
from tests.rulebook.small_world import FACTS, SETTINGS, load, write

TERMS = """
terms:
  soft: {fact: cone_index_kpa, points: [[300, 1], [700, 0]], why: w}
  firm: {fact: cone_index_kpa, points: [[600, 0], [1300, 1]], why: w}
  hard: {fact: cone_index_kpa, points: [[1300, 0], [3000, 1]], why: w}
  hot: {fact: air_temperature_c, points: [[20, 0], [30, 1]], why: w}
  sticky: {fact: stickiness, points: [[0.3, 0], [0.7, 1]], why: w}
  metal: {fact: gate_surface, is: metal_grid, why: w}
  dirt: {fact: gate_surface, is: dirt, why: w}
  dusty: {fact: dust, is: [some, heavy], why: w}
"""
FULL = {
    "title": "A title of {id}",
    "confidence": "usual",
    "why": "Soft ground stops the wheel.",
    "look_for": "More drive.",
    "source": "common practice, no source",
}


def rule(name: str, when: str, **keys: str) -> str:
    """Write one rule; a key given as '' is left out."""
    written = {**FULL, "title": f"A title of {name}", **keys}
    lines = [f"    {key}: {text}" for key, text in written.items() if text]
    return "\n".join([f"  {name}:", f"    when: {when}", *lines, ""])


def remark(*candidates: str) -> str:
    return "\n".join(
        [
            "remarks:",
            "  pushes:",
            "    title: The front pushes",
            "    where: flat_corner",
            "    what: pushes",
            "    end: front",
            "    words: [push]",
            "    look_for: Less push.",
            "    source: common practice, no source",
            "    try:",
            *(f"      - {{{candidate}}}" for candidate in candidates),
            "",
        ]
    )


GAIN = "gain: usual, why: More weight stands on the front"

Review = Callable[..., list[Finding]]


@pytest.fixture
def reviewed(tmp_path: Path) -> Review:
    """Review rules and remarks; all facts are used, and nothing else but rules can be at fault."""
    count = 0

    def run(*rules: str, terms: str = "", remarks: str = "", **given: object) -> list[Finding]:
        nonlocal count
        count += 1
        text = TERMS + terms + ("subject: start\nrules:\n" + "".join(rules) if rules else "")
        rulebase = load(write(tmp_path / str(count), start=text + remarks))
        told = {
            "facts_used": list(FACTS),
            "cautioned": list(SETTINGS),
            "house": {name: words.low for name, words in SETTINGS.items()},
            "settings": SETTINGS,
            **given,
        }
        return review(rulebase, FACTS, **told)

    return run


def of_kind(findings: list[Finding], kind: str) -> list[Finding]:
    return [finding for finding in findings if finding.kind == kind]


def only(findings: list[Finding], kind: str) -> Finding:
    (finding,) = of_kind(findings, kind)
    return finding


DEEPER = "{start_lock_depth: 10 deeper}"
SHALLOWER = "{start_lock_depth: 10 shallower}"


def test_a_rule_that_no_track_fits_never_speaks(reviewed: Review) -> None:
    finding = only(reviewed(rule("r", "[soft, hard]", change=DEEPER)), "never speaks")

    assert finding.severity == "serious"
    assert finding.where.endswith("start.yaml:13 rules.r.when")
    assert "no track can be 'soft and hard'" in finding.found
    # Between 600 and 700 kPa both hold a little: it speaks, but never clearly.
    weak = reviewed(rule("r", "[soft, firm]", change=DEEPER))
    assert not of_kind(weak, "never speaks")
    assert only(weak, "never clearly").severity == "worth a look"
    assert not of_kind(reviewed(rule("r", "[soft, hot]", change=DEEPER)), "never clearly")


def test_a_category_cannot_be_two_words_at_once(reviewed: Review) -> None:
    assert only(reviewed(rule("r", "[metal, dirt]", change=DEEPER)), "never speaks")
    assert not of_kind(reviewed(rule("r", "{any: [metal, dirt]}", change=DEEPER)), "never speaks")


def test_a_rule_that_fits_every_track_always_speaks(reviewed: Review) -> None:
    always = reviewed(rule("r", "{any: [soft, firm, hard]}", change=DEEPER))
    assert only(always, "always speaks").severity == "serious"

    # From 700 to 1300 kPa neither holds.
    assert not of_kind(reviewed(rule("r", "{any: [soft, hard]}", change=DEEPER)), "always speaks")


def test_two_rules_of_the_same_ground_and_the_same_effect_are_duplicates(
    reviewed: Review,
) -> None:
    one = rule("one", "[soft, not metal]", change=DEEPER)
    same = rule("same", "{not: {any: [metal, not soft]}}", change=DEEPER, title="Another")

    finding = only(reviewed(one, same), "duplicate")

    assert finding.severity == "serious"
    assert "rules.same" in finding.where
    assert "one" in finding.found
    more = rule("same", "[soft, not metal]", change="{start_lock_depth: 5 deeper}")
    assert not of_kind(reviewed(one, more), "duplicate")


def test_a_rule_that_only_repeats_a_wider_one_is_contained(reviewed: Review) -> None:
    wide = rule("wide", "soft", change=DEEPER, prepare="[Look at the gate, Rake it]")
    narrow = rule("narrow", "[soft, metal]", change=DEEPER, prepare="[Rake it]")

    finding = only(reviewed(wide, narrow), "contained")

    assert finding.severity == "serious"
    assert "rules.narrow" in finding.where
    assert "wide" in finding.found
    # More of the same on part of the ground is a rule of its own, and so is another ground.
    further = rule("narrow", "[soft, metal]", change="{start_lock_depth: 4 deeper}")
    assert not of_kind(reviewed(wide, further), "contained")
    elsewhere = rule("narrow", "[firm, metal]", change=DEEPER)
    assert not of_kind(reviewed(wide, elsewhere), "contained")


def test_tasks_alone_can_be_contained_too(reviewed: Review) -> None:
    wide = rule("wide", "{any: [soft, hot]}", watch="[The lock]", confidence="")
    narrow = rule("narrow", "hot", watch="[The lock]", confidence="")
    assert "rules.narrow" in only(reviewed(wide, narrow), "contained").where


def test_opposite_pulls_on_common_ground_must_say_balances(reviewed: Review) -> None:
    one = rule("one", "soft", change=DEEPER)
    other = rule("other", "hot", change=SHALLOWER)

    finding = only(reviewed(one, other), "opposite")

    assert finding.severity == "serious"
    assert "rules.other.change" in finding.where
    assert "start_lock_depth against one" in finding.found
    assert "balances: [one]" in finding.mend
    for said in (
        (one, rule("other", "hot", change=SHALLOWER, balances="[one]")),
        (rule("one", "soft", change=DEEPER, balances="[other]"), other),
    ):
        assert not of_kind(reviewed(*said), "opposite")
        assert not of_kind(reviewed(*said), "idle balance")


def test_opposite_pulls_that_meet_only_weakly_are_worth_a_look(reviewed: Review) -> None:
    """Soft ends at 700 kPa, firm begins at 600 kPa."""
    one = rule("one", "soft", change=DEEPER)
    other = rule("other", "firm", change=SHALLOWER)

    finding = only(reviewed(one, other), "opposite")

    assert finding.severity == "worth a look"
    assert "cone_index_kpa 600 to 700" in finding.found


def test_opposite_pulls_that_never_meet_are_fine(reviewed: Review) -> None:
    one = rule("one", "soft", change=DEEPER)
    assert not of_kind(reviewed(one, rule("other", "hard", change=SHALLOWER)), "opposite")
    same_way = rule("other", "hot", change="{start_lock_depth: 3 deeper}")
    assert not of_kind(reviewed(one, same_way), "opposite")
    another = rule("other", "hot", change="{fork_height: 1 lower}")
    assert not of_kind(reviewed(one, another), "opposite")


@pytest.mark.parametrize(
    ("other", "reason"),
    [
        (rule("other", "hard", change=SHALLOWER), "never speaks on the same ground"),
        (
            rule("other", "hot", change="{start_lock_depth: 3 deeper}"),
            "pulls no setting the other way",
        ),
        (rule("other", "hot", change="{fork_height: 1 lower}"), "pulls no setting"),
    ],
)
def test_a_balance_without_an_opposite_pull_is_idle(
    reviewed: Review, other: str, reason: str
) -> None:
    one = rule("one", "soft", change=DEEPER, balances="[other]")

    finding = only(reviewed(one, other), "idle balance")

    assert finding.where.endswith("rules.one.balances.1")
    assert reason in finding.found


def test_rules_together_may_move_a_setting_a_third_of_its_range(reviewed: Review) -> None:
    """The lock's range is 130 mm: 43.3 mm may be moved together."""
    one = rule("one", "soft", change="{start_lock_depth: 25 deeper}")
    small = rule("other", "hot", change="{start_lock_depth: 18 deeper}")
    assert not of_kind(reviewed(one, small), "too far")

    large = rule("other", "hot", change="{start_lock_depth: 19 deeper}")
    finding = only(reviewed(one, large), "too far")
    assert finding.severity == "worth a look"
    assert "44 mm deeper, more than 43.33 mm: one 25, other 19" in finding.found

    # Rules that exclude each other do not add up, and neither does what a third one takes back.
    elsewhere = rule("other", "hard", change="{start_lock_depth: 40 deeper}")
    assert not of_kind(reviewed(one, elsewhere), "too far")
    back = rule("third", "{any: [soft, hot]}", change="{start_lock_depth: 5 shallower}")
    assert not of_kind(reviewed(one, large, back), "too far")


def test_beyond_half_the_range_is_past_the_end_from_its_middle(reviewed: Review) -> None:
    one = rule("one", "soft", change="{start_lock_depth: 66 shallower}")
    finding = only(reviewed(one), "beyond its range")
    assert finding.severity == "serious"
    assert "66 mm shallower" in finding.found


def test_a_setting_by_names_may_be_moved_one_and_six_tenths_of_a_place(
    reviewed: Review,
) -> None:
    """Of five names, a third of the range would be 1.33 places."""
    settings = {**SETTINGS, "cooling_fan": SettingWords("", "more", "less", None, 1, 5)}
    small = rule("r", "hot", change="{cooling_fan: 1.6 more}")
    assert not of_kind(reviewed(small, settings=settings), "too far")

    large = rule("r", "hot", change="{cooling_fan: 1.7 more}")
    finding = only(reviewed(large, settings=settings), "too far")
    assert "1.7 places more, more than 1.6 places" in finding.found


def test_a_setting_moved_one_way_only_wants_the_other_way(reviewed: Review) -> None:
    one = rule("one", "soft", change=DEEPER)
    house = {"start_lock_depth": 110.0}

    finding = only(reviewed(one, house=house), "one way")

    assert "no rule moves start_lock_depth shallower" in finding.found
    both = (one, rule("other", "hard", change=SHALLOWER))
    assert not of_kind(reviewed(*both, house=house), "one way")
    # From the end of its range there is only one way.
    assert not of_kind(reviewed(one, house={"start_lock_depth": 40.0}), "one way")


def test_terms_that_nobody_uses_are_found_and_those_behind_used_terms_are_not(
    reviewed: Review,
) -> None:
    terms = "  slippery: {when: {any: [dusty, sticky]}, why: w}\n"
    tried = remark(f"change: {{fork_height: 1 lower}}, {GAIN}, better: [metal], worse: [dirt]")
    findings = reviewed(rule("r", "[slippery, soft]", change=DEEPER), terms=terms, remarks=tried)

    unused = {finding.where.split(".")[-1] for finding in of_kind(findings, "unused term")}

    assert unused == {"firm", "hard", "hot"}


def test_two_words_for_one_thing_are_found(reviewed: Review) -> None:
    terms = "  boggy: {fact: cone_index_kpa, points: [[300, 1], [700, 0]], why: w}\n"
    assert "the same as soft" in only(reviewed(terms=terms), "same term").found


def test_points_in_another_unit_than_the_facts_say_nothing(reviewed: Review) -> None:
    """In degrees Fahrenheit, where the fact is in degrees Celsius from -25 to 55."""
    terms = "  warm: {fact: air_temperature_c, points: [[68, 0], [86, 1]], why: w}\n"
    finding = only(reviewed(terms=terms), "says nothing")
    assert finding.severity == "serious"
    assert "its degree is 0" in finding.found
    assert "°C" in finding.mend

    half = "  warm: {fact: air_temperature_c, points: [[40, 0], [86, 1]], why: w}\n"
    assert "86 is outside" in only(reviewed(terms=half), "beyond reach").found
    inside = "  warm: {fact: air_temperature_c, points: [[40, 0], [55, 1]], why: w}\n"
    assert not of_kind(reviewed(terms=inside), "beyond reach")


def test_facts_that_nobody_uses_are_found(reviewed: Review) -> None:
    findings = reviewed(rule("r", "soft", change=DEEPER), facts_used=["dust"])

    unused = {finding.where for finding in of_kind(findings, "unused fact")}

    assert unused == {f"fact {name}" for name in FACTS if name not in {"cone_index_kpa", "dust"}}


def test_a_fact_in_use_that_nobody_can_enter_is_found(reviewed: Review) -> None:
    soft = rule("r", "[soft, hot]", change=DEEPER)
    entries = {"walk.cone_index_kpa"}

    finding = only(reviewed(soft, entries=entries), "cannot be entered")

    assert finding.severity == "serious"
    assert "air_temperature_c stands on walk.air_temperature_c" in finding.found
    assert not of_kind(
        reviewed(soft, entries={*entries, "walk.air_temperature_c"}), "cannot be entered"
    )


@pytest.mark.parametrize(
    ("source", "confidence", "severity"),
    [
        ("a mate of mine", "usual", "worth a look"),
        ("a mate of mine", "firm", "serious"),
        ("TODO", "loose", "worth a look"),
        ("'?'", "loose", "worth a look"),
    ],
)
def test_a_source_must_be_a_work_or_common_practice(
    reviewed: Review, source: str, confidence: str, severity: str
) -> None:
    text = rule("r", "soft", change=DEEPER, source=source, confidence=confidence)
    assert only(reviewed(text), "no source").severity == severity


@pytest.mark.parametrize(
    "source",
    [
        "common practice, no source",
        "Cossalter, Motorcycle Dynamics (wobble); amount common practice",
        "Wismer & Luth 1974 (motion resistance of wheels in soil)",
        "ISO 5011 (dust removal of intake filters)",
        "IAPWS R7-97",
        "FMVSS No. 116",
    ],
)
def test_works_standards_and_common_practice_are_sources(source: str) -> None:
    assert evidence(source) == ("practice" if source.startswith("common") else "published")


def test_a_firm_rule_from_memory_is_out_of_line(reviewed: Review) -> None:
    source = "ISO 7933 (heat strain); the amount from memory"
    firm = rule("r", "soft", change=DEEPER, source=source, confidence="firm")
    assert only(reviewed(firm), "confidence").severity == "worth a look"
    usual = rule("r", "soft", change=DEEPER, source=source)
    assert not of_kind(reviewed(usual), "confidence")


@pytest.mark.parametrize("why", ["because", "TODO", "'...'", "A title of r"])
def test_a_reason_must_say_something(reviewed: Review, why: str) -> None:
    assert only(reviewed(rule("r", "soft", change=DEEPER, why=why)), "no reason")


def test_what_can_hurt_needs_a_caution_somewhere(reviewed: Review) -> None:
    bare = rule("r", "soft", change=DEEPER)
    finding = only(reviewed(bare, cautioned=[]), "no caution")
    assert "start_lock_depth has no caution in the machine file" in finding.found
    careful = rule("r", "soft", change=DEEPER, caution="It may stay shut.")
    assert not of_kind(reviewed(careful, cautioned=[]), "no caution")
    assert not of_kind(reviewed(bare), "no caution")

    task = rule("r", "soft", prepare="[Change the brake fluid]", confidence="")
    assert "'brake fluid'" in only(reviewed(task), "no caution").found
    tried = reviewed(remarks=remark(f"check: [Change the brake fluid], {GAIN}"))
    assert "'brake fluid'" in only(tried, "no caution").found
    harmless = rule("r", "soft", prepare="[Walk the track again]", confidence="")
    assert not of_kind(reviewed(harmless), "no caution")


def test_a_task_cut_in_two_by_its_comma_is_found(reviewed: Review) -> None:
    cut = rule("r", "soft", prepare="[Clean, check and grease the links]", confidence="")
    assert "'check and grease the links'" in only(reviewed(cut), "cut in two").found
    whole = rule("r", "soft", prepare='["Clean, check and grease the links"]', confidence="")
    assert not of_kind(reviewed(whole), "cut in two")
    two = rule("r", "soft", prepare="[Clean the links, Check the bearings]", confidence="")
    assert not of_kind(reviewed(two), "cut in two")

    tried = remark(f"prepare: [Clean, check and grease the links], {GAIN}")
    assert only(reviewed(remarks=tried), "cut in two").where.endswith("try.1.prepare")
    tried = remark(f"check: [Clean, check and grease the links], {GAIN}")
    assert only(reviewed(remarks=tried), "cut in two").where.endswith("try.1.check")


def test_a_title_that_says_the_other_direction_is_found(reviewed: Review) -> None:
    wrong = rule("r", "soft", change=DEEPER, title="Soft ground, shallower lock")
    assert "says shallower, the change deeper" in only(reviewed(wrong), "title").found
    right = rule("r", "soft", change=DEEPER, title="Soft ground, deeper lock")
    assert not of_kind(reviewed(right), "title")


def test_two_rules_of_one_title_are_found(reviewed: Review) -> None:
    one = rule("one", "soft", change=DEEPER, title="Soft ground")
    other = rule("other", "hot", change=DEEPER, title="soft ground")
    assert "rules.other.title" in only(reviewed(one, other), "same title").where


def test_candidates_that_are_never_offered_or_ranked_are_found(reviewed: Review) -> None:
    change = "change: {fork_height: 1 lower}"
    findings = reviewed(
        remarks=remark(
            f"{change}, {GAIN}, when: [soft, hard]",
            f"change: {{fork_height: 2 lower}}, {GAIN}, better: [metal, dirt]",
            f"change: {{fork_height: 3 lower}}, {GAIN}, worse: {{any: [soft, not soft]}}",
            f"{change}, {GAIN}, when: [soft]",
        )
    )

    assert only(findings, "never offered").severity == "serious"
    assert only(findings, "never offered").where.endswith("remarks.pushes.try.1.when")
    assert only(findings, "never ranked").where.endswith("try.2.better")
    assert only(findings, "always ranked").where.endswith("try.3.worse")
    assert only(findings, "tried twice").where.endswith("try.4")


def test_a_sound_rule_base_has_no_finding(reviewed: Review) -> None:
    findings = reviewed(
        rule("one", "soft", change=DEEPER),
        rule("other", "[hot, not metal]", change=SHALLOWER, balances="[one]"),
        remarks=remark(
            f"change: {{fork_height: 1 lower}}, {GAIN}, better: {{any: [dusty, sticky]}}",
            f"change: {{fork_height: 2 lower}}, {GAIN}, worse: [firm, metal]",
            f"change: {{fork_height: 3 lower}}, {GAIN}, when: [hard, dirt]",
        ),
        house={"start_lock_depth": 110.0},
    )
    assert findings == []


def test_serious_findings_come_first(reviewed: Review) -> None:
    findings = reviewed(
        rule("one", "soft", change=DEEPER, why="because"),
        rule("two", "[soft, hard]", change=DEEPER),
    )
    severities = [finding.severity for finding in findings]
    assert severities == sorted(severities)
    assert set(severities) == {"serious", "worth a look"}


def test_a_condition_too_tangled_to_judge_is_said(
    reviewed: Review, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("setupadvisor.rulebook.ground.MOST_BOXES", 3)
    text = rule("r", "[{any: [soft, hot]}, {any: [metal, dusty]}]", change=DEEPER)
    assert only(reviewed(text), "too tangled").where.endswith("rules.r.when")


def test_more_rules_than_can_be_compared_are_said(
    reviewed: Review, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(review_module, "MOST_COMPARED", 1)
    findings = reviewed(rule("a", "soft", change=DEEPER), rule("b", "hot", change=SHALLOWER))
    assert only(findings, "too many rules")
    assert not of_kind(findings, "opposite")
