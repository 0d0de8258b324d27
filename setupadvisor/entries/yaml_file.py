"""Reading YAML written by hand or by a stranger: bounded, exact about lines, free of code.

Only what an entry needs is accepted: mappings, lists and plain values. Anchors, aliases and
tags are refused, so that no file can grow in memory or construct an object.
"""

from __future__ import annotations

import re
from collections.abc import Callable
from dataclasses import dataclass, field, replace
from pathlib import Path
from typing import Any

import yaml

from setupadvisor.errors import InputError, Mistake

LARGEST_FILE_BYTES = 4_000_000
MOST_VALUES = 250_000
DEEPEST_NESTING = 24
LONGEST_SHOWN_KEY = 60

KeyPath = tuple[str | int, ...]

_NUMBER = re.compile(r"[-+]?(\d+(\.\d*)?|\.\d+)([eE][-+]?\d+)?")
_INTEGER = re.compile(r"[-+]?\d+")
# What the YAML specification does not let stand in a text; compiled only for a message.
_NOT_TEXT = "[^\t\n\r\x20-\x7e\x85\xa0-\ud7ff\ue000-\ufefe\uff00-\ufffd\U00010000-\U0010ffff]"
_PLAIN_VALUES = {"": None, "~": None, "null": None, "true": True, "false": False}


@dataclass(frozen=True)
class Document:
    """What one YAML file holds, and the line on which each key stands.

    Parameters
    ----------
    source : str
        The file's name as the person gave it.
    content : object
        Nested dicts, lists and plain values.
    lines : dict
        Key path to line number (from 1); a missing path falls back to its parent's line.
    mistakes : list of Mistake
        Duplicate keys and the like: found while reading, reported with all others.
    """

    source: str
    content: Any
    lines: dict[KeyPath, int] = field(default_factory=dict)
    mistakes: list[Mistake] = field(default_factory=list)

    def where(self, path: KeyPath) -> str:
        """Say where a key stands, for a message.

        Parameters
        ----------
        path : tuple of str and int
            The key's path; list places count from 0.

        Returns
        -------
        str
            ``"walk.yaml:12 air.pressure"``; list places are shown counted from 1.

        Examples
        --------
        >>> Document("walk.yaml", {}, {(): 1, ("air",): 3}).where(("air", "wind"))
        'walk.yaml:3 air.wind'
        """
        shown = ".".join(_shown_key(part) for part in path)
        return f"{self.source}:{self.line(path)} {shown}".rstrip()

    def line(self, path: KeyPath) -> int:
        """Say on which line a key stands, or the nearest key above it.

        Parameters
        ----------
        path : tuple of str and int
            The key's path.

        Returns
        -------
        int
            From 1.
        """
        return next(
            (self.lines[path[:n]] for n in range(len(path), -1, -1) if path[:n] in self.lines), 1
        )


def _shown_key(part: str | int) -> str:
    if isinstance(part, int):
        return str(part + 1)
    # A key comes from a stranger: it must not write on the reader's screen at will.
    printed = part if part.isprintable() else repr(part)[1:-1]
    return printed if len(printed) <= LONGEST_SHOWN_KEY else f"{printed[:LONGEST_SHOWN_KEY]}..."


def read_text(path: Path, largest_bytes: int = LARGEST_FILE_BYTES) -> str:
    """Read a UTF-8 text file, refusing what cannot be an entry.

    Parameters
    ----------
    path : pathlib.Path
        The file.
    largest_bytes : int
        Larger files are refused before they are read.

    Returns
    -------
    str
        The text, without a byte-order mark.

    Raises
    ------
    InputError
        If the file is missing, a folder, unreadable, too large or not UTF-8.
    """
    source = str(path)
    try:
        if path.is_dir():
            raise InputError(Mistake(source, "this is a folder", "name a file in it"))
        size = path.stat().st_size
        if size > largest_bytes:
            raise _too_large(source, f"{size / 1e6:.1f} MB", largest_bytes)
        with path.open("rb") as stream:
            content = stream.read(size + 1)
            if len(content) > size:
                # A device or a pipe has no size to ask for beforehand.
                content += stream.read(largest_bytes - size)
    except FileNotFoundError:
        raise InputError(Mistake(source, "there is no such file", "check the path")) from None
    except PermissionError:
        mend = "give yourself the right to read it"
        raise InputError(Mistake(source, "this file may not be read", mend)) from None
    except OSError as error:
        reason = (error.strerror or "it cannot be read").lower()
        raise InputError(Mistake(source, reason, "check the path and its rights")) from None
    if len(content) > largest_bytes:
        raise _too_large(source, "more than it should", largest_bytes)
    try:
        return content.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        line = content.count(b"\n", 0, error.start) + 1
        found = f"the text is not UTF-8 here (byte {error.start})"
        if content[:2] in {b"\xff\xfe", b"\xfe\xff"}:
            found = "the text is UTF-16"
        mend = "save the file again as plain UTF-8 text"
        raise InputError(Mistake(f"{source}:{line}", found, mend)) from None


def _too_large(source: str, size: str, largest_bytes: int) -> InputError:
    mend = f"at most {largest_bytes / 1e6:g} MB can be read; is it the right file?"
    return InputError(Mistake(source, f"the file holds {size}", mend))


def read_yaml(path: str | Path) -> Document:
    """Read one YAML file.

    Parameters
    ----------
    path : str or pathlib.Path
        The file.

    Returns
    -------
    Document
        Its content and lines; duplicate keys stand in ``mistakes``.

    Raises
    ------
    InputError
        If the file cannot be read at all (missing, a folder, too large, not UTF-8, broken or
        hostile YAML).
    """
    return parse_yaml(read_text(Path(path)), str(path))


def parse_yaml(text: str, source: str) -> Document:
    """Parse YAML text.

    Parameters
    ----------
    text : str
        The YAML.
    source : str
        The name to use in messages.

    Returns
    -------
    Document
        Its content and lines.

    Raises
    ------
    InputError
        If it is broken or hostile.

    Examples
    --------
    >>> parse_yaml("air: {temperature: 21, wind: light}", "walk.yaml").content
    {'air': {'temperature': 21, 'wind': 'light'}}
    """
    document = Document(source, None)
    try:
        parser: Any = getattr(yaml, "CSafeLoader", yaml.SafeLoader)(text)
        try:
            content = _Builder(document, parser.get_event).build()
        finally:
            parser.dispose()
    except yaml.MarkedYAMLError as error:
        raise InputError(_broken(error, text, source)) from None
    except yaml.reader.ReaderError:
        raise InputError(_not_text(text, source)) from None
    return Document(source, content, document.lines, document.mistakes)


def _not_text(text: str, source: str) -> Mistake:
    wrong = re.search(_NOT_TEXT, text)
    line = text.count("\n", 0, wrong.start()) + 1 if wrong else 1
    sign = f"the character U+{ord(wrong[0]):04X}" if wrong else "a character"
    return Mistake(
        f"{source}:{line}",
        f"{sign} cannot stand in YAML text",
        "save the file again as plain UTF-8 text",
    )


def _broken(error: yaml.MarkedYAMLError, text: str, source: str) -> Mistake:
    mark, began = error.problem_mark, error.context_mark
    line = mark.line + 1 if mark else 1
    what = error.problem or "broken YAML"
    lines = text.splitlines()
    here = lines[line - 1] if line <= len(lines) else ""
    mend = "check indentation, colons, quotes and brackets on this line and the one above"
    if "\t" in here[: len(here) - len(here.lstrip())]:
        mend = "indent with spaces, not with the tab key"
    elif "mapping values are not allowed" in what:
        mend = "put text that holds a colon in quotes; indent keys of one group alike"
    elif "cannot start any token" in what:
        mend = "put text that begins with a sign such as % @ or ` in quotes"
    elif began is not None and "quoted" in (error.context or ""):
        line, mend = began.line + 1, "close the quotes"
    elif began is not None and "flow" in (error.context or ""):
        mend = f"close the bracket that opens on line {began.line + 1}"
    return Mistake(f"{source}:{line}", f"this cannot be read as YAML ({what})", mend)


class _Builder:
    """Builds plain values from YAML events, recording lines; one pass, bounded depth and size."""

    def __init__(self, document: Document, event: Callable[[], Any]) -> None:
        self.document = document
        self.event = event

    def build(self) -> Any:
        self.event()  # stream start
        event = self.event()
        if isinstance(event, yaml.StreamEndEvent):
            return None
        content = self.value(self.event(), ())
        self.event()  # document end
        event = self.event()
        if not isinstance(event, yaml.StreamEndEvent):
            self.refuse(event, (), "a second document starts here", "keep one document a file")
        return content

    def refuse(self, event: Any, path: KeyPath, found: str, mend: str) -> None:
        line = event.start_mark.line + 1
        where = replace(self.document, lines={path: line}).where(path)
        raise InputError(Mistake(where, found, mend))

    def value(self, event: Any, path: KeyPath) -> Any:
        lines = self.document.lines
        lines.setdefault(path, event.start_mark.line + 1)
        if isinstance(event, yaml.AliasEvent) or event.anchor is not None:
            self.refuse(event, path, "an anchor or alias (& or *)", "write the value out")
        if event.tag is not None and event.tag != "!":
            self.refuse(event, path, f"a tag ({_shown_key(event.tag)})", "write the plain value")
        if len(path) > DEEPEST_NESTING:
            self.refuse(event, path[:3], f"more than {DEEPEST_NESTING} levels", "nest less deeply")
        if len(lines) > MOST_VALUES:
            found = f"more than {MOST_VALUES} values up to here"
            self.refuse(event, path[:3], found, "is it the right file?")
        if isinstance(event, yaml.ScalarEvent):
            return plain_value(event.value) if event.implicit[0] else event.value
        if isinstance(event, yaml.SequenceStartEvent):
            return self.sequence(path)
        return self.mapping(path)

    def sequence(self, path: KeyPath) -> list[Any]:
        items: list[Any] = []
        event = self.event()
        while not isinstance(event, yaml.SequenceEndEvent):
            items.append(self.value(event, (*path, len(items))))
            event = self.event()
        return items

    def mapping(self, path: KeyPath) -> dict[str, Any]:
        result: dict[str, Any] = {}
        event = self.event()
        while not isinstance(event, yaml.MappingEndEvent):
            key = self.key(event, path)
            key_path = (*path, key)
            line = event.start_mark.line + 1
            if key in result:
                first = self.document.lines[key_path]
                where = replace(self.document, lines={key_path: line}).where(key_path)
                self.document.mistakes.append(
                    Mistake(
                        where, f"the key stands twice (first on line {first})", "keep one of them"
                    )
                )
                self.value(self.event(), (*path, f"{key} (again, line {line})"))
            else:
                self.document.lines[key_path] = line
                result[key] = self.value(self.event(), key_path)
            event = self.event()
        return result

    def key(self, event: Any, path: KeyPath) -> str:
        plain = isinstance(event, yaml.ScalarEvent) and event.anchor is None and event.tag is None
        if not plain or not event.value:
            self.refuse(event, path, "a key that is no plain word", "use a plain word as key")
        return str(event.value)


def plain_value(text: str) -> Any:
    """Read an unquoted YAML value: number, true, false, nothing, or text.

    Unlike YAML 1.1, ``1:52.3`` stays text (a lap time) and so do ``yes``, ``no`` and dates.

    Parameters
    ----------
    text : str
        As written.

    Returns
    -------
    int, float, bool, None or str
        The value.

    Examples
    --------
    >>> [plain_value(text) for text in ("12", "4.6", "1:52.3", "true", "", "hard clay")]
    [12, 4.6, '1:52.3', True, None, 'hard clay']
    """
    if text in _PLAIN_VALUES:
        return _PLAIN_VALUES[text]
    if _INTEGER.fullmatch(text) and len(text) < 19:
        return int(text)
    if _NUMBER.fullmatch(text) and len(text) < 40:
        return float(text)
    return text
