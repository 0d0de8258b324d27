"""An archive learnt from on a cluster of two worker processes, equal to the last bit."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np
import pytest
from joblib import parallel_config

from setupadvisor.errors import InputError
from setupadvisor.learning.in_parts import load_in_parts, predict_in_parts, train_in_parts
from setupadvisor.learning.simulate import World, simulate_season
from tests.learning.parts import loaders_of

distributed = pytest.importorskip(
    "distributed", reason='needs the extra "cluster": pip install "setupadvisor[cluster]"'
)


@pytest.fixture(scope="module")
def cluster(tmp_path_factory) -> Iterator[object]:
    """Two worker processes on this machine, reachable from nowhere else."""
    with (
        distributed.LocalCluster(
            n_workers=2,
            threads_per_worker=1,
            processes=True,
            host="127.0.0.1",
            dashboard_address="127.0.0.1:0",
            local_directory=str(tmp_path_factory.mktemp("workers")),
        ) as workers,
        distributed.Client(workers) as client,
    ):
        yield client


@pytest.mark.parametrize("backend", ["threading", "loky", "dask"])
def test_an_archive_gives_the_same_files_and_answers_anywhere(cluster, tmp_path, backend):
    world = World(n_settings=2, n_fields=4, n_venues=2)
    season = simulate_season(12, random_state=8, world=world)
    sessions, loaders = season.sessions, loaders_of(season.sessions, np.arange(12) // 3)
    here = train_in_parts(loaders, season.knowledge, tmp_path / "here", {})
    with parallel_config(backend=backend):
        train_in_parts(loaders, season.knowledge, tmp_path / "there", {}, n_jobs=2)
        there, _ = load_in_parts(tmp_path / "there", thorough=True, n_jobs=2)
    written = sorted((tmp_path / "here").rglob("*.safetensors"))
    assert len(written) == 1 + 4 * 3
    for path in written:
        other = tmp_path / "there" / path.relative_to(tmp_path / "here")
        assert path.read_bytes() == other.read_bytes()
    asked = {
        "degrees": sessions.degrees,
        "house": sessions.house,
        "rider": sessions.rider,
        "fields": sessions.fields,
        "venue": sessions.venue,
        "day": sessions.day,
    }
    with parallel_config(backend=backend):
        said = predict_in_parts(there, **asked, n_jobs=2)
    expected = predict_in_parts(here, **asked)
    for name in ("value", "low", "high", "support"):
        assert getattr(said, name).tobytes() == getattr(expected, name).tobytes()
    assert np.array_equal(said.nearest.session, expected.nearest.session)


def test_what_a_worker_refuses_is_refused_here(cluster, tmp_path):
    season = simulate_season(4, random_state=8, world=World(n_settings=2, n_fields=4))
    other = simulate_season(4, world=World(n_settings=3)).knowledge
    loaders = loaders_of(season.sessions, np.arange(4) // 2)
    with (
        parallel_config(backend="dask"),
        pytest.raises(InputError, match="other than those of the rule base"),
    ):
        train_in_parts(loaders, other, tmp_path / "model", {}, n_jobs=2)
    assert list(tmp_path.iterdir()) == []
