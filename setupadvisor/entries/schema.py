"""JSON Schemas of the entries, for editors that complete keys and underline mistakes."""

from __future__ import annotations

from typing import Any

from setupadvisor.entries.machine import Machine
from setupadvisor.entries.quantity import Entry
from setupadvisor.entries.rider import Rider
from setupadvisor.entries.session import Setup
from setupadvisor.entries.walk import Walk

DIALECT = "https://json-schema.org/draft/2020-12/schema"
_MODELS: dict[str, type[Entry]] = {
    "walk": Walk,
    "rider": Rider,
    "machine": Machine,
    "setup": Setup,
}


def entry_schemas() -> dict[str, dict[str, Any]]:
    """Give the JSON Schema of every kind of entry file.

    Returns
    -------
    dict of str to dict
        By kind: walk, rider, machine, setup.

    Notes
    -----
    A schema says less than the reader knows: it does not convert units, compare one value with
    another, or forgive the spelling of a word. What it passes may still have a mistake; `check`
    has the last word.

    References
    ----------
    JSON Schema, draft 2020-12.

    Examples
    --------
    >>> walk = entry_schemas()["walk"]
    >>> walk["required"]
    ['event', 'date']
    >>> walk["$defs"]["Hills"]["properties"]["steepest_climb"]["description"]
    'Steepest climb: a number from 0 to 60 °'
    """
    return {kind: _schema(kind, model) for kind, model in _MODELS.items()}


def _schema(kind: str, model: type[Entry]) -> dict[str, Any]:
    written: dict[str, Any] = _plain(model.model_json_schema(by_alias=True))
    return {"$schema": DIALECT, **written, "title": f"{kind} of setupadvisor"}


def _plain(node: Any) -> Any:
    """Take out what says nothing, and bring each description to where editors look for it."""
    if isinstance(node, list):
        return [_plain(item) for item in node]
    if not isinstance(node, dict):
        return node
    result = {key: _plain(value) for key, value in node.items()}
    properties = result.get("properties")
    if isinstance(properties, dict):
        for field in properties.values():
            field.pop("title", None)
            if field.get("default", 0) is None:
                del field["default"]
    # A value that may be left empty is one choice beside the others.
    choices = result.get("anyOf")
    if isinstance(choices, list) and len(choices) == 2 and choices[1] == {"type": "null"}:
        first = choices[0]
        if "description" in first:
            result["description"] = first.pop("description")
        if set(first) == {"anyOf"}:
            result["anyOf"] = [*first["anyOf"], choices[1]]
    return result
