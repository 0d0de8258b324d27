"""Nearest-neighbour libraries, given the same weighted Manhattan distance.

A peer holds one set of columns, so it is built once for each distinct set of field weights: columns
scaled by range and weight, gaps filled with the mean, since none of them can pass a gap over.
Building is not timed. Each is asked for the 5 nearest sessions.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping

import numpy as np

NEIGHBOURS = 5
# From queries (m, F) to the distances and the places of the nearest, (m, 5) each.
Ask = Callable[[np.ndarray], tuple[np.ndarray, np.ndarray]]


def _scikit_learn(algorithm: str) -> Callable[[np.ndarray], Ask]:
    def make(columns: np.ndarray) -> Ask:
        from sklearn.neighbors import NearestNeighbors  # noqa: PLC0415

        # In double precision it is twice as fast as in single.
        model = NearestNeighbors(n_neighbors=NEIGHBOURS, algorithm=algorithm, metric="manhattan")
        model.fit(columns.astype(np.float64))
        return lambda asked: model.kneighbors(asked.astype(np.float64))

    return make


def faiss_flat(columns: np.ndarray) -> Ask:
    """C++ with vector instructions: a flat index, Manhattan distance."""
    import faiss  # noqa: PLC0415 - an extra

    index = faiss.IndexFlat(columns.shape[1], faiss.METRIC_L1)
    index.add(np.ascontiguousarray(columns, dtype=np.float32))

    def ask(asked: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
        return index.search(np.ascontiguousarray(asked, dtype=np.float32), NEIGHBOURS)

    return ask


def scipy_tree(columns: np.ndarray) -> Ask:
    """C++ k-d tree."""
    from scipy.spatial import cKDTree  # noqa: PLC0415

    tree = cKDTree(columns)
    return lambda asked: tree.query(asked, NEIGHBOURS, p=1)


PEERS: Mapping[str, Callable[[np.ndarray], Ask]] = {
    "scikit-learn brute": _scikit_learn("brute"),
    "faiss flat L1": faiss_flat,
    "scikit-learn kd_tree": _scikit_learn("kd_tree"),
    "scikit-learn ball_tree": _scikit_learn("ball_tree"),
    "SciPy cKDTree": scipy_tree,
}
# Trees take long to build and, in so many dimensions, visit nearly everything: not at every size.
TREES = frozenset({"scikit-learn kd_tree", "scikit-learn ball_tree", "SciPy cKDTree"})


def filled(fields: np.ndarray, mean: np.ndarray) -> np.ndarray:
    """Fill gaps with the mean of each column, in single precision."""
    return np.where(np.isnan(fields), mean, fields).astype(np.float32)


def weighted(columns: np.ndarray, weights: np.ndarray) -> np.ndarray:
    """Scale columns so that Manhattan distances are weighted means of the fields' differences."""
    return columns * (weights / weights.sum()).astype(np.float32)


def gower_package(
    asked: np.ndarray, fields: np.ndarray, weights: np.ndarray, category: np.ndarray
) -> np.ndarray:
    """Distances by the package `gower`, (m, n), ranges 0 to 1; missing where it allows it.

    The package knows no gaps: a walk and a session with gaps are given on the fields that both
    have, with two rows more that span the range, one pair at a time.
    """
    import gower  # noqa: PLC0415 - an extra

    n_fields = fields.shape[1]
    span = np.vstack([np.zeros(n_fields), np.ones(n_fields)])

    def of(one: np.ndarray, many: np.ndarray, which: np.ndarray) -> np.ndarray:
        table = np.vstack([many, span])[:, which]
        found = gower.gower_matrix(
            one[None, which], table, weight=weights[which], cat_features=category[which].tolist()
        )
        return found[0, : len(many)]

    if not (np.isnan(asked).any() or np.isnan(fields).any()):
        everything = np.ones(n_fields, dtype=bool)
        return np.array([of(walk, fields, everything) for walk in asked])
    found = np.empty((len(asked), len(fields)))
    for i, walk in enumerate(asked):
        for j, session in enumerate(fields):
            found[i, j] = of(walk, session[None], ~(np.isnan(walk) | np.isnan(session)))[0]
    return found
