from __future__ import annotations

import json
import subprocess
import sys
from dataclasses import replace
from functools import cache
from pathlib import Path

import numpy as np
import pytest
from safetensors.numpy import save

from setupadvisor.errors import InputError
from setupadvisor.learning import model_file
from setupadvisor.learning.model import Model, untrained
from setupadvisor.learning.model_file import load_model, model_bytes, save_model
from setupadvisor.learning.prediction import predict
from setupadvisor.learning.simulate import simulate_season
from setupadvisor.learning.training import train

PROVENANCE = {"rules": "bundled", "season": "invented", "events": 6}


@cache
def model() -> Model:
    season = simulate_season(6, random_state=13)
    return train(season.sessions, season.knowledge)


@pytest.fixture
def file(tmp_path) -> Path:
    path = tmp_path / "team.model"
    save_model(model(), path, PROVENANCE)
    return path


def refused(path) -> str:
    with pytest.raises(InputError) as error:
        load_model(path)
    assert str(path) in str(error.value)
    return str(error.value)


def said(one: Model):
    sessions = simulate_season(6, random_state=13).sessions
    got = predict(
        one,
        sessions.degrees,
        sessions.house,
        rider=sessions.rider,
        fields=sessions.fields,
        venue=sessions.venue,
        day=sessions.day,
    )
    return got.value, got.low, got.high


def test_a_model_comes_back_to_the_last_bit(file):
    loaded, provenance = load_model(file)
    assert provenance == PROVENANCE
    for name in model_file.ARRAYS:
        mine, theirs = getattr(model(), name), getattr(loaded, name)
        assert mine.dtype == theirs.dtype
        assert np.array_equal(mine, theirs, equal_nan=mine.dtype.kind == "f")
    for name in model_file.NAMES + model_file.NUMBERS:
        assert getattr(model(), name) == getattr(loaded, name)
    for mine, theirs in zip(said(model()), said(loaded), strict=True):
        assert np.array_equal(mine, theirs)


def test_an_untrained_model_comes_back_too(tmp_path):
    path = tmp_path / "untrained.model"
    save_model(untrained(simulate_season(2).knowledge), path, {})
    assert load_model(path)[0].half_life == np.inf


def test_the_same_season_gives_the_same_bytes_in_another_process(file):
    """The order of hashes differs between processes; that of the bytes must not."""
    code = (
        "import sys\n"
        "from setupadvisor.learning.model_file import save_model\n"
        "from setupadvisor.learning.simulate import simulate_season\n"
        "from setupadvisor.learning.training import train\n"
        "season = simulate_season(6, random_state=13)\n"
        f"save_model(train(season.sessions, season.knowledge), sys.argv[1], {PROVENANCE!r})\n"
    )
    again = file.with_name("again.model")
    subprocess.run([sys.executable, "-c", code, str(again)], check=True)
    assert again.read_bytes() == file.read_bytes()


def test_a_file_already_there_is_replaced_and_nothing_else_is_left(file):
    file.write_bytes(b"old")
    save_model(model(), file, PROVENANCE)
    assert load_model(file)[1] == PROVENANCE
    assert [path.name for path in file.parent.iterdir()] == [file.name]


def test_a_write_that_fails_leaves_the_old_file_as_it_was(file, monkeypatch):
    before = file.read_bytes()

    def full(handle):
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(model_file.os, "fsync", full)
    with pytest.raises(InputError, match="No space left"):
        save_model(model(), file, {"other": 1})
    assert file.read_bytes() == before
    assert [path.name for path in file.parent.iterdir()] == [file.name]


def test_a_folder_that_is_not_there_is_named(tmp_path):
    with pytest.raises(InputError, match=r"nowhere.*choose another folder"):
        save_model(model(), tmp_path / "nowhere" / "team.model", {})


def test_a_missing_file_is_refused(tmp_path):
    assert "no such file" in refused(tmp_path / "none.model")


@pytest.mark.parametrize("kept", [0, 7, 8, 200, 0.5, -1])
def test_a_file_cut_short_is_refused(file, kept):
    content = file.read_bytes()
    file.write_bytes(content[: int(len(content) * kept) if isinstance(kept, float) else kept])
    assert "damaged or cut short" in refused(file)


def test_any_single_changed_byte_is_refused(file):
    content = file.read_bytes()
    places = np.linspace(0, len(content) - 1, 200).astype(int)
    for place in places.tolist():
        damaged = bytearray(content)
        damaged[place] ^= 0x01
        file.write_bytes(bytes(damaged))
        assert "train it again" in refused(file) or "another kind" in refused(file)


@pytest.mark.parametrize(
    "content", [b"PK\x03\x04" + b"\0" * 400, b"walk:\n  event: x\n", b"\x80\x04."]
)
def test_a_file_that_is_no_safetensors_file_is_refused(file, content):
    file.write_bytes(content)
    assert "not a model file" in refused(file)


@pytest.mark.parametrize("metadata", [None, {"format": "pt"}, {"setupadvisor": "{"}])
def test_arrays_of_another_program_are_refused(file, metadata):
    file.write_bytes(save({"weights": np.ones(3)}, metadata=metadata))
    assert "another kind" in refused(file)


@pytest.mark.parametrize(("version", "mend"), [(0, "train it again"), (99, "update setupadvisor")])
def test_another_format_is_refused_with_the_mend(file, monkeypatch, version, mend):
    monkeypatch.setattr(model_file, "FORMAT", version)
    save_model(model(), file, PROVENANCE)
    monkeypatch.undo()
    message = refused(file)
    assert f"format {version}" in message
    assert mend in message


@pytest.mark.parametrize("name", model_file.ARRAYS)
def test_a_checksummed_file_whose_arrays_do_not_fit_is_refused(file, monkeypatch, name):
    """A checksum can be made by anyone; sizes are checked all the same."""

    def one_short(owner, asked):
        value = getattr(owner, asked)
        return value[..., :-1] if asked == name else value

    monkeypatch.setattr(model_file, "getattr", one_short, raising=False)
    content = model_bytes(model(), PROVENANCE)
    monkeypatch.undo()
    file.write_bytes(content)
    assert "parts do not fit" in refused(file)


def test_codes_that_stand_for_nobody_are_refused(file):
    save_model(replace(model(), rider=model().rider + 100), file, PROVENANCE)
    assert "parts do not fit" in refused(file)


def test_provenance_that_is_not_a_number_is_not_written(file):
    before = file.read_bytes()
    with pytest.raises(ValueError, match="JSON"):
        save_model(model(), file, {"error": float("nan")})
    assert file.read_bytes() == before


def test_nothing_in_the_file_is_pickled(file):
    content = file.read_bytes()
    header = json.loads(content[8 : 8 + int.from_bytes(content[:8], "little")])
    kinds = {part["dtype"] for name, part in header.items() if name != "__metadata__"}
    assert kinds <= {"F64", "I64", "BOOL"}
