"""A folder and a user whom file rights bind, whoever runs the tests."""

from __future__ import annotations

import os
import tempfile
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

NOBODY = 65534


@contextmanager
def without_root_rights() -> Iterator[Path]:
    """Give an own folder, and be somebody whom its rights bind while in it."""
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        if os.geteuid() != 0:
            yield folder
            folder.chmod(0o700)
            return
        os.chown(folder, NOBODY, NOBODY)
        os.seteuid(NOBODY)
        try:
            yield folder
        finally:
            os.seteuid(0)
