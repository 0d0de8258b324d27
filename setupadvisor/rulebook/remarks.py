"""Riders' remarks: where, what, and what to try, best first."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from setupadvisor.entries.quantity import shown
from setupadvisor.entries.yaml_file import KeyPath
from setupadvisor.rulebook.conditions import Condition, read_condition
from setupadvisor.rulebook.forms import CandidateForm, RemarkForm
from setupadvisor.rulebook.reading import (
    Origin,
    Reading,
    check_shape,
    good_name,
    group,
    known_word,
)
from setupadvisor.rulebook.settings import Change, SettingWords, read_changes

PLACES = (
    "gate",
    "first_corner",
    "braking_bumps",
    "flat_corner",
    "rut",
    "jump_face",
    "landing",
    "whoops",
    "straight",
)
BEHAVIOURS = (
    "pushes",
    "dives",
    "kicks",
    "deflects",
    "swaps",
    "bottoms",
    "harsh",
    "packs",
    "headshake",
    "spins",
    "lifts",
    "bogs",
    "slips",
    "fades",
    "boils",
)
ENDS = ("front", "rear", "both", "engine", "controls")
MOST_CANDIDATES = 40


@dataclass(frozen=True, slots=True)
class Candidate:
    """One thing to try after a remark.

    Parameters
    ----------
    changes : tuple of Change
        What to move.
    check : tuple of str
        What must be in order before any setting is changed.
    prepare : tuple of str
        Tasks, where no setting helps.
    gain : str
        How often it helps: ``"firm"``, ``"usual"`` or ``"loose"``.
    why, caution : str
        Texts; `caution` may be empty.
    when, better, worse : Condition or None
        Offered only when; moved up or down the ranking.
    """

    changes: tuple[Change, ...]
    check: tuple[str, ...]
    prepare: tuple[str, ...]
    gain: str
    why: str
    when: Condition | None
    better: Condition | None
    worse: Condition | None
    caution: str


@dataclass(frozen=True, slots=True)
class Remark:
    """A rider's remark and what to try.

    Parameters
    ----------
    id : str
        Its name in the rule base.
    title : str
        The remark in a sentence.
    where, what, end : str
        One of `PLACES`, `BEHAVIOURS` and `ENDS`.
    words : tuple of str
        Words a rider uses.
    candidates : tuple of Candidate
        Best first.
    look_for, source : str
        Texts.
    origin : Origin
        Where it stands.
    """

    id: str
    title: str
    where: str
    what: str
    end: str
    words: tuple[str, ...]
    candidates: tuple[Candidate, ...]
    look_for: str
    source: str
    origin: Origin


def read_remarks(
    reading: Reading, settings: Mapping[str, SettingWords]
) -> dict[str, Remark | None]:
    """Read the remarks of one document.

    Parameters
    ----------
    reading : Reading
        The document; takes mistakes and references.
    settings : mapping of str to SettingWords
        The settings there are.

    Returns
    -------
    dict of str to Remark or None
        By id, in the order of the file; None where anything is wrong.
    """
    content = group(
        reading, ("remarks",), reading.document.content["remarks"], "a remark's id and its keys"
    )
    return {name: _read_remark(reading, settings, name, item) for name, item in content.items()}


def _read_remark(
    reading: Reading, settings: Mapping[str, SettingWords], name: str, content: Any
) -> Remark | None:
    path: KeyPath = ("remarks", name)
    before = len(reading.mistakes)
    good_name(reading, path, name)
    form = check_shape(reading, path, content, RemarkForm)
    if not isinstance(content, dict):
        return None
    lists = {"where": PLACES, "what": BEHAVIOURS, "end": ENDS}
    for key, known in lists.items():
        if key in content:
            known_word(reading, (*path, key), content[key], known)
    candidates: list[Candidate | None] = []
    if "try" in content:
        candidates = _read_candidates(reading, (*path, "try"), content["try"], settings)
    if form is None or len(reading.mistakes) > before:
        return None
    return Remark(
        id=name,
        title=form.title,
        where=form.where,
        what=form.what,
        end=form.end,
        words=tuple(form.words),
        candidates=tuple(candidate for candidate in candidates if candidate is not None),
        look_for=form.look_for,
        source=form.source,
        origin=reading.origin(path),
    )


def _read_candidates(
    reading: Reading, path: KeyPath, written: Any, settings: Mapping[str, SettingWords]
) -> list[Candidate | None]:
    if not isinstance(written, list) or not 1 <= len(written) <= MOST_CANDIDATES:
        found = f"{len(written)} items" if isinstance(written, list) else shown(written)
        mend = f"write a list of 1 to {MOST_CANDIDATES} things to try, best first"
        reading.wrong(path, f"{found} does not fit here", mend)
        return []
    return [
        _read_candidate(reading, (*path, place), content, settings)
        for place, content in enumerate(written)
    ]


def _read_candidate(
    reading: Reading, path: KeyPath, content: Any, settings: Mapping[str, SettingWords]
) -> Candidate | None:
    before = len(reading.mistakes)
    form = check_shape(reading, path, content, CandidateForm)
    if not isinstance(content, dict):
        return None
    changes: tuple[Change, ...] = ()
    if "change" in content:
        changes = read_changes(reading, (*path, "change"), content["change"], settings)
    elif not {"check", "prepare"} & set(content):
        reading.wrong(path, "there is nothing to try", "add change, check or prepare")
    conditions = {
        key: read_condition(reading, (*path, key), content[key]) if key in content else None
        for key in ("when", "better", "worse")
    }
    if form is None or len(reading.mistakes) > before:
        return None
    return Candidate(
        changes=changes,
        check=tuple(form.check or ()),
        prepare=tuple(form.prepare or ()),
        gain=form.gain,
        why=form.why,
        caution=form.caution or "",
        **conditions,
    )
