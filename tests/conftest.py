"""What all tests share: nothing is written outside temporary folders."""

from __future__ import annotations

import os
from collections.abc import Iterator

import pytest


@pytest.fixture(scope="session", autouse=True)
def _rules_are_kept_in_a_temporary_folder(
    tmp_path_factory: pytest.TempPathFactory,
) -> Iterator[None]:
    before = os.environ.get("SETUPADVISOR_CACHE")
    os.environ["SETUPADVISOR_CACHE"] = str(tmp_path_factory.mktemp("kept-rules"))
    yield
    if before is None:
        del os.environ["SETUPADVISOR_CACHE"]
    else:
        os.environ["SETUPADVISOR_CACHE"] = before
