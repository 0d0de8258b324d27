"""The command `laps`: whether a change helped, and what would settle it."""

from __future__ import annotations

import argparse
import json
import sys
from pathlib import Path
from typing import Any

import numpy as np
from pydantic_core import PydanticCustomError

from setupadvisor.cli.laps_sheet import laps_sheet
from setupadvisor.entries.lap_times import read_lap_time
from setupadvisor.entries.laps import LapTable, read_laps
from setupadvisor.errors import InputError, Mistake
from setupadvisor.learning.lap_cleaning import REASONS, CleanLaps, clean
from setupadvisor.learning.lap_plan import LapPlan, lap_plan
from setupadvisor.learning.laps import Comparison, compare


def run(options: argparse.Namespace) -> int:
    """Read the table, compare, print.

    Parameters
    ----------
    options : argparse.Namespace
        The command line.

    Returns
    -------
    int
        0, or 2 where there is neither a table nor a lap time to plan with.

    Raises
    ------
    InputError
        With every mistake in the table.
    """
    lap_time = _lap_time(options.lap_time)
    if options.table is None:
        if lap_time is None or options.minutes is None:
            print(
                "setupadvisor laps: give a TABLE, or --minutes and --lap-time to plan a test",
                file=sys.stderr,
            )
            return 2
        _show(None, [], _plan(options, lap_time, []), options)
        return 0
    laps = clean(_read_strictly(options.table, leave_out_bad_rows=options.leave_out_bad_rows))
    comparisons = [
        compare(laps, first, second, level=options.level)
        for first, second in _pairs(laps, options.compare)
    ]
    plan = None
    if options.minutes is not None:
        plan = _plan(options, lap_time or _typical(laps), comparisons)
    _show(laps, comparisons, plan, options)
    return 0


def _lap_time(text: str | None) -> float | None:
    if text is None:
        return None
    try:
        return read_lap_time(text)
    except PydanticCustomError as error:
        context = error.context or {}
        raise InputError(Mistake("--lap-time", context["found"], context["mend"])) from None


def _read_strictly(path: Path, *, leave_out_bad_rows: bool) -> LapTable:
    table, mistakes = read_laps(path)
    for notice in table.notices:
        print(notice, file=sys.stderr)
    if mistakes and not leave_out_bad_rows:
        hint = Mistake(
            str(path),
            "the rows above are faulty",
            "mend them, or give --leave-out-bad-rows to go on without them",
        )
        raise InputError([*mistakes, hint])
    for mistake in mistakes:
        print(f"left out: {mistake}", file=sys.stderr)
    if not len(table):
        raise InputError(Mistake(str(path), "there is no lap in it", "write one row a lap"))
    return table


def _pairs(laps: CleanLaps, asked: list[str] | None) -> list[tuple[str, str]]:
    if asked:
        return [(asked[0], asked[1])]
    table = laps.table
    codes, first_lap = np.unique(table.setup, return_index=True)
    names = [table.setup_name[code] for code in codes[np.argsort(first_lap)]]
    if len(names) < 2:
        raise InputError(
            Mistake(table.source, f"all laps have the setup {names[0]!r}", "add laps with another")
        )
    return [(names[0], other) for other in names[1:]]


def _typical(laps: CleanLaps) -> float:
    counting = laps.table.lap_s[laps.counts]
    if not len(counting):
        raise InputError(
            Mistake(laps.table.source, "no lap counts", "give --lap-time to plan a test")
        )
    return float(np.median(counting))


def _plan(
    options: argparse.Namespace, lap_s: float, comparisons: list[Comparison]
) -> LapPlan | None:
    """Plan with what the laps have shown of their own spread, where they have."""
    known = next((found for found in comparisons if found.known), None)
    if known is None:
        return lap_plan(options.minutes, lap_s, level=options.level)
    return lap_plan(
        options.minutes, lap_s, spread_s=known.spread_s, level=options.level, prior=known.expected
    )


def _show(
    laps: CleanLaps | None,
    comparisons: list[Comparison],
    plan: LapPlan | None,
    options: argparse.Namespace,
) -> None:
    if options.json:
        found = {
            "comparisons": [comparison.to_json() for comparison in comparisons],
            "plan": plan.to_json() if plan else None,
            "set_aside": _set_aside(laps) if laps else [],
        }
        json.dump(found, sys.stdout, indent=1)
        print()
    else:
        print(laps_sheet(laps, comparisons, plan, minutes=options.minutes), end="")


def _set_aside(laps: CleanLaps) -> list[dict[str, Any]]:
    table = laps.table
    return [
        {
            "line": int(table.line[lap]),
            "setup": table.setup_name[table.setup[lap]],
            "run": table.run_name[table.run[lap]],
            "lap_s": None if np.isnan(table.lap_s[lap]) else float(table.lap_s[lap]),
            "why": REASONS[laps.reason[lap]],
        }
        for lap in np.flatnonzero(~laps.counts)
    ]
