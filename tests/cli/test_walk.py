"""`walk`: the crew chief answers on the spot, wrongly too."""

from __future__ import annotations

import os
import signal
import subprocess
import sys
import time
from datetime import date
from pathlib import Path
from typing import Any

import pytest

from setupadvisor.cli.walk import FIRST_QUESTIONS, HINTS
from setupadvisor.entries.files import load_entry
from setupadvisor.entries.walk import Walk
from setupadvisor.entries.yaml_file import read_yaml
from setupadvisor.facts.columns import columns_from_entries, condition_fields
from tests.cli.commands import ENVIRONMENT, refused, run, run_process

HEAD = ["Club day", "2026-05-17", "Quarry Field"]
SKIPPED = [""] * len(FIRST_QUESTIONS)


def answered(*lines: str) -> str:
    return "\n".join([*lines, ""])


def content(path: Path) -> Any:
    return read_yaml(path).content


def test_the_eight_questions_that_matter_most_come_first(tmp_path: Path) -> None:
    lines = answered(*HEAD, "sand", "1", "sinks", "moist", "dirt", "1", "600 mm", "11 C", "")
    done = run_process("walk", "track.yaml", folder=tmp_path, answers=lines)
    assert done.code == 0, done.err
    assert done.err == ""
    assert content(tmp_path / "track.yaml") == {
        "event": "Club day",
        "date": "2026-05-17",
        "venue": "Quarry Field",
        "kind": "sand",
        "ground": {"texture": "sand", "firmness": "sinks", "moisture": "moist"},
        "start": {"surface": "dirt", "after_firmness": "sinks_deep"},
        "whoops": {"height": "600 mm"},
        "air": {"temperature": "11 C"},
    }
    assert "Wrote track.yaml" in done.out
    assert "1 of 8  Kind of track" in done.out
    assert "8 of 8  Air temperature" in done.out
    assert [path.name for path in tmp_path.iterdir()] == ["track.yaml"]


def test_what_was_written_can_be_advised_on_and_checked(tmp_path: Path) -> None:
    lines = answered(*HEAD, *SKIPPED, "")
    assert run("walk", "track.yaml", folder=tmp_path, answers=lines).code == 0
    assert run("check", "track.yaml", folder=tmp_path).code == 0
    assert run("advise", "track.yaml", folder=tmp_path).code == 0


def test_every_question_may_be_skipped(tmp_path: Path) -> None:
    done = run("walk", "track.yaml", folder=tmp_path, answers=answered("", "", "", *SKIPPED, ""))
    assert done.code == 0
    today = date.today().isoformat()
    assert content(tmp_path / "track.yaml") == {"event": f"practice {today}", "date": today}


def test_measured_answers_stand_beside_those_by_feel(tmp_path: Path) -> None:
    """With a unit a number is a measurement; a bare small one is the place of a word."""
    lines = answered(*HEAD, "", "", "450 kPa", "5 %", "", "1200", "", "", "")
    done = run("walk", "track.yaml", folder=tmp_path, answers=lines)
    assert done.code == 0
    walk = load_entry(tmp_path / "track.yaml", Walk)
    found = {path: float(column[0]) for path, column in columns_from_entries(walk, None).items()}
    assert found == {
        "walk.ground.cone_index_kpa": 450.0,
        "walk.ground.available_water_pct": 5.0,
        "walk.start.after_cone_index_kpa": 1200.0,
    }
    assert "or measured, with its unit: a number from 5 to 9000 kPa" in done.out


@pytest.mark.parametrize(
    ("wrong", "said"),
    [
        ("sandy loma", "did you mean sandy_loam?"),
        ("13", "'13' is not known here"),
        ("0", "'0' is not known here"),
        ("-1", "'-1' is not known here"),
        ("²", "'²' is not known here"),
        ("{a: b}", "is not known here"),
        ("\x1b[31mred", "is not known here"),
    ],
)
def test_a_word_that_is_none_is_asked_for_again(wrong: str, said: str, tmp_path: Path) -> None:
    lines = answered(*HEAD, "", wrong, "clay loam", *SKIPPED[2:], "")
    done = run("walk", "track.yaml", folder=tmp_path, answers=lines)
    assert done.code == 0
    assert said in done.out
    assert content(tmp_path / "track.yaml")["ground"] == {"texture": "clay_loam"}


@pytest.mark.parametrize("wrong", ["warm", "900 C", "12 apples", "nan", "1e999", "5 kPa"])
def test_a_number_that_cannot_be_is_asked_for_again(wrong: str, tmp_path: Path) -> None:
    lines = answered(*HEAD, *SKIPPED[:-1], wrong, "75 F", "")
    done = run("walk", "track.yaml", folder=tmp_path, answers=lines)
    assert done.code == 0
    assert "from -25 to 55 °C" in done.out
    assert content(tmp_path / "track.yaml")["air"] == {"temperature": "75 F"}


@pytest.mark.parametrize("wrong", ["yesterday", "2026-02-30", "17.5.2026", "20260517x"])
def test_a_date_that_is_none_is_asked_for_again(wrong: str, tmp_path: Path) -> None:
    lines = answered("x", wrong, "2026-05-17", "", *SKIPPED, "")
    done = run("walk", "track.yaml", folder=tmp_path, answers=lines)
    assert done.code == 0
    assert "is no date" in done.out
    assert content(tmp_path / "track.yaml")["date"] == "2026-05-17"


def test_a_name_too_long_for_a_sheet_is_asked_for_again(tmp_path: Path) -> None:
    lines = answered("e" * 500, "x", "2026-05-17", "v" * 500, "y", *SKIPPED, "")
    done = run("walk", "track.yaml", folder=tmp_path, answers=lines)
    assert done.code == 0
    assert done.out.count("at most 120 characters") == 2
    assert content(tmp_path / "track.yaml") == {"event": "x", "date": "2026-05-17", "venue": "y"}


@pytest.mark.parametrize("name", ["true", "null", "12", "2026-05-17", "a: b", "# x", "é→☂", "'"])
def test_a_name_that_looks_like_something_else_stays_a_name(name: str, tmp_path: Path) -> None:
    lines = answered(name, "2026-05-17", name, *SKIPPED, "")
    done = run("walk", "track.yaml", folder=tmp_path, answers=lines)
    assert done.code == 0, done.err
    walk = load_entry(tmp_path / "track.yaml", Walk)
    assert (walk.event, walk.venue) == (name, name)


def test_answers_that_cannot_both_be_true_are_asked_for_again(tmp_path: Path) -> None:
    """With the ones before kept: ten minutes of answers are not thrown away."""
    rest = [
        field
        for path, field in condition_fields().items()
        if path.startswith("walk.")
        and not field.listed
        and path not in {path for paths in FIRST_QUESTIONS for path in paths}
    ]
    given = {
        "walk.air.pressure_kpa": ["55"],
        "walk.air.elevation_m": ["0", "4800"],
        "walk.lap.length_m": ["2000"],
        "walk.lap.time_s": ["20", "120"],
    }
    lines = [line for field in rest for line in given.get(field.path, [""])]
    text = answered(*HEAD, *SKIPPED, "y", *lines, "")
    done = run("walk", "track.yaml", folder=tmp_path, answers=text)
    assert done.code == 0, done.err
    found = content(tmp_path / "track.yaml")
    assert found["air"] == {"pressure": 55.0, "elevation": 4800.0}
    assert found["lap"] == {"length": 2000.0, "time": 120.0}
    assert "is usual" in done.out
    assert "360 km/h" in done.out


def test_all_questions_and_the_jumps(tmp_path: Path) -> None:
    count = sum(
        path.startswith("walk.") and not field.listed for path, field in condition_fields().items()
    ) - len({path for paths in FIRST_QUESTIONS for path in paths})
    jumps = ["15 m", "0", "24", "slope", "20", "8 m", "1.5 m", "8", "2", ""]
    lines = answered(*HEAD, *SKIPPED, *[""] * count, *jumps, "")
    done = run("walk", "track.yaml", "--all", folder=tmp_path, answers=lines)
    assert done.code == 0, done.err
    assert content(tmp_path / "track.yaml")["jumps"] == [
        {
            "gap": "15 m",
            "drop": 0.0,
            "take_off_angle": 24.0,
            "landing": "slope",
            "landing_angle": 20.0,
        },
        {"gap": "8 m", "drop": "1.5 m", "take_off_angle": 8.0, "landing": "flat"},
    ]


@pytest.mark.parametrize("count", range(0, 12, 3))
def test_answers_that_end_early_write_nothing(count: int, tmp_path: Path) -> None:
    lines = answered(*[*HEAD, *SKIPPED][:count]) if count else ""
    said = refused("walk", "track.yaml", folder=tmp_path, answers=lines)
    assert said == ["the answers: they ended before the last question; nothing was written"]


def test_answers_that_are_no_text_write_nothing(tmp_path: Path) -> None:
    answers = b"caf\xe9\n2026-05-17\n\xff\n"
    said = refused("walk", "track.yaml", folder=tmp_path, answers=answers, process=True)
    assert len(said) == 1
    assert "not UTF-8" in said[0]


def test_a_file_that_is_there_is_kept(tmp_path: Path) -> None:
    (tmp_path / "track.yaml").write_text("mine\n", encoding="utf-8")
    said = refused("walk", "track.yaml", folder=tmp_path, answers=answered(*HEAD, *SKIPPED, ""))
    assert said == ["track.yaml: there is such a file already; choose another name, or --replace"]
    assert (tmp_path / "track.yaml").read_text(encoding="utf-8") == "mine\n"


def test_a_file_that_is_there_is_replaced_when_asked_to(tmp_path: Path) -> None:
    (tmp_path / "track.yaml").write_text("mine\n", encoding="utf-8")
    lines = answered(*HEAD, *SKIPPED, "")
    assert run("walk", "track.yaml", "--replace", folder=tmp_path, answers=lines).code == 0
    assert content(tmp_path / "track.yaml")["event"] == "Club day"


def test_replacing_is_whole_or_not_at_all(tmp_path: Path) -> None:
    (tmp_path / "track.yaml").write_text("mine\n", encoding="utf-8")
    refused("walk", "track.yaml", "--replace", folder=tmp_path, answers=answered(*HEAD))
    assert (tmp_path / "track.yaml").read_text(encoding="utf-8") == "mine\n"


@pytest.mark.parametrize("name", ["nowhere/track.yaml", ".", "a" * 300])
def test_a_place_that_cannot_be_written_is_told(name: str, tmp_path: Path) -> None:
    lines = answered(*HEAD, *SKIPPED, "")
    said = refused("walk", name, "--replace", folder=tmp_path, answers=lines)
    assert len(said) == 1
    assert said[0].startswith(f"{name}: ")


@pytest.mark.parametrize("name", ["nowhere/track.yaml", "."])
def test_a_place_that_cannot_be_written_is_told_before_the_first_question(
    name: str, tmp_path: Path
) -> None:
    """Nobody answers eight questions for nothing."""
    (said,) = refused("walk", name, folder=tmp_path, answers="")
    assert said.startswith(f"{name}: ")


@pytest.mark.skipif(os.name == "nt", reason="signals differ")
def test_ctrl_c_stops_with_a_word_and_writes_nothing(tmp_path: Path) -> None:
    with subprocess.Popen(
        [sys.executable, "-u", "-m", "setupadvisor", "walk", "track.yaml"],
        stdin=subprocess.PIPE,
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
        cwd=tmp_path,
        env=ENVIRONMENT,
    ) as process:
        assert process.stdin is not None
        assert process.stdout is not None
        assert process.stderr is not None
        process.stdin.write(answered(*HEAD).encode())
        process.stdin.flush()
        seen = b""
        while b"1 of 8" not in seen:
            seen += process.stdout.read1()
        time.sleep(0.2)
        process.send_signal(signal.SIGINT)
        error = process.stderr.read().decode()
        process.wait()
    assert process.returncode == 130
    assert error == "Stopped; nothing was written.\n"
    assert list(tmp_path.iterdir()) == []


def test_hints_belong_to_questions() -> None:
    asked = {paths[0] for paths in FIRST_QUESTIONS}
    assert set(HINTS) <= asked
    assert len(FIRST_QUESTIONS) == 8
