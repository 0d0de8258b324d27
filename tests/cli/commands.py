"""Runs commands as a person does: in a folder, with answers typed in, and a look at the exit."""

from __future__ import annotations

import contextlib
import io
import os
import subprocess
import sys
import tempfile
from dataclasses import dataclass
from pathlib import Path
from unittest import mock

from setupadvisor.__main__ import main
from setupadvisor.entries.files import bundled

DATA = bundled("datasets")
WALKS = tuple(sorted((DATA / "walks").glob("*.yaml")))
# Loaded rules are kept between the commands of one test run, and nowhere else.
_CACHE = tempfile.TemporaryDirectory(prefix="setupadvisor-tests-")
_OURS = {"SETUPADVISOR_CACHE": _CACHE.name, "COLUMNS": "100"}
ENVIRONMENT = {
    **{key: value for key, value in os.environ.items() if not key.startswith(("LC_", "LANG"))},
    **_OURS,
    "PYTHONIOENCODING": "utf-8",
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


def run(*words: str | Path, folder: Path, answers: str | bytes = "") -> Done:
    """Run a command in a folder; anything it lets escape fails the test."""
    typed = answers.encode() if isinstance(answers, str) else answers
    out, err = io.StringIO(), io.StringIO()
    with (
        contextlib.chdir(folder),
        contextlib.redirect_stdout(out),
        contextlib.redirect_stderr(err),
        mock.patch.object(sys, "stdin", io.TextIOWrapper(io.BytesIO(typed), encoding="utf-8")),
        mock.patch.dict(os.environ, _OURS),
    ):
        try:
            code = main([str(word) for word in words])
        except SystemExit as stop:  # by argparse
            code = int(stop.code or 0)
    return Done(code, out.getvalue(), err.getvalue())


def run_process(
    *words: str | Path,
    folder: Path,
    answers: str | bytes = "",
    module: bool = True,
    **environment: str,
) -> Done:
    """Run a command in a process of its own."""
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


def refused(
    *words: str | Path, folder: Path, answers: str | bytes = "", process: bool = False
) -> list[str]:
    """Run a command whose input is at fault: exit 1, a word for each mistake, nothing written."""
    before = {path: path.stat().st_mtime_ns for path in folder.rglob("*")}
    done = (run_process if process else run)(*words, folder=folder, answers=answers)
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
