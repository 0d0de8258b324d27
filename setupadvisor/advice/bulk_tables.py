"""Tables of walks too long for memory: looked at, then advised on, block by block."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from functools import lru_cache
from pathlib import Path
from typing import TYPE_CHECKING, Any

from setupadvisor.advice.archive_parts import workshop_of
from setupadvisor.advice.bulk import advised_rows
from setupadvisor.entries.archive import MOST_TOLD, bounded
from setupadvisor.entries.machine import Machine
from setupadvisor.entries.rider import Rider
from setupadvisor.entries.season_mistakes import listed
from setupadvisor.entries.table_blocks import table_blocks
from setupadvisor.entries.walk_rows import read_walks
from setupadvisor.errors import InputError, Mistake
from setupadvisor.learning.in_parts import is_model_in_parts, load_in_parts
from setupadvisor.learning.many_cores import run_in_turn
from setupadvisor.learning.model import Model
from setupadvisor.learning.model_file import load_model
from setupadvisor.learning.training import Progress

if TYPE_CHECKING:
    import pandas as pd

    from setupadvisor.learning.in_parts import ModelInParts

ROWS_AT_ONCE = 10_000


@dataclass(frozen=True)
class Asked:
    """Walks to advise on, and what to ask.

    Parameters
    ----------
    tables : tuple of pathlib.Path
        CSV or Parquet files.
    where : pathlib.Path
        The table or archive as the user named it.
    model : pathlib.Path
        Model file, or folder of a model in parts.
    machine : Machine
        The machine.
    riders : mapping of str to Rider
        Riders by name.
    known_riders : frozenset of str
        Further names that are right.
    rule_folders : tuple of pathlib.Path
        A team's own rules.
    level : float or None
        Level of the ranges.
    """

    tables: tuple[Path, ...]
    where: Path
    model: Path
    machine: Machine
    riders: Mapping[str, Rider]
    known_riders: frozenset[str] = frozenset()
    rule_folders: tuple[Path, ...] = ()
    level: float | None = None


@dataclass(frozen=True)
class LookedOver:
    """What a first look at all walks found.

    Parameters
    ----------
    walks : int
        Sound ones.
    mistakes : list of Mistake
        A bounded number.
    notices : tuple of str
        What is ignored.
    """

    walks: int
    mistakes: list[Mistake]
    notices: tuple[str, ...]


def look_over(asked: Asked, progress: Progress | None = None) -> LookedOver:
    """Read all walks once, before any long work.

    Parameters
    ----------
    asked : Asked
        The walks.
    progress : callable, optional
        Called as the work goes on.

    Returns
    -------
    LookedOver
        How many are sound, and what is wrong with the others.

    Raises
    ------
    InputError
        If a table cannot be read or lacks a column.
    """
    tell = progress or (lambda what, done, total: None)
    walks = more = 0
    told: list[Mistake] = []
    notices: dict[str, None] = {}
    for number, path in enumerate(asked.tables):
        tell("tables looked at", number, len(asked.tables))
        mistakes: list[Mistake] = []
        for frame, torn in table_blocks(path, ROWS_AT_ONCE):
            found, wrong = read_walks(
                frame, str(path), asked.machine, asked.riders, asked.known_riders
            )
            walks += len(found)
            mistakes += [*torn, *wrong]
            notices.update(dict.fromkeys(found.notices))
        mistakes = listed(mistakes, str(path))
        told += mistakes[: MOST_TOLD - len(told)] if len(told) < MOST_TOLD else []
        more += len(mistakes)
    more -= len(told)
    return LookedOver(walks, bounded(told, asked.where, more), tuple(notices))


def advise_tables(
    asked: Asked,
    write: Callable[[pd.DataFrame], None],
    total: int,
    *,
    progress: Progress | None = None,
    jobs: int = 1,
) -> None:
    """Advise on all sound walks, and hand the rows over in their order.

    Parameters
    ----------
    asked : Asked
        The walks.
    write : callable
        Takes the rows of each block.
    total : int
        How many walks there are, for telling.
    progress : callable, optional
        Called as the work goes on.
    jobs : int
        Processes to use: for blocks, or with a model in parts for its parts.
    """
    tell = progress or (lambda what, done, total: None)
    in_parts = is_model_in_parts(asked.model)
    stamp = stamp_of(asked.model)
    tasks = (
        {
            "asked": asked,
            "stamp": stamp,
            "path": path,
            "frame": frame,
            "jobs": jobs if in_parts else 1,
        }
        for path in asked.tables
        for frame, _ in table_blocks(path, ROWS_AT_ONCE)
    )
    done = 0
    tell("walks advised on", done, total)
    for rows in run_in_turn(advise_block, tasks, n_jobs=1 if in_parts else jobs):
        if len(rows):
            write(rows)
        done += len(rows)
        tell("walks advised on", done, total)


def advise_block(
    *, asked: Asked, stamp: tuple[int, ...], path: Path, frame: pd.DataFrame, jobs: int
) -> pd.DataFrame:
    """Advise on one block of walks, in any process.

    Parameters
    ----------
    asked : Asked
        What to ask.
    stamp : tuple of int
        From `stamp_of` the model.
    path : pathlib.Path
        The table it is of.
    frame : pandas.DataFrame
        Its rows.
    jobs : int
        Processes for a model in parts.

    Returns
    -------
    pandas.DataFrame
        As `advised_rows` gives it.

    Raises
    ------
    InputError
        Where something physically impossible was entered.
    """
    walks, _ = read_walks(frame, str(path), asked.machine, asked.riders, asked.known_riders)
    workshop = workshop_of(asked.machine, asked.rule_folders)
    model, _ = model_at(asked.model.absolute(), stamp)
    try:
        return advised_rows(workshop, model, walks, level=asked.level, jobs=jobs)
    except InputError as error:
        raise InputError(
            Mistake(f"{path}: {mistake.where}", mistake.found, mistake.mend)
            for mistake in error.mistakes
        ) from None


def stamp_of(path: Path) -> tuple[int, ...]:
    """Tell a model from one that was written in its place.

    Parameters
    ----------
    path : pathlib.Path
        Model file or folder.

    Returns
    -------
    tuple of int
        When and as what it was written; empty where there is nothing.
    """
    if not path.exists():
        return ()
    found = path.stat()
    return found.st_mtime_ns, found.st_ino


@lru_cache(maxsize=1)
def model_at(path: Path, stamp: tuple[int, ...]) -> tuple[Model | ModelInParts, Mapping[str, Any]]:
    """Load a model, once in each process.

    Parameters
    ----------
    path : pathlib.Path
        Model file, or folder of a model in parts.
    stamp : tuple of int
        From `stamp_of` it.

    Returns
    -------
    tuple of Model or ModelInParts, and mapping
        The model and where it came from.

    Raises
    ------
    InputError
        If it is no model, or a damaged one.
    """
    if path.is_dir() and not is_model_in_parts(path):
        mend = "name a model file, or the folder that retrain made of an archive"
        raise InputError(Mistake(str(path), "this folder is no model", mend))
    return load_in_parts(path) if path.is_dir() else load_model(path)
