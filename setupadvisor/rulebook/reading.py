"""What reading one rule file gathers: the mistakes, and the names it refers to."""

from __future__ import annotations

import re
from collections.abc import Collection, Iterable
from dataclasses import dataclass, field
from difflib import get_close_matches
from typing import Any

from pydantic import ValidationError

from setupadvisor.entries.quantity import shown
from setupadvisor.entries.yaml_file import Document, KeyPath
from setupadvisor.errors import Mistake
from setupadvisor.rulebook.forms import Form

# A file with more mistakes than this is not worth listing to the end.
MOST_MISTAKES = 1000
LONGEST_NAME = 80

_NAME = re.compile(r"[a-z][a-z0-9]*(?:[_-][a-z0-9]+)*")


@dataclass(frozen=True, slots=True)
class Origin:
    """Where a record stands.

    Parameters
    ----------
    folder : str
        The rule folder, as it was given.
    file : str
        The file, as a message names it.
    line : int
        From 1.
    """

    folder: str
    file: str
    line: int

    def __str__(self) -> str:
        return f"{self.file}:{self.line}"


@dataclass(frozen=True, slots=True)
class Reference:
    """A name that must stand somewhere in the rule base.

    Parameters
    ----------
    kind : str
        ``"term"`` or ``"rule"``.
    name : str
        The name referred to.
    path : tuple of str and int
        Where it is referred to.
    """

    kind: str
    name: str
    path: KeyPath


@dataclass
class Reading:
    """One document being read, with what was noticed.

    Parameters
    ----------
    document : Document
        The YAML document.
    folder : str
        The rule folder it belongs to.
    mistakes : list of Mistake
        In the order they were noticed, at most `MOST_MISTAKES`.
    references : list of Reference
        Names to look up once all files are read.
    """

    document: Document
    folder: str = ""
    mistakes: list[Mistake] = field(default_factory=list)
    references: list[Reference] = field(default_factory=list)

    def wrong(self, path: KeyPath, found: str, mend: str) -> None:
        """Note a mistake at a key's path."""
        if len(self.mistakes) < MOST_MISTAKES:
            self.mistakes.append(Mistake(self.document.where(path), found, mend))

    def refer(self, kind: str, name: str, path: KeyPath) -> None:
        """Note a name to look up later."""
        self.references.append(Reference(kind, name, path))

    def origin(self, path: KeyPath) -> Origin:
        """Say where a record stands."""
        lines = self.document.lines
        line = next((lines[path[:n]] for n in range(len(path), -1, -1) if path[:n] in lines), 1)
        return Origin(self.folder, self.document.source, line)


def group(reading: Reading, path: KeyPath, content: Any, example: str) -> dict[str, Any]:
    """Take a mapping, or note that it is none.

    Parameters
    ----------
    reading : Reading
        Takes the mistake.
    path : tuple of str and int
        Where the mapping stands.
    content : object
        As read from YAML.
    example : str
        What to write there.

    Returns
    -------
    dict
        The mapping; empty where there is none.
    """
    if isinstance(content, dict) and content:
        return content
    if content != {}:
        reading.wrong(path, f"{shown(content)} does not fit here", f"write {example}")
    else:
        reading.wrong(path, "nothing stands below this key", f"write {example}")
    return {}


def good_name(reading: Reading, path: KeyPath, name: str) -> bool:
    """Note a name that could not be told apart in a condition or a message.

    Parameters
    ----------
    reading : Reading
        Takes the mistake.
    path : tuple of str and int
        Where the name stands.
    name : str
        A term's name or a rule's id.

    Returns
    -------
    bool
        Whether it is a good name.
    """
    if len(name) <= LONGEST_NAME and _NAME.fullmatch(name):
        return True
    reading.wrong(
        path,
        f"{shown(name)} is no name",
        "use lower-case letters and digits joined by _ or -, beginning with a letter",
    )
    return False


def hint(name: str, known: Iterable[str], otherwise: str) -> str:
    """Say which known name is meant, or what to do otherwise.

    Parameters
    ----------
    name : str
        As written.
    known : iterable of str
        The known names.
    otherwise : str
        The mend when none is near.

    Returns
    -------
    str
        The mend.

    Examples
    --------
    >>> hint("soft_grond", ["soft_ground", "sand"], "define it")
    'did you mean soft_ground?'
    >>> hint("xyz", ["soft_ground", "sand"], "define it")
    'define it'
    """
    near = get_close_matches(name[:LONGEST_NAME], list(known), n=1, cutoff=0.6)
    return f"did you mean {near[0]}?" if near else otherwise


def known_word(
    reading: Reading, path: KeyPath, value: object, known: Collection[str]
) -> str | None:
    """Take one word out of a list, or note that it is none of them.

    Parameters
    ----------
    reading : Reading
        Takes the mistake.
    path : tuple of str and int
        Where the word stands.
    value : object
        As read from YAML.
    known : collection of str
        The words.

    Returns
    -------
    str or None
        The word.
    """
    # YAML's true and false, where the list has yes and no.
    word = {True: "yes", False: "no"}[value] if isinstance(value, bool) else value
    if isinstance(word, str) and word in known:
        return word
    listed = f"write one of {', '.join(known)}"
    reading.wrong(path, f"{shown(value)} is not known here", hint(str(word), known, listed))
    return None


def check_shape(reading: Reading, path: KeyPath, content: Any, form: type[Form]) -> Any:
    """Check a record's keys and texts against its form.

    Parameters
    ----------
    reading : Reading
        Takes the mistakes.
    path : tuple of str and int
        Where the record stands.
    content : object
        As read from YAML.
    form : type
        The record's form.

    Returns
    -------
    Form or None
        The filled form; None if anything in it is wrong.
    """
    try:
        return form.model_validate(content)
    except ValidationError as error:
        for detail in error.errors(include_url=False):
            found, mend = _plainly(detail, form)
            place = tuple(part for part in detail["loc"] if part != "[key]")
            reading.wrong((*path, *place), found, mend)
    return None


def _plainly(detail: Any, form: type[Form]) -> tuple[str, str]:
    kind, given, limits = detail["type"], detail.get("input"), detail.get("ctx", {})
    if kind == "extra_forbidden":
        keys = [field.alias or name for name, field in form.model_fields.items()]
        return "the key is unknown", hint(
            str(detail["loc"][-1]), keys, f"known here: {', '.join(keys)}"
        )
    if kind == "missing":
        field_name = str(detail["loc"][-1])
        described = next(
            (f.description for n, f in form.model_fields.items() if field_name in {n, f.alias}), ""
        )
        return "the key is missing", f"add it: {described}"
    mends = {
        "string_type": "write text (in quotes where it looks like a number)",
        "string_too_short": "write some text, or leave the key out if it is not needed",
        "string_too_long": f"write at most {limits.get('max_length')} characters",
        "list_type": "write a list: one item a line, each behind a dash",
        "too_short": "write at least one item, or leave the key out if it is not needed",
        "too_long": f"at most {limits.get('max_length')} items can stand here",
        "literal_error": f"write one of {limits.get('expected')}",
        "model_type": "write keys below it, indented",
        "dict_type": "write keys below it, indented",
    }
    return f"{shown(given)} does not fit here", mends.get(kind, str(detail["msg"]).lower())
