"""A folder that is whole or not there, and the refusal of places that cannot be written to."""

from __future__ import annotations

import os
import shutil
import tempfile
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path

from setupadvisor.errors import InputError, Mistake


def refuse_unwritable(
    target: Path, *, folder: bool = False, replaceable: Callable[[Path], bool] = lambda path: False
) -> None:
    """Refuse before long work what could not be written after it.

    Parameters
    ----------
    target : pathlib.Path
        A file to write or replace, or a folder to make.
    folder : bool
        Whether it is to be a folder.
    replaceable : callable
        Says of a folder that holds something whether it may be replaced.

    Raises
    ------
    InputError
        If a folder that holds something, or with `folder` a file, is in the way, or the folder
        around it is missing or read-only.
    """
    if folder and target.exists() and not target.is_dir():
        raise InputError(Mistake(str(target), "this is a file", "name a new folder"))
    if target.is_dir() and any(target.iterdir()) and not replaceable(target):
        found = "this folder is there already and not empty"
        raise InputError(Mistake(str(target), found, "name a new one, or take it away first"))
    parent = target.absolute().parent
    if not parent.is_dir():
        found = f"there is no folder {target.parent}"
        raise InputError(Mistake(str(target), found, "make the folder first, or choose another"))
    if not os.access(parent, os.W_OK, effective_ids=os.access in os.supports_effective_ids):
        mend = "choose a folder that can be written to"
        raise InputError(Mistake(str(target), "permission denied", mend))


@contextmanager
def new_folder(target: Path) -> Iterator[tuple[Path, Path]]:
    """Make a folder that becomes the target when all has been written into it.

    Parameters
    ----------
    target : pathlib.Path
        The folder to make; it must not exist yet, or be empty.

    Yields
    ------
    tuple of pathlib.Path
        The folder to write into, and another for what is needed on the way.

    Raises
    ------
    InputError
        Where it cannot be written; nothing is left behind.
    """
    refuse_unwritable(target, folder=True)
    try:
        beside = Path(
            tempfile.mkdtemp(dir=target.absolute().parent, prefix=f".{target.name[:80]}.")
        )
        try:
            made, work = beside / "made", beside / "work"
            made.mkdir()
            work.mkdir()
            yield made, work
            if target.is_dir():
                target.rmdir()
            os.replace(made, target)  # noqa: PTH105 - a folder onto nothing
        finally:
            shutil.rmtree(beside, ignore_errors=True)
    except OSError as error:
        reason = (error.strerror or "it cannot be written").lower()
        mend = "choose a folder that can be written to, with room enough"
        raise InputError(Mistake(str(target), reason, mend)) from None
