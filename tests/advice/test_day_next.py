"""From the logbook's words to what the next change asks for."""

from __future__ import annotations

from setupadvisor.advice.day_next import records_of, remarks_of, tried_of
from setupadvisor.entries.logbook.records import ChangeCount, ChangeEntry, RiderRemark
from tests.advice.invented import workshop

MACHINE = workshop().machine
REMARKS = workshop().rulebase.remarks
SETTING = MACHINE.settings["shock_rebound_low"]


def test_remarks_written_with_ids_are_taken_by_their_ids() -> None:
    said = [RiderRemark("it does that thing again", ("whoops-swaps-rear",))]
    found, unclear = remarks_of(said, REMARKS)
    assert [remark.id for remark in found] == ["whoops-swaps-rear"]
    assert unclear == []


def test_words_without_ids_are_understood_now_and_each_remark_stands_once() -> None:
    said = [RiderRemark("whoops-swaps-rear"), RiderRemark("swaps in the whoops at the rear")]
    found, _ = remarks_of(said, REMARKS)
    assert [remark.id for remark in found] == ["whoops-swaps-rear"]


def test_what_is_not_understood_is_handed_back() -> None:
    found, unclear = remarks_of([RiderRemark("purple monday feeling everywhere")], REMARKS)
    assert found == []
    assert unclear == ["purple monday feeling everywhere"]


def test_an_id_that_the_rules_no_longer_have_falls_back_to_the_words() -> None:
    found, _ = remarks_of([RiderRemark("whoops-swaps-rear", ("gone-from-the-rules",))], REMARKS)
    assert [remark.id for remark in found] == ["whoops-swaps-rear"]


def test_changes_of_other_machines_settings_are_not_tried() -> None:
    changes = [
        ChangeEntry("shock_rebound_low", 12, 10, "why", "whoops-swaps-rear", "worse", "DH-1"),
        ChangeEntry("no_such_setting", 1, 2),
    ]
    (one,) = tried_of(changes, MACHINE)
    assert (one.setting, one.start, one.to) == ("shock_rebound_low", 12, 10)
    assert (one.verdict, one.remark) == ("worse", "whoops-swaps-rear")


def test_counts_become_records_in_the_setting_s_direction_words() -> None:
    counts = [
        ChangeCount(MACHINE.name, "shock_rebound_low", True, "whoops-swaps-rear", 3, 1, 2),
        ChangeCount(MACHINE.name, "shock_rebound_low", False, "whoops-swaps-rear", 0, 0, 1),
        ChangeCount("another", "shock_rebound_low", True, "whoops-swaps-rear", 9, 9, 9),
        ChangeCount(MACHINE.name, "shock_rebound_low", True, "gone-from-the-rules", 9, 9, 9),
    ]
    up, down = records_of(counts, MACHINE, REMARKS)
    assert (up.direction, down.direction) == (SETTING.up, SETTING.down)
    assert (up.behaviour, up.end, up.better, up.same, up.worse) == ("swaps", "rear", 3, 1, 2)
