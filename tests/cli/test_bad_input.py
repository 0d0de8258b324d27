"""Everything wrong with an input is told in one line a mistake, and nothing is written."""

from __future__ import annotations

import csv
import os
import re
import shutil
from collections.abc import Callable
from pathlib import Path

import pytest

from setupadvisor.advice.season_learning import learn
from setupadvisor.advice.workshop import open_workshop
from setupadvisor.learning.model_file import model_bytes
from tests.advice.small_season import machines, rows, season_of, trained
from tests.cli.bad_entries import HEAD, RIDERS, SETUPS, WALKS, Broken
from tests.cli.bad_rules import RULES
from tests.cli.commands import DATA, refused, run, run_process, write

GOOD_WALK = DATA / "walks" / "bare-walk.yaml"
GOOD_RULE = RULES["unknown key"].text.replace("    becuase: so\n", "")  # type: ignore[union-attr]


def check_told(said: list[str], name: str, broken: Broken) -> None:
    """One line for each mistake, in the file's order: where, what was found, and the mend."""
    assert len(said) == len(broken.said), said
    for line, (where, found, mend) in zip(said, broken.said, strict=True):
        place, _, rest = line.partition(": ")
        assert place.startswith(f"{name}{where}"), line
        assert re.fullmatch(r".+; .+", rest), line
        assert found in rest, line
        assert mend in rest.partition("; ")[2], line
        assert len(line) < 500, line


@pytest.mark.parametrize("case", WALKS)
def test_a_broken_walk(case: str, tmp_path: Path) -> None:
    write(tmp_path, "walk.yaml", WALKS[case].text)
    check_told(refused("advise", "walk.yaml", folder=tmp_path), "walk.yaml", WALKS[case])


@pytest.mark.parametrize("case", ["unknown key", "duplicate key", "not UTF-8", "all at once"])
def test_check_says_the_same_and_counts(case: str, tmp_path: Path) -> None:
    write(tmp_path, "walk.yaml", WALKS[case].text)
    *said, count = refused("check", "walk.yaml", folder=tmp_path)
    assert said == refused("advise", "walk.yaml", folder=tmp_path)
    assert count == f"{len(said)} mistake{'s' if len(said) > 1 else ''}"


@pytest.mark.parametrize("case", ["all at once", "not UTF-8", "anchors made to explode", "empty"])
@pytest.mark.parametrize("module", [True, False], ids=["python -m", "script"])
def test_a_broken_walk_in_a_process_of_its_own(case: str, module: bool, tmp_path: Path) -> None:
    write(tmp_path, "walk.yaml", WALKS[case].text)
    done = run_process("advise", "walk.yaml", folder=tmp_path, module=module)
    assert (done.code, done.out) == (1, "")
    check_told(done.mistakes, "walk.yaml", WALKS[case])
    assert [path.name for path in tmp_path.iterdir()] == ["walk.yaml"]


@pytest.mark.parametrize("case", RIDERS)
def test_a_broken_rider(case: str, tmp_path: Path) -> None:
    write(tmp_path, "me.yaml", RIDERS[case].text)
    said = refused("advise", GOOD_WALK, "--rider", "me.yaml", folder=tmp_path)
    check_told(said, "me.yaml", RIDERS[case])


@pytest.mark.parametrize("case", SETUPS)
def test_a_broken_setup(case: str, tmp_path: Path) -> None:
    write(tmp_path, "sheet.yaml", SETUPS[case].text)
    said = refused("advise", GOOD_WALK, "--on-bike", "sheet.yaml", folder=tmp_path)
    check_told(said, "sheet.yaml", SETUPS[case])


@pytest.mark.parametrize(
    ("old", "new", "where", "found"),
    [
        ("wheelbase: 1480 mm", "wheelbase: 14 mm", " geometry.wheelbase", "'14 mm' cannot"),
        ("wheelbase: 1480 mm", "wheelbase: 1480 kg", " geometry.wheelbase", "'kg' is no unit"),
        ("step: 5", "step: 0", " settings.", "0"),
        ("up: softer", "up: stiffer", " settings.fork_oil_level", "up and down are both"),
        ("range: [80, 150]", "range: [150, 80]", " settings.fork_oil_level", "no range"),
        ("house: 110\n", "house: 1100\n", " settings.fork_oil_level", "1100"),
        ("fork_spring_for_rider_n_per_mm", "full_moon", "", "'full_moon' is unknown"),
    ],
)
def test_a_broken_machine(old: str, new: str, where: str, found: str, tmp_path: Path) -> None:
    text = (DATA / "machines" / "works-450.yaml").read_text(encoding="utf-8")
    assert old in text
    write(tmp_path, "bike.yaml", text.replace(old, new, 1))
    said = refused("advise", GOOD_WALK, "--machine", "bike.yaml", folder=tmp_path)
    assert len(said) == 1
    assert where in said[0]
    assert found in said[0]
    assert "; " in said[0]


@pytest.mark.parametrize("case", RULES)
@pytest.mark.parametrize(
    "words",
    [["advise", str(GOOD_WALK), "--rules", "own"], ["check", "own"]],
    ids=["advise", "check"],
)
def test_a_broken_rule(case: str, words: list[str], tmp_path: Path) -> None:
    write(tmp_path, "own/ours.yaml", RULES[case].text)
    write(tmp_path, "own/sound.yaml", GOOD_RULE.replace("  ours:", "  sound:"))
    said = refused(*words, folder=tmp_path)
    if words[0] == "check":
        assert said.pop() == f"{len(said)} mistake{'s' if len(said) > 1 else ''}"
    check_told(said, "own/", RULES[case])


def test_the_rule_that_all_are_made_from_is_sound(tmp_path: Path) -> None:
    write(tmp_path, "own/ours.yaml", GOOD_RULE)
    assert run("advise", GOOD_WALK, "--rules", "own", folder=tmp_path).code == 0


OPTIONS: dict[str, Callable[[str], list[str | Path]]] = {
    "walk": lambda name: ["advise", name],
    "rider": lambda name: ["advise", GOOD_WALK, "--rider", name],
    "setup": lambda name: ["advise", GOOD_WALK, "--on-bike", name],
    "machine": lambda name: ["advise", GOOD_WALK, "--machine", name],
    "model": lambda name: ["advise", GOOD_WALK, "--model", name],
    "season": lambda name: ["advise", GOOD_WALK, "--season", name],
    "check": lambda name: ["check", name],
}


@pytest.mark.parametrize("option", OPTIONS)
def test_a_missing_file(option: str, tmp_path: Path) -> None:
    said = refused(*OPTIONS[option]("nowhere.yaml"), folder=tmp_path)
    assert said[0].startswith("nowhere.yaml: ")
    assert "no such file" in said[0]
    assert "check the path" in said[0]


@pytest.mark.parametrize("option", sorted(set(OPTIONS) - {"check"}))
def test_a_folder_in_place_of_a_file(option: str, tmp_path: Path) -> None:
    (tmp_path / "folder").mkdir()
    said = refused(*OPTIONS[option]("folder"), folder=tmp_path)
    assert len(said) == 1
    if option == "model":
        mend = "name a model file, or the folder that retrain made of an archive"
        assert said[0] == f"folder: this folder is no model; {mend}"
    else:
        assert said[0] == "folder: this is a folder; name a file in it"


@pytest.mark.parametrize("option", ["walk", "rider", "setup", "machine", "check"])
def test_a_file_of_fifty_megabytes(option: str, tmp_path: Path) -> None:
    with (tmp_path / "huge.yaml").open("wb") as file:
        file.truncate(50_000_000)
    (said, *_) = refused(*OPTIONS[option]("huge.yaml"), folder=tmp_path)
    assert said.startswith("huge.yaml: the file holds 50.0 MB; at most ")
    assert said.endswith("is it the right file?")


@pytest.mark.parametrize("kind", ["season", "model"])
def test_a_huge_file_that_is_no_table_and_no_model(kind: str, tmp_path: Path) -> None:
    with (tmp_path / "huge.csv").open("wb") as file:
        file.truncate(50_000_000)
    said = refused(*OPTIONS[kind]("huge.csv"), folder=tmp_path)
    assert len(said) == 1
    assert said[0].startswith("huge.csv")


def test_a_rule_file_of_fifty_megabytes(tmp_path: Path) -> None:
    (tmp_path / "own").mkdir()
    with (tmp_path / "own" / "huge.yaml").open("wb") as file:
        file.truncate(50_000_000)
    (said,) = refused("advise", GOOD_WALK, "--rules", "own", folder=tmp_path)
    assert said.startswith("own/huge.yaml: the file holds 50.0 MB")


@pytest.mark.skipif(os.name == "nt", reason="no such device")
def test_a_file_without_end_is_not_read_to_its_end(tmp_path: Path) -> None:
    (said,) = refused("advise", "/dev/zero", folder=tmp_path)
    assert said.startswith("/dev/zero: ")


@pytest.mark.parametrize("folder", ["nowhere", "empty"])
def test_a_rule_folder_that_is_none(folder: str, tmp_path: Path) -> None:
    (tmp_path / "empty").mkdir()
    (said,) = refused("advise", GOOD_WALK, "--rules", folder, folder=tmp_path)
    assert said.startswith(f"{folder}: there is no ")


def season(folder: Path, count: int = 2, **changes: dict[int, str]) -> Path:
    """Write a season of some sessions, with cells changed by column and row."""
    table = list(rows(2))[:count]
    columns = list(dict.fromkeys(column for row in rows(2) for column in row))
    for column, cells in changes.items():
        for number, cell in cells.items():
            table[number][column] = cell
    path = folder / "season.csv"
    with path.open("w", encoding="utf-8", newline="") as file:
        writer = csv.DictWriter(file, columns, restval="")
        writer.writeheader()
        writer.writerows(table)
    shutil.copytree(DATA / "riders", folder / "riders")
    return path


@pytest.mark.parametrize(
    ("column", "cell", "found", "mend"),
    [
        ("rider", "nobody", "the rider 'nobody' is unknown", "known: "),
        ("machine", "moped", "the machine 'moped' is unknown", "works-450"),
        ("setup.fork_height", "55", "'55' cannot be", "0 to 12 mm"),
        ("setup.fork_height", "up", "'up'", "0 to 12 mm"),
        ("walk.ground.cone_index_kpa", "-3", "'-3' cannot be", "5 to 9000 kPa"),
        ("walk.kind", "beach", "'beach'", "stadium, outdoor, sand"),
        ("date", "yesterday", "'yesterday' is no date", "2026-05-17"),
        ("mark", "9", "9", "1 to 5"),
        ("event", "", "empty", "needed"),
        ("session_id", "00-north-0", "stands already in season.csv:2", "its own"),
    ],
)
def test_a_faulty_cell_of_a_season(
    column: str, cell: str, found: str, mend: str, tmp_path: Path
) -> None:
    season(tmp_path, 4, **{column: {2: cell}})
    said, hint = refused("advise", GOOD_WALK, "--season", "season.csv", folder=tmp_path)
    assert said.startswith(f"season.csv:4 {column}: ")
    assert found in said
    assert mend in said.partition("; ")[2]
    assert hint.startswith("season.csv: there are faulty rows, listed above; mend them, or ")
    said_again, total = refused("check", "season.csv", folder=tmp_path)[:2]
    assert said_again == said
    assert total == "1 mistake"


def test_all_faulty_cells_at_once(tmp_path: Path) -> None:
    season(tmp_path, 4, rider={1: "nobody"}, mark={2: "9", 3: "0"})
    said = refused("advise", GOOD_WALK, "--season", "season.csv", folder=tmp_path)
    assert sorted(line.split(" ")[0] for line in said[:-1]) == [
        "season.csv:3",
        "season.csv:4",
        "season.csv:5",
    ]
    assert "there are faulty rows" in said[-1]


@pytest.mark.parametrize("count", [0, 1])
def test_a_season_of_no_session_and_of_one(count: int, tmp_path: Path) -> None:
    season(tmp_path, count)
    (said,) = refused("advise", GOOD_WALK, "--season", "season.csv", folder=tmp_path)
    what = "holds no session" if count == 0 else "one session alone"
    assert said.startswith("season.csv: ")
    assert what in said
    assert "add" in said.partition("; ")[2]


@pytest.mark.parametrize(
    ("text", "found"),
    [
        (b"", "no header"),
        (b"\n\n", "no header"),
        (b"session_id,event\n1,x\n", "no column"),
        (
            "session_id,event,date,rider,machine\n1,caf\xe9,2026-05-17,y,z\n".encode("latin-1"),
            "UTF-8",
        ),
        (b"\x00\x01\x02" * 100, ""),
        (b'session_id,event,date,rider,machine\n1,"x,2026-05-17,y,works-450\n', ""),
        (b"session_id,event,date,rider,machine\n1,x,2026-05-17,y,z,w,v\n", ""),
    ],
)
def test_a_table_that_is_none(text: bytes, found: str, tmp_path: Path) -> None:
    write(tmp_path, "season.csv", text)
    said = refused("advise", GOOD_WALK, "--season", "season.csv", folder=tmp_path)
    assert said[0].startswith("season.csv")
    assert found in said[0]
    assert "; " in said[0]
    assert len(said) <= 2


@pytest.fixture(scope="module")
def model() -> bytes:
    return model_bytes(*trained(3))


def test_a_model_of_today_s_rules_is_taken(model: bytes, tmp_path: Path) -> None:
    write(tmp_path, "team.model", model)
    done = run("advise", GOOD_WALK, "--model", "team.model", folder=tmp_path)
    assert done.code == 0
    assert "12 sessions of 3 events" in done.out
    assert run("check", "team.model", folder=tmp_path).code == 0


def test_a_model_trained_with_other_rules(model: bytes, tmp_path: Path) -> None:
    write(tmp_path, "team.model", model)
    write(tmp_path, "own/ours.yaml", GOOD_RULE)
    (said,) = refused(
        "advise", GOOD_WALK, "--model", "team.model", "--rules", "own", folder=tmp_path
    )
    assert said.startswith("team.model: the model was trained with other rules than these; ")
    assert "retrain" in said.partition("; ")[2]


def test_a_model_trained_with_rules_that_are_not_given_now(tmp_path: Path) -> None:
    write(tmp_path, "own/ours.yaml", GOOD_RULE)
    own = open_workshop(machines()["works-450"], [tmp_path / "own"])
    learnt = learn(season_of(3), own, machines(), [tmp_path / "own"])
    write(tmp_path, "team.model", model_bytes(*learnt))
    words = ("advise", GOOD_WALK, "--model", "team.model")
    (said,) = refused(*words, folder=tmp_path)
    assert "other rules" in said
    assert run(*words, "--rules", "own", folder=tmp_path).code == 0


def test_a_model_trained_for_another_machine(model: bytes, tmp_path: Path) -> None:
    write(tmp_path, "team.model", model)
    machine = DATA / "machines" / "works-250.yaml"
    said = refused(
        "advise", GOOD_WALK, "--model", "team.model", "--machine", machine, folder=tmp_path
    )
    assert any("trained for the machine 'works-450' with 43 settings" in line for line in said)


@pytest.mark.parametrize("provenance", [{}, {"settings": 5, "machine": [1], "rules": None}])
def test_a_model_that_does_not_say_where_it_comes_from(
    provenance: dict[str, object], tmp_path: Path
) -> None:
    write(tmp_path, "team.model", model_bytes(trained(3)[0], provenance))
    said = refused("advise", GOOD_WALK, "--model", "team.model", folder=tmp_path)
    assert all(line.startswith("team.model: the model was trained ") for line in said)


@pytest.mark.parametrize("cut", [0, 7, 200, 5000, -1])
def test_a_model_cut_short(cut: int, model: bytes, tmp_path: Path) -> None:
    write(tmp_path, "team.model", model[:cut])
    (said,) = refused("advise", GOOD_WALK, "--model", "team.model", folder=tmp_path)
    assert said.startswith("team.model: ")
    assert "train it again" in said


def test_a_model_with_one_byte_changed(model: bytes, tmp_path: Path) -> None:
    write(tmp_path, "team.model", model[:-3] + bytes([model[-3] ^ 1]) + model[-2:])
    (said,) = refused("advise", GOOD_WALK, "--model", "team.model", folder=tmp_path)
    assert "checksum" in said


@pytest.mark.parametrize("kind", ["rider", "setup", "machine", "model", "season"])
def test_a_walk_in_place_of_another_file(kind: str, tmp_path: Path) -> None:
    write(tmp_path, "walk.yaml", HEAD)
    said = refused(*OPTIONS[kind]("walk.yaml"), folder=tmp_path)
    assert all(line.startswith("walk.yaml") and "; " in line for line in said)


@pytest.mark.skipif(os.name == "nt" or os.getuid() == 0, reason="root may read everything")
def test_a_file_that_may_not_be_read(tmp_path: Path) -> None:
    write(tmp_path, "walk.yaml", HEAD).chmod(0)
    (said,) = refused("advise", "walk.yaml", folder=tmp_path)
    assert "may not be read" in said
