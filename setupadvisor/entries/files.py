"""Entries from files, with every mistake named by file, line and key; atomic writing."""

from __future__ import annotations

import copy
import math
import os
import stat
from collections.abc import Iterator
from datetime import date
from importlib import import_module
from pathlib import Path
from typing import Any, TypeVar, get_args, get_origin

from pydantic import BaseModel, ValidationError
from pydantic.fields import FieldInfo

from setupadvisor.entries.messages import nearest, shown
from setupadvisor.entries.quantity import (
    Entry,
    Quantity,
    Word,
    alias_without_unit,
    field_kind,
)
from setupadvisor.entries.yaml_file import Document, KeyPath, read_yaml
from setupadvisor.errors import InputError, Mistake

# Of more mistakes in one entry nobody reads the end.
MOST_MISTAKES = 200

EntryType = TypeVar("EntryType", bound=Entry)


def load_entry(path: str | Path, model: type[EntryType]) -> EntryType:
    """Read and validate one entry file.

    Parameters
    ----------
    path : str or pathlib.Path
        The YAML file.
    model : type
        The entry's model: `Walk`, `Rider`, `Machine`, `Setup`.

    Returns
    -------
    Entry
        The validated record.

    Raises
    ------
    InputError
        With every mistake in the file.
    """
    return entry_from(read_yaml(path), model)


def entry_from(document: Document, model: type[EntryType]) -> EntryType:
    """Validate what a document holds.

    Parameters
    ----------
    document : Document
        As read from YAML.
    model : type
        The entry's model.

    Returns
    -------
    Entry
        The validated record.

    Raises
    ------
    InputError
        With every mistake in the document.
    """
    entry, mistakes = try_entry(document, model)
    if entry is None or mistakes:
        raise InputError(mistakes)
    return entry


def try_entry(document: Document, model: type[EntryType]) -> tuple[EntryType | None, list[Mistake]]:
    """Validate what a document holds, returning the mistakes instead of raising them.

    Parameters
    ----------
    document : Document
        As read from YAML.
    model : type
        The entry's model.

    Returns
    -------
    tuple of Entry or None, and list of Mistake
        The record where it is valid, and all mistakes in the order of the file.
    """
    mistakes = list(document.mistakes)
    entry: EntryType | None = None
    if not isinstance(document.content, dict):
        what = "the file is empty" if document.content is None else "the file holds no keys"
        kind = model.__name__.lower()
        mistakes.append(Mistake(document.source, what, f"write a {kind}: {_required_keys(model)}"))
        return None, mistakes
    try:
        entry = model.model_validate(document.content)
    except ValidationError as error:
        details = error.errors(include_url=False)
        details += _contradictions_besides(details, document, model)
        mistakes += [_mistake(document, model, detail) for detail in details[:MOST_MISTAKES]]
        if len(details) > MOST_MISTAKES:
            found = f"{len(details) - MOST_MISTAKES} further mistakes are not listed"
            mistakes.append(Mistake(document.source, found, "mend these first"))
    source = f"{document.source}:"
    mistakes.sort(key=lambda mistake: _line(mistake.where.removeprefix(source)))
    return (entry if not mistakes else None), mistakes[: MOST_MISTAKES + 1]


def _line(where: str) -> float:
    digits = where.split(" ", 1)[0]
    return int(digits) if digits.isdigit() else math.inf


def _required_keys(model: type[Entry]) -> str:
    needed = [f.alias or n for n, f in model.model_fields.items() if f.is_required()]
    return f"at least {' and '.join(needed)}" if needed else "one key a line"


def _contradictions_besides(
    details: list[Any], document: Document, model: type[Entry]
) -> list[Any]:
    """Find what cannot be true together, beside values that are wrong by themselves.

    Pydantic compares the values of a group only when each of them is sound. Leaving out those
    that are not lets it compare the others, so that a person sees all mistakes at once.
    """
    sound = copy.deepcopy(document.content)
    told = {tuple(detail["loc"]) for detail in details}
    wrong = {
        _written_path(document, detail) for detail in details if detail["type"] != "contradiction"
    }
    # A group from which something was taken out is no longer the group that was written.
    told |= {path[:-1] for path in wrong}
    for path in sorted(wrong, key=len, reverse=True):  # what stands inside goes first
        _take_out(sound, path)
    try:
        model.model_validate(sound)
    except ValidationError as error:
        return [
            detail
            for detail in error.errors(include_url=False)
            if detail["type"] == "contradiction" and tuple(detail["loc"]) not in told
        ]
    return []


def _take_out(content: Any, path: KeyPath) -> None:
    for part in path[:-1]:
        content = content[part]
    if path and isinstance(content, dict):
        content.pop(path[-1], None)


def _written_path(document: Document, detail: Any) -> KeyPath:
    # Pydantic's path may end in parts of its own, such as the branch of a union; keep what stands
    # in the file, and the name of a key that should.
    path: KeyPath = tuple(detail["loc"])
    keep = 1 if detail["type"] == "missing" else 0
    while len(path) > keep and path[: len(path) - keep] not in document.lines:
        path = path[:-1]
    return path


def _mistake(document: Document, model: type[Entry], detail: Any) -> Mistake:
    path = _written_path(document, detail)
    found, mend = _in_plain_words(detail, model, path)
    more = detail.get("ctx", {})
    if more.get("first"):  # both paths begin at the entry, which stands further up in the file
        entry = tuple(detail["loc"])[: -len(more["at"])]
        found += f" (first in {document.where((*entry, *more['first']))})"
    return Mistake(document.where(path), found, mend)


def _in_plain_words(detail: Any, model: type[Entry], path: KeyPath) -> tuple[str, str]:
    kind, given = detail["type"], detail.get("input")
    limits = detail.get("ctx", {})
    if kind in {"mistake", "contradiction"}:
        return limits["found"], limits["mend"]
    if kind == "extra_forbidden":
        return "the key is unknown", _known_keys(model, path)
    if kind == "missing":
        return "the key is missing", _what_to_add(model, path)
    if kind in {"too_long", "too_short"}:
        most, least = limits.get("max_length"), limits.get("min_length")
        count = limits["actual_length"]
        if kind == "too_long":  # of a group's keys no more are counted than may stand there
            return f"{count or f'more than {most}'} stand here", f"write at most {most}"
        stand = f"{count} stand{'s' if count == 1 else ''}" if count else "nothing stands"
        return f"{stand} here", f"write at least {least}"
    groups = {"model_type", "model_attributes_type", "dict_type"}
    plain = {
        **dict.fromkeys(groups, _keys_below(model, path)),
        "list_type": "write a list: one item a line, each behind a dash",
        "bool_parsing": "write yes or no",
        "bool_type": "write yes or no",
    }
    mend = plain.get(kind) or f"{str(detail['msg'])[:1].lower()}{detail['msg'][1:]}"
    return f"{shown(given)} does not fit here", mend


def _keys_below(model: type[Entry], path: KeyPath) -> str:
    inner = _model_at(model, path)
    if inner is model:
        return "write keys below it, indented"
    return f"write keys below it, indented: {', '.join(_fields(inner))}"


def _what_to_add(model: type[Entry], path: KeyPath) -> str:
    field = _fields(_model_at(model, path[:-1]))[str(path[-1])]
    kind = field_kind(field)
    if isinstance(kind, Quantity):
        return f"add it, with {kind.example()}"
    if isinstance(kind, Word):
        return f"add it, with one of {', '.join(kind.choices)}"
    if field.annotation is date:
        return "add it, as in 2026-05-17"
    inner = _entry_inside(field.annotation)
    if inner is None:
        return "add it"
    each = "and one key a setting, each with" if get_origin(field.annotation) is dict else "with"
    return f"add it, {each} keys below it: {', '.join(_fields(inner))}"


def _known_keys(model: type[Entry], path: KeyPath) -> str:
    here = _fields(_model_at(model, path[:-1]))
    wrong = alias_without_unit(str(path[-1]))
    everywhere: dict[str, list[str]] = {}
    for keys in _paths(model):
        everywhere.setdefault(keys[-1], []).append(".".join(keys))
    if wrong not in here and wrong in everywhere:
        return f"it belongs to {' or '.join(everywhere[wrong])}"
    near = wrong if wrong in here else nearest(wrong, here)
    if near is not None:
        unit = getattr(field_kind(here[near]), "unit", "")
        return f"did you mean {near}?" + (f" (plain numbers are in {unit})" if unit else "")
    near = nearest(wrong, everywhere)
    elsewhere = f"did you mean {' or '.join(everywhere[near])}? " if near is not None else ""
    return f"{elsewhere}known here: {', '.join(here)}"


def _paths(model: type[BaseModel]) -> Iterator[tuple[str, ...]]:
    for name, field in _fields(model).items():
        inner = _entry_inside(field.annotation)
        if inner is None:
            yield (name,)
        elif get_origin(field.annotation) is not dict:  # the names in between are not known
            yield from ((name, *rest) for rest in _paths(inner))


def _model_at(model: type[BaseModel], path: KeyPath) -> type[BaseModel]:
    in_a_mapping = False
    for part in path:
        if isinstance(part, int) or in_a_mapping:
            in_a_mapping = False
            continue
        field = _fields(model).get(part)
        inner = _entry_inside(field.annotation) if field else None
        if field is None or inner is None:
            return model
        in_a_mapping = get_origin(field.annotation) is dict
        model = inner
    return model


def _entry_inside(annotation: Any) -> type[BaseModel] | None:
    if isinstance(annotation, type) and issubclass(annotation, BaseModel):
        return annotation
    return next(filter(None, map(_entry_inside, get_args(annotation))), None)


def _fields(model: type[BaseModel]) -> dict[str, FieldInfo]:
    return {field.alias or name: field for name, field in model.model_fields.items()}


def write_atomic(path: str | Path, content: bytes) -> None:
    """Write a file so that it is either whole or unchanged, whatever happens.

    Parameters
    ----------
    path : str or pathlib.Path
        Where to.
    content : bytes
        All of it.

    Raises
    ------
    InputError
        If the folder is missing, read-only or full.
    """
    import tempfile  # noqa: PLC0415 - only for those who write

    # Through a link to the file itself, which the link shall go on naming.
    target = Path(os.path.realpath(path))
    if target.is_dir():
        raise InputError(Mistake(str(path), "this is a folder", "name a file in it"))
    if not target.parent.is_dir():
        found = f"there is no folder {target.parent}"
        raise InputError(Mistake(str(path), found, "make the folder first, or choose another"))
    try:
        handle, temporary = tempfile.mkstemp(dir=target.parent, prefix=f".{target.name[:80]}.")
        try:
            with os.fdopen(handle, "wb") as stream:
                stream.write(content)
                stream.flush()
                os.fsync(stream.fileno())
            Path(temporary).chmod(_rights(target))
            Path(temporary).replace(target)
        except BaseException:
            Path(temporary).unlink(missing_ok=True)
            raise
    except OSError as error:
        reason = (error.strerror or "it cannot be written").lower()
        raise InputError(
            Mistake(str(path), reason, "choose a folder that can be written to")
        ) from None


def _rights(target: Path) -> int:
    try:
        return stat.S_IMODE(target.stat().st_mode)
    except FileNotFoundError:
        mask = os.umask(0)
        os.umask(mask)
        return 0o666 & ~mask


def bundled(*parts: str) -> Path:
    """Find a file that ships with the package, from any folder.

    Parameters
    ----------
    *parts : str
        ``"rules"`` or ``"datasets"``, then the names below it.

    Returns
    -------
    pathlib.Path
        The path; it need not exist.

    Examples
    --------
    >>> bundled("rules").is_dir()
    True
    """
    package = import_module(f"setupadvisor.bundled_{parts[0]}")
    return Path(package.__path__[0]).joinpath(*parts[1:])
