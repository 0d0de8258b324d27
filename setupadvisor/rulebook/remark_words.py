"""Understanding a rider's own words: a small open list of words, counted and never guessed.

A remark brings its own words (`words` in the rule files, open to every team); where and which end
are recognised by the lists below. What matches no list is handed back as not understood.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from setupadvisor.rulebook.remarks import Remark

PLACE_WORDS: dict[str, tuple[str, ...]] = {
    "gate": ("gate", "off the line", "on the line", "start", "launch"),
    "first_corner": ("first corner", "first turn", "turn one", "corner one"),
    "braking_bumps": (
        "braking bumps",
        "brake bumps",
        "on the brakes",
        "braking",
        "entry bumps",
        "chop",
    ),
    "flat_corner": ("flat corner", "flat corners", "flat turn", "flat turns", "off camber"),
    "rut": ("rut", "ruts", "rutted"),
    "jump_face": ("face", "faces", "lip", "take off", "takeoff", "up the jump", "ramp"),
    "landing": ("landing", "landings", "when it lands", "when i land", "over the jump", "g out"),
    "whoops": ("whoops", "whoop", "rollers", "sand waves"),
    "straight": ("straight", "straights", "flat out", "top speed", "high speed"),
}
END_WORDS: dict[str, tuple[str, ...]] = {
    "front": ("front", "front end", "fork", "forks", "bars", "handlebars", "front wheel"),
    "rear": ("rear", "rear end", "back", "back end", "shock", "rear wheel", "tail"),
    "engine": ("engine", "motor", "clutch", "throttle", "power"),
    "controls": ("lever", "levers", "pedal", "grips", "hands", "brake"),
}
# What a rider says of a complaint that is gone; such a clause asks for nothing.
FINE_WORDS = (
    "fine", "good", "better", "fixed", "no longer", "not any more", "never", "does not", "doesn't",
    "did not", "didn't", "is not", "isn't", "not",
)  # fmt: skip
_CLAUSES = re.compile(r"[.;,!?\n]+|\band\b|\bbut\b")
_WORD = re.compile(r"[a-z]+(?:'[a-z]+)?")
_ENDINGS = ("ing", "ed", "es", "s")
_SMALLEST_STEM = 3


@dataclass(frozen=True)
class Matched:
    """A clause understood as a remark.

    Parameters
    ----------
    remark : Remark
        The remark.
    clause : str
        The rider's words.
    words : tuple of str
        Which listed words were found; their number is the count.
    """

    remark: Remark
    clause: str
    words: tuple[str, ...]


@dataclass(frozen=True)
class Understanding:
    """What was made of a rider's words.

    Parameters
    ----------
    matched : tuple of Matched
        Clauses that fit one remark best.
    ambiguous : tuple of tuple of str and tuple of str
        Clauses that fit several remarks equally well, with the remarks' ids: say where.
    fine : tuple of str
        Clauses that say all is well.
    not_understood : tuple of str
        Clauses without a listed word.
    """

    matched: tuple[Matched, ...]
    ambiguous: tuple[tuple[str, tuple[str, ...]], ...]
    fine: tuple[str, ...]
    not_understood: tuple[str, ...]


def understand(text: str, remarks: Sequence[Remark]) -> Understanding:
    """Match a rider's words, or a remark's id, to remarks.

    A place or an end that was named holds for the clauses after it, until another is named.

    Parameters
    ----------
    text : str
        As spoken, or an id such as ``whoops-swaps-rear``.
    remarks : sequence of Remark
        The rule base's.

    Returns
    -------
    Understanding
        What was understood, and what was not.
    """
    by_id = {remark.id: remark for remark in remarks}
    if text.strip() in by_id:
        found = by_id[text.strip()]
        return Understanding((Matched(found, text.strip(), (found.id,)),), (), (), ())
    matched: list[Matched] = []
    ambiguous: list[tuple[str, tuple[str, ...]]] = []
    fine: list[str] = []
    unknown: list[str] = []
    place = end = ""
    for clause in (part.strip() for part in _CLAUSES.split(text.lower())):
        words = _WORD.findall(clause)
        if not words:
            continue
        place = _named(words, PLACE_WORDS) or place
        end = _named(words, END_WORDS) or end
        best = _best(words, remarks, place, end)
        if _found(words, FINE_WORDS):
            fine.append(clause)
        elif not best:
            if not (_named(words, PLACE_WORDS) or _named(words, END_WORDS)) or len(words) > 3:
                unknown.append(clause)
        elif len(best) == 1:
            remark, hits = best[0]
            if all(remark.id != other.remark.id for other in matched):
                matched.append(Matched(remark, clause, hits))
        else:
            ambiguous.append((clause, tuple(remark.id for remark, _ in best)))
    return Understanding(tuple(matched), tuple(ambiguous), tuple(fine), tuple(unknown))


def _best(
    words: Sequence[str], remarks: Sequence[Remark], place: str, end: str
) -> list[tuple[Remark, tuple[str, ...]]]:
    scored = []
    for remark in remarks:
        if (place and remark.where != place) or not _same_end(remark.end, end):
            continue
        hits = _found(words, dict.fromkeys((*remark.words, remark.what)))
        if hits:
            length = max(len(hit.split()) for hit in hits)
            scored.append((length, remark, hits))
    most = max((length for length, _, _ in scored), default=0)
    return [(remark, hits) for length, remark, hits in scored if length == most]


def _same_end(remark_end: str, end: str) -> bool:
    return not end or remark_end in {end, "both"} or end in {"engine", "controls"}


def _named(words: Sequence[str], lists: dict[str, tuple[str, ...]]) -> str:
    """Name the place or end of a clause: the one with the longest phrase."""
    best, length = "", 0
    for name, phrases in lists.items():
        for phrase in _found(words, phrases):
            if len(phrase.split()) > length:
                best, length = name, len(phrase.split())
    return best


def _found(words: Sequence[str], phrases: Iterable[str]) -> tuple[str, ...]:
    said = [_stem(word) for word in words]
    hits: list[str] = []
    for phrase in phrases:
        wanted = [_stem(word) for word in _WORD.findall(phrase.lower())]
        size = len(wanted)
        if size and any(said[at : at + size] == wanted for at in range(len(said) - size + 1)):
            hits.append(phrase)
    return tuple(hits)


def _stem(word: str) -> str:
    for ending in _ENDINGS:
        if word.endswith(ending) and len(word) - len(ending) >= _SMALLEST_STEM:
            return word.removesuffix(ending)
    return word
