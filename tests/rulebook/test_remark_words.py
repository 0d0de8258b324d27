"""A rider's own words: counted, denied, placed, and handed back where they say nothing."""

from __future__ import annotations

from functools import cache
from pathlib import Path
from tempfile import TemporaryDirectory

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from setupadvisor.advice.workshop import house_machine, open_workshop
from setupadvisor.rulebook.remark_words import (
    DENYING_WORDS,
    END_WORDS,
    FINE_WORDS,
    PLACE_WORDS,
    Understanding,
    understand,
)
from setupadvisor.rulebook.remarks import PLACES, Remark
from tests.rulebook.small_world import load, write

# id, where, what, end, words
SMALL = (
    ("whoops-swaps-rear", "whoops", "swaps", "rear", "swaps, rear steps out, snakes"),
    ("whoops-kicks-rear", "whoops", "kicks", "rear", "kicks, bucks"),
    ("whoops-seesaws", "whoops", "kicks", "both", "rocks, out of balance"),
    ("whoops-crossed", "whoops", "deflects", "front", "goes left and right"),
    ("braking-kicks-rear", "braking_bumps", "kicks", "rear", "kicks, hops"),
    ("braking-dives", "braking_bumps", "dives", "front", "dives, drops"),
    ("braking-packs", "braking_bumps", "packs", "front", "packs, never comes back"),
    ("braking-harsh", "braking_bumps", "harsh", "front", "harsh, beats"),
    ("hands-sting", "braking_bumps", "harsh", "controls", "stings, cannot hold on"),
    ("corner-pushes", "flat_corner", "pushes", "front", "push, pushes, washes"),
    ("bottoms-front", "landing", "bottoms", "front", "bottoms, clanks"),
    ("bottoms-rear", "landing", "bottoms", "rear", "bottoms, bangs"),
    ("gate-slips", "gate", "slips", "engine", "slips, revs but does not go"),
    ("straight-shakes", "straight", "headshake", "front", "headshake, tank slapper"),
)


@cache
def remarks() -> tuple[Remark, ...]:
    """A few remarks of an invented rule base."""
    text = "remarks:\n" + "".join(
        f"  {name}:\n    title: {name}\n    where: {where}\n    what: {what}\n    end: {end}\n"
        f"    words: [{words}]\n    try:\n      - change: {{fork_height: 1 lower}}\n"
        "        gain: usual\n        why: invented\n    look_for: less of it\n"
        "    source: common practice, no source\n"
        for name, where, what, end, words in SMALL
    )
    with TemporaryDirectory() as folder:
        return load(write(Path(folder), remarks=text)).remarks


def said(text: str) -> Understanding:
    return understand(text, remarks())


def ids(text: str) -> list[str]:
    return [item.remark.id for item in said(text).matched]


def nothing_else(found: Understanding) -> bool:
    return not (found.ambiguous or found.fine or found.not_understood)


@pytest.mark.parametrize(
    ("text", "remark", "words"),
    [
        ("it kicks in the whoops", "whoops-kicks-rear", ("kicks",)),
        ("Kicks and bucks, whoops!", "whoops-kicks-rear", ("kicks",)),
        ("it kicks or bucks in the whoops", "whoops-kicks-rear", ("kicks", "bucks")),
        ("pushes, push, pushed in flat corners", "corner-pushes", ("push",)),
        ("the rear steps out in the whoops", "whoops-swaps-rear", ("rear steps out",)),
        ("never comes back in the braking bumps", "braking-packs", ("never comes back",)),
    ],
)
def test_the_listed_words_that_were_found_are_counted(
    text: str, remark: str, words: tuple[str, ...]
) -> None:
    """Forms of one word (push, pushes) count once."""
    (first, *rest) = said(text).matched
    assert (first.remark.id, first.words) == (remark, words)
    assert all(item.remark.id == remark for item in rest)


@pytest.mark.parametrize(
    "word", ["swap", "swaps", "swapped", "swapping", "SWAPPING", "snake", "snaking", "snakes"]
)
def test_a_word_is_known_in_all_its_forms(word: str) -> None:
    assert ids(f"the rear is {word} in the whoops") == ["whoops-swaps-rear"]


@pytest.mark.parametrize(
    "text",
    [
        "no longer kicks in the whoops",
        "it does not kick in the whoops",
        "it doesn't kick in the whoops",
        "it doesn’t really kick in the whoops",
        "it didn't kick in the whoops",
        "never kicks in the whoops",
        "no kicking in the whoops",
        "kicks no more in the whoops",
        "the kick is gone in the whoops",
        "the kick in the whoops is gone",
        "the kicking in the whoops is better",
        "in the whoops, no kick",
    ],
)
def test_a_complaint_that_is_denied_or_over_asks_for_nothing(text: str) -> None:
    found = said(text)
    assert found.matched == found.ambiguous == found.not_understood == ()
    assert found.fine


@pytest.mark.parametrize(
    "text",
    [
        "it will not stop kicking in the whoops",
        "it not only kicks in the whoops",
        "the kick in the whoops is not gone",
        "the kick in the whoops is not better",
        "I do not like how it kicks in the whoops",
        "not good, kicks in the whoops",
        "no good, it still kicks in the whoops",
        "kicks in the whoops, could be better",
        "the good line kicks in the whoops",
    ],
)
def test_a_complaint_is_not_lost_for_a_no_or_a_good_elsewhere(text: str) -> None:
    assert ids(text) == ["whoops-kicks-rear"]


@pytest.mark.parametrize("text", ["fine", "not bad", "All good!", "much better", "no complaints"])
def test_praise_is_told_as_such(text: str) -> None:
    found = said(text)
    assert found.fine
    assert found.matched == found.not_understood == ()


@pytest.mark.parametrize("text", ["not good", "could be better", "no better", "isn't fine"])
def test_praise_turned_round_is_no_praise(text: str) -> None:
    found = said(text)
    assert found.fine == ()
    assert found.not_understood


def test_a_no_inside_a_listed_phrase_belongs_to_it() -> None:
    assert ids("off the gate it revs but does not go") == ["gate-slips"]
    assert ids("I can't hold on in the braking bumps") == ["hands-sting"]
    assert ids("I can not hold on in the braking bumps") == ["hands-sting"]


def test_and_inside_a_listed_phrase_joins_no_clauses() -> None:
    found = said("it goes left and right in the whoops and dives on the brakes")
    assert [item.remark.id for item in found.matched] == ["whoops-crossed", "braking-dives"]
    assert nothing_else(found)


def test_a_place_holds_for_the_clauses_after_it() -> None:
    text = "In the whoops it swaps and kicks. On the landings it clanks; bangs too, rear"
    assert ids(text)[:3] == ["whoops-swaps-rear", "whoops-kicks-rear", "bottoms-front"]


def test_a_place_named_later_in_the_sentence_holds_where_none_was_before() -> None:
    """In the same sentence only: what comes in the next one may be another matter."""
    assert ids("swaps and kicks in the whoops") == ["whoops-swaps-rear", "whoops-kicks-rear"]
    assert (
        ids("swaps, kicks. In the braking bumps it dives")
        == ["braking-dives", "whoops-swaps-rear"][::-1]
    )


def test_an_end_holds_for_the_clauses_after_it() -> None:
    assert ids("the rear is bad on landings, bottoms") == ["bottoms-rear"]


def test_both_ends_named_are_both_heard() -> None:
    for text in (
        "front and rear bottom on landings",
        "the front and the rear bottom on landings",
        "on landings the fork and the shock bottom",
    ):
        assert ids(text) == ["bottoms-front", "bottoms-rear"], text
        assert nothing_else(said(text))


def test_a_complaint_that_fits_several_remarks_is_not_guessed() -> None:
    found = said("bottoms on landings")
    assert found.matched == ()
    assert found.ambiguous == (("bottoms on landings", ("bottoms-front", "bottoms-rear")),)


def test_without_a_place_the_remarks_of_all_places_are_named() -> None:
    found = said("the rear kicks")
    assert found.matched == ()
    ((clause, could_be),) = found.ambiguous
    assert clause == "the rear kicks"
    assert set(could_be) == {"whoops-kicks-rear", "braking-kicks-rear"}


def test_what_no_remark_knows_at_that_place_is_asked_about() -> None:
    found = said("tank slapper in the whoops")
    assert found.matched == ()
    assert found.ambiguous == (("tank slapper in the whoops", ("straight-shakes",)),)


def test_words_that_stand_in_one_remark_only_need_no_place() -> None:
    assert ids("tank slapper") == ["straight-shakes"]


def test_a_remarks_own_word_goes_before_the_bare_behaviour() -> None:
    """The seesaw's behaviour is kicking too, but its words are others."""
    assert ids("kicks in the whoops") == ["whoops-kicks-rear"]
    assert ids("rocks in the whoops") == ["whoops-seesaws"]


def test_the_longest_phrase_goes_first() -> None:
    assert ids("kicks until the rear steps out in the whoops") == ["whoops-swaps-rear"]


def test_an_end_in_the_words_goes_before_the_bare_behaviour() -> None:
    assert ids("the fork is harsh in the braking bumps") == ["braking-harsh"]
    assert ids("harsh on the brakes") == ["braking-harsh"]
    assert ids("harsh on my hands in the braking bumps") == ["hands-sting"]


@pytest.mark.parametrize("text", ["it starts to kick in the whoops", "when it starts, whoops kick"])
def test_a_verb_is_no_place(text: str) -> None:
    assert ids(text) == ["whoops-kicks-rear"]


def test_an_id_is_the_remark_itself() -> None:
    for name, *_ in SMALL:
        (item,) = said(f"  {name} ").matched
        assert (item.remark.id, item.words) == (name, (name,))


def test_what_matches_no_list_is_handed_back() -> None:
    found = said("the weather girl smiled at me, and it kicks in the whoops")
    assert [item.remark.id for item in found.matched] == ["whoops-kicks-rear"]
    assert found.not_understood == ("the weather girl smiled at me",)


def test_a_place_alone_is_part_of_what_comes_next() -> None:
    assert nothing_else(said("in the whoops, kicks"))


@pytest.mark.parametrize("text", ["", " ", "?!", "12345", "🏍️🔥💥", "\x00\x1b[31m\n", "\udcff"])
def test_no_words_are_nothing(text: str) -> None:
    found = said(text)
    assert found.matched == found.ambiguous == found.fine == ()
    assert len(found.not_understood) <= 1


@pytest.mark.parametrize("decoration", ["🔥", "\x1b[31m", "\u202e", "\x00", "…", "'--", "%s{}"])
def test_what_is_no_letter_changes_nothing(decoration: str) -> None:
    text = f"{decoration} kicks {decoration} in the whoops {decoration}"
    assert "whoops-kicks-rear" in ids(text)


def test_commands_of_a_database_are_words() -> None:
    found = said("'; DELETE FROM remarks; --")
    assert found.not_understood == ("delete from remarks",)
    assert found.matched == ()


def test_words_of_other_languages_are_words() -> None:
    text = f"remarks:\n  schlaegt:\n    title: x\n{_REST.format(words='schlägt aus')}"
    with TemporaryDirectory() as folder:
        own = load(write(Path(folder), remarks=text)).remarks
    (item,) = understand("Hinten SCHLÄGT AUS", own).matched
    assert item.words == ("schlägt aus",)


_REST = """    where: whoops
    what: kicks
    end: rear
    words: [{words}]
    try:
      - change: {{fork_height: 1 lower}}
        gain: usual
        why: invented
    look_for: less of it
    source: common practice, no source
"""


@pytest.mark.parametrize(
    "text",
    [
        "a" * 100_000,
        "kicks " * 16_000,
        "kicks," * 16_000,
        "not kick " * 11_000,
        "front and rear " * 6_600,
        "a," * 50_000,
        "(" * 100_000,
        "👍" * 100_000,
        "never comes " * 8_000,
    ],
    ids=lambda text: text[:12],
)
def test_a_hundred_thousand_characters_are_read_to_the_end(text: str) -> None:
    """In time that grows with the length: a search for each clause in each other would not end."""
    found = understand(text + ". tank slapper", remarks())
    assert "straight-shakes" in {item.remark.id for item in found.matched}


WORDS = sorted(
    {
        word
        for phrase in (
            *FINE_WORDS,
            *DENYING_WORDS,
            *(phrase for phrases in PLACE_WORDS.values() for phrase in phrases),
            *(phrase for phrases in END_WORDS.values() for phrase in phrases),
            *(word for *_, words in SMALL for word in words.split(", ")),
            "and but , . ; it the moon",
        )
        for word in phrase.split()
    }
)
sentences = st.lists(st.sampled_from(WORDS), max_size=25).map(" ".join)


@settings(deadline=None)
@given(sentences)
def test_every_clause_ends_up_in_one_place(text: str) -> None:
    """Nothing is heard twice, and each remark is matched once."""
    found = said(text)
    matched = [item.remark.id for item in found.matched]
    assert len(set(matched)) == len(matched)
    for item in found.matched:
        assert item.words
        assert item.clause in text
    for clause in (*(clause for clause, _ in found.ambiguous), *found.fine, *found.not_understood):
        assert clause in text
    assert all(names for _, names in found.ambiguous)


@settings(deadline=None)
@given(sentences)
def test_upper_case_and_a_typographic_apostrophe_change_nothing(text: str) -> None:
    assert said(text.upper().replace("'", "’")) == said(text)


@settings(deadline=None)
@given(st.text(max_size=300))
def test_any_text_is_taken(text: str) -> None:
    found = said(text)
    assert {item.remark.id for item in found.matched} <= {name for name, *_ in SMALL}


@pytest.mark.parametrize("place", PLACES)
def test_every_place_has_its_words(place: str) -> None:
    assert PLACE_WORDS[place]


def test_each_bundled_remark_is_found_by_each_of_its_own_words() -> None:
    """Said at its place, alone or beside others with the same word."""
    bundled = open_workshop(house_machine()).rulebase.remarks
    assert bundled
    lost = []
    for remark in bundled:
        for word in remark.words:
            found = understand(f"{word} at the {PLACE_WORDS[remark.where][0]}", bundled)
            heard = {item.remark.id for item in found.matched}
            heard.update(name for _, names in found.ambiguous for name in names)
            if remark.id not in heard:
                lost.append((remark.id, word))
    assert lost == []
