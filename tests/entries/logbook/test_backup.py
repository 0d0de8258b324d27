"""A copy is whole, made while others write, and one file alone."""

from __future__ import annotations

import sqlite3
import threading
from contextlib import closing
from pathlib import Path

import pytest

from setupadvisor.entries.logbook.book import Book, open_book
from setupadvisor.errors import InputError
from tests.entries.logbook.samples import EVENT, LAPS, MORNING, OUTING, outing, write


def test_a_copy_says_what_the_book_says(book: Book, tmp_path: Path) -> None:
    with book.writing("crew") as page:
        page.add_walk(MORNING)
        page.add_outing(OUTING)
        page.add_laps("M1", LAPS)
        page.add_mark("M1", 2)
        page.add_mark("M1", 3)
    copy = tmp_path / "copies" / "copy.book"
    copy.parent.mkdir()
    book.back_up(copy)
    assert [found.name for found in copy.parent.iterdir()] == ["copy.book"]
    with open_book(copy, create=False) as opened:
        assert opened.day(EVENT, "north") == book.day(EVENT, "north")
        assert opened.history(EVENT) == book.history(EVENT)
        write(opened, outing("M2"))
    assert len(book.day(EVENT, "north").outings) == 1


def test_copies_made_while_others_write_are_whole(book: Book, tmp_path: Path) -> None:
    """Each outing is written together with its laps, so a copy has both or neither."""
    stop = threading.Event()
    written = 0

    def go_on_writing() -> None:
        nonlocal written
        while not stop.is_set():
            with book.writing("crew") as page:
                page.add_outing(outing(f"M{written}"))
                page.add_laps(f"M{written}", LAPS)
            written += 1

    writer = threading.Thread(target=go_on_writing)
    writer.start()
    try:
        counts = []
        for number in range(8):
            before = written
            copy = tmp_path / f"copy{number}.book"
            book.back_up(copy)
            with open_book(copy, create=False) as opened:
                outings = opened.day(EVENT, "north").outings
            assert all(one.laps == LAPS for one in outings)
            assert len(outings) >= before
            counts.append(len(outings))
    finally:
        stop.set()
        writer.join()
    assert counts == sorted(counts)
    assert counts[-1] > counts[0]
    assert len(book.day(EVENT, "north").outings) == written


def test_a_file_that_is_there_is_replaced_only_when_asked_to(tmp_path: Path) -> None:
    copy = tmp_path / "copy.book"
    copy.write_text("precious", encoding="utf-8")
    with open_book(tmp_path / "team.book") as book:
        write(book, OUTING)
        with pytest.raises(InputError, match="there is such a file"):
            book.back_up(copy)
        assert copy.read_text(encoding="utf-8") == "precious"
        book.back_up(copy, replace=True)
        with pytest.raises(InputError, match="there is no folder"):
            book.back_up(tmp_path / "none" / "copy.book")
    with open_book(copy, create=False) as book:
        assert len(book.day(EVENT, "north").outings) == 1


def test_a_copy_can_be_read_where_nothing_can_be_written(tmp_path: Path) -> None:
    """It needs no file beside it, as a book that is written ahead of itself does."""
    with open_book(tmp_path / "team.book") as book:
        write(book, OUTING)
        book.back_up(tmp_path / "copy.book")
    with closing(sqlite3.connect(tmp_path / "copy.book")) as connection:
        assert connection.execute("PRAGMA journal_mode").fetchone() == ("delete",)
