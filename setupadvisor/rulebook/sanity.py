"""Sanity statements: what must hold of the advice along an entry or a fact, whatever the walk.

They stand in rule folders under the key ``statements`` and are read on their own, by those who
test them: advice needs none.
"""

from __future__ import annotations

import re
from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Annotated, Any, Literal

from pydantic import Field, WithJsonSchema
from pydantic_core import PydanticCustomError

from setupadvisor.entries.quantity import EntryField, Quantity, Word, shown
from setupadvisor.entries.setting import Setting
from setupadvisor.entries.yaml_file import KeyPath, parse_yaml
from setupadvisor.errors import InputError
from setupadvisor.facts.columns import condition_fields
from setupadvisor.facts.fact import Fact
from setupadvisor.rulebook.cases_sentences import near
from setupadvisor.rulebook.forms import Form, Text
from setupadvisor.rulebook.reading import (
    MOST_MISTAKES,
    Origin,
    Reading,
    check_shape,
    good_name,
    group,
)
from setupadvisor.rulebook.rule_files import read_rule_files

MOST_STATEMENTS = 1000
_HAS_STATEMENTS = re.compile(r"\bstatements\b")

_Texts = Annotated[
    Any,
    WithJsonSchema({"anyOf": [{"type": "string"}, {"type": "array", "items": {"type": "string"}}]}),
]
_Reasons = Annotated[
    Any, WithJsonSchema({"type": "object", "additionalProperties": {"type": "string"}})
]


class StatementForm(Form):
    """What must hold along an entry or a fact, whatever else the walk says."""

    title: Text = Field(description="the statement in a sentence")
    along: _Texts = Field(
        description="'rising' or 'falling' and a key of walk or rider, or a fact; for "
        "'continuous' a list of keys"
    )
    between: Any = Field(None, description="[lowest, highest], where it holds in a range only")
    never: _Reasons = Field(None, description="setting: the direction it must not take")
    continuous: Any = Field(
        None, description="the largest jump of any setting, in its steps, for no change at all"
    )
    where: Annotated[Any, WithJsonSchema({"type": "object"})] = Field(
        None, description="keys of walk and rider that are given; nothing behind a key: not entered"
    )
    apart_from: _Reasons = Field(
        None, description="rules that make an exception, each with its reason"
    )
    leaving_out: _Reasons = Field(
        None, description="entries that 'continuous' is not stated of, each with its reason"
    )
    source: Text = Field(description="a published work by name, or 'common practice, no source'")


@dataclass(frozen=True, slots=True)
class Statement:
    """What must hold along an entry or a fact.

    Parameters
    ----------
    id : str
        Its name in the rule base.
    title : str
        The statement in a sentence.
    along : tuple of str
        Paths of entries (``walk.ground.cone_index_kpa``) or names of facts; one, or several where
        `largest_jump` is given.
    rising : bool
        Whether it is followed upwards.
    between : tuple of float
        The range it is followed in; empty for all of it.
    never : tuple of (str, str, int)
        Setting, direction word and its sign: what must not come.
    largest_jump : float
        In steps of the setting; 0 where `never` is stated.
    where : tuple of (str, float)
        Entries that are given, by path; NaN for one that is not entered.
    apart_from : tuple of (str, str)
        Rules that make an exception, and the reason.
    leaving_out : tuple of (str, str)
        Paths of entries along which nothing is stated, and the reason.
    source : str
        Where the claim comes from.
    where_it_stands : str
        File, line and key, for a message.
    origin : Origin
        Where it stands.
    """

    id: str
    title: str
    along: tuple[str, ...]
    rising: bool
    between: tuple[float, ...]
    never: tuple[tuple[str, str, int], ...]
    largest_jump: float
    where: tuple[tuple[str, float], ...]
    apart_from: tuple[tuple[str, str], ...]
    leaving_out: tuple[tuple[str, str], ...]
    source: str
    where_it_stands: str
    origin: Origin


@dataclass(frozen=True)
class _Known:
    fields: Mapping[str, EntryField]
    facts: Mapping[str, Fact]
    settings: Mapping[str, Setting]
    rules: Collection[str]


def load_statements(
    folder: Path,
    facts: Mapping[str, Fact],
    settings: Mapping[str, Setting],
    rules: Collection[str],
) -> dict[str, Statement]:
    """Read the sanity statements of one rule folder.

    Parameters
    ----------
    folder : pathlib.Path
        The rule folder.
    facts : mapping of str to Fact
        The facts there are.
    settings : mapping of str to Setting
        The machine's settings.
    rules : collection of str
        Ids of the rules.

    Returns
    -------
    dict of str to Statement
        By id.

    Raises
    ------
    InputError
        With every mistake of every statement.
    """
    files, mistakes = read_rule_files([folder])
    known = _Known(_fields_by_key(), facts, settings, rules)
    statements: dict[str, Statement | None] = {}
    for file in files:
        if not _HAS_STATEMENTS.search(file.text):
            continue
        try:
            reading = Reading(parse_yaml(file.text, file.path), file.folder)
        except InputError as error:
            mistakes.extend(error.mistakes)
            continue
        content = reading.document.content
        if isinstance(content, dict) and "statements" in content:
            _read_document(reading, content["statements"], known, statements)
            mistakes.extend(reading.document.mistakes)
            mistakes.extend(reading.mistakes)
    if mistakes:
        raise InputError(mistakes[:MOST_MISTAKES])
    return {name: found for name, found in statements.items() if found is not None}


def _fields_by_key() -> dict[str, EntryField]:
    """Give the entries by the key a person writes: ``ground.cone_index``, ``rider.mass``."""
    return {
        field.key if path.startswith("walk.") else f"rider.{field.key}": field
        for path, field in condition_fields().items()
    }


def _read_document(
    reading: Reading, written: Any, known: _Known, statements: dict[str, Statement | None]
) -> None:
    content = group(reading, ("statements",), written, "a statement's id and its keys")
    for name, keys in content.items():
        path: KeyPath = ("statements", name)
        if len(statements) >= MOST_STATEMENTS:
            too_many = f"there are more than {MOST_STATEMENTS} statements"
            reading.wrong(path, too_many, "take statements out")
            return
        if name in statements:
            reading.wrong(path, f"{name} stands in two files", "give one of them another name")
        before = len(reading.mistakes)
        good_name(reading, path, name)
        form = check_shape(reading, path, keys, StatementForm)
        found = _statement(reading, name, form, known) if form is not None else None
        statements[name] = found if len(reading.mistakes) == before else None


def _statement(reading: Reading, name: str, form: StatementForm, known: _Known) -> Statement | None:
    path: KeyPath = ("statements", name)
    if (form.never is None) == (form.continuous is None):
        mend = "write 'never: {SETTING: DIRECTION}' or 'continuous: 0.05'"
        reading.wrong(path, "it must be clear what is stated", mend)
        return None
    along, way = _along(reading, (*path, "along"), form, known)
    return Statement(
        id=name,
        title=form.title,
        along=along,
        rising=way != "falling",
        between=_between(reading, (*path, "between"), form.between, along, known),
        never=_never(reading, (*path, "never"), form.never, known),
        largest_jump=_jump(reading, (*path, "continuous"), form.continuous),
        where=_where(reading, (*path, "where"), form.where, known),
        apart_from=_reasons(reading, (*path, "apart_from"), form.apart_from, known),
        leaving_out=tuple(
            (known.fields[key].path, reason)
            for key, reason in _reasons(reading, (*path, "leaving_out"), form.leaving_out, known)
            if key in known.fields
        ),
        source=form.source,
        where_it_stands=reading.document.where(path),
        origin=reading.origin(path),
    )


def _along(
    reading: Reading, path: KeyPath, form: StatementForm, known: _Known
) -> tuple[tuple[str, ...], Literal["rising", "falling", ""]]:
    if form.continuous is not None:
        listed = form.along if isinstance(form.along, list) else [form.along]
        return tuple(
            _entry(reading, (*path, place), key, known) for place, key in enumerate(listed)
        ), ""
    way, _, key = str(form.along).strip().partition(" ")
    if not isinstance(form.along, str) or way not in {"rising", "falling"} or not key:
        mend = "write 'rising ground.cone_index' or 'falling ground.cone_index'"
        reading.wrong(path, f"{shown(form.along)} has no direction", mend)
        return (), ""
    return (_entry(reading, path, key.strip(), known),), way  # type: ignore[return-value]


def _entry(reading: Reading, path: KeyPath, key: Any, known: _Known) -> str:
    if isinstance(key, str) and key in known.facts:
        return key
    field = known.fields.get(key) if isinstance(key, str) else None
    if field is None:
        names = [*known.fields, *known.facts]
        otherwise = "write a key of walk or rider, such as ground.cone_index, or a fact"
        found = f"there is no entry or fact {shown(key)}"
        reading.wrong(path, found, near(str(key), names, otherwise))
        return ""
    return field.path


def _between(
    reading: Reading, path: KeyPath, written: Any, along: Sequence[str], known: _Known
) -> tuple[float, ...]:
    if written is None:
        return ()
    field = next((field for field in known.fields.values() if field.path in along), None)
    kind = field.kind if field is not None else None
    try:
        if isinstance(written, list) and len(written) == 2:
            low, high = (
                kind.read(end) if isinstance(kind, Quantity) else float(end) for end in written
            )
            if low < high:
                return low, high
    except PydanticCustomError as error:
        context = error.context or {}
        reading.wrong(path, context["found"], context["mend"])
        return ()
    except (TypeError, ValueError):
        pass
    reading.wrong(path, f"{shown(written)} is no range", "write [lowest, highest]")
    return ()


def _never(
    reading: Reading, path: KeyPath, written: Any, known: _Known
) -> tuple[tuple[str, str, int], ...]:
    if written is None:
        return ()
    found = []
    for name, word in group(reading, path, written, "a setting and a direction").items():
        setting = known.settings.get(name)
        if setting is None:
            mend = near(name, known.settings, "the machine file lists the settings there are")
            reading.wrong((*path, name), "there is no such setting", mend)
            continue
        sign = (word == setting.up) - (word == setting.down)
        if not sign:
            mend = f"write '{setting.up}' or '{setting.down}'"
            reading.wrong((*path, name), f"{shown(word)} is no direction of {name}", mend)
        found.append((name, str(word), sign))
    return tuple(found)


def _jump(reading: Reading, path: KeyPath, written: Any) -> float:
    if written is None:
        return 0.0
    if isinstance(written, int | float) and not isinstance(written, bool) and 0 < written <= 1:
        return float(written)
    mend = "write the largest jump in steps of a setting, above 0 and up to 1"
    reading.wrong(path, f"{shown(written)} does not fit here", mend)
    return 0.0


def _where(
    reading: Reading, path: KeyPath, written: Any, known: _Known
) -> tuple[tuple[str, float], ...]:
    if written is None:
        return ()
    given = []
    for key, value in group(reading, path, written, "keys of walk or rider").items():
        field = known.fields.get(key)
        if field is None or field.kind is None:
            otherwise = "write a key of walk or rider, such as ground.texture"
            mend = near(key, known.fields, otherwise)
            reading.wrong((*path, key), "there is no such entry", mend)
            continue
        try:
            given.append((field.path, _number(field.kind, value)))
        except PydanticCustomError as error:
            context = error.context or {}
            reading.wrong((*path, key), context["found"], context["mend"])
    return tuple(given)


def _number(kind: Quantity | Word, value: Any) -> float:
    if value is None:
        return float("nan")
    read = kind.read(value)
    return float(kind.choices.index(read)) if isinstance(kind, Word) else float(read)


def _reasons(
    reading: Reading, path: KeyPath, written: Any, known: _Known
) -> tuple[tuple[str, str], ...]:
    if written is None:
        return ()
    kind, names = ("rule", known.rules) if path[-1] == "apart_from" else ("entry", known.fields)
    reasons = group(reading, path, written, f"the {kind} and the reason")
    for name, reason in reasons.items():
        if name not in names:
            found = f"there is no such {kind}"
            reading.wrong((*path, name), found, near(name, names, f"name a {kind}"))
        if not isinstance(reason, str) or not reason.strip():
            mend = "write in a sentence why there is an exception"
            reading.wrong((*path, name), f"{shown(reason)} is no reason", mend)
    return tuple((name, str(reason)) for name, reason in reasons.items())
