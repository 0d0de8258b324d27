"""YAML as people and strangers write it: every refusal names the place and the mend."""

from __future__ import annotations

import os
import re
import threading
from pathlib import Path

import pytest
import yaml
from hypothesis import given
from hypothesis import strategies as st

from setupadvisor.entries import yaml_file
from setupadvisor.entries.yaml_file import (
    parse_yaml,
    plain_value,
    read_text,
    read_yaml,
)
from setupadvisor.errors import InputError
from tests.entries.rights import without_root_rights


def file_refusal(path: Path) -> str:
    with pytest.raises(InputError) as caught:
        read_yaml(path)
    assert len(caught.value.mistakes) == 1
    message = str(caught.value)
    assert message.startswith(str(path))
    return message.removeprefix(str(path))


# What is read.


def test_mappings_lists_and_plain_values_are_read() -> None:
    text = "air:\n  temperature: 21\n  wind: light\njumps:\n  - gap: 4.5\n  - {gap: 9, name: 'x'}\n"
    assert parse_yaml(text, "walk.yaml").content == {
        "air": {"temperature": 21, "wind": "light"},
        "jumps": [{"gap": 4.5}, {"gap": 9, "name": "x"}],
    }


def test_every_key_and_item_knows_its_line() -> None:
    text = "# a comment\nair:\n\n  wind: light\njumps:\n  - gap: 4\n    drop: 0\n  - gap: 9\n"
    document = parse_yaml(text, "walk.yaml")
    expected = {
        ("air",): 2,
        ("air", "wind"): 4,
        ("jumps",): 5,
        ("jumps", 0): 6,
        ("jumps", 0, "drop"): 7,
        ("jumps", 1, "gap"): 8,
    }
    assert {path: document.line(path) for path in expected} == expected


def test_place_of_a_missing_key_is_the_line_of_the_group_above_it() -> None:
    document = parse_yaml("event: x\njumps:\n  - gap: 4\n", "walk.yaml")
    assert document.where(("jumps", 0, "drop")) == "walk.yaml:3 jumps.1.drop"
    assert document.where(("lap",)) == "walk.yaml:1 lap"


def test_line_is_that_of_the_key_where_a_text_runs_over_lines() -> None:
    text = "note: >\n  one\n  two\nwind: light\n"
    document = parse_yaml(text, "walk.yaml")
    assert document.content == {"note": "one two\n", "wind": "light"}
    assert (document.line(("note",)), document.line(("wind",))) == (1, 4)


def test_lines_end_as_the_machine_that_wrote_them_ends_them() -> None:
    document = parse_yaml("a: 1\r\nb:\r\n  c: 2\r\n", "walk.yaml")
    assert document.content == {"a": 1, "b": {"c": 2}}
    assert document.line(("b", "c")) == 3


@pytest.mark.parametrize(
    ("written", "value"),
    [
        ("12", 12),
        ("-3", -3),
        ("4.6", 4.6),
        ("1e3", 1000.0),
        ("true", True),
        ("false", False),
        ("", None),
        ("~", None),
        ("null", None),
        # Where YAML 1.1 would give a number of seconds, a truth value, a day, an octal number.
        ("1:52.3", "1:52.3"),
        ("no", "no"),
        ("off", "off"),
        ("2026-05-17", "2026-05-17"),
        ("0x10", "0x10"),
        ("1_000", "1_000"),
        (".nan", ".nan"),
        (".inf", ".inf"),
        ("nan", "nan"),
        ("9" * 400, "9" * 400),
        ('"12"', "12"),
        ("'true'", "true"),
        ("61 %", "61 %"),
    ],
)
def test_a_plain_value_is_what_a_crew_means_by_it(written: str, value: object) -> None:
    content = parse_yaml(f"key: {written}\n", "walk.yaml").content
    assert content == {"key": value}
    assert type(content["key"]) is type(value)


@given(st.integers(-(10**17), 10**17))
def test_whole_numbers_come_back(number: int) -> None:
    assert plain_value(str(number)) == number


@given(st.floats(allow_nan=False, allow_infinity=False))
def test_numbers_come_back(number: float) -> None:
    assert plain_value(repr(number)) == number


plain_content = st.recursive(
    st.one_of(
        st.none(),
        st.booleans(),
        st.integers(-(10**6), 10**6),
        st.floats(-1e6, 1e6),
        st.text(st.characters(codec="utf-8", exclude_categories=["Cc", "Cs"]), max_size=12).filter(
            # A number to YAML 1.2 and to us, a text to YAML 1.1 and to the other program.
            lambda text: not re.match(r"[-+.\d]+[eE]", text)
        ),
    ),
    lambda inner: (
        st.lists(inner, max_size=3)
        | st.dictionaries(st.text("abcdefgh_ ", min_size=1, max_size=6), inner, max_size=3)
    ),
    max_leaves=12,
)


@given(plain_content)
def test_what_another_program_writes_is_read_alike(content: object) -> None:
    """The writer is PyYAML's own; it quotes what would not be read back as text."""
    text = yaml.safe_dump(content, allow_unicode=True)
    assert parse_yaml(text, "x.yaml").content == content


@pytest.mark.parametrize("text", ["", "# nothing\n", "\n\n", "---\n", "null\n"])
def test_a_text_without_content_holds_nothing(text: str) -> None:
    assert parse_yaml(text, "walk.yaml").content is None


# Duplicate keys are told with everything else; the first one counts.


def test_duplicate_keys_are_listed_with_both_lines_and_the_first_is_kept() -> None:
    text = "event: a\nair:\n  wind: calm\n  wind: strong\nevent: b\nair: {rain: none}\n"
    document = parse_yaml(text, "walk.yaml")
    assert document.content == {"event": "a", "air": {"wind": "calm"}}
    assert [str(mistake) for mistake in document.mistakes] == [
        "walk.yaml:4 air.wind: the key stands twice (first on line 3); keep one of them",
        "walk.yaml:5 event: the key stands twice (first on line 1); keep one of them",
        "walk.yaml:6 air: the key stands twice (first on line 2); keep one of them",
    ]


def test_equal_keys_of_different_groups_are_no_duplicates() -> None:
    document = parse_yaml("- {gap: 1}\n- {gap: 2}\n", "walk.yaml")
    assert document.mistakes == []


def test_duplicate_inside_a_list_is_counted_from_one() -> None:
    document = parse_yaml("jumps:\n  - gap: 1\n  - gap: 2\n    gap: 3\n", "walk.yaml")
    assert [mistake.where for mistake in document.mistakes] == ["walk.yaml:4 jumps.2.gap"]


# Files.


def test_byte_order_mark_is_no_part_of_the_first_key(tmp_path: Path) -> None:
    path = tmp_path / "walk.yaml"
    path.write_bytes(b"\xef\xbb\xbfevent: x\n")
    assert read_text(path) == "event: x\n"
    assert read_yaml(path).content == {"event": "x"}


def test_not_utf8_is_refused_with_the_line(tmp_path: Path) -> None:
    path = tmp_path / "walk.yaml"
    path.write_bytes("event: x\nvenue: Bäckerei\n".encode("latin-1"))
    assert file_refusal(path) == (
        ":2: the text is not UTF-8 here (byte 17); save the file again as plain UTF-8 text"
    )


@pytest.mark.parametrize("encoding", ["utf-16-le", "utf-16-be"])
def test_utf16_is_named(tmp_path: Path, encoding: str) -> None:
    path = tmp_path / "walk.yaml"
    path.write_bytes("\ufeffevent: x\n".encode(encoding))
    assert file_refusal(path).startswith(":1: the text is UTF-16;")


def test_missing_file_is_refused(tmp_path: Path) -> None:
    assert file_refusal(tmp_path / "no.yaml") == ": there is no such file; check the path"


def test_folder_is_refused(tmp_path: Path) -> None:
    assert file_refusal(tmp_path) == ": this is a folder; name a file in it"


def test_file_below_a_file_is_refused(tmp_path: Path) -> None:
    (tmp_path / "file").write_text("x", encoding="utf-8")
    assert file_refusal(tmp_path / "file" / "walk.yaml").startswith(": ")


def test_file_without_the_right_to_read_it_is_refused() -> None:
    with without_root_rights() as folder:
        path = folder / "walk.yaml"
        path.write_text("event: x\n", encoding="utf-8")
        path.chmod(0)
        assert file_refusal(path) == (
            ": this file may not be read; give yourself the right to read it"
        )


def test_file_of_fifty_megabytes_is_refused_before_it_is_read(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    path = tmp_path / "walk.yaml"
    with path.open("wb") as stream:
        stream.truncate(50_000_000)

    def opened(*_: object, **__: object) -> None:
        raise AssertionError("the file was opened")

    monkeypatch.setattr(Path, "open", opened)
    monkeypatch.setattr(Path, "read_bytes", opened)
    assert file_refusal(path) == (
        ": the file holds 50.0 MB; at most 4 MB can be read; is it the right file?"
    )


def test_file_at_the_limit_is_read_and_one_byte_more_is_not(tmp_path: Path) -> None:
    path = tmp_path / "text"
    path.write_bytes(b"#" * 100)
    assert len(read_text(path, 100)) == 100
    with pytest.raises(InputError, match="the file holds"):
        read_text(path, 99)


def test_a_pipe_without_end_is_read_no_further_than_the_limit(tmp_path: Path) -> None:
    """A pipe has no size to be asked for beforehand."""
    path = tmp_path / "pipe"
    os.mkfifo(path)

    def write() -> None:
        with path.open("wb") as stream:
            stream.write(b"#" * 1000)

    writer = threading.Thread(target=write)
    writer.start()
    with pytest.raises(InputError, match="the file holds more than it should"):
        read_text(path, 500)
    writer.join()


def test_reading_does_not_need_the_compiled_parser(monkeypatch: pytest.MonkeyPatch) -> None:
    """PyYAML is also installed without libyaml."""
    monkeypatch.delattr(yaml_file.yaml, "CSafeLoader", raising=False)
    document = parse_yaml("a: {b: 1}\nc: [x, 2]\nc: 3\n", "walk.yaml")
    assert document.content == {"a": {"b": 1}, "c": ["x", 2]}
    assert document.line(("a", "b")) == 1
    assert len(document.mistakes) == 1
    with pytest.raises(InputError, match=r"walk\.yaml:1 a: an anchor"):
        parse_yaml("a: &x 1\n", "walk.yaml")
    with pytest.raises(InputError, match=r"walk\.yaml:2: the character U\+0001"):
        parse_yaml("a: 1\nb: \x01\n", "walk.yaml")
    with pytest.raises(InputError, match="levels"):
        parse_yaml("[" * 5000 + "]" * 5000, "walk.yaml")
