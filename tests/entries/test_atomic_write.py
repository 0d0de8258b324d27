"""A file is written whole or not at all, whatever happens in between."""

from __future__ import annotations

import errno
import os
import signal
import stat
import subprocess
import sys
import time
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from setupadvisor.entries.files import write_atomic
from setupadvisor.errors import InputError
from tests.entries.rights import without_root_rights

OLD, NEW = b"old content", b"new content, and longer than the old one"


def refusal(path: Path) -> str:
    with pytest.raises(InputError) as caught:
        write_atomic(path, NEW)
    assert len(caught.value.mistakes) == 1
    message = str(caught.value)
    assert message.startswith(str(path))
    return message.removeprefix(str(path))


def names_in(folder: Path) -> list[str]:
    return sorted(path.name for path in folder.iterdir())


@given(content=st.binary(max_size=2000))
def test_what_is_written_is_what_is_read(
    tmp_path_factory: pytest.TempPathFactory, content: bytes
) -> None:
    folder = tmp_path_factory.mktemp("written")
    write_atomic(folder / "file", content)
    assert (folder / "file").read_bytes() == content
    assert names_in(folder) == ["file"]


def test_an_old_file_is_replaced_and_keeps_its_rights(tmp_path: Path) -> None:
    path = tmp_path / "file"
    path.write_bytes(OLD)
    path.chmod(0o640)
    write_atomic(str(path), NEW)
    assert path.read_bytes() == NEW
    assert stat.S_IMODE(path.stat().st_mode) == 0o640
    assert names_in(tmp_path) == ["file"]


@pytest.mark.parametrize(("mask", "rights"), [(0o022, 0o644), (0o077, 0o600), (0o002, 0o664)])
def test_a_new_file_has_the_rights_that_any_new_file_has(
    tmp_path: Path, mask: int, rights: int
) -> None:
    before = os.umask(mask)
    try:
        write_atomic(tmp_path / "file", NEW)
    finally:
        os.umask(before)
    assert stat.S_IMODE((tmp_path / "file").stat().st_mode) == rights


def test_a_link_goes_on_naming_the_file_that_is_written(tmp_path: Path) -> None:
    (tmp_path / "real").write_bytes(OLD)
    (tmp_path / "link").symlink_to(tmp_path / "real")
    write_atomic(tmp_path / "link", NEW)
    assert (tmp_path / "link").is_symlink()
    assert (tmp_path / "real").read_bytes() == NEW


def test_a_file_in_the_current_folder_needs_no_folder_in_its_name(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.chdir(tmp_path)
    write_atomic("file", NEW)
    assert (tmp_path / "file").read_bytes() == NEW


def test_a_name_as_long_as_the_file_system_allows_is_written(tmp_path: Path) -> None:
    path = tmp_path / ("n" * 250)
    write_atomic(path, NEW)
    assert path.read_bytes() == NEW


@pytest.mark.parametrize("step", ["fsync", "replace"])
@pytest.mark.parametrize("failure", [KeyboardInterrupt, MemoryError, RuntimeError])
def test_what_goes_wrong_in_the_middle_leaves_the_old_file_and_nothing_else(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, step: str, failure: type[BaseException]
) -> None:
    path = tmp_path / "file"
    path.write_bytes(OLD)

    def fail(*_: object) -> None:
        raise failure

    if step == "fsync":
        monkeypatch.setattr(os, "fsync", fail)
    else:
        monkeypatch.setattr(Path, "replace", fail)
    with pytest.raises(failure):
        write_atomic(path, NEW)
    assert path.read_bytes() == OLD
    assert names_in(tmp_path) == ["file"]


def test_a_full_disk_is_told_and_leaves_the_old_file(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    path = tmp_path / "file"
    path.write_bytes(OLD)

    def full(_: int) -> None:
        raise OSError(errno.ENOSPC, os.strerror(errno.ENOSPC))

    monkeypatch.setattr(os, "fsync", full)
    assert refusal(path) == (": no space left on device; choose a folder that can be written to")
    assert path.read_bytes() == OLD
    assert names_in(tmp_path) == ["file"]


KILLED = """
import os, sys, time
from pathlib import Path
from setupadvisor.entries.files import write_atomic

def wait(_):
    print("half written", flush=True)
    time.sleep(60)

os.fsync = wait
write_atomic(Path(sys.argv[1]), b"new content" * 100_000)
"""


def test_a_process_killed_in_the_middle_leaves_the_old_file(tmp_path: Path) -> None:
    """What is left beside it has a name of its own, and the next writing does not mind it."""
    path = tmp_path / "file"
    path.write_bytes(OLD)
    process = subprocess.Popen(
        [sys.executable, "-c", KILLED, str(path)], stdout=subprocess.PIPE, text=True
    )
    assert process.stdout
    with process.stdout:
        assert process.stdout.readline() == "half written\n"
        assert path.read_bytes() == OLD
        process.send_signal(signal.SIGKILL)
        process.wait()
    assert path.read_bytes() == OLD
    write_atomic(path, NEW)
    assert path.read_bytes() == NEW


READ = """
import sys
from pathlib import Path
path, sizes = Path(sys.argv[1]), set()
while not path.with_name("stop").exists():
    sizes.add(len(path.read_bytes()))
print(*sorted(sizes))
"""


def test_whoever_reads_meanwhile_sees_the_old_or_the_new_file(tmp_path: Path) -> None:
    path = tmp_path / "file"
    contents = [b"a" * 1_000, b"b" * 500_000]
    path.write_bytes(contents[0])
    process = subprocess.Popen(
        [sys.executable, "-c", READ, str(path)], stdout=subprocess.PIPE, text=True
    )
    until = time.monotonic() + 0.5
    while time.monotonic() < until:
        for content in contents:
            write_atomic(path, content)
    (tmp_path / "stop").touch()
    sizes, _ = process.communicate()
    assert set(map(int, sizes.split())) <= {1_000, 500_000}
    assert sizes


def test_a_missing_folder_is_refused_and_not_made(tmp_path: Path) -> None:
    path = tmp_path / "no" / "file"
    assert refusal(path) == (
        f": there is no folder {tmp_path / 'no'}; make the folder first, or choose another"
    )
    assert names_in(tmp_path) == []


def test_a_folder_in_place_of_the_file_is_refused(tmp_path: Path) -> None:
    assert refusal(tmp_path) == ": this is a folder; name a file in it"


def test_a_file_in_place_of_the_folder_is_refused(tmp_path: Path) -> None:
    (tmp_path / "file").write_bytes(OLD)
    assert refusal(tmp_path / "file" / "new").startswith(": there is no folder ")
    assert (tmp_path / "file").read_bytes() == OLD


def test_a_folder_that_may_not_be_written_to_is_refused() -> None:
    with without_root_rights() as folder:
        (folder / "file").write_bytes(OLD)
        folder.chmod(0o500)
        try:
            assert refusal(folder / "file") == (
                ": permission denied; choose a folder that can be written to"
            )
            assert names_in(folder) == ["file"]
            assert (folder / "file").read_bytes() == OLD
        finally:
            folder.chmod(0o700)
