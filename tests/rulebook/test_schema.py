"""The JSON Schema of rule files: passes what the reader passes, underlines what it can tell."""

from __future__ import annotations

import json
from typing import Any

import pytest

from setupadvisor.advice.workshop import house_machine, setting_words
from setupadvisor.entries.files import bundled
from setupadvisor.entries.yaml_file import read_yaml
from setupadvisor.facts.catalogue import FACTS
from setupadvisor.rulebook.loading import TOP_KEYS
from setupadvisor.rulebook.schema import rule_file_schema
from tests.rulebook import small_world

jsonschema = pytest.importorskip("jsonschema")

PLAIN = rule_file_schema()
FULL = rule_file_schema(FACTS, setting_words(house_machine().settings))
SMALL = rule_file_schema(small_world.FACTS, small_world.SETTINGS)
FILES = sorted(bundled("rules").rglob("*.yaml"))

RULE: dict[str, Any] = {
    "title": "t",
    "when": ["soft_ground", "not metal_gate"],
    "change": {"fork_height": "1 lower"},
    "confidence": "usual",
    "why": "w",
    "look_for": "l",
    "source": "common practice, no source",
}
TERM: dict[str, Any] = {"fact": "cone_index_kpa", "points": [[300, 1], [700, 0]], "why": "w"}
REMARK: dict[str, Any] = {
    "title": "t",
    "where": "rut",
    "what": "pushes",
    "end": "front",
    "words": ["push"],
    "try": [{"change": {"fork_height": "1 lower"}, "gain": "usual", "why": "w"}],
    "look_for": "l",
    "source": "common practice, no source",
}


def mistakes(schema: dict[str, Any], content: object) -> list[str]:
    errors = jsonschema.Draft202012Validator(schema).iter_errors(content)
    return [f"{error.json_path} {error.message}" for error in errors]


def rules(**changes: Any) -> dict[str, Any]:
    rule = {key: value for key, value in {**RULE, **changes}.items() if value is not None}
    return {"subject": "s", "rules": {"r": rule}}


@pytest.mark.parametrize("schema", [PLAIN, FULL, SMALL], ids=["plain", "full", "small"])
def test_it_is_a_schema_of_its_dialect_and_plain_json(schema: dict[str, Any]) -> None:
    assert schema["$schema"] == "https://json-schema.org/draft/2020-12/schema"
    jsonschema.Draft202012Validator.check_schema(schema)
    assert json.loads(json.dumps(schema)) == schema


def test_it_knows_the_keys_that_the_reader_knows() -> None:
    assert set(PLAIN["properties"]) == set(TOP_KEYS)


@pytest.mark.parametrize("path", FILES, ids=[path.name for path in FILES])
def test_every_bundled_rule_file_passes(path: Any) -> None:
    content = read_yaml(path).content
    assert mistakes(PLAIN, content) == []
    assert mistakes(FULL, content) == []


@pytest.mark.parametrize(
    "content",
    [
        rules(),
        rules(when="soft_ground"),
        rules(when={"any": ["a", {"not": ["b", {"all": ["c", "not d"]}]}]}),
        rules(change={"start_lock_depth": "10 mm shallower", "fork_height": "1,5 higher"}),
        rules(change={"fork_rebound_low": "1 click softer"}),
        rules(change={"axle_position": ".5 further  back"}),
        rules(change=None, look_for=None, confidence=None, watch=["the lock"]),
        {"terms": {"t": TERM, "u": {"fact": "dust", "is": "heavy", "why": "w"}}},
        {"terms": {"t": {"fact": "flat_landing", "is": [True], "why": "w"}}},
        {"terms": {"t": {"when": {"any": ["a", "b"]}, "why": "w"}}},
        {"remarks": {"r": REMARK}},
        {"switch_off": {"r": "not with our tyres"}},
    ],
)
def test_what_a_person_may_write_passes(content: dict[str, Any]) -> None:
    assert mistakes(SMALL, content) == []


@pytest.mark.parametrize(
    ("content", "place"),
    [
        ({"rule": {}}, "$ "),
        ({"rules": {"r": RULE}}, "$ "),
        (rules(wen=["a"]), "$.rules.r "),
        (rules(why=None), "$.rules.r "),
        (rules(why=""), "$.rules.r.why "),
        (rules(change=None), "$.rules.r "),
        (rules(look_for=None), "$.rules.r "),
        (rules(confidence="sure"), "$.rules.r.confidence "),
        (rules(when={"some": ["a"]}), "$.rules.r.when "),
        (rules(when=[]), "$.rules.r.when "),
        (rules(when="soft ground here"), "$.rules.r.when "),
        (rules(change={"fork_hight": "1 lower"}), "$.rules.r.change "),
        (rules(change={"fork_height": "1 deeper"}), "$.rules.r.change.fork_height "),
        (rules(change={"fork_height": 1}), "$.rules.r.change.fork_height "),
        (rules(change={"fork_height": "lower"}), "$.rules.r.change.fork_height "),
        (rules(change={"fork_height": "-1 lower"}), "$.rules.r.change.fork_height "),
        ({"terms": {"Soft": TERM}}, "$.terms "),
        ({"terms": {"t": {**TERM, "fact": "no_such_fact"}}}, "$.terms.t.fact "),
        ({"terms": {"t": {**TERM, "points": [[300, 1]]}}}, "$.terms.t.points "),
        ({"terms": {"t": {**TERM, "points": [[300, 1], [700, 2]]}}}, "$.terms.t.points[1][1] "),
        ({"terms": {"t": {**TERM, "when": "a"}}}, "$.terms.t "),
        ({"terms": {"t": {"why": "w"}}}, "$.terms.t "),
        ({"remarks": {"r": {**REMARK, "where": "moon"}}}, "$.remarks.r.where "),
        ({"remarks": {"r": {**REMARK, "try": []}}}, "$.remarks.r.try "),
        ({"remarks": {"r": {**REMARK, "try": [{"gain": "usual"}]}}}, "$.remarks.r.try[0] "),
        ({"switch_off": {"r": ""}}, "$.switch_off.r "),
    ],
)
def test_a_mistake_is_underlined_where_it_stands(content: dict[str, Any], place: str) -> None:
    found = mistakes(SMALL, content)
    assert any(mistake.startswith(place) for mistake in found), found
