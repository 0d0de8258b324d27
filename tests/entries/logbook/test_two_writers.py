"""Several people who write at once lose nothing."""

from __future__ import annotations

import os
import subprocess
import sys
from pathlib import Path

import pytest

from setupadvisor.entries.logbook.book import Book, open_book
from setupadvisor.entries.logbook.records import RiderRemark
from tests.entries.logbook.samples import EVENT, LAPS, OUTING, write

ROOT = Path(__file__).resolve().parents[3]
WRITERS, EACH = 4, 25
WRITE = """
import sys
from setupadvisor.entries.logbook.book import open_book
from setupadvisor.entries.logbook.records import RiderRemark
from tests.entries.logbook.samples import LAPS, MORNING, outing
where, me, each = sys.argv[1], sys.argv[2], int(sys.argv[3])
sys.stdin.readline()
with open_book(where) as book:
    for number in range(each):
        with book.writing(me) as page:
            page.add_walk(MORNING.model_copy(update={"note": f"{me} {number}"}))
            name = page.add_outing(outing("", rider=me))
            page.add_laps(name, LAPS)
            if number == 0:
                page.add_remark("M1", RiderRemark(me)) if len(sys.argv) > 4 else None
"""


def start(where: str | Path, *words: str) -> subprocess.Popen[str]:
    """Start a writer; it waits for a line of input."""
    return subprocess.Popen(
        [sys.executable, "-c", WRITE, str(where), *words],
        stdin=subprocess.PIPE,
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
        text=True,
        cwd=ROOT,
        env=os.environ,
    )


def all_at_once(writers: list[subprocess.Popen[str]]) -> None:
    for writer in writers:
        assert writer.stdin is not None
        writer.stdin.write("\n")
        writer.stdin.flush()
    for writer in writers:
        _, err = writer.communicate(timeout=120)
        assert writer.returncode == 0, err


def test_writers_at_once_lose_nothing(book: Book, where: str | Path) -> None:
    write(book, OUTING)
    names = [f"rider {number}" for number in range(WRITERS)]
    all_at_once([start(where, name, str(EACH), "remark") for name in names])
    for name in names:
        outings = book.day(EVENT, name).outings
        assert len(outings) == EACH
        assert all(one.laps == LAPS and one.who == name for one in outings)
    said = book.outing("M1").remarks
    assert sorted(remark.text for remark in said) == names
    walks = [one for one in book.history(EVENT) if one.what.startswith("walk")]
    assert [one.version for one in walks] == list(range(1, WRITERS * EACH + 1))
    assert len({one.content for one in walks}) == WRITERS * EACH


def test_a_book_that_several_make_at_once_is_one_book(where: str | Path) -> None:
    names = [f"rider {number}" for number in range(WRITERS)]
    all_at_once([start(where, name, "2") for name in names])
    with open_book(where, create=False) as book:
        assert book.names("rider") == names
        assert all(len(book.day(EVENT, name).outings) == 2 for name in names)


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
