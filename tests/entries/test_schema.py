"""JSON Schemas of the entries, checked by an independent validator."""

from __future__ import annotations

import json
from typing import Any

import pytest

from setupadvisor.entries.files import bundled
from setupadvisor.entries.quantity import Quantity, Word, entry_fields
from setupadvisor.entries.rider import Rider
from setupadvisor.entries.schema import DIALECT, entry_schemas
from setupadvisor.entries.walk import Walk
from setupadvisor.entries.yaml_file import parse_yaml, read_yaml
from tests.entries.broken_walks import FAILURES

jsonschema = pytest.importorskip("jsonschema")

SCHEMAS = entry_schemas()
FOLDERS = {"walk": "walks", "rider": "riders", "machine": "machines", "setup": "setups"}
BUNDLED = [
    (kind, path)
    for kind, folder in FOLDERS.items()
    for path in sorted(bundled("datasets", folder).glob("*.yaml"))
]


def wrong(kind: str, content: object) -> str | None:
    """Where a content breaks the schema of its kind, as deep as the validator can tell."""
    validator = jsonschema.Draft202012Validator(SCHEMAS[kind])
    error = jsonschema.exceptions.best_match(validator.iter_errors(content))
    return ".".join(map(str, error.absolute_path)) if error else None


@pytest.mark.parametrize("kind", FOLDERS)
def test_schema_is_one_of_its_dialect_and_plain_json(kind: str) -> None:
    schema = SCHEMAS[kind]
    assert schema["$schema"] == DIALECT == "https://json-schema.org/draft/2020-12/schema"
    jsonschema.Draft202012Validator.check_schema(schema)
    assert json.loads(json.dumps(schema)) == schema


@pytest.mark.parametrize(("kind", "path"), BUNDLED, ids=lambda value: getattr(value, "stem", value))
def test_bundled_entry_passes_its_schema(kind: str, path: Any) -> None:
    assert wrong(kind, read_yaml(path).content) is None


@pytest.mark.parametrize(("kind", "path"), BUNDLED, ids=lambda value: getattr(value, "stem", value))
def test_bundled_entry_passes_no_other_kind_s_schema(kind: str, path: Any) -> None:
    content = read_yaml(path).content
    assert all(wrong(other, content) is not None for other in FOLDERS if other != kind)


@pytest.mark.parametrize(
    ("content", "where"),
    [
        ({}, ""),
        ({"event": "x"}, ""),
        ({"event": "x", "date": "17.5.2026"}, "date"),
        ({"event": "x", "date": 20260517}, "date"),
        ({"event": "", "date": "2026-05-17"}, "event"),
        ({"event": "x", "date": "2026-05-17", "evnt": 1}, ""),
        ({"event": "x", "date": "2026-05-17", "air": {"temprature": 20}}, "air"),
        ({"event": "x", "date": "2026-05-17", "air": {"temperature": 200}}, "air.temperature"),
        ({"event": "x", "date": "2026-05-17", "air": {"temperature": "hot"}}, "air.temperature"),
        ({"event": "x", "date": "2026-05-17", "corners": {"flat": 2.5}}, "corners.flat"),
        ({"event": "x", "date": "2026-05-17", "kind": "forest"}, "kind"),
        ({"event": "x", "date": "2026-05-17", "jumps": {"gap": 4}}, "jumps"),
        ({"event": "x", "date": "2026-05-17", "jumps": [{"gap": 300}]}, "jumps.0.gap"),
        ({"event": "x", "date": "2026-05-17", "jumps": [{}] * 41}, "jumps"),
    ],
)
def test_a_walk_that_breaks_the_schema_is_told_where(content: object, where: str) -> None:
    assert wrong("walk", content) == where


def test_the_schema_never_refuses_what_the_reader_takes() -> None:
    """Units, empty keys, and words in their own spelling."""
    content = {
        "event": "x",
        "date": "2026-05-17",
        "venue": None,
        "air": {"temperature": "78 °F", "pressure": "13,5 psi", "humidity": 45.5, "rain": None},
        "ground": None,
        "jumps": [{"gap": "62 ft", "drop": "-5 ft"}],
        "corners": {"flat": 3, "banked": "4"},
    }
    assert Walk.model_validate(content)
    assert wrong("walk", content) is None


def test_the_schema_speaks_of_every_field_that_is_read() -> None:
    """Title, range and words stand once, in the model, and the schema repeats them."""
    for kind, model in {"walk": Walk, "rider": Rider}.items():
        text = json.dumps(SCHEMAS[kind], ensure_ascii=False)
        for field in entry_fields(model, kind).values():
            assert json.dumps(field.key.rsplit(".", 1)[-1]) + ":" in text
            if isinstance(field.kind, Quantity):
                described = json.dumps(
                    f"{field.kind.title}: {field.kind.example()}", ensure_ascii=False
                )
                assert described in text
            if isinstance(field.kind, Word):
                assert json.dumps(list(field.kind.choices)) in text


def test_most_broken_walks_break_the_schema_already_in_the_editor() -> None:
    """What it cannot see: conversions, contradictions, and what only a parser sees."""
    seen = [
        failure
        for failure, (text, _) in FAILURES.items()
        if wrong("walk", parse_yaml(f"event: x\ndate: 2026-05-17\n{text}\n", "x").content)
        is not None
    ]
    assert len(seen) >= 0.7 * len(FAILURES)
