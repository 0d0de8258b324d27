"""The command log, as a crew uses it on a race day."""

from __future__ import annotations

import csv
import json
import shutil
import sqlite3
import sys
from contextlib import closing
from pathlib import Path
from typing import Any

import pytest

from setupadvisor.cli.arguments import build_parser
from tests.cli.commands import DATA, refused, run, write

MORNING, NORTH = DATA / "walks" / "morning.yaml", DATA / "riders" / "north.yaml"
SHEET = DATA / "setups" / "on-bike-450.yaml"
EVENT = "Fallow Bank round"


def log(*words: str | Path, folder: Path, book: str = "team.book") -> str:
    """Run log, which must succeed; give what it printed."""
    done = run("log", *words, *(["--book", book] if book else []), folder=folder)
    assert done.code == 0, done.err
    assert done.err == ""
    if "--json" not in words:
        assert all(len(line) <= 100 for line in done.out.splitlines() if "/" not in line)
    return done.out


def refuse(*words: str | Path, folder: Path) -> str:
    """Run log, which must refuse; give what it said."""
    return "\n".join(refused("log", *words, "--book", "team.book", folder=folder))


def shown(folder: Path, *words: str) -> dict[str, Any]:
    """What the book says, as JSON."""
    found: dict[str, Any] = json.loads(log("show", *words, "--json", folder=folder))
    return found


@pytest.fixture
def day(tmp_path: Path) -> Path:
    """A folder with a book of a morning: two outings, one change that helped."""
    log("add", "walk", MORNING, folder=tmp_path)
    log("add", "rider", NORTH, folder=tmp_path)
    words = ("--setup", SHEET, "--mark", "3", "--remark", "kicks in the whoops")
    log("outing", *words, "--session", "M1", "--laps", "1:58.2", "117.9", "2:01", folder=tmp_path)
    log(
        "outing",
        *("--set", "shock_rebound_low=13", "--why", "rear kicks", "--for", "rear_kicks"),
        *("--session", "M2", "--mark", "4", "--best-lap", "1:57.1", "--verdict", "better"),
        folder=tmp_path,
    )
    return tmp_path


def test_a_morning_is_written_with_little_typing_and_shown(day: Path) -> None:
    (found,) = shown(day, "--event", EVENT)["days"]
    first, second = found["outings"]
    assert found["rider"] == "north"
    assert found["walk"]["ground"]["cone_index"] == 620
    assert (first["event"], first["date"], first["machine"]) == (EVENT, "2026-06-07", "works-450")
    assert [lap["lap_s"] for lap in first["laps"]] == [118.2, 117.9, 121.0]
    assert [remark["text"] for remark in first["remarks"]] == ["kicks in the whoops"]
    assert (first["mark"], second["mark"], second["best_lap_s"]) == (3, 4, 117.1)
    assert first["setup"]["shock_rebound_low"] == 11
    assert second["setup"] == {**first["setup"], "shock_rebound_low": 13}
    assert found["changes"] == [
        {
            "setting": "shock_rebound_low",
            "start": 11,
            "to": 13,
            "reason": "rear kicks",
            "remark": "rear_kicks",
            "verdict": "better",
            "after": "M1",
        }
    ]


def test_what_is_shown_reads_like_a_day(day: Path) -> None:
    text = log("show", "--event", EVENT, folder=day)
    lines = [line.strip() for line in text.splitlines()]
    assert lines == [
        "Fallow Bank round, 2026-06-07",
        "",
        "north",
        "M1  2026-06-07  works-450, mark 3",
        "3 laps: 118.20, 117.90, 121.00",
        "remark 1: kicks in the whoops",
        "then shock rebound low 11 → 13: better (for rear_kicks; rear kicks)",
        "M2  2026-06-07  works-450, mark 4, best lap 117.1 s",
    ]
    assert "2026-06-07  Fallow Bank round: 2 outings of north" in log("show", folder=day)


def test_a_change_is_confirmed_in_the_trade_s_words(day: Path) -> None:
    said = log("outing", "--set", "shock_rebound_low=10", "engine_map=mild", folder=day)
    name, *moved = said.splitlines()
    assert name == f"fallow-bank-round-north-1: north on works-450, {EVENT}, 2026-06-07"
    assert moved == [
        "  Shock low-speed rebound: 13 clicks → 10 clicks (stiffer)",
        "  Engine map: standard → mild (milder)",
    ]


def test_notes_come_later_and_corrections_keep_what_was(day: Path) -> None:
    log("note", "M2", "--mark", "5", "--who", "the chief", folder=day)
    log("note", "M1", "--remark", "swaps, rather", "--replace-remark", "1", folder=day)
    log("note", "M2", "--verdict", "same", folder=day)
    (found,) = shown(day, "--event", EVENT)["days"]
    assert found["outings"][1]["mark"] == 5
    assert found["outings"][0]["remarks"] == [{"text": "swaps, rather", "remarks": []}]
    assert found["changes"][0]["verdict"] == "same"
    history = shown(day, "--event", EVENT, "--history")["history"]
    marks = [one for one in history if one["what"] == "outcome of M2"]
    assert [one["content"] for one in marks] == ["mark 4, 117.1 s", "mark 5, 117.1 s"]
    assert marks[1]["who"] == "the chief"
    text = log("show", "--event", EVENT, "--history", folder=day)
    assert "outcome of M2 (version 2): mark 5, 117.1 s" in text
    assert " UTC, the chief" in text


def test_an_outing_is_corrected_only_when_asked_to(day: Path) -> None:
    words = ("outing", "--session", "M1", "--setup", SHEET, "--time", "09:10")
    assert "--correct" in refuse(*words, folder=day)
    log(*words, "--correct", folder=day)
    (found,) = shown(day, "--event", EVENT)["days"]
    first = found["outings"][0]
    assert (first["session_id"], first["time"], first["version"]) == ("M1", "09:10", 2)


def test_a_withdrawn_outing_is_no_longer_shown(day: Path) -> None:
    log("withdraw", "M2", folder=day)
    (found,) = shown(day, "--event", EVENT)["days"]
    assert [one["session_id"] for one in found["outings"]] == ["M1"]
    assert "withdrawn" in log("show", "--event", EVENT, "--history", folder=day)
    assert "there is no outing 'M3' in the book" in refuse("withdraw", "M3", folder=day)


def test_a_lap_table_is_written_to_its_outings(day: Path) -> None:
    laps = write(
        day,
        "laps.csv",
        "session_id,setup,lap,lap_s,clock,flag\n"
        "M2,softer,1,2:03.5,10:00:30,out\nM2,softer,2,117.25,,\nM2,softer,3,1:57.1,,\n",
    )
    assert log("laps", laps, folder=day) == "3 laps written to 1 outing\n"
    assert "all of them were there already" in log("laps", laps, folder=day)
    (found,) = shown(day, "--event", EVENT)["days"]
    assert found["outings"][1]["laps"] == [
        {"lap": 1, "lap_s": 123.5, "clock_s": 36030.0, "flag": "out"},
        {"lap": 2, "lap_s": 117.25, "clock_s": None, "flag": ""},
        {"lap": 3, "lap_s": 117.1, "clock_s": None, "flag": ""},
    ]


def test_laps_that_cannot_be_written_are_all_told_and_none_written(day: Path) -> None:
    laps = write(
        day,
        "laps.csv",
        "session_id,setup,lap_s\nM2,x,0\nM2,x,fast\nM2,x,-4\nM2,x,117\n",
    )
    said = refuse("laps", laps, folder=day)
    assert [f"laps.csv:{line} lap_s" in said for line in (2, 3, 4)] == [True] * 3
    unknown = write(day, "unknown.csv", "session_id,setup,lap_s\nM2,x,117\nM7,x,118\nM8,x,118\n")
    said = refuse("laps", unknown, folder=day)
    assert "no outing 'M7'" in said
    assert "no outing 'M8'" in said
    assert shown(day, "--event", EVENT)["days"][0]["outings"][1]["laps"] == []


def test_the_laps_of_the_book_can_be_compared(day: Path) -> None:
    log("note", "M2", "--mark", "4", folder=day)
    laps = "session_id,setup,lap_s\n" + "".join(f"M2,x,{116 + n / 7:.3f}\n" for n in range(8))
    log("laps", write(day, "new.csv", laps), folder=day)
    log("export", "all.csv", "--laps", folder=day)
    rows = list(csv.DictReader((day / "all.csv").read_text(encoding="utf-8").splitlines()))
    assert len(rows) == 11
    assert {row["setup"] for row in rows} == {"M1", "M2"}
    done = run("laps", "all.csv", "--json", folder=day)
    assert done.code == 0, done.err
    assert len(json.loads(done.out)["comparisons"]) == 1


def test_a_season_goes_in_is_learnt_from_and_comes_out(day: Path) -> None:
    said = log("import", DATA / "season.csv", folder=day)
    assert said.endswith("240 sessions new\n")
    assert "240 there already" in log("import", DATA / "season.csv", folder=day)
    assert "242 sessions" in log("export", "season.parquet", folder=day)
    assert "242 sessions" in log("export", "season.csv", folder=day)
    rows, wanted = (
        list(csv.reader((folder / "season.csv").read_text(encoding="utf-8").splitlines()))
        for folder in (day, DATA)
    )
    assert len(rows) == 243
    shared = [rows[0].index(name) for name in wanted[0]]
    assert [[row[place] for place in shared] for row in (rows[0], *rows[3:])] == wanted
    shutil.copytree(DATA / "riders", day / "riders")
    for name in ("book", "table"):
        source = "team.book" if name == "book" else "season.csv"
        done = run("advise", MORNING, "--rider", NORTH, "--season", source, "--json", folder=day)
        assert done.code == 0, done.err
        write(day, f"{name}.json", done.out)
    book, table = (json.loads((day / f"{name}.json").read_text()) for name in ("book", "table"))
    assert book["settings"] == table["settings"]
    assert book["basis"]["sessions"] == 242


def test_a_bad_season_leaves_nothing_in_the_book(day: Path) -> None:
    season = write(
        day,
        "bad.csv",
        "session_id,event,date,rider,machine,mark\n"
        "a,First,2026-05-17,north,works-450,3\nb,First,2026-05-17,north,works-450,9\n",
    )
    said = refuse("import", season, folder=day)
    assert "bad.csv:3 mark" in said
    assert [one["event"] for one in shown(day)["events"]] == [EVENT]
    done = run("log", "import", season, "--leave-out-bad-rows", "--book", "team.book", folder=day)
    assert done.code == 0
    assert "left out: " in done.err
    assert "1 sessions new" in done.out


def test_a_backup_is_a_book(day: Path) -> None:
    log("backup", "copy.book", folder=day)
    assert log("show", "--event", EVENT, folder=day, book="copy.book") == log(
        "show", "--event", EVENT, folder=day
    )
    assert "there is such a file" in refuse("backup", "copy.book", folder=day)
    log("backup", "copy.book", "--replace", folder=day)


def test_all_entries_named_are_read_before_the_first_is_written(tmp_path: Path) -> None:
    bad = write(tmp_path, "bad.yaml", "event: x\ndate: tomorrow\n")
    words = ("log", "add", "walk", MORNING, bad, "--book", "team.book")
    (said,) = refused(*words, folder=tmp_path)
    assert said.startswith(f"{bad}:2 date")
    assert not (tmp_path / "team.book").exists()


def test_all_kinds_of_entries_can_be_added(tmp_path: Path) -> None:
    machine = DATA / "machines" / "works-450.yaml"
    for kind, path in (("machine", machine), ("rider", NORTH), ("walk", MORNING), ("setup", SHEET)):
        said = log("add", kind, path, folder=tmp_path)
        assert said.endswith("version 1 in the book\n")
    assert "walk of Fallow Bank round, 2026-06-07, evening: version 1" in log(
        "add", "walk", DATA / "walks" / "afternoon.yaml", "--part", "evening", folder=tmp_path
    )


@pytest.mark.parametrize(
    ("words", "said"),
    [
        (["--set", "shock_rebound_lo=9"], "did you mean shock_rebound_low?"),
        (["--set", "shock_rebound_low"], "write setting=value"),
        (["--set", "shock_rebound_low=99"], "--set shock_rebound_low"),
        (["--set", "race_sag=100", "race_sag=101"], "it is set twice"),
        (["--rider", "south", "--set", "race_sag=100"], "give the whole sheet once"),
        (["--machine", "none"], "the book has no machine 'none'"),
        (["--laps", "1:58", "0", "x"], "--laps 2"),
        (["--best-lap", "quick"], "--best-lap: 'quick' is no lap time"),
        (["--mark", "6"], "write 1, 2, 3, 4 or 5"),
        (["--mark", "nan"], "write 1, 2, 3, 4 or 5"),
        (["--verdict", "better"], "nothing was changed before this outing"),
        (
            ["--event", "Elsewhere", "--set", "race_sag=100", "--verdict", "same"],
            "no outing before",
        ),
        (["--date", "soon"], "date: 'soon' is no date"),
        (["--part", "evening"], "there is no walk of"),
        (["--remark", "\x1b[2J"], "cannot be printed"),
    ],
)
def test_an_outing_that_cannot_be_is_refused_and_nothing_of_it_written(
    words: list[str], said: str, day: Path
) -> None:
    assert said in refuse("outing", *words, folder=day)
    assert len(shown(day, "--event", EVENT)["days"][0]["outings"]) == 2


@pytest.mark.parametrize(
    ("words", "said"),
    [
        (["note", "M1"], "there is nothing to write"),
        (["note", "M1", "--verdict", "same"], "nothing was changed before M1"),
        (["note", "M1", "--replace-remark", "1"], "give it with --remark"),
        (["note", "M1", "--remark", "x", "--replace-remark", "4"], "no remark 4"),
        (["show", "--event", "Fallow Bank rond"], f"did you mean {EVENT}?"),
        (["show", "--rider", "nord"], "did you mean north?"),
        (["show", "--history"], "give the event with --event"),
        (["export", "none/season.csv"], "there is no folder"),
        (["add", "rider", "none.yaml"], "none.yaml"),
    ],
)
def test_what_cannot_be_done_is_told(words: list[str], said: str, day: Path) -> None:
    assert said in refuse(*words, folder=day)


@pytest.mark.parametrize(
    "words", [["show"], ["export", "x.csv"], ["backup", "x.book"], ["laps", "laps.csv"]]
)
def test_reading_makes_no_book(words: list[str], tmp_path: Path) -> None:
    write(tmp_path, "laps.csv", "session_id,setup,lap_s\nM1,x,117\n")
    assert "there is no such logbook" in refuse(*words, folder=tmp_path)


@pytest.mark.parametrize("words", [[], ["frame"], ["add"], ["add", "lap", "x"], ["note"]])
def test_words_that_mean_nothing_are_a_matter_of_usage(words: list[str], tmp_path: Path) -> None:
    done = run("log", *words, folder=tmp_path)
    assert done.code == 2
    assert "usage: setupadvisor log" in done.err


def test_without_a_name_the_environment_s_book_is_used_then_the_user_s_own(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(sys, "platform", "linux")
    monkeypatch.setenv("XDG_DATA_HOME", str(tmp_path / "data"))
    monkeypatch.setenv("SETUPADVISOR_BOOK", "named.book")
    log("add", "walk", MORNING, folder=tmp_path, book="")
    assert (tmp_path / "named.book").is_file()
    monkeypatch.delenv("SETUPADVISOR_BOOK")
    log("add", "walk", MORNING, folder=tmp_path, book="")
    assert (tmp_path / "data" / "setupadvisor" / "logbook.book").is_file()


def test_a_damaged_book_is_told_by_every_command(day: Path) -> None:
    book = day / "team.book"
    with closing(sqlite3.connect(book)) as connection:
        connection.execute("PRAGMA wal_checkpoint(TRUNCATE)")
    book.write_bytes(book.read_bytes()[:20000])
    before = book.read_bytes()
    for words in (["show"], ["add", "walk", MORNING], ["backup", "x.book"], ["export", "x.csv"]):
        assert "put back a copy made with log backup" in refuse(*words, folder=day)
    done = run("retrain", "team.book", "-o", "x.model", folder=day)
    assert done.code == 1
    assert "put back a copy made with log backup" in done.err
    assert book.read_bytes() == before


def test_every_option_has_help() -> None:
    parts: Any = None
    for words in (build_parser(), "log"):
        parsers = parts[words] if isinstance(words, str) else words
        (parts,) = (one.choices for one in parsers._actions if isinstance(one.choices, dict))
    for name, parser in parts.items():
        assert parser.description
        for action in parser._actions:
            assert action.help, f"log {name} {action.dest}"
        assert max(map(len, parser.format_help().splitlines())) <= 100
