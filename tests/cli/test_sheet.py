"""`sheet` as a crew runs it: from files, and from the logbook."""

from __future__ import annotations

import json
import subprocess
import sys
from pathlib import Path
from typing import Any

import pytest

from setupadvisor.entries.files import load_entry
from setupadvisor.entries.logbook.book import open_book
from setupadvisor.entries.logbook.records import ChangeEntry, Day, RiderRemark
from setupadvisor.entries.machine import Machine
from setupadvisor.entries.rider import Rider
from tests.cli.commands import DATA, WALKS, refused, run, run_process, write
from tests.cli.invented_day import EVENT, MACHINE, RIDER, day_of, long_day, ridden
from tests.cli.test_sheet_html import parsed, words

SAND = DATA / "walks" / "deep-sand.yaml"
NORTH = DATA / "riders" / "north.yaml"
ON_BIKE = DATA / "setups" / "on-bike-450.yaml"
FILES = (SAND, "--rider", NORTH, "--on-bike", ON_BIKE)


def as_json(*given: str | Path, folder: Path) -> dict[str, Any]:
    done = run(*given, "--json", folder=folder)
    assert done.code == 0, done.err
    found: dict[str, Any] = json.loads(done.out)
    return found


def book_of(folder: Path, day: Day, *, name: str = "team.book") -> Path:
    """A logbook with this day in it, written as a crew would."""
    path = folder / name
    with open_book(path) as book, book.writing("crew") as page:
        page.add_machine(MACHINE)
        page.add_rider(load_entry(NORTH, Rider))
        if day.walk is not None:
            page.add_walk(day.walk)
        for one in day.outings:
            session = page.add_outing(one.outing)
            page.add_mark(session, one.mark, one.best_lap_s)
            for remark in one.remarks:
                page.add_remark(session, remark)
            if one.laps:
                page.add_laps(session, one.laps)
        for change in day.changes:
            page.add_change(change)
    return path


def of(book: Path) -> tuple[str | Path, ...]:
    return "sheet", "--book", book, "--event", EVENT, "--rider", RIDER


@pytest.mark.parametrize("walk", WALKS, ids=lambda path: path.stem)
def test_a_sheet_for_every_bundled_walk(walk: Path, tmp_path: Path) -> None:
    done = run("sheet", walk, folder=tmp_path)
    assert done.code == 0, done.err
    assert max(map(len, done.out.splitlines())) <= 100


def test_the_sheet_says_what_the_advice_says(tmp_path: Path) -> None:
    told = as_json("advise", *FILES, "--minutes", "20", folder=tmp_path)
    sheet = as_json("sheet", *FILES, "--minutes", "20", folder=tmp_path)
    for one, same in zip(sheet["settings"], told["settings"], strict=True):
        assert one["setting"] == same["setting"]
        assert one["advised"] == same["value"]
        assert (one["low"], one["high"], one["now"]) == (same["low"], same["high"], same["now"])
    assert [(one["setting"], one["start"], one["to"]) for one in sheet["open_changes"]] == [
        (one["setting"], one["from"], one["to"]) for one in told["changes"]
    ]
    assert sheet["cautions"] == told["cautions"]
    assert [one["text"] for one in sheet["prepare"]] == [one["task"] for one in told["prepare"]]


def test_the_page_is_written_whole_and_nothing_is_printed_but_where(tmp_path: Path) -> None:
    done = run("sheet", *FILES, "--html", "sheet.html", folder=tmp_path)
    assert done.code == 0
    assert done.out == ""
    assert done.err.startswith("sheet.html is written")
    assert [path.name for path in tmp_path.iterdir()] == ["sheet.html"]
    tree = parsed((tmp_path / "sheet.html").read_text(encoding="utf-8"))
    assert "Dune Hollow" in words(tree)


def test_a_page_is_replaced_by_a_newer_one(tmp_path: Path) -> None:
    write(tmp_path, "sheet.html", "old")
    assert run("sheet", SAND, "--html", "sheet.html", folder=tmp_path).code == 0
    assert "<!DOCTYPE html>" in (tmp_path / "sheet.html").read_text(encoding="utf-8")


def test_a_page_never_takes_the_place_of_a_walk(tmp_path: Path) -> None:
    walk = write(tmp_path, "walk.yaml", SAND.read_bytes())
    (said,) = refused("sheet", walk, "--html", walk, folder=tmp_path)
    assert "does not end in .html" in said
    assert walk.read_bytes() == SAND.read_bytes()


def test_a_folder_that_is_not_there_is_named(tmp_path: Path) -> None:
    (said,) = refused("sheet", SAND, "--html", "no/such/sheet.html", folder=tmp_path)
    assert "there is no folder" in said


def test_every_mistake_in_the_files_is_told_at_once(tmp_path: Path) -> None:
    write(tmp_path, "walk.yaml", "event: x\ndate: 2026-05-17\nair: {temperature: 900}\n")
    write(tmp_path, "rider.yaml", "name: x\nmass: 9000 kg\n")
    write(tmp_path, "bike.yaml", "settings: {no_such_setting: 3}\n")
    said = refused(
        "sheet", "walk.yaml", "--rider", "rider.yaml", "--on-bike", "bike.yaml", folder=tmp_path
    )
    for name in ("walk.yaml", "rider.yaml", "bike.yaml"):
        assert any(name in line for line in said), said


def test_a_walk_and_a_book_together_are_refused(tmp_path: Path) -> None:
    (said,) = refused("sheet", SAND, "--book", "team.book", folder=tmp_path)
    assert "both a walk file and the logbook" in said


def test_a_model_that_is_not_there_is_refused(tmp_path: Path) -> None:
    assert "no.model" in refused("sheet", SAND, "--model", "no.model", folder=tmp_path)[0]


@pytest.mark.parametrize("outings", [1, 4, 12])
def test_the_sheet_of_a_day_in_the_book(outings: int, tmp_path: Path) -> None:
    book = book_of(tmp_path, long_day(outings))
    done = run(*of(book), folder=tmp_path)
    assert done.code == 0, done.err
    assert max(map(len, done.out.splitlines())) <= 100
    sheet = as_json(*of(book), folder=tmp_path)
    assert [one["name"] for one in sheet["outings"]] == [f"DH-{n}" for n in range(1, outings + 1)]
    assert all(one["laps"] == 7 and one["set_aside"] == 2 for one in sheet["outings"])
    assert (sheet["event"], sheet["rider"], sheet["machine"]) == (EVENT, RIDER, MACHINE.name)


def test_what_was_said_after_the_last_outing_asks_for_the_next_change(tmp_path: Path) -> None:
    book = book_of(tmp_path, long_day(3))  # the last remark is an id
    sheet = as_json(*of(book), "--minutes", "15", folder=tmp_path)
    proposals = sheet["proposed"]["proposals"]
    assert proposals
    assert {one["remark"] for one in proposals} == {"whoops-swaps-rear"}
    assert all(one["minutes"] <= 15 for one in proposals)
    done = run(*of(book), "--html", "day.html", folder=tmp_path)
    assert done.code == 0
    shown = words(parsed((tmp_path / "day.html").read_text(encoding="utf-8")))
    assert "Next change" in shown
    assert proposals[0]["complaint"] in shown


def test_checks_stand_before_the_next_change_on_both_sheets(tmp_path: Path) -> None:
    said = (RiderRemark("straight-headshake"), RiderRemark("straight-fork-fades"))
    book = book_of(tmp_path, day_of([ridden(1, remarks=said)]))
    found = as_json(*of(book), folder=tmp_path)["proposed"]
    done = run(*of(book), "--html", "day.html", folder=tmp_path)
    assert done.code == 0
    html = words(parsed((tmp_path / "day.html").read_text(encoding="utf-8")))
    text = " ".join(run(*of(book), folder=tmp_path).out.split())
    first = found["proposals"][0]["moves"][0]["shown"]
    (check,), work = found["checks"], found["prepare"]
    assert work
    for shown in (html, text):
        assert shown.index(check["tasks"][0]) < shown.index(first)
        for task in (check, *work):
            assert all(text in shown for text in (*task["tasks"], *task["cautions"]))


def test_the_record_of_past_changes_counts(tmp_path: Path) -> None:
    """The same complaint on another day, where one change had helped every time."""
    plain = long_day(3)
    book = book_of(tmp_path, plain)
    first = as_json(*of(book), folder=tmp_path)["proposed"]["proposals"][0]
    (move,) = first["moves"]
    other = "some other round"
    with open_book(book) as opened, opened.writing("crew") as page:
        for number in range(8):
            given = plain.outings[0].outing
            session = page.add_outing(
                type(given)(
                    event=other,
                    date=given.date,
                    rider=RIDER,
                    machine=MACHINE.name,
                    setup=given.setup,
                    session_id=f"other-{number}",
                )
            )
            page.add_change(
                ChangeEntry(
                    move["setting"],
                    move["start"],
                    move["to"],
                    "",
                    first["remark"],
                    "worse",
                    session,
                )
            )
    after = as_json(*of(book), folder=tmp_path)["proposed"]["proposals"]
    chances = {tuple(part["setting"] for part in one["moves"]): one["chance"] for one in after}
    assert chances.get((move["setting"],), 0.0) < first["chance"]


def test_a_day_without_a_walk_is_shown_without_advice(tmp_path: Path) -> None:
    day = long_day(2)
    book = book_of(tmp_path, Day(day.event, day.rider, None, day.outings, day.changes))
    sheet = as_json(*of(book), folder=tmp_path)
    assert sheet["proposed"] is None
    assert sheet["open_changes"] == []
    assert all(one["advised"] is None for one in sheet["settings"])
    assert run(*of(book), folder=tmp_path).code == 0
    assert run(*of(book), "--html", "day.html", folder=tmp_path).code == 0


def test_whose_day_it_is_must_be_said(tmp_path: Path) -> None:
    (said,) = refused("sheet", folder=tmp_path)
    assert "--event and --rider" in said
    (said,) = refused("sheet", "--event", EVENT, folder=tmp_path)
    assert "give --rider" in said


def test_a_book_that_is_not_there_is_not_made(tmp_path: Path) -> None:
    assert "no.book" in refused(*of(tmp_path / "no.book"), folder=tmp_path)[0]


def test_a_day_that_nobody_wrote_down_is_refused(tmp_path: Path) -> None:
    book = book_of(tmp_path, long_day(1))
    done = run("sheet", "--book", book, "--event", "Nowhere", "--rider", RIDER, folder=tmp_path)
    assert done.code == 1
    assert "nothing is written of 'Nowhere'" in done.err
    done = run("sheet", "--book", book, "--event", EVENT, "--rider", "norht", folder=tmp_path)
    assert done.code == 1
    assert "did you mean north?" in done.err


def test_a_rider_who_has_not_been_out_yet_gets_the_advice(tmp_path: Path) -> None:
    book = book_of(tmp_path, day_of([]))
    sheet = as_json(*of(book), folder=tmp_path)
    assert sheet["outings"] == []
    assert sheet["rider"] == RIDER
    assert sheet["open_changes"]


def test_a_machine_that_is_not_in_the_book_is_asked_for(tmp_path: Path) -> None:
    day = long_day(1)
    path = tmp_path / "team.book"
    with open_book(path) as book, book.writing("crew") as page:
        page.add_walk(day.walk)  # type: ignore[arg-type]
        given = day.outings[0].outing
        page.add_outing(
            type(given)(
                event=EVENT,
                date=given.date,
                rider=RIDER,
                machine="works-250",
                setup={},
                session_id="DH-1",
            )
        )
    done = run(*of(path), folder=tmp_path)
    assert done.code == 1
    assert "--machine" in done.err
    file = DATA / "machines" / "works-250.yaml"
    sheet = as_json(*of(path), "--machine", file, folder=tmp_path)
    assert len(sheet["settings"]) == len(load_entry(file, Machine).settings)


def test_what_is_on_the_motorcycle_is_the_book_s_to_say(tmp_path: Path) -> None:
    book = book_of(tmp_path, long_day(1))
    done = run(*of(book), "--on-bike", ON_BIKE, folder=tmp_path)
    assert done.code == 1
    assert "--on-bike" in done.err


def test_the_sheet_changes_nothing_in_the_book(tmp_path: Path) -> None:
    book = book_of(tmp_path, long_day(2))
    with open_book(book) as opened:
        before = opened.day(EVENT, RIDER)
    done = run(*of(book), folder=tmp_path)
    assert done.code == 0
    with open_book(book) as opened:
        assert opened.day(EVENT, RIDER) == before


def test_files_alone_do_without_the_database(tmp_path: Path) -> None:
    script = (
        "import sys; from setupadvisor.__main__ import main; "
        f"main(['sheet', {str(SAND)!r}, '--html', 'sheet.html']); "
        "print(sorted({name.split('.')[0] for name in sys.modules} "
        "& {'sqlalchemy', 'pandas', 'scipy', 'sklearn', 'matplotlib', 'pint'}))"
    )
    done = subprocess.run(
        [sys.executable, "-c", script], cwd=tmp_path, capture_output=True, text=True, check=True
    )
    assert done.stdout.strip() == "[]"


def test_a_terminal_without_the_signs_still_gets_its_sheet(tmp_path: Path) -> None:
    done = run_process("sheet", *FILES, folder=tmp_path, PYTHONIOENCODING="ascii:strict")
    assert done.code == 0
    assert "SETUP" in done.out
