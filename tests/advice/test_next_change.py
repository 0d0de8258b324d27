"""The next change: one at a time, inside limits and time, by its chance, and back if it failed."""

from __future__ import annotations

from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy import stats

from setupadvisor.advice.next_change import (
    CONDITION_SHIFT,
    OPPOSED_SHIFT,
    PRIOR,
    SEVERITY,
    WALK_SHIFT,
    next_change,
)
from setupadvisor.advice.next_records import NextChange, Record, Tried
from setupadvisor.advice.workshop import Workshop
from tests.advice.small_shop import SETTINGS, ground, remark, shop

KICKS = remark(
    "kicks",
    "kicks",
    "rear",
    "shock_rebound_low: 2 stiffer | firm",
    "shock_compression_low: 2 stiffer | usual",
    "race_sag: 2 more | loose",
    "shock_spring: 4 stiffer | usual",
)
PACKS = remark("packs", "packs", "rear", "shock_rebound_low: 2 softer | firm")


def ask(workshop: Workshop, *, cone_index_kpa: float | None = 1500.0, **others: Any) -> NextChange:
    """The next change for all of a workshop's remarks, from the house setup."""
    found = ground(workshop, cone_index_kpa)
    setup = others.pop("setup", {name: one.fixed_house for name, one in SETTINGS.items()})
    return next_change(workshop, found, setup, workshop.rulebase.remarks, **others)


def moved(answer: NextChange) -> list[str]:
    return [move.setting for proposal in answer.proposals for move in proposal.moves]


def chance(answer: NextChange, setting: str) -> float:
    (found,) = (
        proposal.chance
        for proposal in answer.proposals
        if [move.setting for move in proposal.moves] == [setting]
    )
    return found


def notes(answer: NextChange) -> str:
    return "\n".join(answer.notes)


def test_one_to_try_and_two_behind_it() -> None:
    answer = ask(shop(KICKS))
    assert moved(answer) == ["shock_rebound_low", "shock_compression_low", "race_sag"]
    first = answer.proposals[0]
    (move,) = first.moves
    assert (move.start, move.to, move.shown) == (12.0, 10.0, "12 clicks → 10 clicks (stiffer)")
    assert (first.remark, first.complaint) == ("kicks", "Title of kicks")
    assert (first.why, first.look_for, move.check) == ("Because.", "less of it", "Count.")
    assert move.undo == "Back to 12 clicks: Count back."
    assert answer.go_back == ()


def test_the_order_is_chance_over_time_weighed_by_what_can_throw_a_rider() -> None:
    """Going out to feel it takes five minutes whatever was changed."""
    answer = ask(shop(KICKS))
    for proposal in answer.proposals:
        expected = SEVERITY["kicks"] * proposal.chance / (proposal.minutes + 5.0)
        assert proposal.gain_per_minute == pytest.approx(expected, rel=1e-12)
    gains = [proposal.gain_per_minute for proposal in answer.proposals]
    assert gains == sorted(gains, reverse=True)


def test_what_rarely_helps_never_goes_first_for_taking_long() -> None:
    """Two ways that failed as often: the quick one is tried first."""
    failed = [
        Record(setting, direction, "kicks", "rear", 0, 0, 20)
        for setting, direction in (
            ("shock_compression_low", "stiffer"),
            ("shock_spring", "stiffer"),
        )
    ]
    workshop = shop(
        remark(
            "kicks", "kicks", "rear",
            "shock_spring: 4 stiffer | usual", "shock_compression_low: 2 stiffer | usual",
        )
    )  # fmt: skip
    answer = ask(workshop, records=failed)
    assert all(proposal.chance < 0.2 for proposal in answer.proposals)
    assert moved(answer) == ["shock_compression_low", "shock_spring"]


def test_a_change_of_two_settings_is_one_change() -> None:
    workshop = shop(
        remark(
            "kicks", "kicks", "rear",
            "shock_rebound_low: 1 stiffer, race_sag: 2 more | firm",
            "shock_rebound_low: 2 stiffer | usual",
        )
    )  # fmt: skip
    answer = ask(workshop)
    assert len(answer.proposals) == 1
    assert len({move.setting for move in answer.proposals[0].moves}) == len(
        answer.proposals[0].moves
    )


@pytest.mark.parametrize(
    ("now", "to"), [(12.0, 10.0), (3.0, 2.0), (2.0, None)], ids=["room", "less room", "no room"]
)
def test_no_change_goes_past_a_limit(now: float, to: float | None) -> None:
    workshop = shop(remark("kicks", "kicks", "rear", "shock_rebound_low: 2 stiffer | firm"))
    answer = ask(workshop, setup={"shock_rebound_low": now})
    if to is None:
        assert answer.proposals == ()
        assert "Rebound is at its end (stiffer)" in notes(answer)
    else:
        assert answer.proposals[0].moves[0].to == to


@pytest.mark.parametrize(("now", "to"), [(44.0, 48.0), (48.0, 54.0), (54.0, None)])
def test_a_part_moves_to_the_next_one_on_the_shelf(now: float, to: float | None) -> None:
    """Four N/mm more than 48 would be 52: there is none, and 54 is the next."""
    workshop = shop(remark("kicks", "kicks", "rear", "shock_spring: 4 stiffer | firm"))
    answer = ask(workshop, setup={"shock_spring": now})
    assert [move.to for one in answer.proposals for move in one.moves] == ([to] if to else [])


def test_a_setting_that_the_machine_lacks_is_told() -> None:
    workshop = shop(KICKS)
    less = {name: one for name, one in SETTINGS.items() if name != "shock_rebound_low"}
    without = Workshop(
        workshop.machine.model_copy(update={"settings": less}),
        workshop.rulebase,
        workshop.compiled,
        workshop.amounts[:, 1:],
    )
    answer = ask(without)
    assert "shock_rebound_low" not in moved(answer)
    assert f"{workshop.machine.name} has no shock rebound low" in notes(answer)
    tried = [Tried("shock_rebound_low", 12.0, 10.0, "worse")]
    assert ask(without, tried=tried).go_back == ()


@pytest.mark.parametrize("verdict", ["same", "worse"])
def test_what_did_not_help_today_is_not_proposed_again(verdict: str) -> None:
    answer = ask(shop(KICKS), tried=[Tried("shock_rebound_low", 12.0, 11.0, verdict)])
    assert "shock_rebound_low" not in moved(answer)
    assert "Rebound stiffer: tried today, did not help" in notes(answer)


def test_the_other_direction_and_what_helped_stay_open() -> None:
    softer = [Tried("shock_rebound_low", 12.0, 14.0, "worse")]
    assert "shock_rebound_low" in moved(ask(shop(KICKS), tried=softer))
    better = [Tried("shock_rebound_low", 12.0, 11.0, "better")]
    assert "shock_rebound_low" in moved(ask(shop(KICKS), tried=better))


def test_the_last_word_on_a_direction_counts() -> None:
    tried = [
        Tried("shock_rebound_low", 14.0, 13.0, "same"),
        Tried("shock_rebound_low", 13.0, 12.0, "better"),
    ]
    assert "shock_rebound_low" in moved(ask(shop(KICKS), tried=tried))


def test_what_made_it_worse_is_taken_back_first() -> None:
    tried = [
        Tried("shock_compression_low", 12.0, 11.0, "better"),
        Tried("shock_rebound_low", 12.0, 10.0, "worse"),
    ]
    answer = ask(
        shop(KICKS), tried=tried, setup={"shock_rebound_low": 10.0, "shock_compression_low": 11.0}
    )
    (move,) = answer.go_back
    assert (move.setting, move.start, move.to) == ("shock_rebound_low", 10.0, 12.0)
    assert move.undo == "Back to 12 clicks: Count back."
    assert "made it worse: take it back first" in notes(answer)
    # What helped stays.
    (compression,) = (
        move
        for one in answer.proposals
        for move in one.moves
        if move.setting == "shock_compression_low"
    )
    assert compression.start == 11.0


def test_one_that_changed_nothing_may_stay() -> None:
    answer = ask(shop(KICKS), tried=[Tried("shock_rebound_low", 12.0, 10.0, "same")])
    assert answer.go_back == ()


def test_after_two_that_did_not_help_the_last_good_setup_comes_back() -> None:
    """To where each setting stood at the last better, however often it was moved since."""
    tried = [
        Tried("shock_compression_low", 14.0, 12.0, "better"),
        Tried("shock_rebound_low", 12.0, 11.0, "same"),
        Tried("race_sag", 104.0, 106.0, "same"),
        Tried("shock_rebound_low", 11.0, 10.0, "worse"),
    ]
    now = {"shock_rebound_low": 10.0, "race_sag": 106.0, "shock_compression_low": 12.0}
    answer = ask(shop(KICKS), tried=tried, setup=now)
    assert {move.setting: move.to for move in answer.go_back} == {
        "shock_rebound_low": 12.0,
        "race_sag": 104.0,
    }
    assert "3 changes in a row did not help" in notes(answer)


def test_a_change_without_a_verdict_yet_ends_the_row() -> None:
    tried = [
        Tried("shock_rebound_low", 12.0, 11.0, "same"),
        Tried("race_sag", 104.0, 106.0, "same"),
        Tried("shock_compression_low", 12.0, 11.0, ""),
    ]
    assert ask(shop(KICKS), tried=tried).go_back == ()


def test_without_a_sheet_the_changes_of_today_say_where_things_stand() -> None:
    answer = ask(shop(KICKS), setup={}, tried=[Tried("shock_rebound_low", 12.0, 10.0, "worse")])
    assert [(move.start, move.to) for move in answer.go_back] == [(10.0, 12.0)]


def test_what_was_taken_back_already_is_said() -> None:
    answer = ask(shop(KICKS), tried=[Tried("shock_rebound_low", 12.0, 10.0, "worse")])
    assert answer.go_back == ()
    assert "Rebound is back at 12 clicks already" in notes(answer)


def test_changes_that_do_not_fit_the_time_are_left_out_with_their_minutes() -> None:
    answer = ask(shop(KICKS), minutes=10.0)
    assert moved(answer) == ["shock_rebound_low", "shock_compression_low"]
    assert "Sag 104 mm → 106 mm (more) would take 15 min of 10 left" in notes(answer)
    assert all(proposal.minutes <= 10.0 for proposal in answer.proposals)
    assert ask(shop(KICKS), minutes=0.0).proposals == ()


def test_going_back_takes_its_share_of_the_time() -> None:
    tried = [Tried("race_sag", 104.0, 106.0, "worse")]
    answer = ask(shop(KICKS), setup={"race_sag": 106.0}, tried=tried, minutes=15.5)
    assert [move.minutes for move in answer.go_back] == [15.0]
    assert answer.proposals == ()
    assert "would take 1 min of 0.5 left" in notes(answer)


def test_opposite_complaints_are_recognised_and_cost_both_their_chance() -> None:
    alone, both = shop(KICKS), shop(KICKS, PACKS)
    answer = ask(both)
    assert "ask for opposite changes" in notes(answer)
    assert "first: Title of kicks" in notes(answer), "what can throw the rider"
    assert chance(answer, "shock_rebound_low") == pytest.approx(
        chance(ask(alone), "shock_rebound_low") - OPPOSED_SHIFT, abs=1e-12
    )
    (opposed,) = (one for one in answer.proposals if one.moves[0].setting == "shock_rebound_low")
    assert "works against: Title of packs" in opposed.notes
    assert "opposite" not in notes(ask(alone))


# Beta distribution: the posterior mean, and the chance of one success in one more try of the
# Beta-binomial, are the same number. Source: scipy.stats. The tolerance is rounding alone.
@pytest.mark.parametrize("gain", PRIOR)
@pytest.mark.parametrize(("better", "worse"), [(0, 0), (1, 0), (0, 1), (3, 5), (40, 2), (0, 60)])
def test_the_record_moves_the_chance_as_a_beta_binomial(gain: str, better: int, worse: int) -> None:
    workshop = shop(remark("kicks", "kicks", "rear", f"shock_rebound_low: 2 stiffer | {gain}"))
    records = [Record("shock_rebound_low", "stiffer", "kicks", "rear", better, 0, worse)]
    found = chance(ask(workshop, records=records), "shock_rebound_low")
    mean, worth = PRIOR[gain]
    a, b = mean * worth + better, (1.0 - mean) * worth + worse
    assert found == pytest.approx(stats.beta(a, b).mean(), rel=1e-12)
    assert found == pytest.approx(stats.betabinom(1, a, b).pmf(1), rel=1e-9)


def test_one_that_changed_nothing_counts_half_against() -> None:
    workshop = shop(remark("kicks", "kicks", "rear", "shock_rebound_low: 2 stiffer | usual"))
    records = [Record("shock_rebound_low", "stiffer", "kicks", "rear", 2, 3, 1)]
    mean, worth = PRIOR["usual"]
    expected = stats.beta(mean * worth + 2.0, (1.0 - mean) * worth + 1.0 + 1.5).mean()
    answer = ask(workshop, records=records)
    assert chance(answer, "shock_rebound_low") == pytest.approx(expected, rel=1e-12)
    assert answer.proposals[0].past == "helped 2 of 4.5 times before"


@pytest.mark.parametrize(
    "other",
    [
        Record("shock_rebound_low", "softer", "kicks", "rear", 50, 0, 0),
        Record("shock_compression_low", "stiffer", "kicks", "rear", 50, 0, 0),
        Record("shock_rebound_low", "stiffer", "packs", "rear", 50, 0, 0),
        Record("shock_rebound_low", "stiffer", "kicks", "front", 50, 0, 0),
    ],
    ids=["other direction", "other setting", "other complaint", "other end"],
)
def test_only_the_record_of_the_same_kind_counts(other: Record) -> None:
    workshop = shop(remark("kicks", "kicks", "rear", "shock_rebound_low: 2 stiffer | usual"))
    answer = ask(workshop, records=[other])
    assert chance(answer, "shock_rebound_low") == pytest.approx(PRIOR["usual"][0], rel=1e-12)
    assert answer.proposals[0].past == "not tried before"


@settings(deadline=None)
@given(st.integers(0, 100), st.integers(0, 100), st.integers(0, 100))
def test_more_success_never_lowers_a_chance(better: int, same: int, worse: int) -> None:
    workshop = shop(remark("kicks", "kicks", "rear", "shock_rebound_low: 2 stiffer | loose"))

    def found(one: int) -> float:
        records = [Record("shock_rebound_low", "stiffer", "kicks", "rear", one, same, worse)]
        return chance(ask(workshop, records=records), "shock_rebound_low")

    assert 0.0 < found(better) < found(better + 1) < 1.0


@pytest.mark.parametrize(("cone_index_kpa", "degree"), [(200.0, 1.0), (500.0, 0.5), (900.0, 0.0)])
@pytest.mark.parametrize(("key", "sign"), [("better", 1.0), ("worse", -1.0)])
def test_conditions_move_the_chance_by_their_degree(
    key: str, sign: float, cone_index_kpa: float, degree: float
) -> None:
    way = f"shock_rebound_low: 2 stiffer | usual | {key}: [soft_ground]"
    answer = ask(shop(remark("kicks", "kicks", "rear", way)), cone_index_kpa=cone_index_kpa)
    expected = PRIOR["usual"][0] + sign * CONDITION_SHIFT * degree
    assert chance(answer, "shock_rebound_low") == pytest.approx(expected, abs=1e-12)
    told = "\n".join(answer.proposals[0].notes)
    assert ("on this ground: soft ground" in told) == (degree > 0.0)


def test_a_way_for_other_ground_is_left_out_and_so_said() -> None:
    way = "shock_rebound_low: 2 stiffer | firm | when: [soft_ground]"
    workshop = shop(remark("kicks", "kicks", "rear", way))
    assert moved(ask(workshop, cone_index_kpa=200.0)) == ["shock_rebound_low"]
    hard = ask(workshop, cone_index_kpa=1500.0)
    assert hard.proposals == ()
    assert "does not suit this ground (Because.)" in notes(hard)


def test_a_way_whose_ground_is_not_known_is_left_out_as_not_known() -> None:
    way = "shock_rebound_low: 2 stiffer | firm | when: [soft_ground]"
    answer = ask(shop(remark("kicks", "kicks", "rear", way)), cone_index_kpa=None)
    assert answer.proposals == ()
    assert "may suit this ground (not known: soft ground)" in notes(answer)


RULE = """
subject: shock
rules:
  soft-ground-rebound:
    title: Soft ground
    when: [soft_ground]
    change: {shock_rebound_low: 2 %s}
    confidence: usual
    why: invented
    look_for: nothing
    source: common practice, no source
"""


@pytest.mark.parametrize(("wish", "sign"), [("stiffer", 1.0), ("softer", -1.0)])
def test_what_the_walk_wishes_for_moves_the_chance(wish: str, sign: float) -> None:
    way = remark("kicks", "kicks", "rear", "shock_rebound_low: 2 stiffer | usual")
    answer = ask(shop(way, rules=RULE % wish), cone_index_kpa=200.0)
    expected = PRIOR["usual"][0] + sign * WALK_SHIFT
    assert chance(answer, "shock_rebound_low") == pytest.approx(expected, abs=1e-12)


def test_without_a_complaint_there_is_no_change() -> None:
    workshop = shop(KICKS)
    answer = next_change(workshop, ground(workshop), {}, [])
    assert answer == NextChange((), (), ())


SETTING = st.sampled_from(sorted(SETTINGS))


@st.composite
def trials(draw: st.DrawFn) -> list[Tried]:
    found = []
    for _ in range(draw(st.integers(0, 5))):
        name = draw(SETTING)
        values = st.sampled_from(SETTINGS[name].values)
        verdict = draw(st.sampled_from(["", "better", "same", "worse"]))
        found.append(Tried(name, draw(values), draw(values), verdict))
    return found


@settings(deadline=None)
@given(
    trials(),
    st.dictionaries(SETTING, st.integers(0, 10_000), max_size=4),
    st.one_of(st.none(), st.floats(0.0, 120.0)),
    st.floats(100.0, 3000.0),
)
def test_whatever_happened_the_answer_can_be_done(
    tried: list[Tried], picks: dict[str, int], minutes: float | None, cone_index_kpa: float
) -> None:
    """Only values that can be set, never the value there is, no setting twice, in the time."""
    setup = {
        name: SETTINGS[name].values[pick % len(SETTINGS[name].values)]
        for name, pick in picks.items()
    }
    answer = ask(
        shop(KICKS, PACKS), tried=tried, setup=setup, minutes=minutes, cone_index_kpa=cone_index_kpa
    )
    assert len(answer.proposals) <= 3
    assert len(set(moved(answer))) == len(moved(answer))
    back = {move.setting: move for move in answer.go_back}
    last = {one.setting: one.to for one in tried}
    for name, move in back.items():
        assert move.start == setup.get(name, last.get(name))
        assert move.to in SETTINGS[name].values
        assert move.to != move.start
    for proposal in answer.proposals:
        assert 0.0 < proposal.chance < 1.0
        for move in proposal.moves:
            assert move.to in SETTINGS[move.setting].values
            assert move.to != move.start
            if move.setting in back:
                assert move.start == back[move.setting].to
        if minutes is not None:
            going_back = sum(move.minutes for move in answer.go_back)
            assert going_back + proposal.minutes <= minutes
