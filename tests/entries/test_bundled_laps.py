"""The lap table of the demo's day and the script that invents it."""

from __future__ import annotations

import subprocess
import sys
from pathlib import Path

import pytest
from setupadvisor.bundled_datasets import make_laps

from setupadvisor.entries.files import bundled

BUNDLED = bundled("datasets", "laps.csv")


def test_the_bundled_laps_are_what_the_script_writes(tmp_path: Path) -> None:
    again = tmp_path / "laps.csv"
    assert make_laps.main(["--out", str(again)]) == 0
    assert again.read_bytes() == BUNDLED.read_bytes(), (
        "run `python datasets/make_laps.py` and commit datasets/laps.csv"
    )


def test_help_is_printed_and_nothing_written(capsys: pytest.CaptureFixture[str]) -> None:
    before = BUNDLED.stat().st_mtime_ns
    with pytest.raises(SystemExit) as ended:
        make_laps.main(["--help"])
    assert ended.value.code == 0
    assert "Invent the demo's laps" in capsys.readouterr().out
    assert BUNDLED.stat().st_mtime_ns == before


@pytest.mark.parametrize("words", [["--laps", "3"], ["more.csv"], ["--out"]])
def test_unknown_arguments_are_refused_and_nothing_written(words: list[str]) -> None:
    """As a process, from another folder: the way a person runs it."""
    before = BUNDLED.stat().st_mtime_ns
    done = subprocess.run(
        [sys.executable, make_laps.__file__, *words], capture_output=True, text=True, check=False
    )
    assert done.returncode == 2
    assert "usage:" in done.stderr
    assert BUNDLED.stat().st_mtime_ns == before
