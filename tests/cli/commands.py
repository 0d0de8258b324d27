"""Runs commands as a person does: a process of its own, in a folder of its own."""

from __future__ import annotations

import os
import subprocess
import sys
import tempfile
from dataclasses import dataclass
from pathlib import Path

from setupadvisor.entries.files import bundled

DATA = bundled("datasets")
WALKS = tuple(sorted((DATA / "walks").glob("*.yaml")))
# Loaded rules are kept between the commands of one test run, and nowhere else.
_CACHE = tempfile.TemporaryDirectory(prefix="setupadvisor-tests-")
ENVIRONMENT = {
    **{key: value for key, value in os.environ.items() if not key.startswith(("LC_", "LANG"))},
    "SETUPADVISOR_CACHE": _CACHE.name,
    "PYTHONIOENCODING": "utf-8",
    "COLUMNS": "100",
}


@dataclass(frozen=True)
class Done:
    """How a command ended."""

    code: int
    out: str
    err: str

    @property
    def mistakes(self) -> list[str]:
        """One line a mistake."""
        return self.err.splitlines()


def run(
    *words: str | Path,
    folder: Path,
    answers: str | bytes = "",
    module: bool = True,
    **environment: str,
) -> Done:
    """Run a command in a folder and check what holds for every command."""
    script = str(Path(sys.executable).with_name("setupadvisor"))
    start = [sys.executable, "-m", "setupadvisor"] if module else [script]
    done = subprocess.run(
        [*start, *map(str, words)],
        input=answers.encode() if isinstance(answers, str) else answers,
        capture_output=True,
        cwd=folder,
        env={**ENVIRONMENT, **environment},
        check=False,
    )
    encoding = environment.get("PYTHONIOENCODING", "utf-8").partition(":")[0]
    out, err = done.stdout.decode(encoding), done.stderr.decode("utf-8")
    assert "Traceback" not in err
    assert "Warning" not in err
    return Done(done.returncode, out, err)


def refused(*words: str | Path, folder: Path, answers: str | bytes = "") -> list[str]:
    """Run a command whose input is at fault: exit 1, nothing printed, nothing written."""
    before = {path: path.stat().st_mtime_ns for path in folder.rglob("*")}
    done = run(*words, folder=folder, answers=answers)
    assert done.code == 1, done.err
    assert done.err
    after = {path: path.stat().st_mtime_ns for path in folder.rglob("*")}
    assert after == before
    return done.mistakes


def write(folder: Path, name: str, text: str | bytes) -> Path:
    """Write a file and give its path."""
    path = folder / name
    path.parent.mkdir(parents=True, exist_ok=True)
    path.write_bytes(text.encode() if isinstance(text, str) else text)
    return path
