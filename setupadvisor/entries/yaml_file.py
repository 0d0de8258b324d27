"""Reading YAML written by hand or by a stranger: bounded, exact about lines, free of code.

Only what an entry needs is accepted: mappings, lists and plain values. Anchors, aliases and
tags are refused, so that no file can grow in memory or construct an object.
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

import yaml

from setupadvisor.errors import InputError, Mistake

LARGEST_FILE_BYTES = 8_000_000
DEEPEST_NESTING = 24

KeyPath = tuple[str | int, ...]

_NUMBER = re.compile(r"[-+]?(\d+(\.\d*)?|\.\d+)([eE][-+]?\d+)?")
_INTEGER = re.compile(r"[-+]?\d+")
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
        line = next(
            (self.lines[path[:n]] for n in range(len(path), -1, -1) if path[:n] in self.lines), 1
        )
        shown = ".".join(str(part + 1) if isinstance(part, int) else part for part in path)
        return f"{self.source}:{line} {shown}".rstrip()


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
            raise InputError(
                Mistake(
                    source,
                    f"the file holds {size / 1e6:.1f} MB",
                    f"at most {largest_bytes / 1e6:g} MB can be read; is it the right file?",
                )
            )
        return path.read_bytes().decode("utf-8-sig")
    except FileNotFoundError:
        raise InputError(Mistake(source, "there is no such file", "check the path")) from None
    except UnicodeDecodeError as error:
        raise InputError(
            Mistake(
                source,
                f"byte {error.start} is not UTF-8 text",
                "save the file as plain UTF-8 text",
            )
        ) from None
    except OSError as error:
        reason = (error.strerror or "it cannot be read").lower()
        raise InputError(Mistake(source, reason, "check the path and its rights")) from None


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
    loader: Any = getattr(yaml, "CSafeLoader", yaml.SafeLoader)
    events: Iterator[Any] = yaml.parse(text, Loader=loader)
    document = Document(source, None)
    try:
        content = _Builder(document, events).build()
    except yaml.MarkedYAMLError as error:
        mark = error.problem_mark or error.context_mark
        line = mark.line + 1 if mark else 1
        what = error.problem or "broken YAML"
        raise InputError(
            Mistake(
                f"{source}:{line}",
                f"the YAML breaks off here ({what})",
                "check indentation, colons, quotes and brackets on this line and the one above",
            )
        ) from None
    except yaml.reader.ReaderError as error:
        raise InputError(
            Mistake(
                source,
                f"character number {error.position} cannot stand in YAML text",
                "save the file as plain text",
            )
        ) from None
    return Document(source, content, document.lines, document.mistakes)


class _Builder:
    """Builds plain values from YAML events, recording lines; one pass, bounded depth."""

    def __init__(self, document: Document, events: Iterator[Any]) -> None:
        self.document = document
        self.events = events

    def build(self) -> Any:
        next(self.events)  # stream start
        event = next(self.events)
        if isinstance(event, yaml.StreamEndEvent):
            return None
        content = self.value(next(self.events), ())
        next(self.events)  # document end
        event = next(self.events)
        if not isinstance(event, yaml.StreamEndEvent):
            self.refuse(event, (), "a second document starts here", "keep one document a file")
        return content

    def refuse(self, event: Any, path: KeyPath, found: str, mend: str) -> None:
        shown = ".".join(str(part) for part in path)
        where = f"{self.document.source}:{event.start_mark.line + 1} {shown}".rstrip()
        raise InputError(Mistake(where, found, mend))

    def value(self, event: Any, path: KeyPath) -> Any:
        self.document.lines.setdefault(path, event.start_mark.line + 1)
        if isinstance(event, yaml.AliasEvent) or event.anchor is not None:
            self.refuse(event, path, "an anchor or alias (& or *)", "write the value out")
        if event.tag is not None and event.tag != "!":
            self.refuse(event, path, f"a tag ({event.tag})", "write the plain value")
        if len(path) > DEEPEST_NESTING:
            self.refuse(event, path[:3], f"more than {DEEPEST_NESTING} levels", "nest less deeply")
        if isinstance(event, yaml.ScalarEvent):
            return plain_value(event.value) if event.implicit[0] else event.value
        if isinstance(event, yaml.SequenceStartEvent):
            return self.sequence(path)
        return self.mapping(path)

    def sequence(self, path: KeyPath) -> list[Any]:
        items: list[Any] = []
        event = next(self.events)
        while not isinstance(event, yaml.SequenceEndEvent):
            items.append(self.value(event, (*path, len(items))))
            event = next(self.events)
        return items

    def mapping(self, path: KeyPath) -> dict[str, Any]:
        result: dict[str, Any] = {}
        event = next(self.events)
        while not isinstance(event, yaml.MappingEndEvent):
            if not isinstance(event, yaml.ScalarEvent) or event.anchor is not None:
                self.refuse(event, path, "a key that is no plain word", "use a plain word as key")
            key = str(event.value)
            key_path = (*path, key)
            line = event.start_mark.line + 1
            if key in result:
                self.document.mistakes.append(
                    Mistake(
                        f"{self.document.source}:{line} "
                        + ".".join(str(part) for part in key_path),
                        f"the key stands twice (first on line {self.document.lines[key_path]})",
                        "keep one of them",
                    )
                )
                self.value(next(self.events), (*path, f"{key} (again, line {line})"))
            else:
                self.document.lines[key_path] = line
                result[key] = self.value(next(self.events), key_path)
            event = next(self.events)
        return result


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
