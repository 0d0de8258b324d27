"""The checklist: what is worth doing, within the minutes, in working order."""

from __future__ import annotations

from itertools import combinations

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from setupadvisor.advice.checklist import (
    Job,
    Wish,
    certainty,
    felt_changes,
    jobs,
    minutes_each,
    within_minutes,
    working_order,
)
from setupadvisor.advice.fitting import DRIVE_SETTINGS
from setupadvisor.entries.rider import Rider
from setupadvisor.entries.walk import Walk
from tests.advice.invented import (
    MACHINES,
    WALKS,
    advice,
    bundled_walk,
    riders,
    setups,
    walks,
    workshop,
)

half_minutes = st.integers(1, 60).map(lambda count: count / 2)
some_jobs = st.lists(
    st.builds(
        lambda minutes, worth: Job((Wish("fork_height", 5.0, 7.0, 1.0),), minutes, worth),
        half_minutes,
        st.floats(0.01, 20),
    ),
    max_size=9,
)


def machine(name: str = "works-450"):
    return workshop(name).machine


def best_by_trying_all(candidates: list[Job], minutes: float) -> float:
    return max(
        sum(job.worth for job in chosen)
        for count in range(len(candidates) + 1)
        for chosen in combinations(candidates, count)
        if sum(job.minutes for job in chosen) <= minutes
    )


@given(some_jobs, st.integers(0, 240).map(lambda count: count / 2))
@settings(max_examples=150, deadline=None)
def test_the_jobs_chosen_are_worth_as_much_as_any_that_fit(
    candidates: list[Job], minutes: float
) -> None:
    chosen = within_minutes(candidates, minutes)
    assert sum(job.minutes for job in chosen) <= minutes
    worth = sum(job.worth for job in chosen)
    assert worth == pytest.approx(best_by_trying_all(candidates, minutes))


@given(some_jobs, st.floats(0, 100))
@settings(deadline=None)
def test_minutes_that_are_no_half_minutes_are_not_passed_either(
    candidates: list[Job], minutes: float
) -> None:
    odd = [Job(job.wishes, job.minutes + 0.13, job.worth) for job in candidates]
    assert sum(job.minutes for job in within_minutes(odd, minutes)) <= minutes


@given(some_jobs)
def test_without_a_limit_all_jobs_are_done(candidates: list[Job]) -> None:
    assert within_minutes(candidates, None) == candidates


@given(some_jobs)
def test_with_ample_time_all_jobs_are_done(candidates: list[Job]) -> None:
    """A hundred thousand minutes is the most that the command line takes."""
    assert within_minutes(candidates, 100_000.0) == candidates


@given(
    st.sampled_from(MACHINES),
    walks(),
    riders(),
    st.floats(0, 240),
    st.data(),
)
@settings(max_examples=40, deadline=None)
def test_the_changes_keep_within_the_minutes_and_the_rest_is_left_alone(
    name: str, walk: Walk, rider: Rider | None, minutes: float, data: st.DataObject
) -> None:
    on_bike = data.draw(setups(name))
    found = advice(walk, name, rider=rider, on_bike=on_bike, minutes=minutes)
    assert sum(change.minutes for change in found.changes) <= minutes + 1e-9
    changed = [change.setting for change in found.changes]
    assert sorted([*changed, *found.left_alone]) == sorted(machine(name).settings)


@pytest.mark.parametrize("walk", WALKS)
def test_changes_stand_in_working_order_and_say_what_to_do(walk: str) -> None:
    found = advice(bundled_walk(walk))
    places = [machine().settings[change.setting].order for change in found.changes]
    assert places == sorted(places)
    by_name = {setting.setting: setting for setting in found.settings}
    for change in found.changes:
        own = machine().settings[change.setting]
        assert change.start != change.to == by_name[change.setting].value
        assert change.minutes > 0
        assert change.why.strip()
        assert change.check == own.check
        assert own.undo in change.undo
        assert own.show(change.start) in change.undo
        assert set(own.cautions) <= set(change.cautions)
        assert (own.up if change.to > change.start else own.down) in change.shown


@pytest.mark.parametrize("walk", sorted(set(WALKS) - {"bare-walk"}))
def test_a_change_carries_the_cautions_of_the_rules_behind_it(walk: str) -> None:
    found = advice(bundled_walk(walk))
    parts = {setting.setting: setting.parts for setting in found.settings}
    carried = 0
    assert found.changes
    for change in found.changes:
        setting = workshop().machine.settings[change.setting]
        # A rule that moved the value by less than a quarter of what is felt brings no caution.
        least = 0.25 * (setting.felt or setting.step or 1.0)
        for part in parts[change.setting]:
            rule = workshop().rulebase.by_id.get(part.source.removeprefix("rule:"))
            if rule is not None and rule.caution and abs(part.amount) >= least:
                assert rule.caution in change.cautions
                carried += 1
    assert carried


@given(st.sampled_from(MACHINES), walks(), riders())
@settings(max_examples=25, deadline=None)
def test_a_motorcycle_as_advised_needs_no_change(
    name: str, walk: Walk, rider: Rider | None
) -> None:
    first = advice(walk, name, rider=rider)
    on_bike = {setting.setting: setting.value for setting in first.settings}
    again = advice(walk, name, rider=rider, on_bike=on_bike)
    assert again.changes == ()
    assert set(again.left_alone.values()) == {"already there"}
    assert [s.value for s in again.settings] == [s.value for s in first.settings]


@given(st.sampled_from(MACHINES), walks(), st.data())
@settings(max_examples=25, deadline=None)
def test_after_the_changes_nothing_that_can_be_felt_is_left(
    name: str, walk: Walk, data: st.DataObject
) -> None:
    """Working through the sheet and asking again gives an empty checklist."""
    on_bike = data.draw(setups(name)) or {}
    first = advice(walk, name, on_bike=on_bike)
    done = {
        **{s: machine(name).settings[s].fixed_house for s in machine(name).settings},
        **on_bike,
        **{change.setting: change.to for change in first.changes},
    }
    assert advice(walk, name, on_bike=done).changes == ()


def test_what_is_on_the_motorcycle_does_not_move_the_advice() -> None:
    walk = bundled_walk("mud")
    bare = advice(walk)
    with_setup = advice(walk, on_bike={"fork_compression_low": 3.0, "rear_sprocket": 46.0})
    assert [s.value for s in bare.settings] == [s.value for s in with_setup.settings]


def test_sprockets_chain_and_axle_are_one_job_of_shared_minutes() -> None:
    wishes = [
        Wish("rear_sprocket", 50.0, 52.0, 1.0),
        Wish("chain_links", 114.0, 116.0, 2.0),
        Wish("axle_position", 20.0, 27.0, 3.0),
        Wish("front_sprocket", 13.0, 13.0, 1.0),
    ]
    found, alone = jobs(machine(), wishes)
    (job,) = found
    assert {wish.setting for wish in job.wishes} == {
        "rear_sprocket",
        "chain_links",
        "axle_position",
    }
    assert alone == {"front_sprocket": "already there"}
    own = sorted((machine().settings[wish.setting].minutes for wish in job.wishes), reverse=True)
    assert job.minutes == own[0] + sum(own[1:]) / 2
    assert own[0] < job.minutes < sum(own)


def test_the_axle_alone_is_a_job_of_its_own() -> None:
    wishes = [Wish(name, 20.0, 20.0, 1.0) for name in DRIVE_SETTINGS if name != "axle_position"]
    found, _ = jobs(machine(), [*wishes, Wish("axle_position", 20.0, 27.0, 3.0)])
    assert [[wish.setting for wish in job.wishes] for job in found] == [["axle_position"]]


@given(
    st.lists(st.sampled_from(DRIVE_SETTINGS), unique=True, min_size=1),
    st.lists(st.sampled_from(["fork_height", "race_sag", "idle_speed"]), unique=True),
)
def test_minutes_of_single_changes_add_up_to_those_of_the_jobs(
    drive: list[str], others: list[str]
) -> None:
    wishes = [Wish(name, 1.0, 2.0, 0.0) for name in (*drive, *others)]
    shared = [Job(tuple(wishes[: len(drive)]), 10.0 + 7.3 * len(drive), 1.0)]
    single = [Job((wish,), machine().settings[wish.setting].minutes, 1.0) for wish in wishes]
    chosen = [*shared, *single[len(drive) :]]
    each = minutes_each(chosen, machine())
    assert set(each) == {*drive, *others}
    assert sum(each.values()) == pytest.approx(sum(job.minutes for job in chosen), abs=1e-9)
    assert [wish.setting for wish in working_order(machine(), chosen)] == sorted(
        [*drive, *others], key=lambda name: machine().settings[name].order
    )


def test_a_change_too_small_to_feel_is_left_alone_with_both_values() -> None:
    """The axle is felt from 3 mm on, says the machine file."""
    found, alone = jobs(machine(), [Wish("axle_position", 20.0, 22.0, 0.5)])
    assert found == []
    assert alone == {"axle_position": "too little to feel: 20 mm against 22 mm"}


def test_parts_on_the_shelf_count_by_their_place() -> None:
    springs = machine().settings["clutch_springs"]
    assert felt_changes(springs, Wish("clutch_springs", 10.5, 11.5, 1.0)) == 2
    tyres = machine().settings["front_tyre"]
    assert felt_changes(tyres, Wish("front_tyre", 3.0, 1.0, 1.0)) == 2


@given(st.floats(0.1, 5), st.floats(0, 10), st.floats(0, 10))
def test_a_bigger_change_is_no_less_certain(spread: float, one: float, other: float) -> None:
    small, big = sorted([one, other])
    sure = [certainty(Wish("fork_height", 5.0, 5.0 + move, spread)) for move in (small, big)]
    assert 0 <= sure[0] <= sure[1] <= 1


def test_a_change_as_large_as_the_range_is_right_in_eighty_of_a_hundred() -> None:
    """80 % of a normal distribution lie within the range the spread stands for."""
    assert certainty(Wish("fork_height", 5.0, 6.0, 1.0)) == pytest.approx(0.8, abs=1e-4)
