"""The command `next`: what to change before the next outing."""

from __future__ import annotations

import argparse
import json
import sys
from collections.abc import Sequence
from dataclasses import asdict, dataclass
from functools import partial
from pathlib import Path
from typing import Any

from pydantic_core import PydanticCustomError

from setupadvisor.advice.next_change import next_change
from setupadvisor.advice.next_records import Move, NextChange, Record, Tried
from setupadvisor.advice.workshop import Workshop, open_workshop, situations
from setupadvisor.cli.inputs import Gathering, read_machine, read_setup
from setupadvisor.cli.next_sheet import few, next_text
from setupadvisor.entries.files import load_entry
from setupadvisor.entries.machine import Machine
from setupadvisor.entries.quantity import shown
from setupadvisor.entries.rider import Rider
from setupadvisor.entries.walk import Walk
from setupadvisor.errors import InputError, Mistake
from setupadvisor.facts.columns import columns_from_entries
from setupadvisor.rulebook.remark_words import Matched, Understanding, understand

VERDICTS = ("better", "same", "worse")
LONGEST_REMARK = 5000


@dataclass(frozen=True)
class Day:
    """What the next change rests on, from files or from the logbook.

    Parameters
    ----------
    walk : Walk
        The track today.
    rider : Rider or None
        Who rides.
    setup : dict of str to float
        What is on the motorcycle, by setting.
    said : tuple of str
        The rider's words.
    tried : tuple of Tried
        What was tried today, in order.
    records : tuple of Record
        How such changes did in the past.
    """

    walk: Walk
    rider: Rider | None
    setup: dict[str, float]
    said: tuple[str, ...]
    tried: tuple[Tried, ...] = ()
    records: tuple[Record, ...] = ()


def run(options: argparse.Namespace) -> int:
    """Understand the remarks, propose, print.

    Parameters
    ----------
    options : argparse.Namespace
        The command line.

    Returns
    -------
    int
        0.

    Raises
    ------
    InputError
        With every mistake in the files, and when nothing was understood.
    """
    if options.walk is not None:
        machine = read_machine(options.machine)
        workshop = open_workshop(machine, options.rules)
        day = _day_from_files(options, machine)
    else:
        workshop, day = _day_from_book(options)
    understood = [understand(text, workshop.rulebase.remarks) for text in day.said]
    matched = _each_once(understood)
    if not matched:
        raise InputError(_not_understood(understood, day.said))
    found = situations(workshop, columns_from_entries(day.walk, day.rider), 1)
    answer = next_change(
        workshop,
        found,
        day.setup,
        [item.remark for item in matched],
        tried=day.tried,
        records=day.records,
        minutes=options.minutes,
    )
    if options.json:
        json.dump(_as_json(answer, matched, understood), sys.stdout, allow_nan=False, indent=1)
        print()
    else:
        print(next_text(answer, matched, understood))
    return 0


def _day_from_files(options: argparse.Namespace, machine: Machine) -> Day:
    files = Gathering()
    if not options.said:
        files.mistakes.append(Mistake("next", "the rider's words are missing", "give --said WORDS"))
    walk = files.take(lambda: load_entry(options.walk, Walk))
    rider = files.take(lambda: load_entry(Path(options.rider), Rider)) if options.rider else None
    setup = files.take(lambda: read_setup(options.on_bike, machine)) if options.on_bike else {}
    tried = [files.take(partial(read_tried, text, machine)) for text in options.tried]
    for text in options.said:
        files.take(partial(_refuse_too_long, text))
    files.done()
    if walk is None or setup is None:
        raise AssertionError("files.done() refuses missing inputs")
    known = tuple(one for one in tried if one is not None)
    return Day(walk, rider, setup, tuple(options.said), known)


def _refuse_too_long(text: str) -> None:
    if len(text) > LONGEST_REMARK:
        found = f"{len(text)} characters are no remark"
        mend = f"say it in a few sentences, {LONGEST_REMARK} characters at most"
        raise InputError(Mistake(f"--said {shown(text)}", found, mend))


def _day_from_book(options: argparse.Namespace) -> tuple[Workshop, Day]:
    from setupadvisor.advice.day_next import records_of, tried_of  # noqa: PLC0415
    from setupadvisor.advice.day_sheet import setups_of  # noqa: PLC0415
    from setupadvisor.cli.book_day import machine_of_day, read_day  # noqa: PLC0415 - SQLAlchemy

    written = read_day(options)
    machine = machine_of_day(options, written)
    workshop = open_workshop(machine, options.rules)
    day = written.day
    where = f"{day.event}, rider {day.rider}"
    if day.walk is None:
        raise InputError(Mistake(where, "the book holds no walk of it", "log add walk FILE"))
    said = tuple(options.said)
    if not said and day.outings:
        said = tuple(remark.text for remark in day.outings[-1].remarks)
    if not said:
        raise InputError(
            Mistake(where, "the rider said nothing after the last outing", "give --said WORDS")
        )
    tried = [read_tried(text, machine) for text in options.tried]
    return workshop, Day(
        day.walk,
        written.riders.get(day.rider) or Rider(name=day.rider),
        setups_of(machine, day).now,
        said,
        (*tried_of(day.changes, machine), *tried),
        records_of(written.counts, machine, workshop.rulebase.remarks),
    )


def read_tried(text: str, machine: Machine) -> Tried:
    """Read what was tried, as typed: ``shock_rebound_low 12 10 worse``.

    Parameters
    ----------
    text : str
        Setting, from, to, and how it went.
    machine : Machine
        The machine.

    Returns
    -------
    Tried
        The change.

    Raises
    ------
    InputError
        If a part is missing, unknown or impossible.
    """
    where = f"--tried {text!r}"
    parts = text.split()
    if len(parts) != 4 or parts[3] not in VERDICTS:
        raise InputError(
            Mistake(
                where,
                "this is not setting, from, to and verdict",
                "write it as 'shock_rebound_low 12 10 worse' (better, same or worse)",
            )
        )
    setting = machine.settings.get(parts[0])
    if setting is None:
        raise InputError(
            Mistake(
                where,
                f"{machine.name} has no setting {parts[0]!r}",
                f"known here: {', '.join(machine.settings)}",
            )
        )
    try:
        start, to = (setting.read(part) for part in parts[1:3])
    except PydanticCustomError as error:
        context = error.context or {}
        raise InputError(Mistake(where, context["found"], context["mend"])) from None
    return Tried(parts[0], start, to, parts[3])


def _each_once(understood: Sequence[Understanding]) -> list[Matched]:
    found: dict[str, Matched] = {}
    for item in (match for one in understood for match in one.matched):
        found.setdefault(item.remark.id, item)
    return list(found.values())


def _not_understood(understood: Sequence[Understanding], said: Sequence[str]) -> list[Mistake]:
    mistakes = [
        Mistake(
            f"--said {clause!r}",
            f"it could be {few(remarks)}",
            "say where it happens (whoops, landing, flat corner ...) or give one of these ids",
        )
        for one in understood
        for clause, remarks in one.ambiguous
    ]
    return mistakes or [
        Mistake(
            f"--said {shown('; '.join(said))}",
            "no complaint was understood",
            "say what it does (pushes, dives, kicks, swaps, bottoms, spins ...) and where",
        )
    ]


def _as_json(
    answer: NextChange, matched: Sequence[Matched], understood: Sequence[Understanding]
) -> dict[str, Any]:
    return {
        "understood": [
            {"remark": item.remark.id, "said": item.clause, "words": list(item.words)}
            for item in matched
        ],
        "ambiguous": [
            {"said": clause, "remarks": list(remarks)}
            for one in understood
            for clause, remarks in one.ambiguous
        ],
        "all_is_well": [clause for one in understood for clause in one.fine],
        "not_understood": [clause for one in understood for clause in one.not_understood],
        "go_back": [_move(move) for move in answer.go_back],
        "proposals": [
            {**asdict(proposal), "moves": [_move(move) for move in proposal.moves]}
            for proposal in answer.proposals
        ],
        "checks": [asdict(task) for task in answer.checks],
        "prepare": [asdict(task) for task in answer.prepare],
        "notes": list(answer.notes),
    }


def _move(move: Move) -> dict[str, Any]:
    plain = asdict(move)
    plain["from"] = plain.pop("start")
    return plain
