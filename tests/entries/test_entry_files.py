"""Broken entries: one small YAML text a failure, and the whole message that it gets."""

from __future__ import annotations

import re
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from setupadvisor.entries.files import (
    MOST_MISTAKES,
    bundled,
    entry_from,
    load_entry,
    try_entry,
)
from setupadvisor.entries.quantity import Entry
from setupadvisor.entries.rider import Rider
from setupadvisor.entries.session import Setup
from setupadvisor.entries.walk import Walk
from setupadvisor.entries.yaml_file import parse_yaml
from setupadvisor.errors import InputError
from tests.entries.broken_walks import CONTRADICTIONS, FAILURES

HEAD = "event: A round\ndate: 2026-05-17\n"


def messages(text: str, model: type[Entry] = Walk, source: str = "walk.yaml") -> list[str]:
    with pytest.raises(InputError) as caught:
        entry_from(parse_yaml(text, source), model)
    assert str(caught.value).split("\n") == [str(mistake) for mistake in caught.value.mistakes]
    return str(caught.value).split("\n")


def message(text: str, model: type[Entry] = Walk) -> str:
    found = messages(text, model)
    assert len(found) == 1, found
    return found[0]


def walk(text: str) -> Walk:
    return entry_from(parse_yaml(HEAD + text, "walk.yaml"), Walk)


# Every failure by itself: where, what was found, and the mend.


@pytest.mark.parametrize("failure", FAILURES)
def test_a_walk_with_one_mistake_gets_its_one_message(failure: str) -> None:
    text, expected = FAILURES[failure]
    assert message(HEAD + text + "\n") == expected


@pytest.mark.parametrize(
    ("written", "found"),
    [
        ("17.5.2026", "'17.5.2026' is no date"),
        ("17 May 2026", "'17 May 2026' is no date"),
        ("2026-5-17", "'2026-5-17' is no date"),
        ("26-05-17", "'26-05-17' is no date"),
        ("2026-05-17T10:00:00", "'2026-05-17T10:00:00' is no date"),
        ("2026-02-30", "'2026-02-30' is not in the calendar"),
        ("2026-13-01", "'2026-13-01' is not in the calendar"),
        ("0206-05-17", "the year 206 cannot be right"),
        ("20260517", "20260517 is no date"),
        ("0", "0 is no date"),
        ("86400", "86400 is no date"),
        ("true", "true is no date"),
        ("", "nothing is no date"),
    ],
)
def test_a_date_is_year_month_day_and_no_count_of_seconds(written: str, found: str) -> None:
    assert message(f"event: A round\ndate: {written}\n") == (
        f"walk.yaml:2 date: {found}; write year-month-day, as in 2026-05-17"
    )


@pytest.mark.parametrize(
    ("text", "model", "expected"),
    [
        ("", Walk, "walk.yaml: the file is empty; write a walk: at least event and date"),
        ("# later\n", Rider, "walk.yaml: the file is empty; write a rider: at least name"),
        ("- a\n", Walk, "walk.yaml: the file holds no keys; write a walk: at least event and date"),
        ("hello\n", Setup, "walk.yaml: the file holds no keys; write a setup: at least settings"),
        ("event: x\n", Walk, "walk.yaml:1 date: the key is missing; add it, as in 2026-05-17"),
        ("date: 2026-05-17\n", Walk, "walk.yaml:1 event: the key is missing; add it"),
        ("mass: 80\n", Rider, "walk.yaml:1 name: the key is missing; add it"),
    ],
)
def test_what_is_missing_is_named(text: str, model: type[Entry], expected: str) -> None:
    assert message(text, model) == expected


def test_a_key_left_empty_is_not_entered() -> None:
    found = walk("venue:\nair:\nground:\n  texture:\n  cone_index: ~\n")
    assert (found.venue, found.air) == (None, None)
    assert found.ground
    assert (found.ground.texture, found.ground.cone_index_kpa) == (None, None)


# What cannot be true together.


@pytest.mark.parametrize("failure", CONTRADICTIONS)
def test_what_cannot_be_true_together_is_refused(failure: str) -> None:
    text, expected = CONTRADICTIONS[failure]
    assert message(HEAD + text + "\n") == expected


@pytest.mark.parametrize(
    "text",
    [
        "ground: {sand: 41, silt: 39, clay: 20}",
        "ground: {sand: 33.3, silt: 33.3, clay: 33.3}",
        "ground: {sand: 94, silt: 5, clay: 2}",
        "ground: {sand: 60, silt: 40}",
        "ground: {sand: 10, clay: 10}",
        "ground: {sand: 95}",
        "jumps: [{landing: flat}, {landing: flat, landing_angle: 2}, {landing_angle: 20}]",
        "whoops: {count: 0}",
        "whoops: {count: 0, height: 0}",
        "whoops: {spacing: 3, height: 500}",
        "lap: {length: 1600, time: 100, top_speed: 60}",
        "lap: {length: 1600, top_speed: 60}",
        "air: {pressure: 81.6, elevation: 1840}",
        "air: {pressure: 101.3}",
    ],
)
def test_what_is_merely_rounded_unusual_or_unsaid_passes(text: str) -> None:
    assert walk(text)


@pytest.mark.parametrize(
    ("pressure", "elevation"),
    # World Meteorological Organization, archive of weather and climate extremes: the highest and
    # lowest pressures at sea level, and Tosontsengel on 30 December 2004, 846.5 hPa at 1725.8 m.
    [(108.38, 0), (87.0, 0), (84.65, 1725.8)],
)
def test_the_records_of_air_pressure_pass(pressure: float, elevation: float) -> None:
    found = walk(f"air: {{pressure: {pressure}, elevation: {elevation}}}")
    assert found.air
    assert found.air.pressure_kpa == pressure


def test_contradictions_are_told_beside_values_that_are_wrong_by_themselves() -> None:
    text = HEAD + "ground: {sand: 90, clay: 90, rut_depth: deep, stone: some}\n"
    assert [found.split(": ", 1)[0] for found in messages(text)] == [
        "walk.yaml:3 ground.rut_depth",
        "walk.yaml:3 ground.stone",
        "walk.yaml:3 ground.clay",
    ]


def test_a_wrong_value_makes_no_contradiction_of_its_own() -> None:
    text = HEAD + "ground: {sand: 900, silt: 40, clay: 40}\nwhoops: {count: -1, height: 300}\n"
    assert [found.split(": ", 1)[0] for found in messages(text)] == [
        "walk.yaml:3 ground.sand",
        "walk.yaml:4 whoops.count",
    ]


# All of a file's mistakes at once, in the order of the file.

MANY = """\
event: 450
evnt: 3
date: tomorrow
air:
  temprature: 20
  pressure: 13 apples
  rain: snow
  rain: none
ground: soft
jumps:
  - gap: 300
    landing: flat
    landing_angle: 20
  - 5
lap: {time: "1:70"}
"""


def test_all_mistakes_are_told_at_once_in_the_order_of_the_file() -> None:
    wheres = [re.match(r"walk\.yaml:(\d+) (\S+): ", found) for found in messages(MANY)]
    assert [(int(where[1]), where[2]) for where in wheres if where] == [
        (1, "event"),
        (2, "evnt"),
        (3, "date"),
        (5, "air.temprature"),
        (6, "air.pressure"),
        (7, "air.rain"),
        (8, "air.rain"),
        (9, "ground"),
        (11, "jumps.1.gap"),
        (13, "jumps.1.landing_angle"),
        (14, "jumps.2"),
        (15, "lap.time"),
    ]


def test_lines_stay_in_order_where_the_files_name_holds_spaces_and_colons() -> None:
    found = messages(MANY, source="my walks: spring/walk 2.yaml")
    lines = [re.match(r"my walks: spring/walk 2\.yaml:(\d+) ", each) for each in found]
    numbers = [int(line[1]) for line in lines if line]
    assert len(numbers) == len(found) == 12
    assert numbers == sorted(numbers)


def test_of_endless_mistakes_the_first_are_told_and_the_others_counted() -> None:
    text = HEAD + "".join(f"key_{number}: 1\n" for number in range(5000))
    found = messages(text)
    assert len(found) == MOST_MISTAKES + 1
    assert found[0].startswith("walk.yaml:3 key_0: the key is unknown")
    assert (
        found[-1]
        == f"walk.yaml: {5000 - MOST_MISTAKES} further mistakes are not listed; mend these first"
    )


def test_mistakes_are_returned_where_that_is_asked_for() -> None:
    entry, mistakes = try_entry(parse_yaml(HEAD + "kind: forest\n", "walk.yaml"), Walk)
    assert entry is None
    assert [mistake.where for mistake in mistakes] == ["walk.yaml:3 kind"]
    entry, mistakes = try_entry(parse_yaml(HEAD, "walk.yaml"), Walk)
    assert entry
    assert mistakes == []


def test_an_entry_with_a_duplicate_key_is_refused_though_all_else_is_sound() -> None:
    entry, mistakes = try_entry(parse_yaml(HEAD + "kind: sand\nkind: sand\n", "walk.yaml"), Walk)
    assert entry is None
    assert len(mistakes) == 1


def test_braces_in_what_was_written_stay_as_they_are() -> None:
    assert "'{found} {0}' is not known here" in message(HEAD + "kind: '{found} {0}'\n")


@pytest.mark.parametrize("size", [1_000, 1_000_000])
def test_a_huge_value_is_shown_short(size: int) -> None:
    for text in (f"kind: {'x' * size}", f"air: {{pressure: {'9' * size}}}", f"venue: {'x' * size}"):
        assert len(message(HEAD + text + "\n")) < 250


@given(st.text(max_size=40), st.sampled_from(["kind", "venue", "note", "date", "hills", "jumps"]))
def test_any_value_is_read_or_refused_with_its_place(value: str, key: str) -> None:
    content = {"event": "A round", "date": "2026-05-17", key: value}
    document = parse_yaml("".join(f"{name}: x\n" for name in content), "walk.yaml")
    document.content.update(content)
    entry, mistakes = try_entry(document, Walk)
    assert (entry is None) == bool(mistakes)
    assert all(mistake.where.endswith(f" {key}") for mistake in mistakes)
    assert all(str(mistake).isprintable() for mistake in mistakes)


# Units and words in entries.


def test_numbers_carry_units_and_words_forgive_spelling() -> None:
    found = walk(
        "kind: Outdoor\n"
        "air: {temperature: 78 °F, pressure: 28.9 inHg}\n"
        "ground: {texture: Silty Clay-Loam, firmness: no mark}\n"
        "lap: {time: '1:52.5'}\n"
    )
    assert found.kind == "outdoor"
    assert found.air
    assert found.ground
    assert found.lap
    assert found.air.temperature_c == pytest.approx(25.5556, abs=1e-4)
    assert found.air.pressure_kpa == pytest.approx(97.8666, abs=1e-4)
    assert (found.ground.texture, found.ground.firmness) == ("silty_clay_loam", "no_mark")
    assert found.lap.time_s == 112.5


@pytest.mark.parametrize(
    ("written", "height_cm"), [("5 ft 10 in", 177.8), ("5'10\"", 177.8), ("1.78 m", 178.0)]
)
def test_a_riders_height_is_read_as_riders_say_it(written: str, height_cm: float) -> None:
    rider = entry_from(parse_yaml(f"name: x\nheight: >-\n  {written}\n", "rider.yaml"), Rider)
    assert rider.height_cm == pytest.approx(height_cm, rel=1e-12)


# Setups, and files on disk.


@pytest.mark.parametrize(
    ("written", "found"),
    [
        ("[1]", "a list"),
        ("{x: 1}", "a group of keys"),
        ("true", "true"),
        ("", "nothing"),
    ],
)
def test_a_setups_value_is_a_number_or_a_text(written: str, found: str) -> None:
    text = f"settings:\n  fork_height: 5\n  engine_map: {written}\n"
    assert message(text, Setup) == (
        f"walk.yaml:3 settings.engine_map: {found} is no value of a setting; "
        "write a number or a name, or take the key out"
    )


def test_a_setup_without_settings_is_refused() -> None:
    assert message("settings: {}\n", Setup) == (
        "walk.yaml:1 settings: nothing stands here; write at least 1"
    )


def test_a_setup_keeps_what_stands_on_the_sheet() -> None:
    text = "settings: {fork_height: 5, engine_map: mild, race_sag: 4.1 in, cooling_fan: off}\n"
    setup = entry_from(parse_yaml(text, "setup.yaml"), Setup)
    assert setup.settings == {
        "fork_height": 5.0,
        "engine_map": "mild",
        "race_sag": "4.1 in",
        "cooling_fan": "off",
    }


def test_a_file_is_named_as_it_was_given(tmp_path: Path) -> None:
    path = tmp_path / "my walk.yaml"
    path.write_text(HEAD + "kind: forest\n", encoding="utf-8")
    with pytest.raises(InputError, match=re.escape(f"{path}:3 kind: 'forest'")):
        load_entry(path, Walk)
    path.write_text(HEAD + "kind: sand\n", encoding="utf-8")
    assert load_entry(str(path), Walk).kind == "sand"


def test_bundled_files_are_found_from_any_folder(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.chdir(tmp_path)
    assert bundled("datasets", "walks", "mud.yaml").is_file()
    assert bundled("rules").is_dir()
    assert not bundled("rules", "no-such.yaml").exists()
