"""`retrain` in processes of its own: the same bytes again, and falling back from a wrong rule."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import pytest

from tests.cli.commands import DATA, run, run_process, write
from tests.cli.test_retrain import table

WALK = DATA / "walks" / "deep-sand.yaml"
NORTH = DATA / "riders" / "north.yaml"
TITLE = "Brake pedal tip above the footpeg"
# A rule that is sure of itself and wrong: nobody in the season moved the pedal.
WRONG = """
subject: our own mistakes
rules:
  ours-pedal:
    title: Soft ground, pedal up
    when: [soft_ground]
    change: {brake_pedal_height: 16 higher}
    confidence: firm
    why: somebody once said so
    look_for: nothing
    source: common practice, no source
"""


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A season of ten events in which the pedal never moved, and a rule that moves it."""
    made = tmp_path_factory.mktemp("season")
    table(made, 10, **{"setup.brake_pedal_height": "0"})
    write(made, "own/ours.yaml", WRONG)
    return made


def retrained(folder: Path, model: str, *words: str) -> Any:
    done = run("retrain", "season.csv", "-o", model, "--no-forest", *words, folder=folder)
    assert done.code == 0, done.err
    return done


@pytest.fixture(scope="module")
def told(folder: Path) -> dict[str, Any]:
    """What retraining with the wrong rule says as JSON."""
    done = retrained(folder, "ours.model", "--rules", "own", "--json")
    found: dict[str, Any] = json.loads(done.out)
    return found


def test_two_processes_write_the_same_bytes(tmp_path: Path) -> None:
    """Whatever the hash of texts, the number of processes and the time of day."""
    folder = tmp_path
    table(folder, 2)
    for name, hashing, jobs in (("one.model", "1", "1"), ("two.model", "4242", "2")):
        done = run_process(
            "retrain", "season.csv", "-o", name, "--no-forest", "--jobs", jobs,
            folder=folder, PYTHONHASHSEED=hashing,
        )  # fmt: skip
        assert (done.code, done.err) == (0, "")
    first, second = ((folder / name).read_bytes() for name in ("one.model", "two.model"))
    assert first == second
    assert len(first) > 1000


def test_a_wrong_rule_makes_its_setting_fall_back(told: dict[str, Any]) -> None:
    (pedal,) = (
        one for one in told["evaluation"]["settings"] if one["setting"] == "brake_pedal_height"
    )
    assert pedal["fallback"] == "rider's mean"
    assert pedal["error"]["rider's mean"] < pedal["error"]["this design"]


def test_falling_back_is_mentioned_under_the_table(folder: Path, told: dict[str, Any]) -> None:
    done = retrained(folder, "again.model", "--rules", "own")
    text = " ".join(done.out.split())
    assert f"{TITLE}: rider's mean does better" in text
    fallen = [one for one in told["evaluation"]["settings"] if one["fallback"]]
    assert text.count("falls back to") == len(fallen)
    assert max(map(len, done.out.splitlines())) <= 100


def test_advice_leaves_the_wrong_rule_aside(folder: Path, told: dict[str, Any]) -> None:
    """On deep sand the rule speaks in full, and written rules alone would follow it."""
    assert told
    words = ("advise", WALK, "--rider", NORTH, "--rules", "own", "--json")
    pedals = {}
    for name, more in (("learnt", ("--model", "ours.model")), ("written", ())):
        done = run(*words, *more, folder=folder)
        assert done.code == 0, done.err
        (pedals[name],) = (
            one
            for one in json.loads(done.out)["settings"]
            if one["setting"] == "brake_pedal_height"
        )
    assert "rule:ours-pedal" in {part["from"] for part in pedals["written"]["parts"]}
    assert "rule:ours-pedal" not in {part["from"] for part in pedals["learnt"]["parts"]}
    assert abs(pedals["learnt"]["value"]) < abs(pedals["written"]["value"])
    parts = pedals["learnt"]["parts"]
    assert sum(part["amount"] for part in parts) == pytest.approx(pedals["learnt"]["value"])


def test_events_and_sessions_are_counted(told: dict[str, Any]) -> None:
    """Two riders, two outings each, at ten events; the last outing is the settled setup."""
    assert told["model"]["sessions"] == 40
    assert told["model"]["events"] == told["evaluation"]["events"] == 10
    assert told["evaluation"]["settled"] == 20
    assert told["model"]["season"] == "season.csv"


def test_the_bundled_season_is_learnt_and_beats_its_rules(tmp_path: Path) -> None:
    done = run_process(
        "retrain", DATA / "season.csv", "-o", "m.model", "--no-forest", "--json", folder=tmp_path
    )
    assert (done.code, done.err) == (0, "")
    overall = json.loads(done.out)["evaluation"]["overall"]
    assert overall["this design"] < overall["rules as written"]
    assert overall["this design"] < overall["rider's mean"]
