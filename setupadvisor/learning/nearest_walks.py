"""The heaviest past sessions of many walks, looked for among the sessions of few past walks."""

from __future__ import annotations

from dataclasses import fields

import numpy as np

from setupadvisor.learning.model import Model
from setupadvisor.learning.nearest import Nearest, heaviest
from setupadvisor.learning.past_sessions import Reals

# Walks whose sessions are looked through together.
TOGETHER = 64


def heaviest_of_walks(part: Model, near: Reals, far: Reals, k: int) -> Nearest:
    """List the heaviest sessions of each walk.

    Parameters
    ----------
    part : Model
        The past sessions, of U distinct walks.
    near, far : (m, U) array
        Weight and distance of each past walk as a whole.
    k : int
        How many sessions to list.

    Returns
    -------
    Nearest
        As from `heaviest` on all sessions.

    Notes
    -----
    No session weighs more than the best settled one of its walk, so that the sessions of the k past
    walks whose best session weighs most hold the k heaviest ones.
    """
    n_walks = near.shape[1]
    of_session, among = part.walks.of_session, part.settled_at_all
    best = np.zeros(n_walks)
    np.maximum.at(best, of_session[among], part.overall_weight[among])
    found = []
    for start in range(0, max(len(near), 1), TOGETHER):
        rows = slice(start, start + TOGETHER)
        wanted = np.ones(n_walks, dtype=bool)
        if 0 < k < n_walks:
            weight = near[rows] * best
            wanted[:] = False
            wanted[np.argpartition(weight, n_walks - k, axis=1)[:, n_walks - k :]] = True
        sessions = np.flatnonzero(wanted[of_session] & among)
        walks = of_session[sessions]
        listed = heaviest(
            near[rows][:, walks] * part.overall_weight[sessions],
            far[rows][:, walks],
            among[sessions],
            k,
        )
        session = np.append(sessions, -1)[listed.session]
        found.append(Nearest(session, listed.distance, listed.weight))
    return Nearest(
        *(np.concatenate([getattr(one, field.name) for one in found]) for field in fields(Nearest))
    )
