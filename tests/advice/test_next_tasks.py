"""Checks, preparation and cautions around the next change."""

from __future__ import annotations

from tests.advice.small_shop import remark, shop
from tests.advice.test_next_change import ask

LOOSE = """  shakes:
    title: Title of shakes
    where: straight
    what: headshake
    end: front
    words: [word of shakes]
    look_for: less of it
    source: common practice, no source
    try:
      - change: {shock_rebound_low: 2 softer}
        check: [Look at the axle]
        gain: loose
        why: Because.
        caution: Hands out of the wheel.
      - check: [Look at the head bearings]
        gain: firm
        why: Play feeds it.
        worse: [soft_ground]
        caution: No ride with loose bearings.
      - prepare: [Glue the grips]
        gain: usual
        why: Hands slip.
"""


def test_what_must_be_in_order_stands_outside_the_order_of_changes() -> None:
    answer = ask(shop(LOOSE), minutes=1.0)
    assert [one.tasks for one in answer.checks] == [
        ("Look at the head bearings",),
        ("Look at the axle",),
    ]
    assert [one.cautions for one in answer.checks] == [
        ("No ride with loose bearings.",),
        ("Hands out of the wheel.",),
    ]
    assert [one.tasks for one in answer.prepare] == [("Glue the grips",)]
    assert [move.setting for one in answer.proposals for move in one.moves] == ["shock_rebound_low"]


def test_checks_of_several_complaints_begin_with_what_can_throw_a_rider() -> None:
    """The same check stands once; what was asked for by the worse complaint goes first."""
    mild = LOOSE.replace("shakes", "pushes").replace("what: headshake", "what: pushes")
    other = mild.replace("Look at the axle", "Look at the forks")
    answer = ask(shop(other, LOOSE))
    assert [one.tasks[0] for one in answer.checks] == [
        "Look at the head bearings",
        "Look at the axle",
        "Look at the forks",
    ]
    assert answer.checks[0].remark == "shakes"
    assert len(answer.prepare) == 1


def test_the_ground_says_how_likely_a_check_is_to_find_it() -> None:
    soft = ask(shop(LOOSE), cone_index_kpa=200.0)
    assert soft.checks[0].tasks == ("Look at the head bearings",)
    assert soft.checks[0].notes == ("less likely on this ground: soft ground",)
    assert ask(shop(LOOSE), cone_index_kpa=1500.0).checks[0].notes == ()


def test_a_check_for_other_ground_is_left_out_and_so_said() -> None:
    answer = ask(shop(LOOSE.replace("worse:", "when:")), cone_index_kpa=1500.0)
    assert [one.tasks for one in answer.checks] == [("Look at the axle",)]
    assert "does not suit this ground (Play feeds it.)" in "\n".join(answer.notes)


def test_a_change_carries_its_own_caution_and_its_settings_once() -> None:
    way = "shock_compression_low: 2 stiffer | firm | caution: Stand clear."
    (one,) = ask(shop(remark("kicks", "kicks", "rear", way))).proposals
    assert one.cautions == ("Stand clear.", "Hot.")
    assert one.notes == ()
    same = way.replace("Stand clear.", "Hot.")
    (one,) = ask(shop(remark("kicks", "kicks", "rear", same))).proposals
    assert one.cautions == ("Hot.",)
