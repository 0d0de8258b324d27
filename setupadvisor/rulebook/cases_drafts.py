"""Cases as written: keys and texts checked, walk and rider joined with the case they stand on."""

from __future__ import annotations

from collections.abc import Collection, Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import Annotated, Any, TypeVar

from pydantic import Field, WithJsonSchema

from setupadvisor.entries.files import try_entry
from setupadvisor.entries.machine import Machine
from setupadvisor.entries.quantity import Entry, shown
from setupadvisor.entries.rider import Rider
from setupadvisor.entries.walk import Walk
from setupadvisor.entries.yaml_file import Document, KeyPath
from setupadvisor.errors import Mistake
from setupadvisor.rulebook.cases_sentences import near
from setupadvisor.rulebook.forms import Form, Text
from setupadvisor.rulebook.reading import (
    MOST_MISTAKES,
    Reading,
    check_shape,
    good_name,
    group,
    hint,
)

MOST_CASES = 5000
MOST_SENTENCES = 40
# Every walk needs an event and a date, every rider a name; a case has none of its own.
EVENT = {"event": "case", "date": "2000-01-01"}
NAME = {"name": "case"}

WrittenPart = Annotated[Any, WithJsonSchema({"type": "object"})]
WrittenSentences = Annotated[
    Any,
    WithJsonSchema(
        {
            "type": "array",
            "minItems": 1,
            "maxItems": MOST_SENTENCES,
            # 'not judged: needs ground.moisture' is a key and a value to an editor.
            "items": {"type": ["string", "object"]},
        }
    ),
]


class CaseForm(Form):
    """A partial walk, a partial rider, and what must come out."""

    title: Text = Field(description="the case in a sentence")
    with_: Text | None = Field(None, alias="with", description="a case to take the rest from")
    machine: Text | None = Field(None, description="a bundled machine's name")
    walk: WrittenPart = Field(None, description="the keys of a walk, without event and date")
    rider: WrittenPart = Field(None, description="the keys of a rider")
    expect: WrittenSentences = Field(description="sentences, each of which must hold")
    source: Text = Field(description="a published work by name, or 'common practice, no source'")


@dataclass
class Draft:
    """A case as written, before it is joined with the one it stands on.

    Parameters
    ----------
    name : str
        Its id.
    reading : Reading
        Its file; takes the mistakes.
    form : CaseForm or None
        None where keys or texts are wrong.
    base, machine : str or None
        The case it stands on, and its machine, as written.
    walk, rider : dict
        As written; joined with the case it stands on by `join`.
    sentences : list of str
        As written; empty text where there is no sentence.
    place : int
        Which of the folders it comes from.
    sound : bool
        Whether no mistake was found in it.
    """

    name: str
    reading: Reading
    form: CaseForm | None
    base: str | None
    machine: str | None
    walk: dict[str, Any]
    rider: dict[str, Any]
    sentences: list[str]
    place: int
    sound: bool

    @property
    def path(self) -> KeyPath:
        """Where it stands in its file."""
        return ("cases", self.name)

    def wrong(self, path: KeyPath, found: str, mend: str) -> None:
        """Note a mistake at a path below it."""
        self.sound = False
        self.reading.wrong((*self.path, *path), found, mend)


@dataclass(frozen=True)
class _Part(Document):
    """A part of a document that is an entry of its own; messages name the key's whole path."""

    whole: Document | None = None
    prefix: KeyPath = ()

    def where(self, path: KeyPath) -> str:
        return (self.whole or self).where((*self.prefix, *path))


def draft_cases(reading: Reading, place: int, drafts: dict[str, Draft]) -> None:
    """Read the cases of one document as written.

    Parameters
    ----------
    reading : Reading
        The document; takes the mistakes.
    place : int
        Which of the folders it comes from.
    drafts : dict of str to Draft
        Takes the cases; those of an earlier folder are replaced by name.
    """
    content = group(
        reading, ("cases",), reading.document.content["cases"], "a case's id and its keys"
    )
    lines = _lines_of_parts(reading.document)
    for name, written in content.items():
        path: KeyPath = ("cases", name)
        if len(drafts) >= MOST_CASES:
            reading.wrong(path, f"there are more than {MOST_CASES} cases", "take cases out")
            return
        before = len(reading.mistakes)
        good_name(reading, path, name)
        keys = written if isinstance(written, dict) else {}
        draft = Draft(
            name,
            reading,
            check_shape(reading, path, written, CaseForm),
            _name(keys.get("with")),
            _name(keys.get("machine")),
            _part(reading, (*path, "walk"), keys, Walk, EVENT, lines),
            _part(reading, (*path, "rider"), keys, Rider, NAME, lines),
            _sentences(reading, (*path, "expect"), keys["expect"]) if "expect" in keys else [],
            place,
            sound=False,
        )
        known = drafts.get(name)
        if known is not None and known.place == place:
            stands = known.reading.origin(known.path)
            draft.wrong((), f"{name} stands also in {stands}", "give one of them another name")
        draft.sound = draft.form is not None and len(reading.mistakes) == before
        drafts[name] = draft


def _name(written: Any) -> str | None:
    return written.strip() if isinstance(written, str) else None


def _lines_of_parts(document: Document) -> dict[KeyPath, dict[KeyPath, int]]:
    """Sort the document's lines by part, in one pass: ``cases.ID.walk`` and the like."""
    parts: dict[KeyPath, dict[KeyPath, int]] = {}
    for path, line in document.lines.items():
        if len(path) >= 3:
            parts.setdefault(path[:3], {})[path[3:]] = line
    return parts


EntryType = TypeVar("EntryType", bound=Entry)


def _part(
    reading: Reading,
    path: KeyPath,
    keys: Mapping[str, Any],
    model: type[EntryType],
    needed: Mapping[str, str],
    lines: Mapping[KeyPath, dict[KeyPath, int]],
) -> dict[str, Any]:
    """Take a part of a case that is an entry, noting its mistakes."""
    if path[-1] not in keys:
        return {}
    content = group(reading, path, keys[str(path[-1])], "keys below it, indented")
    own = dict(content)
    if model is Walk:
        for key in EVENT.keys() & content.keys():
            reading.wrong((*path, key), "a case belongs to no event", "take it out")
            del own[key]
    part = _Part(
        reading.document.source,
        {**needed, **own},
        lines.get(path, {}),
        whole=reading.document,
        prefix=path,
    )
    _, mistakes = try_entry(part, model)
    reading.mistakes.extend(mistakes[: max(0, MOST_MISTAKES - len(reading.mistakes))])
    return own


def _sentences(reading: Reading, path: KeyPath, written: Any) -> list[str]:
    if not isinstance(written, list) or not written:
        mend = "write a list: one sentence a line, each behind a dash"
        reading.wrong(path, f"{shown(written)} does not fit here", mend)
        return []
    if len(written) > MOST_SENTENCES:
        found = f"{len(written)} sentences stand here"
        reading.wrong(path, found, f"at most {MOST_SENTENCES}; make two cases of it")
        return []
    sentences = [_text(sentence) for sentence in written]
    for place, text in enumerate(sentences):
        if not text:
            mend = "write a sentence such as 'fork_height lower than house'"
            reading.wrong((*path, place), f"{shown(written[place])} is no sentence", mend)
    return sentences


def _text(sentence: Any) -> str:
    """Take a sentence; with a colon in it YAML makes a key and a value of it."""
    if isinstance(sentence, dict) and len(sentence) == 1:
        ((key, value),) = sentence.items()
        return f"{key}: {value}" if isinstance(value, str) else ""
    return sentence.strip() if isinstance(sentence, str) else ""


def join(
    drafts: Mapping[str, Draft], machines: Mapping[str, Machine], usual: Sequence[str]
) -> dict[str, str]:
    """Join every case with the one it stands on.

    Parameters
    ----------
    drafts : mapping of str to Draft
        All cases; their walks and riders are completed.
    machines : mapping of str to Machine
        The machines there are.
    usual : sequence of str
        For each folder, the machine of cases that name none.

    Returns
    -------
    dict of str to str
        The machine's name by case.
    """
    machine_of: dict[str, str] = {}
    for name in drafts:
        for link in reversed(_chain(name, drafts, machine_of)):
            draft = drafts[link]
            machine = draft.machine
            if draft.base is not None and draft.base in machine_of:
                base = drafts[draft.base]
                draft.walk = _joined(base.walk, draft.walk)
                draft.rider = _joined(base.rider, draft.rider)
                draft.sound = draft.sound and base.sound
                machine = machine or machine_of[draft.base]
            if machine is not None and machine not in machines:
                known = f"known here: {', '.join(machines)}"
                found = f"there is no machine {shown(machine)}"
                draft.wrong(("machine",), found, hint(machine, machines, known))
                machine = None
            machine_of[link] = machine or usual[draft.place]
    return machine_of


def _chain(name: str, drafts: Mapping[str, Draft], done: Collection[str]) -> list[str]:
    """Follow the cases a case stands on, up to the last that is not joined yet."""
    chain: dict[str, None] = {}
    current: str | None = name
    while current is not None and current not in done:
        draft = drafts[current]
        chain[current] = None
        base = draft.base
        if base is not None and base not in drafts:
            mend = near(base, drafts, "name the id of a case")
            draft.wrong(("with",), f"there is no case {shown(base)}", mend)
            base = None
        elif base is not None and base in chain:
            names = list(chain)
            circle = [*names[names.index(base) :], base]
            told = circle if len(circle) <= 6 else [*circle[:4], "...", circle[-1]]
            found = f"the case stands on itself: {' -> '.join(told)}"
            draft.wrong(("with",), found, "break the circle")
            base = None
        current = base
    return list(chain)


def _joined(base: Mapping[str, Any], own: Mapping[str, Any]) -> dict[str, Any]:
    """Put what a case writes over what it stands on, key by key; lists are replaced whole."""
    result = dict(base)
    for key, value in own.items():
        below = result.get(key)
        if isinstance(below, dict) and isinstance(value, dict):
            result[key] = _joined(below, value)
        else:
            result[key] = value
    return result


def joined_entry(draft: Draft, key: str, content: Any, model: type[EntryType]) -> EntryType | None:
    """Validate what a case and the one it stands on say together.

    Parameters
    ----------
    draft : Draft
        The case; takes the mistakes.
    key : str
        ``"walk"`` or ``"rider"``.
    content : dict
        All of it.
    model : type
        `Walk` or `Rider`.

    Returns
    -------
    Entry or None
        None where anything is wrong.
    """
    if not draft.sound:
        return None
    document, path = draft.reading.document, (*draft.path, key)
    lines = dict.fromkeys(_paths(content), 0)
    part = _Part(document.source, content, lines, whole=document, prefix=path)
    entry, mistakes = try_entry(part, model)
    for mistake in mistakes:
        draft.sound = False
        found = f"{mistake.found} (together with case {draft.base})"
        mend = f"{mistake.mend}; a key with nothing behind it takes out what {draft.base} says"
        draft.reading.mistakes.append(Mistake(mistake.where, found, mend))
    return entry


def _paths(content: Any, path: KeyPath = ()) -> Iterator[KeyPath]:
    yield path
    parts = content.items() if isinstance(content, dict) else ()
    for key, value in enumerate(content) if isinstance(content, list) else parts:
        yield from _paths(value, (*path, key))
