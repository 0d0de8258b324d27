"""The sentences of a case: what must come out, as a mechanic would say it."""

from __future__ import annotations

import re
from collections.abc import Collection, Mapping
from dataclasses import dataclass
from typing import Literal

from pydantic_core import PydanticCustomError

from setupadvisor.entries.quantity import shown
from setupadvisor.entries.setting import Setting
from setupadvisor.rulebook.reading import hint

Relation = Literal[
    "beyond",
    "not beyond",
    "by at least",
    "by at most",
    "unchanged",
    "within",
    "at",
    "least",
    "most",
]
Verdict = Literal["speaks", "speaks fully", "silent", "not judged"]

# Comparing a wrong name with more names than this takes longer than anybody waits.
MOST_NAMES_COMPARED = 500
_SINGULAR = {"clicks": "click", "teeth": "tooth", "links": "link", "steps": "step"}
_AMOUNT = re.compile(r"(\d+(?:[.,]\d+)?)\s*(.*)")
_EXAMPLES = (
    "write a sentence such as 'axle_position further back than house', 'rule SOME-ID speaks' or "
    "'prepare mentions SOME WORDS'"
)


@dataclass(frozen=True, slots=True)
class SettingSentence:
    """A setting against its house value, another case, or a value.

    Parameters
    ----------
    text : str
        As written.
    setting : str
        The setting's name.
    on_sheet : bool
        Whether the number on the sheet is meant; otherwise the wish of house value and rules,
        before it is fitted to what can be set.
    relation : str
        How it must stand.
    sign : int
        +1 where the direction word is the one of a growing number, -1 for the other.
    amount : float
        In the setting's unit: how far at least, at most or within; or the value.
    other : str
        The case it is held against; empty for the house value.
    """

    text: str
    setting: str
    on_sheet: bool
    relation: Relation
    sign: int = 0
    amount: float = 0.0
    other: str = ""


@dataclass(frozen=True, slots=True)
class RuleSentence:
    """A rule that speaks, is silent, or cannot be judged.

    Parameters
    ----------
    text : str
        As written.
    rule : str
        The rule's id; empty where any rule may be the one.
    verdict : str
        What must come out.
    needs : tuple of str
        Keys of the walk or the rider that a rule not judged waits for.
    """

    text: str
    rule: str
    verdict: Verdict
    needs: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class TaskSentence:
    """Words that must, or must not, stand in one of the tasks.

    Parameters
    ----------
    text : str
        As written.
    kind : str
        ``"prepare"`` or ``"watch"``.
    words : str
        In lower case.
    mentioned : bool
        Whether they must stand there.
    """

    text: str
    kind: Literal["prepare", "watch"]
    words: str
    mentioned: bool


Sentence = SettingSentence | RuleSentence | TaskSentence


@dataclass(frozen=True)
class Vocabulary:
    """The names a sentence may use.

    Parameters
    ----------
    settings : mapping of str to Setting
        The settings of the case's machine.
    cases : mapping of str to Collection of str
        The settings there are on the machine of each case.
    rules : collection of str, optional
        Ids of the rules; None where they are not known, so that none is refused.
    entries : collection of str
        Keys of walk and rider: ``ground.moisture``, ``rider mass``.
    """

    settings: Mapping[str, Setting]
    cases: Mapping[str, Collection[str]]
    rules: Collection[str] | None
    entries: Collection[str]


class NotASentence(Exception):
    """A sentence that cannot be read: what was found, and the mend."""

    def __init__(self, found: str, mend: str) -> None:
        super().__init__(f"{found}; {mend}")
        self.found = found
        self.mend = mend


def near(name: str, known: Collection[str], otherwise: str) -> str:
    """Say which of some names is meant, unless they are too many to compare.

    Parameters
    ----------
    name : str
        As written.
    known : collection of str
        The known names.
    otherwise : str
        The mend when none is near.

    Returns
    -------
    str
        The mend.

    Examples
    --------
    >>> near("deep-snad", ["deep-sand", "deep-mud"], "name a case")
    'did you mean deep-sand?'
    """
    return hint(name, known, otherwise) if len(known) <= MOST_NAMES_COMPARED else otherwise


def read_sentence(written: str, known: Vocabulary) -> Sentence:
    """Read one sentence.

    Parameters
    ----------
    written : str
        As written.
    known : Vocabulary
        The names there are.

    Returns
    -------
    SettingSentence, RuleSentence or TaskSentence
        The sentence.

    Raises
    ------
    NotASentence
        If it cannot be read, with the mend.

    Examples
    --------
    >>> known = Vocabulary({}, {}, None, ["ground.moisture"])
    >>> read_sentence("rule mud-on-the-radiators silent", known).verdict
    'silent'
    >>> read_sentence("not judged: needs ground.moisture", known).needs
    ('ground.moisture',)
    """
    text = " ".join(written.split())
    first, _, rest = text.partition(" ")
    if first == "rule":
        rule, _, verdict = rest.partition(" ")
        return _rule_sentence(text, rule, verdict, known)
    if text.startswith("not judged"):
        return _rule_sentence(text, "", text, known)
    if first in {"prepare", "watch"}:
        return _task_sentence(text, "prepare" if first == "prepare" else "watch", rest)
    on_sheet = first == "sheet"
    return _setting_sentence(text, rest if on_sheet else text, known, on_sheet=on_sheet)


def _rule_sentence(text: str, rule: str, said: str, known: Vocabulary) -> RuleSentence:
    if rule and known.rules is not None and rule not in known.rules:
        mend = near(rule, known.rules, "name the id of a rule")
        raise NotASentence(f"there is no rule {shown(rule)}", mend)
    verdict, colon, needs = said.partition(":")
    if not colon and verdict in {"speaks", "speaks fully", "silent"}:
        return RuleSentence(text, rule, verdict)  # type: ignore[arg-type]
    if verdict == "not judged" and needs.strip().startswith("needs "):
        keys = tuple(key.strip() for key in needs.strip().removeprefix("needs ").split(","))
        for key in keys:
            if key not in known.entries:
                mend = near(key, known.entries, "name a key of the walk, such as ground.moisture")
                raise NotASentence(f"there is no entry {shown(key)}", mend)
        return RuleSentence(text, rule, "not judged", keys)
    name = rule or "SOME-ID"
    raise NotASentence(
        f"{shown(said)} says nothing of a rule",
        f"write 'rule {name} speaks', 'rule {name} speaks fully', 'rule {name} silent' or "
        f"'rule {name} not judged: needs ground.moisture'",
    )


def _task_sentence(text: str, kind: Literal["prepare", "watch"], said: str) -> TaskSentence:
    for verb, mentioned in (("mentions ", True), ("does not mention ", False)):
        words = said.removeprefix(verb).strip().lower() if said.startswith(verb) else ""
        if words:
            return TaskSentence(text, kind, words, mentioned)
    raise NotASentence(
        f"{shown(text)} does not say what is mentioned",
        f"write '{kind} mentions SOME WORDS' or '{kind} does not mention SOME WORDS'",
    )


def _setting_sentence(
    text: str, said: str, known: Vocabulary, *, on_sheet: bool
) -> SettingSentence:
    name, _, rest = said.partition(" ")
    setting = known.settings.get(name)
    if setting is None:
        found = f"{shown(name)} is no setting of this machine"
        raise NotASentence(found, near(name, known.settings, _EXAMPLES))
    parts = _relation(name, rest, setting, known)
    return SettingSentence(text, name, on_sheet, *parts)


def _relation(
    name: str, rest: str, setting: Setting, known: Vocabulary
) -> tuple[Relation, int, float, str]:
    if rest.startswith("unchanged from "):
        return "unchanged", 0, 0.0, _other(rest.removeprefix("unchanged from "), name, known)
    if rest.startswith("within ") and " of " in rest:
        written, _, other = rest.removeprefix("within ").partition(" of ")
        amount, unit = _amount(written, setting, name)
        if not _is_unit(unit, setting):
            raise NotASentence(f"{shown(unit)} is no unit of {name}", _units(setting))
        return "within", 0, amount, _other(other, name, known)
    if " than " in rest:
        said, _, other = rest.rpartition(" than ")
        relation, sign, amount = _beyond(said, setting, name)
        return relation, sign, amount, _other(other, name, known)
    values: tuple[tuple[str, Relation], ...] = (
        ("at least ", "least"),
        ("at most ", "most"),
        ("at ", "at"),
    )
    for words, relation in values:
        if rest.startswith(words):
            return relation, 0, _value(rest.removeprefix(words), setting), ""
    raise NotASentence(
        f"{shown(rest)} says nothing of {name}" if rest else f"nothing is said of {name}",
        f"write '{name} {setting.up} than house', '{name} not {setting.down} than house', "
        f"'{name} unchanged from house' or '{name} at {setting.show(setting.fixed_house)}'",
    )


def _beyond(said: str, setting: Setting, name: str) -> tuple[Relation, int, float]:
    relation: Relation = "beyond"
    amount = 0.0
    for words, bound in (("at least ", "by at least"), ("at most ", "by at most")):
        if said.startswith(words):
            amount, said = _amount(said.removeprefix(words), setting, name)
            relation = bound  # type: ignore[assignment]
            for unit in sorted(_unit_words(setting), key=len, reverse=True):
                if said.startswith(f"{unit} "):
                    said = said.removeprefix(f"{unit} ")
                    break
    if relation == "beyond" and said.startswith("not "):
        relation, said = "not beyond", said.removeprefix("not ")
    sign = (said == setting.up) - (said == setting.down)
    if not sign:
        found = f"{shown(said)} is no direction of {name}"
        if _AMOUNT.fullmatch(said):
            found = f"{shown(said)} leaves open whether it may be more"
        raise NotASentence(
            found,
            f"write '{setting.up}' or '{setting.down}', with an amount 'at least 2 {setting.up}'",
        )
    return relation, sign, amount


def _amount(written: str, setting: Setting, name: str) -> tuple[float, str]:
    match = _AMOUNT.fullmatch(written.strip())
    if match is None:
        found = f"{shown(written)} is no amount of {name}"
        raise NotASentence(found, f"write a number: 'at least 2 {setting.up} than house'")
    amount = float(match[1].replace(",", "."))
    span = setting.highest - setting.lowest
    if not 0 < amount <= span:
        found = f"{shown(match[1])} is no amount {name} can move"
        raise NotASentence(found, f"write a number above 0 and up to {span:g}")
    return amount, match[2]


def _unit_words(setting: Setting) -> tuple[str, ...]:
    unit = setting.unit or "steps"
    return (unit, _SINGULAR.get(unit, unit))


def _is_unit(written: str, setting: Setting) -> bool:
    return not written or written in _unit_words(setting)


def _units(setting: Setting) -> str:
    return f"write {' or '.join(dict.fromkeys(_unit_words(setting)))}, or leave the unit out"


def _value(written: str, setting: Setting) -> float:
    text = written.strip()
    if len(text) > 1 and text[0] == text[-1] and text[0] in "'\"":
        text = text[1:-1]
    try:
        return setting.read(text)
    except PydanticCustomError as error:
        context = error.context or {}
        raise NotASentence(context["found"], context["mend"]) from None


def _other(written: str, setting: str, known: Vocabulary) -> str:
    if written == "house":
        return ""
    name = written.removeprefix("on ").removeprefix("case ")
    if name == written or not written.removeprefix("on ").startswith("case "):
        mend = "write 'house' or 'on case SOME-ID'"
        raise NotASentence(f"{shown(written)} is nothing to hold it against", mend)
    if name not in known.cases:
        mend = near(name, known.cases, "name the id of a case")
        raise NotASentence(f"there is no case {shown(name)}", mend)
    if setting not in known.cases[name]:
        found = f"the machine of case {name} has no {setting}"
        raise NotASentence(found, "hold it against a case with a machine that has it")
    return name
