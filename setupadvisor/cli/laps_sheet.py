"""A comparison of lap times as text for the pit, at most 100 columns wide."""

from __future__ import annotations

import math
from collections.abc import Sequence
from textwrap import wrap

import numpy as np

from setupadvisor.learning.lap_cleaning import REASONS, CleanLaps
from setupadvisor.learning.lap_plan import LapPlan
from setupadvisor.learning.laps import MOST_FURTHER_RUNS, Comparison, Side

WIDTH = 100
MOST_SET_ASIDE = 12
MOST_COMPARISONS = 30
_SMALLEST_SHOWN_S = 0.005
_SMALLEST_DRIFT_SHOWN = 0.1


def laps_sheet(
    laps: CleanLaps | None,
    comparisons: Sequence[Comparison],
    plan: LapPlan | None,
    *,
    minutes: float | None = None,
) -> str:
    """Lay out comparisons of laps.

    Parameters
    ----------
    laps : CleanLaps or None
        The laps; None where only a plan was asked for.
    comparisons : sequence of Comparison
        All against the same first setup.
    plan : LapPlan or None
        A further test.
    minutes : float, optional
        The time that was given for it.

    Returns
    -------
    str
        Lines of at most 100 columns.
    """
    lines: list[str] = []
    if laps is not None:
        lines += _head(laps)
    if len(comparisons) == 1:
        lines += _one(comparisons[0])
    elif comparisons:
        lines += _several(comparisons)
    if laps is not None:
        lines += _set_aside(laps)
    if minutes is not None:
        lines += _plan(plan, minutes)
    return "\n".join(line.rstrip() for line in lines).lstrip("\n") + "\n"


def lap_text(seconds: float) -> str:
    """Write a lap time as on a timing sheet.

    Parameters
    ----------
    seconds : float
        Lap time; NaN where there is none.

    Returns
    -------
    str
        ``m:ss.mmm``.

    Examples
    --------
    >>> lap_text(83.4561), lap_text(119.9996), lap_text(float("nan"))
    ('1:23.456', '2:00.000', '-')
    """
    if math.isnan(seconds):
        return "-"
    minutes, thousandths = divmod(round(seconds * 1000), 60_000)
    return f"{minutes}:{thousandths // 1000:02d}.{thousandths % 1000:03d}"


def _head(laps: CleanLaps) -> list[str]:
    table = laps.table
    runs, riders = len(np.unique(table.run)), len(np.unique(table.rider))
    days = len(np.unique(table.day))
    parts = [
        _counted(len(table), "lap"),
        f"{_counted(runs, 'run')} by {_counted(riders, 'rider')}",
        _counted(days, "day"),
        f"{int((~laps.counts).sum())} laps set aside",
    ]
    return [*wrap(f"{table.source}: {', '.join(parts)}", WIDTH), "=" * WIDTH]


def _counted(number: int, what: str) -> str:
    return f"{number} {what}{'' if number == 1 else 's'}"


def _section(title: str, note: str = "") -> list[str]:
    return ["", *wrap(f"{title}  {note}".rstrip(), WIDTH), "-" * WIDTH]


def _said(text: str, first: str = "  ", rest: str = "  ") -> list[str]:
    return wrap(text, WIDTH, initial_indent=first, subsequent_indent=rest)


def _one(found: Comparison) -> list[str]:
    first, second = found.first.setup, found.second.setup
    lines = _section(f"{second} AGAINST {first}")
    if found.known:
        lines += _said(_verdict(found))
        lines += _said(_what_next(found))
    else:
        lines += _said("These laps cannot tell; see below what is missing.")
    lines += ["", *_sides([found.first, found.second])]
    if found.known:
        lines += ["", *_said(_spreads(found))]
    return [*lines, *_doubts(found.doubts)]


def _verdict(found: Comparison) -> str:
    second = found.second.setup
    if abs(found.difference_s) < _SMALLEST_SHOWN_S:
        head = f"{second} is as quick as {found.first.setup}"
    else:
        head = f"{second} is {_signed(found.difference_s)} a lap than {found.first.setup}"
    return (
        f"{head}; {found.level:.0%} sure: between {_signed(found.low_s)} and "
        f"{_signed(found.high_s)}. That {second} is an improvement has a probability of "
        f"{_percent(found.probability_better)}."
    )


def _signed(difference_s: float) -> str:
    return f"{abs(difference_s):.2f} s {'quicker' if difference_s < 0 else 'slower'}"


def _percent(probability: float) -> str:
    if probability > 0.995:
        return "more than 99%"
    return "less than 1%" if probability < 0.005 else f"{probability:.0%}"


def _what_next(found: Comparison) -> str:
    if found.settled:
        return f"Settled: no difference at all would lie outside the {found.level:.0%} interval."
    so_far = (
        "Not settled: no difference at all is still possible. Laps as few as these show only "
        f"differences above {(found.high_s - found.low_s) / 2:.2f} s."
    )
    if found.further_runs is None:
        return (
            f"{so_far} More than {MOST_FURTHER_RUNS} further runs of {found.laps_a_run} laps with "
            "each would be needed; choose by what the rider says."
        )
    return (
        f"{so_far} If the difference stays as it is, "
        f"{_counted(found.further_runs, 'more run')} of {found.laps_a_run} laps with each, ridden "
        "in turn, would settle it."
    )


def _sides(sides: Sequence[Side]) -> list[str]:
    head = f"  {'setup':<36}{'runs':>8}{'laps':>8}{'set aside':>12}{'typical':>13}{'best':>13}"
    return [head, *(_side(side) for side in sides)]


def _side(side: Side) -> str:
    return (
        f"  {_cut(side.setup, 35):<36}{side.runs:>8}{side.laps:>8}{side.set_aside:>12}"
        f"{lap_text(side.typical_s):>13}{lap_text(side.best_s):>13}"
    )


def _cut(text: str, width: int) -> str:
    return text if len(text) <= width else f"{text[: width - 1]}…"


def _spreads(found: Comparison) -> str:
    said = (
        f"Times spread by {found.spread_s:.2f} s from lap to lap and by {found.run_spread_s:.2f} s "
        "from run to run."
    )
    drift = found.drift_s_per_hour
    if not math.isnan(drift) and abs(drift) >= _SMALLEST_DRIFT_SHOWN:
        word = "slower" if drift > 0 else "quicker"
        said += (
            f" The track became {word} by about {abs(drift):.2f} s an hour; this is allowed for."
        )
    if found.bounded:
        laps = f"{_counted(found.bounded, 'lap')} {'has' if found.bounded == 1 else 'have'}"
        said += f" {laps} bounded weight, as in traffic or after a mistake."
    return said


def _doubts(doubts: Sequence[str]) -> list[str]:
    if not doubts:
        return []
    lines = _section("WHAT ELSE IT COULD BE")
    for doubt in doubts:
        lines += _said(doubt, "  - ", "    ")
    return lines


def _several(comparisons: Sequence[Comparison]) -> list[str]:
    first = comparisons[0].first
    level = f"{comparisons[0].level:.0%}"
    lines = _section(f"AGAINST {first.setup}", "seconds a lap, below 0 is quicker")
    lines.append(
        f"  {'setup':<30}{'runs':>6}{'laps':>7}{'difference':>12}{f'{level} interval':>20}"
        f"{'better':>8}{'settled':>13}"
    )
    for found in comparisons[:MOST_COMPARISONS]:
        side = found.second
        lines.append(f"  {_cut(side.setup, 29):<30}{side.runs:>6}{side.laps:>7}{_figures(found)}")
    if len(comparisons) > MOST_COMPARISONS:
        lines += _said(f"and {len(comparisons) - MOST_COMPARISONS} more; --json gives all")
    lines += ["", *_sides([first])]
    lines += ["", *_said("The best of several looks better than it is: test it again.")]
    shared: dict[str, list[str]] = {}
    for found in comparisons[:MOST_COMPARISONS]:
        for doubt in found.doubts:
            shared.setdefault(doubt, []).append(found.second.setup)
    said = [
        doubt if len(names) == len(comparisons) else f"{', '.join(names)}: {doubt}"
        for doubt, names in shared.items()
    ]
    return [*lines, *_doubts(said)]


def _figures(found: Comparison) -> str:
    if not found.known:
        return f"{'cannot be told':>32}"
    interval = f"{found.low_s:+.2f} to {found.high_s:+.2f}"
    further = f"{_counted(found.further_runs or 0, 'run')} more"
    if found.further_runs is None:
        further = f"> {MOST_FURTHER_RUNS} more"
    return (
        f"{found.difference_s:>+12.2f}{interval:>20}{_short(found.probability_better):>8}"
        f"{'yes' if found.settled else further:>13}"
    )


def _short(probability: float) -> str:
    if probability > 0.995:
        return "> 99%"
    return "< 1%" if probability < 0.005 else f"{probability:.0%}"


def _set_aside(laps: CleanLaps) -> list[str]:
    table = laps.table
    places = np.flatnonzero(~laps.counts)
    if not len(places):
        return []
    lines = _section("SET ASIDE", _counted(len(places), "lap"))
    if len(places) > MOST_SET_ASIDE:
        counts = np.bincount(laps.reason[places], minlength=len(REASONS))
        lines += [
            f"  {count:>8}  {REASONS[reason]}" for reason, count in enumerate(counts) if count
        ]
        return [*lines, "  --json lists every one."]
    for lap in places:
        run = f"run {table.run_name[table.run[lap]]}"
        lines.append(
            f"  line {table.line[lap]:<7}{_cut(run, 24):<25}{lap_text(table.lap_s[lap]):>10}  "
            f"{REASONS[laps.reason[lap]]}"
        )
    return lines


def _plan(plan: LapPlan | None, minutes: float) -> list[str]:
    lines = _section("A TEST", f"in {minutes:g} minutes")
    if plan is None:
        return [
            *lines,
            *_said("There is no time for one run of three laps with each setup: do not test."),
        ]
    lines += _said(
        f"{plan.pattern}, {plan.laps_a_run} timed laps a run besides out-lap and in-lap, the same "
        f"pause between all runs: {plan.minutes:.0f} minutes."
    )
    lines += _said(
        f"It would settle a difference of {plan.effect_s:g} s a lap with a probability of "
        f"{_percent(plan.finds)}, and one of {plan.finds_mostly_s:.1f} s in four of five cases. "
        f"For {plan.effect_s:g} s in four of five cases it takes about {plan.runs_needed} runs "
        "with each."
    )
    return lines
