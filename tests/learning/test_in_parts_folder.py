"""The folder of a model in parts: all of it or nothing, and refused where something is wrong."""

from __future__ import annotations

import json
import os
import shutil
from dataclasses import dataclass
from functools import cache
from pathlib import Path

import numpy as np
import pytest

from setupadvisor.errors import InputError
from setupadvisor.learning import in_parts, model_file
from setupadvisor.learning.in_parts import (
    is_model_in_parts,
    load_in_parts,
    predict_in_parts,
    train_in_parts,
)
from setupadvisor.learning.in_parts_files import mapped_arrays, write_arrays
from setupadvisor.learning.model_file import load_model, save_model
from setupadvisor.learning.sessions import Sessions
from setupadvisor.learning.simulate import Season, World, simulate_season
from setupadvisor.learning.training import train
from tests.learning.parts import Loaded, loaders_of

PROVENANCE = {"rules": "invented", "events": 6}


@cache
def season() -> Season:
    return simulate_season(6, random_state=5, world=World(n_settings=2, n_fields=4, n_venues=2))


def loaders():
    return loaders_of(season().sessions, np.arange(6) // 2)


@pytest.fixture(scope="module")
def trained(tmp_path_factory) -> Path:
    folder = tmp_path_factory.mktemp("trained") / "model"
    train_in_parts(loaders(), season().knowledge, folder, PROVENANCE)
    return folder


@pytest.fixture
def folder(trained, tmp_path) -> Path:
    return Path(shutil.copytree(trained, tmp_path / "model"))


def content(folder: Path) -> dict[str, bytes]:
    return {
        str(path.relative_to(folder)): path.read_bytes()
        for path in folder.rglob("*")
        if path.is_file()
    }


def answers(model) -> np.ndarray:
    sessions = season().sessions
    said = predict_in_parts(
        model,
        sessions.degrees,
        sessions.house,
        rider=sessions.rider,
        fields=sessions.fields,
        venue=sessions.venue,
        day=sessions.day,
    )
    return np.stack([said.value, said.low, said.high])


def refused(folder: Path, **options) -> str:
    with pytest.raises(InputError) as error:
        load_in_parts(folder, **options)
    return str(error.value)


def test_a_loaded_model_answers_as_the_trained_one_from_wherever_it_was_moved(trained, folder):
    here, provenance = load_in_parts(folder, thorough=True)
    assert provenance == PROVENANCE
    there, _ = load_in_parts(trained)
    assert np.array_equal(answers(here), answers(there))
    assert (here.n_sessions, here.n_events) == (len(season().sessions), 6)


def test_a_folder_is_told_from_files_and_other_folders(folder, tmp_path):
    assert is_model_in_parts(folder)
    assert not is_model_in_parts(folder / "learnt.safetensors")
    assert not is_model_in_parts(tmp_path)
    assert not is_model_in_parts(tmp_path / "nowhere")
    assert "not the folder of a model" in refused(tmp_path)


def test_the_same_archive_gives_the_same_bytes(folder, tmp_path):
    train_in_parts(loaders(), season().knowledge, tmp_path / "again", PROVENANCE)
    assert content(tmp_path / "again") == content(folder)


def test_only_the_last_sums_are_kept(folder):
    """One file of sessions, one of codes and one of sums to look up, a part."""
    assert len(content(folder)) == 1 + 3 * 3


def test_new_folders_have_the_rights_of_any_new_folder(folder, tmp_path):
    train_in_parts(loaders(), season().knowledge, tmp_path / "model-2", {})
    (tmp_path / "plain").mkdir()
    rights = (tmp_path / "plain").stat().st_mode
    assert (tmp_path / "model-2").stat().st_mode == rights
    assert (tmp_path / "model-2" / "parts" / "000000").stat().st_mode == rights


@pytest.mark.parametrize("which", ["sessions", "codes", "lookup"])
def test_a_missing_file_of_a_part_is_named(folder, which):
    path = next((folder / "parts" / "000001").glob(f"{which}*"))
    path.unlink()
    message = refused(folder)
    assert path.name in message
    assert "000001" in message
    assert "missing" in message


def test_all_missing_parts_are_named_at_once(folder):
    for number in (0, 2):
        shutil.rmtree(folder / "parts" / f"{number:06d}")
    assert refused(folder).count("part of the model is missing") == 6


def test_a_part_cut_short_is_refused(folder):
    path = folder / "parts" / "000002" / "sessions.safetensors"
    os.truncate(path, path.stat().st_size - 1)
    assert "damaged or cut short" in refused(folder)


@pytest.mark.parametrize("which", ["sessions", "codes", "lookup"])
def test_a_changed_byte_of_a_part_is_refused_by_a_thorough_look(folder, which):
    path = next((folder / "parts" / "000000").glob(f"{which}*"))
    bytes_of = bytearray(path.read_bytes())
    bytes_of[-3] ^= 1
    path.write_bytes(bytes(bytes_of))
    assert "checksum" in refused(folder, thorough=True)
    assert "checksum" in refused(folder, thorough=True, n_jobs=2)


def test_a_part_lost_after_loading_is_told_when_it_is_wanted(folder):
    model, _ = load_in_parts(folder)
    (folder / "parts" / "000001" / "codes.safetensors").unlink()
    with pytest.raises(InputError, match=r"000001.*missing"):
        answers(model)


def test_what_was_learnt_is_no_model_by_itself(folder):
    """It holds no sessions: taken for a whole model, it would leave past sessions out unsaid."""
    with pytest.raises(InputError, match="another kind"):
        load_model(folder / "learnt.safetensors")


def test_a_whole_model_in_its_place_is_refused(folder):
    save_model(
        train(season().sessions, season().knowledge), folder / "learnt.safetensors", PROVENANCE
    )
    assert "another kind" in refused(folder)


def test_a_folder_of_a_later_format_is_refused(tmp_path, monkeypatch):
    monkeypatch.setattr(model_file, "FORMAT", model_file.FORMAT + 1)
    train_in_parts(loaders(), season().knowledge, tmp_path / "model", {})
    monkeypatch.undo()
    assert "update setupadvisor" in refused(tmp_path / "model")


def test_damage_to_what_was_learnt_is_refused(folder):
    path = folder / "learnt.safetensors"
    bytes_of = bytearray(path.read_bytes())
    bytes_of[-1] ^= 1
    path.write_bytes(bytes(bytes_of))
    assert "checksum" in refused(folder)


@dataclass
class Broken:
    """A part that cannot be read."""

    def __call__(self) -> Sessions:
        raise RuntimeError("the disk is gone")


@pytest.mark.parametrize("n_jobs", [1, 2])
def test_a_failure_half_way_leaves_nothing(tmp_path, n_jobs):
    some = loaders()
    with pytest.raises(RuntimeError, match="the disk is gone"):
        train_in_parts(
            [*some[:2], Broken(), some[2]], season().knowledge, tmp_path / "m", {}, n_jobs=n_jobs
        )
    assert list(tmp_path.iterdir()) == []


def test_a_failure_at_the_end_leaves_the_old_model(folder, monkeypatch):
    before = content(folder)

    def full(*_):
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(in_parts, "describe", full)
    with pytest.raises(OSError, match="No space left"):
        train_in_parts(loaders()[:2], season().knowledge, folder, {"other": 1})
    assert content(folder) == before
    assert [path.name for path in folder.parent.iterdir()] == [folder.name]


def test_an_old_model_is_replaced_and_nothing_else_is_left(folder):
    train_in_parts(loaders()[:2], season().knowledge, folder, {"other": 1})
    model, provenance = load_in_parts(folder, thorough=True)
    assert provenance == {"other": 1}
    assert model.n_events == 4
    assert not (folder / "parts" / "000002").exists()
    assert [path.name for path in folder.parent.iterdir()] == [folder.name]


def test_an_empty_folder_is_filled(tmp_path):
    (tmp_path / "model").mkdir()
    train_in_parts(loaders(), season().knowledge, tmp_path / "model", {})
    assert load_in_parts(tmp_path / "model")[0].n_events == 6


def test_a_folder_that_holds_something_else_is_left_alone(tmp_path):
    (tmp_path / "photos").mkdir()
    (tmp_path / "photos" / "one.txt").write_text("mine")
    (tmp_path / "file").write_text("mine")
    for name in ("photos", "file"):
        with pytest.raises(InputError, match="something other than a model"):
            train_in_parts(loaders(), season().knowledge, tmp_path / name, {})
    assert (tmp_path / "photos" / "one.txt").read_text() == "mine"
    assert sorted(path.name for path in tmp_path.iterdir()) == ["file", "photos"]


def test_a_folder_that_cannot_be_made_is_named(tmp_path):
    with pytest.raises(InputError, match=r"nowhere.*choose another folder"):
        train_in_parts(loaders(), season().knowledge, tmp_path / "nowhere" / "model", {})


def test_written_arrays_are_mapped_and_not_read(tmp_path):
    """Every kind of number comes back; what is mapped can be looked at and not changed."""
    path = tmp_path / "some.safetensors"
    written = {
        "doubles": np.array([[1.5, np.nan]]),
        "singles": np.array([0.1], dtype=np.float32),
        "codes": np.array([-1, 2], dtype=np.int32),
        "counts": np.array([7]),
        "flags": np.array([True, False]),
        "none": np.zeros((0, 3)),
    }
    write_arrays(path, written, {"name": ["größer"]})
    arrays, words = mapped_arrays(path)
    assert words == {"name": ["größer"]}
    assert set(arrays) == set(written)
    for name, array in written.items():
        assert arrays[name].dtype == array.dtype
        assert np.array_equal(arrays[name], array, equal_nan=array.dtype.kind == "f")
    with pytest.raises(ValueError, match="read-only"):
        arrays["counts"][0] = 8


@pytest.mark.parametrize("damage", [b"", b"\x01", b"\xff" * 64, b"\x02\0\0\0\0\0\0\0{}"])
def test_a_file_that_is_none_of_ours_is_refused(tmp_path, damage):
    path = tmp_path / "some.safetensors"
    path.write_bytes(damage)
    with pytest.raises(InputError, match="damaged or cut short"):
        mapped_arrays(path)


def test_the_list_of_parts_is_plain_words(folder):
    """Sizes and checksums stand in the description of the file, as JSON."""
    raw = (folder / "learnt.safetensors").read_bytes()
    header = json.loads(raw[8 : 8 + int.from_bytes(raw[:8], "little")])
    told = json.loads(header["__metadata__"]["setupadvisor"])["provenance"]
    assert [part["events"] for part in told["parts"]] == [2, 2, 2]


def test_loaders_can_be_pickled_and_called_elsewhere(folder, tmp_path):
    assert all(isinstance(loader, Loaded) for loader in loaders())
    train_in_parts(loaders(), season().knowledge, tmp_path / "two", PROVENANCE, n_jobs=2)
    assert content(tmp_path / "two") == content(folder)


def test_a_folder_named_from_here_is_found_from_elsewhere(tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    trained = train_in_parts(loaders(), season().knowledge, "model", {}, n_jobs=2)
    loaded, _ = load_in_parts("model")
    (tmp_path / "elsewhere").mkdir()
    monkeypatch.chdir(tmp_path / "elsewhere")
    assert np.array_equal(answers(trained), answers(loaded))


def test_progress_tells_each_part_and_what_follows(tmp_path):
    told = []
    train_in_parts(
        loaders(), season().knowledge, tmp_path / "m", {}, progress=lambda *one: told.append(one)
    )
    assert told[:4] == [("reading parts", done, 3) for done in range(4)]
    assert [what for what, _, _ in told[4:]] == [
        "amounts and habits",
        "past sessions",
        "events left out",
        "ranges",
        "ranges",
    ]


@pytest.mark.parametrize("level", [0.0, 1.0, np.nan])
def test_a_level_that_is_none_is_refused_before_anything_is_read(tmp_path, level):
    with pytest.raises(InputError, match="between 0 and 1"):
        train_in_parts([Broken()], season().knowledge, tmp_path / "m", {}, level=level)
