"""Looking at a whole book: what is wrong with it is told, and nothing is changed."""

from __future__ import annotations

import json
import sqlite3
from collections.abc import Callable
from contextlib import closing
from pathlib import Path

import pytest

from setupadvisor.entries.logbook.book import open_book
from setupadvisor.entries.logbook.book_check import check_book
from setupadvisor.entries.logbook.records import ChangeEntry
from setupadvisor.errors import InputError
from tests.cli.commands import run
from tests.entries.logbook.samples import LAPS, MACHINES, MORNING, RIDERS, outing
from tests.entries.logbook.test_migrations import FIRST_VERSION

OWN = {"works-450": MACHINES["works-450"]}


@pytest.fixture
def path(tmp_path: Path) -> Path:
    """A sound book in a file, closed."""
    path = tmp_path / "team.book"
    with open_book(path) as book, book.writing("crew") as page:
        page.add_walk(MORNING)
        page.add_rider(RIDERS["north"])
        page.add_machine(MACHINES["works-450"])
        page.add_outing(outing("M1"))
        page.add_laps("M1", LAPS)
        page.add_change(
            ChangeEntry("shock_rebound_low", 11, 9, "", "whoops-swaps-rear", "better", "M1")
        )
    return path


def spoil(path: Path, table: str, statement: str, *values: object) -> None:
    """Write past the book's own guard, as a stranger's tool would."""
    with closing(sqlite3.connect(path)) as connection, connection:
        connection.execute(f"DROP TRIGGER {table}_update")
        connection.execute("PRAGMA ignore_check_constraints = ON")
        connection.execute(f"UPDATE {table} SET {statement}", values)


def spoil_content(path: Path, table: str, change: Callable[[dict[str, object]], object]) -> None:
    with closing(sqlite3.connect(path)) as connection:
        (written,) = connection.execute(f"SELECT content FROM {table}").fetchone()
    content = json.loads(written)
    change(content)
    spoil(path, table, "content = ?", json.dumps(content))


def mistakes_of(path: Path) -> list[str]:
    _, mistakes = check_book(path, {})
    return [str(mistake) for mistake in mistakes]


def test_a_sound_book_is_called_sound_and_left_as_it_is(path: Path) -> None:
    before = path.read_bytes()
    said, mistakes = check_book(path, OWN)
    assert mistakes == []
    assert said == (
        f"{path}: a logbook of version 2: 1 sound outing of 1 event; "
        "1 walk, 3 laps, 1 rider, 1 machine"
    )
    assert path.read_bytes() == before
    assert [found.name for found in path.parent.iterdir()] == ["team.book"]


def test_a_book_without_an_outing_is_a_book(tmp_path: Path) -> None:
    path = tmp_path / "new.book"
    with open_book(path) as book, book.writing("crew") as page:
        page.add_rider(RIDERS["south"])
    said, mistakes = check_book(path, OWN)
    assert mistakes == []
    assert "no outing yet; 0 walks, 0 laps, 1 rider, 0 machines" in said


def test_an_older_book_is_looked_at_and_not_brought_up_to_date(tmp_path: Path) -> None:
    path = tmp_path / "old.book"
    with closing(sqlite3.connect(path)) as connection:
        connection.executescript(FIRST_VERSION)
    before = path.read_bytes()
    said, mistakes = check_book(path, MACHINES)
    assert mistakes == []
    assert "version 1, brought to 2 when it is next opened: 2 sound outings" in said
    assert path.read_bytes() == before
    assert [found.name for found in tmp_path.iterdir()] == ["old.book"]


def test_a_book_of_a_newer_version_is_refused(path: Path) -> None:
    with closing(sqlite3.connect(path)) as connection, connection:
        connection.execute("INSERT INTO schema_version VALUES (99, '2031-01-01')")
    with pytest.raises(InputError, match=r"newer setupadvisor \(version 99 of the book"):
        check_book(path, OWN)


def test_an_empty_file_and_a_missing_one_are_no_books(tmp_path: Path) -> None:
    empty = tmp_path / "empty.book"
    empty.touch()
    with pytest.raises(InputError, match="there is nothing in this logbook yet"):
        check_book(empty, OWN)
    assert empty.read_bytes() == b""
    with pytest.raises(InputError, match="there is no such logbook"):
        check_book(tmp_path / "none.book", OWN)
    assert [found.name for found in tmp_path.iterdir()] == ["empty.book"]


def test_another_database_and_another_file_are_no_books(tmp_path: Path) -> None:
    other = tmp_path / "other.book"
    with closing(sqlite3.connect(other)) as connection:
        connection.execute("CREATE TABLE songs (name TEXT)")
    with pytest.raises(InputError, match=r"something else than a logbook \(songs\)"):
        check_book(other, OWN)
    text = tmp_path / "text.book"
    text.write_text("a diary " * 100, encoding="utf-8")
    with pytest.raises(InputError, match="this is no logbook, or it is damaged"):
        check_book(text, OWN)


def test_damage_inside_is_found(path: Path) -> None:
    """Every page but the first two overwritten in turn: reading alone would miss some of it."""
    whole = path.read_bytes()
    size = int.from_bytes(whole[16:18], "big")
    for start in range(2 * size, len(whole), size):
        path.write_bytes(whole[:start] + b"\xa5" * size + whole[start + size :])
        with pytest.raises(InputError) as caught:
            check_book(path, OWN)
        (mistake,) = caught.value.mistakes
        assert "damaged" in mistake.found
        assert "put back a copy made with log backup" in mistake.mend
    path.write_bytes(whole)
    assert check_book(path, OWN)[1] == []


def test_rows_that_belong_to_nothing_are_damage(path: Path) -> None:
    spoil(path, "lap", "outing_id = 77")
    with pytest.raises(InputError, match=r"3 rows belong to nothing \(lap\)"):
        check_book(path, OWN)


def test_a_rider_out_of_limits_is_named(path: Path) -> None:
    spoil_content(path, "rider_version", lambda content: content.update(mass=900))
    rider, outing_of_his = mistakes_of(path)
    assert rider.startswith(f"{path}, rider north:1 mass: 900 kg cannot be right")
    assert "north" in outing_of_his
    with (
        open_book(path) as book,
        pytest.raises(InputError, match="rider north:1 mass: 900 kg cannot be right"),
    ):
        book.riders()


def test_a_walk_out_of_limits_is_named(path: Path) -> None:
    spoil_content(path, "walk_version", lambda cells: cells.update({"walk.air.temperature_c": 400}))
    found = [text for text in mistakes_of(path) if "the walk of" in text]
    assert len(found) == 1
    assert "air.temperature" in found[0]
    assert "400" in found[0]


def test_a_setting_out_of_limits_is_named(path: Path) -> None:
    spoil(path, "outing_version", "setup = '[500, 10.5]'")
    (found,) = mistakes_of(path)
    assert "shock_rebound_low" in found
    assert "500" in found


def test_laps_and_changes_out_of_limits_are_named(path: Path) -> None:
    spoil(path, "lap", "lap_s = 1e7 WHERE lap = 2")
    spoil(path, "setting_change", "to_value = 99")
    laps, change = mistakes_of(path)
    assert laps.startswith("M1 lap 2: a lap of 1e+07 s cannot be")
    assert change.startswith("the change of shock_rebound_low after M1: ")
    assert "99" in change


def test_a_corrected_mistake_is_none(path: Path) -> None:
    """Only the newest version of anything counts."""
    spoil(path, "lap", "lap_s = 1e7 WHERE lap = 2")
    assert len(mistakes_of(path)) == 1
    with open_book(path) as book, book.writing("crew") as page:
        page.add_laps("M1", LAPS, correct=True)
    assert mistakes_of(path) == []


def test_the_command_checks_books_by_themselves_and_in_folders(path: Path) -> None:
    alone = run("check", path, folder=path.parent)
    assert (alone.code, alone.err) == (0, "")
    assert "a logbook of version 2: 1 sound outing" in alone.out
    within = run("check", path.parent, folder=path.parent)
    assert (within.code, within.out) == (0, alone.out)
    spoil(path, "setting_change", "to_value = 99")
    wrong = run("check", path, folder=path.parent)
    assert wrong.code == 1
    assert "the change of shock_rebound_low after M1" in wrong.err
    assert wrong.err.endswith("1 mistake\n")
    path.write_bytes(b"SQLite format 3\0 and then nothing")
    broken = run("check", path, folder=path.parent)
    assert broken.code == 1
    assert broken.err.count("\n") == 2
