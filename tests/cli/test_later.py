"""`advise` for later in the day: --at a time that was planned or not, --then another walk."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import pytest

from tests.cli.commands import DATA, WALKS, refused, run, run_process, write

MORNING, AFTERNOON = (DATA / "walks" / f"{name}.yaml" for name in ("morning", "afternoon"))
SAND = DATA / "walks" / "deep-sand.yaml"


def as_json(*words: str | Path, folder: Path) -> dict[str, Any]:
    done = run("advise", *words, "--json", folder=folder)
    assert (done.code, done.err) == (0, "")
    found: dict[str, Any] = json.loads(done.out, parse_constant=pytest.fail)
    return found


def entries(found: dict[str, Any]) -> dict[str, tuple[str, str]]:
    return {one["entry"]: (one["before"], one["after"]) for one in found["difference"]["entries"]}


def values(found: dict[str, Any]) -> dict[str, float]:
    return {one["setting"]: one["value"] for one in found["settings"]}


def test_a_planned_time_is_asked_for_by_its_name(tmp_path: Path) -> None:
    done = run_process("advise", MORNING, "--at", "moto 2", folder=tmp_path)
    assert (done.code, done.err) == (0, "")
    assert max(map(len, done.out.splitlines())) <= 100
    titles = [
        "WHAT CHANGED ON THE WALK",
        "SETTINGS THAT FOLLOW",
        "RULES THAT SPEAK MORE OR LESS",
        "CHANGES WORTH MAKING",
        "CAUTIONS",
    ]
    places = [done.out.index(title) for title in titles]
    assert places == sorted(places)
    assert "15 °C → 26 °C" in done.out
    assert "The ground at moto 2 is reckoned from the walk, not seen" in " ".join(done.out.split())


def test_what_the_plan_says_and_what_the_sun_does_are_in_the_difference(tmp_path: Path) -> None:
    found = entries(as_json(MORNING, "--at", "MOTO 2", folder=tmp_path))
    assert found["ground.rut_depth"] == ("60 mm", "170 mm")
    assert found["ground.wear"] == ("fresh", "rough")
    before, after = found["ground.available_water"]
    assert before.endswith("% by feel")
    assert float(after.split()[0]) < float(before.split()[0])


def test_the_changes_start_from_the_first_advice(tmp_path: Path) -> None:
    """By then the morning's setup is on the motorcycle."""
    morning = values(as_json(MORNING, folder=tmp_path))
    later = as_json(MORNING, "--at", "moto 2", folder=tmp_path)
    assert later["changes"]
    for change in later["changes"]:
        assert change["from"] == morning[change["setting"]]
    moved = {one["setting"] for one in later["difference"]["settings"]}
    differ = {name for name, value in values(later).items() if value != morning[name]}
    assert moved == differ
    assert {change["setting"] for change in later["changes"]} <= moved


@pytest.mark.parametrize("walk", WALKS, ids=lambda path: path.stem)
def test_a_time_without_a_plan_is_taken_on_every_bundled_walk(walk: Path, tmp_path: Path) -> None:
    found = as_json(walk, "--at", "3 h", folder=tmp_path)
    assert any("as walked" in caution for caution in found["cautions"])
    told = {one["entry"].rpartition(".")[2] for one in found["difference"]["entries"]}
    assert told <= {
        "available_water",
        "moisture",
        "cone_index",
        "firmness",
        "after_cone_index",
        "after_firmness",
        "after_moisture",
    }


def test_in_no_time_nothing_changes(tmp_path: Path) -> None:
    found = as_json(SAND, "--at", "0 min", folder=tmp_path)
    assert found["difference"] == {"entries": [], "rules": [], "settings": []}
    assert found["changes"] == []


@pytest.mark.parametrize("time", ["moto 9", "3", "tomorrow", "-2 h", "30 h", "5 kg"])
def test_a_time_that_cannot_be_names_those_that_were_planned(time: str, tmp_path: Path) -> None:
    (said,) = refused("advise", MORNING, f"--at={time}", folder=tmp_path)
    assert said.startswith(f"{MORNING} later: there is no time {time!r} (planned: 'moto 1', 'moto")
    assert "--at '3 h'" in said


def test_another_walk_is_compared_entry_by_entry(tmp_path: Path) -> None:
    found = as_json(MORNING, "--then", AFTERNOON, folder=tmp_path)
    told = entries(found)
    assert told["ground.firmness"] == ("dents", "marks")
    assert told["ground.cone_index"] == ("620 kPa", "1350 kPa")
    assert told["air.wind"] == ("calm", "light")
    assert found["event"] == as_json(AFTERNOON, folder=tmp_path)["event"]
    assert found["difference"]["settings"]


def test_then_is_advice_for_the_second_walk(tmp_path: Path) -> None:
    after = as_json(MORNING, "--then", AFTERNOON, folder=tmp_path)
    assert values(after) == values(as_json(AFTERNOON, folder=tmp_path))


def test_a_walk_and_itself_differ_in_nothing(tmp_path: Path) -> None:
    found = as_json(SAND, "--then", SAND, folder=tmp_path)
    assert found["difference"] == {"entries": [], "rules": [], "settings": []}
    assert found["changes"] == []
    page = run("advise", SAND, "--then", SAND, folder=tmp_path).out
    assert page.strip()


def test_minutes_and_rider_hold_for_the_later_advice(tmp_path: Path) -> None:
    rider = DATA / "riders" / "south.yaml"
    words = (MORNING, "--at", "moto 2", "--rider", rider, "--minutes", "4")
    found = as_json(*words, folder=tmp_path)
    assert found["rider"] == "south"
    assert sum(change["minutes"] for change in found["changes"]) <= 4.0


def test_at_and_then_exclude_each_other(tmp_path: Path) -> None:
    done = run("advise", MORNING, "--at", "3 h", "--then", AFTERNOON, folder=tmp_path)
    assert done.code == 2
    assert "not allowed with" in done.err


def test_a_broken_second_walk_is_refused_with_all_other_faults(tmp_path: Path) -> None:
    write(tmp_path, "later.yaml", "event: x\ndate: 2026-05-17\nkind: beach\n")
    write(tmp_path, "rider.yaml", "name: x\nmass: 800 kg\n")
    said = refused(
        "advise", MORNING, "--then", "later.yaml", "--rider", "rider.yaml", folder=tmp_path
    )
    assert len(said) == 2
    assert said[0].startswith("later.yaml:3 kind: ")
    assert said[1].startswith("rider.yaml:2 mass: ")


def test_plans_may_stand_in_any_unit(tmp_path: Path) -> None:
    text = MORNING.read_text(encoding="utf-8")
    plan = "\nlater:\n  - {at: after lunch, after: 0.5 h, rain: 0.2 in, rut_depth: 4 in}\n"
    write(tmp_path, "walk.yaml", text[: text.index("later:")] + plan)
    found = entries(as_json("walk.yaml", "--at", "after lunch", folder=tmp_path))
    assert found["ground.rut_depth"] == ("60 mm", "101.6 mm")
    before, after = found["ground.available_water"]
    assert float(after.split()[0]) > float(before.split()[0]), "five litres on a square metre"
