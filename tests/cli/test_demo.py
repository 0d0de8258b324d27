"""`demo`: the whole job with nothing given."""

from __future__ import annotations

import json
import math
from pathlib import Path

from tests.cli.commands import run, run_process


def test_the_demo_ends_with_a_sheet_and_writes_nothing(tmp_path: Path) -> None:
    done = run_process("demo", folder=tmp_path, module=False)
    assert done.code == 0, done.err
    assert done.err == ""
    assert max(map(len, done.out.splitlines())) <= 100
    assert "Everything in it is invented" in done.out.splitlines()[0]
    for title in ("CHANGES WORTH MAKING", "THE SETUP", "WHAT THIS RESTS ON", "CAUTIONS"):
        assert f"\n{title}" in done.out
    assert "240 sessions of 20 events" in done.out
    # The day goes on: a next change, a verdict from laps, and back into the season.
    for title in ("NEXT CHANGE", "B AGAINST A"):
        assert f"\n{title}" in done.out
    assert "from 241 sessions now instead of 240" in " ".join(done.out.split())
    assert list(tmp_path.iterdir()) == []


def test_the_demo_s_json_is_the_advice(tmp_path: Path) -> None:
    done = run("demo", "--json", folder=tmp_path)
    assert done.code == 0
    found = json.loads(done.out)
    assert {"settings", "changes", "not_judged", "basis", "cautions"} <= set(found)
    for setting in found["settings"]:
        total = math.fsum(part["amount"] for part in setting["parts"])
        assert abs(total - setting["value"]) < 1e-9
    parts = {part["from"] for setting in found["settings"] for part in setting["parts"]}
    assert {"house", "rider", "past_sessions", "fitting"} <= parts
    assert any(source.startswith("rule:") for source in parts)
    assert found["basis"]["nearest"]
    assert sum(change["minutes"] for change in found["changes"]) <= 45
