"""Entries from files, with every mistake named by file, line and key; atomic writing."""

from __future__ import annotations

import os
import tempfile
from collections.abc import Callable, Iterable
from difflib import get_close_matches
from importlib.resources import files
from pathlib import Path
from typing import Any, TypeVar

from pydantic import BaseModel, ValidationError

from setupadvisor.entries.quantity import Entry, alias_without_unit, field_kind, shown
from setupadvisor.entries.yaml_file import Document, KeyPath, read_yaml
from setupadvisor.errors import InputError, Mistake

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
    kind = model.__name__.lower()
    mistakes = list(document.mistakes)
    entry: EntryType | None = None
    if not isinstance(document.content, dict):
        what = "the file is empty" if document.content is None else "the file holds no keys"
        mistakes.append(Mistake(document.source, what, f"write a {kind}: {_required_keys(model)}"))
        return None, mistakes
    try:
        entry = model.model_validate(document.content)
    except ValidationError as error:
        mistakes.extend(
            _mistake(document, model, detail)
            for detail in error.errors(include_url=False, include_input=True)
        )
    mistakes.sort(key=_line)
    return (entry if not mistakes else None), mistakes


def _line(mistake: Mistake) -> int:
    place = mistake.where.split(" ", 1)[0].rsplit(":", 1)[-1]
    return int(place) if place.isdigit() else 0


def _required_keys(model: type[Entry]) -> str:
    needed = [f.alias or n for n, f in model.model_fields.items() if f.is_required()]
    return f"at least {' and '.join(needed)}" if needed else "one key a line"


def _mistake(document: Document, model: type[Entry], detail: Any) -> Mistake:
    # Pydantic names the parts of a union and the keys of a mapping in the path; keep what stands
    # in the file.
    path: KeyPath = tuple(
        part for part in detail["loc"] if isinstance(part, int) or not part.startswith("function-")
    )
    while path and path not in document.lines and path[:-1] not in document.lines:
        path = path[:-1]
    found, mend = _in_plain_words(detail, model, path)
    return Mistake(document.where(path), found, mend)


def _in_plain_words(detail: Any, model: type[Entry], path: KeyPath) -> tuple[str, str]:
    kind, given = detail["type"], detail.get("input")
    if kind == "mistake":
        return detail["ctx"]["found"], detail["ctx"]["mend"]
    if kind == "extra_forbidden":
        return "the key is unknown", _known_keys(model, path)
    if kind == "missing":
        return "the key is missing", "it is needed; add it"
    limits = detail.get("ctx", {})
    plain: dict[str, Callable[[], str]] = {
        "date_from_datetime_parsing": lambda: "write a date as 2026-05-17",
        "date_parsing": lambda: "write a date as 2026-05-17",
        "date_type": lambda: "write a date as 2026-05-17",
        "string_type": lambda: "write text (in quotes where it looks like a number)",
        "string_too_short": lambda: "write at least one character",
        "string_too_long": lambda: f"write at most {limits['max_length']} characters",
        "model_type": lambda: "write keys below it, indented",
        "model_attributes_type": lambda: "write keys below it, indented",
        "dict_type": lambda: "write keys below it, indented",
        "list_type": lambda: "write a list: one item a line, each behind a dash",
        "too_long": lambda: f"at most {limits.get('max_length')} items can stand here",
        "too_short": lambda: f"at least {limits.get('min_length')} must stand here",
        "float_type": lambda: "write a number",
        "float_parsing": lambda: "write a number",
        "int_parsing": lambda: "write a whole number",
        "int_type": lambda: "write a whole number",
        "bool_parsing": lambda: "write yes or no",
        "bool_type": lambda: "write yes or no",
    }
    mend = (
        plain[kind]() if kind in plain else f"{str(detail['msg'])[:1].lower()}{detail['msg'][1:]}"
    )
    return f"{shown(given)} does not fit here", mend


def _known_keys(model: type[Entry], path: KeyPath) -> str:
    keys = list(_aliases(model, path[:-1]))
    wrong = str(path[-1])
    near = get_close_matches(alias_without_unit(wrong), keys, n=1, cutoff=0.6)
    if near:
        return f"did you mean {near[0]}?{_unit_hint(model, path, near[0])}"
    return f"known here: {', '.join(keys)}"


def _model_at(model: type[BaseModel], path: KeyPath) -> type[BaseModel]:
    for part in path:
        if isinstance(part, int):
            continue
        field = next((f for f in model.model_fields.values() if f.alias == part), None)
        inner = _entry_inside(field.annotation) if field else None
        if inner is None:
            return model
        model = inner
    return model


def _entry_inside(annotation: Any) -> type[BaseModel] | None:
    if isinstance(annotation, type) and issubclass(annotation, BaseModel):
        return annotation
    for part in getattr(annotation, "__args__", ()):
        found = _entry_inside(part)
        if found is not None:
            return found
    return None


def _aliases(model: type[Entry], path: KeyPath) -> Iterable[str]:
    return [f.alias or n for n, f in _model_at(model, path).model_fields.items()]


def _unit_hint(model: type[Entry], path: KeyPath, key: str) -> str:
    for field in _model_at(model, path[:-1]).model_fields.values():
        if field.alias == key:
            unit = getattr(field_kind(field), "unit", "")
            return f" (plain numbers are in {unit})" if unit else ""
    return ""


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
    target = Path(path)
    try:
        handle, temporary = tempfile.mkstemp(dir=target.parent, prefix=f".{target.name}.")
        try:
            with os.fdopen(handle, "wb") as stream:
                stream.write(content)
                stream.flush()
                os.fsync(stream.fileno())
            Path(temporary).chmod(0o644)
            Path(temporary).replace(target)
        except BaseException:
            Path(temporary).unlink(missing_ok=True)
            raise
    except OSError as error:
        reason = (error.strerror or "it cannot be written").lower()
        raise InputError(
            Mistake(str(path), reason, "choose a folder that exists and can be written to")
        ) from None


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
    return Path(str(files(f"setupadvisor.bundled_{parts[0]}"))).joinpath(*parts[1:])
