from __future__ import annotations

import math
from pathlib import Path

import pytest

from setupadvisor.entries.files import bundled, load_entry
from setupadvisor.entries.machine import Machine
from setupadvisor.errors import InputError, Mistake
from setupadvisor.facts.catalogue import FACTS
from setupadvisor.rulebook.sanity import Statement, load_statements
from tests.rulebook.small_world import RULES, TERMS, load, write

SETTINGS = load_entry(bundled("datasets", "machines", "works-450.yaml"), Machine).settings


def read(folder: Path) -> dict[str, Statement]:
    return load_statements(folder, FACTS, SETTINGS, ["soft-front-up"])


def only_mistake(folder: Path) -> Mistake:
    with pytest.raises(InputError) as caught:
        read(folder)
    (mistake,) = caught.value.mistakes
    return mistake


def statement(**changed: str | None) -> str:
    keys: dict[str, str | None] = {
        "title": "a title",
        "along": "falling ground.cone_index",
        "never": "{fork_height: lower}",
        "source": "common practice, no source",
    }
    keys |= changed
    lines = [f"    {key}: {value}" for key, value in keys.items() if value is not None]
    return "\n".join(["statements:", "  one:", *lines, ""])


def test_a_statement_is_read_with_units_and_words(tmp_path: Path) -> None:
    text = statement(
        between="[300 kPa, 87 psi]",
        where="{kind: sand, ground.moisture: , rider.mass: 180 lb, jumps.landing: flat}",
        apart_from="{soft-front-up: the trade does so}",
    )

    found = read(write(tmp_path, a=text))["one"]

    assert found.along == ("walk.ground.cone_index_kpa",)
    assert not found.rising
    assert found.between == pytest.approx((300.0, 599.8), abs=0.1)
    assert found.never == (("fork_height", "lower", 1),)
    assert found.largest_jump == 0.0
    assert found.apart_from == (("soft-front-up", "the trade does so"),)
    given = dict(found.where)
    assert given["walk.kind"] == 2.0
    assert math.isnan(given["walk.ground.moisture"])
    assert given["rider.mass_kg"] == pytest.approx(81.65, abs=0.01)
    assert given["walk.jumps.landing"] == 1.0
    assert found.where_it_stands.endswith("a.yaml:2 statements.one")


def test_a_statement_may_follow_a_fact(tmp_path: Path) -> None:
    text = statement(along="rising track_grip", between="[0.3, 0.9]")

    found = read(write(tmp_path, a=text))["one"]

    assert (found.along, found.rising, found.between) == (("track_grip",), True, (0.3, 0.9))


def test_continuity_is_stated_along_several_entries(tmp_path: Path) -> None:
    text = statement(
        along="[air.temperature, rider.mass]",
        never=None,
        continuous="0.05",
        leaving_out="{ground.sand: classes of soil}",
    )

    found = read(write(tmp_path, a=text))["one"]

    assert found.along == ("walk.air.temperature_c", "rider.mass_kg")
    assert found.largest_jump == 0.05
    assert found.leaving_out == (("walk.ground.sand_pct", "classes of soil"),)


@pytest.mark.parametrize(
    ("changed", "where", "found", "mend"),
    [
        ({"never": None}, "", "must be clear what is stated", "continuous: 0.05"),
        ({"continuous": "0.05"}, "", "must be clear what is stated", "never: {"),
        ({"title": None}, ".title", "missing", "in a sentence"),
        ({"source": None}, ".source", "missing", "common practice"),
        ({"along": "ground.cone_index"}, ".along", "has no direction", "rising ground"),
        ({"along": "sinking ground.cone_index"}, ".along", "has no direction", "falling ground"),
        ({"along": "[rising track_grip]"}, ".along", "a list has no direction", "rising ground"),
        ({"along": "rising ground.cone"}, ".along", "no entry or fact", "did you mean"),
        ({"never": "{fork_hight: lower}"}, ".never.fork_hight", "no such setting", "fork_height"),
        ({"never": "{fork_height: deeper}"}, ".never.fork_height", "'deeper'", "'higher'"),
        ({"never": "{}"}, ".never", "nothing stands below", "a setting and a direction"),
        ({"between": "[900, 300]"}, ".between", "a list is no range", "[lowest, highest]"),
        ({"between": "[3 apples, 5]"}, ".between", "apples", "kPa"),
        ({"between": "300"}, ".between", "300 is no range", "[lowest, highest]"),
        ({"where": "{kid: sand}"}, ".where.kid", "no such entry", "did you mean kind?"),
        ({"where": "{kind: moon}"}, ".where.kind", "'moon'", "stadium"),
        ({"where": "{rider.mass: 900}"}, ".where.rider.mass", "900 kg", "20 to 180"),
        ({"apart_from": "{nothing: x}"}, ".apart_from.nothing", "no such rule", "name a rule"),
        ({"apart_from": "{soft-front-up: }"}, ".apart_from.soft-front-up", "no reason", "why"),
        ({"leaving_out": "{sand: x}"}, ".leaving_out.sand", "no such entry", "entry"),
        ({"besides": "x"}, ".besides", "the key is unknown", "known here"),
    ],
)
def test_a_mistake_in_a_statement_names_its_place_and_the_mend(
    tmp_path: Path, changed: dict[str, str | None], where: str, found: str, mend: str
) -> None:
    folder = write(tmp_path, a=statement(**changed))

    mistake = only_mistake(folder)

    assert mistake.where.startswith(f"{folder}/a.yaml:")
    assert mistake.where.endswith(f" statements.one{where}")
    assert found in mistake.found
    assert mend in mistake.mend


@pytest.mark.parametrize("jump", ["0", "-1", "2", "true", "soft"])
def test_a_largest_jump_is_a_share_of_a_step(tmp_path: Path, jump: str) -> None:
    text = statement(along="[air.temperature]", never=None, continuous=jump)

    mistake = only_mistake(write(tmp_path, a=text))

    assert mistake.where.endswith("statements.one.continuous")
    assert "above 0 and up to 1" in mistake.mend


def test_a_statement_that_stands_in_two_files_is_refused(tmp_path: Path) -> None:
    mistake = only_mistake(write(tmp_path, a=statement(), b=statement()))

    assert mistake.where.endswith("b.yaml:2 statements.one")
    assert mistake.found == "one stands in two files"


def test_advice_reads_no_file_of_statements_alone(tmp_path: Path) -> None:
    folder = write(tmp_path, terms=TERMS, start=RULES, a=statement(never=None))

    assert [rule.id for rule in load(folder).rules] == ["soft-after-gate"]
