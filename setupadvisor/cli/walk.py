"""The command `walk`: asks the crew chief on the spot and writes a walk file."""

from __future__ import annotations

import argparse
from collections.abc import Callable, Sequence
from copy import deepcopy
from dataclasses import dataclass
from datetime import date
from pathlib import Path
from textwrap import wrap
from typing import Any

import yaml
from pydantic_core import PydanticCustomError

from setupadvisor.entries.files import entry_from, try_entry, write_atomic
from setupadvisor.entries.quantity import EntryField, Quantity, Word
from setupadvisor.entries.walk import Walk
from setupadvisor.entries.yaml_file import Document, parse_yaml
from setupadvisor.errors import InputError, Mistake
from setupadvisor.facts.columns import condition_fields

# What moves most settings comes first; by-feel answers stand beside measured ones.
FIRST_QUESTIONS: tuple[tuple[str, ...], ...] = (
    ("walk.kind",),
    ("walk.ground.texture",),
    ("walk.ground.firmness", "walk.ground.cone_index_kpa"),
    ("walk.ground.moisture", "walk.ground.available_water_pct"),
    ("walk.start.surface",),
    ("walk.start.after_firmness", "walk.start.after_cone_index_kpa"),
    ("walk.whoops.height_mm",),
    ("walk.air.temperature_c",),
)
HINTS = {
    "walk.kind": "stadium: built in a hall or bowl; outdoor: natural ground; sand: sand all over",
    "walk.ground.texture": (
        "wet a fistful: sand runs off, loamy sand just balls, sandy loam makes a short ribbon, "
        "loam a soft one, clay loam 25 to 50 mm, clay more than 50 mm; silt feels like flour"
    ),
    "walk.ground.firmness": "stamp a heel where the wheels run",
    "walk.ground.moisture": (
        "squeeze a fistful: dry crumbles, slightly moist makes a weak ball, moist a ball that "
        "holds, very moist wets the hand, wet drips, waterlogged stands in water"
    ),
    "walk.start.after_firmness": "the first two metres behind the gate: stamp a heel",
    "walk.whoops.height_mm": "0 where there are none",
}

WIDTH = 92

Ask = Callable[[str], str]


@dataclass
class Questions:
    """Asks through a terminal, or through anything that answers lines.

    Parameters
    ----------
    ask : callable
        Gives the answer to a prompt.
    """

    ask: Ask = input

    def answer(
        self, fields: Sequence[EntryField], number: int, total: int
    ) -> tuple[str, Any] | None:
        """Ask one question until it is answered or skipped.

        Parameters
        ----------
        fields : sequence of EntryField
            The field, and the measured one that may be given instead.
        number, total : int
            Where in the list it stands.

        Returns
        -------
        tuple of str and object, or None
            The path and the value as it goes into the file; None when skipped.
        """
        print(f"\n{number} of {total}  {fields[0].title}")
        for line in [HINTS.get(fields[0].path, ""), *_choices(fields)]:
            for part in wrap(line, WIDTH, break_on_hyphens=False):
                print(f"    {part}")
        while True:
            text = self.ask("  > ").strip()
            if not text:
                return None
            found, problem = _understood(fields, text)
            if found is not None:
                return found
            print(f"    {problem}")

    def needed(self, title: str, otherwise: str) -> str:
        """Ask for a text that the file must have."""
        text = self.ask(f"{title} [{otherwise}] > ").strip()
        return text or otherwise


def _choices(fields: Sequence[EntryField]) -> list[str]:
    lines = []
    for field in fields:
        if isinstance(field.kind, Word):
            numbered = (
                f"{place}\N{NO-BREAK SPACE}{word.replace('_', ' ')}"
                for place, word in enumerate(field.kind.choices, start=1)
            )
            lines.append(", ".join(numbered))
        elif isinstance(field.kind, Quantity):
            # A bare small number is the place of a word.
            lead = "or measured, with its unit: " if len(fields) > 1 else ""
            lines.append(f"{lead}{field.kind.example()}")
    return lines


def _understood(fields: Sequence[EntryField], text: str) -> tuple[tuple[str, Any] | None, str]:
    problems = []
    words = [field for field in fields if isinstance(field.kind, Word)]
    for field in words:
        kind = field.kind
        if isinstance(kind, Word):
            if text.isdecimal() and 1 <= int(text) <= len(kind.choices):
                return (field.path, kind.choices[int(text) - 1]), ""
            try:
                return (field.path, kind.read(text)), ""
            except PydanticCustomError as error:
                problems.append(str(error))
    for field in fields:
        if isinstance(field.kind, Quantity):
            try:
                number = field.kind.read(text)
            except PydanticCustomError as error:
                problems.append(str(error))
                continue
            # As written, with its unit, so that the file reads as the crew chief spoke.
            plain = _plain_number(text)
            return (field.path, number if plain else text), ""
    return None, problems[-1] if problems else "that was not understood"


def _plain_number(text: str) -> bool:
    try:
        float(text)
    except ValueError:
        return False
    return True


def run(options: argparse.Namespace, ask: Ask = input) -> int:
    """Ask, and write the walk file at the end.

    Parameters
    ----------
    options : argparse.Namespace
        The command line.
    ask : callable
        Gives the answer to a prompt.

    Returns
    -------
    int
        0.

    Raises
    ------
    InputError
        If the file is there already or cannot be written.
    """
    path: Path = options.file
    if path.exists() and not options.replace:
        raise InputError(
            Mistake(str(path), "there is such a file already", "choose another name, or --replace")
        )
    if not path.parent.is_dir():
        raise InputError(Mistake(str(path), "its folder does not exist", "make the folder first"))
    print("A walk of the track. Enter skips a question; what is not known stays not known.")
    print("Numbers may carry a unit: 75 F, 1700 ft, 65 psi. Ctrl-C stops and writes nothing.")
    questions = Questions(ask)
    try:
        content = _interview(questions, options.all)
    except EOFError:
        raise InputError(
            Mistake("the answers", "they ended before the last question", "nothing was written")
        ) from None
    except UnicodeDecodeError:
        raise InputError(
            Mistake(
                "the answers", "they are not UTF-8 text", "nothing was written; answer in UTF-8"
            )
        ) from None
    answers = yaml.safe_dump(content, sort_keys=False, allow_unicode=True, default_flow_style=False)
    text = f"# A walk of the track, asked on the spot.\n{answers}"
    entry_from(parse_yaml(text, str(path)), Walk)
    write_atomic(path, text.encode())
    print(f"\nWrote {path}. Next: setupadvisor advise {path} --rider YOUR-RIDER.yaml")
    return 0


def _interview(questions: Questions, everything: bool) -> dict[str, Any]:
    today = date.today().isoformat()
    content: dict[str, Any] = {"event": "", "date": today}
    while not _goes_in(content, "event", questions.needed("Event", f"practice {today}")):
        pass
    content["date"] = _date(questions, today)
    while venue := questions.ask("Venue (Enter to skip) > ").strip():
        if _goes_in(content, "venue", venue):
            break
    fields = condition_fields()
    first = [[fields[path] for path in paths] for paths in FIRST_QUESTIONS]
    _ask_all(questions, first, content)
    asked = {path for paths in FIRST_QUESTIONS for path in paths}
    rest = [
        [field]
        for path, field in fields.items()
        if path.startswith("walk.") and path not in asked and not field.listed
    ]
    if everything or questions.ask(
        f"\n{len(rest)} more questions and the jumps: y to go on, Enter to finish > "
    ).strip().lower() in {"y", "yes"}:
        _ask_all(questions, rest, content)
        _ask_jumps(questions, content)
    return content


def _date(questions: Questions, today: str) -> str:
    while True:
        text = questions.needed("Date", today)
        try:
            return date.fromisoformat(text).isoformat()
        except ValueError:
            print(f"    {text!r} is no date; write it as {today}")


def _ask_all(
    questions: Questions, listed: Sequence[Sequence[EntryField]], content: dict[str, Any]
) -> None:
    for number, fields in enumerate(listed, start=1):
        while answered := questions.answer(fields, number, len(listed)):
            if _goes_in(content, condition_fields()[answered[0]].key, answered[1]):
                break


def _goes_in(content: dict[str, Any], key: str, value: Any) -> bool:
    """Put an answer beside the others, unless it cannot stand or cannot be true beside them."""
    tried = deepcopy(content)
    _put(tried, key, value)
    _, mistakes = try_entry(Document("the answers", tried), Walk)
    for mistake in mistakes:
        print(f"    {mistake.found}; {mistake.mend}")
    if not mistakes:
        _put(content, key, value)
    return not mistakes


def _put(content: dict[str, Any], key: str, value: Any) -> None:
    *groups, last = key.split(".")
    for group in groups:
        content = content.setdefault(group, {})
    content[last] = value


def _ask_jumps(questions: Questions, content: dict[str, Any]) -> None:
    fields = [field for path, field in condition_fields().items() if path.startswith("walk.jumps.")]
    print("\nThe jumps, the hardest first; skip the gap to finish.")
    while True:
        jump: dict[str, Any] = {}
        for number, field in enumerate(fields, start=1):
            answered = questions.answer([field], number, len(fields))
            if answered is None and number == 1:
                return
            if answered is not None:
                jump[condition_fields()[answered[0]].key.rsplit(".", 1)[-1]] = answered[1]
        _goes_in(content, "jumps", [*content.get("jumps", []), jump])
