"""Several people who write at once lose nothing."""

from __future__ import annotations

import json
import os
import subprocess
import sys
from collections.abc import Iterator
from pathlib import Path

import pytest

from setupadvisor.entries.logbook.book import Book, open_book
from setupadvisor.entries.logbook.records import RiderRemark
from tests.entries.logbook.samples import EVENT, LAPS, OUTING, write

ROOT = Path(__file__).resolve().parents[3]
WRITERS, EACH = 4, 25
WRITE = """
import json, sys
from setupadvisor.entries.logbook.book import open_book
from setupadvisor.entries.logbook.records import RiderRemark
from tests.entries.logbook.samples import LAPS, MORNING, outing
print("ready", flush=True)
for line in sys.stdin:
    where, me, each, remark = json.loads(line)
    with open_book(where) as book:
        for number in range(each):
            with book.writing(me) as page:
                page.add_walk(MORNING.model_copy(update={"note": f"{me} {number}"}))
                name = page.add_outing(outing("", rider=me))
                page.add_laps(name, LAPS)
                if remark and number == 0:
                    page.add_remark("M1", RiderRemark(me))
    print("done", flush=True)
"""
NAMES = [f"rider {number}" for number in range(WRITERS)]
Writers = list[subprocess.Popen[str]]


@pytest.fixture(scope="module")
def writers() -> Iterator[Writers]:
    """Processes that write into a book when they are told to; to start them takes the longest."""
    started = [
        subprocess.Popen(
            [sys.executable, "-c", WRITE],
            stdin=subprocess.PIPE,
            stdout=subprocess.PIPE,
            text=True,
            cwd=ROOT,
            env=os.environ,
        )
        for _ in NAMES
    ]
    for writer in started:
        hear(writer, "ready")
    yield started
    for writer in started:
        writer.communicate(timeout=120)
        assert writer.returncode == 0


def hear(writer: subprocess.Popen[str], word: str) -> None:
    assert writer.stdout is not None
    assert writer.stdout.readline() == f"{word}\n", "the writer broke off: see its errors"


def all_at_once(writers: Writers, where: str | Path, each: int, *, remark: bool = False) -> None:
    for writer, name in zip(writers, NAMES, strict=True):
        assert writer.stdin is not None
        writer.stdin.write(json.dumps([str(where), name, each, remark]) + "\n")
        writer.stdin.flush()
    for writer in writers:
        hear(writer, "done")


def test_writers_at_once_lose_nothing(book: Book, where: str | Path, writers: Writers) -> None:
    write(book, OUTING)
    all_at_once(writers, where, EACH, remark=True)
    for name in NAMES:
        outings = book.day(EVENT, name).outings
        assert len(outings) == EACH
        assert all(one.laps == LAPS and one.who == name for one in outings)
    said = book.outing("M1").remarks
    assert sorted(remark.text for remark in said) == NAMES
    walks = [one for one in book.history(EVENT) if one.what.startswith("walk")]
    assert [one.version for one in walks] == list(range(1, WRITERS * EACH + 1))
    assert len({one.content for one in walks}) == WRITERS * EACH


def test_a_book_that_several_make_at_once_is_one_book(where: str | Path, writers: Writers) -> None:
    all_at_once(writers, where, 2)
    with open_book(where, create=False) as book:
        assert book.names("rider") == NAMES
        assert all(len(book.day(EVENT, name).outings) == 2 for name in NAMES)


def test_a_reader_is_not_kept_waiting_and_sees_one_moment(book: Book) -> None:
    write(book, OUTING)
    with book.writing("crew") as page:
        page.add_remark("M1", RiderRemark("not yet confirmed"))
        page.connection.exec_driver_sql("SELECT 1")
        assert book.outing("M1").remarks == ()
    assert len(book.outing("M1").remarks) == 1


def test_a_writer_who_waits_too_long_is_told_so(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    from setupadvisor.entries.logbook import connection  # noqa: PLC0415
    from setupadvisor.errors import InputError  # noqa: PLC0415

    monkeypatch.setattr(connection, "SECONDS_TO_WAIT", 0.05)
    with open_book(tmp_path / "team.book") as first, open_book(tmp_path / "team.book") as second:
        with first.writing("crew") as page:
            page.add_outing(OUTING)
            with pytest.raises(InputError, match="somebody else has been writing"):
                write(second, OUTING)
        assert first.outing("M1").who == "crew"
