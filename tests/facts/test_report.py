"""Facts explained: where they came from, and what would give the missing ones."""

from __future__ import annotations

import numpy as np
import pytest

from setupadvisor.entries.files import bundled, load_entry
from setupadvisor.entries.machine import Machine
from setupadvisor.entries.walk import Walk
from setupadvisor.facts.catalogue import FACTS
from setupadvisor.facts.columns import (
    Columns,
    columns_from_entries,
    columns_from_machine,
    condition_fields,
)
from setupadvisor.facts.needed import INSTEAD, REFINING, needed
from setupadvisor.facts.origins import origins
from setupadvisor.facts.report import FactLine, explain
from setupadvisor.facts.table import NAMES, facts_from
from tests.facts.random_walks import one_row, random_walks


@pytest.fixture(scope="module")
def machine() -> Machine:
    return load_entry(bundled("datasets", "machines", "works-450.yaml"), Machine)


@pytest.fixture(scope="module")
def constants(machine: Machine) -> Columns:
    return columns_from_machine(machine)


def explained(machine: Machine, **sections: object) -> dict[str, FactLine]:
    walk = Walk.model_validate({"event": "Invented", "date": "2026-05-17", **sections})
    return {line.name: line for line in explain(columns_from_entries(walk, None), machine)}


def test_there_is_a_line_for_every_fact_in_the_catalogues_order(machine: Machine) -> None:
    assert list(explained(machine)) == list(NAMES)


def test_a_line_carries_value_word_unit_formula_and_source(machine: Machine) -> None:
    lines = explained(machine, air={"elevation": 600}, ground={"texture": "sandy loam"})
    pressure = lines["air_pressure_kpa"]
    assert pressure.value == pytest.approx(94.32, abs=0.01)
    assert (pressure.unit, pressure.word) == ("kPa", None)
    assert "standard atmosphere" in pressure.formula
    assert pressure.source == "ISO 2533:1975"
    texture = lines["texture"]
    assert texture.word == "sandy_loam"
    assert texture.from_entries == ("ground.texture",)
    assert texture.missing == ()


def test_what_a_better_entry_stood_in_for_is_no_origin(machine: Machine) -> None:
    heel = explained(machine, ground={"firmness": "dents"})
    both = explained(machine, ground={"firmness": "dents", "cone_index": 800})
    assert heel["cone_index_kpa"].from_entries == ("ground.firmness",)
    assert both["cone_index_kpa"].from_entries == ("ground.cone_index",)
    dirt = {"surface": "dirt", "condition": "dry", "after_firmness": "dents"}
    ground = {"texture": "loam", "moisture": "moist"}
    at_gate = explained(machine, ground=ground, start=dirt)["gate_grip"].from_entries
    assert "start.after_firmness" in at_gate
    assert "start.condition" not in at_gate
    concrete = explained(machine, ground=ground, start={**dirt, "surface": "concrete"})
    assert concrete["gate_grip"].from_entries == ("start.surface", "start.condition")


def test_a_usual_value_that_was_entered_is_an_origin_all_the_same(machine: Machine) -> None:
    """50 % humidity is what counts where none was entered."""
    air = {"temperature": 20, "pressure": 98, "humidity": 50}
    assert explained(machine, air=air)["air_density_kg_per_m3"].from_entries == (
        "air.temperature",
        "air.pressure",
        "air.humidity",
    )


def test_a_word_that_changes_nothing_beside_it_is_an_origin(machine: Machine) -> None:
    """Loam and its neighbours in the list are of one texture group."""
    lines = explained(machine, ground={"texture": "silt_loam"})
    assert lines["texture_group"].from_entries == ("ground.texture",)


def test_machine_parts_are_those_that_a_fact_reads(machine: Machine) -> None:
    """Lifting the front is a matter of where the mass is, not of the engine."""
    lines = explained(machine)
    assert lines["wheelie_limit_mps2"].from_entries == (
        "machine fork",
        "machine geometry",
        "machine masses",
        "machine settings",
    )
    assert lines["engine_cc"].from_entries == ("machine engine",)


def test_missing_facts_name_what_would_give_them(machine: Machine) -> None:
    lines = explained(machine, lap={"length": 1500})
    assert lines["mean_speed_kmh"].missing == ("lap.time",)
    assert lines["cone_index_kpa"].missing == ("ground.firmness (or ground.cone_index)",)
    assert lines["front_sprung_load_n"].missing == ("rider mass",)
    assert lines["air_density_kg_per_m3"].missing == (
        "air.temperature",
        "air.elevation (or air.pressure)",
    )
    assert lines["elevation_m"].missing == ("air.elevation",)
    assert lines["texture"].missing == (
        "ground.texture (or ground.sand and ground.clay, "
        "or ground.ribbon_length and ground.ribbon_feel)",
    )
    # Any corners will do, and one of two for the gearing: not all of them are needed.
    corners = "corners.flat or corners.banked or corners.rutted"
    assert lines["corners_per_km"].missing == (corners,)
    assert lines["wanted_final_drive"].missing == ("corners.tightest_radius or lap.top_speed",)
    assert lines["flat_landing"].missing == ("jumps.landing",)


def test_what_does_not_apply_asks_for_nothing(machine: Machine) -> None:
    lap = {"length": 1500, "time": 100}
    lines = explained(machine, lap=lap, whoops={"count": 0})
    assert lines["whoop_frequency_hz"].value is None
    assert lines["whoop_frequency_hz"].missing == ()


def test_what_the_machine_file_leaves_out_is_asked_for(machine: Machine) -> None:
    fork = machine.fork.model_copy(update={"damping_low_speed": None})
    lines = explained(machine.model_copy(update={"fork": fork}))
    assert lines["front_damping_ratio"].missing == ("machine fork.damping_low_speed",)


def test_every_jump_has_its_line(machine: Machine) -> None:
    jumps = [
        {"gap": 15, "take_off_angle": 30, "landing": "slope"},
        {"gap": 8, "take_off_angle": 25, "landing": "flat"},
        {"gap": 12, "drop": 1},
        {"gap": 40, "take_off_angle": 2, "drop": -5, "landing": "flat"},
    ]
    lines = explained(machine, jumps=jumps)
    heights = [lines[f"fall_height_of_jump_{jump}_m"] for jump in (1, 2, 3, 4)]
    # 8 m from a lip of 25 degrees lands as it left: (gap tan 25) / 4 of height.
    assert heights[1].value == pytest.approx(8.0 * np.tan(np.radians(25.0)) / 4.0, rel=1e-9)
    assert heights[1].from_entries == ("jumps.gap", "jumps.take_off_angle", "jumps.landing")
    assert heights[0].value is not None
    assert heights[0].value < 0.2
    assert heights[2].value is None
    assert heights[2].missing == ("jumps.take_off_angle", "jumps.landing (or jumps.landing_angle)")
    assert heights[3].value is None
    assert heights[3].missing == ()
    assert lines["hardest_fall_height_m"].value == heights[1].value


@pytest.mark.parametrize("path", INSTEAD)
def test_what_is_named_instead_does_serve_instead(constants: Columns, path: str) -> None:
    walk = one_row(random_walks(1, 31, missing=0.0), 0)
    bare = {other: values for other, values in walk.items() if other not in {*REFINING, path}}
    known = ~np.isnan(facts_from({**bare, path: walk[path]}, constants).values[:, 0])
    without = ~np.isnan(facts_from(bare, constants).values[:, 0])
    assert (known & ~without).any()
    for group in INSTEAD[path]:
        given = {other: walk[other] for other in group}
        if path == "walk.ground.texture":
            # The ribbon and the shares give a class; the rest follows from it.
            given = {other: np.array([25.0]) for other in group}
            given["walk.ground.ribbon_feel"] = np.array([1.0])
        served = ~np.isnan(facts_from({**bare, **given}, constants).values[:, 0])
        named = {
            name
            for name, listed in needed(bare, constants, facts_from(bare, constants)).items()
            if any(condition_fields()[group[0]].key in text for text in listed)
        }
        assert named
        assert all(served[NAMES.index(name)] for name in named)


@pytest.mark.parametrize("start", range(6))
def test_entering_what_is_needed_gives_the_fact(constants: Columns, start: int) -> None:
    """The whole walk has every entry by feel; from a part of it, what is named brings the rest."""
    whole = {
        path: values
        for path, values in one_row(random_walks(1, 40 + start, missing=0.0, jumps=2), 0).items()
        if path not in REFINING
    }
    generator = np.random.default_rng(start)
    part = {path: values for path, values in whole.items() if generator.random() < 0.5}
    everything = facts_from(whole, constants)
    key_of = {
        path: field.key if path.startswith("walk.") else f"rider {field.key}"
        for path, field in condition_fields().items()
    }
    found = needed(part, constants, facts_from(part, constants))
    asked = 0
    for name, listed in found.items():
        keys = {text.split(" (or ")[0].split(" or ")[0] for text in listed}
        added = {path: values for path, values in whole.items() if key_of[path] in keys}
        if not keys or np.isnan(everything[name]).any():
            continue
        asked += 1
        given = facts_from({**part, **added}, constants)
        assert np.isfinite(given[name]).all(), (name, listed)
    assert asked > 5


@pytest.mark.parametrize("start", range(4))
def test_only_origins_move_a_fact(constants: Columns, start: int) -> None:
    walk = one_row(random_walks(1, 60 + start, missing=0.1), 0)
    found = facts_from(walk, constants)
    came_from = origins(walk, constants, found)
    for path in walk:
        without = facts_from({p: v for p, v in walk.items() if p != path}, constants)
        for name in FACTS:
            if not np.allclose(without[name], found[name], rtol=1e-9, equal_nan=True):
                assert path in came_from[name] or np.isnan(found[name]).any(), (path, name)
