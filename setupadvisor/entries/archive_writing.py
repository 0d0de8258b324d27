"""Making an archive of one or more tables: whole events in one part, all of it or nothing."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

from setupadvisor.entries.archive import MACHINES, RIDERS, bounded
from setupadvisor.entries.archive_blocks import Blocks, Source, write_part
from setupadvisor.entries.machine import Machine
from setupadvisor.entries.new_folder import new_folder
from setupadvisor.entries.rider import Rider
from setupadvisor.errors import InputError, Mistake

ROWS_OF_A_PART = 50_000


@dataclass(frozen=True)
class Written:
    """What a new archive holds.

    Parameters
    ----------
    parts, sessions, events : int
        How many of each.
    left_out : list of Mistake
        Mistakes of rows that are not in it.
    notices : tuple of str
        What was ignored.
    """

    parts: int
    sessions: int
    events: int
    left_out: list[Mistake]
    notices: tuple[str, ...]


def write_archive(
    sources: Sequence[Source],
    folder: str | Path,
    rows: int = ROWS_OF_A_PART,
    *,
    leave_out_bad_rows: bool = False,
    progress: Callable[[str, int, int], None] | None = None,
) -> Written:
    """Make an archive, reading the tables block by block.

    Words stay words and numbers become numbers in their field's own unit, so that reading a part
    is quick; columns that no field knows are kept as texts.

    Parameters
    ----------
    sources : sequence of Source
        Tables, in the order in which their sessions were ridden.
    folder : str or pathlib.Path
        The archive to make; it must not exist yet, or be empty.
    rows : int
        Rows of a part; the events of its first and last rows make it a little larger.
    leave_out_bad_rows : bool
        Whether faulty rows are left out instead of refused.
    progress : callable, optional
        Called as the work goes on.

    Returns
    -------
    Written
        What it holds.

    Raises
    ------
    InputError
        With the mistakes of all tables, and where the archive cannot be written; nothing is then.
    """
    tell = progress or (lambda what, done, total: None)
    with new_folder(Path(folder)) as (made, work):
        blocks = Blocks(work, rows)
        for number, source in enumerate(sources):
            tell("tables read", number, len(sources))
            blocks.add(source)
        blocks.leave_out_doubled()
        if blocks.mistakes and not leave_out_bad_rows:
            hint = Mistake(
                str(folder),
                "not made: there are faulty rows, listed above",
                "mend them, or go on without them: --leave-out-bad-rows",
            )
            raise InputError([*bounded(blocks.mistakes, folder), hint])
        if not blocks.events:
            mend = "mend the rows listed above"
            none = Mistake(str(folder), "not made: no sound session is left", mend)
            raise InputError([*bounded(blocks.mistakes, folder), none])
        part_of = _parts_of_events(blocks.rows_of_event, rows)
        n_parts = int(part_of[-1]) + 1
        for part in range(n_parts):
            tell("parts written", part, n_parts)
            frame = blocks.rows_of_part(part_of == part)
            write_part(frame, made / f"part-{part:05d}.parquet")
        _copy_entries(made, sources, blocks.named)
        tell("parts written", n_parts, n_parts)
    return Written(
        parts=n_parts,
        sessions=sum(blocks.rows_of_event) - sum(map(len, blocks.doubled.values())),
        events=len(blocks.events),
        left_out=bounded(blocks.mistakes, folder),
        notices=tuple(dict.fromkeys(blocks.notices)),
    )


def _parts_of_events(rows_of_event: Sequence[int], rows: int) -> NDArray[np.int64]:
    """Fill part after part with events in the order in which they were first seen."""
    parts = np.zeros(len(rows_of_event), dtype=np.int64)
    part, filled = 0, 0
    for event, count in enumerate(rows_of_event):
        if filled and filled + count > rows:
            part, filled = part + 1, 0
        parts[event] = part
        filled += count
    return parts


def _copy_entries(folder: Path, sources: Sequence[Source], named: Mapping[str, set[str]]) -> None:
    """Write the riders and machines that sessions name into the archive, which is whole then."""
    for kind in (RIDERS, MACHINES):
        known: dict[str, tuple[Rider | Machine, Path]] = {}
        for source in sources:
            entries: Mapping[str, Any] = getattr(source, kind)
            for name in sorted(named[kind] & set(entries)):
                entry, where = known.setdefault(name, (entries[name], source.path))
                if entry != entries[name]:
                    what = kind.removesuffix("s")
                    found = f"the {what} {name} is another one than that of {where}"
                    mend = f"give one of them another name, or make the {what}'s files the same"
                    raise InputError(Mistake(str(source.path), found, mend))
        if known:
            (folder / kind).mkdir()
        for name, (entry, _) in known.items():
            (folder / kind / _file_name(name)).write_bytes(_as_yaml(entry))


def _file_name(name: str) -> str:
    plain = "".join(sign if sign.isalnum() or sign in "-_" else "-" for sign in name)
    return f"{plain}.yaml"


def _as_yaml(entry: Rider | Machine) -> bytes:
    import yaml  # noqa: PLC0415

    content = entry.model_dump(by_alias=True, exclude_unset=True, mode="json")
    text: str = yaml.safe_dump(content, sort_keys=False, allow_unicode=True)
    return text.encode()
