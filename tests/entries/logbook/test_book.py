"""The book keeps what is written, in a file and on a server alike; nothing is overwritten."""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, datetime

import pytest
from sqlalchemy.exc import DBAPIError, IntegrityError

from setupadvisor.entries.logbook import tables, writing
from setupadvisor.entries.logbook.book import Book, open_book
from setupadvisor.entries.logbook.records import (
    ChangeCount,
    ChangeEntry,
    EventSummary,
    LapEntry,
    RiderRemark,
)
from setupadvisor.entries.session import Setup
from setupadvisor.errors import InputError
from tests.entries.logbook.samples import (
    DATE,
    EVENT,
    LAPS,
    MACHINES,
    MORNING,
    OUTING,
    RIDERS,
    outing,
    refused,
    write,
)

CHANGE = ChangeEntry("shock_rebound_low", 11, 9, "rear kicks", "rear_kicks", "", "M1")


def test_a_day_is_given_back_as_it_was_written(book: Book) -> None:
    with book.writing("crew") as page:
        page.add_walk(MORNING)
        page.add_outing(OUTING)
        page.add_mark("M1", 3, 118.25)
        page.add_remark("M1", RiderRemark("kicks in the whoops", ("rear_kicks",)))
        page.add_remark("M1", RiderRemark("äöü 🏁 'quoted'; DROP TABLE outing"))
        page.add_laps("M1", LAPS)
        page.add_change(CHANGE)
        page.add_outing(outing("M2", setup={**OUTING.setup, "shock_rebound_low": 9}, time="11:40"))
    day = book.day(EVENT, "north")
    first, second = day.outings
    assert day.walk == MORNING
    assert first.outing == OUTING
    assert (first.mark, first.best_lap_s, first.version, first.who) == (3, 118.25, 1, "crew")
    assert first.remarks == (
        RiderRemark("kicks in the whoops", ("rear_kicks",)),
        RiderRemark("äöü 🏁 'quoted'; DROP TABLE outing"),
    )
    assert first.laps == LAPS
    assert second.outing.setup == {"shock_rebound_low": 9, "fork_compression_low": 10.5}
    assert (second.mark, second.best_lap_s, second.laps, second.remarks) == (None, None, (), ())
    assert day.changes == (CHANGE,) == book.tried(EVENT, "north")


def test_a_book_is_the_same_after_it_was_closed_and_opened(where: str) -> None:
    with open_book(where) as book:
        write(book, OUTING)
        before = book.day(EVENT, "north")
    with open_book(where, create=False) as book:
        assert book.day(EVENT, "north") == before


def test_a_day_of_which_nothing_is_known_is_empty(book: Book) -> None:
    day = book.day("No such event", "nobody")
    assert (day.walk, day.outings, day.changes) == (None, (), ())


def test_riders_see_their_own_outings_alone(book: Book) -> None:
    write(book, OUTING, outing("S1", rider="south"))
    assert [one.outing.session_id for one in book.day(EVENT, "south").outings] == ["S1"]


def test_outings_stand_in_the_order_of_days_then_of_writing(book: Book) -> None:
    write(book, outing("late", date="2026-06-08"), outing("first"), outing("second"))
    names = [one.outing.session_id for one in book.day(EVENT, "north").outings]
    assert names == ["first", "second", "late"]


def test_a_correction_is_a_new_version_and_the_old_one_stays(book: Book) -> None:
    write(book, OUTING)
    with book.writing("chief") as page:
        page.add_outing(replace(OUTING, setup={"shock_rebound_low": 12}), correct=True)
        page.add_mark("M1", 3)
        page.add_mark("M1", 4)
    (ridden,) = book.day(EVENT, "north").outings
    assert (ridden.version, ridden.who, ridden.mark) == (2, "chief", 4)
    assert ridden.outing.setup == {"shock_rebound_low": 12}
    told = [(one.what, one.version, one.who) for one in book.history(EVENT)]
    assert told == [
        ("outing M1", 1, "crew"),
        ("outing M1", 2, "chief"),
        ("outcome of M1", 1, "chief"),
        ("outcome of M1", 2, "chief"),
    ]


def test_an_outing_that_says_something_else_is_refused_unless_it_is_a_correction(
    book: Book,
) -> None:
    write(book, OUTING)
    with pytest.raises(InputError) as error, book.writing("crew") as page:
        page.add_outing(replace(OUTING, rider="south"))
    (said,) = refused(error.value)
    assert "'M1' is in the book and says something else" in said
    assert "--correct" in said
    assert book.day(EVENT, "south").outings == ()


def test_writing_the_same_again_adds_no_version(book: Book) -> None:
    for _ in range(2):
        with book.writing("crew") as page:
            assert page.add_walk(MORNING) == 1
            assert page.add_rider(RIDERS["north"]) == 1
            page.add_outing(OUTING)
            page.add_mark("M1", 3)
            page.add_laps("M1", LAPS)
    assert {one.version for one in book.history(EVENT)} == {1}


def test_a_withdrawn_outing_leaves_the_day_and_stays_in_the_history(book: Book) -> None:
    write(book, OUTING, outing("M2"))
    with book.writing("chief") as page:
        page.withdraw("M1")
    assert [one.outing.session_id for one in book.day(EVENT, "north").outings] == ["M2"]
    assert book.history(EVENT)[-1].content == "withdrawn"
    with pytest.raises(InputError):
        book.outing("M1")
    with book.writing("chief") as page:
        page.add_outing(OUTING, correct=True)
    assert book.outing("M1").version == 3


def test_an_error_in_the_middle_of_a_writing_leaves_nothing_of_it(book: Book) -> None:
    with pytest.raises(InputError), book.writing("crew") as page:
        page.add_outing(OUTING)
        page.add_mark("M1", 7)
    assert book.day(EVENT, "north").outings == ()
    assert book.history(EVENT) == []


def test_when_is_told_in_utc(book: Book) -> None:
    before = datetime.now(UTC)
    write(book, OUTING)
    written = datetime.fromisoformat(book.outing("M1").written_at)
    assert written.utcoffset() is not None
    assert before <= written <= datetime.now(UTC)


def test_a_clock_that_goes_backwards_changes_no_order(
    book: Book, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The version tells what is newest, not the clock."""

    class Backwards(datetime):
        hour_of_day = 12

        @classmethod
        def now(cls, tz: object = None) -> datetime:  # type: ignore[override]
            cls.hour_of_day -= 1
            return datetime(2026, 6, 7, cls.hour_of_day, tzinfo=UTC)

    monkeypatch.setattr(writing, "datetime", Backwards)
    write(book, OUTING)
    for mark in (2, 5):
        with book.writing("crew") as page:
            page.add_mark("M1", mark)
    assert book.outing("M1").mark == 5
    assert [one.content for one in book.history(EVENT)][1:] == ["mark 2", "mark 5"]


def test_a_walk_corrected_is_corrected_for_the_outings_of_its_part(book: Book) -> None:
    warmer = MORNING.model_copy(update={"note": "Warmer than written."})
    afternoon = MORNING.model_copy(update={"note": "After the rain."})
    with book.writing("crew") as page:
        page.add_walk(MORNING)
        page.add_outing(OUTING)
        page.add_walk(afternoon, "afternoon")
        assert page.add_walk(warmer) == 2
    assert book.day(EVENT, "north").walk == warmer
    with book.writing("crew") as page:
        page.add_outing(outing("A1", part="afternoon"))
    assert book.day(EVENT, "north").walk == afternoon


def test_people_machines_and_setups_are_given_back(book: Book) -> None:
    setup = Setup.model_validate({"date": "2026-05-31", "settings": {"engine_map": "mild"}})
    with book.writing("crew") as page:
        for rider in RIDERS.values():
            page.add_rider(rider)
        for machine in MACHINES.values():
            page.add_machine(machine)
        assert page.add_setup("base", setup) == 1
        assert page.add_setup("base", setup.model_copy(update={"note": "again"})) == 2
    assert book.riders() == RIDERS
    assert book.machines() == MACHINES
    assert book.machine("works-250") == MACHINES["works-250"]
    assert book.rider("nobody") is None
    assert book.names("setup") == ["base"]


def test_an_outing_without_a_name_is_given_one_that_is_free(book: Book) -> None:
    with book.writing("crew") as page:
        names = [page.add_outing(outing("")) for _ in range(3)]
        page.withdraw(names[0])
        names.append(page.add_outing(outing("")))
    start = "fallow-bank-round-north-"
    assert names == [f"{start}{number}" for number in (1, 2, 3, 4)]


def test_laps_can_be_corrected_and_taken_out(book: Book) -> None:
    write(book, OUTING)
    better = [LapEntry(1, 120.0), LAPS[1]]
    with book.writing("crew") as page:
        assert page.add_laps("M1", LAPS) == 3
    with pytest.raises(InputError, match="--correct"), book.writing("crew") as page:
        page.add_laps("M1", better)
    with book.writing("crew") as page:
        assert page.add_laps("M1", better, correct=True) == 2
    assert list(book.outing("M1").laps) == better
    with book.writing("crew") as page:
        page.add_laps("M1", LAPS, correct=True)
    assert book.outing("M1").laps == LAPS


@pytest.mark.parametrize(
    ("laps", "said"),
    [
        ([LapEntry(1, 118.0), LapEntry(1, 119.0)], "the lap stands twice"),
        ([LapEntry(1, 0.0)], "a lap of 0 s cannot be"),
        ([LapEntry(1, -3.0)], "a lap of -3 s cannot be"),
        ([LapEntry(1, float("nan"))], "a lap of nan s cannot be"),
        ([LapEntry(1, float("inf"))], "a lap of inf s cannot be"),
        ([LapEntry(1, 86_400.5)], "cannot be"),
        ([LapEntry(-1, 118.0)], "no lap has this number"),
        ([LapEntry(1, 118.0, -5.0)], "is on no clock"),
        ([LapEntry(1, 118.0, None, "pit")], "the flag 'pit' is unknown"),
    ],
)
def test_laps_that_cannot_be_are_refused(book: Book, laps: list[LapEntry], said: str) -> None:
    write(book, OUTING)
    with pytest.raises(InputError) as error, book.writing("crew") as page:
        page.add_laps("M1", laps)
    assert said in refused(error.value)[-1]
    assert book.outing("M1").laps == ()


def test_a_remark_is_corrected_in_its_place(book: Book) -> None:
    write(book, OUTING)
    with book.writing("crew") as page:
        assert [page.add_remark("M1", RiderRemark(text)) for text in ("one", "two")] == [1, 2]
        assert page.add_remark("M1", RiderRemark("three"), 1) == 1
    assert [remark.text for remark in book.outing("M1").remarks] == ["three", "two"]
    with pytest.raises(InputError, match="no remark 3"), book.writing("crew") as page:
        page.add_remark("M1", RiderRemark("four"), 3)


@pytest.mark.parametrize(
    ("wrong", "said"),
    [
        ({"date": "7.6.2026"}, "write year-month-day"),
        ({"event": " "}, "the text is empty"),
        ({"rider": "x" * 121}, "write at most 120"),
        ({"machine": "a\x1b[2Jb"}, "cannot be printed"),
        ({"session_id": "y" * 81}, "write at most 80"),
        ({"part": "evening"}, "there is no walk"),
    ],
)
def test_an_outing_that_cannot_be_is_refused(book: Book, wrong: dict[str, str], said: str) -> None:
    with pytest.raises(InputError) as error, book.writing("crew") as page:
        page.add_outing(replace(OUTING, **wrong))  # type: ignore[arg-type]
    assert said in refused(error.value)[0]


def test_nobody_cannot_write(book: Book) -> None:
    with pytest.raises(InputError, match="who: the text is empty"), book.writing("  "):
        pass


def test_an_outing_that_is_not_there_is_named_with_the_nearest(book: Book) -> None:
    write(book, outing("Sunday-1"))
    with pytest.raises(InputError, match="did you mean Sunday-1"), book.writing("crew") as page:
        page.add_mark("Sunday-2", 3)


@pytest.mark.parametrize(
    ("change", "said"),
    [
        (replace(CHANGE, verdict="great"), "write one of better, same, worse"),
        (replace(CHANGE, to=float("nan")), "write two numbers"),
        (replace(CHANGE, after="M9"), "no outing 'M9'"),
        (replace(CHANGE, setting=""), "the text is empty"),
    ],
)
def test_a_change_that_cannot_be_is_refused(book: Book, change: ChangeEntry, said: str) -> None:
    write(book, OUTING)
    with pytest.raises(InputError) as error, book.writing("crew") as page:
        page.add_change(change)
    assert said in refused(error.value)[0]


def test_changes_of_a_kind_are_counted_by_their_newest_verdict(book: Book) -> None:
    verdicts = ["better", "better", "same", "worse", ""]
    write(book, *(outing(f"M{number}") for number in range(len(verdicts) + 2)))
    with book.writing("crew") as page:
        for number, verdict in enumerate(verdicts):
            change = replace(CHANGE, after=f"M{number}")
            page.add_change(replace(change, verdict="worse"))
            page.add_change(replace(change, verdict=verdict))
        up = replace(CHANGE, start=9, to=11, verdict="same", after="M5")
        page.add_change(up)
        page.add_change(replace(up, after="M6"))
        page.withdraw("M6")
    assert book.record_of_changes() == [
        ChangeCount("works-450", "shock_rebound_low", False, "rear_kicks", 2, 1, 1),
        ChangeCount("works-450", "shock_rebound_low", True, "rear_kicks", 0, 1, 0),
    ]


def test_the_events_are_listed_with_who_rode_there(book: Book) -> None:
    with book.writing("crew") as page:
        page.add_walk(MORNING)
        page.add_walk(MORNING.model_copy(update={"event": "Only walked"}))
        page.add_outing(OUTING)
        page.add_outing(outing("S1", rider="south", date="2026-06-08"))
        page.add_outing(outing("E1", event="Earlier", date="2026-01-02"))
    assert book.events() == [
        EventSummary("Earlier", "2026-01-02", "2026-01-02", ("north",), 1, 0),
        EventSummary("Only walked", DATE, DATE, (), 0, 1),
        EventSummary(EVENT, DATE, "2026-06-08", ("north", "south"), 2, 1),
    ]


def test_the_last_outing_is_found_for_all_and_for_one(book: Book) -> None:
    assert book.last_outing() is None
    write(
        book,
        OUTING,
        outing("L", date="2026-06-08", machine="works-250"),
        outing("S", rider="south"),
    )
    found = [book.last_outing(), book.last_outing("south"), book.last_outing("north", "works-450")]
    assert [one.session_id for one in found if one] == ["L", "S", "M1"]
    assert book.last_outing("nobody") is None


@pytest.mark.parametrize("statement", ["UPDATE outcome SET mark = 5", "DELETE FROM outing_version"])
def test_the_database_itself_refuses_to_overwrite(book: Book, statement: str) -> None:
    write(book, OUTING)
    with book.writing("crew") as page:
        page.add_mark("M1", 2)
    said = "nothing in a logbook is overwritten"
    with pytest.raises(DBAPIError, match=said), book.engine.begin() as connection:
        connection.exec_driver_sql(statement)
    assert book.outing("M1").mark == 2


def test_what_belongs_to_nothing_is_refused_by_the_database(book: Book) -> None:
    write(book, OUTING)
    row = {"outing_id": 99, "version": 1, "mark": 3.0, "best_lap_s": None, "writing_id": 1}
    with pytest.raises(IntegrityError), book.engine.begin() as connection:
        connection.execute(tables.outcome.insert(), [row])


def test_a_mark_is_one_to_five(book: Book) -> None:
    write(book, OUTING)
    for wrong in (0, 6, 2.5, float("nan")):
        with pytest.raises(InputError, match="write 1, 2, 3, 4 or 5"), book.writing("c") as page:
            page.add_mark("M1", wrong)
    for wrong in (0.0, 9.9, 1801.0, float("nan")):
        with pytest.raises(InputError, match="write 10 s"), book.writing("c") as page:
            page.add_mark("M1", None, wrong)
    with book.writing("c") as page:
        page.add_mark("M1", 4)
        page.add_mark("M1", None, 90.5)
    assert (book.outing("M1").mark, book.outing("M1").best_lap_s) == (4, 90.5)
