"""`advise` as a crew runs it."""

from __future__ import annotations

import json
import math
import os
import shutil
import subprocess
import sys
from pathlib import Path
from typing import Any

import pytest

from tests.cli.commands import DATA, ENVIRONMENT, WALKS, Done, refused, run, run_process

WIDTH = 100
SECTIONS = ("CHANGES WORTH MAKING", "THE SETUP", "LEFT ALONE", "WHAT THIS RESTS ON", "CAUTIONS")
NORTH = DATA / "riders" / "north.yaml"
ON_BIKE = DATA / "setups" / "on-bike-450.yaml"
CONTRACT: dict[str, set[str]] = {
    "settings": {"setting", "unit", "value", "low", "high", "now", "parts"},
    "changes": {"setting", "from", "to", "unit", "minutes", "why", "check", "undo", "cautions"},
    "prepare": {"task", "why", "cautions"},
    "watch": {"what", "why"},
    "left_alone": {"setting", "why"},
    "not_judged": {"rule", "needs"},
    "worth_measuring": {"entry", "moves"},
}


def check_sheet(done: Done) -> None:
    """A sheet that can be printed and hung up."""
    assert done.code == 0, done.err
    lines = done.out.splitlines()
    assert max(map(len, lines)) <= WIDTH
    assert all(line == line.rstrip() for line in lines)
    for title in SECTIONS:
        assert any(line.startswith(title) for line in lines), title
    assert "nan" not in done.out.lower().split()
    assert "None" not in done.out.replace("None: ", "")


def as_json(*words: str | Path, folder: Path) -> dict[str, Any]:
    done = run("advise", *words, "--json", folder=folder)
    assert done.code == 0, done.err
    assert done.err == ""
    found: dict[str, Any] = json.loads(done.out)
    return found


@pytest.mark.parametrize("walk", WALKS, ids=lambda path: path.stem)
def test_a_sheet_for_every_bundled_walk(walk: Path, tmp_path: Path) -> None:
    check_sheet(run("advise", walk, folder=tmp_path))


@pytest.mark.parametrize("walk", WALKS, ids=lambda path: path.stem)
def test_a_sheet_with_everything_given(walk: Path, tmp_path: Path) -> None:
    words = ("--rider", NORTH, "--on-bike", ON_BIKE, "--minutes", "30", "--why")
    done = run("advise", walk, *words, folder=tmp_path)
    check_sheet(done)
    assert "of 30 minutes" in done.out
    assert "house: " in done.out


@pytest.mark.parametrize("walk", WALKS, ids=lambda path: path.stem)
def test_json_for_every_bundled_walk(walk: Path, tmp_path: Path) -> None:
    found = as_json(walk, "--rider", NORTH, "--on-bike", ON_BIKE, folder=tmp_path)
    assert {*CONTRACT, "basis", "cautions"} <= set(found)
    for name, keys in CONTRACT.items():
        assert all(keys <= set(item) for item in found[name]), name
    assert {"sessions", "events", "nearest", "model", "rules"} <= set(found["basis"])
    assert len(found["settings"]) >= 30
    for setting in found["settings"]:
        total = math.fsum(part["amount"] for part in setting["parts"])
        assert abs(total - setting["value"]) < 1e-9
        assert setting["now"] is not None
    assert len(found["cautions"]) >= 3


def test_a_sheet_in_a_process_of_its_own(tmp_path: Path) -> None:
    words = ("advise", DATA / "walks" / "deep-sand.yaml", "--rider", NORTH)
    done = run_process(*words, folder=tmp_path)
    check_sheet(done)
    assert done.err == ""
    assert done == run(*words, folder=tmp_path)


def test_the_sheet_and_json_say_the_same_and_say_it_again(tmp_path: Path) -> None:
    walk = DATA / "walks" / "mud.yaml"
    text = run("advise", walk, folder=tmp_path)
    found = as_json(walk, folder=tmp_path)
    assert run("advise", walk, folder=tmp_path) == text
    for change in found["changes"]:
        assert f"{change['title']}: {change['shown']}" in " ".join(text.out.split())


def test_nothing_is_written(tmp_path: Path) -> None:
    run("advise", DATA / "walks" / "mud.yaml", folder=tmp_path)
    assert list(tmp_path.iterdir()) == []


@pytest.mark.parametrize("module", [True, False], ids=["python -m", "script"])
def test_files_are_found_from_the_folder_the_command_is_run_in(
    module: bool, tmp_path: Path
) -> None:
    shutil.copy(DATA / "walks" / "mud.yaml", tmp_path / "my walk.yaml")
    shutil.copy(NORTH, tmp_path / "me.yaml")
    inside = tmp_path / "race day"
    inside.mkdir()
    done = run_process(
        "advise", "../my walk.yaml", "--rider", "../me.yaml", folder=inside, module=module
    )
    check_sheet(done)
    assert "rider north" in done.out


def test_minutes_limit_the_changes(tmp_path: Path) -> None:
    walk = DATA / "walks" / "deep-sand.yaml"
    found = {
        minutes: as_json(walk, "--on-bike", ON_BIKE, "--minutes", minutes, folder=tmp_path)
        for minutes in ("0", "10.5", "60")
    }
    for minutes, advice in found.items():
        assert sum(change["minutes"] for change in advice["changes"]) <= float(minutes)
    assert found["0"]["changes"] == []
    assert len(found["10.5"]["changes"]) < len(found["60"]["changes"])
    assert any("no time left" in item["why"] for item in found["10.5"]["left_alone"])


def test_no_time_at_all_still_gives_a_sheet(tmp_path: Path) -> None:
    walk = DATA / "walks" / "deep-sand.yaml"
    check_sheet(run("advise", walk, "--minutes", "0", folder=tmp_path))


def test_a_motorcycle_set_up_as_advised_is_left_alone(tmp_path: Path) -> None:
    walk = DATA / "walks" / "stadium-metal-grid.yaml"
    first = as_json(walk, "--rider", NORTH, folder=tmp_path)
    lines = [f"  {item['setting']}: {item['value']}" for item in first["settings"]]
    sheet = tmp_path / "sheet.yaml"
    sheet.write_text("\n".join(["settings:", *lines, ""]), encoding="utf-8")
    again = as_json(walk, "--rider", NORTH, "--on-bike", sheet, folder=tmp_path)
    assert again["changes"] == []
    done = run("advise", walk, "--rider", NORTH, "--on-bike", sheet, folder=tmp_path)
    check_sheet(done)
    assert "as good as anything known here" in done.out


def test_the_lighter_machine_has_its_own_sheet(tmp_path: Path) -> None:
    machine = DATA / "machines" / "works-250.yaml"
    done = run("advise", DATA / "walks" / "mud.yaml", "--machine", machine, folder=tmp_path)
    check_sheet(done)
    assert "works-250" in done.out
    setup, _, rest = done.out.partition("LEFT ALONE")
    assert "Steering damper" not in setup
    assert "Not on this machine (rules passed over): " in rest
    assert "Steering damper (" in rest


def test_a_setup_of_another_machine_is_refused(tmp_path: Path) -> None:
    machine = DATA / "machines" / "works-250.yaml"
    walk = DATA / "walks" / "mud.yaml"
    said = refused("advise", walk, "--machine", machine, "--on-bike", ON_BIKE, folder=tmp_path)
    assert "the setup is of 'works-450', the machine is 'works-250'" in said[0]


def test_imperial_and_metric_walks_are_the_same_sheet(tmp_path: Path) -> None:
    """The units are the same to the last digit: an inch is 25.4 mm, a pound 0.45359237 kg."""
    metric = tmp_path / "metric.yaml"
    metric.write_text(
        "event: x\ndate: 2026-05-17\nair: {temperature: 25, elevation: 304.8}\n"
        "ground: {rut_depth: 101.6 mm}\n",
        encoding="utf-8",
    )
    imperial = tmp_path / "imperial.yaml"
    imperial.write_text(
        "event: x\ndate: 2026-05-17\nair: {temperature: 77 F, elevation: 1000 ft}\n"
        "ground: {rut_depth: 4 in}\n",
        encoding="utf-8",
    )
    one, other = (as_json(path, folder=tmp_path) for path in (metric, imperial))
    for mine, theirs in zip(one["settings"], other["settings"], strict=True):
        assert mine["value"] == theirs["value"]


def test_a_team_s_own_rule_speaks_and_is_named(tmp_path: Path) -> None:
    rules = tmp_path / "ours"
    rules.mkdir()
    (rules / "sand.yaml").write_text(
        "subject: start\nrules:\n  our-sand-rule:\n    title: Ours for sand\n"
        "    when: [soft_ground]\n    change: {idle_speed: 200 higher}\n    confidence: firm\n"
        "    why: it stalled twice\n    look_for: no stalling\n"
        "    source: common practice, no source\n",
        encoding="utf-8",
    )
    walk = DATA / "walks" / "deep-sand.yaml"
    found = as_json(walk, "--rules", rules, folder=tmp_path)
    idle = next(item for item in found["settings"] if item["setting"] == "idle_speed")
    amounts = {part["from"]: part["amount"] for part in idle["parts"]}
    assert amounts["rule:our-sand-rule"] == 200.0
    assert found["basis"]["rules"]["of_the_team"] == ["our-sand-rule"]
    text = run("advise", walk, "--rules", rules, folder=tmp_path)
    check_sheet(text)
    assert "Your own rules: our-sand-rule" in text.out


@pytest.mark.parametrize("encoding", ["ascii", "latin-1", "cp1252", "utf-8"])
def test_a_terminal_of_another_encoding_gets_its_sheet(encoding: str, tmp_path: Path) -> None:
    walk = DATA / "walks" / "mud.yaml"
    done = run_process("advise", walk, folder=tmp_path, PYTHONIOENCODING=encoding)
    check_sheet(done)


@pytest.mark.parametrize("encoding", ["ascii", "cp1252"])
def test_json_is_whole_in_any_encoding(encoding: str, tmp_path: Path) -> None:
    walk = DATA / "walks" / "mud.yaml"
    plain = run("advise", walk, "--json", folder=tmp_path)
    odd = run_process("advise", walk, "--json", folder=tmp_path, PYTHONIOENCODING=encoding)
    assert json.loads(odd.out) == json.loads(plain.out)


def test_a_reader_that_goes_away_is_no_mistake(tmp_path: Path) -> None:
    walk = DATA / "walks" / "mud.yaml"
    with subprocess.Popen(
        [sys.executable, "-m", "setupadvisor", "advise", str(walk), "--json"],
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
        cwd=tmp_path,
        env=ENVIRONMENT,
    ) as process:
        assert process.stdout is not None
        assert process.stderr is not None
        process.stdout.close()
        error = process.stderr.read().decode()
        process.wait()
    assert error == ""
    assert process.returncode == 0


@pytest.mark.skipif(os.name == "nt", reason="no such device")
def test_a_full_disk_is_told(tmp_path: Path) -> None:
    full = Path("/dev/full")
    if not full.exists():
        pytest.skip("no such device")
    with full.open("wb") as nowhere:
        done = subprocess.run(
            [sys.executable, "-m", "setupadvisor", "advise", str(WALKS[0])],
            stdout=nowhere,
            stderr=subprocess.PIPE,
            cwd=tmp_path,
            env=ENVIRONMENT,
            check=False,
        )
    assert done.returncode == 1
    assert b"Traceback" not in done.stderr
    assert b"no space left" in done.stderr.lower()


def test_mistakes_of_all_files_are_told_at_once(tmp_path: Path) -> None:
    for name, text in {
        "walk.yaml": "event: x\n",
        "rider.yaml": "name: y\nmass: 5 kg\n",
        "sheet.yaml": "settings: {fork_heigth: 5, race_sag: 900}\n",
    }.items():
        (tmp_path / name).write_text(text, encoding="utf-8")
    said = refused(
        "advise",
        "walk.yaml",
        "--rider",
        "rider.yaml",
        "--on-bike",
        "sheet.yaml",
        "--rules",
        "nowhere",
        "--model",
        "nothing",
        folder=tmp_path,
    )
    text = "\n".join(said)
    assert "walk.yaml:1 date: the key is missing" in text
    assert "rider.yaml:2 mass: '5 kg' cannot" in text
    assert "sheet.yaml:1 settings.fork_heigth" in text
    assert "did you mean fork_height?" in text
    assert "sheet.yaml:1 settings.race_sag: 900 mm cannot" in text
    assert "nowhere: there is no such folder" in text
    assert len(said) == 5
