"""JSON Schema of rule files, for editors that complete keys and underline mistakes."""

from __future__ import annotations

import re
from collections.abc import Mapping
from typing import Any

from setupadvisor.facts.fact import Fact
from setupadvisor.rulebook.cases_drafts import CaseForm
from setupadvisor.rulebook.forms import (
    CONDITION,
    CandidateForm,
    Form,
    RemarkForm,
    RuleForm,
    TermForm,
)
from setupadvisor.rulebook.reading import LONGEST_NAME
from setupadvisor.rulebook.remarks import BEHAVIOURS, ENDS, MOST_CANDIDATES, PLACES
from setupadvisor.rulebook.sanity import StatementForm
from setupadvisor.rulebook.settings import SettingWords, unit_words

Schema = dict[str, Any]

_NAME_PATTERN = r"^[a-z][a-z0-9]*([_-][a-z0-9]+)*$"
_CONDITION_REFERENCE: Schema = {"$ref": "#/$defs/Condition"}
_CONDITION: Schema = {
    "description": "a term, 'not' and a term, a list (all of them), or one of any, all, not",
    "anyOf": [
        {"type": "string", "pattern": r"^\s*(not\s+)?\S+\s*$"},
        {"type": "array", "items": _CONDITION_REFERENCE, "minItems": 1},
        *(
            {
                "type": "object",
                "properties": {key: written},
                "required": [key],
                "additionalProperties": False,
            }
            for key, written in {
                "any": {"type": "array", "items": _CONDITION_REFERENCE, "minItems": 1},
                "all": {"type": "array", "items": _CONDITION_REFERENCE, "minItems": 1},
                "not": _CONDITION_REFERENCE,
            }.items()
        ),
    ],
}
# What a form cannot say key by key: which keys go together.
_TOGETHER: Mapping[str, Schema] = {
    "Term": {
        "oneOf": [
            {"required": ["fact", "points"]},
            {"required": ["fact", "is"]},
            {"required": ["when"]},
        ]
    },
    "Rule": {
        "anyOf": [{"required": [key]} for key in ("change", "prepare", "watch")],
        "dependentRequired": {"change": ["confidence", "look_for"]},
    },
    "Candidate": {"anyOf": [{"required": [key]} for key in ("change", "check", "prepare")]},
}
_FORMS: Mapping[str, type[Form]] = {
    "Term": TermForm,
    "Rule": RuleForm,
    "Candidate": CandidateForm,
    "Remark": RemarkForm,
    "Case": CaseForm,
    "Statement": StatementForm,
}


def rule_file_schema(
    facts: Mapping[str, Fact] | None = None, settings: Mapping[str, SettingWords] | None = None
) -> Schema:
    """Give the JSON Schema of a rule file.

    Parameters
    ----------
    facts : mapping of str to Fact, optional
        Where given, a term's fact must be one of them, and an editor can offer their names.
    settings : mapping of str to SettingWords, optional
        Where given, a change must move one of them by its own direction words.

    Returns
    -------
    dict
        JSON Schema, draft 2020-12.

    Notes
    -----
    A schema says less than the reader knows: it does not look up terms and rules in other files
    nor compare amounts with ranges. What it passes may still have a mistake; `check` has the last
    word.

    References
    ----------
    JSON Schema, draft 2020-12.

    Examples
    --------
    >>> schema = rule_file_schema()
    >>> sorted(schema["properties"])
    ['cases', 'remarks', 'rules', 'statements', 'subject', 'switch_off', 'terms']
    >>> schema["$defs"]["Rule"]["required"]
    ['title', 'when', 'why', 'source']
    """
    records = {name: _record(name, form) for name, form in _FORMS.items()}
    remark = records["Remark"]["properties"]
    for key, words in (("where", PLACES), ("what", BEHAVIOURS), ("end", ENDS)):
        remark[key]["enum"] = list(words)
    remark["try"] |= {
        "type": "array",
        "items": {"$ref": "#/$defs/Candidate"},
        "minItems": 1,
        "maxItems": MOST_CANDIDATES,
    }
    if facts is not None:
        records["Term"]["properties"]["fact"] |= {"enum": [*facts, None]}
    if settings is not None:
        for name in ("Rule", "Candidate"):
            records[name]["properties"]["change"] |= _changes(settings)
    return {
        "$schema": "https://json-schema.org/draft/2020-12/schema",
        "title": "rules of setupadvisor",
        "type": "object",
        "additionalProperties": False,
        "minProperties": 1,
        "properties": {
            "subject": {
                "type": "string",
                "pattern": r"\S",
                "description": "what the file's rules are about, in a word or two",
            },
            "terms": _named("Term", "words with a degree between 0 and 1, by name"),
            "rules": _named("Rule", "rules of thumb, by id"),
            "remarks": _named("Remark", "what riders say, and what to try, by id"),
            "cases": _named("Case", "walks, and what must come out of them, by id"),
            "statements": _named("Statement", "what must hold whatever the walk, by id"),
            "switch_off": {
                "type": "object",
                "minProperties": 1,
                "additionalProperties": {"type": "string", "pattern": r"\S"},
                "description": "ids of earlier folders' rules, each with the reason",
            },
        },
        "dependentRequired": {"rules": ["subject"]},
        "$defs": {"Condition": _CONDITION, **records},
    }


def _named(record: str, description: str) -> Schema:
    return {
        "type": "object",
        "minProperties": 1,
        "propertyNames": {"pattern": _NAME_PATTERN, "maxLength": LONGEST_NAME},
        "additionalProperties": {"$ref": f"#/$defs/{record}"},
        "description": description,
    }


def _record(name: str, form: type[Form]) -> Schema:
    written: Schema = form.model_json_schema(by_alias=True)
    together = _TOGETHER.get(name, {})
    return {**_plain(written), "title": name.lower(), **together}


def _plain(node: Any) -> Any:
    """Take out what says nothing, and put conditions in their place."""
    if isinstance(node, list):
        return [_plain(item) for item in node]
    if not isinstance(node, dict):
        return node
    if node.get("title") == CONDITION:
        told = {key: node[key] for key in ("description",) if key in node}
        return {**_CONDITION_REFERENCE, **told}
    result = {key: _plain(value) for key, value in node.items()}
    for field in result.get("properties", {}).values():
        field.pop("title", None)
        field.pop("default", None)
    return result


def _changes(settings: Mapping[str, SettingWords]) -> Schema:
    return {
        "additionalProperties": False,
        "properties": {
            name: {
                "type": "string",
                "pattern": _amount_pattern(words),
                "description": f"an amount such as '1 {words.up}' or '1 {words.down}'"
                + (f", in {words.unit}" if words.unit else ""),
            }
            for name, words in settings.items()
        },
    }


def _amount_pattern(words: SettingWords) -> str:
    def spaced(text: str) -> str:
        return r"\s+".join(re.escape(part).replace(r"\-", "-") for part in text.split())

    units = "|".join(spaced(unit) for unit in unit_words(words.unit))
    directions = "|".join(spaced(word) for word in (words.up, words.down))
    return rf"^\s*(\d+([.,]\d*)?|[.,]\d+)\s*(({units})\s+)?({directions})\s*$"
