"""`next` as a crew runs it between two outings, with a team's own remarks."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import pytest

from setupadvisor.advice.workshop import house_machine, open_workshop
from tests.cli.commands import DATA, Done, refused, run, run_process, write

WALK = DATA / "walks" / "deep-sand.yaml"
# Words that no bundled remark knows, so that a bundled remark cannot come between.
OWN = """
subject: our own remarks
remarks:
  ours-hoppelt:
    title: It hoppelts in the whoops
    where: whoops
    what: swaps
    end: rear
    words: [hoppelt, goes zickzack]
    try:
      - change: {shock_rebound_low: 2 stiffer}
        gain: firm
        why: Our own reason.
        caution: Count again.
      - change: {shock_compression_low: 2 stiffer}
        gain: usual
        why: Our second reason.
      - change: {shock_spring: 2 stiffer}
        gain: usual
        why: Our third reason.
    look_for: It runs straight.
    source: common practice, no source
  ours-hoppelt-at-the-front:
    title: It hoppelts at the front
    where: whoops
    what: kicks
    end: front
    words: [hoppelt]
    try:
      - change: {fork_rebound_low: 2 stiffer}
        gain: usual
        why: Our fourth reason.
    look_for: It runs straight.
    source: common practice, no source
  ours-klebt:
    title: It klebts in the ruts
    where: rut
    what: packs
    end: rear
    words: [klebt]
    try:
      - change: {shock_rebound_low: 2 softer}
        gain: usual
        why: The other way round.
    look_for: It comes back.
    source: common practice, no source
  ours-flattert:
    title: It flatterts on the straight
    where: straight
    what: headshake
    end: front
    words: [flattert]
    try:
      - check: [Look at the head bearings]
        gain: firm
        why: Play feeds it.
        caution: No ride with loose bearings.
      - prepare: [Glue the grips]
        gain: loose
        why: Hands that slip shake the bars.
        caution: Let the glue dry.
    look_for: It is quiet.
    source: common practice, no source
"""
REAR = "the rear hoppelts in the whoops"
SHEET = "machine: works-450\ndate: 2026-05-17\nsettings:\n  shock_rebound_low: %s\n"


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A folder with the team's remarks."""
    made = tmp_path_factory.mktemp("pit")
    write(made, "own/remarks.yaml", OWN)
    return made


def ask(folder: Path, *words: str, process: bool = False) -> Done:
    start = run_process if process else run
    return start("next", WALK, "--rules", "own", *words, folder=folder)


def as_json(folder: Path, *words: str) -> dict[str, Any]:
    done = ask(folder, *words, "--json")
    assert (done.code, done.err) == (0, "")
    found: dict[str, Any] = json.loads(done.out, parse_constant=pytest.fail)
    return found


def moved(found: dict[str, Any]) -> list[str]:
    return [move["setting"] for one in found["proposals"] for move in one["moves"]]


def test_one_change_is_proposed_and_two_wait_behind_it(folder: Path) -> None:
    done = ask(folder, "--said", REAR, process=True)
    assert (done.code, done.err) == (0, "")
    assert max(map(len, done.out.splitlines())) <= 100
    text = " ".join(done.out.split())
    assert "'the rear hoppelts in the whoops': It hoppelts in the whoops (ours-hoppelt; " in text
    assert "one at a time; the others wait behind it" in text
    for number, reason in enumerate(("Our own", "Our second", "Our third"), start=1):
        assert f" {number} Shock" in text
        assert f"{reason} reason." in text
    for label in ("chance", "not tried before", "check", "undo", "feel It runs straight.", "CARE"):
        assert label in text
    assert "service manual and the event's rules have the last word" in text


def test_json_holds_each_proposal_whole(folder: Path) -> None:
    found = as_json(folder, "--said", REAR)
    assert set(found) == {
        "understood",
        "ambiguous",
        "all_is_well",
        "not_understood",
        "go_back",
        "proposals",
        "checks",
        "prepare",
        "notes",
    }
    assert found["understood"] == [{"remark": "ours-hoppelt", "said": REAR, "words": ["hoppelt"]}]
    first = found["proposals"][0]
    (move,) = first["moves"]
    assert (move["setting"], move["from"], move["to"]) == ("shock_rebound_low", 12.0, 10.0)
    assert move["shown"] == "12 clicks → 10 clicks (stiffer)"
    assert move["check"] and move["undo"].startswith("Back to 12 clicks: ")
    assert first["remark"] == "ours-hoppelt"
    assert 0.0 < first["chance"] < 1.0
    assert first["cautions"] == ["Count again.", *move["cautions"]]
    assert first["notes"] == []
    assert len(moved(found)) == len(set(moved(found)))


def test_what_can_hurt_is_marked_as_care(folder: Path) -> None:
    """The caution of the change as well as those of the setting; none of them as a mere note."""
    text = ask(folder, "--said", REAR).out
    assert "     CARE   Count again." in text
    assert "note   Count again." not in text
    for move in (
        move for one in as_json(folder, "--said", REAR)["proposals"] for move in one["moves"]
    ):
        for caution in move["cautions"]:
            assert f"CARE {caution}" in " ".join(text.split())


def test_checks_stand_before_the_changes_and_take_no_place_among_them(folder: Path) -> None:
    said = ("--said", f"{REAR}; the bars flattert on the straight")
    text = " ".join(ask(folder, *said).out.split())
    heads = ("CHECKS BEFORE ANY CHANGE", "NEXT CHANGE", "WORK THAT MOVES NO SETTING")
    places = [text.index(head) for head in heads]
    assert places == sorted(places)
    checks, changes, work = (
        text[start:end] for start, end in zip(places, [*places[1:], None], strict=True)
    )
    assert (
        "[ ] Look at the head bearings for It flatterts on the straight: Play feeds it." in checks
    )
    assert "CARE No ride with loose bearings." in checks
    assert "[ ] Glue the grips" in work
    assert "CARE Let the glue dry." in work
    assert " 1 Shock" in changes and " 3 Shock" in changes
    found = as_json(folder, *said)
    assert [one["tasks"] for one in found["checks"]] == [["Look at the head bearings"]]
    assert [one["cautions"] for one in found["checks"]] == [["No ride with loose bearings."]]
    assert [one["tasks"] for one in found["prepare"]] == [["Glue the grips"]]
    assert found["proposals"] == as_json(folder, "--said", REAR)["proposals"]


def test_checks_come_before_going_back(folder: Path) -> None:
    said = ("--said", f"{REAR}; the bars flattert on the straight")
    text = ask(folder, *said, "--tried", "shock_compression_high 12 10 worse").out
    assert text.index("CHECKS BEFORE ANY CHANGE") < text.index("GO BACK FIRST")
    back = text[text.index("GO BACK FIRST") : text.index("NEXT CHANGE")]
    assert "CARE" in back


def test_only_something_to_look_at_is_an_answer_too(folder: Path) -> None:
    done = ask(folder, "--said", "the bars flattert on the straight", "--minutes", "0")
    assert (done.code, done.err) == (0, "")
    assert "Look at the head bearings" in done.out
    assert "No setting to change" in done.out


def test_the_listed_words_are_counted(folder: Path) -> None:
    found = as_json(folder, "--said", "the rear hoppelts or goes zickzack in the whoops")
    (one,) = found["understood"]
    assert one["words"] == ["hoppelt", "goes zickzack"]
    done = ask(folder, "--said", "the rear hoppelts or goes zickzack in the whoops")
    assert "2 listed words: hoppelt, goes zickzack" in " ".join(done.out.split())


def test_what_was_not_understood_and_what_is_fine_are_told(folder: Path) -> None:
    done = ask(folder, "--said", f"{REAR}, my aunt has a garden, it no longer klebts in the ruts")
    text = " ".join(done.out.split())
    assert "'my aunt has a garden' was not understood and does not count" in text
    assert "'it no longer klebts in the ruts': all is well there" in text
    assert "ours-klebt" not in text


def test_what_could_be_two_remarks_is_asked_about_and_not_guessed(folder: Path) -> None:
    (said,) = refused(
        "next", WALK, "--rules", "own", "--said", "it hoppelts in the whoops", folder=folder
    )
    assert said.startswith("--said 'it hoppelts in the whoops': it could be ")
    assert "ours-hoppelt, ours-hoppelt-at-the-front" in said
    done = ask(folder, "--said", "it hoppelts in the whoops, in the ruts it klebts")
    assert done.code == 0
    assert "could be ours-hoppelt, ours-hoppelt-at-the-front: say where" in " ".join(
        done.out.split()
    )


def test_an_id_is_understood_and_not_told_twice(folder: Path) -> None:
    done = ask(folder, "--said", "ours-hoppelt")
    assert done.out.count("ours-hoppelt") == 1
    assert "It hoppelts in the whoops (by its id)" in done.out


def test_several_remarks_are_given_one_by_one(folder: Path) -> None:
    found = as_json(folder, "--said", "ours-hoppelt", "--said", "in the ruts it klebts")
    assert [one["remark"] for one in found["understood"]] == ["ours-hoppelt", "ours-klebt"]
    assert any("opposite changes" in note for note in found["notes"])
    assert moved(found).count("shock_rebound_low") <= 1


def test_what_is_on_the_motorcycle_is_where_it_starts_from(folder: Path, tmp_path: Path) -> None:
    sheet = write(tmp_path, "sheet.yaml", SHEET % "7 clicks")
    found = as_json(folder, "--said", REAR, "--on-bike", str(sheet))
    (move,) = (
        move
        for one in found["proposals"]
        for move in one["moves"]
        if move["setting"] == "shock_rebound_low"
    )
    assert (move["from"], move["to"]) == (7.0, 5.0)


def test_no_change_goes_past_the_end_of_an_adjuster(folder: Path, tmp_path: Path) -> None:
    sheet = write(tmp_path, "sheet.yaml", SHEET % "2 clicks")
    found = as_json(folder, "--said", REAR, "--on-bike", str(sheet))
    assert "shock_rebound_low" not in moved(found)
    assert any("is at its end (stiffer)" in note for note in found["notes"])


def test_minutes_are_kept_to(folder: Path) -> None:
    found = as_json(folder, "--said", REAR, "--minutes", "10")
    assert found["proposals"]
    assert all(one["minutes"] <= 10.0 for one in found["proposals"])
    assert any("min of 10 left" in note for note in found["notes"])
    done = ask(folder, "--said", REAR, "--minutes", "0")
    assert "No setting to change that fits" in done.out


def test_what_made_it_worse_is_taken_back_first(folder: Path) -> None:
    done = ask(folder, "--said", REAR, "--tried", "shock_rebound_low 12 10 worse")
    text = " ".join(done.out.split())
    assert text.index("GO BACK FIRST") < text.index("NEXT CHANGE")
    assert "10 clicks → 12 clicks (softer), 1 min. Back to 12 clicks: " in text
    assert "The last change made it worse: take it back first" in text
    assert "stiffer: tried today, did not help" in text


def test_after_two_that_did_not_help_it_goes_back_to_the_last_good_setup(folder: Path) -> None:
    found = as_json(
        folder, "--said", REAR,
        "--tried", "shock_rebound_low 12 10 same",
        "--tried", "shock_compression_low 12 10 same",
    )  # fmt: skip
    assert {move["setting"]: move["to"] for move in found["go_back"]} == {
        "shock_rebound_low": 12.0,
        "shock_compression_low": 12.0,
    }
    assert any("2 changes in a row did not help" in note for note in found["notes"])
    assert not {"shock_rebound_low", "shock_compression_low"} & set(moved(found))


def test_units_and_names_of_the_sheet_are_understood_in_what_was_tried(folder: Path) -> None:
    done = ask(folder, "--said", REAR, "--tried", "shock_spring 48 50 better")
    assert done.code == 0


@pytest.mark.parametrize(
    ("text", "found"),
    [
        ("kick " * 20_000, "100000 characters are no remark; say it in a few sentences"),
        ("", "no complaint was understood"),
        ("🏍️🔥💥", "no complaint was understood"),
        ("'; DELETE FROM remarks; --", "no complaint was understood"),
        ("$(rm -rf /) `reboot` %s %n {0.__class__}", "no complaint was understood"),
        ("\x1b[31mred\x1b[0m", "no complaint was understood"),
        ("la la, " * 700, "no complaint was understood"),
    ],
    ids=["long", "nothing", "pictures", "database", "shell", "escapes", "song"],
)
def test_hostile_words_are_refused_in_one_short_line(text: str, found: str, folder: Path) -> None:
    (said,) = refused("next", WALK, "--said", text, folder=folder, process=True)
    assert found in said
    assert len(said) < 300
    assert "\x1b" not in said


def test_many_words_that_say_nothing_fill_no_page(folder: Path) -> None:
    done = ask(folder, "--said", f"{REAR}. " + "my aunt has a garden, " * 200)
    assert done.code == 0
    assert done.out.count("my aunt") < 10
    assert "more that do not count" in done.out


def test_without_a_remark_the_way_to_say_one_is_told(folder: Path) -> None:
    done = run("next", WALK, folder=folder)
    assert done.code == 1
    assert "--said" in done.err


def test_every_bundled_remark_leads_to_something_to_do_or_says_why_not(tmp_path: Path) -> None:
    remarks = open_workshop(house_machine()).rulebase.remarks
    assert remarks
    for remark in remarks[::9]:
        done = run("next", WALK, "--said", remark.id, "--json", folder=tmp_path)
        assert (done.code, done.err) == (0, "")
        found = json.loads(done.out)
        assert found["proposals"] or found["checks"] or found["notes"], remark.id
        for proposal in found["proposals"]:
            assert proposal["moves"], remark.id
