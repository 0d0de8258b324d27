"""Rule files that mean harm are refused, or read in bounded time and memory."""

from __future__ import annotations

from pathlib import Path

import pytest

from setupadvisor.errors import InputError
from setupadvisor.rulebook import loading, rule_files
from setupadvisor.rulebook.reading import MOST_MISTAKES
from tests.rulebook.small_world import TERMS, load, write


@pytest.mark.parametrize(
    ("text", "found"),
    [
        ("a: &a [x]\nb: *a\n", "an anchor or alias"),
        ("rules: !!python/object/apply:os.system [ls]\n", "a tag"),
        ("rules: " + "{a: " * 100 + "1" + "}" * 100, "more than 24 levels"),
        ("rules: " + "[" * 5000, "nesting depth"),
        ("rules: \x01", "cannot stand in YAML"),
    ],
)
def test_yaml_that_grows_or_runs_code_is_refused(tmp_path: Path, text: str, found: str) -> None:
    with pytest.raises(InputError, match=found):
        load(write(tmp_path, bad=text))


def test_a_file_of_a_million_rules_is_refused_before_it_is_read(tmp_path: Path) -> None:
    folder = write(tmp_path, many="rules:\n" + "".join(f" r{n}: {{}}\n" for n in range(1_000_000)))

    with pytest.raises(InputError, match="MB can be read"):
        load(folder)


def test_many_bad_rules_give_a_bounded_list_of_mistakes(tmp_path: Path) -> None:
    text = "subject: s\nrules:\n" + "".join(f"  r{n}: {{}}\n" for n in range(3000))

    with pytest.raises(InputError) as caught:
        load(write(tmp_path, a=text, b=text.replace("  r", "  s")))

    assert len(caught.value.mistakes) == MOST_MISTAKES + 1
    assert "further mistakes" in caught.value.mistakes[-1].found


def test_more_rules_than_a_rule_base_can_hold_are_refused(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(loading, "MOST_RULES", 2)
    keys = "{title: t, when: soft_ground, watch: [w], why: w, source: s}"
    text = "subject: s\nrules:\n" + "".join(f"  r{n}: {keys}\n" for n in range(3))

    with pytest.raises(InputError, match="more than 2 rules"):
        load(write(tmp_path, a=TERMS, b=text))


def test_folders_with_too_much_in_them_are_refused(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    folder = write(tmp_path, a=TERMS, b="subject: s")
    with monkeypatch.context() as patch:
        patch.setattr(rule_files, "MOST_RULE_FILES", 1)
        with pytest.raises(InputError, match="2 YAML files"):
            load(folder)
    with monkeypatch.context() as patch:
        patch.setattr(rule_files, "LARGEST_RULE_BASE_BYTES", 100)
        with pytest.raises(InputError, match="right folder"):
            load(folder)


def test_a_long_chain_of_terms_is_no_trouble(tmp_path: Path) -> None:
    chain = "".join(f"  t{n}: {{when: not t{n - 1}, why: w}}\n" for n in range(1, 3000))
    text = f"terms:\n  t0: {{fact: stickiness, points: [[0, 0], [1, 1]], why: w}}\n{chain}"

    assert len(load(write(tmp_path, a=text)).terms) == 3000


def test_a_long_circle_of_terms_is_one_mistake(tmp_path: Path) -> None:
    chain = "".join(f"  t{n}: {{when: t{(n + 1) % 2000}, why: w}}\n" for n in range(2000))

    with pytest.raises(InputError) as caught:
        load(write(tmp_path, a=f"terms:\n{chain}"))

    (mistake,) = caught.value.mistakes
    assert "stands on itself" in mistake.found
    assert len(mistake.found) < 500
