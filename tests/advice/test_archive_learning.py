"""An archive is judged as a season is, part by part, and teaches what the season teaches."""

from __future__ import annotations

import pickle
import shutil
from pathlib import Path
from typing import Any

import numpy as np
import pandas as pd
import pytest

from setupadvisor.advice.archive_learning import Judged, judged, learn_from_archive
from setupadvisor.advice.archive_sample import ENOUGH_SESSIONS, sample_of
from setupadvisor.advice.season_learning import sessions_from
from setupadvisor.advice.workshop import knowledge
from setupadvisor.entries.archive import MOST_TOLD, open_archive
from setupadvisor.entries.files import bundled
from setupadvisor.entries.season import NEEDED, season_from
from setupadvisor.errors import InputError
from setupadvisor.learning.in_parts import predict_in_parts
from setupadvisor.learning.prediction import predict
from setupadvisor.learning.training import train
from tests.advice.invented import workshop
from tests.advice.small_season import machines, riders, rows

pytest.importorskip("pyarrow", reason='needs the extra "parquet"')

EVENTS = 6


def archive(folder: Path, *parts: list[dict[str, Any]]) -> Path:
    """Write parts beside the riders of the small season."""
    (folder / "arc").mkdir(exist_ok=True)
    for number, part in enumerate(parts):
        pd.DataFrame(part).to_parquet(folder / "arc" / f"{number}.parquet")
    shutil.copytree(bundled("datasets", "riders"), folder / "riders", dirs_exist_ok=True)
    return folder / "arc"


def cut(n_parts: int, listed: list[dict[str, Any]] | None = None) -> list[list[dict[str, Any]]]:
    """The small season in parts of whole events."""
    listed = listed or list(rows(EVENTS))
    names = sorted({str(row["event"]) for row in listed})
    return [
        [row for row in listed if names.index(row["event"]) * n_parts // len(names) == number]
        for number in range(n_parts)
    ]


def judge(path: Path, **asked: Any) -> Judged:
    return judged(open_archive(path, NEEDED), workshop().machine, **asked)


def said(folder: Path, error: Any) -> list[str]:
    mistakes = getattr(error, "mistakes", error)
    return [str(mistake).replace(f"{folder}/", "") for mistake in mistakes]


def refused(path: Path, **asked: Any) -> list[str]:
    with pytest.raises(InputError) as caught:
        judge(path, **asked)
    return said(path.parent, caught.value)


def test_parts_say_together_what_the_season_says(tmp_path):
    """Names and codes are each part's own; degrees, house values and conditions the season's."""
    found = judge(archive(tmp_path, *cut(3)))
    assert (found.sessions, found.events, len(found.parts)) == (24, EVENTS, 3)
    season, _ = season_from(pd.DataFrame(list(rows(EVENTS))), "all", machines(), riders())
    whole = sessions_from(season, workshop(), machines())
    parts = [part() for part in found.parts]
    for name in ("values", "house", "degrees", "fields", "day", "mark"):
        together = np.concatenate([getattr(part, name) for part in parts])
        assert np.array_equal(together, getattr(whole, name), equal_nan=True), name
    for code, names in (("event", "event_name"), ("rider", "rider_name")):
        told = [getattr(part, names)[place] for part in parts for place in getattr(part, code)]
        assert told == [getattr(whole, names)[place] for place in getattr(whole, code)]


def test_a_part_is_read_the_same_in_any_process_and_folder(tmp_path, monkeypatch):
    archive(tmp_path, *cut(2))
    monkeypatch.chdir(tmp_path)
    part = judge(Path("arc")).parts[1]
    assert part.shown == "arc/1.parquet"
    here = part()
    sent = pickle.dumps(part)
    monkeypatch.chdir("/")
    there = pickle.loads(sent)()
    assert np.array_equal(here.degrees, there.degrees, equal_nan=True)
    assert here.event_name == there.event_name


def test_a_model_in_parts_says_what_the_model_in_memory_says(tmp_path):
    """To a millionth of a step: parts change the order of sums and nothing else."""
    listed = list(rows(10))
    found = judge(archive(tmp_path, *cut(4, listed)))
    there, provenance = learn_from_archive(found, "arc", workshop(), tmp_path / "model")
    season, _ = season_from(pd.DataFrame(listed), "all", machines(), riders())
    sessions = sessions_from(season, workshop(), machines())
    here = train(sessions, knowledge(workshop()))
    asked = {
        "rider": ["north", "south", None] * 2,
        "fields": sessions.fields[:24:4],
        "venue": [None, *sessions.venue_name[:2]] * 2,
        "day": sessions.day[:24:4],
    }
    degrees, house = sessions.degrees[:24:4], sessions.house[:24:4]
    one = predict(here, degrees, house, **asked)
    other = predict_in_parts(there, degrees, house, **asked)
    for name in ("value", "low", "high"):
        apart = np.abs(getattr(one, name) - getattr(other, name)) / here.step
        assert apart.max() <= 1e-6, name
    assert (provenance["sessions"], provenance["events"]) == (40, 10)
    assert (there.n_sessions, there.n_events) == (40, 10)


def test_the_same_archive_has_the_same_digest_and_another_a_different_one(tmp_path):
    first = judge(archive(tmp_path, *cut(2))).digest
    assert judge(tmp_path / "arc").digest == first
    changed = list(rows(EVENTS))
    changed[0]["setup.race_sag"] = "100"
    assert judge(archive(tmp_path, *cut(2, changed))).digest != first


def test_columns_may_differ_from_part_to_part(tmp_path):
    """What a part lacks is not entered there; an unknown column is told once."""
    listed = list(rows(EVENTS))
    whole = [part() for part in judge(archive(tmp_path, *cut(3, listed))).parts]
    parts = cut(3, listed)
    for row in parts[1]:
        row.pop("setup.race_sag")
        row.pop("walk.kind")
        row["mood"] = "good"
    for row in parts[2]:
        row["mood"] = "bad"
    found = judge(archive(tmp_path, *parts))
    assert [notice.replace(f"{tmp_path}/", "") for notice in found.notices] == [
        "arc: columns kept and ignored: mood (parts: 2)"
    ]
    place = workshop().settings.index("race_sag")
    kind = workshop().fields.index("walk.kind")
    sessions = found.parts[1]()
    assert np.isnan(sessions.values[:, place]).all()
    assert np.isnan(sessions.fields[:, kind]).all()
    assert np.isfinite(whole[1].values[:, place]).all()
    assert np.array_equal(found.parts[0]().values, whole[0].values, equal_nan=True)


def test_faulty_rows_of_all_parts_are_told_at_once(tmp_path):
    listed = list(rows(EVENTS))
    listed[1]["mark"] = "9"
    listed[-1]["rider"] = "nroth"
    told = refused(archive(tmp_path, *cut(3, listed)))
    assert told[0] == (
        "arc/0.parquet row 2 mark: '9' cannot be right; write a whole number from 1 to 5"
    )
    assert told[1].startswith("arc/2.parquet row 8 rider: the rider 'nroth' is unknown")
    assert told[2] == (
        "arc: there are faulty rows, listed above; mend them, or go on without them: "
        "--leave-out-bad-rows"
    )
    assert len(told) == 3


def test_faulty_rows_are_left_out_where_that_is_wanted(tmp_path):
    listed = list(rows(EVENTS))
    listed[1]["mark"] = "9"
    found = judge(archive(tmp_path, *cut(3, listed)), leave_out_bad_rows=True)
    assert found.sessions == 23
    assert len(said(tmp_path, found.left_out)) == 1
    assert [len(part()) for part in found.parts] == [7, 8, 8]


def test_a_part_whose_mistakes_nobody_looked_at_is_still_refused(tmp_path):
    """As when a file changes between looking and learning."""
    found = judge(archive(tmp_path, *cut(2)))
    listed = list(rows(EVENTS))
    listed[0]["mark"] = "9"
    archive(tmp_path, *cut(2, listed))
    with pytest.raises(InputError, match="cannot be right"):
        found.parts[0]()


def test_more_mistakes_than_a_person_reads_are_counted(tmp_path):
    """Each column tells the first twenty of its different mistakes, and all parts together 60."""
    parts = cut(3)
    for part in parts:
        for place, row in enumerate(part):
            for column in ("mark", "best_lap_s", "walk.kind", "walk.air.temperature_c"):
                row[column] = f"wrong {place}"
    told = refused(archive(tmp_path, *parts))
    assert len(told) == MOST_TOLD + 2
    assert told[-2] == "arc: 36 further mistakes are not listed; mend these first"


def test_split_events_are_refused_even_where_bad_rows_are_left_out(tmp_path):
    listed = list(rows(EVENTS))
    told = refused(archive(tmp_path, listed[:6], listed[6:]), leave_out_bad_rows=True)
    assert told[0].startswith("arc/1.parquet row 1 event: sessions of 'event 01' stand in arc/0.")
    assert told[1].startswith("arc: 1 event stands in more than one part; bring them together: ")


def test_a_session_in_two_parts_is_refused_or_left_out_of_the_second(tmp_path):
    listed = list(rows(EVENTS))
    listed[-1]["session_id"] = listed[0]["session_id"]
    path = archive(tmp_path, *cut(2, listed))
    assert refused(path)[0] == (
        f"arc/1.parquet row 12 session_id: '{listed[0]['session_id']}' stands already in "
        "arc/0.parquet row 1; give each session its own"
    )
    found = judge(path, leave_out_bad_rows=True)
    assert [len(part()) for part in found.parts] == [12, 11]
    assert found.sessions == 23


def test_one_event_is_enough_and_one_session_is_not(tmp_path):
    assert judge(archive(tmp_path, list(rows(1)))).events == 1
    assert refused(archive(tmp_path, list(rows(1))[:1])) == [
        "arc: there is one session alone; add sessions to compare"
    ]


def test_an_archive_that_says_nothing_of_settings_is_refused(tmp_path):
    listed = [
        {name: cell for name, cell in row.items() if not name.startswith("setup.")}
        for row in rows(2)
    ]
    assert refused(archive(tmp_path, listed)) == [
        "arc: no session says what was set; add columns such as setup.fork_height: what was on the "
        "motorcycle"
    ]


def test_what_is_impossible_together_is_told_with_its_part(tmp_path):
    """Each cell is possible by itself; a wheel's load is not, with no air around it."""
    found = judge(archive(tmp_path, *cut(2)))

    def impossible(*_: object) -> Any:
        from setupadvisor.errors import ImpossibleValue  # noqa: PLC0415

        raise ImpossibleValue("mass_kg", "-3.0", "a mass is above 0 kg")

    with pytest.MonkeyPatch.context() as patch:
        patch.setattr("setupadvisor.advice.archive_parts.sessions_from", impossible)
        with pytest.raises(InputError) as caught:
            found.parts[1]()
    assert said(tmp_path, caught.value) == [
        "arc/1.parquet: mass_kg: -3.0 is impossible; a mass is above 0 kg"
    ]


def test_a_small_archive_is_measured_on_all_its_sessions(tmp_path):
    found = judge(archive(tmp_path, *cut(3)))
    sample = sample_of(found.parts, found.sessions, "arc")
    assert sample.session_id.tolist() == [row["session_id"] for row in rows(EVENTS)]


def test_a_large_archive_is_measured_on_whole_events_from_all_over_it(tmp_path, monkeypatch):
    monkeypatch.setattr("setupadvisor.advice.archive_sample.ENOUGH_SESSIONS", 16)
    monkeypatch.setattr("setupadvisor.advice.archive_sample.ENOUGH_PARTS", 2)
    assert ENOUGH_SESSIONS > 16
    found = judge(archive(tmp_path, *cut(4, list(rows(12)))))
    sample = sample_of(found.parts, found.sessions, "arc")
    assert len(sample) == 16
    events = sorted(set(sample.event))
    assert [np.count_nonzero(sample.event == event) for event in events] == [4] * 4
    assert {int(event.split()[1]) // 3 for event in events} == {0, 3}
