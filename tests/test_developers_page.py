"""DEVELOPERS.md: what it tells to write and to run works as it stands; what it names is there."""

from __future__ import annotations

import json
import re
from pathlib import Path
from typing import Any

import pytest

from tests.cli.commands import Done, run, write

ROOT = Path(__file__).resolve().parent.parent
PAGE = (ROOT / "DEVELOPERS.md").read_text(encoding="utf-8")
FIVE = PAGE[PAGE.index("## Write a rule in five minutes") : PAGE.index("## What to do where")]
# A file's name, a colon, and the block that goes into it.
FILES = dict(re.findall(r"`([\w/-]+\.yaml)`:\n\n```yaml\n(.*?)```", FIVE, re.S))
COMMANDS = [
    line.removeprefix("setupadvisor ").split()
    for block in re.findall(r"```sh\n(.*?)```", FIVE, re.S)
    for line in block.splitlines()
]


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The files of the page, written word by word."""
    made = tmp_path_factory.mktemp("five")
    for name, text in FILES.items():
        write(made, name, text)
    return made


def did(folder: Path, *words: str) -> Done:
    done = run(*words, folder=folder)
    assert (done.code, done.err) == (0, ""), words
    return done


def test_the_page_has_a_track_a_rule_cases_and_commands() -> None:
    assert set(FILES) == {"track.yaml", "our-rules/ruts.yaml", "our-rules/cases.yaml"}
    assert [words[0] for words in COMMANDS] == ["check", "advise", "check", "schema"]


def test_every_command_of_the_page_runs_as_it_stands(folder: Path) -> None:
    """The strict check too: the rule brings no finding into the bundled rules."""
    for words in COMMANDS:
        did(folder, *words)


def test_rules_cases_and_statements_of_the_page_hold(folder: Path) -> None:
    out = did(folder, "check", "our-rules").out
    assert "3 cases with 6 sentences, all hold" in out
    assert "1 sanity statement on " in out
    assert "no findings" in out


def test_the_sheet_shows_what_the_page_promises(folder: Path) -> None:
    words = ["advise", "track.yaml", "--rules", "our-rules", "--why"]
    out = " ".join(did(folder, *words).out.split())
    assert "rule:ours-ruts-bar-higher" in out
    assert "Put the second pair of boots in the truck" in out
    assert "Your own rules: ours-ruts-bar-higher" in out
    assert "Switched off: standing-bar-higher (our own rule" in out


def test_json_tells_of_rules_switched_off(folder: Path) -> None:
    words = ["advise", "track.yaml", "--rules", "our-rules", "--json"]
    rules: dict[str, Any] = json.loads(did(folder, *words).out)["basis"]["rules"]
    assert rules["of_the_team"] == ["ours-ruts-bar-higher"]
    assert rules["switched_off"] == [
        {"rule": "standing-bar-higher", "why": "our own rule says it by the depth of the ruts"}
    ]


@pytest.mark.parametrize("left_out", ["    balances: ", "  standing-bar-higher: "])
def test_without_balances_or_switch_off_the_check_says_what_to_mend(
    left_out: str, tmp_path: Path
) -> None:
    lines = FILES["our-rules/ruts.yaml"].splitlines()
    kept = [line for line in lines if not line.startswith((left_out, "switch_off:"))]
    if left_out.startswith("    "):
        kept = [line for line in lines if not line.startswith(left_out)]
    assert len(kept) < len(lines)
    write(tmp_path, "our-rules/ruts.yaml", "\n".join(kept))
    done = run("check", "--strict", "our-rules", folder=tmp_path)
    assert done.code == 1
    assert "ours-ruts-bar-higher" in done.out


def test_files_and_folders_that_the_page_names_are_there() -> None:
    named = set(re.findall(r"`((?:rules|datasets|tests|benchmarks|\.ci)/[\w./-]*)`", PAGE))
    assert named
    for name in named:
        assert (ROOT / name).exists(), name
    for name in set(
        re.findall(r"`((?:cli|entries|facts|advice|rulebook|learning)/[\w./]+)`", PAGE)
    ):
        assert "NAME" in name or (ROOT / "setupadvisor" / name).exists(), name
    for name in set(re.findall(r"\btest_\w+\.py\b", PAGE)):
        assert list((ROOT / "tests").rglob(name)), name
