"""The command `laps` as a person runs it."""

from __future__ import annotations

import json
import re

import pytest

from setupadvisor.cli.laps_sheet import WIDTH, lap_text
from tests.cli.commands import refused, run, write

HEAD = "run,setup,rider,lap,lap_s,clock,flag\n"
DAY = HEAD + "".join(
    f"{number},{setup},north,{lap},{time},{clock if lap == 1 else ''},{'out' if lap == 1 else ''}\n"
    for number, setup, clock, times in [
        (1, "A", "10:00", "1:52.3 1:31.4 1:31.0 1:30.7 1:31.6 1:31.2"),
        (2, "B", "10:25", "1:50.1 1:30.6 1:30.9 1:30.1 1:44.0 1:30.4"),
        (3, "A", "10:50", "1:51.0 1:31.5 1:30.9 1:31.3 1:31.7 1:31.0"),
    ]
    for lap, time in enumerate(times.split(), start=1)
)
SECONDS = HEAD + "1,A,north,1,91.0,,\n1,A,north,2,91.5,,\n2,B,north,1,90.0,,\n2,B,north,2,90.4,,\n"


def test_the_sheet_says_who_is_quicker_by_how_much_and_how_sure(tmp_path):
    write(tmp_path, "laps.csv", DAY)
    done = run("laps", "laps.csv", folder=tmp_path)
    assert done.code == 0
    assert done.err == ""
    assert done.out.startswith("laps.csv: 18 laps, 3 runs by 1 rider, 1 day, 4 laps set aside\n")
    assert re.search(r"B is 0\.\d\d s quicker a lap than A; 80% sure: between ", done.out)
    assert re.search(r"improvement has a probability of \d\d%", " ".join(done.out.split()))
    assert "far slower than its run: a fall or a stop" in done.out
    assert max(map(len, done.out.splitlines())) <= WIDTH


def test_json_holds_the_comparison_and_every_lap_set_aside(tmp_path):
    write(tmp_path, "laps.csv", DAY)
    found = json.loads(run("laps", "laps.csv", "--json", folder=tmp_path).out)
    (comparison,) = found["comparisons"]
    assert comparison["first"]["setup"] == "A"
    assert comparison["low_s"] < comparison["difference_s"] < comparison["high_s"]
    assert comparison["difference_s"] < 0
    assert found["plan"] is None
    assert [lap["line"] for lap in found["set_aside"]] == [2, 8, 12, 14]
    assert found["set_aside"][2]["why"] == "far slower than its run: a fall or a stop"


def test_compare_names_the_pair_and_its_direction(tmp_path):
    write(tmp_path, "laps.csv", DAY)
    plain, turned = (
        json.loads(run("laps", "laps.csv", "--json", *more, folder=tmp_path).out)["comparisons"][0]
        for more in ((), ("--compare", "B", "A"))
    )
    assert turned["first"]["setup"] == "B"
    assert turned["difference_s"] == pytest.approx(-plain["difference_s"], abs=1e-6)


def test_a_higher_level_is_said_and_wider(tmp_path):
    write(tmp_path, "laps.csv", DAY)
    assert "95% sure" in run("laps", "laps.csv", "--level", "95%", folder=tmp_path).out


def test_several_setups_are_set_against_the_first_with_a_warning(tmp_path):
    rows = DAY + "".join(f"4,C,north,{lap},1:31.{lap},11:15,\n" for lap in range(1, 6))
    write(tmp_path, "laps.csv", rows + "5,D,south,1,99,,\n5,D,south,2,99.4,,\n")
    done = run("laps", "laps.csv", folder=tmp_path)
    assert "AGAINST A" in done.out
    assert re.search(r"^  B .*\d%", done.out, re.M)
    assert re.search(r"^  D .*cannot be told$", done.out, re.M)
    assert "The best of several looks better than it is" in done.out
    assert max(map(len, done.out.splitlines())) <= WIDTH


def test_a_long_list_of_laps_set_aside_is_counted(tmp_path):
    rows = "".join(
        f"{number},{'AB'[number % 2]},{lap},{130 if lap == 1 else 90 + lap / 10}\n"
        for number in range(20)
        for lap in range(1, 6)
    )
    write(tmp_path, "laps.csv", "run,setup,lap,lap_s\n" + rows)
    done = run("laps", "laps.csv", folder=tmp_path)
    assert re.search(r"^ +20  first lap of its run, clearly slow: an out-lap$", done.out, re.M)
    assert "--json lists every one" in done.out


def test_minutes_add_a_test_that_fits_them(tmp_path):
    write(tmp_path, "laps.csv", DAY)
    done = run("laps", "laps.csv", "--minutes", "60", folder=tmp_path)
    assert "A TEST  in 60 minutes" in done.out
    assert re.search(r"A-B-A, \d timed laps a run", done.out)
    plan = json.loads(run("laps", "laps.csv", "--minutes", "60", "--json", folder=tmp_path).out)
    assert plan["plan"]["minutes"] <= 60


def test_a_test_can_be_planned_before_there_is_a_table(tmp_path):
    done = run("laps", "--minutes", "90", "--lap-time", "1:45", folder=tmp_path)
    assert done.code == 0
    assert done.out.startswith("A TEST  in 90 minutes\n")
    assert "A-B-B-A" in done.out


def test_no_time_for_a_test_is_said(tmp_path):
    done = run("laps", "--minutes", "10", "--lap-time", "1:45", folder=tmp_path)
    assert done.code == 0
    assert "There is no time" in done.out
    found = json.loads(
        run("laps", "--minutes", "10", "--lap-time", "105", "--json", folder=tmp_path).out
    )
    assert found["plan"] is None


@pytest.mark.parametrize("words", [[], ["--minutes", "60"], ["--lap-time", "1:45"]])
def test_neither_table_nor_plan_is_a_question_of_usage(words, tmp_path):
    done = run("laps", *words, folder=tmp_path)
    assert done.code == 2
    assert "give a TABLE" in done.err


def test_faulty_rows_stop_with_every_mistake_and_the_way_on(tmp_path):
    write(tmp_path, "laps.csv", DAY + "4,B,north,1,DNF,,\n4,B,north,2,0,,\n4,B,north,3,-90,,\n")
    mistakes = refused("laps", "laps.csv", folder=tmp_path)
    assert [mistake.split(": ")[0] for mistake in mistakes] == [
        "laps.csv:20 lap_s",
        "laps.csv:21 lap_s",
        "laps.csv:22 lap_s",
        "laps.csv",
    ]
    assert "--leave-out-bad-rows" in mistakes[-1]


def test_faulty_rows_can_be_left_out_and_are_listed(tmp_path):
    write(tmp_path, "laps.csv", DAY + "4,B,north,1,DNF,,\n")
    done = run("laps", "laps.csv", "--leave-out-bad-rows", folder=tmp_path)
    assert done.code == 0
    assert "left out: laps.csv:20 lap_s" in done.err
    assert done.out == run("laps", write(tmp_path, "laps.csv", DAY).name, folder=tmp_path).out


@pytest.mark.parametrize(
    ("text", "words", "said"),
    [
        (HEAD, [], "there is no lap in it"),
        (HEAD + "1,A,north,1,90,,\n", [], "all laps have the setup 'A'; add laps with another"),
        (SECONDS, ["--compare", "A", "b"], "no lap has the setup 'b'"),
        (SECONDS, ["--compare", "A", "A"], "'A' is to be compared with itself"),
        (SECONDS, ["--lap-time", "fast"], "--lap-time: 'fast' is no lap time"),
        (SECONDS, ["--minutes", "0"], "minutes: 0 is impossible"),
        (
            HEAD + "1,A,north,1,,,\n2,B,north,1,,,\n",
            ["--minutes", "60"],
            "no lap counts; give --lap-time",
        ),
    ],
)
def test_what_cannot_be_answered_is_refused_in_words(text, words, said, tmp_path):
    write(tmp_path, "laps.csv", text)
    assert said in " ".join(refused("laps", "laps.csv", *words, folder=tmp_path))


def test_laps_that_cannot_tell_say_what_is_missing(tmp_path):
    write(
        tmp_path,
        "laps.csv",
        SECONDS.replace("2,B,north", "2,B,south"),
    )
    done = run("laps", "laps.csv", folder=tmp_path)
    assert done.code == 0
    assert "These laps cannot tell" in done.out
    assert "No rider rode both A and B on one day" in done.out
    found = json.loads(run("laps", "laps.csv", "--json", folder=tmp_path).out)
    assert found["comparisons"][0]["difference_s"] is None


def test_columns_not_used_are_said_beside_the_answer(tmp_path):
    write(tmp_path, "laps.csv", DAY.replace(",flag", ",flags", 1).replace(",out", ","))
    done = run("laps", "laps.csv", folder=tmp_path)
    assert done.code == 0
    assert "columns not used: 'flags' (did you mean flag?)" in done.err


@pytest.mark.parametrize(
    ("seconds", "text"),
    [(59.9994, "0:59.999"), (59.9996, "1:00.000"), (3725.5, "62:05.500"), (9.1, "0:09.100")],
)
def test_lap_times_are_written_as_on_a_timing_sheet(seconds, text):
    assert lap_text(seconds) == text
