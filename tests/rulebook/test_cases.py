from __future__ import annotations

from pathlib import Path

import pytest

from setupadvisor.entries.files import bundled, load_entry
from setupadvisor.entries.machine import Machine
from setupadvisor.errors import InputError, Mistake
from setupadvisor.facts.columns import columns_from_entries
from setupadvisor.rulebook.cases import Case, load_cases
from setupadvisor.rulebook.cases_drafts import MOST_SENTENCES
from setupadvisor.rulebook.cases_sentences import RuleSentence, SettingSentence, TaskSentence
from setupadvisor.rulebook.reading import MOST_MISTAKES
from tests.rulebook.small_world import RULES, TERMS, load, write

MACHINES = {
    name: load_entry(bundled("datasets", "machines", f"{name}.yaml"), Machine)
    for name in ("works-450", "works-250")
}
RULE_IDS = ["soft-front-up", "mud-cover"]

BASE = """
cases:
  base:
    title: a base
    walk:
      kind: outdoor
      air: {temperature: 64.4 °F, wind: light}
      ground: {moisture: moist, cone_index: 900 kPa}
      jumps: [{gap: 9 m}, {gap: 12 m}]
    rider: {mass: 78 kg}
    expect: [fork_height lower than house]
    source: common practice, no source
"""


def read(*folders: Path) -> dict[str, Case]:
    return load_cases(folders, MACHINES, ["works-450"] * len(folders), RULE_IDS)


def mistakes_of(*folders: Path) -> list[Mistake]:
    with pytest.raises(InputError) as caught:
        read(*folders)
    return list(caught.value.mistakes)


def only_mistake(folder: Path) -> Mistake:
    (mistake,) = mistakes_of(folder)
    return mistake


def case(name: str = "one", **changed: str | None) -> str:
    """A good case with some keys changed, or taken out where None."""
    keys: dict[str, str | None] = {
        "title": "a title",
        "walk": "{kind: outdoor}",
        "expect": "[fork_height lower than house]",
        "source": "common practice, no source",
    }
    keys |= changed
    lines = [f"    {key.rstrip('_')}: {value}" for key, value in keys.items() if value is not None]
    return "\n".join([f"  {name}:", *lines, ""])


def cases(*written: str) -> str:
    return "cases:\n" + "".join(written)


def test_a_case_is_read_with_units_and_words(tmp_path: Path) -> None:
    found = read(write(tmp_path, cases=BASE))["base"]

    assert (found.id, found.title, found.machine) == ("base", "a base", "works-450")
    assert found.walk.kind == "outdoor"
    assert found.walk.air is not None
    assert found.walk.air.temperature_c == pytest.approx(18.0)
    assert found.rider is not None
    assert found.rider.mass_kg == 78.0
    assert found.origin.line == 3
    assert found.wheres[0].endswith("cases.yaml:11 cases.base.expect.1")


def test_a_case_takes_the_rest_from_the_one_it_stands_on(tmp_path: Path) -> None:
    text = BASE + case("next", with_="base", walk="{ground: {cone_index: 300 kPa}}")

    found = read(write(tmp_path, cases=text))["next"]

    assert found.walk.ground is not None
    assert found.walk.ground.cone_index_kpa == 300.0
    assert found.walk.ground.moisture == "moist"
    assert found.rider is not None
    assert found.rider.mass_kg == 78.0


def test_an_empty_key_takes_out_what_the_base_says_and_a_list_is_replaced_whole(
    tmp_path: Path,
) -> None:
    walk = "{air: , ground: {moisture: }, jumps: [{gap: 4 m}]}"

    found = read(write(tmp_path, cases=BASE + case("next", with_="base", walk=walk)))["next"]

    columns = columns_from_entries(found.walk, None)
    assert "walk.air.temperature_c" not in columns
    assert "walk.ground.moisture" not in columns
    assert columns["walk.ground.cone_index_kpa"].tolist() == [900.0]
    assert columns["walk.jumps.gap_m"].tolist() == [[4.0]]


def test_cases_stand_on_each_other_over_files_and_in_any_order(tmp_path: Path) -> None:
    third = cases(case("third", with_="second", walk=None))
    second = cases(case("second", with_="base", walk="{kind: sand}", machine="works-250"))

    found = read(write(tmp_path, a=third, b=second, c=BASE))

    assert found["third"].walk.kind == "sand"
    assert found["third"].machine == "works-250"
    assert found["base"].machine == "works-450"


def test_a_later_folder_replaces_a_case_and_stands_on_earlier_ones(tmp_path: Path) -> None:
    ours = write(tmp_path / "ours", cases=BASE)
    text = cases(case("base", walk="{kind: sand}"), case("own", with_="base", walk=None))

    found = read(ours, write(tmp_path / "theirs", cases=text))

    assert found["base"].walk.kind == "sand"
    assert found["own"].walk.kind == "sand"
    assert found["own"].origin.folder == str(tmp_path / "theirs")


def test_only_the_last_folder_s_rules_are_looked_up(tmp_path: Path) -> None:
    """The team may have switched off a rule that a bundled case speaks of."""
    text = cases(case(expect="[rule switched-off speaks]"))
    ours = write(tmp_path / "ours", cases=text)

    found = read(ours, write(tmp_path / "theirs", cases=BASE))

    assert found["one"].expect[0].text == "rule switched-off speaks"
    assert "there is no rule 'switched-off'" in only_mistake(ours).found


@pytest.mark.parametrize(
    ("written", "expected"),
    [
        ("fork_height lower than house", ("beyond", 1, 0.0, "")),
        ("fork_height higher than house", ("beyond", -1, 0.0, "")),
        ("axle_position further back than on case base", ("beyond", 1, 0.0, "base")),
        ("axle_position further back than case base", ("beyond", 1, 0.0, "base")),
        ("cooling_fan not less than house", ("not beyond", -1, 0.0, "")),
        ("shock_spring at least 2 N/mm stiffer than house", ("by at least", 1, 2.0, "")),
        ("shock_spring at least 2,5 stiffer than house", ("by at least", 1, 2.5, "")),
        ("fork_rebound_low at most 1 click stiffer than house", ("by at most", -1, 1.0, "")),
        ("engine_map at least 0.5 steps milder than house", ("by at least", -1, 0.5, "")),
        ("fork_height unchanged from house", ("unchanged", 0, 0.0, "")),
        ("fork_height unchanged from case base", ("unchanged", 0, 0.0, "base")),
        ("rear_sprocket within 2 teeth of house", ("within", 0, 2.0, "")),
        ("rear_tyre at 'sand and mud'", ("at", 0, 1.0, "")),
        ("rear_tyre at hard", ("at", 0, 4.0, "")),
        ("cooling_fan at least on thermostat", ("least", 0, 2.0, "")),
        ("fork_air at most 5 kPa", ("most", 0, 5.0, "")),
        ("lever_angle at least 5° lower than house", ("by at least", 1, 5.0, "")),
    ],
)
def test_a_sentence_about_a_setting_is_read(
    tmp_path: Path, written: str, expected: tuple[str, int, float, str]
) -> None:
    text = BASE + case(expect=f'["{written}"]')

    (found,) = read(write(tmp_path, cases=text))["one"].expect

    assert isinstance(found, SettingSentence)
    assert (found.relation, found.sign, found.amount, found.other) == expected
    assert not found.on_sheet


def test_sheet_is_said_when_the_fitted_number_is_meant(tmp_path: Path) -> None:
    text = cases(case(expect="[sheet axle_position not further forward than house]"))

    (found,) = read(write(tmp_path, cases=text))["one"].expect

    assert isinstance(found, SettingSentence)
    assert found.on_sheet
    assert found.setting == "axle_position"


def test_sentences_about_rules_and_tasks_are_read(tmp_path: Path) -> None:
    text = cases(
        case(
            expect="""
      - rule mud-cover speaks
      - rule mud-cover speaks fully
      - rule soft-front-up   silent
      - rule mud-cover not judged: needs ground.moisture, ground.texture
      - "not judged: needs rider mass"
      - not judged: needs jumps
      - prepare mentions Oiled  filter
      - watch does not mention coolant"""
        )
    )

    found = read(write(tmp_path, cases=text))["one"].expect

    assert found == (
        RuleSentence("rule mud-cover speaks", "mud-cover", "speaks"),
        RuleSentence("rule mud-cover speaks fully", "mud-cover", "speaks fully"),
        RuleSentence("rule soft-front-up silent", "soft-front-up", "silent"),
        RuleSentence(
            "rule mud-cover not judged: needs ground.moisture, ground.texture",
            "mud-cover",
            "not judged",
            ("ground.moisture", "ground.texture"),
        ),
        RuleSentence("not judged: needs rider mass", "", "not judged", ("rider mass",)),
        RuleSentence("not judged: needs jumps", "", "not judged", ("jumps",)),
        TaskSentence("prepare mentions Oiled filter", "prepare", "oiled filter", True),
        TaskSentence("watch does not mention coolant", "watch", "coolant", False),
    )


@pytest.mark.parametrize(
    ("written", "found", "mend"),
    [
        ("fork_hight lower than house", "'fork_hight' is no setting", "did you mean fork_height?"),
        ("fork_height deeper than house", "'deeper' is no direction", "'lower' or 'higher'"),
        ("fork_height 2 mm lower than house", "leaves open", "at least 2 lower"),
        ("fork_height at least much lower than house", "is no amount", "at least 2 lower"),
        ("fork_height at least 0 mm lower than house", "is no amount", "up to 12"),
        ("fork_height at least 40 mm lower than house", "is no amount", "up to 12"),
        ("fork_height at least 2 kPa lower than house", "'kPa lower' is no direction", "'lower'"),
        ("fork_height lower than usual", "'usual' is nothing to hold", "on case SOME-ID"),
        ("fork_height lower than on case nowhere", "there is no case 'nowhere'", "id of a case"),
        ("fork_height lower than on case ones", "there is no case 'ones'", "did you mean one?"),
        ("fork_height lower", "'lower' says nothing", "fork_height lower than house"),
        ("fork_height", "nothing is said", "fork_height lower than house"),
        ("fork_height within 2 N/mm of house", "'N/mm' is no unit", "write mm"),
        ("rear_tyre at slick", "'slick'", "sand and mud"),
        ("fork_height at 40 mm", "40 mm", "0 to 12"),
        ("rule mud-covers speaks", "there is no rule 'mud-covers'", "did you mean mud-cover?"),
        ("rule mud-cover shouts", "'shouts' says nothing of a rule", "rule mud-cover speaks"),
        ("rule mud-cover not judged", "says nothing of a rule", "not judged: needs"),
        ("prepare filter", "does not say what is mentioned", "prepare mentions"),
        ("watch mentions", "does not say what is mentioned", "watch mentions"),
        ("the fork is too soft", "'the' is no setting", "write a sentence such as"),
    ],
)
def test_a_sentence_that_cannot_be_read_is_a_mistake_with_its_place(
    tmp_path: Path, written: str, found: str, mend: str
) -> None:
    mistake = only_mistake(write(tmp_path, cases=cases(case(expect=f'\n      - "{written}"'))))

    assert mistake.where.endswith("cases.yaml:6 cases.one.expect.1")
    assert found in mistake.found
    assert mend in mistake.mend


def test_an_unknown_entry_in_not_judged_is_refused(tmp_path: Path) -> None:
    text = cases(case(expect="\n      - not judged: needs ground.moistre"))

    mistake = only_mistake(write(tmp_path, cases=text))

    assert mistake.found == "there is no entry 'ground.moistre'"
    assert mistake.mend == "did you mean ground.moisture?"


@pytest.mark.parametrize(
    ("changed", "where", "found", "mend"),
    [
        ({"title": None}, "cases.one.title", "the key is missing", "the case in a sentence"),
        ({"source": None}, "cases.one.source", "the key is missing", "common practice"),
        ({"expect": None}, "cases.one.expect", "the key is missing", "each of which must hold"),
        ({"expect": "[]"}, "cases.one.expect", "a list", "one sentence a line"),
        ({"expect": "a word"}, "cases.one.expect", "'a word'", "one sentence a line"),
        ({"expect": "[3]"}, "cases.one.expect.1", "3 is no sentence", "fork_height lower"),
        ({"expect": "[[a]]"}, "cases.one.expect.1", "a list is no sentence", "fork_height lower"),
        ({"expects": "[x]"}, "cases.one.expects", "the key is unknown", "did you mean expect?"),
        ({"walk": None}, "cases.one", "the case has no walk", "a case to stand on"),
        ({"walk": "soft"}, "cases.one.walk", "'soft' does not fit", "keys below it"),
        ({"walk": "{}"}, "cases.one.walk", "nothing stands below", "keys below it"),
        ({"walk": "{kind: moon}"}, "cases.one.walk.kind", "'moon' is not known", "stadium"),
        ({"walk": "{groud: {}}"}, "cases.one.walk.groud", "unknown", "did you mean ground?"),
        (
            {"walk": "{ground: {cone_index: 3 apples}}"},
            "cases.one.walk.ground.cone_index",
            "apples",
            "kPa",
        ),
        (
            {"walk": "{kind: sand, event: night}"},
            "cases.one.walk.event",
            "belongs to no event",
            "take it out",
        ),
        (
            {"walk": "{kind: sand, date: 2026-01-01}"},
            "cases.one.walk.date",
            "belongs to no event",
            "take it out",
        ),
        ({"rider": "{mass: 900}"}, "cases.one.rider.mass", "900 kg", "20 to 180"),
        ({"machine": "works-999"}, "cases.one.machine", "no machine 'works-999'", "works-"),
        ({"with_": "bse"}, "cases.one.with", "there is no case 'bse'", "id of a case"),
        (
            {"walk": "{ground: {sand: 60, clay: 70}}"},
            "cases.one.walk.ground.clay",
            "add up to 130",
            "together",
        ),
    ],
)
def test_a_mistake_in_a_case_names_file_line_key_and_mend(
    tmp_path: Path, changed: dict[str, str | None], where: str, found: str, mend: str
) -> None:
    folder = write(tmp_path, cases=cases(case(**changed)))

    first, *others = mistakes_of(folder)

    file, _, key = first.where.partition(" ")
    assert file.startswith(f"{folder}/cases.yaml:")
    assert key == where
    assert found in first.found
    assert mend in first.mend
    assert not others


def test_a_setting_that_only_the_other_machine_has_is_refused(tmp_path: Path) -> None:
    alone = case("alone", machine="works-250", expect="[cooling_fan more than house]")
    held = case("held", expect="[cooling_fan more than on case small]")
    small = case("small", machine="works-250")

    first, second = mistakes_of(write(tmp_path, cases=cases(alone, held, small)))

    assert "'cooling_fan' is no setting of this machine" in first.found
    assert "the machine of case small has no cooling_fan" in second.found


def test_what_a_case_and_its_base_say_together_must_be_possible(tmp_path: Path) -> None:
    base = case("base", walk="{whoops: {count: 9, spacing: 3 m, height: 500 mm}}")
    none = case("none", with_="base", walk="{whoops: {count: 0, height: }}")

    mistake = only_mistake(write(tmp_path, cases=cases(base, none)))

    assert mistake.where.endswith(":9 cases.none.walk.whoops.spacing")
    assert mistake.found == "no whoops, but 3 m from top to top (together with case base)"
    assert "a key with nothing behind it takes out what base says" in mistake.mend


def test_cases_that_stand_on_each_other_in_a_circle_are_told_once(tmp_path: Path) -> None:
    text = cases(
        case("a", with_="b", walk=None),
        case("b", with_="c", walk=None),
        case("c", with_="a"),
        case("d", with_="a"),
    )

    mistake = only_mistake(write(tmp_path, cases=text))

    assert mistake.found == "the case stands on itself: a -> b -> c -> a"
    assert mistake.mend == "break the circle"


def test_two_cases_of_one_name_in_a_folder_are_refused(tmp_path: Path) -> None:
    mistake = only_mistake(write(tmp_path, a=cases(case()), b=cases(case())))

    assert mistake.where.endswith("b.yaml:2 cases.one")
    assert "a.yaml:2" in mistake.found


def test_all_mistakes_of_all_files_come_at_once_in_the_order_of_the_lines(tmp_path: Path) -> None:
    first = cases(
        case("a", walk="{kind: moon}", expect="[fork_height sideways than house]"),
        case("B!", title="''", rider="{mass: heavy}"),
        case("c", with_="nowhere", source=None, expect="[rule nothing speaks]"),
    )
    broken = "cases:\n  d: [\n"

    found = mistakes_of(write(tmp_path, a=first, b=broken, c=cases(case("e", walk=None))))

    told = [mistake.where.rpartition("/")[2] for mistake in found]
    assert told[0].startswith("b.yaml")
    assert told[1:] == [
        "a.yaml:4 cases.a.walk.kind",
        "a.yaml:5 cases.a.expect.1",
        "a.yaml:7 cases.B!",
        "a.yaml:8 cases.B!.title",
        "a.yaml:12 cases.B!.rider.mass",
        "a.yaml:13 cases.c.source",
        "a.yaml:16 cases.c.expect.1",
        "a.yaml:17 cases.c.with",
        "c.yaml:2 cases.e",
    ]


def test_a_case_of_too_many_sentences_is_refused(tmp_path: Path) -> None:
    many = "[" + ", ".join(["fork_height lower than house"] * (MOST_SENTENCES + 1)) + "]"

    mistake = only_mistake(write(tmp_path, cases=cases(case(expect=many))))

    assert "41 sentences" in mistake.found


def test_thousands_of_wrong_cases_are_told_up_to_a_bound(tmp_path: Path) -> None:
    wrong = "[" + ", ".join(["fork_height lower than on case nowher"] * 20) + "]"
    many = [case(f"c{n}", with_=f"d{n}", expect=wrong) for n in range(1500)]

    found = mistakes_of(write(tmp_path, cases=cases(*many)))

    assert len(found) == MOST_MISTAKES
    assert found[0].mend == "name the id of a case"


def test_a_long_chain_of_cases_is_followed_to_its_end(tmp_path: Path) -> None:
    chain = [case(f"c{n}", with_=f"c{n + 1}", walk=None) for n in range(2000)]

    found = read(write(tmp_path, cases=cases(*chain, case("c2000"))))

    assert found["c0"].walk.kind == "outdoor"


def test_advice_reads_no_file_of_cases_alone(tmp_path: Path) -> None:
    """A mistake in a case is for those who run cases; advice goes on without them."""
    folder = write(tmp_path, terms=TERMS, start=RULES, cases=cases(case(walk="{kind: moon}")))

    rulebase = load(folder)

    assert [rule.id for rule in rulebase.rules] == ["soft-after-gate"]
    assert "'moon'" in only_mistake(folder).found


def test_cases_beside_rules_in_one_file_are_read(tmp_path: Path) -> None:
    folder = write(tmp_path, terms=TERMS, start=RULES + BASE.lstrip())

    assert [rule.id for rule in load(folder).rules] == ["soft-after-gate"]
    assert list(read(folder)) == ["base"]
