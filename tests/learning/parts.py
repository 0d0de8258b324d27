"""Seasons cut into the parts of an archive, each with names and codes of its own."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace

import numpy as np

from setupadvisor.learning.sessions import Integers, Sessions


@dataclass(frozen=True)
class Loaded:
    """Gives the sessions of one part; can be pickled."""

    sessions: Sessions

    def __call__(self) -> Sessions:
        return self.sessions


def with_own_names(sessions: Sessions) -> Sessions:
    """The same sessions, with only the names they use, and these in another order."""
    changed: dict[str, object] = {}
    for kind in ("rider", "event", "venue"):
        codes, names = getattr(sessions, kind), getattr(sessions, f"{kind}_name")
        used = np.unique(codes[codes >= 0])[::-1]
        place = np.full(len(names) + 1, -1)
        place[used] = np.arange(len(used))
        changed[kind] = np.where(codes < 0, -1, place[codes])
        changed[f"{kind}_name"] = tuple(names[code] for code in used.tolist())
    return replace(sessions, **changed)


def loaders_of(sessions: Sessions, part_of_event: Integers) -> list[Callable[[], Sessions]]:
    """Deal whole events into parts; a part may get none."""
    of_session = np.asarray(part_of_event)[sessions.event]
    return [
        Loaded(with_own_names(sessions.taken(of_session == part)))
        for part in range(int(np.max(part_of_event)) + 1)
    ]
