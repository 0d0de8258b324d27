"""What stands in the book, as text for the pit or as JSON."""

from __future__ import annotations

import argparse
import json
import sys
from collections.abc import Iterator, Sequence
from dataclasses import asdict
from textwrap import wrap
from typing import Any

from setupadvisor.entries.logbook.book import Book
from setupadvisor.entries.logbook.cells import entry_content
from setupadvisor.entries.logbook.records import (
    ChangeEntry,
    Day,
    EventSummary,
    LapEntry,
    Ridden,
    Version,
)
from setupadvisor.entries.messages import nearest, shown
from setupadvisor.errors import InputError, Mistake

WIDTH = 100
MOST_EVENTS = 40
MOST_LAPS_SHOWN = 12


def show(options: argparse.Namespace, book: Book) -> None:
    """Print the events, or what happened at one.

    Parameters
    ----------
    options : argparse.Namespace
        The command line.
    book : Book
        Open.

    Raises
    ------
    InputError
        If the book knows no such event or rider.
    """
    events = book.events()
    if options.rider is not None and options.rider not in (known := book.names("rider")):
        raise _unknown("rider", options.rider, known)
    if options.event is None and options.history:
        mend = "give the event with --event"
        raise InputError(Mistake("--history", "the whole book would be too long", mend))
    if options.event is None:
        chosen = [one for one in events if options.rider in {None, *one.riders}]
        if options.json:
            _print_json({"book": book.where, "events": [asdict(one) for one in chosen]})
        else:
            print("\n".join(_overview(book, chosen)))
        return
    event = next((one for one in events if one.event == options.event), None)
    if event is None:
        raise _unknown("event", options.event, [one.event for one in events])
    if options.history:
        versions = book.history(event.event, options.rider)
        if options.json:
            history = [asdict(version) for version in versions]
            _print_json({"book": book.where, "event": event.event, "history": history})
        else:
            print("\n".join(_history(versions)))
        return
    riders = [options.rider] if options.rider else list(event.riders)
    days = [book.day(event.event, rider) for rider in riders]
    if options.json:
        _print_json({"book": book.where, "days": [_day_json(day) for day in days]})
    else:
        print("\n".join(_event(event, days)))


def _unknown(what: str, name: str, known: Sequence[str]) -> InputError:
    near = nearest(name, known)
    listed = f"known: {', '.join(known[-12:])}" if known else "it has none yet"
    mend = f"did you mean {near}?" if near else listed
    return InputError(Mistake(f"--{what}", f"the book knows no {what} {shown(name)}", mend))


def _print_json(content: dict[str, Any]) -> None:
    json.dump(content, sys.stdout, ensure_ascii=False, indent=1)
    print()


def _day_json(day: Day) -> dict[str, Any]:
    walk = day.walk
    return {
        "event": day.event,
        "rider": day.rider,
        "walk": entry_content(walk) if walk else None,
        "outings": [_ridden_json(ridden) for ridden in day.outings],
        "changes": [asdict(change) for change in day.changes],
    }


def _ridden_json(ridden: Ridden) -> dict[str, Any]:
    content = asdict(ridden)
    return {**content.pop("outing"), **content}


def _overview(book: Book, events: Sequence[EventSummary]) -> Iterator[str]:
    yield f"{book.where}: {len(events)} event{'' if len(events) == 1 else 's'}"
    if len(events) > MOST_EVENTS:
        yield f"  the last {MOST_EVENTS}:"
    for one in events[-MOST_EVENTS:]:
        outings = f"{one.outings} outing{'' if one.outings == 1 else 's'}"
        riders = f" of {', '.join(one.riders)}" if one.riders else ""
        walks = "" if one.walks else ", no walk"
        yield _short(f"  {one.last_day or 'no day    '}  {one.event}: {outings}{riders}{walks}")


def _short(text: str) -> str:
    return text if len(text) <= WIDTH else f"{text[: WIDTH - 3]}..."


def _event(event: EventSummary, days: Sequence[Day]) -> Iterator[str]:
    yield f"{event.event}, {event.first_day}" + (
        f" to {event.last_day}" if event.last_day != event.first_day else ""
    )
    if not days:
        yield "  no outing yet"
    for day in days:
        yield f"\n{day.rider}"
        if not day.outings:
            yield "  no outing yet"
        changes: dict[str, list[ChangeEntry]] = {}
        for change in day.changes:
            changes.setdefault(change.after, []).append(change)
        for ridden in day.outings:
            yield from _ridden(ridden)
            for change in changes.get(ridden.outing.session_id, ()):
                yield from _change(change)


def _ridden(ridden: Ridden) -> Iterator[str]:
    entry = ridden.outing
    when = " ".join(filter(None, [entry.date, entry.time]))
    head = [f"  {entry.session_id}  {when}  {entry.machine}"]
    if ridden.mark is not None:
        head.append(f"mark {ridden.mark:g}")
    if ridden.best_lap_s is not None:
        head.append(f"best lap {ridden.best_lap_s:g} s")
    if ridden.version > 1:
        head.append(f"version {ridden.version}")
    yield from _wrapped(", ".join(head), 6)
    if ridden.laps:
        times = [_lap(lap) for lap in ridden.laps[:MOST_LAPS_SHOWN]]
        more = len(ridden.laps) - MOST_LAPS_SHOWN
        also = f" and {more} more" if more > 0 else ""
        yield from _wrapped(f"    {len(ridden.laps)} laps: {', '.join(times)}{also}", 6)
    for place, remark in enumerate(ridden.remarks, 1):
        yield from _wrapped(f"    remark {place}: {remark.text}", 6)


def _lap(lap: LapEntry) -> str:
    time = "not timed" if lap.lap_s is None else f"{lap.lap_s:.2f}"
    return f"{time} {lap.flag}".strip()


def _change(change: ChangeEntry) -> Iterator[str]:
    verdict = f": {change.verdict}" if change.verdict else ""
    why = "; ".join(filter(None, [change.remark and f"for {change.remark}", change.reason]))
    name = change.setting.replace("_", " ")
    text = f"  then {name} {change.start:g} → {change.to:g}{verdict}"
    yield from _wrapped(text + (f" ({why})" if why else ""), 6)


def _wrapped(text: str, indent: int) -> list[str]:
    lead = text[: len(text) - len(text.lstrip())]
    return wrap(text.strip(), WIDTH, initial_indent=lead, subsequent_indent=" " * indent)


def _history(versions: Sequence[Version]) -> Iterator[str]:
    last = None
    for version in versions:
        writing = (version.written_at, version.who)
        if writing != last:
            yield f"{version.written_at[:19].replace('T', ' ')} UTC, {version.who}"
            last = writing
        corrected = f" (version {version.version})" if version.version > 1 else ""
        yield from _wrapped(f"  {version.what}{corrected}: {version.content}", 6)
