"""`facts`: every fact with its value, formula, source and the entries behind it."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import pytest

from setupadvisor.facts.catalogue import FACTS
from tests.cli.commands import DATA, refused, run, run_process, write

RIDER = DATA / "riders" / "north.yaml"
WALK = """
event: invented
date: 2026-05-17
kind: outdoor
air: {temperature: 59 °F, elevation: 0 m}
ground: {firmness: dents}
"""


def as_json(*words: str | Path, folder: Path) -> dict[str, dict[str, Any]]:
    done = run("facts", *words, "--json", folder=folder)
    assert (done.code, done.err) == (0, "")
    found = json.loads(done.out, parse_constant=pytest.fail)
    assert set(found) == {"facts", "warnings"}
    return {fact["name"]: fact for fact in found["facts"]}


def test_every_fact_of_the_catalogue_is_shown_once(tmp_path: Path) -> None:
    walk = write(tmp_path, "walk.yaml", WALK)
    found = as_json(walk, folder=tmp_path)
    assert list(found) == list(FACTS)
    for name, fact in found.items():
        assert fact["formula"] == FACTS[name].formula
        assert fact["source"] == FACTS[name].source
        assert fact["unit"] == FACTS[name].unit


def test_a_fact_comes_with_its_entries_in_other_units_too(tmp_path: Path) -> None:
    """The standard atmosphere at sea level: 15 °C and 101.325 kPa (ISO 2533:1975)."""
    found = as_json(write(tmp_path, "walk.yaml", WALK), folder=tmp_path)
    assert found["air_temperature_c"]["value"] == pytest.approx(15.0, abs=1e-9)
    assert found["air_pressure_kpa"]["value"] == pytest.approx(101.325, abs=1e-3)
    assert found["air_pressure_kpa"]["from_entries"] == ["air.elevation"]
    assert found["air_density_kg_per_m3"]["from_entries"] == ["air.temperature", "air.elevation"]
    # Dry 1.225; at 50 % humidity, which is assumed where none was entered, some 4 g less.
    assert found["air_density_kg_per_m3"]["value"] == pytest.approx(1.221, abs=1e-3)


def test_a_missing_fact_names_what_would_give_it(tmp_path: Path) -> None:
    walk = write(tmp_path, "walk.yaml", WALK)
    found = as_json(walk, folder=tmp_path)
    assert found["texture_group"]["value"] is None
    assert found["texture_group"]["missing"][0].startswith("ground.texture (or ")
    assert found["fork_spring_for_rider_n_per_mm"]["missing"] == ["rider mass"]
    done = run("facts", walk, folder=tmp_path)
    known, missing = done.out.split("NOT KNOWN, AND WHAT WOULD GIVE IT")
    assert "Fork spring that gives the wanted sag under this rider: rider mass" in missing
    assert "Air density" in known
    assert done.out.startswith(
        f"FACTS  {sum(fact['value'] is not None for fact in found.values())} known, "
    )


def test_with_a_rider_what_waits_for_the_rider_is_known(tmp_path: Path) -> None:
    walk = write(tmp_path, "walk.yaml", WALK)
    found = as_json(walk, "--rider", RIDER, folder=tmp_path)
    assert found["fork_spring_for_rider_n_per_mm"]["value"] > 0.0
    assert "rider mass" in found["fork_spring_for_rider_n_per_mm"]["from_entries"]


def test_entering_what_is_missing_gives_the_fact(tmp_path: Path) -> None:
    walk = write(tmp_path, "walk.yaml", WALK.replace("dents}", "dents, texture: loam}"))
    found = as_json(walk, folder=tmp_path)
    assert found["texture_group"]["word"] == "medium"
    assert found["texture_group"]["from_entries"] == ["ground.texture"]


def test_another_machine_gives_other_facts(tmp_path: Path) -> None:
    walk = write(tmp_path, "walk.yaml", WALK)
    small = as_json(walk, "--machine", DATA / "machines" / "works-250.yaml", folder=tmp_path)
    large = as_json(walk, folder=tmp_path)
    assert small["engine_cc"]["value"] < large["engine_cc"]["value"]
    assert small["air_density_kg_per_m3"] == large["air_density_kg_per_m3"]


def test_the_page_fits_a_terminal_of_any_encoding(tmp_path: Path) -> None:
    walk = write(tmp_path, "walk.yaml", WALK)
    page = run_process("facts", walk, "--rider", RIDER, folder=tmp_path)
    assert (page.code, page.err) == (0, "")
    assert max(map(len, page.out.splitlines())) <= 100
    plain = run_process("facts", walk, "--json", folder=tmp_path, PYTHONIOENCODING="ascii")
    assert plain.code == 0
    assert plain.out.isascii()
    assert json.loads(plain.out)["facts"]
    assert [path.name for path in tmp_path.iterdir()] == ["walk.yaml"]


def test_each_jump_has_its_line(tmp_path: Path) -> None:
    jumps = """
jumps:
  - {gap: 12 m, drop: 0 m, take_off_angle: 25°, landing: slope, landing_angle: 20°}
  - {gap: 9 m, drop: 2 m, take_off_angle: 10°, landing: flat}
"""
    found = as_json(write(tmp_path, "walk.yaml", WALK + jumps), folder=tmp_path)
    heights = [found[f"fall_height_of_jump_{place}_m"]["value"] for place in (1, 2)]
    assert found["hardest_fall_height_m"]["value"] == max(heights)
    assert heights[1] > 2.0, "two metres down to the flat, and what the take-off adds"


def test_outside_a_formulas_range_the_range_is_named(tmp_path: Path) -> None:
    walk = write(tmp_path, "walk.yaml", WALK.replace("firmness: dents", "cone_index: 20 kPa"))
    done = run("facts", walk, folder=tmp_path)
    assert done.code == 0
    assert "LESS CERTAIN" in done.out


def test_faults_of_all_files_are_told_at_once(tmp_path: Path) -> None:
    write(tmp_path, "walk.yaml", "event: x\ndate: 2026-05-17\nkind: beach\n")
    write(tmp_path, "rider.yaml", "name: x\nmass: 800 kg\n")
    said = refused(
        "facts", "walk.yaml", "--rider", "rider.yaml", "--machine", "none.yaml", folder=tmp_path
    )
    assert len(said) == 3
    assert said[0].startswith("walk.yaml:3 kind: ")
    assert any(line.startswith("none.yaml: ") for line in said)
    assert any(line.startswith("rider.yaml:2 mass: ") for line in said)
