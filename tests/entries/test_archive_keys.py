"""Events and sessions that stand in two parts of an archive are found, whatever their number."""

from __future__ import annotations

import tempfile
from pathlib import Path

import numpy as np
import pandas as pd
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from setupadvisor.entries import archive_keys
from setupadvisor.entries.archive import Archive
from setupadvisor.entries.archive_keys import doubled_sessions, in_two_parts, split_events
from setupadvisor.errors import InputError
from tests.entries.small_archives import opened, part, told

pytest.importorskip("pyarrow", reason='needs the extra "parquet"')

NAMES = st.lists(st.sampled_from(["a", "b", "c", " a", "", "ä", "d e", "A"]), max_size=6)


def archive_of(folder: Path, parts: list[list[str]]) -> Archive:
    """An archive of one column, which need not be a season's."""
    paths = []
    for number, names in enumerate(parts):
        paths.append(folder / f"{number}.parquet")
        pd.DataFrame({"event": pd.Series(names, dtype="str")}).to_parquet(paths[-1])
    return Archive(folder, tuple(paths), tuple(map(len, parts)))


def by_hand(parts: list[list[str]]) -> dict[str, tuple[int, ...]]:
    """Compare every name with every other."""
    names = {name.strip() for part in parts for name in part} - {""}
    places = {
        name: tuple(
            number
            for number, part in enumerate(parts)
            if name in [written.strip() for written in part]
        )
        for name in names
    }
    return {name: found for name, found in places.items() if len(found) > 1}


@settings(max_examples=60, deadline=None)
@given(st.lists(NAMES, min_size=1, max_size=5), st.sampled_from([10_000, 3, 1]))
def test_names_in_two_parts_are_those_that_comparing_all_finds(
    parts: list[list[str]], at_once: int
) -> None:
    """With all hashes in memory, and with few at once in files."""
    with tempfile.TemporaryDirectory() as folder, pytest.MonkeyPatch.context() as patch:
        patch.setattr(archive_keys, "HASHES_AT_ONCE", at_once)
        found, count = in_two_parts(archive_of(Path(folder), parts), "event", most=100)
    assert found == by_hand(parts)
    assert count == len(found)


def test_names_whose_hashes_meet_are_still_different_names(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    def colliding(texts: object) -> object:
        different = sorted(set(np.asarray(texts, dtype=object).tolist()) - {""})
        return np.array([len(name) for name in different], dtype=np.uint64)

    monkeypatch.setattr(archive_keys, "_hashes", colliding)
    found, _ = in_two_parts(archive_of(tmp_path, [["a"], ["b"], ["ccc"], ["ccc"]]), "event", 100)
    assert found == {"ccc": (2, 3)}


def test_only_as_many_as_wanted_are_named_and_all_are_counted(tmp_path: Path) -> None:
    many = [f"event {number}" for number in range(50)]
    found, count = in_two_parts(archive_of(tmp_path, [many, many]), "event", most=7)
    assert (len(found), count) == (7, 50)
    assert set(found.values()) == {(0, 1)}


def test_a_split_event_is_told_with_both_parts_and_the_mend(tmp_path: Path) -> None:
    part(tmp_path, "arc/a.parquet", {"event": "One", "session_id": "1"})
    part(tmp_path, "arc/b.parquet", {"event": "Two", "session_id": "2"}, {"event": "One"})
    part(tmp_path, "arc/c.parquet", {"event": "One", "session_id": "4"})
    assert told(tmp_path, split_events(opened(tmp_path / "arc"), 10)) == [
        "arc/b.parquet row 2 event: sessions of 'One' stand in arc/a.parquet and 1 more part too; "
        "an event's sessions all belong into one part",
        f"{tmp_path}/arc: 1 event stands in more than one part; bring them together: setupadvisor "
        f"archive {tmp_path}/arc -o FOLDER".replace(f"{tmp_path}/", ""),
    ]


def test_an_archive_of_whole_events_has_none_split(tmp_path: Path) -> None:
    part(tmp_path, "a.parquet", {"event": "One"})
    part(tmp_path, "b.parquet", {"event": "Two"}, {"event": "Two"})
    assert split_events(opened(tmp_path), 10) == []


def test_a_doubled_session_belongs_to_its_first_part(tmp_path: Path) -> None:
    part(tmp_path, "arc/a.parquet", {"session_id": "1"}, {"session_id": "2"})
    part(tmp_path, "arc/b.parquet", {"session_id": "3"}, {"session_id": "2 "})
    others, mistakes = doubled_sessions(opened(tmp_path / "arc"))
    assert others == {1: frozenset({"2"})}
    assert told(tmp_path, mistakes) == [
        "arc/b.parquet row 2 session_id: '2' stands already in arc/a.parquet row 2; "
        "give each session its own"
    ]


def test_identifiers_of_numbers_are_compared_as_they_are_read(tmp_path: Path) -> None:
    part(tmp_path, "a.parquet", {"session_id": 7})
    part(tmp_path, "b.parquet", {"session_id": "7"})
    others, _ = doubled_sessions(opened(tmp_path))
    assert others == {1: frozenset({"7"})}


def test_a_table_that_stands_there_twice_is_refused_as_such(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(archive_keys, "MOST_DOUBLED", 3)
    rows = [{"session_id": str(number)} for number in range(4)]
    part(tmp_path, "arc/a.parquet", *rows)
    part(tmp_path, "arc/b.parquet", *rows)
    with pytest.raises(InputError) as caught:
        doubled_sessions(opened(tmp_path / "arc"))
    assert told(tmp_path, caught.value) == [
        f"{tmp_path}/arc: 4 sessions stand in more than one part; does a table stand there twice? "
        "Keep one of them".replace(f"{tmp_path}/", "")
    ]
