"""`check`: everything a team may have lying about, and every mistake in it."""

from __future__ import annotations

import shutil
from pathlib import Path

import pytest

from setupadvisor.advice import rule_tests
from setupadvisor.entries.files import bundled
from tests.cli.commands import DATA, run, write

RULE = """
subject: start
rules:
  ours:
    title: Ours
    when: [{term}]
    change: {{idle_speed: 100 higher}}
    confidence: loose
    why: it stalled
    look_for: no stalling
    source: common practice, no source
"""


@pytest.mark.parametrize("folder", ["walks", "riders", "machines", "setups"])
def test_the_bundled_entries_are_sound(folder: str, tmp_path: Path) -> None:
    done = run("check", DATA / folder, folder=tmp_path)
    assert done.err == ""
    assert done.code == 0
    assert len(done.out.splitlines()) == len(list((DATA / folder).glob("*.yaml")))


def test_the_bundled_data_as_a_whole_is_sound(tmp_path: Path) -> None:
    done = run("check", DATA, folder=tmp_path)
    assert done.err == ""
    assert done.code == 0
    assert "sound sessions" in done.out


def test_without_arguments_the_bundled_rules_are_checked(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """On few random walks: those of `tests/advice/test_statements.py` are as many as usual."""
    monkeypatch.setattr(rule_tests, "WALKS", 40)
    done = run("check", folder=tmp_path)
    assert done.err == ""
    assert done.code == 0
    assert "rules" in done.out
    assert "terms" in done.out
    assert "sanity statements on 40 random walks each, all hold" in done.out


@pytest.mark.parametrize(
    ("name", "said"),
    [
        ("walks/deep-sand.yaml", "a walk of Dune Hollow round"),
        ("riders/north.yaml", "rider north"),
        ("machines/works-450.yaml", "machine works-450 with 43 settings"),
        ("setups/on-bike-partial.yaml", "a setup of 10 settings of works-450"),
    ],
)
def test_an_entry_is_recognised_by_what_is_in_it(name: str, said: str, tmp_path: Path) -> None:
    shutil.copy(DATA / name, tmp_path / "untitled.yml")
    done = run("check", "untitled.yml", folder=tmp_path)
    assert done.code == 0
    assert said in done.out


def test_every_mistake_is_listed_counted_and_on_the_error_stream(tmp_path: Path) -> None:
    write(tmp_path, "a/walk.yaml", "event: x\ndate: yesterday\nkind: beach\n")
    write(tmp_path, "a/rider.yaml", "name: y\nmass: 80 kg\n")
    write(tmp_path, "b.yaml", "settings: {fork_height: 99}\n")
    done = run("check", "a", "b.yaml", "c.yaml", folder=tmp_path)
    assert done.code == 1
    assert done.out == "a/rider.yaml: rider y\n"
    assert [line.split(" ")[0] for line in done.mistakes] == [
        "a/walk.yaml:2",
        "a/walk.yaml:3",
        "b.yaml:1",
        "c.yaml:",
        "4",
    ]
    assert done.mistakes[-1] == "4 mistakes"


def test_a_folder_of_rules_is_checked_with_the_bundled_ones(tmp_path: Path) -> None:
    write(tmp_path, "rules/ours.yaml", RULE.format(term="soft_ground"))
    done = run("check", "rules", folder=tmp_path)
    assert done.err == ""
    assert done.code == 0
    assert "with the bundled ones" in done.out


@pytest.mark.parametrize("ending", [".yaml", ".yml"])
def test_rules_beside_entries_are_told_apart(ending: str, tmp_path: Path) -> None:
    """A team's folder holds walks, riders and a folder of rules."""
    shutil.copytree(DATA / "walks", tmp_path / "team" / "walks")
    shutil.copytree(DATA / "riders", tmp_path / "team" / "riders")
    write(tmp_path, f"team/rules/ours{ending}", RULE.format(term="soft_ground"))
    done = run("check", "team", folder=tmp_path)
    assert done.err == ""
    assert done.code == 0
    assert "team/rules: " in done.out
    assert "team/walks/mud.yaml: a walk" in done.out
    assert "team/riders/east.yaml: rider east" in done.out


def test_rules_in_folders_of_their_own_are_one_rule_base(tmp_path: Path) -> None:
    write(tmp_path, "rules/start/ours.yaml", RULE.format(term="our_term"))
    write(
        tmp_path,
        "rules/terms/ours.yaml",
        "terms:\n  our_term:\n    fact: cone_index_kpa\n    points: [[300, 1], [700, 0]]\n"
        "    why: a heel sinks\n",
    )
    done = run("check", "rules", folder=tmp_path)
    assert done.err == ""
    assert done.code == 0


def test_one_broken_rule_file_among_others_is_named(tmp_path: Path) -> None:
    write(tmp_path, "rules/ours.yaml", RULE.format(term="soft_ground"))
    write(tmp_path, "rules/broken.yaml", "rules: [unfinished\n")
    done = run("check", "rules", folder=tmp_path)
    assert done.code == 1
    assert done.mistakes[0].startswith("rules/broken.yaml:")


def test_a_rule_file_alone_points_to_its_folder(tmp_path: Path) -> None:
    path = bundled("rules", "cooling.yaml")
    done = run("check", path, folder=tmp_path)
    assert done.code == 1
    assert "check its folder" in done.err


def test_a_folder_with_nothing_to_check_says_so(tmp_path: Path) -> None:
    write(tmp_path, "empty/readme.txt", "nothing\n")
    done = run("check", "empty", folder=tmp_path)
    assert done.code == 1
    assert "there is nothing to check in it" in done.err


@pytest.mark.parametrize("text", ["", "# only a comment\n", "- a\n- list\n", "42\n", "hello: 1\n"])
def test_what_cannot_be_recognised_says_what_could_be(text: str, tmp_path: Path) -> None:
    write(tmp_path, "thing.yaml", text)
    done = run("check", "thing.yaml", folder=tmp_path)
    assert done.code == 1
    assert "a walk has event and date" in done.err


def test_a_setup_is_checked_against_the_machine_that_is_named(tmp_path: Path) -> None:
    write(tmp_path, "sheet.yaml", "settings: {steering_damper: 9}\n")
    assert run("check", "sheet.yaml", folder=tmp_path).code == 0
    machine = DATA / "machines" / "works-250.yaml"
    done = run("check", "sheet.yaml", "--machine", machine, folder=tmp_path)
    assert done.code == 1
    assert "works-250 has no setting 'steering_damper'" in done.err


def test_nothing_is_written(tmp_path: Path) -> None:
    run("check", DATA / "walks", folder=tmp_path)
    assert list(tmp_path.iterdir()) == []
