"""`retrain` as an analyst runs it."""

from __future__ import annotations

import csv
import json
import math
import shutil
from collections.abc import Iterator
from pathlib import Path
from types import SimpleNamespace
from typing import Any

import pytest

from setupadvisor.advice.workshop import house_machine
from setupadvisor.cli.error_table import error_table
from setupadvisor.learning.evaluation import Evaluation, SettingErrors
from tests.advice.small_season import rows
from tests.cli.commands import DATA, refused, run, run_process, write

ALTERNATIVES = {
    "rules as written",
    "rider's mean",
    "same venue last time",
    "k-nearest sessions",
    "random forest",
    "amounts only",
}
NORTH = DATA / "riders" / "north.yaml"
WALK = DATA / "walks" / "deep-sand.yaml"


def table(folder: Path, events: int, **columns: str) -> Path:
    """A season as CSV beside its riders, with whole columns replaced."""
    listed = [{**row, **columns} for row in rows(events)]
    path = folder / "season.csv"
    with path.open("w", encoding="utf-8", newline="") as file:
        names = list(dict.fromkeys(name for row in listed for name in row))
        writer = csv.DictWriter(file, names, restval="")
        writer.writeheader()
        writer.writerows(listed)
    shutil.copytree(DATA / "riders", folder / "riders", dirs_exist_ok=True)
    return path


@pytest.fixture(scope="module")
def trained(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A folder with a season of six events and what became of it, forests aside."""
    folder = tmp_path_factory.mktemp("trained")
    table(folder, 6)
    done = run_process("retrain", "season.csv", "-o", "team.model", "--no-forest", folder=folder)
    assert done.code == 0, done.err
    assert done.err == ""
    write(folder, "told.txt", done.out)
    return folder


def numbers(content: Any) -> Iterator[float]:
    if isinstance(content, dict):
        content = list(content.values())
    if isinstance(content, list):
        for item in content:
            yield from numbers(item)
    elif isinstance(content, int | float):
        yield float(content)


def test_the_error_is_told_by_setting_beside_simpler_ways(trained: Path) -> None:
    text = (trained / "told.txt").read_text(encoding="utf-8")
    assert max(map(len, text.splitlines())) <= 100
    assert "12 settled setups, 6 events" in text
    for word in ("Fork low-speed compression", "overall, in steps", "written", "rider"):
        assert word in text
    assert "Wrote team.model" in text
    (head,) = (line for line in text.splitlines() if "forest" in line)
    end = head.index("forest") + len("forest")
    rows = [line for line in text.splitlines() if line.startswith(("Fork", "overall"))]
    assert {line[end - 8 : end].strip() for line in rows} == {"-"}


def test_the_model_is_written_and_nothing_else(trained: Path) -> None:
    assert sorted(path.name for path in trained.iterdir()) == [
        "riders",
        "season.csv",
        "team.model",
        "told.txt",
    ]


def test_advice_from_the_model_and_from_its_season_are_the_same(
    trained: Path, tmp_path: Path
) -> None:
    words = ("advise", WALK, "--rider", NORTH, "--json")
    model = json.loads(run(*words, "--model", trained / "team.model", folder=tmp_path).out)
    season = json.loads(run(*words, "--season", trained / "season.csv", folder=tmp_path).out)
    assert model["basis"]["sessions"] == season["basis"]["sessions"] == 24
    assert model["basis"]["events"] == 6
    for one, other in zip(model["settings"], season["settings"], strict=True):
        assert one["value"] == other["value"]
        assert one["low"] == pytest.approx(other["low"], rel=1e-4, abs=1e-3)
        assert one["high"] == pytest.approx(other["high"], rel=1e-4, abs=1e-3)


def test_the_sheet_with_a_model_names_the_nearest_sessions(trained: Path, tmp_path: Path) -> None:
    words = ("advise", WALK, "--rider", NORTH, "--model", trained / "team.model", "--why")
    done = run(*words, folder=tmp_path)
    assert done.code == 0
    assert max(map(len, done.out.splitlines())) <= 100
    assert "24 sessions of 6 events" in done.out
    assert "Like event 00 at Dune Hollow" in done.out
    assert "rider: this rider's habit" in done.out


def test_the_same_season_gives_the_same_file(trained: Path, tmp_path: Path) -> None:
    table(tmp_path, 6)
    done = run("retrain", "season.csv", "-o", "again.model", "--no-forest", folder=tmp_path)
    assert done.code == 0
    assert (tmp_path / "again.model").read_bytes() == (trained / "team.model").read_bytes()


def test_json_holds_errors_by_setting_and_only_finite_numbers(tmp_path: Path) -> None:
    table(tmp_path, 3)
    done = run("retrain", "season.csv", "-o", "m.model", "--json", folder=tmp_path)
    assert done.code == 0
    assert (tmp_path / "m.model").stat().st_size > 1000
    found = json.loads(done.out)
    assert all(math.isfinite(number) for number in numbers(found))
    text = json.dumps(found)
    assert all(way in text for way in ALTERNATIVES)
    assert "fork_compression_low" in text
    # The same as a table: every way has its column of numbers.
    settings = tuple(SettingErrors(**one) for one in found["evaluation"]["settings"])
    evaluation = Evaluation(**{**found["evaluation"], "settings": settings})
    lines = error_table(SimpleNamespace(evaluation=evaluation), house_machine()).splitlines()
    (overall,) = (line for line in lines if line.startswith("overall"))
    assert len(overall.split()[3:]) == len(ALTERNATIVES) + 1
    assert f"{found['evaluation']['overall']['random forest']:.2f}" in overall
    # Asking forests leaves the model as it is.
    run("retrain", "season.csv", "-o", "without.model", "--no-forest", folder=tmp_path)
    assert (tmp_path / "without.model").read_bytes() == (tmp_path / "m.model").read_bytes()


def test_a_model_that_is_there_is_replaced(tmp_path: Path) -> None:
    """The same file is written after every event."""
    table(tmp_path, 3)
    write(tmp_path, "team.model", "old")
    done = run("retrain", "season.csv", "-o", "team.model", "--no-forest", folder=tmp_path)
    assert done.code == 0
    assert (tmp_path / "team.model").stat().st_size > 1000


def test_rules_of_the_team_are_learnt_and_asked_for_again(tmp_path: Path) -> None:
    table(tmp_path, 3)
    write(
        tmp_path,
        "own/ours.yaml",
        "subject: start\nrules:\n  ours:\n    title: Ours\n    when: [soft_ground]\n"
        "    change: {fork_height: 2 lower}\n    confidence: loose\n    why: it pushed\n"
        "    look_for: less pushing\n    source: common practice, no source\n",
    )
    words = ("retrain", "season.csv", "-o", "team.model", "--no-forest", "--rules", "own")
    assert run(*words, folder=tmp_path).code == 0
    ask = ("advise", WALK, "--model", "team.model")
    assert "other rules" in refused(*ask, folder=tmp_path)[0]
    assert run(*ask, "--rules", "own", folder=tmp_path).code == 0


def test_faulty_rows_stop_it_and_leave_the_old_model(tmp_path: Path) -> None:
    table(tmp_path, 2, mark="9")
    write(tmp_path, "team.model", "old")
    said = refused("retrain", "season.csv", "-o", "team.model", folder=tmp_path)
    mistake, hint = said
    assert mistake.startswith("season.csv:2 mark: '9' cannot be")
    assert "also on lines 3, 4, 5" in mistake
    assert hint.startswith("season.csv: there are faulty rows")
    assert "--leave-out-bad-rows" in hint


def test_faulty_rows_can_be_left_out_and_are_listed(tmp_path: Path) -> None:
    path = table(tmp_path, 3)
    lines = path.read_text(encoding="utf-8").splitlines()
    lines[2] = lines[2].replace(",north,", ",nobody,")
    write(tmp_path, "season.csv", "\n".join([*lines, ""]))
    words = ("retrain", "season.csv", "-o", "m.model", "--no-forest", "--leave-out-bad-rows")
    done = run(*words, folder=tmp_path)
    assert done.code == 0
    assert done.err.startswith("left out: season.csv:3 rider: the rider 'nobody' is unknown")
    assert "11 sessions" in run("check", "m.model", folder=tmp_path).out


def test_nothing_left_is_told(tmp_path: Path) -> None:
    table(tmp_path, 2, mark="9")
    words = ("retrain", "season.csv", "-o", "m.model", "--leave-out-bad-rows")
    assert "no sound session is left" in refused(*words, folder=tmp_path)[-1]


def test_a_season_that_says_nothing_of_the_motorcycle_is_told(tmp_path: Path) -> None:
    setups = {name: "" for row in rows(1) for name in row if name.startswith("setup.")}
    table(tmp_path, 2, **setups)
    (said,) = refused("retrain", "season.csv", "-o", "m.model", folder=tmp_path)
    assert said.startswith("season.csv: no session says what was set; add columns such as setup.")


def test_a_single_event_is_learnt_from_and_said_to_be_one(tmp_path: Path) -> None:
    table(tmp_path, 1)
    done = run("retrain", "season.csv", "-o", "m.model", "--no-forest", folder=tmp_path)
    assert done.code == 0
    assert "1 event in 1 fold " in done.out
    advice = run("advise", WALK, "--model", "m.model", folder=tmp_path)
    assert "1 event is too few for ranges" in " ".join(advice.out.split())


@pytest.mark.parametrize(
    ("output", "said"),
    [
        ("nowhere/m.model", "its folder does not exist; make the folder first"),
        (".", "this is a folder; name a file in it"),
        ("riders", "this is a folder; name a file in it"),
    ],
)
def test_a_place_that_cannot_be_written_is_told_before_the_work(
    output: str, said: str, tmp_path: Path
) -> None:
    table(tmp_path, 2)
    told = refused("retrain", "season.csv", "-o", output, folder=tmp_path)
    assert told == [f"{output}: {said}"]


def test_columns_that_are_not_known_are_kept_quiet_about_once(tmp_path: Path) -> None:
    table(tmp_path, 2, mood="good", weather_girl="smiling")
    done = run("retrain", "season.csv", "-o", "m.model", "--no-forest", folder=tmp_path)
    assert done.code == 0
    assert done.mistakes == ["season.csv: columns kept and ignored: mood, weather_girl"]


def test_level_and_processes_may_be_chosen(tmp_path: Path) -> None:
    table(tmp_path, 2)
    words = ("--level", "90%", "--jobs", "2", "--no-forest")
    done = run("retrain", "season.csv", "-o", "m.model", *words, folder=tmp_path)
    assert done.code == 0
    told = run("advise", WALK, "--model", "m.model", folder=tmp_path)
    assert "90%" in told.out
