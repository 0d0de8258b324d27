"""Rules kept in the cache: the same as without, and never stale."""

from __future__ import annotations

import multiprocessing
import os
from collections.abc import Callable
from concurrent.futures import ProcessPoolExecutor
from pathlib import Path

import numpy as np
import pytest

from setupadvisor.errors import InputError
from setupadvisor.facts.fact import Fact
from setupadvisor.rulebook import cache
from setupadvisor.rulebook.cache import cache_folder, load_compiled
from setupadvisor.rulebook.compiled import Compiled, compile_degrees
from setupadvisor.rulebook.rulebase import RuleBase
from setupadvisor.rulebook.settings import SettingWords
from tests.rulebook.small_world import FACTS, RULES, SETTINGS, TERMS, load, write

NAMES = tuple(FACTS)

REMARKS = """
remarks:
  front-pushes:
    title: Front pushes
    where: flat_corner
    what: pushes
    end: front
    words: [push, washes]
    try:
      - change: {fork_height: 2 lower}
        gain: usual
        why: more weight on the front
        when: [not soft_ground]
        better: [slippery_ground]
        worse: {any: [metal_gate, {not: dusty_ground}]}
        caution: the steering gets quicker
      - check: [look at the axle]
        prepare: [look at the front tyre]
        gain: loose
        why: rounded knobs do not hold
    look_for: less push
    source: common practice, no source
"""
TEAM = """
subject: our own
switch_off:
  soft-after-gate: not with our tyres
rules:
  any-slip:
    title: Anything slips
    when: {any: [slippery_ground, {not: [metal_gate, soft_ground]}]}
    change: {start_lock_depth: 7.5 deeper}
    confidence: firm
    why: our own reason
    look_for: what we look for
    source: common practice, no source
    caution: where it hurts
    prepare: [one task, another task]
    watch: [a thing]
"""
SECOND = """
  any-slip:
    title: t
    when: slippery_ground
    change: {start_lock_depth: 5 deeper}
    confidence: firm
    why: w
    look_for: l
    source: common practice, no source
    balances: [soft-after-gate]
"""


@pytest.fixture
def kept(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """Use an empty cache folder."""
    folder = tmp_path / "kept" / "rules"
    monkeypatch.setenv("SETUPADVISOR_CACHE", str(folder))
    return folder


@pytest.fixture
def rules(tmp_path: Path) -> Path:
    """Write a folder of rules."""
    return write(tmp_path / "rules", terms=TERMS, start=RULES + SECOND, remarks=REMARKS)


@pytest.fixture
def no_building(monkeypatch: pytest.MonkeyPatch) -> Callable[[], None]:
    """From its call on, a rule base can only come from the cache."""

    def from_here_on() -> None:
        def refuse(*_: object) -> None:
            raise AssertionError("built from the files instead of taken from the cache")

        monkeypatch.setattr(cache, "build_rulebase", refuse)

    return from_here_on


def loaded(*folders: Path) -> tuple[RuleBase, Compiled]:
    return load_compiled(folders, FACTS, SETTINGS, NAMES)


def assert_same_compiled(one: Compiled, other: Compiled) -> None:
    for name in Compiled.__dataclass_fields__:
        left, right = getattr(one, name), getattr(other, name)
        if name == "levels":
            assert len(left) == len(right)
            for mine, theirs in zip(left, right, strict=True):
                assert (mine.largest, mine.start, mine.stop) == (
                    theirs.largest,
                    theirs.start,
                    theirs.stop,
                )
                np.testing.assert_array_equal(mine.parts, theirs.parts, strict=True)
                np.testing.assert_array_equal(mine.offsets, theirs.offsets, strict=True)
        elif isinstance(left, np.ndarray):
            np.testing.assert_array_equal(left, right, strict=True)
        else:
            assert left == right


def test_the_second_load_gives_the_same_without_building(
    tmp_path: Path, rules: Path, kept: Path, no_building: Callable[[], None]
) -> None:
    """Every field of every record has a value in these rules, so none can be forgotten."""
    team = write(tmp_path / "team", own=TEAM)
    first, compiled = loaded(rules, team)
    no_building()

    second, compiled_again = loaded(rules, team)

    assert second == first == load(rules, team)
    assert [off.reason for off in second.switched_off] == ["not with our tyres"]
    assert len(second.replaced) == 1
    assert second.meaning == first.meaning
    assert second.facts_read(second.rules[0]) == first.facts_read(first.rules[0])
    assert_same_compiled(compiled_again, compiled)
    assert_same_compiled(compiled_again, compile_degrees(first, NAMES))
    assert len(list(kept.iterdir())) == 1


EDITS = {
    "one letter of a reason": ("start", "the rear wheel spins", "the rear wheel spans"),
    "an amount, same length": ("start", "10 mm", "15 mm"),
    "a breakpoint, same length": ("terms", "700", "701"),
    "a comment": ("terms", "terms:", "# a note\nterms:"),
    "a blank line": ("start", "rules:", "\nrules:"),
}


@pytest.mark.parametrize("edit", EDITS.values(), ids=EDITS)
def test_an_edited_file_is_never_served_stale(
    rules: Path, kept: Path, edit: tuple[str, str, str]
) -> None:
    """Even where size and time of the file are the same as before."""
    before, _ = loaded(rules)
    name, old, new = edit
    path = rules / f"{name}.yaml"
    about = path.stat()
    text = path.read_text(encoding="utf-8")
    assert old in text
    path.write_text(text.replace(old, new), encoding="utf-8")
    os.utime(path, ns=(about.st_atime_ns, about.st_mtime_ns))

    after, _ = loaded(rules)

    assert after == load(rules)
    assert after != before


def test_a_touched_file_is_still_served_from_the_cache(
    rules: Path, kept: Path, no_building: Callable[[], None]
) -> None:
    before, _ = loaded(rules)
    os.utime(rules / "start.yaml", (1, 1))
    no_building()

    assert loaded(rules)[0] == before


def test_a_renamed_added_or_removed_file_is_noticed(rules: Path, kept: Path) -> None:
    loaded(rules)
    (rules / "start.yaml").rename(rules / "zzz.yaml")
    renamed, _ = loaded(rules)
    assert renamed == load(rules)
    assert renamed.rules[0].origin.file.endswith("zzz.yaml")

    write(rules, more=RULES.replace("soft-after-gate", "one-more"))
    assert "one-more" in loaded(rules)[0].by_id
    (rules / "more.yaml").unlink()
    assert "one-more" not in loaded(rules)[0].by_id


def test_the_same_texts_in_another_folder_name_that_folder(
    tmp_path: Path, rules: Path, kept: Path
) -> None:
    loaded(rules)
    moved = rules.rename(tmp_path / "moved")

    rule = loaded(moved)[0].rules[0]

    assert (rule.origin.folder, rule.origin.file) == (str(moved), str(moved / "start.yaml"))


def test_another_order_of_folders_is_another_rule_base(
    tmp_path: Path, rules: Path, kept: Path
) -> None:
    team = write(tmp_path / "team", own=RULES.replace("10 mm", "20 mm"))
    assert loaded(rules, team)[0].by_id["soft-after-gate"].changes[0].amount == 20
    assert loaded(team, rules)[0].by_id["soft-after-gate"].changes[0].amount == 10


def test_other_facts_settings_or_order_of_facts_are_noticed(rules: Path, kept: Path) -> None:
    loaded(rules)
    dust = FACTS["dust"]
    choices = ("some", "none", "heavy")
    other = Fact("dust", "dust", "", 0, 2, float, dust.inputs, dust.formula, dust.source, choices)
    rulebase, _ = load_compiled([rules], {**FACTS, "dust": other}, SETTINGS, NAMES)
    assert rulebase.terms["dusty_ground"].points == ((0, 1), (1, 0), (2, 1))

    backwards = NAMES[::-1]
    _, compiled = load_compiled([rules], FACTS, SETTINGS, backwards)
    assert compiled.fact_names == backwards

    words = {**SETTINGS, "start_lock_depth": SettingWords("mm", "in", "out", 5, 40, 170)}
    with pytest.raises(InputError, match="shallower"):
        load_compiled([rules], FACTS, words, NAMES)


def test_rules_read_by_other_code_are_read_anew(
    rules: Path, kept: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    loaded(rules)
    monkeypatch.setattr(cache, "_code_digest", lambda: "another code")
    built = []
    build = cache.build_rulebase
    monkeypatch.setattr(
        cache, "build_rulebase", lambda *given: built.append(given) or build(*given)
    )
    loaded(rules)
    assert len(built) == 1


def test_mistakes_are_reported_however_often_they_are_loaded(rules: Path, kept: Path) -> None:
    loaded(rules)
    path = rules / "start.yaml"
    path.write_text(path.read_text(encoding="utf-8").replace("not metal_gate", "not metall"))
    for _ in range(2):
        with pytest.raises(InputError, match="metall"):
            loaded(rules)
    assert len(list(kept.iterdir())) == 1


def _spoil_letter(content: bytes) -> bytes:
    return content.replace(b"the rear wheel", b"the fear wheel")


SPOILERS: dict[str, Callable[[bytes], bytes]] = {
    "one letter": _spoil_letter,
    "cut in half": lambda content: content[: len(content) // 2],
    "empty": lambda content: b"",
    "only its first line": lambda content: content.split(b"\n")[0] + b"\n",
    "something else": lambda content: b"\x93NUMPY" + bytes(range(256)),
    "more behind it": lambda content: content + b" ",
}


@pytest.mark.parametrize("spoil", SPOILERS.values(), ids=SPOILERS)
def test_a_damaged_or_foreign_file_is_passed_over_and_mended(
    rules: Path, kept: Path, spoil: Callable[[bytes], bytes], no_building: Callable[[], None]
) -> None:
    before, _ = loaded(rules)
    (path,) = kept.iterdir()
    good = path.read_bytes()
    assert spoil(good) != good
    path.write_bytes(spoil(good))

    assert loaded(rules)[0] == before
    assert path.read_bytes() == good
    no_building()
    assert loaded(rules)[0] == before


@pytest.mark.parametrize(
    "content", [b"{}", b"[]", b'{"terms": 3}', b"[" * 100_000, b'{"conditions": [["all", [7]]]}']
)
def test_a_sound_file_of_another_form_is_passed_over(
    rules: Path, kept: Path, content: bytes
) -> None:
    before, _ = loaded(rules)
    (path,) = kept.iterdir()
    path.write_bytes(cache._first_line(path.stem, content) + content)

    assert loaded(rules)[0] == before


def test_rules_of_another_digest_under_this_name_are_passed_over(
    tmp_path: Path, rules: Path, kept: Path
) -> None:
    loaded(rules)
    (own,) = kept.iterdir()
    other = write(tmp_path / "other", terms=TERMS, start=RULES)
    loaded(other)
    (foreign,) = set(kept.iterdir()) - {own}
    own.write_bytes(foreign.read_bytes())

    assert loaded(rules)[0] == load(rules)


def test_a_folder_that_cannot_be_made_costs_nothing_but_time(
    tmp_path: Path, rules: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    (tmp_path / "a file").write_text("in the way")
    monkeypatch.setenv("SETUPADVISOR_CACHE", str(tmp_path / "a file" / "kept"))

    assert loaded(rules)[0] == loaded(rules)[0] == load(rules)


@pytest.mark.skipif(
    not hasattr(os, "geteuid") or os.geteuid() == 0, reason="root may write everywhere"
)
def test_a_read_only_folder_costs_nothing_but_time(rules: Path, kept: Path) -> None:
    kept.mkdir(parents=True)
    kept.chmod(0o500)

    assert loaded(rules)[0] == loaded(rules)[0] == load(rules)
    assert list(kept.iterdir()) == []


def test_a_full_disk_leaves_nothing_half_written(
    rules: Path, kept: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    def full(self: Path, target: Path) -> None:
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(Path, "replace", full)

    assert loaded(rules)[0] == load(rules)
    assert list(kept.iterdir()) == []


def test_only_the_newest_are_kept(rules: Path, kept: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(cache, "MOST_KEPT", 2)
    path = rules / "start.yaml"
    kept.mkdir(parents=True)
    (kept / "of somebody else").write_text("stays")
    (kept / "old.unfinished").write_text("a writer that was stopped")
    os.utime(kept / "old.unfinished", (1, 1))
    for number in range(4):
        path.write_text(RULES.replace("10 mm", f"1{number} mm"), encoding="utf-8")
        loaded(rules)
        for old, found in enumerate(sorted(kept.glob("*.rules"), key=lambda p: p.stat().st_mtime)):
            os.utime(found, (1000 + old, 1000 + old))

    assert len(list(kept.glob("*.rules"))) == 2
    assert {path.name for path in kept.iterdir() if path.suffix != ".rules"} == {"of somebody else"}


def _load_again_and_again(folder: str, kept: str) -> int:
    os.environ["SETUPADVISOR_CACHE"] = kept
    path = Path(folder)
    right = load(path)
    wrong = 0
    for _ in range(40):
        wrong += loaded(path)[0] != right
        for found in Path(kept).glob("*.rules"):
            found.unlink(missing_ok=True)
    return wrong


def test_processes_that_write_and_delete_at_once_all_read_the_right_rules(
    rules: Path, kept: Path
) -> None:
    context = multiprocessing.get_context("spawn")
    with ProcessPoolExecutor(2, mp_context=context) as pool:
        runs = [pool.submit(_load_again_and_again, str(rules), str(kept)) for _ in range(2)]
        assert [run.result(timeout=120) for run in runs] == [0, 0]
    assert list(kept.glob("*.unfinished")) == []


def test_the_cache_can_be_switched_off(
    rules: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.chdir(tmp_path)
    monkeypatch.setenv("SETUPADVISOR_CACHE", "off")

    assert cache_folder() is None
    assert loaded(rules)[0] == load(rules)
    assert not (tmp_path / "off").exists()


def test_the_folder_follows_the_environment(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("SETUPADVISOR_CACHE", str(tmp_path / "own"))
    assert cache_folder() == tmp_path / "own"

    monkeypatch.delenv("SETUPADVISOR_CACHE")
    monkeypatch.setenv("XDG_CACHE_HOME", str(tmp_path / "xdg"))
    assert cache_folder() == tmp_path / "xdg" / "setupadvisor"

    monkeypatch.setenv("XDG_CACHE_HOME", "relative/is/ignored")
    monkeypatch.setenv("HOME", str(tmp_path / "home"))
    monkeypatch.setenv("LOCALAPPDATA", str(tmp_path / "local"))
    for platform, folder in {
        "linux": tmp_path / "home" / ".cache" / "setupadvisor",
        "darwin": tmp_path / "home" / "Library" / "Caches" / "setupadvisor",
        "win32": tmp_path / "local" / "setupadvisor",
    }.items():
        monkeypatch.setattr(cache.sys, "platform", platform)
        assert cache_folder() == folder


def test_without_a_home_there_is_no_cache(monkeypatch: pytest.MonkeyPatch) -> None:
    def homeless() -> Path:
        raise RuntimeError("Could not determine home directory.")

    monkeypatch.delenv("SETUPADVISOR_CACHE")
    monkeypatch.delenv("XDG_CACHE_HOME", raising=False)
    monkeypatch.setattr(cache.sys, "platform", "linux")
    monkeypatch.setattr(Path, "home", homeless)
    assert cache_folder() is None
