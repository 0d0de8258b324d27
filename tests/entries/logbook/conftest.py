"""Books to test with: in a file, and on a real server where one is installed."""

from __future__ import annotations

from collections.abc import Iterator
from itertools import count
from pathlib import Path

import pytest

from setupadvisor.entries.logbook.book import Book, open_book
from tests.entries.logbook.server import USER, programs, server

_NUMBERS = count(1)


@pytest.fixture(scope="session")
def server_folder() -> Iterator[Path]:
    """The socket's folder of a server that runs as long as the tests."""
    found = programs()
    if found is None:
        pytest.skip("no PostgreSQL server is installed: initdb was not found")
    with server(found) as folder:
        yield folder


@pytest.fixture
def address(server_folder: Path) -> str:
    """The address of an empty database of its own."""
    psycopg = pytest.importorskip("psycopg")
    name = f"book{next(_NUMBERS)}"
    with psycopg.connect(
        host=str(server_folder), user=USER, dbname="postgres", autocommit=True
    ) as connection:
        connection.execute(f"CREATE DATABASE {name}")
    return f"postgresql://{USER}@/{name}?host={server_folder}"


@pytest.fixture(params=["file", "server"])
def where(request: pytest.FixtureRequest, tmp_path: Path) -> str | Path:
    """Where a book can be: tests that use it are run for a file and for a server."""
    if request.param == "file":
        return tmp_path / "team.book"
    found: str = request.getfixturevalue("address")
    return found


@pytest.fixture
def book(where: str | Path) -> Iterator[Book]:
    """An empty book."""
    with open_book(where) as opened:
        yield opened
