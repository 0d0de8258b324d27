"""Understanding a rider's own words: a small open list of words, counted and never guessed.

A remark brings its own words (`words` in the rule files, open to every team); where and which end
are recognised by the lists below. What matches no list is handed back as not understood.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from collections.abc import Set as AbstractSet
from dataclasses import dataclass
from functools import lru_cache

from setupadvisor.rulebook.remarks import Remark

PLACE_WORDS: dict[str, tuple[str, ...]] = {
    "gate": ("gate", "off the line", "on the line", "start", "launch"),
    "first_corner": ("first corner", "first turn", "turn one", "corner one"),
    "braking_bumps": (
        "braking bumps",
        "brake bumps",
        "on the brakes",
        "on the brake",
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
    "rear": ("rear", "rear end", "the back", "back end", "back wheel", "shock", "rear wheel"),
    "engine": ("engine", "motor", "clutch", "throttle", "power"),
    "controls": ("lever", "levers", "pedal", "grips", "hands", "brake", "brakes"),
}
# What a rider says where nothing is wrong.
FINE_WORDS = (
    "fine", "good", "great", "perfect", "better", "ok", "okay", "happy", "all right", "fixed",
    "gone", "not bad", "no problem", "no problems", "no complaint", "no complaints",
    "nothing wrong",
)  # fmt: skip
# Just before a complaint the first deny it (no longer kicks); just after it the others say that it
# is over (the kick is gone).
DENYING_WORDS = ("not", "no", "never", "without")
OVER_WORDS = ("no longer", "no more", "not any more", "not anymore", "gone", "fixed", "better")
# So many words may stand in between (it does not really kick), or any number before these (the kick
# in the whoops is gone).
_BETWEEN = 2
_BEING = frozenset({"is", "are", "was", "were"})
# A denial that one of these follows denies nothing: it will not stop kicking.
_DENIES_NOTHING = frozenset({"stop", "only", "just"})
# Praise that one of these precedes is none: could be better.
_NO_PRAISE = frozenset({"not", "no", "never", "could", "nothing"})
# Where two clauses are joined; inside a listed phrase (goes left and right) they join nothing.
_JOINING = frozenset({"and", "but", "then", "while", "though", "however"})
_SENTENCES = re.compile(r"[.;!?\n]+")
_PARTS = re.compile(r"[,:()]+")
_WORD = re.compile(r"[^\W\d_]+(?:'[^\W\d_]+)?")
_SPELLED = (("’", "'"), ("can not", "cannot"), ("can't", "cannot"), ("won't", "will not"))
_ENDINGS = ("ing", "ed", "es", "s")
_SMALLEST_STEM = 3
# An answer of so many words that names a place or an end belongs to what comes next.
_SHORT_ANSWER = 3

_Listed = dict[str, list[tuple[tuple[str, ...], str, str]]]


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
        Which listed words were found; their number is the count. A remark's id alone where that
        was given.
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
        Clauses that fit several remarks equally well, or none at the place and end that were said,
        with the remarks' ids: say where.
    fine : tuple of str
        Clauses that say all is well.
    not_understood : tuple of str
        Clauses without a listed word.
    """

    matched: tuple[Matched, ...]
    ambiguous: tuple[tuple[str, tuple[str, ...]], ...]
    fine: tuple[str, ...]
    not_understood: tuple[str, ...]


@dataclass(frozen=True)
class _Hit:
    """A listed phrase at the words `start` to `stop` of a clause, and whose phrase it is."""

    start: int
    stop: int
    phrase: str
    owner: str


@dataclass(frozen=True)
class _Clause:
    """The part of a sentence that can hold one complaint."""

    text: str
    stems: tuple[str, ...]
    place: str
    ends: frozenset[str]


@dataclass(frozen=True)
class _Lists:
    """Every listed phrase, by its first word; places and ends word by word, the rest by stems."""

    by_id: Mapping[str, Remark]
    remarks: _Listed
    places: _Listed
    ends: _Listed
    fine: _Listed
    denying: _Listed
    over: _Listed


def understand(text: str, remarks: Sequence[Remark]) -> Understanding:
    """Match a rider's words, or a remark's id, to remarks.

    A place or an end that was named holds for the clauses after it, until another is named; a place
    that comes later in the sentence holds where none was named before (swaps and kicks in the
    whoops). Of several remarks the one with the longest phrase fits best; of equal ones that of the
    end that was named, then one of its own words before the bare behaviour, then the more phrases.

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
    lists = _lists(remarks)
    if text.strip() in lists.by_id:
        found = lists.by_id[text.strip()]
        return Understanding((Matched(found, text.strip(), (found.id,)),), (), (), ())
    matched: dict[str, Matched] = {}
    ambiguous: list[tuple[str, tuple[str, ...]]] = []
    fine: list[str] = []
    unknown: list[str] = []
    place, ends = "", frozenset[str]()
    for sentence in _SENTENCES.split(_spelled(text)):
        clauses = list(_clauses(sentence, lists))
        for clause, ahead in zip(clauses, _places_ahead(clauses), strict=True):
            place, ends = clause.place or place, clause.ends or ends
            complaints = _hits(clause.stems, lists.remarks)
            asserted = _asserted(complaints, clause.stems, lists)
            if asserted:
                best = _best(asserted, place or ahead, ends, lists)
                if len(best) == 1 or _one_for_each_end(best, ends, lists):
                    for name, words in best.items():
                        matched.setdefault(name, Matched(lists.by_id[name], clause.text, words))
                else:
                    could_be = best or _elsewhere(asserted, place or ahead, ends, lists)
                    ambiguous.append((clause.text, tuple(could_be)))
            elif complaints or _praises(clause.stems, lists):
                fine.append(clause.text)
            elif not (clause.place or clause.ends) or len(clause.stems) > _SHORT_ANSWER:
                unknown.append(clause.text)
    return Understanding(tuple(matched.values()), tuple(ambiguous), tuple(fine), tuple(unknown))


def _clauses(sentence: str, lists: _Lists) -> Iterator[_Clause]:
    """Split a sentence at commas and at words that join clauses."""
    for part in _PARTS.split(sentence):
        found = list(_WORD.finditer(part))
        words = tuple(word[0] for word in found)
        stems = tuple(_stem(word) for word in words)
        kept = _covered(_hits(stems, lists.remarks)) | _between_ends(words, lists)
        begin = 0
        for place in range(len(words) + 1):
            if place < len(words) and (words[place] not in _JOINING or place in kept):
                continue
            if place > begin:
                places = _hits(words[begin:place], lists.places)
                inside = _covered(places)
                yield _Clause(
                    part[found[begin].start() : found[place - 1].end()],
                    stems[begin:place],
                    _place(places),
                    frozenset(
                        hit.owner
                        for hit in _hits(words[begin:place], lists.ends)
                        if hit.start not in inside
                    ),
                )
            begin = place + 1


def _covered(hits: Iterable[_Hit]) -> set[int]:
    return {place for hit in hits for place in range(hit.start, hit.stop)}


def _between_ends(words: Sequence[str], lists: _Lists) -> set[int]:
    """Find where "and" joins two ends: front and rear."""
    ends = {place: hit for hit in _hits(words, lists.ends) for place in range(hit.start, hit.stop)}
    found = set()
    for place in range(1, len(words) - 1):
        before, after = ends.get(place - 1), ends.get(place + 1) or ends.get(place + 2)
        if words[place] == "and" and before and after and before.owner != after.owner:
            found.add(place)
    return found


def _place(named: Sequence[_Hit]) -> str:
    """Choose a clause's place: the longest phrase, of equal ones the last."""
    if not named:
        return ""
    return max(named, key=lambda hit: (hit.stop - hit.start, hit.start)).owner


def _places_ahead(clauses: Sequence[_Clause]) -> list[str]:
    """Give for each clause the place that is named next in its sentence."""
    ahead, place = [], ""
    for clause in reversed(clauses):
        place = clause.place or place
        ahead.append(place)
    return ahead[::-1]


def _best(
    hits: Sequence[_Hit], place: str, ends: AbstractSet[str], lists: _Lists
) -> dict[str, tuple[str, ...]]:
    """Give the remarks that fit best, with the phrases found; several where they fit alike."""
    phrases: dict[str, dict[str, bool]] = {}
    for hit in hits:
        remark = lists.by_id[hit.owner]
        # A phrase that speaks of an end itself (rear steps out) needs no other word for it.
        names_end = bool(_hits(_words(hit.phrase), lists.ends))
        if (not place or remark.where == place) and (names_end or _fits(remark.end, ends)):
            phrases.setdefault(hit.owner, {})[hit.phrase] = names_end
    best = _highest(
        phrases,
        {
            name: (
                max(len(_words(phrase)) for phrase in found),
                lists.by_id[name].end in ends or any(found.values()),
            )
            for name, found in phrases.items()
        },
    )
    # Words and counts cannot tell where it was.
    if len({lists.by_id[name].where for name in best}) == 1:
        counts = {
            name: (any(phrase in lists.by_id[name].words for phrase in phrases[name]), len(found))
            for name, found in best.items()
        }
        best = _highest(best, counts)
    return {name: tuple(found) for name, found in best.items()}


def _highest(
    phrases: Mapping[str, dict[str, bool]], scores: Mapping[str, tuple[int, int]]
) -> dict[str, dict[str, bool]]:
    most = max(scores.values(), default=None)
    return {name: phrases[name] for name, score in scores.items() if score == most}


def _fits(end: str, named: AbstractSet[str]) -> bool:
    return not named or end in named or end == "both" or bool(named & {"engine", "controls"})


def _one_for_each_end(best: Iterable[str], ends: AbstractSet[str], lists: _Lists) -> bool:
    """Say whether one remark is of the front and one of the rear, and both were named."""
    found = sorted(lists.by_id[name].end for name in best)
    return found == ["front", "rear"] and set(found) <= ends


def _elsewhere(
    hits: Sequence[_Hit], place: str, ends: AbstractSet[str], lists: _Lists
) -> dict[str, tuple[str, ...]]:
    """Give what a clause could mean if another place or another end was meant."""
    for where, which in (("", ends), (place, frozenset[str]()), ("", frozenset[str]())):
        if best := _best(hits, where, which, lists):
            return best
    return {}


def _asserted(hits: Sequence[_Hit], stems: Sequence[str], lists: _Lists) -> list[_Hit]:
    """Keep the complaints that are neither denied nor said to be over."""
    spoken_for = _covered(hit for hit in hits if hit.stop - hit.start > 1)
    over = [hit for hit in _hits(stems, lists.over) if not _turned(hit, stems) and hit.start > 0]
    last = max((hit.start for hit in over if stems[hit.start - 1] in _BEING), default=0)
    starts = {hit.start for hit in over}
    return [
        hit
        for hit in hits
        if not (
            hit.stop <= last
            or starts & set(range(hit.stop, hit.stop + _BETWEEN + 1))
            or _denied(hit, stems, spoken_for, lists)
        )
    ]


def _denied(hit: _Hit, stems: Sequence[str], spoken_for: AbstractSet[int], lists: _Lists) -> bool:
    begin = max(0, hit.start - _BETWEEN - 1)
    return any(
        begin + denial.start not in spoken_for and stems[begin + denial.stop] not in _DENIES_NOTHING
        for denial in _hits(stems[begin : hit.start], lists.denying)
    )


def _turned(hit: _Hit, stems: Sequence[str]) -> bool:
    """Say whether a word just before turns praise round: not better, could be better."""
    return bool(_NO_PRAISE & set(stems[max(0, hit.start - _BETWEEN) : hit.start]))


def _praises(stems: Sequence[str], lists: _Lists) -> bool:
    return any(not _turned(hit, stems) for hit in _hits(stems, lists.fine))


def _lists(remarks: Sequence[Remark]) -> _Lists:
    return _Lists(
        {remark.id: remark for remark in remarks},
        _listed(((one.id, (*one.words, one.what)) for one in remarks), _stem),
        _listed(PLACE_WORDS.items(), str),
        _listed(END_WORDS.items(), str),
        *(_listed([("", words)], _stem) for words in (FINE_WORDS, DENYING_WORDS, OVER_WORDS)),
    )


def _listed(lists: Iterable[tuple[str, Iterable[str]]], form: Callable[[str], str]) -> _Listed:
    """Order phrases by their first word; of phrases that are one by their form the first counts."""
    listed: _Listed = {}
    for owner, phrases in lists:
        told: dict[tuple[str, ...], str] = {}
        for phrase in phrases:
            told.setdefault(tuple(form(word) for word in _words(phrase)), phrase)
        for wanted, phrase in told.items():
            if wanted:
                listed.setdefault(wanted[0], []).append((wanted, phrase, owner))
    return listed


def _hits(words: Sequence[str], listed: _Listed) -> list[_Hit]:
    said = tuple(words)
    return [
        _Hit(start, start + len(wanted), phrase, owner)
        for start, word in enumerate(said)
        for wanted, phrase, owner in listed.get(word, ())
        if said[start : start + len(wanted)] == wanted
    ]


def _spelled(text: str) -> str:
    """Write in one way what can be written in several."""
    text = text.lower()
    for one, other in _SPELLED:
        text = text.replace(one, other)
    return text.replace("n't", " not")


@lru_cache(maxsize=4096)
def _words(phrase: str) -> tuple[str, ...]:
    return tuple(_WORD.findall(_spelled(phrase)))


def _stem(word: str) -> str:
    """Take the ending off: swaps and swapping, dives and diving, are one word."""
    for ending in _ENDINGS:
        if word.endswith(ending) and len(word) - len(ending) >= _SMALLEST_STEM:
            word = word.removesuffix(ending)
            break
    if len(word) > _SMALLEST_STEM and word[-1] == word[-2]:
        word = word[:-1]
    return word.removesuffix("e") if len(word) > _SMALLEST_STEM else word
