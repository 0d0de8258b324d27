"""YAML that is broken, or made to grow, to run or to hide something, is refused with its place."""

from __future__ import annotations

import tracemalloc

import pytest
from hypothesis import given
from hypothesis import strategies as st

from setupadvisor.entries.yaml_file import (
    DEEPEST_NESTING,
    LARGEST_FILE_BYTES,
    MOST_VALUES,
    Document,
    parse_yaml,
)
from setupadvisor.errors import InputError


def refusal(text: str) -> str:
    """The one message that refuses a text."""
    with pytest.raises(InputError) as caught:
        parse_yaml(text, "walk.yaml")
    assert len(caught.value.mistakes) == 1
    return str(caught.value)


# What could grow, run or hide something.


@pytest.mark.parametrize(
    ("text", "where"),
    [
        ("a: 1\nb: &x 2\n", "walk.yaml:2 b"),
        ("a: &x [1]\n", "walk.yaml:1 a"),
        ("a: &x {b: 1}\n", "walk.yaml:1 a"),
        ("a:\n  - 1\n  - *x\n", "walk.yaml:3 a.2"),
        ("a: {<<: *x}\n", "walk.yaml:1 a.<<"),
    ],
)
def test_anchors_and_aliases_are_refused(text: str, where: str) -> None:
    assert refusal(text) == f"{where}: an anchor or alias (& or *); write the value out"


@pytest.mark.parametrize("text", ["&x a: 1\n", "a: 1\n*a : 2\n", "? [a, b]\n: 1\n", '"": 1\n'])
def test_keys_that_are_no_plain_words_are_refused(text: str) -> None:
    assert "a key that is no plain word; use a plain word as key" in refusal(text)


def test_anchors_that_would_explode_are_refused_at_the_first_one() -> None:
    rows = ["a: &a [x,x,x,x,x,x,x,x,x]"]
    rows += [
        f"{then}: &{then} [{','.join([f'*{one}'] * 9)}]"
        for one, then in zip("abcdefgh", "bcdefghi", strict=True)
    ]
    assert refusal("\n".join(rows)).startswith("walk.yaml:1 a: an anchor or alias")


@pytest.mark.parametrize(
    ("text", "where", "tag"),
    [
        ("a: 1\nb: !!python/object/apply:os.system ['ls']\n", "walk.yaml:2 b", "python"),
        ("a: !!python/name:os.system\n", "walk.yaml:1 a", "python"),
        ("- 1\n- !mine x\n", "walk.yaml:2 2", "!mine"),
        ("a: !!float 1\n", "walk.yaml:1 a", "float"),
        ("%TAG ! tag:example.org,2026:\n---\na: !x 1\n", "walk.yaml:3 a", "example.org"),
    ],
)
def test_tags_are_refused(text: str, where: str, tag: str) -> None:
    message = refusal(text)
    assert message.startswith(f"{where}: a tag (")
    assert tag in message
    assert message.endswith("; write the plain value")


@pytest.mark.parametrize(("opening", "closing"), [("[", "]"), ("{a: ", "}")])
def test_nesting_is_read_to_the_limit_and_refused_beyond_it(opening: str, closing: str) -> None:
    deepest = opening * DEEPEST_NESTING + "1" + closing * DEEPEST_NESTING
    assert parse_yaml(deepest, "walk.yaml").content
    message = refusal(f"x:\n  {opening * 100}1{closing * 100}")
    assert message.startswith("walk.yaml:2 x")
    assert message.endswith(f": more than {DEEPEST_NESTING} levels; nest less deeply")


@pytest.mark.parametrize("text", ["[" * 100_000, "{a: " * 100_000, "- " * 50_000 + "1"])
def test_endless_nesting_is_refused_without_running_out_of_stack(text: str) -> None:
    assert refusal(text).startswith("walk.yaml:1")


def test_a_second_document_is_refused_where_it_starts() -> None:
    assert refusal("a: 1\n---\nb: 2\n").startswith("walk.yaml:2: a second document starts here")


def test_a_hundred_thousand_keys_are_read() -> None:
    text = "".join(f"key_{number}: {number}\n" for number in range(100_000))
    document = parse_yaml(text, "walk.yaml")
    assert len(document.content) == 100_000
    assert document.line(("key_99999",)) == 100_000


def test_more_values_than_any_entry_has_are_refused_before_they_fill_the_memory() -> None:
    text = "x: [" + "1," * (LARGEST_FILE_BYTES // 2 - 10) + "]"
    tracemalloc.start()
    message = refusal(text)
    _, most = tracemalloc.get_traced_memory()
    tracemalloc.stop()
    assert message.startswith("walk.yaml:1 x")
    assert f"more than {MOST_VALUES} values" in message
    assert most < 150e6


def test_one_huge_value_stays_one_text() -> None:
    text = "9" * 1_000_000
    assert parse_yaml(f"a: {text}\n", "walk.yaml").content == {"a": text}


def test_a_key_from_a_stranger_cannot_write_on_the_screen() -> None:
    where = parse_yaml('"\\e[2Jgone": 1\n', "walk.yaml").where(("\x1b[2Jgone",))
    assert where == "walk.yaml:1 \\x1b[2Jgone"


def test_a_long_key_is_shortened_in_a_message() -> None:
    assert len(Document("walk.yaml", {}).where(("k" * 5000,))) < 100


# Broken YAML, broken in many places.


@pytest.mark.parametrize(
    ("text", "line", "mend"),
    [
        ("a: 1\nb: [1, 2\nc: 3\n", 3, "close the bracket that opens on line 2"),
        ("a: 1\nb: {x: 1\n", 3, "close the bracket that opens on line 2"),
        ('a: 1\nb: "left open\nc: 3\n', 2, "close the quotes"),
        ("a: 1\nb: 'left open\nc: 3\n", 2, "close the quotes"),
        ("a:\n\tb: 1\n", 2, "indent with spaces, not with the tab key"),
        ("a: 1\n\tb: 2\n", 2, "indent with spaces, not with the tab key"),
        ("a: 1\nnote: wet: very\n", 2, "put text that holds a colon in quotes"),
        ("a: 1\n b: 2\n", 2, "indent keys of one group alike"),
        ("a: 1\nb: % of it\n", 2, "put text that begins with a sign such as % @ or ` in quotes"),
        ("a: 1\nb: @x\n", 2, "put text that begins with a sign"),
        ("a: 1\njust words\n", 3, "check indentation, colons, quotes and brackets"),
        ("- a\nb: 1\n", 2, "check indentation, colons, quotes and brackets"),
        ("a:\n  - 1\n b: 2\n", 3, "check indentation, colons, quotes and brackets"),
        ("a: 'it's'\n", 1, "check indentation, colons, quotes and brackets"),
    ],
)
def test_broken_yaml_is_refused_with_its_line_and_a_mend(text: str, line: int, mend: str) -> None:
    message = refusal(text)
    assert message.startswith(f"walk.yaml:{line}: this cannot be read as YAML (")
    assert mend in message


WALK = """\
event: "A round"
date: 2026-05-17
ground: {texture: loam, sand: 41 %, cone_index: 105 psi}
jumps:
  - name: 'Big table'
    gap: 62 ft
"""


@pytest.mark.parametrize("end", range(len(WALK) + 1))
def test_yaml_cut_off_anywhere_is_read_or_refused_but_never_fails(end: int) -> None:
    try:
        document = parse_yaml(WALK[:end], "walk.yaml")
    except InputError as error:
        assert str(error).startswith("walk.yaml:")
    else:
        assert WALK.startswith(WALK[:end])
        assert document.content is None or isinstance(document.content, dict | str)


@given(st.text(max_size=60))
def test_any_text_is_read_or_refused(text: str) -> None:
    try:
        parse_yaml(text, "walk.yaml")
    except InputError as error:
        assert str(error).startswith("walk.yaml")


@given(st.text("ab: -[]{}'\"\n&*!|>%@#,?\t0.", max_size=40))
def test_any_jumble_of_yaml_signs_is_read_or_refused(text: str) -> None:
    try:
        parse_yaml(text, "walk.yaml")
    except InputError as error:
        assert str(error).startswith("walk.yaml")


@pytest.mark.parametrize("sign", ["\x00", "\x01", "\x07", "\x1b", "\x7f", "\x9c", "\ufffe"])
def test_control_characters_are_refused_with_line_and_name(sign: str) -> None:
    message = refusal(f"a: 1\nb: x{sign}y\n")
    assert message == (
        f"walk.yaml:2: the character U+{ord(sign):04X} cannot stand in YAML text; "
        "save the file again as plain UTF-8 text"
    )
