"""Full disks, rights, damaged files: told in plain words, and nothing is harmed."""

from __future__ import annotations

import os
import shutil
import sqlite3
import subprocess
from collections.abc import Iterator
from contextlib import closing, contextmanager
from pathlib import Path

import pytest
from sqlalchemy import event as happening

from setupadvisor.entries.logbook.book import Book, open_book
from setupadvisor.errors import InputError
from tests.entries.logbook.samples import EVENT, LAPS, MORNING, OUTING, outing, refused, write
from tests.entries.logbook.test_migrations import FIRST_VERSION
from tests.entries.rights import without_root_rights

MANY = 400


@pytest.fixture
def path(tmp_path: Path) -> Path:
    """A book in a file, of many pages, closed."""
    path = tmp_path / "team.book"
    fill(path)
    return path


def fill(path: Path) -> None:
    with open_book(path) as book, book.writing("crew") as page:
        page.add_walk(MORNING)
        for number in range(MANY):
            page.add_outing(outing(f"M{number}"))
            page.add_laps(f"M{number}", LAPS)


def count(path: Path) -> int:
    with open_book(path, create=False) as book:
        return len(book.day(EVENT, "north").outings)


def write_until_full(book: Book) -> tuple[int, str]:
    """Write in small pieces until it is refused; give what was confirmed, and what was said."""
    for number in range(100_000):
        try:
            with book.writing("crew") as page:
                page.add_outing(outing(f"N{number}"))
                page.add_laps(f"N{number}", LAPS)
        except InputError as error:
            return number, str(error)
    raise AssertionError("the disk was never full")


def test_a_file_that_may_not_grow_keeps_what_was_confirmed(path: Path) -> None:
    """SQLite's own limit on pages raises the same error as a full disk."""
    with open_book(path) as book:

        @happening.listens_for(book.engine, "connect")
        def limit(connection: sqlite3.Connection, _: object) -> None:
            pages = connection.execute("PRAGMA page_count").fetchone()[0]
            connection.execute(f"PRAGMA max_page_count = {pages + 2}")

        book.engine.dispose()
        confirmed, said = write_until_full(book)
        assert "the disk is full; nothing of this was written; make room and try again" in said
        assert len(book.day(EVENT, "north").outings) == MANY + confirmed
    assert count(path) == MANY + confirmed


@contextmanager
def small_disk(folder: Path, size: str) -> Iterator[Path]:
    """A disk of its own; only root may make one."""
    mount = shutil.which("mount")
    made = (
        mount
        and os.geteuid() == 0
        and subprocess.run(
            [mount, "-t", "tmpfs", "-o", f"size={size}", "tmpfs", str(folder)],
            capture_output=True,
            check=False,
        ).returncode
        == 0
    )
    if not made:
        pytest.skip("a small disk cannot be mounted here: that needs the rights of root")
    try:
        yield folder
    finally:
        subprocess.run(["umount", "-l", str(folder)], check=True)


def test_a_disk_that_is_full_keeps_what_was_confirmed(tmp_path: Path) -> None:
    with small_disk(tmp_path, "3m") as disk:
        path = disk / "team.book"
        with open_book(path) as book:
            confirmed, said = write_until_full(book)
        assert "the disk is full" in said
        assert confirmed > 10
        # There is no room left to copy what was written ahead into the book either.
        assert count(path) == confirmed
        with (
            pytest.raises(InputError, match=r"copy\.book: the disk is full"),
            open_book(path) as book,
        ):
            book.back_up(disk / "copy.book")
        assert not [found for found in disk.iterdir() if "copy" in found.name]


def test_a_folder_that_cannot_be_written_to_says_so() -> None:
    with without_root_rights() as folder:
        path = folder / "team.book"
        fill(path)
        path.chmod(0o400)
        folder.chmod(0o500)
        assert count(path) == MANY
        with open_book(path) as book, pytest.raises(InputError) as error:
            write(book, OUTING)
        assert "cannot be written to; nothing was changed" in refused(error.value)[0]
        with pytest.raises(InputError, match="it cannot be opened"):
            open_book(folder / "new.book")
        with open_book(path) as book, pytest.raises(InputError, match="permission denied"):
            book.back_up(folder / "copy.book")
        assert [found.name for found in folder.iterdir()] == ["team.book"]
        folder.chmod(0o700)


def test_an_old_book_that_cannot_be_brought_up_to_date_says_so() -> None:
    with without_root_rights() as folder:
        path = folder / "first.book"
        with closing(sqlite3.connect(path)) as connection:
            connection.executescript(FIRST_VERSION)
        before = path.read_bytes()
        path.chmod(0o400)
        folder.chmod(0o500)
        with pytest.raises(InputError, match="cannot be written to; nothing was changed"):
            open_book(path)
        assert path.read_bytes() == before
        folder.chmod(0o700)


def test_a_file_that_may_not_be_read_says_so() -> None:
    with without_root_rights() as folder:
        path = folder / "team.book"
        fill(path)
        path.chmod(0o000)
        with pytest.raises(InputError, match="permission denied"):
            open_book(path)


@pytest.mark.parametrize(
    ("content", "said"),
    [
        (b"session_id,event\n" * 100, "this is no logbook, or it is damaged"),
        (b"x", "this is no logbook, or it is damaged"),
        (b"SQLite format 3\0" + b"\xff" * 5000, "damaged"),
        (b"SQLite format 3\0", "the file is damaged"),
        (bytes(8192), "this is no logbook, or it is damaged"),
    ],
    ids=["a table", "one letter", "a broken header", "a header alone", "nothing but zeros"],
)
def test_what_is_no_book_is_refused_and_left_as_it_is(
    content: bytes, said: str, tmp_path: Path
) -> None:
    path = tmp_path / "team.book"
    path.write_bytes(content)
    for create in (True, False):
        with pytest.raises(InputError, match=said):
            open_book(path, create=create)
    assert path.read_bytes() == content
    assert [found.name for found in tmp_path.iterdir()] == ["team.book"]


def test_an_empty_file_is_a_book_not_yet_written(tmp_path: Path) -> None:
    """Which is what is left where the power fails as the book is made."""
    path = tmp_path / "team.book"
    path.touch()
    with pytest.raises(InputError, match="there is nothing in this logbook yet"):
        open_book(path, create=False)
    with open_book(path) as book:
        write(book, OUTING)
    assert count(path) == 1


def test_another_program_s_database_is_refused_and_left_as_it_is(tmp_path: Path) -> None:
    path = tmp_path / "team.book"
    with closing(sqlite3.connect(path)) as connection:
        connection.execute("CREATE TABLE music (song TEXT)")
    before = path.read_bytes()
    with pytest.raises(InputError, match=r"something else than a logbook \(music\)"):
        open_book(path)
    assert path.read_bytes() == before


@pytest.mark.parametrize("kept", [0.02, 0.3, 0.9, 0.999])
def test_a_file_that_was_cut_off_is_refused_and_left_as_it_is(kept: float, path: Path) -> None:
    whole = path.read_bytes()
    path.write_bytes(whole[: int(len(whole) * kept)])
    before = path.read_bytes()
    with pytest.raises(InputError, match="put back a copy made with log backup"):
        open_book(path)
    assert path.read_bytes() == before


def test_a_file_damaged_inside_is_told_of_and_no_copy_is_made_of_it(path: Path) -> None:
    whole = bytearray(path.read_bytes())
    for place in range(3 * 8192, len(whole), 8192):
        whole[place : place + 4096] = b"\xa5" * 4096
    path.write_bytes(whole)
    with pytest.raises(InputError, match=r"team\.book: .*damaged"):
        count(path)
    with (
        pytest.raises(InputError, match=r"team\.book: .*damaged"),
        open_book(path, create=False) as book,
    ):
        book.back_up(path.with_name("copy.book"))
    assert path.read_bytes() == bytes(whole)
    assert not [found.name for found in path.parent.iterdir() if "copy" in found.name]


def test_what_stands_beside_the_book_is_not_lost_where_it_cannot_be_written(path: Path) -> None:
    """A book copied together with what was written ahead of it, to where nobody may write."""
    with open_book(path) as book:
        write(book, outing("ahead"))
        found = {one.name: one.read_bytes() for one in path.parent.iterdir()}
    assert found["team.book-wal"]
    with without_root_rights() as folder:
        for name, content in found.items():
            (folder / name).write_bytes(content)
        folder.chmod(0o500)
        assert count(folder / "team.book") == MANY + 1
        folder.chmod(0o700)
