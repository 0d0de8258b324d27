"""`facts`, `next` and `schema`: commands that look and write nothing."""

from __future__ import annotations

import json
import math
from pathlib import Path
from typing import Any

import pytest

from tests.cli.commands import DATA, WALKS, refused, run, run_process, write

MUD = DATA / "walks" / "mud.yaml"
SAID = "front pushes in flat corners"


def whole(text: str) -> Any:
    """JSON without NaN or infinity."""

    def refuse(name: str) -> None:
        raise AssertionError(name)

    return json.loads(text, parse_constant=refuse)


@pytest.mark.parametrize("walk", WALKS, ids=lambda path: path.stem)
def test_facts_of_every_bundled_walk(walk: Path, tmp_path: Path) -> None:
    done = run("facts", walk, folder=tmp_path)
    assert (done.code, done.err) == (0, "")
    assert max(map(len, done.out.splitlines())) <= 100
    found = whole(run("facts", walk, "--json", folder=tmp_path).out)
    values = {fact["name"]: fact["value"] for fact in found["facts"]}
    assert len(values) > 60
    assert all(value is None or math.isfinite(value) for value in values.values())


@pytest.mark.parametrize("walk", WALKS, ids=lambda path: path.stem)
def test_a_next_change_on_every_bundled_walk(walk: Path, tmp_path: Path) -> None:
    done = run("next", walk, "--said", SAID, folder=tmp_path)
    assert (done.code, done.err) == (0, "")
    assert max(map(len, done.out.splitlines())) <= 100
    assert "NEXT CHANGE" in done.out
    assert "CAUTIONS" in done.out
    found = whole(run("next", walk, "--said", SAID, "--json", folder=tmp_path).out)
    assert found["proposals"]


def test_words_that_nobody_understands_are_told(tmp_path: Path) -> None:
    said = refused("next", MUD, "--said", "the moon is green", folder=tmp_path)
    assert said
    assert all(line.startswith("--said ") and "; " in line for line in said)


@pytest.mark.parametrize(
    ("tried", "found"),
    [
        ("shock_rebound_low 12 10", "this is not setting, from, to and verdict"),
        ("shock_rebound_low 12 10 fine", "this is not setting, from, to and verdict"),
        ("seat 12 10 worse", "no setting 'seat'"),
        ("shock_rebound_low 12 900 worse", "900"),
        ("shock_rebound_low 12 soft worse", "'soft'"),
    ],
)
def test_a_trial_that_cannot_be_is_told(tried: str, found: str, tmp_path: Path) -> None:
    said = refused("next", MUD, "--said", SAID, "--tried", tried, folder=tmp_path)
    assert len(said) == 1
    assert said[0].startswith(f"--tried {tried!r}: ")
    assert found in said[0]


@pytest.mark.parametrize("words", [["facts"], ["next", "--said", SAID]], ids=["facts", "next"])
def test_a_broken_walk_is_refused(words: list[str], tmp_path: Path) -> None:
    write(tmp_path, "walk.yaml", "event: x\ndate: 2026-05-17\nkind: beach\n")
    (said,) = refused(words[0], "walk.yaml", *words[1:], folder=tmp_path)
    assert said.startswith("walk.yaml:3 kind: 'beach' is not known here; ")


def test_schema_is_json_for_every_kind_of_file(tmp_path: Path) -> None:
    done = run_process("schema", folder=tmp_path, PYTHONIOENCODING="ascii")
    assert (done.code, done.err) == (0, "")
    found = whole(done.out)
    assert {"walk", "rider", "machine", "setup", "rules"} <= set(found)
    for name, schema in found.items():
        alone = whole(run("schema", name, folder=tmp_path).out)
        assert alone == schema
    assert list(tmp_path.iterdir()) == []
