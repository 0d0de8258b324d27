"""The catalogue of facts: what it promises, and what holds for any walk."""

from __future__ import annotations

from collections import defaultdict

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from setupadvisor.entries.files import bundled, load_entry
from setupadvisor.entries.machine import Machine
from setupadvisor.entries.quantity import entry_fields
from setupadvisor.entries.units import SUFFIXES
from setupadvisor.errors import ImpossibleValue
from setupadvisor.facts import start_facts
from setupadvisor.facts.catalogue import FACTS
from setupadvisor.facts.columns import Columns, columns_from_machine, condition_fields
from setupadvisor.facts.fact import entered
from setupadvisor.facts.table import NAMES, facts_from
from tests.facts.random_walks import one_row, random_walks

ROWS = 600


@pytest.fixture(scope="module")
def machine() -> Machine:
    return load_entry(bundled("datasets", "machines", "works-450.yaml"), Machine)


@pytest.fixture(scope="module")
def constants(machine: Machine) -> Columns:
    return columns_from_machine(machine)


def conditions_behind(name: str) -> set[str]:
    """Walk and rider entries that a fact follows from, through other facts."""
    found: set[str] = set()
    for path in FACTS[name].inputs:
        if path in FACTS:
            found |= conditions_behind(path)
        elif not path.startswith("machine."):
            found.add(path)
    return found


def test_every_input_is_an_entry_or_an_earlier_fact(machine: Machine) -> None:
    known = {
        *condition_fields(),
        *entry_fields(Machine, "machine"),
        *(f"machine.house.{name}" for name in machine.settings),
    }
    for name, fact in FACTS.items():
        assert set(fact.inputs) <= known, name
        known.add(name)


def test_names_end_in_their_unit() -> None:
    for name, fact in FACTS.items():
        assert name == fact.name
        suffix = SUFFIXES[fact.unit]
        assert not suffix or name.endswith(f"_{suffix}"), name


def test_every_fact_has_a_title_of_its_own_a_formula_and_a_source() -> None:
    titles = [fact.title for fact in FACTS.values()]
    assert len(set(titles)) == len(titles)
    for fact in FACTS.values():
        assert all(text.strip() for text in (fact.title, fact.formula, fact.source)), fact.name


def test_ranges_are_ranges_and_categories_count_their_words() -> None:
    for name, fact in FACTS.items():
        assert np.isfinite([fact.low, fact.high]).all(), name
        assert fact.low < fact.high, name
        if fact.is_category:
            assert (fact.low, fact.high) == (0.0, len(fact.choices) - 1.0), name
            assert len(set(fact.choices)) == len(fact.choices), name


def test_facts_that_share_a_function_each_take_another_part_of_it() -> None:
    shared = defaultdict(list)
    for fact in FACTS.values():
        if fact.part is not None:
            shared[fact.function].append(fact)
    for facts in shared.values():
        assert len({fact.inputs for fact in facts}) == 1
        assert sorted(fact.part for fact in facts if fact.part is not None) == [*range(len(facts))]


def test_the_start_is_ridden_once_for_all_its_facts(
    constants: Columns, monkeypatch: pytest.MonkeyPatch
) -> None:
    calls = []
    ride = start_facts.start_run

    def counted(*args: object, **named: object) -> object:
        calls.append(1)
        return ride(*args, **named)  # type: ignore[arg-type]

    monkeypatch.setattr(start_facts, "start_run", counted)
    facts_from(random_walks(3, 1, missing=0.0), constants, 3)
    assert len(calls) == 1


@given(start=st.integers(0, 2**32 - 1), missing=st.sampled_from([0.0, 0.1, 0.4]))
@settings(max_examples=25, deadline=None)
def test_every_fact_of_any_plausible_walk_is_inside_its_range(
    constants: Columns, start: int, missing: float
) -> None:
    """Numpy's own warnings would be errors here: no formula divides by nought on the quiet."""
    with np.errstate(divide="raise", invalid="raise", over="raise"):
        facts = facts_from(random_walks(50, start, missing=missing), constants, 50)
    for name, fact in FACTS.items():
        known = facts[name][~np.isnan(facts[name])]
        assert np.all((known >= fact.low) & (known <= fact.high)), name
        if fact.is_category:
            assert np.array_equal(known, np.round(known)), name


@pytest.mark.parametrize("missing", [0.0, 0.2])
def test_many_rows_give_what_each_row_gives_alone(constants: Columns, missing: float) -> None:
    rows = 40
    walks = random_walks(rows, 11, missing=missing)
    together = facts_from(walks, constants, rows)
    for row in range(rows):
        alone = facts_from(one_row(walks, row), constants)
        np.testing.assert_allclose(
            together.values[:, row], alone.values[:, 0], rtol=1e-12, atol=1e-12, err_msg=str(row)
        )


def test_the_order_of_rows_does_not_matter(constants: Columns) -> None:
    walks = random_walks(ROWS, 12)
    order = np.random.default_rng(5).permutation(ROWS)
    shuffled = {path: values[order] for path, values in walks.items()}
    np.testing.assert_array_equal(
        facts_from(shuffled, constants, ROWS).values,
        facts_from(walks, constants, ROWS).values[:, order],
    )


def test_inputs_are_left_as_they_were(constants: Columns) -> None:
    walks = random_walks(20, 13)
    copies = {path: values.copy() for path, values in {**walks, **constants}.items()}
    facts_from(walks, constants, 20)
    for path, values in {**walks, **constants}.items():
        np.testing.assert_array_equal(values, copies[path], err_msg=path)


@pytest.mark.parametrize("path", condition_fields())
def test_a_missing_entry_moves_only_what_follows_from_it(constants: Columns, path: str) -> None:
    """And something does follow from it: no entry is asked for in vain."""
    walks = random_walks(ROWS, 14, missing=0.3)
    before = facts_from(walks, constants, ROWS)
    emptied = facts_from({**walks, path: np.full_like(walks[path], np.nan)}, constants, ROWS)
    left_out = facts_from(
        {other: values for other, values in walks.items() if other != path}, constants, ROWS
    )
    np.testing.assert_array_equal(emptied.values, left_out.values)
    moved = {
        name for name in NAMES if not np.array_equal(before[name], emptied[name], equal_nan=True)
    }
    assert moved
    assert moved <= {name for name in NAMES if path in conditions_behind(name)}


def test_an_empty_walk_leaves_only_what_the_machine_alone_gives(constants: Columns) -> None:
    facts = facts_from({}, constants, 2)
    known = {name for name in NAMES if not np.isnan(facts[name]).all()}
    assert known == {
        "clutch_margin",
        "engine_cc",
        "rear_wheel_load_n",
        "static_rear_sprung_load_n",
        "wheelie_limit_mps2",
    }
    assert not facts.warnings


def test_a_list_without_entries_is_a_missing_list(constants: Columns) -> None:
    walks = random_walks(4, 15)
    nothing = {
        path: np.full((4, 3), np.nan) for path, field in condition_fields().items() if field.listed
    }
    without = {path: values for path, values in walks.items() if path not in nothing}
    np.testing.assert_array_equal(
        facts_from({**walks, **nothing}, constants, 4).values,
        facts_from(without, constants, 4).values,
    )


def test_without_a_machine_the_walks_own_facts_stay(constants: Columns) -> None:
    walks = random_walks(ROWS, 16)
    alone, whole = facts_from(walks, {}, ROWS), facts_from(walks, constants, ROWS)
    needs_machine = set()
    for name, fact in FACTS.items():
        if any(path in needs_machine or path.startswith("machine.") for path in fact.inputs):
            needs_machine.add(name)
        else:
            np.testing.assert_array_equal(alone[name], whole[name], err_msg=name)
    assert np.isnan(alone["start_time_s"]).all()
    assert {"cone_index_kpa", "air_density_kg_per_m3"}.isdisjoint(needs_machine)


def test_a_damper_that_the_machine_file_leaves_out_leaves_its_fact_missing(
    constants: Columns,
) -> None:
    walks = random_walks(3, 17, missing=0.0)
    without = {p: v for p, v in constants.items() if p != "machine.fork.damping_low_speed"}
    assert np.isfinite(facts_from(walks, constants, 3)["front_damping_ratio"]).all()
    missing = facts_from(walks, without, 3)
    assert np.isnan(missing["front_damping_ratio"]).all()
    assert np.isfinite(missing["front_frequency_hz"]).all()


def test_a_formula_outside_its_range_is_warned_about_once_with_the_range(
    constants: Columns,
) -> None:
    soft = {"walk.ground.cone_index_kpa": np.array([20.0, 12.0, 900.0])}
    (warning,) = facts_from(soft, constants, 3).warnings
    assert "below 5" in warning
    assert "Wismer & Luth" in warning
    clay = {"walk.ground.clay_pct": np.array([80.0]), "walk.ground.sand_pct": np.array([10.0])}
    (warning,) = facts_from(
        {**clay, "walk.ground.available_water_pct": np.array([50.0])}, {}
    ).warnings
    assert "80 %" in warning
    assert "0 to 60 %" in warning
    assert "Saxton & Rawls" in warning


def test_entries_that_do_not_belong_together_are_warned_about(constants: Columns) -> None:
    """12 km in 15 s are each possible, and 2880 km/h."""
    lap = {"walk.lap.length_m": np.array([12000.0]), "walk.lap.time_s": np.array([15.0])}
    facts = facts_from(lap, constants)
    (warning,) = facts.warnings
    assert "Mean speed of the lap: 2880 km/h is outside 1 to 200 km/h" in warning
    assert facts["mean_speed_kmh"][0] == pytest.approx(2880.0)


@pytest.mark.parametrize(
    ("path", "value", "mend"),
    [
        ("walk.air.temperature_c", -300.0, "-273"),
        ("walk.air.humidity_pct", 130.0, "between 0 and 100 %"),
        ("walk.air.elevation_m", 20000.0, "check metres against feet"),
        ("walk.ground.cone_index_kpa", -5.0, "above 0 kPa"),
        ("walk.ground.firmness", 9.0, "from 0 to 4"),
        ("rider.mass_kg", -80.0, "not below 0 kg"),
    ],
)
def test_what_cannot_be_is_refused_with_the_mend(
    constants: Columns, path: str, value: float, mend: str
) -> None:
    # What was measured better would stand in for what is refused.
    better = ("walk.air.pressure_kpa", "walk.ground.cone_index_kpa", "walk.ground.strength.")
    walk = {
        other: values
        for other, values in one_row(random_walks(1, 18, missing=0.0), 0).items()
        if not other.startswith(better)
    }
    walk[path] = np.array([value])
    with pytest.raises(ImpossibleValue, match=mend):
        facts_from(walk, constants)


def test_an_impossible_machine_is_refused(constants: Columns) -> None:
    walk = one_row(random_walks(1, 19, missing=0.0), 0)
    for path, value in (
        ("machine.masses.machine_kg", -100.0),
        ("machine.shock.motion_ratio", np.zeros(8)),
        ("machine.masses.unsprung_front_kg", 300.0),
    ):
        with pytest.raises(ImpossibleValue):
            facts_from(walk, {**constants, path: np.asarray(value)})


def test_a_fact_as_entered_takes_title_unit_and_range_from_the_entry() -> None:
    fact = entered("lap_length_m", "walk.lap.length_m")
    kind = condition_fields()["walk.lap.length_m"].kind
    assert kind is not None
    assert fact.title == kind.title
    with pytest.raises(KeyError):
        entered("venue", "walk.venue")
