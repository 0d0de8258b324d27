"""Walks, riders and setups drawn at random from the entries' own ranges, for properties."""

from __future__ import annotations

from collections.abc import Mapping
from functools import cache
from typing import Any

from hypothesis import strategies as st
from pydantic import ValidationError

from setupadvisor.advice.consult import consult
from setupadvisor.advice.records import Advice
from setupadvisor.advice.workshop import Workshop, knowledge, open_workshop
from setupadvisor.entries.files import bundled, load_entry
from setupadvisor.entries.machine import Machine
from setupadvisor.entries.quantity import EntryField, Word
from setupadvisor.entries.rider import Rider
from setupadvisor.entries.walk import Walk
from setupadvisor.facts.columns import condition_fields
from setupadvisor.learning.model import Model, untrained

MACHINES = ("works-450", "works-250")
WALKS = tuple(sorted(path.stem for path in bundled("datasets", "walks").glob("*.yaml")))
# Drawn together, for they add up.
SOIL_PARTS = {
    "walk.ground.sand_pct": 60.0,
    "walk.ground.silt_pct": 25.0,
    "walk.ground.clay_pct": 15.0,
}


@cache
def workshop(machine: str = "works-450") -> Workshop:
    """A bundled machine with the bundled rules."""
    return open_workshop(load_entry(bundled("datasets", "machines", f"{machine}.yaml"), Machine))


@cache
def rules_only(machine: str = "works-450") -> Model:
    """The model of a machine that has no past sessions."""
    return untrained(knowledge(workshop(machine)))


@cache
def bundled_walk(name: str) -> Walk:
    return load_entry(bundled("datasets", "walks", f"{name}.yaml"), Walk)


@cache
def bundled_rider(name: str) -> Rider:
    return load_entry(bundled("datasets", "riders", f"{name}.yaml"), Rider)


def advice(walk: Walk, machine: str = "works-450", **others: Any) -> Advice:
    """The advice from the rules alone."""
    return consult(workshop(machine), walk, rules_only(machine), **others)


def values(field: EntryField) -> st.SearchStrategy[float | str]:
    """Anything that may stand in a field."""
    if isinstance(field.kind, Word):
        return st.sampled_from(field.kind.choices)
    assert field.kind is not None
    if field.kind.whole:
        return st.integers(int(field.kind.low), int(field.kind.high))
    return st.floats(field.kind.low, field.kind.high).map(lambda number: round(number, 3))


def _single(prefix: str) -> dict[str, EntryField]:
    return {
        path: field
        for path, field in condition_fields().items()
        if path.startswith(prefix) and not field.listed and path not in SOIL_PARTS
    }


@st.composite
def answers(draw: st.DrawFn, prefix: str, share: float | None = None) -> dict[str, Any]:
    """Some fields of an entry with possible values, by path."""
    fields = _single(prefix)
    likely = share if share is not None else draw(st.sampled_from([0.1, 0.5, 0.9, 1.0]))
    dice = draw(st.randoms(use_true_random=False))
    given = {path: draw(values(field)) for path, field in fields.items() if dice.random() < likely}
    if prefix == "walk." and dice.random() < likely:
        given |= SOIL_PARTS
    return given


def nested(by_path: Mapping[str, Any], prefix: str) -> dict[str, Any]:
    """Answers by path, as they stand in a file."""
    content: dict[str, Any] = {}
    for path, value in by_path.items():
        if path.startswith(prefix):
            *groups, last = condition_fields()[path].key.split(".")
            place = content
            for group in groups:
                place = place.setdefault(group, {})
            place[last] = value
    return content


def walk_of(by_path: Mapping[str, Any], jumps: list[dict[str, Any]] | None = None) -> Walk:
    """A walk with these answers."""
    content = {"event": "invented", "date": "2026-05-17", **nested(by_path, "walk.")}
    return without_contradictions({**content, "jumps": jumps} if jumps else content)


def without_contradictions(content: dict[str, Any]) -> Walk:
    """The walk without the answers that cannot be true beside the others."""
    while True:
        try:
            return Walk.model_validate(content)
        except ValidationError as error:
            for wrong in error.errors():
                assert wrong["type"] == "contradiction", wrong
                _take_out(content, wrong["loc"])


def _take_out(content: Any, path: tuple[str | int, ...]) -> None:
    for part in path[:-1]:
        content = content[part]
    content.pop(path[-1], None)


JUMP_FIELDS = {
    field.key.rsplit(".", 1)[-1]: field
    for path, field in condition_fields().items()
    if path.startswith("walk.jumps.")
}
jumps = st.lists(
    st.fixed_dictionaries(
        {}, optional={name: values(field) for name, field in JUMP_FIELDS.items()}
    ),
    max_size=4,
)


@st.composite
def walks(draw: st.DrawFn) -> Walk:
    """A walk with any of its fields, each at any possible value."""
    return walk_of(draw(answers("walk.")), draw(jumps))


@st.composite
def riders(draw: st.DrawFn) -> Rider | None:
    """A rider, or nobody."""
    if draw(st.booleans()):
        return None
    return Rider.model_validate({"name": "somebody", **nested(draw(answers("rider.")), "rider.")})


@st.composite
def setups(draw: st.DrawFn, machine: str) -> dict[str, float] | None:
    """What is on a motorcycle: some settings at values that can be set; or not known."""
    if draw(st.booleans()):
        return None
    dice = draw(st.randoms(use_true_random=False))
    likely = draw(st.sampled_from([0.2, 1.0]))
    return {
        name: draw(st.sampled_from(setting.values))
        for name, setting in workshop(machine).machine.settings.items()
        if dice.random() < likely
    }
