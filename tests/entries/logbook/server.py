"""A PostgreSQL server of the test run's own: started in a temporary folder, stopped afterwards."""

from __future__ import annotations

import os
import pwd
import shutil
import subprocess
import tempfile
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from pathlib import Path

USER = "team"


def programs() -> Path | None:
    """Where initdb and pg_ctl are; those on the PATH may be starters of several versions."""
    installed = sorted(
        Path("/usr/lib/postgresql").glob("*/bin"), key=lambda path: float(path.parent.name)
    )
    on_path = shutil.which("initdb")
    candidates = [*installed[::-1], *([Path(on_path).resolve().parent] if on_path else [])]
    return next((path for path in candidates if (path / "pg_ctl").exists()), None)


def _somebody() -> str | None:
    """Whose the server is: PostgreSQL refuses to run as root."""
    if os.geteuid() != 0:
        return None
    for name in ("postgres", "nobody"):
        try:
            pwd.getpwnam(name)
        except KeyError:
            continue
        return name
    return "65534"


def _run(words: Sequence[str | Path], user: str | None) -> None:
    done = subprocess.run(
        [str(word) for word in words],
        user=user,
        stdin=subprocess.DEVNULL,
        stdout=subprocess.PIPE,
        stderr=subprocess.STDOUT,
        cwd="/",
        check=False,
        timeout=60,
    )
    assert done.returncode == 0, done.stdout.decode(errors="replace")


@contextmanager
def server(found: Path) -> Iterator[Path]:
    """Start a server that listens on a socket in its folder alone; give the folder."""
    user = _somebody()
    # Not in the tests' own folder: others may not enter it, and its path is too long for a socket.
    folder = Path(tempfile.mkdtemp(prefix="book-"))
    try:
        if user is not None:
            shutil.chown(folder, user)
        data, log = folder / "data", folder / "log"
        _run([found / "initdb", "-D", data, "-U", USER, "-A", "trust", "-E", "UTF8"], user)
        settings = f"-c listen_addresses='' -c unix_socket_directories='{folder}' -c fsync=off"
        # A log of its own also keeps the server from holding on to our pipe.
        _run([found / "pg_ctl", "-D", data, "-l", log, "-w", "-o", settings, "start"], user)
        try:
            yield folder
        finally:
            _run([found / "pg_ctl", "-D", data, "-m", "immediate", "-w", "stop"], user)
    finally:
        shutil.rmtree(folder, ignore_errors=True)
