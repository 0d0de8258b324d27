"""`archive`, `retrain` and `advise` with archives, and `bulk`, as an analyst runs them."""

from __future__ import annotations

import json
import shutil
import sys
from pathlib import Path

import pandas as pd
import pytest

from setupadvisor.advice.workshop import house_machine
from tests.cli.commands import DATA, refused, run, run_process, write
from tests.cli.test_retrain import table
from tests.test_layers import HEAVY, loaded

pytest.importorskip("pyarrow", reason='needs the extra "parquet"')

WALK = DATA / "walks" / "deep-sand.yaml"
NORTH = DATA / "riders" / "north.yaml"
NO_MODEL = (
    "this folder is no model; name a model file, or the folder that retrain made of an archive"
)


@pytest.fixture(scope="module")
def made(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A season of twelve events, its archive of three parts, and a model of each."""
    folder = tmp_path_factory.mktemp("made")
    table(folder, 12)
    for words in (
        ("archive", "season.csv", "-o", "arc", "--rows", "16"),
        ("retrain", "season.csv", "-o", "one.model", "--no-forest"),
        ("retrain", "arc", "-o", "arc.model", "--no-forest"),
    ):
        done = run(*words, folder=folder)
        assert done.code == 0, done.err
        assert done.err == ""
        write(folder, f"{words[0]}-{words[3]}.txt", done.out)
    return folder


@pytest.fixture
def folder(made: Path, tmp_path: Path) -> Path:
    """A copy of it to work in."""
    shutil.copytree(made, tmp_path / "copy")
    return tmp_path / "copy"


def told(folder: Path, name: str) -> str:
    return (folder / name).read_text(encoding="utf-8")


def test_archive_says_what_it_wrote_and_what_comes_next(made: Path) -> None:
    assert told(made, "archive-arc.txt") == (
        "Wrote arc: 48 sessions, 12 events, 3 parts. Next: setupadvisor retrain arc -o MODEL\n"
    )
    assert sorted(path.name for path in (made / "arc").iterdir()) == [
        "machines",
        "part-00000.parquet",
        "part-00001.parquet",
        "part-00002.parquet",
        "riders",
    ]


def test_archive_as_json(folder: Path) -> None:
    done = run("archive", "season.csv", "arc", "-o", "x", "--json", folder=folder)
    assert done.code == 1  # every session stands there twice
    done = run("archive", "season.csv", "-o", "x", "--json", folder=folder)
    assert json.loads(done.out) == {"parts": 1, "sessions": 48, "events": 12, "folder": "x"}


def test_a_small_archive_is_measured_as_its_season_is(made: Path) -> None:
    """The same table of errors; the archive says first what it holds."""
    of_archive = told(made, "retrain-arc.model.txt").splitlines()
    of_season = told(made, "retrain-one.model.txt").splitlines()
    assert of_archive[0] == "The archive: 48 sessions, 12 events, 3 parts."
    assert of_archive[1:-1] == of_season[:-1]
    assert of_archive[-1] == ("Wrote arc.model. Next: setupadvisor advise WALK --model arc.model")


def test_advise_says_the_same_from_either_model(made: Path) -> None:
    """Nearest sessions, parts, ranges and all; where the model came from differs."""
    answers = []
    for model in ("one.model", "arc.model"):
        done = run("advise", WALK, "--rider", NORTH, "--model", model, "--json", folder=made)
        assert done.code == 0, done.err
        answers.append(json.loads(done.out))
    one, other = answers
    assert one["basis"].pop("model")["season"] == "season.csv"
    assert other["basis"].pop("model")["season"] == "arc"
    assert other["basis"]["sessions"] == 48
    for mine, theirs in zip(one["settings"], other["settings"], strict=True):
        # Sums of past sessions are of single precision, and added up in another order.
        setting = house_machine().settings[mine["setting"]]
        near = 1e-5 * (setting.highest - setting.lowest) / (len(setting.values) - 1)
        for part, same in zip(mine.pop("parts"), theirs.pop("parts"), strict=True):
            assert part.pop("amount") == pytest.approx(same.pop("amount"), abs=near)
            assert part == same
    for nearest in (one["basis"].pop("nearest"), other["basis"].pop("nearest")):
        assert len(nearest) == 5
    assert one == other


@pytest.mark.parametrize("name", ["out.csv", "out.parquet", "out"])
def test_bulk_gives_the_values_of_advise_for_each_row(folder: Path, name: str) -> None:
    walk = run("advise", WALK, "--rider", NORTH, "--model", "arc.model", "--json", folder=folder)
    season = pd.read_csv(folder / "season.csv", dtype=str, keep_default_na=False)
    season = season.drop(columns=[column for column in season if column.startswith("setup.")])
    season.to_csv(folder / "walks.csv", index=False)
    done = run("bulk", "walks.csv", "-o", name, "--model", "arc.model", folder=folder)
    assert (done.code, done.out) == (0, f"Wrote {name}: 48 walks.\n")
    found = pd.read_csv(folder / name) if name.endswith(".csv") else pd.read_parquet(folder / name)
    assert found["session_id"].tolist() == season["session_id"].tolist()
    settings = json.loads(walk.out)["settings"]
    assert [column for column in found if column.endswith(".low")] == [
        f"advised.{setting['setting']}.low" for setting in settings
    ]
    for setting in settings:
        value = found[f"advised.{setting['setting']}"]
        assert (found[f"advised.{setting['setting']}.low"] <= value).all()
        assert (value <= found[f"advised.{setting['setting']}.high"]).all()


def test_bulk_says_the_same_from_either_model_from_tables_and_archives(folder: Path) -> None:
    """Each row for itself, whatever it stands in."""
    pairs = (("season.csv", "one.model"), ("season.csv", "arc.model"), ("arc", "arc.model"))
    answers = []
    for number, (walks, model) in enumerate(pairs):
        done = run("bulk", walks, "-o", f"{number}.csv", "--model", model, folder=folder)
        assert done.code == 0, done.err
        answers.append(told(folder, f"{number}.csv"))
    assert answers[0] == answers[1] == answers[2]


def test_two_processes_say_what_one_says(folder: Path) -> None:
    """Blocks of walks go to processes with a model in memory, parts of the model with the other."""
    for model in ("arc.model", "one.model"):
        for jobs in ("1", "2"):
            words = ("bulk", "arc", "-o", f"{jobs}.csv", "--model", model, "--jobs", jobs)
            assert run(*words, folder=folder).code == 0
        assert told(folder, "1.csv") == told(folder, "2.csv")


def test_retrain_replaces_the_model_of_an_archive_and_nothing_else(folder: Path) -> None:
    before = (folder / "arc.model" / "learnt.safetensors").read_bytes()
    done = run("retrain", "arc", "-o", "arc.model", "--no-forest", "--json", folder=folder)
    assert (folder / "arc.model" / "learnt.safetensors").read_bytes() == before
    content = json.loads(done.out)
    assert content["model"]["sessions"] == content["sample"]["sessions"] == 48
    assert content["model"]["season"] == "arc"
    assert content["evaluation"]["events"] == 12
    in_the_way = "this folder is there already and not empty; name a new one, or take it away first"
    assert refused("retrain", "arc", "-o", "riders", folder=folder) == [f"riders: {in_the_way}"]
    assert refused("retrain", "arc", "-o", "one.model", folder=folder) == [
        "one.model: this is a file; name a new folder"
    ]


def test_mistakes_of_an_archive_are_told_and_no_model_is_made(folder: Path) -> None:
    path = folder / "arc" / "part-00001.parquet"
    frame = pd.read_parquet(path)
    frame.loc[3, "mark"] = 9.0
    frame.to_parquet(path)
    said = refused("retrain", "arc", "-o", "new", folder=folder)
    assert said[0].startswith("arc/part-00001.parquet row 4 mark: '9.0' (9) cannot be right")
    assert said[1].startswith("arc: there are faulty rows, listed above")
    words = ("retrain", "arc", "-o", "new", "--leave-out-bad-rows", "--no-forest")
    done = run(*words, folder=folder)
    assert done.code == 0
    assert done.mistakes[0].startswith("left out: arc/part-00001.parquet row 4 mark")
    assert "The archive: 47 sessions" in done.out


def test_an_archive_that_was_cut_anywhere_is_put_in_order_by_archive(folder: Path) -> None:
    frame = pd.concat(pd.read_parquet(path) for path in sorted((folder / "arc").glob("*.parquet")))
    (folder / "cut").mkdir()
    frame.iloc[:18].to_parquet(folder / "cut" / "a.parquet")
    frame.iloc[18:].to_parquet(folder / "cut" / "b.parquet")
    said = refused("retrain", "cut", "-o", "new", folder=folder)
    assert said[-1] == (
        "cut: 1 event stands in more than one part; bring them together: setupadvisor archive cut "
        "-o FOLDER"
    )
    assert run("archive", "cut", "-o", "whole", "--rows", "16", folder=folder).code == 0
    for path in sorted((folder / "arc").glob("*.parquet")):
        assert (folder / "whole" / path.name).read_bytes() == path.read_bytes()


@pytest.mark.parametrize(
    ("words", "said"),
    [
        (("archive", "empty", "-o", "x"), "there is no Parquet file in this folder"),
        (("retrain", "empty", "-o", "x"), "there is no Parquet file in it"),
        (("bulk", "empty", "-o", "x", "--model", "arc.model"), "there is no Parquet file in it"),
    ],
)
def test_an_empty_folder_is_no_archive(folder: Path, words: tuple[str, ...], said: str) -> None:
    (folder / "empty").mkdir()
    (line,) = refused(*words, folder=folder)
    assert line.startswith(f"empty: {said}")


def test_a_folder_that_is_no_model_is_refused(folder: Path) -> None:
    for words in (("advise", WALK, "--model", "arc"), ("bulk", "arc", "-o", "x", "--model", "arc")):
        assert refused(*words, folder=folder) == [f"arc: {NO_MODEL}"]


def test_advise_with_the_model_of_an_archive_starts_without_the_libraries_of_learning(
    made: Path,
) -> None:
    words = ("advise", str(WALK), "--rider", str(NORTH), "--model", "arc.model")
    assert loaded((*HEAVY, "pint"), *words, folder=made) == set()


def test_weigh_says_that_it_reads_models_of_seasons(made: Path) -> None:
    (line,) = refused("weigh", "arc.model", folder=made)
    assert line.startswith("arc.model: this is a folder, and the model of an archive cannot be")


def test_a_model_that_lacks_a_part_is_refused(folder: Path) -> None:
    shutil.rmtree(next((folder / "arc.model" / "parts").iterdir()))
    said = refused("advise", WALK, "--model", "arc.model", folder=folder)
    assert all("missing" in line for line in said)
    assert said


def test_an_archive_is_no_season_to_learn_from_at_each_advice(folder: Path) -> None:
    said = refused("advise", WALK, "--season", "arc", folder=folder)
    assert said == [
        "arc: this is an archive, no season's table; learn from it once: setupadvisor retrain arc "
        "-o MODEL, then --model MODEL"
    ]


def test_bulk_refuses_faulty_walks_with_all_their_mistakes(folder: Path) -> None:
    write(folder, "w.csv", "event,date,walk.kind,rider\nA,2026-05-01,beach,\nB,soon,sand,nroth\n")
    said = refused("bulk", "w.csv", "-o", "x.csv", "--model", "arc.model", folder=folder)
    assert [line.split(": ")[0] for line in said] == [
        "w.csv:2 walk.kind",
        "w.csv:3 date",
        "w.csv:3 rider",
        "w.csv",
    ]
    write(folder, "w.csv", "event,date,walk.kind,mood\nA,2026-05-01,beach,1\nB,2026-05-02,sand,2\n")
    words = ("bulk", "w.csv", "-o", "x.csv", "--model", "arc.model", "--leave-out-bad-rows")
    done = run(*words, folder=folder)
    assert done.code == 0
    assert done.mistakes[0] == "w.csv: columns kept and ignored: mood"
    assert done.mistakes[1].startswith("left out: w.csv:2 walk.kind: 'beach'")
    assert pd.read_csv(folder / "x.csv")["event"].tolist() == ["B"]


def test_bulk_refuses_a_table_without_walks(folder: Path) -> None:
    write(folder, "w.csv", "event,date\n")
    assert refused("bulk", "w.csv", "-o", "x.csv", "--model", "arc.model", folder=folder) == [
        "w.csv: no sound walk stands there; add a row"
    ]
    write(folder, "w.csv", "event,kind\nA,sand\n")
    assert refused("bulk", "w.csv", "-o", "x.csv", "--model", "arc.model", folder=folder) == [
        "w.csv: no column date; a table of walks needs event and date"
    ]


@pytest.mark.parametrize("out", ["season.csv", "./season.csv"])
def test_bulk_never_writes_over_what_it_reads(folder: Path, out: str) -> None:
    (line,) = refused("bulk", "season.csv", "-o", out, "--model", "arc.model", folder=folder)
    assert line.endswith("this is the table of walks itself; name another with -o")


def test_bulk_refuses_a_place_that_cannot_be_written(folder: Path) -> None:
    (line,) = refused("bulk", "season.csv", "-o", "no/x.csv", "--model", "arc.model", folder=folder)
    assert line == "no/x.csv: there is no folder no; make the folder first, or choose another"


def test_bulk_refuses_a_model_of_other_rules(folder: Path) -> None:
    write(
        folder,
        "own/ours.yaml",
        "subject: ours\nswitch_off:\n  standing-bar-higher: our riders sit\n",
    )
    words = ("bulk", "arc", "-o", "x", "--model", "arc.model", "--rules", "own")
    (line,) = refused(*words, folder=folder)
    assert line.startswith("arc.model: the model was trained with other rules than these")


def test_ranges_that_events_are_too_few_for_are_told_of(folder: Path) -> None:
    table(folder, 2)
    assert run("retrain", "season.csv", "-o", "few.model", "--no-forest", folder=folder).code == 0
    done = run("bulk", "season.csv", "-o", "x.csv", "--model", "few.model", folder=folder)
    assert "Events are too few for ranges of 80%" in done.err


def test_without_dask_the_way_out_is_told(folder: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setitem(sys.modules, "dask.distributed", None)
    words = ("retrain", "arc", "-o", "new", "--cluster", "local")
    assert refused(*words, folder=folder) == [
        "--cluster: this needs Dask; pip install 'setupadvisor[cluster]', or leave --cluster out"
    ]


@pytest.mark.parametrize("address", ["tcp://127.0.0.1:9", "nowhere", "carrier-pigeon://x:1"])
def test_a_cluster_that_does_not_answer_is_told_of(
    folder: Path, monkeypatch: pytest.MonkeyPatch, address: str
) -> None:
    pytest.importorskip("distributed", reason='needs the extra "cluster"')
    monkeypatch.setattr("setupadvisor.cli.cluster.SECONDS_TO_ANSWER", 1)
    words = ("bulk", "arc", "-o", "x", "--model", "arc.model", "--cluster", address)
    (line,) = refused(*words, folder=folder)
    assert line.startswith(f"--cluster {address}: no scheduler answers there (")
    assert line.endswith("give its address, as tcp://host:8786, or local for this machine")


def test_a_cluster_on_this_machine_gives_the_same_model_and_table(folder: Path) -> None:
    pytest.importorskip("distributed", reason='needs the extra "cluster"')
    words = ("--cluster", "local", "--jobs", "2")
    done = run_process("retrain", "arc", "-o", "there", "--no-forest", *words, folder=folder)
    assert done.code == 0, done.err
    assert done.mistakes == ["Working on a cluster of 2 processes."]
    name = "learnt.safetensors"
    assert (folder / "there" / name).read_bytes() == (folder / "arc.model" / name).read_bytes()
    done = run_process("bulk", "arc", "-o", "c.csv", "--model", "there", *words, folder=folder)
    assert done.code == 0, done.err
    assert run("bulk", "arc", "-o", "h.csv", "--model", "arc.model", folder=folder).code == 0
    assert told(folder, "c.csv") == told(folder, "h.csv")
